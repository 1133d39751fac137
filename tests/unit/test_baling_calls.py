"""The six calls at and around every limit.

Limits are those of the design (bands by kind of bale, free water 0.02 mm and
rain 0.1 mm/h assumed); the hay is set, not computed, so that each limit can be
met from both sides.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, RIG, calls_of, hay, setting_of
from support.nights import hourly

from hayweather.baling.calls import Call, call_quarters, middles, quarterly, rain_or_none
from hayweather.farm.records import Baler
from hayweather.windrow.sorption import dry_basis, wet_basis

NO_DATA, NOT_CURED, TOO_WET, DEW, RIG_CALL, TOO_DRY, READY, DAMP_BELOW = Call
UNCURED = replace(CURED, cured=None)
NO_RIG = setting_of(rig=None)


def call(trajectory, setting=NO_RIG, **weather):
    """The one call of an hour in which nothing changes."""
    found = np.unique(calls_of(trajectory, setting, **weather).call)
    assert found.size == 1
    return Call(int(found[0]))


def there_and_back(moisture_wb):
    """A moisture as it comes back from dry basis: the number that meets a limit exactly."""
    return float(wet_basis(dry_basis(moisture_wb)))


def test_words_are_those_of_the_data():
    assert [item.word for item in Call] == [
        "no data", "not cured", "too wet", "natural dew", "add moisture", "too dry", "ready",
        "damp below",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("windrow_wb", "expected"),
    [(11.99, TOO_DRY), (12.01, READY), (14.0, READY), (15.99, READY), (16.01, TOO_WET)],
)
def test_band_of_the_whole_windrow(windrow_wb, expected):
    assert call(hay(windrow_wb)) == expected


@pytest.mark.parametrize("end", [0, 1])
def test_both_ends_of_the_band_are_inside(end):
    limit = there_and_back((13.0, 15.0)[end])
    band = (limit, 20.0) if end == 0 else (5.0, limit)
    setting = setting_of(baler=Baler("b", "small-square", band_wb=band, leaf_minimum_wb=5.0))
    setting = replace(setting, rig=None)
    assert call(hay(limit), setting) == READY
    assert call(hay(limit + (-1e-6, 1e-6)[end]), setting) == (TOO_DRY, TOO_WET)[end]


@pytest.mark.parametrize(
    ("leaf_wb", "crop", "expected"),
    [
        (11.99, "alfalfa", TOO_DRY),
        (12.01, "alfalfa", READY),
        (30.0, "alfalfa", READY),  # no upper limit of its own
        (9.99, "alfalfa-grass", TOO_DRY),
        (10.01, "alfalfa-grass", READY),
        (3.0, "grass", READY),
        (3.0, "cereal", READY),
    ],
)
def test_leaf_minimum(leaf_wb, crop, expected):
    assert call(hay(14.0, leaf_wb), setting_of(replace(CURED, crop=crop), rig=None)) == expected


def test_leaf_at_its_minimum_is_enough():
    minimum = there_and_back(12.0)
    setting = setting_of(rig=None, baler=Baler("b", leaf_minimum_wb=minimum))
    assert call(hay(14.0, minimum), setting) == READY


def test_grass_too_dry_as_a_whole_is_still_too_dry():
    assert call(hay(11.9, 14.0), setting_of(replace(CURED, crop="grass"), rig=None)) == TOO_DRY


@pytest.mark.parametrize(
    ("free_water_mm", "expected"), [(0.0, READY), (0.02, READY), (0.0201, TOO_WET), (0.5, TOO_WET)]
)
def test_free_water(free_water_mm, expected):
    assert call(hay(14.0, free_water_mm=free_water_mm)) == expected


@pytest.mark.parametrize(
    ("rain_mm", "expected"), [(0.0, READY), (0.099, READY), (0.1, TOO_WET), (5.0, TOO_WET)]
)
def test_rain_of_the_hour(rain_mm, expected):
    assert call(hay(14.0), rain_mm=rain_mm) == expected


@pytest.mark.parametrize(
    ("rain_mm", "free_water_mm", "leaf_wb"), [(0.5, 0.0, 14), (0, 0.3, 14), (0.5, 0.3, 5)]
)
def test_dry_hay_in_rain_or_dew_is_too_wet_not_too_dry(rain_mm, free_water_mm, leaf_wb):
    """Wet wins over dry: the rig never runs in rain or on free water."""
    windrow = hay(8.0, leaf_wb, free_water_mm=free_water_mm)
    assert call(windrow, setting_of(), rain_mm=rain_mm) == TOO_WET


@pytest.mark.parametrize(
    ("kind", "limit"),
    [("small-square", 14), ("three-tie", 13), ("round", 13), ("large-square", 12)],
)
def test_stem_limit_of_each_kind(kind, limit):
    """Stem limits of the design, assumed: small square 14, three-tie 13, round 13, large 12."""
    setting = setting_of(UNCURED, rig=None, baler=Baler("b", kind))
    assert call(hay(14.0, stem_wb=limit + 0.01), setting) == NOT_CURED
    assert call(hay(14.0, stem_wb=limit - 0.01), setting) == READY


def test_a_stem_at_its_limit_is_cured():
    limit = there_and_back(12.5)
    setting = setting_of(UNCURED, rig=None, baler=Baler("b", stem_limit_wb=limit))
    assert call(hay(14.0, stem_wb=limit), setting) == READY


def test_the_driest_stem_counts_whatever_the_night_brings():
    """The stem dries to 11.5 % and takes up to 15 % at night: cured from the minimum on."""
    stem = np.array([14, 13, 12.5, 12.2, 11.9, 11.5, 12.5, 14, 15.0])
    calls = calls_of(hay(14.0, stem_wb=stem, hours=2), setting_of(UNCURED, rig=None))
    assert calls.call[:, 0].tolist() == [NOT_CURED] * 3 + [READY] * 5
    np.testing.assert_allclose(calls.stem_driest_wb[:, 0], np.fmin.accumulate(stem)[1:])


@pytest.mark.parametrize("cured", [True, np.datetime64("2024-07-01T00:00", "s")])
def test_the_growers_word_stands_above_the_stem(cured):
    """A field said to be cured is never "not cured", however wet its stems become."""
    setting = setting_of(replace(CURED, cured=cured), rig=None)
    assert call(hay(14.0, stem_wb=25.0), setting) == READY


@pytest.mark.parametrize(
    ("windrow_wb", "expected"),
    [(3.9, TOO_DRY), (4.2, RIG_CALL), (11.9, RIG_CALL), (12.1, READY)],
)
def test_the_rigs_reach(windrow_wb, expected):
    """112 L/t at 80 % leave 89.6 kg in a tonne: 1000 (12 - m)/(100 - 12) = 89.6 at m = 4.115 %.

    Without the losses of dry air.
    """
    rig = replace(RIG, rate_max_l_t=112.0, vapor_loss=0.0)
    assert call(hay(windrow_wb), setting_of(rig=rig)) == expected


def test_no_room_under_the_top_of_the_band():
    """The least that the rig gives would pass 13 % of export hay: too dry, not "add moisture"."""
    narrow = Baler("b", "small-square", band_wb=(12.0, 13.0))
    strong = replace(RIG, rate_min_l_t=40.0, target_wb=12.5)
    assert call(hay(11.0), setting_of(rig=strong, baler=narrow)) == TOO_DRY
    assert call(hay(9.9), setting_of(rig=strong, baler=narrow)) == RIG_CALL


def test_a_rig_softens_dry_leaf_in_a_windrow_above_the_target():
    """The target is a floor; the leaf asks for more."""
    from_zero = replace(RIG, rate_min_l_t=0.0)
    assert call(hay(13.5, 11.0), setting_of(rig=from_zero)) == RIG_CALL
    assert call(hay(13.5, 11.0), setting_of(rig=RIG)) == RIG_CALL


def test_missing_moisture_or_weather_is_no_data_before_all_else():
    assert call(hay(np.nan)) == NO_DATA
    assert call(hay(14.0, np.nan)) == NO_DATA
    for name in ("air_temperature_c", "dew_point_c", "wind_speed_m_s", "rain_mm"):
        assert call(hay(14.0), **{name: np.nan}) == NO_DATA
    assert call(hay(25.0, stem_wb=30.0), setting_of(UNCURED), rain_mm=np.nan) == NO_DATA


def test_not_cured_comes_before_too_wet():
    assert call(hay(40.0, stem_wb=40.0), setting_of(UNCURED), rain_mm=3.0) == NOT_CURED


def test_uncured_quarters_hide_neither_missing_weather_nor_what_comes_after():
    weather = hourly(2, rain_mm=np.array([np.nan, 0.0]))
    uncured = np.array([[True]] * 6 + [[False]] * 2)
    calls = call_quarters(weather, hay(14.0, hours=2), NO_RIG, uncured)
    assert calls.call[:, 0].tolist() == [NO_DATA] * 4 + [NOT_CURED] * 2 + [READY] * 2


def test_no_rain_column_is_taken_as_none():
    weather = hourly(1)
    dry = replace(weather, columns={k: v for k, v in weather.columns.items() if k != "rain_mm"})
    assert rain_or_none(dry).tolist() == [[0.0]]
    assert set(calls_of(hay(14.0), NO_RIG, dry).call[:, 0]) == {READY}


def test_a_quarter_is_the_mean_of_its_ends():
    calls = calls_of(hay(np.array([11.0, 13.5, 13.5, 18.2, 18.2])), NO_RIG)
    mean = [float(wet_basis(dry_basis(m))) for m in (11.0, 13.5)]
    assert calls.windrow_wb[0, 0] == pytest.approx(np.mean(mean))
    assert calls.call[:, 0].tolist() == [READY, READY, READY, TOO_WET]
    assert middles(np.array([1.0, 3.0, 7.0])).tolist() == [2.0, 5.0]
    assert quarterly(np.array([1, 2])).tolist() == [1] * 4 + [2] * 4


def test_hours_can_be_cut_out_with_their_water():
    calls = calls_of(hay(np.linspace(8.0, 14.0, 9), hours=2), setting_of())
    part = calls.between(1, 2)
    assert part.call.tolist() == calls.call[4:].tolist()
    np.testing.assert_array_equal(part.dose.applied_l_t, calls.dose.applied_l_t[4:])
    assert calls_of(hay(14.0, hours=2), NO_RIG).between(0, 1).dose is None


def brought_by(**rising):
    """The call of hay that has risen into its limits by one source of the ledger."""
    values = np.linspace(9.0, 14.0, 17)
    run = hay(values, hours=4)
    gain = np.diff(run.windrow_db[::4], axis=0)
    filled = {name: gain * share for name, share in rising.items()}
    return Call(int(calls_of(replace(run, **filled), NO_RIG).call[-1, 0]))


def test_what_brought_the_water_names_hay_in_its_limits():
    assert brought_by(from_air_mm=1.0, dew_mm=1.0) == DEW
    assert brought_by(from_air_mm=1.0) == DEW  # humid air of this night
    assert brought_by(rain_caught_mm=1.0) == READY
    assert brought_by(from_ground_mm=1.0) == DAMP_BELOW
    assert brought_by(from_air_mm=0.4, dew_mm=0.4, from_ground_mm=0.6) == DAMP_BELOW


def test_hay_on_its_way_down_is_ready_but_never_dew():
    found = calls_of(hay(np.linspace(15.5, 13.0, 17), hours=4), NO_RIG)
    assert set(found.call[:, 0]) == {READY}


def test_wet_on_top_and_dry_beneath_is_never_in_limits():
    """Leaf 37 % in the top 15 %, 10 % below: a mean of 14 % says nothing."""
    run = hay(14.0)
    leaf = run.layers.leaf_db.copy()
    leaf[:, 0], leaf[:, 1:] = dry_basis(37.0), dry_basis(10.0)
    run = replace(run, layers=replace(run.layers, leaf_db=leaf))
    quarters = calls_of(run, NO_RIG)
    assert (quarters.soft_share < 0.6).all()
    assert set(quarters.call[:, 0]) == {TOO_DRY}


def test_a_wet_third_is_too_wet_and_a_wet_skin_is_not():
    for share, expected in ((0.15, READY), (0.45, TOO_WET)):
        run = hay(14.0)
        film = run.layers.film_db.copy()
        film[:, 0] += 0.15
        shares = np.array([share, (1 - share) / 2, (1 - share) / 2])
        run = replace(run, layers=replace(run.layers, film_db=film, shares=shares))
        assert set(calls_of(run, NO_RIG).call[:, 0]) == {expected}


def test_two_reasons_for_the_same_call_do_not_cancel():
    assert call(hay(np.nan, np.nan)) == NO_DATA
    assert call(hay(14.0, np.nan), air_temperature_c=np.nan) == NO_DATA
    assert call(hay(np.nan, 14.0), air_temperature_c=np.nan) == NO_DATA
    assert call(hay(18.0, free_water_mm=0.5)) == TOO_WET
    assert call(hay(18.0, free_water_mm=0.5), rain_mm=2.0) == TOO_WET
    assert call(hay(14.0, free_water_mm=0.5), rain_mm=2.0) == TOO_WET


def test_hours_from_the_middle_of_a_night_can_be_cut_out():
    calls = calls_of(hay(np.linspace(8.0, 15.0, 17), hours=4), setting_of())
    part = calls.between(2, 3)
    assert part.windrow_wb.tolist() == calls.windrow_wb[8:12].tolist()
    assert part.dose.needed_l_t.tolist() == calls.dose.needed_l_t[8:12].tolist()


def uneven(hours=4):
    """Hay that nears its band and stems that dry, wet again and dry, uncured for six quarters."""
    stem = np.array([15, 14, 13, 14, 15, 14, 13, 13.5, 12.5, 13, 14, 13, 12.8, 12.2, 11, 11, 12])
    uncured = np.zeros((4 * hours, 1), dtype=bool)
    uncured[3:9] = True
    return hay(np.linspace(8.0, 15.0, 17), stem_wb=stem, hours=hours), uncured


@pytest.mark.parametrize("uncured", [True, False])
def test_calls_from_a_later_hour_on_are_those_of_the_whole(uncured):
    run, until = uneven()
    cut = until if uncured else None
    weather = hourly(4, rain_mm=np.array([0.0, 0.0, 0.5, 0.0]))
    setting = setting_of(UNCURED)
    whole = call_quarters(weather, run, setting, cut)
    part = call_quarters(weather, run, setting, cut, first=2)
    assert len(set(whole.call[8:, 0])) > 1
    for name in ("call", "stem_driest_wb", "windrow_wb", "rain_mm_h", "cause", "soft_share"):
        assert getattr(part, name).tolist() == getattr(whole, name)[8:].tolist(), name
    np.testing.assert_array_equal(part.dose.applied_l_t, whole.dose.applied_l_t[8:])


def test_the_driest_stem_is_looked_for_since_hay_was_last_uncured():
    """Its own driest before; while uncured the stem as it is; then the driest since."""
    run, uncured = uneven()
    found = call_quarters(hourly(4), run, NO_RIG, uncured).stem_driest_wb[:, 0]
    expected = [14, 13, 13, 15, 14, 13, 13.5, 12.5, 13, 13, 13, 12.8, 12.2, 11, 11, 11]
    np.testing.assert_allclose(found, expected)
    without = call_quarters(hourly(4), run, NO_RIG, np.zeros_like(uncured)).stem_driest_wb[:, 0]
    np.testing.assert_allclose(without, call_quarters(hourly(4), run, NO_RIG).stem_driest_wb[:, 0])


def test_a_stem_dry_at_the_very_beginning_counts():
    run = hay(14.0, stem_wb=np.array([11.0, 13, 13, 13, 13]))
    late = np.array([[False]] * 3 + [[True]])
    found = call_quarters(hourly(1), run, NO_RIG, late).stem_driest_wb[:, 0]
    np.testing.assert_allclose(found, [11, 11, 11, 13])


def test_water_is_told_only_for_hay_that_wants_it():
    """12.5 % is in its band, although below the rig's target; 18 % and rain are too wet."""
    for moisture, rain in ((12.5, 0.0), (18.0, 0.0), (9.0, 1.0)):
        found = calls_of(hay(moisture), setting_of(), rain_mm=rain)
        assert np.isnan(found.dose.applied_l_t).all()
    assert np.isfinite(calls_of(hay(9.0), setting_of()).dose.applied_l_t).all()


