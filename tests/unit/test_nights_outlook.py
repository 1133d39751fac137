"""The outlook from farm and weather: hours, windows, cover, age, cautions, fields."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import (
    BALER,
    CURED,
    EVENING,
    HOME,
    RIG,
    TURN,
    days,
    farm_of,
)

from hayweather.baling.calls import BALED, Call
from hayweather.baling.water import moisture_after
from hayweather.errors import FarmFileError, WeatherFileError
from hayweather.farm.records import Baler, Preservative, WeatherChoice
from hayweather.nights import night_of
from hayweather.nights.trust import complete_site
from hayweather.weather.record import HOUR, Source

CUT = replace(CURED, cured=None)


def outlook_of(weather=None, field=CURED, now=EVENING, **named):
    return night_of(farm_of(field, **named), {"home": weather or days(36)}, now, members=0).fields[
        0
    ]


def keys(remarks):
    return [remark.key for remark in remarks]


@pytest.fixture(scope="module")
def dewy():
    """A dewy night with a rig, to 14:00 two days on."""
    return outlook_of(days(80))


def test_hours_run_from_now_to_two_in_the_afternoon_two_days_on(dewy):
    assert [hour.start for hour in dewy.hours] == list(EVENING + np.arange(43) * HOUR)
    assert dewy.hours[-1].start + HOUR == TURN + 72 * HOUR
    assert dewy.shown.weather.hours == 43


def test_a_dewy_night_in_the_order_of_the_trade(dewy):
    """Dry with a rig, then dew, then too wet, a second window after sunrise, dry again."""
    words = [hour.call.word for hour in dewy.hours[:19]]
    order = [word for word in dict.fromkeys(words) if word != "too dry"]  # the first hour or two
    assert order == ["add moisture", "natural dew", "too wet"]
    assert words[-1] in ("add moisture", "too dry")
    wet = [index for index, word in enumerate(words) if word == "too wet"]
    assert "natural dew" in words[wet[-1] + 1 :]


def test_every_hour_has_reasons_and_numbers(dewy):
    band = dewy.setting.band
    for hour in dewy.hours:
        assert hour.reasons
        assert hour.chance is None
        assert not hour.stop
        assert np.isfinite(hour.hay.windrow_wb)
        assert 0 <= hour.hay.skin_humidity <= 100
        if hour.call == Call.ADD_MOISTURE:
            assert RIG.rate_min_l_t <= hour.water_l_t <= RIG.rate_max_l_t
            assert band.low_wb <= hour.after_wb <= band.high_wb
        else:
            assert np.isnan(hour.water_l_t)
            assert np.isnan(hour.after_wb)


def test_water_obeys_the_mass_balance_and_the_band_in_every_quarter(dewy):
    quarters, band = dewy.shown.quarters, dewy.setting.band
    rig = quarters.call == Call.ADD_MOISTURE
    applied, after = quarters.dose.applied_l_t[rig], quarters.dose.after_wb[rig]
    stays = quarters.dose.efficiency[rig]
    np.testing.assert_allclose(after, moisture_after(quarters.windrow_wb[rig], applied * stays))
    assert stays.min() < RIG.efficiency == stays.max()
    assert band.low_wb <= after.min()
    assert after.max() <= band.high_wb


def test_windows_and_hours_agree(dewy):
    """The hours' calls hold longest in them, the windows hold every ready quarter."""
    ready = np.isin(dewy.shown.quarters.call[:, 0], BALED)
    assert sum(window.hours for window in dewy.windows) == ready.sum() / 4
    for window in dewy.windows:
        assert EVENING <= window.start < window.end <= TURN + 72 * HOUR
        assert (window.water_l_t is None) == (window.call == Call.NATURAL_DEW)


def test_weather_of_an_hour_is_that_of_its_start(dewy):
    air = dewy.hours[0].air
    weather = days(80)
    assert air.temperature_c == weather.columns["air_temperature_c"][29, 0]
    assert (air.dew_point_c, air.wind_2m_m_s, air.rain_mm) == (9.0, 1.5, 0.0)
    assert 30 < air.relative_humidity < 60


def test_in_the_morning_the_hours_end_tomorrow_and_speak_of_last_night():
    now = TURN + 42 * HOUR  # 08:00
    found = outlook_of(days(70), now=now)
    assert found.hours[0].start == now
    assert found.hours[-1].start + HOUR == TURN + 72 * HOUR - 2 * HOUR  # the weather ends there
    assert str(found.headline.evening) == "2024-07-02"


