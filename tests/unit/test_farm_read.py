"""A farm file that is right: every value lands in its inside unit.

Unit factors beside the numbers are the exact ones of the 1959 yard and pound
agreement, written out by hand here.
"""

from pathlib import Path

import numpy as np
import pytest
from unit.farm_files import FARM, RIG, in_field

from hayweather.errors import FarmFileError
from hayweather.farm import read_farm
from hayweather.farm.clock import parse_time, shifts_overlap, to_utc


@pytest.fixture
def read(tmp_path):
    def write_and_read(text, environ=None):
        path = tmp_path / "farm.toml"
        path.write_text(text, encoding="utf-8")
        return read_farm(path, environ)

    return write_and_read


def test_bare_numbers_are_in_the_farms_units(read):
    farm = read(FARM)
    assert farm.fields["north"].area_m2 == pytest.approx(120 * 4046.8564224, rel=1e-12)
    assert farm.sites["home"].elevation_m == pytest.approx(4330 * 0.3048)


def test_metric_farm_reads_bare_numbers_as_metric(read):
    metric = FARM.replace('name = "Sagebeck"', 'units = "metric"').replace('"4330 ft"', "1320")
    farm = read(metric)
    assert farm.fields["north"].area_m2 == pytest.approx(1_200_000)
    assert farm.sites["home"].elevation_m == 1320


def test_quantity_string_overrides_the_farms_units(read):
    farm = read(FARM.replace("area = 120", 'area = "48 ha"'))
    assert farm.fields["north"].area_m2 == pytest.approx(480_000)


def test_defaults_stand_where_nothing_is_given(read):
    farm = read(FARM)
    field, baler = farm.fields["north"], farm.balers["baler"]
    assert (field.site, field.crop, field.conditioned, field.swaths_per_windrow) == (
        "home",
        "alfalfa",
        True,
        1,
    )
    assert (baler.kind, baler.market, baler.useful_hours) == ("large-square", "domestic", 2.0)
    assert farm.rigs is None
    assert farm.shifts == ()
    assert (farm.units, farm.language) == ("us", "en")


def test_farm_without_a_name_is_named_by_its_file(read):
    assert read(FARM.replace('[farm]\nname = "Sagebeck"', "")).name == "farm"


def test_weather_file_is_found_from_the_farm_file(read, tmp_path):
    assert read(FARM).weather.file == tmp_path / "weather.csv"


def test_rig_rates_arrive_in_metric(read):
    rig = read(FARM + RIG).rigs["rig"]
    assert rig.tank_l == pytest.approx(800 * 3.785411784)
    assert rig.rate_min_l_t == pytest.approx(5 * 3.785411784 / 0.90718474)
    assert rig.flow_max_l_min == pytest.approx(37.85411784)
    assert (rig.fill_minutes, rig.heated, rig.efficiency, rig.target_wb) == (15, False, 0.8, None)


def test_two_balers_and_two_rigs_by_name(read):
    two = FARM.replace("[baler]", '[baler.one]\nkind = "round"\n[baler.two]')
    farm = read(two + RIG.replace("[rig]", "[rig.old]") + RIG.replace("[rig]", "[rig.new]"))
    assert [baler.kind for baler in farm.balers.values()] == ["round", "large-square"]
    assert list(farm.rigs) == ["old", "new"]


def test_a_single_baler_with_a_preservative_is_still_single(read):
    farm = read(FARM + 'preservative = { rate = "6 lb/ton", ceiling = 22 }\nband = [14, 20]\n')
    baler = farm.balers["baler"]
    assert (baler.preservative.rate, baler.preservative.ceiling_wb) == ("6 lb/ton", 22)
    assert baler.band_wb == (14, 20)


def test_roads_and_the_least_visit(read):
    text = FARM + 'least_visit = 0.75\n[[road]]\nfrom = "home"\nto = "north"\nminutes = 20\n'
    farm = read(text)
    [road] = farm.roads
    assert (road.origin, road.goal, road.minutes) == ("home", "north", 20)
    assert farm.balers["baler"].least_visit_h == pytest.approx(0.75)
    assert read(FARM).balers["baler"].least_visit_h == 1.0


def test_shifts_are_minutes_after_midnight(read):
    shifts = (
        '[[shift]]\nstart = "20:00"\nend = 04:30:00\n[[shift]]\nstart = "4:30"\nend = "12:00"\n'
    )
    farm = read(FARM + shifts)
    assert [(s.start_minute, s.end_minute) for s in farm.shifts] == [(1200, 270), (270, 720)]


def test_prices_arrive_per_kilogram_and_liter(read):
    farm = read(FARM + '[money]\nprice = 200\nfuel_price = "1.1 /L"\nwage = 25\n')
    assert farm.money.price_per_kg == pytest.approx(200 / 907.18474)
    assert farm.money.fuel_price_per_l == pytest.approx(1.1)
    assert (farm.money.wage_per_h, farm.money.interest_percent) == (25, None)