def test_shares_at_their_limits_are_enough():
    """A third of the hay is above the ceiling, two thirds of the leaf are soft."""
    run = hay(14.0, 13.0)
    film, leaf = run.layers.film_db.copy(), run.layers.leaf_db.copy()
    film[:, 0] += 0.15
    leaf[:, 2] = dry_basis(8.0)
    run = replace(run, layers=replace(run.layers, film_db=film, leaf_db=leaf))
    seen = calls_of(run, NO_RIG)
    wet, soft = float(seen.wet_share[0, 0]), float(seen.soft_share[0, 0])
    assert 0 < wet < 1
    assert 0 < soft < 1
    for more_wet, less_soft, expected in ((0, 0, READY), (0, 1, TOO_DRY), (1, 0, TOO_WET)):
        baler = Baler("b", wet_share=wet - 1e-6 * more_wet, soft_share=soft + 1e-6 * less_soft)
        assert call(run, setting_of(rig=None, baler=baler)) == expected


def test_the_leafs_need_is_told_beyond_the_rigs_reach_unless_left_out():
    """12 L/t bring 9 % to 9.8 %; the target alone wants 1000 (13 - 9)/87/0.8 and no more."""
    setting = setting_of(rig=replace(RIG, rate_max_l_t=12.0, vapor_loss=0.0))
    run = hay(9.0, 9.0)
    whole = call_quarters(hourly(1), run, setting).dose.needed_l_t
    target = call_quarters(hourly(1), run, setting, every_need=False).dose.needed_l_t
    assert np.isinf(whole).all()
    np.testing.assert_allclose(target, 1000 * 4 / 87 / 0.8, rtol=0.1)