@pytest.mark.parametrize(
    ("begin", "hours", "key"),
    [
        (30, 60, "weather_not_now"),  # begins after now
        (0, 29, "weather_not_now"),  # ended at 19:00
        (0, 33, "weather_ends_early"),  # ends at 23:00, tomorrow is not in it
    ],
)
def test_weather_that_does_not_cover_now_or_tonight_is_refused(begin, hours, key):
    weather = days(hours, start=TURN + begin * HOUR)
    with pytest.raises(WeatherFileError) as caught:
        outlook_of(weather)
    assert caught.value.key == key
    assert caught.value.exit_code == 2
    assert {"first", "last", "now"} <= set(caught.value.values)


def test_weather_to_midnight_is_enough_and_ends_the_hours():
    found = outlook_of(days(34))
    assert [hour.start for hour in found.hours] == list(EVENING + np.arange(5) * HOUR)


def test_in_the_morning_weather_to_two_in_the_afternoon_is_enough():
    now = TURN + 42 * HOUR
    assert len(outlook_of(days(48), now=now).hours) == 6
    with pytest.raises(WeatherFileError):
        outlook_of(days(47), now=now)


def aged(hours, **named):
    source = Source("file", issued=EVENING - np.timedelta64(round(3600 * hours), "s"))
    return replace(days(40), source=replace(source, **named))


@pytest.mark.parametrize(("hours", "told"), [(-1, False), (12, False), (12.1, True), (24, True)])
def test_age_of_the_forecast(hours, told):
    found = night_of(farm_of(), {"home": aged(hours)}, EVENING, members=0)
    assert found.fields[0].facts.age_hours == max(hours, 0)
    assert ("caution_old" in keys(found.cautions)) == told


def test_more_than_a_day_old_needs_the_readers_word():
    with pytest.raises(WeatherFileError) as caught:
        outlook_of(aged(24.1))
    assert caught.value.key == "weather_old"
    found = night_of(farm_of(), {"home": aged(24.1)}, EVENING, old=True, members=0)
    assert "caution_old" in keys(found.cautions)


def test_without_an_issue_time_the_fetching_counts():
    weather = aged(0, issued=None, fetched=EVENING - 30 * HOUR)
    with pytest.raises(WeatherFileError):
        outlook_of(weather)
    assert outlook_of(aged(0, issued=None)).facts.age_hours is None
    assert outlook_of(aged(-0.5)).facts.age_hours == 0  # two clocks that differ
    assert outlook_of(aged(-48)).facts.age_hours is None  # a past now, asked for later


def test_an_invented_sample_has_no_age():
    farm = farm_of(weather=WeatherChoice(invented=True))
    found = night_of(farm, {"home": aged(1000)}, EVENING, members=0)
    assert found.fields[0].facts.age_hours is None


def test_cautions_of_the_whole_outlook():
    label = Baler("baler", preservative=Preservative("6 lb/ton", 20.0))
    weather = replace(days(34), source=Source("service", stored=True))
    grass = replace(CURED, crop="grass")
    found = night_of(farm_of(grass, baler=label), {"home": weather}, EVENING, members=0)
    assert keys(found.cautions) == [
        "caution_stored",
        "caution_label",
        "caution_crop_loss",
        "caution_no_measured_night",
    ]
    plain = night_of(farm_of(), {"home": days(34)}, EVENING, members=0)
    assert keys(plain.cautions) == ["caution_no_measured_night"]


def test_one_field_by_name_and_a_name_that_is_none():
    fields = {"north": CURED, "south": replace(CURED, name="south")}
    farm = farm_of(fields=fields)
    found = night_of(farm, {"home": days(34)}, EVENING, field="south", members=0)
    assert [item.setting.field.name for item in found.fields] == ["south"]
    with pytest.raises(FarmFileError) as caught:
        night_of(farm, {"home": days(34)}, EVENING, field="nowhere", members=0)
    assert caught.value.values == {"value": "nowhere", "known": "north, south"}


def test_site_completed_from_its_weather():
    bare = replace(HOME, timezone=None, elevation_m=None)
    weather = replace(days(34), timezone="America/Denver", elevation_m=1700.0)
    found = complete_site(bare, weather, "farm.toml")
    assert (found.timezone, found.elevation_m) == ("America/Denver", 1700.0)
    assert complete_site(HOME, weather, "farm.toml") == HOME
    with pytest.raises(FarmFileError) as caught:
        complete_site(replace(HOME, elevation_m=None), days(34), "farm.toml")
    assert caught.value.key == "site_without_elevation"
    with pytest.raises(FarmFileError) as caught:
        complete_site(bare, days(34), "farm.toml")
    assert caught.value.key == "site_without_zone"