def test_what_hay_is_paid_by_is_read_in_the_units_of_the_farm(read):
    figures = FARM.replace("area = 120", "area = 120\nndf = 38\nadf = 30")
    classes = "{ utility = 100, supreme = 205, premium = 200, good = 180, fair = 150 }"
    money = f'[money]\nprice_by = "class"\nclass_prices = {classes}\n'
    found = dict(read(figures + money).money.class_prices)
    assert list(found) == ["supreme", "premium", "good", "fair", "utility"]
    assert found["utility"] == pytest.approx(100 / 907.18474)
    table = '[money]\nprice_by = "rfv"\nrfv_prices = [[150, 180], [170, "220 /t"]]\n'
    pairs = read(figures + table).money.rfv_prices
    assert pairs[0] == (150.0, pytest.approx(180 / 907.18474))
    assert pairs[1] == (170.0, pytest.approx(0.22))


def test_a_price_that_counts_for_nothing_is_named(read):
    farm = read(FARM + "[money]\nrfv_prices = [[150, 180], [170, 200]]\nprice_rfv = 170\n")
    said = [note for note in farm.notes if "does not count" in note]
    assert [note.split()[1] for note in said] == ["price_rfv", "rfv_prices"]


def test_hay_of_which_nobody_knows_what_leaf_does_needs_no_figures(read):
    farm = read(
        FARM.replace("area = 120", 'area = 120\ncrop = "grass"') + '[money]\nprice_by = "rfv"\n'
    )
    assert farm.money.price_by == "rfv"


def test_tuning_is_read(read):
    tuning = read(FARM + "[tuning]\nwindrow_mass = 1.2\ndew_point_offset = 1.8\n").tuning
    assert tuning.windrow_mass == 1.2
    assert tuning.dew_point_offset_k == pytest.approx(1.0)


def test_every_single_value_given_is_kept(read):
    lines = ['crop = "grass"', "cutting = 2", "moisture_now = 11", 'ground = "wet"']
    field = read(in_field(*lines)).fields["north"]
    assert (field.crop, field.cutting, field.moisture_now_wb, field.ground) == (
        "grass",
        2,
        11,
        "wet",
    )


@pytest.mark.parametrize(
    ("written", "utc"),
    [
        ('"2026-07-05T10:00"', "2026-07-05T17:00:00"),
        ('"2026-07-05 10:00"', "2026-07-05T17:00:00"),
        ("2026-07-05T10:00:00", "2026-07-05T17:00:00"),
        ("2026-07-05T10:00:00-06:00", "2026-07-05T16:00:00"),
        ('"2026-01-05T10:00"', "2026-01-05T18:00:00"),
        ('"2026-07-05T17:00Z"', "2026-07-05T17:00:00"),
    ],
)
def test_times_are_local_unless_they_carry_an_offset(read, written, utc):
    field = read(in_field(f"cut_at = {written}")).fields["north"]
    assert field.cut_at == np.datetime64(utc)
    assert field.cut_at.dtype == np.dtype("datetime64[s]")


def test_cured_may_be_a_time(read):
    farm = read(FARM.replace("cured = true", 'cured = "2026-07-05T10:00"'))
    assert farm.fields["north"].cured == np.datetime64("2026-07-05T17:00:00")


def test_cured_false_leaves_it_to_the_cutting(read):
    farm = read(FARM.replace("cured = true", 'cured = false\ncut_at = "2026-07-05T10:00"'))
    assert farm.fields["north"].cured is None


def test_doubled_hour_counts_as_its_first_pass_and_is_said(read):
    farm = read(in_field('irrigated_at = "2026-11-01T01:30"'))
    assert farm.fields["north"].irrigated_at == np.datetime64("2026-11-01T08:30:00")
    assert any("[field.north] irrigated_at" in note and "twice" in note for note in farm.notes)


def test_missing_hour_counts_as_the_hour_after_and_is_said(read):
    farm = read(in_field('irrigated_at = "2026-03-08T02:30"'))
    assert farm.fields["north"].irrigated_at == np.datetime64("2026-03-08T10:30:00")
    assert any("does not exist" in note for note in farm.notes)


def test_notes_speak_the_farms_language(read):
    farm = read(FARM.replace('name = "Sagebeck"', 'language = "es"'))
    assert any("se supone" in note for note in farm.notes)


def test_now_of_an_invented_sample(read):
    farm = read(FARM.replace('"weather.csv"', '"w.csv"\ninvented = true\nnow = "2026-07-08T17:00"'))
    assert farm.weather.now == np.datetime64("2026-07-09T00:00:00")


@pytest.mark.parametrize("clock", ["UTC-8", "-08:00", "UTC", "Etc/GMT+8"])
def test_clock_of_a_weather_file_may_be_a_fixed_offset(read, clock):
    text = FARM.replace('"weather.csv"', f'"w.csv"\ntimezone = "{clock}"')
    assert read(text).weather.timezone == clock


