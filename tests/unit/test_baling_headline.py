"""The first screen: windows of the night, work, check, when to look, next night, doubt.

The members are set by hand, so that each sentence can be told beforehand.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from support.fields import BALER, CURED, EVENING, course_with, hay, setting_of
from support.nights import hourly

from hayweather.baling.calls import Call
from hayweather.baling.clock import span_of
from hayweather.baling.headline import Nights, doubt_of, headline_of, work_of
from hayweather.baling.windows import Window
from hayweather.weather.record import HOUR
from hayweather.windrow.trajectory import QUARTER

SPAN = span_of(EVENING, "America/Denver")
TURN_NEXT = EVENING + 19 * HOUR
NO_RIG = setting_of(rig=None)
ERRORS = {"dew_point_c": np.zeros(6)}


def course_of(windrow_wb, hours=43, start=EVENING, setting=NO_RIG, weather=None):
    """Hours ahead with the moistures given, (boundaries, lanes); lane 0 is shown."""
    values = np.asarray(windrow_wb, dtype=float)
    trajectory = hay(values, 15.0, hours=hours, lanes=values.shape[1], start=start)
    return course_with(trajectory, setting, weather)


def nightly(first_dew, hours=43, start=EVENING, last=16, **named):
    """Lanes that come into the band after `first_dew` hours each, until hour `last`."""
    rows = np.arange(4 * hours + 1)[:, None] / 4
    after = np.asarray(first_dew, dtype=float)[None, :]
    values = np.where((rows >= after) & (rows <= last), 14.0, 9.0)
    return course_of(values, hours, start, **named)


def test_windows_of_tonight_only_and_cut_at_the_turn():
    values = np.full((4 * 43 + 1, 1), 14.0)
    found = headline_of(course_of(values), NO_RIG, SPAN, {})
    assert found.evening == date(2024, 7, 2)
    assert found.turn == TURN_NEXT
    assert [(window.start, window.end) for window in found.ready] == [(EVENING, TURN_NEXT)]
    assert found.ready_work.hours == 19
    assert found.dew == ()
    assert found.rig == ()
    assert found.rig_work.hours == 0


def test_with_a_rig_both_kinds_are_told_apart():
    setting = setting_of()
    values = np.full((4 * 43 + 1, 1), 9.0)
    values[20:41] = 14.0
    found = headline_of(course_of(values, setting=setting), setting, SPAN, {})
    assert {window.call for window in found.as_it_lies} == {Call.READY}
    assert {window.call for window in found.rig} == {Call.ADD_MOISTURE}
    assert len(found.rig) == 2
    assert found.rig[1].end == TURN_NEXT
    assert found.ready_work.hours + found.rig_work.hours == 19


def window(hours):
    return Window(Call.NATURAL_DEW, EVENING, EVENING + round(4 * hours) * QUARTER)


@pytest.mark.parametrize(
    ("hours", "mass_kg", "area_m2"),
    [(0.0, 0.0, 0.0), (2.0, 36_000.0, 120_000.0), (10.0, 120_000.0, 400_000.0)],
)
def test_work_is_that_of_the_baler_until_the_field_is_done(hours, mass_kg, area_m2):
    """18 t/h on 40 ha of 3 t/ha: done after 6.7 h."""
    work = work_of((window(hours),), setting_of())
    assert (work.hours, work.mass_kg) == (hours, pytest.approx(mass_kg))
    assert work.area_m2 == pytest.approx(area_m2)


def test_work_that_is_not_known_is_none():
    some = (window(2.0), window(1.0))
    assert work_of(some, setting_of(baler=replace(BALER, capacity_kg_h=None))) == replace(
        work_of((), setting_of()), hours=3.0, mass_kg=None, area_m2=None
    )
    no_yield = work_of(some, setting_of(replace(CURED, yield_kg_m2=None)))
    assert (no_yield.mass_kg, no_yield.area_m2) == (54_000.0, None)
    endless = work_of((window(10.0),), setting_of(replace(CURED, area_m2=None)))
    assert endless.area_m2 == pytest.approx(600_000.0)


def test_look_is_three_quarters_of_an_hour_before_the_dew():
    found = headline_of(nightly([8.0]), NO_RIG, SPAN, {})
    assert found.look_at == EVENING + 8 * HOUR - 3 * QUARTER


def test_look_follows_the_early_members():
    """Dew comes after 6, 7, 8, 9, 10 h in the five members; the forecast says 8."""
    found = headline_of(nightly([8.0, 6, 7, 8, 9, 10]), NO_RIG, SPAN, ERRORS)
    assert found.look_at == EVENING + 6 * HOUR - 3 * QUARTER
    assert found.as_it_lies[0].chance == pytest.approx(1.0)
    assert found.as_it_lies[0].start_range == (EVENING + 6 * HOUR, EVENING + 10 * HOUR)


def test_never_look_before_now_and_sleep_without_dew():
    assert headline_of(nightly([0.0]), NO_RIG, SPAN, {}).look_at == EVENING
    assert headline_of(nightly([99.0]), NO_RIG, SPAN, {}).look_at is None
    late = EVENING + np.timedelta64(40, "m")
    assert headline_of(nightly([0.0]).from_minute(late), NO_RIG, SPAN, {}).look_at == late


@pytest.mark.parametrize(("first", "at"), [(8.0, 4), (5.0, 4), (4.5, 3), (1.5, None)])
def test_check_at_eleven_or_an_hour_before_dew(first, at):
    """Hours after 19:00. Dew within the hour: nothing left to check."""
    check = headline_of(nightly([first] * 6), NO_RIG, SPAN, ERRORS).check
    if at is None:
        assert check is None
    else:
        assert check.time == EVENING + at * HOUR
        assert check.expected_wb == pytest.approx(9.0)


@pytest.mark.parametrize(("first", "at"), [(4.5, 3), (1.5, 4)])
def test_check_is_before_the_hours_that_only_a_probe_can_allow(first, at):
    """A third of the members come into the band: no go, and 23:00 may be after all of it."""
    errors = {"dew_point_c": np.zeros(7)}
    found = headline_of(nightly([first] * 3 + [99.0] * 4), NO_RIG, SPAN, errors)
    assert not found.as_it_lies
    assert found.maybe[0].start == EVENING + np.timedelta64(round(60 * first), "m")
    assert found.check.time == EVENING + at * HOUR


def test_check_tells_what_drier_and_damper_hay_means():
    """Members at 23:00 from 7 to 13 %: the driest has no dew, the dampest has it at once."""
    rows = np.arange(4 * 43 + 1)[:, None] / 4
    slopes = np.array([1.0, 0.5, 0.75, 1.0, 1.25, 1.5])[None, :]
    values = np.minimum(6.0 + slopes * np.minimum(rows, 10), 15.0)
    values[:, 1] = np.minimum(values[:, 1], 11.0)
    check = headline_of(course_of(values), NO_RIG, SPAN, ERRORS).check
    assert check.expected_wb == pytest.approx(10.0)
    assert check.low_wb == pytest.approx(8.0)
    assert check.high_wb == pytest.approx(12.0)
    assert check.dew_if_drier is None
    assert check.dew_if_damper == EVENING + 4 * HOUR


def test_no_check_without_members_past_the_hour_or_without_data():
    assert headline_of(nightly([8.0]), NO_RIG, SPAN, {}).check is None
    late = EVENING + 5 * HOUR
    span = span_of(late, "America/Denver")
    assert headline_of(nightly([9.0] * 6, start=late), NO_RIG, span, ERRORS).check is None
    unknown = np.full((4 * 43 + 1, 6), np.nan)
    assert headline_of(course_of(unknown), NO_RIG, SPAN, ERRORS).check is None
    short = nightly([99.0] * 6, hours=3)
    assert headline_of(short, NO_RIG, SPAN, ERRORS).check is None


def test_next_night_with_dew_where_this_has_none():
    values = np.full((4 * 60 + 1, 1), 9.0)
    values[4 * 30 : 4 * 34] = 14.0  # 01:00 of 4 July
    found = headline_of(course_of(values, hours=60), NO_RIG, SPAN, {})
    assert found.next_night == date(2024, 7, 3)
    values = np.full((4 * 60 + 1, 1), 9.0)
    values[4 * 28 : 4 * 29] = 14.0  # 23:00 of 3 July
    assert headline_of(course_of(values, hours=60), NO_RIG, SPAN, {}).next_night == date(2024, 7, 3)
    assert headline_of(nightly([99.0]), NO_RIG, SPAN, {}).next_night is None
    assert headline_of(nightly([8.0]), NO_RIG, SPAN, {}).next_night is None


def test_chance_of_useful_hours_by_the_members():
    """Useful are two hours: three members of five have eight, one has one, one none."""
    ahead = nightly([8.0, 8, 8, 8, 15, 99], last=16)
    found = headline_of(ahead, NO_RIG, SPAN, ERRORS)
    assert found.dew_chance == pytest.approx(0.6)
    assert headline_of(nightly([8.0]), NO_RIG, SPAN, {}).dew_chance is None


def test_nights_before_an_end_that_has_passed_are_empty():
    nights = Nights.of(nightly([8.0] * 6), EVENING - HOUR)
    assert nights.hours.tolist() == [0] * 6
    assert np.isnan(nights.first).all()
    assert nights.first_among(np.ones(6, dtype=bool)) is None
    assert nights.first_among(np.zeros(6, dtype=bool)) is None


def nights_with(hours):
    count = len(hours)
    weights = np.full(count, 1 / (count - 1))
    weights[0] = 0.0
    return Nights(EVENING, np.array(hours, dtype=float), np.full(count, np.nan), weights)


@pytest.mark.parametrize(
    ("name", "sign", "key"),
    [
        ("dew_point_c", 1, "doubt_drier"),
        ("dew_point_c", -1, "doubt_damper"),
        ("wind_speed_m_s", -1, "doubt_windier"),
        ("wind_speed_m_s", 1, "doubt_calmer"),
        ("cloud_fraction", -1, "doubt_cloudier"),
        ("air_temperature_c", 1, "doubt_colder"),
        ("dry_matter_kg_m2", -1, "doubt_heavier"),
    ],
)
def test_doubt_names_the_side_that_costs_hours(name, sign, key):
    """Hours follow one error; another that varies at random says nothing."""
    hours = np.array([3.0, 1, 2, 3, 4, 5])
    noise = np.array([0.0, 1, -1, 0, -1, 1])
    other = "dew_point_c" if name != "dew_point_c" else "wind_speed_m_s"
    found = doubt_of(nights_with(hours), {name: sign * hours, other: noise})
    assert found.key == key
    assert found.values == {"hours": "2.0"}  # the worst fifth has 1 h, all have 3 h


def test_no_doubt_where_all_members_agree_or_none_are():
    assert doubt_of(nights_with([3, 3, 3, 3]), {"dew_point_c": np.arange(4.0)}) is None
    assert doubt_of(nights_with([3, 3]), {"dew_point_c": np.arange(2.0)}) is None


def test_an_error_that_does_not_vary_is_never_the_doubt():
    hours = np.array([3.0, 1, 2, 3])
    errors = {"dew_point_c": np.zeros(4), "wind_speed_m_s": -hours}
    assert doubt_of(nights_with(hours), errors).key == "doubt_windier"


def test_a_stopped_night_is_no_window_and_no_hours():
    storm = {"thunder_chance_percent": 90.0}
    weather = replace(hourly(43, 6, **storm), start=np.full(6, EVENING))
    found = headline_of(nightly([8.0] * 6, weather=weather), NO_RIG, SPAN, ERRORS)
    assert found.as_it_lies == ()
    assert found.dew_chance == 0.0


def test_an_error_of_large_numbers_is_not_the_doubt_for_that():
    """Dry matter in hundreds says little of the hours, the dew point in tenths all."""
    hours = np.array([3.0, 1, 2, 3, 4, 5])
    errors = {
        "dry_matter_kg_m2": 500 * np.array([0.0, 1, -1, 0, -1, 1]),
        "dew_point_c": hours / 10,
    }
    assert doubt_of(nights_with(hours), errors).key == "doubt_drier"


def test_two_members_that_differ_are_a_doubt_and_errors_that_do_not_are_none():
    assert doubt_of(nights_with([3, 1, 3]), {"dew_point_c": np.array([0.0, -1, 1])}) is not None
    assert doubt_of(nights_with([3, 1, 2, 3]), {"dew_point_c": np.zeros(4)}) is None


def first_of(first, weights):
    count = len(first)
    nights = Nights(EVENING, np.zeros(count), np.array(first, dtype=float), np.array(weights))
    return nights.first_among(np.ones(count, dtype=bool))


def test_dew_comes_in_the_middle_of_the_members_of_which_half_have_it():
    """Quarters of the first dew; of four, three have it, two, or one."""
    even = [0.25] * 4
    assert first_of([2, 8, 20, np.nan], even) == EVENING + 8 * QUARTER
    assert first_of([2, 4, np.nan, np.nan], even) == EVENING + 3 * QUARTER
    assert first_of([2, np.nan, np.nan, np.nan], even) is None
    assert first_of([2, 4, np.nan, np.nan], [0.1, 0.3, 0.3, 0.3]) is None


def test_the_check_tells_eight_in_ten_and_the_dampest_fifth():
    """Ten members at 23:00, sorted; dew comes to the dampest an hour later, to the next two."""
    rows = np.arange(4 * 43 + 1)[:, None] / 4
    members = [5, 6, 7, 8, 9, 10, 10.5, 11, 11.5, 11.8]
    dew = [99.0] * 8 + [6, 5]
    values = np.where(rows >= np.array([99.0, *dew])[None, :], 14.0, np.array([9.0, *members]))
    check = headline_of(course_of(values), NO_RIG, SPAN, {"dew_point_c": np.zeros(11)}).check
    assert check.low_wb == pytest.approx(5.5, abs=0.01)
    assert check.high_wb == pytest.approx(11.65, abs=0.01)
    assert check.dew_if_damper == EVENING + 5 * HOUR + QUARTER  # from 4:45 and 5:45 on
    assert check.dew_if_drier is None


def test_a_check_needs_the_forecasts_own_hay_and_no_members():
    values = np.full((4 * 43 + 1, 6), 9.0)
    values[:, -1] = np.nan
    assert headline_of(course_of(values), NO_RIG, SPAN, ERRORS).check.expected_wb == (
        pytest.approx(9.0)
    )
    values = np.full((4 * 43 + 1, 6), 9.0)
    values[:, 0] = np.nan
    assert headline_of(course_of(values), NO_RIG, SPAN, ERRORS).check is None


def evening_of(*parts):
    """Moistures as first and past hour, all else too dry; None in place of one is unknown."""
    values = np.full((4 * 43 + 1, 1), 9.0)
    for first, past, moisture in parts:
        values[4 * first : 4 * past + 1] = moisture
    return values


@pytest.mark.parametrize(
    ("parts", "rig", "unknown"),
    [
        ([(0, 43, np.nan)], False, True),
        ([(2, 4, np.nan)], False, True),
        ([], False, False),
        ([(2, 4, np.nan), (6, 10, 14.0)], False, False),
        ([(2, 4, np.nan)], True, False),
        ([(6, 10, 14.0)], False, False),
    ],
)
def test_a_night_is_unknown_where_nothing_is_left_that_could_be_called(parts, rig, unknown):
    """Hours with a window of go make up for blank ones, also those of the rig alone."""
    setting = setting_of() if rig else NO_RIG
    found = headline_of(course_of(evening_of(*parts), setting=setting), setting, SPAN, {})
    assert found.unknown == unknown


def test_hours_to_probe_in_make_up_for_blank_ones():
    values = np.repeat(evening_of((2, 4, np.nan)), 7, axis=1)
    values[24:41, :4] = 14.0
    found = headline_of(course_of(values), NO_RIG, SPAN, {"dew_point_c": np.zeros(7)})
    assert (found.as_it_lies, bool(found.maybe)) == ((), True)
    assert not found.unknown


def test_look_is_before_the_first_of_several_windows():
    found = headline_of(course_of(evening_of((6, 8, 14.0), (12, 14, 14.0))), NO_RIG, SPAN, {})
    assert len(found.as_it_lies) == 2
    assert found.look_at == found.as_it_lies[0].start - 3 * QUARTER


def test_the_chance_is_of_the_hours_named_alone():
    """Five members: two hours at eight o'clock to the minute, fewer, or hours that nobody names."""
    rows = np.arange(4 * 43 + 1)[:, None] / 4

    def lanes(*spans):
        return np.concatenate(
            [np.where((rows >= a) & (rows <= b), 14.0, 9.0) for a, b in spans], axis=1
        )

    values = lanes((8, 10), (8, 10), (8, 10), (8, 10), (8, 9.5), (12, 16))
    found = headline_of(course_of(values), NO_RIG, SPAN, ERRORS)
    assert [item.hours for item in found.as_it_lies] == [2.0]
    inside = found.as_it_lies[0]
    assert inside.start == EVENING + 8 * HOUR
    assert found.dew_chance == pytest.approx(0.6)


def test_a_doubt_whose_worst_fifth_has_more_hours_costs_none():
    hours, error = [3.0, 5, 1, 2, 3, 9], np.array([0.0, -2, -1, 0, 1, 2])
    assert doubt_of(nights_with(hours), {"dew_point_c": error}).values == {"hours": "0.0"}