@pytest.mark.parametrize(("weather_m", "told"), [(1600, 0), (1601, 1), (1399, 1)])
def test_weather_of_another_elevation_is_said(weather_m, told):
    found = outlook_of(replace(days(34), elevation_m=float(weather_m)))
    assert keys(found.remarks).count("elevation_differs") == told


def test_export_lowers_the_top():
    found = outlook_of(days(40), baler=replace(BALER, market="export"))
    assert found.setting.band.high_wb == 13.0
    ready = found.shown.quarters.call == Call.NATURAL_DEW
    assert found.shown.quarters.windrow_wb[ready].max() <= 13.0
    assert max(hour.hay.windrow_wb for hour in found.hours) > 13.0


def test_a_grass_field_bales_dry_leaf_and_says_dusty():
    found = outlook_of(days(40), replace(CURED, crop="grass"), rig=None)
    dew = [hour for hour in found.hours if hour.call == Call.NATURAL_DEW]
    assert dew
    assert all("reason_leaf_soft" not in keys(hour.reasons) for hour in dew)
    assert all("caution_dusty" in keys(hour.cautions) for hour in found.hours)


def test_a_field_cut_yesterday_is_not_cured_and_says_why():
    """Cut at 16:00 yesterday: all of tonight, and tomorrow until the sun has dried the inside."""
    found = outlook_of(days(80), replace(CUT, cut_at=TURN + 2 * HOUR))
    for hour in found.hours[:15]:
        assert hour.call == Call.NOT_CURED
        assert np.isfinite(hour.hay.windrow_wb)  # before it is a windrow, the swath's own water
        assert {"reason_stem_wet", "reason_still_drying"} & set(keys(hour.reasons))
        assert "start_from_cutting" in keys(hour.reasons)
    assert all(window.start >= EVENING + 14 * HOUR for window in found.windows)


def test_a_field_cut_four_days_ago_is_cured():
    weather = days(110, start=TURN - 70 * HOUR)
    found = outlook_of(weather, replace(CUT, cut_at=TURN - 68 * HOUR))
    assert Call.NOT_CURED not in {hour.call for hour in found.hours}
    assert Call.NATURAL_DEW in {hour.call for hour in found.hours}
    assert keys(found.remarks)[0] == "start_from_cutting"


@pytest.mark.parametrize(("begin", "call"), [(10, Call.NOT_CURED), (-60, Call.NO_DATA)])
def test_cut_before_the_weather_begins_is_never_ready(begin, call):
    """Cut yesterday at noon, or four days ago, and the weather begins too late to follow it."""
    cut_at = TURN - 2 * HOUR if call == Call.NOT_CURED else TURN - 70 * HOUR
    weather = days(50 - begin, start=TURN + begin * HOUR)
    found = outlook_of(weather, replace(CUT, cut_at=cut_at))
    first = found.hours[0]
    assert first.call == call
    assert keys(first.reasons) == ["start_cut_before_weather"]
    assert not any(hour.call in BALED for hour in found.hours)


def test_cured_from_a_time_on():
    until = EVENING + 12 * HOUR
    found = outlook_of(days(44), replace(CURED, cured=until))
    for hour in found.hours:
        assert (hour.call == Call.NOT_CURED) == (hour.start < until)
    assert keys(found.hours[0].reasons) == ["reason_cured_from"]


def test_a_reading_wetter_than_the_stem_limit_is_not_cured_unless_the_grower_says_so():
    """13 % read at 03:00 on a field of unknown cure may be stem; with cured = true it is dew."""
    read, now = replace(CUT, moisture_now_wb=13.0), EVENING + 8 * HOUR
    unknown = outlook_of(days(48), read, now).hours[0]
    assert unknown.call == Call.NOT_CURED
    assert keys(unknown.reasons) == ["reason_stem_wet", "start_from_moisture"]
    said = outlook_of(days(48), replace(read, cured=True), now).hours[0]
    assert said.call == Call.NATURAL_DEW
    assert 13.0 < said.hay.windrow_wb < 15.0


def test_too_late_to_know_the_hay():
    found = outlook_of(days(50, start=TURN + 28 * HOUR))
    early = [hour for hour in found.hours if hour.start < TURN + 48 * HOUR]
    assert {hour.call for hour in early} == {Call.NO_DATA}
    assert keys(early[0].reasons) == ["start_too_late"]
    assert Call.NO_DATA not in {hour.call for hour in found.hours[len(early) :]}
