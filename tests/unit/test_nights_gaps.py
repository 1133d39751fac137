"""Missing weather: no data from the gap to the next start, never a ready call."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, EVENING, HOME, TURN, days, farm_of, hay, with_blanks

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, Call
from hayweather.nights import night_of
from hayweather.nights.trust import begun_anew
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading

FIRST = 29  # the current hour: 19:00 in Denver, hours from 14:00 of the day before
NEXT_TURN = 48  # 14:00 of the next day
GAP = (32, 38)  # 22:00 to 03:59
INSTANTS = ("air_temperature_c", "dew_point_c", "wind_speed_m_s")


def outlook_of(weather, field=CURED, **named):
    farm = farm_of(field, **named)
    return night_of(farm, {"home": weather}, EVENING, members=0).fields[0]


def keys(hour):
    return [remark.key for remark in hour.reasons]


def calls(outlook):
    """Call of each hour by its index in the weather."""
    return {FIRST + index: hour.call for index, hour in enumerate(outlook.hours)}


@pytest.mark.parametrize("name", INSTANTS)
def test_a_gap_tonight_is_no_data_until_the_next_start(name):
    """Six hours blank: they, the hour before (its end is unknown) and all until 14:00."""
    found = outlook_of(with_blanks(days(49), name, *GAP))
    broken = {hour for hour, call in calls(found).items() if call == Call.NO_DATA}
    assert broken == set(range(GAP[0] - 1, NEXT_TURN))
    for index, hour in enumerate(found.hours, FIRST):
        named = index in range(GAP[0] - 1, GAP[1])
        if index in broken:
            assert (f"reason_missing_{name}" if named else "reason_run_broken") in keys(hour)
            assert named or len(hour.reasons) == 1
            assert np.isnan(hour.hay.windrow_wb)
            assert np.isnan(hour.water_l_t)
    assert found.facts.hours_missing == 6


def test_a_gap_leaves_the_hours_before_it_as_they_were():
    whole, gap = outlook_of(days(40)), outlook_of(with_blanks(days(40), "dew_point_c", *GAP))
    for index in range(GAP[0] - 1 - FIRST):
        assert gap.hours[index].call == whole.hours[index].call
        assert gap.hours[index].hay == whole.hours[index].hay


def test_no_window_reaches_into_a_gap_or_what_follows_it():
    found = outlook_of(with_blanks(days(49), "wind_speed_m_s", *GAP))
    begin, end = TURN + (GAP[0] - 1) * HOUR, TURN + NEXT_TURN * HOUR
    assert found.windows
    assert all(window.end <= begin or window.start >= end for window in found.windows)
    assert found.headline.dew == ()


def test_a_run_that_begins_anew_says_probe_first_for_a_day():
    """What the hay took up in the gap nobody knows; the air of its next start does not tell."""
    whole, gap = outlook_of(days(90)), outlook_of(with_blanks(days(90), "rain_mm", *GAP))
    fresh = slice(NEXT_TURN - FIRST, NEXT_TURN + 24 - FIRST)
    assert any(hour.advice == Advice.GO for hour in whole.hours[fresh])
    told = [hour for hour in gap.hours[fresh] if hour.advice > Advice.WAIT]
    assert told
    for hour in told:
        assert hour.advice == Advice.PROBE_FIRST
        assert hour.call not in BALED or "advice_begun_anew" in keys(hour)


def test_a_reading_or_a_given_moisture_lifts_that():
    made = hay(14.0, hours=60)
    unknown = replace(made, windrow_db=made.windrow_db.copy(), started=made.started.copy())
    unknown.started[[0, 30]] = True
    assert not begun_anew(unknown, {}, ()).any()  # nothing was missing before it
    unknown.windrow_db[4 * 20 : 4 * 30] = np.nan
    rows = np.flatnonzero(begun_anew(unknown, {}, ()))
    assert (rows[0], rows[-1], rows.size) == (120, 215, 96)
    assert not begun_anew(unknown, {30: None}, ()).any()
    read = Reading(unknown.start[0] + 34 * HOUR, 12.0)
    early = Reading(unknown.start[0] + 25 * HOUR, 12.0)
    assert np.flatnonzero(begun_anew(unknown, {}, (early, read))).tolist() == list(range(120, 136))


def test_blank_rain_breaks_the_run_in_its_own_hour():
    found = outlook_of(with_blanks(days(49), "rain_mm", 33, 34))
    broken = {hour for hour, call in calls(found).items() if call == Call.NO_DATA}
    assert broken == set(range(33, NEXT_TURN))
    assert keys(found.hours[33 - FIRST]) == ["reason_missing_rain_mm"]
    assert keys(found.hours[34 - FIRST]) == ["reason_run_broken"]


def test_no_rain_column_is_a_caution_on_each_hour_and_on_the_outlook():
    farm = farm_of()
    found = night_of(farm, {"home": days(40, rain_mm=None)}, EVENING, members=0)
    for hour in found.fields[0].hours:
        assert "caution_rain_unknown" in [remark.key for remark in hour.cautions]
        assert hour.call != Call.NO_DATA
        assert np.isnan(hour.air.rain_mm)
    assert "caution_rain_unknown" in [remark.key for remark in found.cautions]


def test_an_hour_on_a_repaired_value_says_so():
    weather = days(40)
    repaired = weather.repaired.copy()
    repaired[35] = True
    found = outlook_of(replace(weather, repaired=repaired))
    told = [FIRST + i for i, hour in enumerate(found.hours) if "caution_filled" in
            [remark.key for remark in hour.cautions]]  # fmt: skip
    assert told == [35]


def test_cloud_sun_and_pressure_may_be_missing():
    """They are derived or assumed, and named; the calls go on."""
    weather = with_blanks(days(42, pressure_kpa=84.0), "cloud_fraction", 30, 40)
    found = outlook_of(with_blanks(weather, "pressure_kpa", 30, 40))
    assert Call.NO_DATA not in calls(found).values()
    assert {"cloud_unknown", "sun_from_cloud", "pressure_from_elevation"} <= {
        item.key for item in found.facts.assumed
    }


def test_a_gap_over_the_start_is_made_good_by_the_next_one():
    """Blank at yesterday's 14:00: the run starts at today's, without a night of spin-up."""
    found = outlook_of(with_blanks(days(40), "dew_point_c", 0, 3))
    assert Call.NO_DATA not in calls(found).values()
    assert [remark.key for remark in found.remarks] == ["start_without_spin_up"]


def test_a_gap_over_both_starts_leaves_tonight_unknown():
    found = outlook_of(with_blanks(days(49), "dew_point_c", 0, 25))
    for index, hour in enumerate(found.hours, FIRST):
        assert (hour.call == Call.NO_DATA) == (index < NEXT_TURN)
    assert keys(found.hours[0]) == ["reason_run_broken"]


@pytest.mark.parametrize("cured", [True, EVENING + HOUR])
def test_after_a_gap_a_cured_field_with_a_reading_starts_anew_in_the_afternoon(cured):
    field = replace(CURED, cured=cured, moisture_now_wb=9.0)
    found = calls(outlook_of(with_blanks(days(49), "dew_point_c", *GAP), field))
    broken = {hour for hour, call in found.items() if call == Call.NO_DATA}
    assert broken == set(range(GAP[0] - 1, NEXT_TURN))


def test_after_a_gap_a_reading_alone_does_not_start_anew():
    """Whether it is cured is known by the run alone; that is broken."""
    field = replace(CURED, cured=None, moisture_now_wb=9.0)
    found = calls(outlook_of(with_blanks(days(49), "dew_point_c", *GAP), field))
    assert {call for hour, call in found.items() if hour >= GAP[0] - 1} == {Call.NO_DATA}


@pytest.mark.parametrize("name", ["dew_point_c", "wind_speed_m_s", "rain_mm"])
def test_a_gap_while_the_swath_dries_is_unknown_ever_after(name):
    """Cut this morning, four hours blank in the night: not "dry", not even "drying"."""
    field = replace(CURED, cured=None, cut_at=TURN + 20 * HOUR)
    found = outlook_of(with_blanks(days(40), name, 31, 35), field)
    for index, hour in enumerate(found.hours, FIRST):
        before = index < (31 if name == "rain_mm" else 30)
        assert hour.call == (Call.NOT_CURED if before else Call.NO_DATA)
        assert "start_drying_unknown" in keys(hour)
        assert "reason_run_broken" not in keys(hour)
    assert not any(hour.call in BALED for hour in found.hours)


def test_missing_weather_before_the_named_time_is_missing_not_uncured():
    field = replace(CURED, cured=EVENING + 20 * HOUR)
    found = outlook_of(with_blanks(days(49), "rain_mm", 33, 34), field)
    assert found.hours[33 - FIRST].call == Call.NO_DATA
    assert found.hours[34 - FIRST].call == Call.NOT_CURED
    assert keys(found.hours[34 - FIRST]) == ["reason_cured_from"]


def test_a_gap_at_one_site_leaves_the_other_alone():
    sites = {"home": HOME, "far": replace(HOME, name="far")}
    fields = {"north": CURED, "south": replace(CURED, name="south", site="far")}
    farm = farm_of(sites=sites, fields=fields)
    both = {"home": with_blanks(days(40), "dew_point_c", *GAP), "far": days(40)}
    found = night_of(farm, both, EVENING, members=0)
    assert Call.NO_DATA in [hour.call for hour in found.fields[0].hours]
    assert Call.NO_DATA not in [hour.call for hour in found.fields[1].hours]
    assert [item.setting.field.name for item in found.fields] == ["north", "south"]


def test_every_hour_says_where_its_weather_comes_from():
    weather = with_blanks(days(49), "cloud_fraction", 30, 40)
    found = outlook_of(weather)
    skies = {FIRST + i: hour.air.origin.sky for i, hour in enumerate(found.hours)}
    assert {at for at, sky in skies.items() if sky == "absent"} == set(range(30, 40))
    assert {hour.air.origin.air_temperature for hour in found.hours} == {"forecast"}
