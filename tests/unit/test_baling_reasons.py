"""Why an hour has its call: never empty, never untrue, with value and limit."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, RIG, TURN, calls_of, hay, setting_of
from support.nights import hourly

from hayweather.baling.calls import Call
from hayweather.baling.cause import Cause
from hayweather.baling.hours import facts_of, reasons_for
from hayweather.farm.records import Baler
from hayweather.weather.record import HOUR

NO_RIG = setting_of(rig=None)
NO_LOSS = replace(RIG, vapor_loss=0.0)


def reasons(trajectory, setting, call, weather=None, hour=0, **columns):
    """Reasons of one hour whose quarters of `call` are looked at."""
    weather = weather or hourly(trajectory.hours, **columns)
    quarters = calls_of(trajectory, setting, weather)
    rows = quarters.call[:, 0] == call
    assert rows.any()
    facts = facts_of(quarters, rows, setting.band)
    return reasons_for(call, facts, setting, weather, hour)


def keys(found):
    return [remark.key for remark in found]


def shown(found, key):
    """Value and limit of a reason."""
    values = next(remark.values for remark in found if remark.key == key)
    return values["value"][0], values["limit"][0]


def test_natural_dew_says_band_and_leaf():
    found = reasons(hay(14.0, 15.0), NO_RIG, Call.READY)
    assert keys(found) == ["reason_in_band", "reason_leaf_soft", "reason_cause_drying"]
    assert found[0].values["value"][0] == pytest.approx(14.0)
    assert (found[0].values["low"][0], found[0].values["high"][0]) == (12, 16)
    assert found[1].values == {"share": "100", "least": "60", "limit": (12.0, "percent")}


def test_grass_has_no_leaf_reason():
    setting = setting_of(replace(CURED, crop="grass"), rig=None)
    assert "reason_leaf_soft" not in keys(reasons(hay(14.0, 5.0), setting, Call.READY))
    assert keys(reasons(hay(9.0, 5.0), setting, Call.TOO_DRY)) == [
        "reason_windrow_dry",
        "reason_no_rig",
    ]


@pytest.mark.parametrize("windrow_wb", [14.0, 9.0])
def test_a_dry_bottom_is_a_reason_shown_not_a_refusal(windrow_wb):
    call = Call.READY if windrow_wb > 12 else Call.ADD_MOISTURE
    found = reasons(hay(windrow_wb, bottom_wb=8.0), setting_of(), call)
    assert shown(found, "reason_bottom_dry") == (pytest.approx(8.0), 12)


def test_too_dry_without_a_rig():
    found = reasons(hay(9.0, 8.1), NO_RIG, Call.TOO_DRY)
    assert keys(found) == ["reason_windrow_dry", "reason_leaf_dry", "reason_no_rig"]
    assert shown(found, "reason_windrow_dry") == (pytest.approx(9.0), 12)
    assert found[1].values == {"share": "0", "least": "60", "limit": (12.0, "percent")}


def test_too_dry_beyond_the_rig_says_what_would_be_needed():
    found = reasons(hay(4.0), setting_of(rig=NO_LOSS), Call.TOO_DRY)
    assert keys(found)[-1] == "reason_beyond_rig"
    needed, most = (found[-1].values[name][0] for name in ("needed", "most"))
    assert needed == pytest.approx(1000 * 9 / 87 / 0.8)
    assert needed > most == RIG.rate_max_l_t


def test_too_dry_without_room_says_the_rigs_least():
    setting = setting_of(rig=replace(RIG, rate_min_l_t=75.0))
    found = reasons(hay(11.5, 13.0), setting, Call.TOO_DRY)
    assert keys(found) == ["reason_windrow_dry", "reason_no_room"]
    assert found[-1].values["least"][0] == 75.0


def test_add_moisture_says_what_is_dry_and_what_the_water_brings():
    found = reasons(hay(9.0, 14.0), setting_of(rig=NO_LOSS), Call.ADD_MOISTURE)
    assert keys(found) == ["reason_windrow_dry", "reason_water", "reason_bottom_dry"]
    water, after = (found[1].values[name][0] for name in ("water", "after"))
    assert water == pytest.approx(1000 * 4 / 87 / 0.8)
    assert after == pytest.approx(13.0)


def test_too_wet_says_all_that_is_wet():
    found = reasons(hay(17.2, free_water_mm=0.3), NO_RIG, Call.TOO_WET, rain_mm=1.5)
    assert keys(found) == [
        "reason_windrow_wet",
        "reason_wet_share",
        "reason_free_water",
        "reason_rain",
    ]
    assert shown(found, "reason_windrow_wet") == (pytest.approx(17.2), 16)
    assert shown(found, "reason_free_water") == (pytest.approx(0.3), 0.02)
    assert found[3].values["value"][0] == 1.5


@pytest.mark.parametrize(
    ("values", "key"), [((17.5, 0.0), "reason_windrow_wet"), ((13.0, 0.1), "reason_free_water")]
)
def test_what_is_wet_in_a_part_of_the_hour_is_named_with_that_parts_value(values, key):
    """Half the hour well inside the band does not hide what is wet in the other half."""
    windrow = np.array([values[0]] * 3 + [12.5, 12.5])
    free = np.array([values[1]] * 3 + [0.0, 0.0])
    found = reasons(hay(windrow, free_water_mm=free), NO_RIG, Call.TOO_WET)
    assert keys(found)[0] == key
    value, limit = shown(found, key)
    assert value > limit


def test_what_is_dry_in_turn_is_named_both():
    """First the windrow is below its limit, then the leaf; the mean of each is above."""
    windrow = np.array([11.5, 11.5, 11.9, 15.0, 15.0])
    leaf = np.array([16.0, 16.0, 16.0, 11.0, 11.0])
    found = reasons(hay(windrow, leaf), NO_RIG, Call.TOO_DRY)
    assert keys(found)[:2] == ["reason_windrow_dry", "reason_leaf_dry"]
    value, limit = shown(found, "reason_windrow_dry")
    assert value < limit
    assert found[1].values["share"] == "0"


def test_a_call_that_only_the_members_make_still_has_a_reason():
    """Shown too wet by chance while the middle forecast is inside every limit."""
    weather = hourly(1)
    quarters = calls_of(hay(14.0), NO_RIG, weather)
    facts = facts_of(quarters, np.ones(4, dtype=bool), NO_RIG.band)
    assert keys(reasons_for(Call.TOO_WET, facts, NO_RIG, weather, 0)) == ["reason_partly_wet"]


@pytest.mark.parametrize("name", ["air_temperature_c", "dew_point_c", "wind_speed_m_s"])
def test_a_missing_instant_is_named_in_both_hours_that_it_ends_and_begins(name):
    weather = hourly(4, **{name: np.array([10.0, 10.0, np.nan, 10.0])})
    gone = hay(np.array([14.0] * 5 + [np.nan] * 12), hours=4)
    quarters = calls_of(gone, NO_RIG, weather)
    facts = facts_of(quarters, np.ones(16, dtype=bool), NO_RIG.band)
    told = [keys(reasons_for(Call.NO_DATA, facts, NO_RIG, weather, hour)) for hour in (1, 2, 3)]
    assert told == [[f"reason_missing_{name}"]] * 2 + [["reason_run_broken"]]


def test_missing_rain_is_named_in_its_own_hour_only():
    weather = hourly(2, rain_mm=np.array([0.0, np.nan]))
    facts = facts_of(calls_of(hay(14.0, hours=2), NO_RIG, weather), np.ones(8, bool), NO_RIG.band)
    told = [keys(reasons_for(Call.NO_DATA, facts, NO_RIG, weather, hour)) for hour in (0, 1)]
    assert told == [["reason_run_broken"], ["reason_missing_rain_mm"]]


def test_several_things_missing_are_all_named():
    weather = hourly(1, dew_point_c=np.nan, wind_speed_m_s=np.nan)
    found = reasons(hay(np.nan), NO_RIG, Call.NO_DATA, weather)
    assert keys(found) == ["reason_missing_dew_point_c", "reason_missing_wind_speed_m_s"]


def test_not_cured_by_the_stem():
    setting = setting_of(replace(CURED, cured=None), rig=None)
    found = reasons(hay(14.0, stem_wb=18.0), setting, Call.NOT_CURED)
    assert keys(found) == ["reason_stem_wet"]
    assert shown(found, "reason_stem_wet") == (pytest.approx(18.0), 12)


def test_not_cured_before_the_time_that_was_named():
    until = hourly(1).start[0] + 5 * HOUR
    setting = setting_of(replace(CURED, cured=until), rig=None)
    facts = facts_of(calls_of(hay(14.0), setting), np.ones(4, bool), setting.band)
    found = reasons_for(Call.NOT_CURED, facts, setting, hourly(1), 0)
    assert keys(found) == ["reason_cured_from"]
    assert found[0].values == {"time": until}


@pytest.mark.parametrize(
    ("cut_at", "key"),
    [(TURN, "reason_still_drying"), (hourly(1).start[0] + HOUR, "start_not_cut")],
)
def test_not_cured_while_the_swath_dries_and_before_it_is_cut(cut_at, key):
    setting = setting_of(replace(CURED, cured=None, cut_at=cut_at), rig=None)
    nothing = hay(np.nan, np.nan, np.nan)
    facts = facts_of(calls_of(nothing, setting), np.ones(4, bool), setting.band)
    assert keys(reasons_for(Call.NOT_CURED, facts, setting, hourly(1), 0)) == [key]


def test_limits_in_the_reasons_are_the_farms_own():
    setting = setting_of(rig=None, baler=Baler("b", band_wb=(13.0, 15.0)))
    found = reasons(hay(12.5, 12.5), setting, Call.TOO_DRY)
    assert shown(found, "reason_windrow_dry")[1] == 13.0
    assert found[1].values["limit"][0] == 13.0


def test_a_bottom_at_the_lower_end_of_the_band_is_not_dry():
    facts = facts_of(calls_of(hay(14.0), NO_RIG), np.ones(4, dtype=bool), NO_RIG.band)
    for bottom, dry in ((12.0, False), (11.99, True)):
        told = reasons_for(Call.READY, replace(facts, bottom_wb=bottom), NO_RIG, hourly(1), 0)
        assert ("reason_bottom_dry" in keys(told)) == dry


def test_a_film_at_its_limit_is_not_wet_and_the_most_of_a_rig_is_within_it():
    run = hay(14.0, free_water_mm=0.02)
    facts = facts_of(calls_of(run, NO_RIG), np.ones(4, dtype=bool), NO_RIG.band)
    assert np.isnan(facts.wet_film_mm)
    assert "reason_free_water" not in keys(reasons_for(Call.TOO_WET, facts, NO_RIG, hourly(1), 0))
    setting = setting_of()
    for needed, key in ((RIG.rate_max_l_t, "reason_no_room"), (80.1, "reason_beyond_rig")):
        dry = replace(facts, needed_l_t=needed)
        assert keys(reasons_for(Call.TOO_DRY, dry, setting, hourly(1), 0))[-1] == key


def test_facts_are_those_of_the_first_lane():
    """Another lane is wetter, or drier, in every way, and another dial fits it."""
    rig = replace(RIG, rate_min_l_t=0.0, rate_max_l_t=400.0, rate_step_l_t=300.0)
    setting = setting_of(rig=rig)
    lanes = ((11.9, 14.0, 0.0), (20.0, 30.0, 0.5), (6.0, 5.0, 0.0))
    every = np.ones(4, dtype=bool)
    for order in ((0, 1), (1, 0), (0, 2), (2, 0), (1, 2)):
        chosen = [lanes[number] for number in order]
        windrow, leaf, film = (np.repeat([each], 5, axis=0) for each in zip(*chosen, strict=True))
        both = calls_of(hay(windrow, leaf, free_water_mm=film, lanes=2), setting)
        first = (np.full(5, value) for value in chosen[0])
        windrow, leaf, film = first
        alone = calls_of(hay(windrow, leaf, free_water_mm=film), setting)
        found, expected = (facts_of(quarters, every, setting.band) for quarters in (both, alone))
        np.testing.assert_equal(vars(found), vars(expected))


def test_facts_of_no_quarter_are_unknown():
    facts = facts_of(calls_of(hay(14.0), NO_RIG), np.zeros(4, dtype=bool), NO_RIG.band)
    assert np.isnan([facts.windrow_wb, facts.soft_share, facts.rain_mm_h]).all()
    assert facts.cause == Cause.DRYING


def test_what_another_lane_lacks_is_not_missing():
    weather = hourly(2, 2, dew_point_c=np.array([[9.0, np.nan], [9.0, np.nan]]))
    facts = facts_of(calls_of(hay(14.0), NO_RIG), np.ones(4, dtype=bool), NO_RIG.band)
    assert keys(reasons_for(Call.NO_DATA, facts, NO_RIG, weather, 0)) == ["reason_run_broken"]


@pytest.mark.parametrize(
    ("least", "needed", "told"),
    [
        (0.0, 0.0, []),
        (10.0, 0.0, ["reason_no_room"]),
        (0.0, 5.0, ["reason_no_room"]),
        (0.0, 90.0, ["reason_beyond_rig"]),
    ],
)
def test_a_rig_that_may_give_nothing_is_not_said_to_give_too_much(least, needed, told):
    """Hay that wants no water: a least rate above nought would make it too wet, nought does not."""
    setting = setting_of(rig=replace(RIG, rate_min_l_t=least))
    facts = facts_of(calls_of(hay(14.0), setting), np.ones(4, dtype=bool), setting.band)
    facts = replace(facts, needed_l_t=needed)
    assert keys(reasons_for(Call.TOO_DRY, facts, setting, hourly(1), 0)) == told


def test_the_cause_is_that_of_most_quarters_of_the_first_lane():
    quarters = calls_of(hay(14.0, lanes=2), NO_RIG)
    dew, rain = int(Cause.DEW), int(Cause.RAIN)
    mixed = np.array([[dew, rain], [dew, rain], [dew, rain], [rain, rain]], dtype=np.int8)
    facts = facts_of(replace(quarters, cause=mixed), np.ones(4, dtype=bool), NO_RIG.band)
    assert facts.cause == Cause.DEW
