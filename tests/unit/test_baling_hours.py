"""One hour of the outlook: the call that holds longest, and what stands beside it."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import RIG, course_with, hay, setting_of
from support.nights import hourly

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.hours import hour_calls, longest_call, with_remarks
from hayweather.words import Remark

NO_DATA, NOT_CURED, TOO_WET, DEW, RIG_CALL, TOO_DRY, READY, DAMP_BELOW = Call


def keys(remarks):
    return [remark.key for remark in remarks]


@pytest.mark.parametrize(
    ("quarters", "expected"),
    [
        ([READY, READY, READY, TOO_WET], READY),
        ([READY, TOO_WET, TOO_WET, TOO_WET], TOO_WET),
        ([READY, READY, TOO_WET, TOO_WET], TOO_WET),
        ([READY, READY, TOO_DRY, TOO_DRY], TOO_DRY),
        ([RIG_CALL, RIG_CALL, READY, READY], RIG_CALL),
        ([RIG_CALL, RIG_CALL, TOO_DRY, TOO_DRY], TOO_DRY),
        ([NOT_CURED, READY, READY, NOT_CURED], NOT_CURED),
        ([NO_DATA, NO_DATA, TOO_WET, TOO_WET], NO_DATA),
        ([READY, RIG_CALL, TOO_DRY, TOO_WET], TOO_WET),
        ([TOO_DRY] * 4, TOO_DRY),
    ],
)
def test_the_call_that_holds_longest_of_two_the_more_cautious(quarters, expected):
    calls = np.array([READY] * 4 + quarters, dtype=np.int8)
    assert longest_call(calls[4:]) == expected
    assert longest_call(calls[:4]) == READY


def test_numbers_of_an_hour_are_means_with_the_ends_counted_half():
    trajectory = hay(np.array([12.0, 13, 14, 15, 15]), 14.0, 9.0, free_water_mm=0.01)
    hour = hour_calls(course_with(trajectory, setting_of()), setting_of())[0]
    assert hour.hay.windrow_wb == pytest.approx((12 / 2 + 13 + 14 + 15 + 15 / 2) / 4)
    assert hour.hay.leaf_wb == pytest.approx(14.0)
    assert hour.hay.stem_wb == pytest.approx(9.0)
    assert hour.hay.free_water_mm == pytest.approx(0.01)
    assert hour.hay.skin_temperature_c == 15.0
    assert hour.hay.skin_humidity == pytest.approx(70.0)


def test_skin_humidity_is_shown_to_a_hundred():
    damp = replace(hay(14.0), skin_humidity=np.full((5, 1), 1.1))
    assert hour_calls(course_with(damp, setting_of()), setting_of())[0].hay.skin_humidity == 100.0


def test_water_of_an_hour_is_that_of_its_rig_quarters():
    """A quarter out of reach does not make the mean unknown."""
    trajectory = hay(np.array([3.0, 3.0, 11.0, 11.0, 11.0]))
    course = course_with(trajectory, setting_of())
    assert course.quarters.call[:, 0].tolist() == [TOO_DRY, RIG_CALL, RIG_CALL, RIG_CALL]
    hour = hour_calls(course, setting_of())[0]
    assert hour.call == RIG_CALL
    applied = course.quarters.dose.applied_l_t[1:, 0]
    assert hour.water_l_t == min(applied, key=lambda rate: abs(rate - applied.mean()))
    water = next(r for r in hour.reasons if r.key == "reason_water").values["water"]
    assert water == (applied.min(), applied.max(), "water_rate")
    assert 12 <= hour.after_wb <= 16


def test_a_stop_leaves_the_call_and_puts_its_reason_first():
    weather = hourly(1)
    thunder = replace(weather, columns={**weather.columns, "weather_code": np.array([[95.0]])})
    hour = hour_calls(course_with(hay(14.0), setting_of(), thunder), setting_of())[0]
    assert hour.stop
    assert hour.call == READY
    assert keys(hour.reasons)[:2] == ["stop_thunder", "reason_in_band"]


@pytest.mark.parametrize(("windrow_wb", "stop"), [(9.0, True), (14.0, False), (20.0, False)])
def test_spray_wind_stops_only_hours_in_which_the_rig_runs(windrow_wb, stop):
    setting = setting_of(rig=replace(RIG, spray_wind_limit_m_s=4.0))
    course = course_with(hay(windrow_wb), setting, hourly(1, wind_speed_m_s=6.0))
    hour = hour_calls(course, setting)[0]
    assert hour.stop == stop
    assert course.windows() == [] if stop or windrow_wb > 16 else len(course.windows()) == 1
    assert (course.first_ready() is None) == (stop or windrow_wb > 16)


def test_only_as_many_hours_as_asked_for_with_cautions_of_what_follows():
    weather = hourly(4, rain_mm=np.array([0.0, 0.0, 0.0, 2.0]))
    course = course_with(hay(14.0, hours=4), setting_of(), weather)
    hours = hour_calls(course, setting_of(), 2)
    assert len(hours) == 2
    assert keys(hours[1].cautions) == ["caution_rain_ahead"]


def five(first, others, **named):
    """Lane 0 at `first`, four members at `others` % wet basis."""
    values = np.array([first, *others], dtype=float)[None, :]
    return course_with(hay(values, 15.0, lanes=5), setting_of(rig=None), **named)


def test_chances_of_an_hour_sum_to_one():
    hour = hour_calls(five(14.0, [14, 14, 14, 18]), setting_of(rig=None))[0]
    assert sum(hour.chance.values()) == pytest.approx(1.0)
    assert hour.chance[READY] == pytest.approx(0.75)
    assert "caution_low_confidence" not in keys(hour.cautions)


def test_a_call_that_few_members_share_is_said_to_be_unsure():
    hour = hour_calls(five(14.0, [14, 14, 9, 18]), setting_of(rig=None))[0]
    assert "caution_low_confidence" not in keys(hour.cautions)
    hour = hour_calls(five(14.0, [14, 9, 18, 18]), setting_of(rig=None))[0]
    assert hour.call == TOO_WET
    hours = five(14.0, [14, 14, 9, 18])
    assert hour_calls(hours, setting_of(rig=None))[0].advice == Advice.PROBE_FIRST


def test_a_call_by_chance_says_what_the_middle_forecast_says_and_why():
    """Shown too wet because three members in four are, in band by the middle forecast."""
    course = five(14.0, [18, 18, 18, 14])
    hour = hour_calls(course, setting_of(rig=None))[0]
    assert hour.call == TOO_WET
    assert hour.reasons[0].key == "reason_differs"
    assert hour.reasons[0].values["middle"] == Remark("call_ready")
    assert hour.reasons[1].key == "reason_in_band"


def test_ready_hay_that_is_not_go_says_why_first():
    hour = hour_calls(five(14.0, [18, 9, 14, 14]), setting_of(rig=None))[0]
    assert (hour.call, hour.advice) == (READY, Advice.PROBE_FIRST)
    assert hour.reasons[0] == Remark("advice_may_be_wet", {"count": "25"})


def test_without_data_there_is_no_word_on_confidence():
    hour = hour_calls(five(np.nan, [14, 14, 9, 9]), setting_of(rig=None))[0]
    assert hour.call == NO_DATA
    assert "caution_low_confidence" not in keys(hour.cautions)


def test_remarks_of_the_start_stand_where_nothing_else_explains():
    setting = setting_of(rig=None)
    ready = hour_calls(course_with(hay(14.0), setting), setting)[0]
    late, alone = Remark("start_too_late"), Remark("start_without_spin_up")
    assert with_remarks(ready, (late,)) is ready
    broken = hour_calls(course_with(hay(np.nan), setting), setting)[0]
    assert keys(broken.reasons) == ["reason_run_broken"]
    assert keys(with_remarks(broken, (alone,)).reasons) == [
        "reason_run_broken",
        "start_without_spin_up",
    ]
    assert keys(with_remarks(broken, (late,)).reasons) == ["start_too_late"]
    said = with_remarks(broken, (late,))
    assert keys(with_remarks(said, (late,)).reasons) == ["start_too_late"]


def test_a_course_is_cut_to_its_hours():
    course = course_with(hay(np.linspace(9.0, 14.0, 17), hours=4), setting_of())
    part = course.between(1, 3)
    assert part.weather.hours == part.trajectory.hours == 2
    assert part.middle.tolist() == course.middle[4:12].tolist()
    assert part.stopped.shape == (8, 1)
    assert part.chances.tolist() == course.chances[:, 4:12].tolist()
    assert part.weights is course.weights