def test_windrow_mass_from_yield_and_widths(read):
    # 1.5 ton/acre = 0.33626 kg/m2, x 0.88, x 16 ft x 2 / 5.5 ft = 1.7216 by hand
    lines = ["yield = 1.5", "swath_width = 16", "swaths_per_windrow = 2", "windrow_width = 5.5"]
    farm = read(in_field(*lines))
    assert farm.fields["north"].windrow_mass_kg_m2 == pytest.approx(1.7216, abs=1e-4)
    assert any("88 %" in note for note in farm.notes)


def test_windrow_mass_given_outright_wins(read):
    farm = read(in_field("yield = 1.5", 'windrow_mass = "2.2 kg/m2"'))
    assert farm.fields["north"].windrow_mass_kg_m2 == 2.2


def test_windrow_mass_is_assumed_aloud_when_a_part_is_missing(read):
    farm = read(in_field("yield = 1.5", "swath_width = 16"))
    assert farm.fields["north"].windrow_mass_kg_m2 == 1.5
    assert any("assumed; not given: windrow_width" in note for note in farm.notes)


def test_service_may_tell_zone_and_elevation(read):
    text = FARM.replace('file = "weather.csv"', 'service = "us-nws"')
    text = text.replace('timezone = "America/Los_Angeles"\n', "")
    text = text.replace('elevation = "4330 ft"\n', "")
    site = read(text).sites["home"]
    assert (site.timezone, site.elevation_m) == (None, None)


@pytest.mark.parametrize("environ", [{"HAYWEATHER_OPEN_METEO_KEY": "k"}, None])
def test_open_meteo_with_a_key_or_only_read(read, environ):
    text = FARM.replace('file = "weather.csv"', 'service = "open-meteo"')
    assert read(text, environ).weather.service == "open-meteo"


def test_open_meteo_with_accepted_terms(read):
    text = FARM.replace('file = "weather.csv"', 'service = "open-meteo"\nterms = "non-commercial"')
    assert read(text, {}).weather.terms == "non-commercial"


def test_byte_order_mark_and_windows_line_ends(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FARM.replace("\n", "\r\n").encode())
    assert read_farm(path).name == "Sagebeck"


def test_the_file_is_remembered_for_messages(read, tmp_path):
    assert read(FARM).path == tmp_path / "farm.toml"


@pytest.mark.parametrize(
    ("first", "second", "overlap"),
    [
        ((1200, 480), (480, 720), False),
        ((1200, 480), (479, 720), True),
        ((60, 120), (1380, 90), True),
        ((0, 720), (720, 0), False),
        ((300, 300 + 600), (400, 500), True),
    ],
)
def test_shifts_past_midnight(first, second, overlap):
    assert shifts_overlap(first, second) is overlap
    assert shifts_overlap(second, first) is overlap


@pytest.mark.parametrize("value", ["2026-07-05", "yesterday", "2026-13-05T10:00", 5, None, True])
def test_what_is_no_time(value):
    assert parse_time(value) is None


def test_a_time_without_zone_needs_one():
    with pytest.raises(ValueError, match="2026"):
        to_utc(parse_time("2026-07-05T10:00"), None)


def test_path_may_hold_folders(tmp_path):
    (tmp_path / "a").mkdir()
    path = Path(tmp_path / "a" / "my.toml")
    path.write_text(FARM)
    assert read_farm(path).weather.file == tmp_path / "a" / "weather.csv"


def test_a_clock_without_summer_time_is_said(read):
    farm = read(FARM.replace('"America/Los_Angeles"', '"Etc/GMT+8"'))
    (note,) = [note for note in farm.notes if "summer time" in note]
    assert note.startswith(
        "farm.toml: [site.home] timezone: Etc/GMT+8 is a clock without summer time"
    )
    by_the_ebro = FARM.replace("-120.6", "-0.6").replace('"America/Los_Angeles"', '"UTC"')
    assert any("UTC is a clock without summer time" in note for note in read(by_the_ebro).notes)
    assert not any("summer time" in note for note in read(FARM).notes)


@pytest.mark.parametrize(
    ("units", "value", "taken"),
    [("", "4330", False), ("", '"4330 ft"', True), ('units = "us"\n', "4330", True),
     ("", "9000", True), ("", "0", True)],
)  # fmt: skip
def test_a_bare_height_is_asked_back_where_feet_and_meters_fit(tmp_path, units, value, taken):
    # 9000 m is higher than any field: only feet can be meant.
    text = FARM.replace('elevation = "4330 ft"', f"elevation = {value}")
    path = tmp_path / "farm.toml"
    path.write_text(f"[farm]\n{units}\n" + text.replace("[farm]\n", "", 1))
    if taken:
        assert read_farm(path).sites
    else:
        with pytest.raises(FarmFileError, match="could be feet or meters"):
            read_farm(path)
