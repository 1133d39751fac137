"""One hour of the outlook: the call that holds longest, and what stands beside it."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import BALER, CURED, RIG, course_with, hay, setting_of
from support.nights import hourly

from hayweather.baling.advice import Advice, Risk
from hayweather.baling.calls import Call
from hayweather.baling.hours import hour_calls, longest_call, unsure, with_remarks
from hayweather.weather.record import HOUR, MEASURED
from hayweather.windrow.sorption import dry_basis
from hayweather.words import Remark

NO_DATA, NOT_CURED, TOO_WET, DEW, RIG_CALL, TOO_DRY, READY, DAMP_BELOW = Call
NO_RIG = setting_of(rig=None)


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
    assert "reason_water_not_wanted" not in keys(hour.reasons)


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


# Hours after the first


def test_each_hour_tells_its_own_time_hay_and_weather():
    """Three hours: the second is warmer, damper, windier, and rain falls in it."""
    weather = hourly(
        3,
        air_temperature_c=np.array([12.0, 15.0, 20.0]),
        dew_point_c=np.array([10.0, 11.0, 9.0]),
        wind_speed_m_s=np.array([1.0, 3.0, 2.0]),
        rain_mm=np.array([0.0, 0.05, 0.0]),
    )
    windrow = np.array([13.0, 13, 13, 13, 14, 15, 15, 15, 15, 12, 12, 12, 12])
    leaf = np.array([12.5, 12.5, 12.5, 12.5, 13.5, 14.5, 14.5, 14.5, 14.5, 9, 9, 9, 9])
    course = course_with(hay(windrow, leaf, 9.0, hours=3), setting_of(rig=None), weather)
    one, two, _ = hour_calls(course, setting_of(rig=None))
    assert two.start - one.start == HOUR
    assert one.start == weather.start[0]
    assert two.hay.windrow_wb == pytest.approx((14 / 2 + 15 + 15 + 15 + 15 / 2) / 4)
    for part in (two.hay.top, two.hay.middle, two.hay.bottom):
        assert part.leaf_wb == pytest.approx((13.5 / 2 + 14.5 * 3 + 14.5 / 2) / 4, abs=0.01)
        assert part.stem_wb == pytest.approx(9.0, abs=0.01)
        assert part.whole_wb == pytest.approx(two.hay.windrow_wb, abs=0.01)
    air = two.air
    assert (air.temperature_c, air.dew_point_c, air.rain_mm) == (15.0, 11.0, 0.05)
    assert air.wind_2m_m_s == pytest.approx(3.0)
    assert air.relative_humidity == pytest.approx(77, abs=0.7)  # Magnus: 13.12 of 17.04 hPa
    assert one.air.wind_2m_m_s == pytest.approx(1.0)


def test_without_a_column_of_rain_it_is_not_known():
    weather = hourly(1)
    dry = replace(weather, columns={k: v for k, v in weather.columns.items() if k != "rain_mm"})
    found = hour_calls(course_with(hay(14.0), setting_of(rig=None), dry), setting_of(rig=None))[0]
    assert np.isnan(found.air.rain_mm)


def test_layers_are_told_apart():
    run = hay(14.0, 14.0)
    leaf = run.layers.leaf_db.copy()
    for layer, moisture in enumerate((20.0, 14.0, 10.0)):
        leaf[:, layer] = dry_basis(moisture)
    run = replace(run, layers=replace(run.layers, leaf_db=leaf))
    found = hour_calls(course_with(run, setting_of(rig=None)), setting_of(rig=None))[0].hay
    told = [part.leaf_wb for part in (found.top, found.middle, found.bottom)]
    assert told == pytest.approx([20.0, 14.0, 10.0], abs=0.01)


def test_a_field_cut_in_the_second_hour_is_not_cut_before_it():
    weather = hourly(3)
    for hours, told in ((1.5, [True, True, False]), (1.0, [True, False, False])):
        cut_at = weather.start[0] + np.timedelta64(round(3600 * hours), "s")
        setting = setting_of(replace(CURED, cured=None, cut_at=cut_at), rig=None)
        uncured = course_with(hay(14.0, stem_wb=30.0, hours=3), setting, weather)
        found = hour_calls(uncured, setting)
        assert ["start_not_cut" in keys(hour.reasons) for hour in found] == told


# Shares and counts in words


def test_shares_are_told_in_percent():
    """All of the hay is above the ceiling, three fifths may be."""
    baler = replace(BALER, wet_share=0.6)
    setting = setting_of(rig=None, baler=baler)
    (hour,) = hour_calls(course_with(hay(25.0, 25.0, 25.0), setting), setting)
    (said,) = [item for item in hour.reasons if item.key == "reason_wet_share"]
    assert (said.values["share"], said.values["most"]) == ("100", "60")
    assert (hour.wet_share, hour.soft_share) == pytest.approx((1.0, 1.0))


@pytest.mark.parametrize(("rain_mm", "said"), [(0.1, True), (0.099, False)])
def test_rain_of_the_limit_is_a_reason(rain_mm, said):
    weather = hourly(1, rain_mm=rain_mm)
    course = course_with(hay(20.0), setting_of(rig=None), weather)
    found = hour_calls(course, setting_of(rig=None))[0]
    assert ("reason_rain" in keys(found.reasons)) == said


def test_half_of_the_runs_are_sure_enough_and_fewer_are_counted():
    assert unsure(READY, {READY: 0.5}) == []
    assert unsure(READY, {READY: 0.496}) == [Remark("caution_low_confidence", {"chance": "50"})]
    assert unsure(READY, None) == []
    assert unsure(NO_DATA, {NO_DATA: 0.1}) == []


def test_what_holds_go_back_is_counted_in_percent():
    """Three members of four are ready, where nine in ten are asked for; as many are too wet."""
    course = five(14.0, [14, 14, 14, 9])
    chances = np.zeros_like(course.chances)
    chances[READY], chances[TOO_WET] = 0.8, 0.75
    probe = np.full(4, int(Advice.PROBE_FIRST))
    course = replace(course, chances=chances, advice=probe, risk=Risk(ready=0.9))
    (found,) = hour_calls(course, setting_of(rig=None))
    assert found.reasons[:2] == (
        Remark("advice_may_be_wet", {"count": "75"}),
        Remark("advice_rarely_ready", {"count": "75"}),
    )
    (found,) = hour_calls(replace(course, risk=Risk(wet=0.8)), setting_of(rig=None))
    assert not {"advice_may_be_wet", "advice_rarely_ready"} & set(keys(found.reasons))


def test_what_holds_go_back_is_told_only_where_hay_could_be_baled():
    setting = setting_of(rig=None)
    marks = {name: np.array([False, False, True, False]) for name in ("anew", "by_sky", "held")}
    probe = {"advice": np.full(4, int(Advice.PROBE_FIRST)), **marks}
    told = ["advice_near_ceiling", "advice_begun_anew", "advice_sky_unknown"]
    ready = course_with(hay(14.0), setting)
    said = keys(hour_calls(replace(ready, **probe), setting)[0].reasons)
    assert [key for key in said if key in told] == told
    go = {**probe, "advice": np.full(4, int(Advice.GO))}
    said = keys(hour_calls(replace(ready, **go), setting)[0].reasons)
    assert [key for key in said if key in told] == ["advice_near_ceiling"]
    dry = course_with(hay(9.0), setting)
    said = keys(hour_calls(replace(dry, **probe), setting)[0].reasons)
    assert [key for key in said if key in told] == ["advice_near_ceiling"]


# Why a rig does not help


def reasons_dry(windrow_wb, leaf_wb=14.0, **rig):
    setting = setting_of(rig=replace(RIG, vapor_loss=0.0, **rig))
    hour = hour_calls(course_with(hay(windrow_wb, leaf_wb), setting), setting)[0]
    assert hour.call == TOO_DRY
    return hour.reasons


def test_hay_that_only_a_rate_between_the_steps_would_bring_in_says_so():
    """11.9 % wants 0 to 57 L/t; the dial stands on 0 and from 300 on."""
    found = reasons_dry(11.9, rate_min_l_t=0.0, rate_max_l_t=400.0, rate_step_l_t=300.0)
    assert found[-1] == Remark("reason_off_dial", {"step": (300.0, "water_rate")})


def test_leaf_that_no_rate_softens_says_so():
    found = reasons_dry(11.0, 3.0, rate_max_l_t=20.0)
    assert "reason_leaf_beyond_rig" in keys(found)


def test_the_most_of_a_rig_is_told_where_more_is_needed():
    """From 4 % to 12 %: 90.9 L in a tonne, 113.6 L/t at 80 %; to the target 129.3."""
    found = reasons_dry(4.0, rate_max_l_t=112.0)
    said = next(item for item in found if item.key == "reason_beyond_rig")
    assert said.values["needed"][0] == pytest.approx(1000 * 9 / 87 / 0.8)
    assert said.values["most"] == (112.0, "water_rate")


def test_what_the_middle_forecast_says_is_told_of_its_own_quarters():
    """Ready at 14 % for three quarters of the second hour; most members are too dry."""
    shown = [15.0] * 4 + [14.0] * 4 + [19.0]
    values = np.column_stack([shown, *([np.full(9, 9.0)] * 4)])
    course = course_with(hay(values, 15.0, hours=2, lanes=5), setting_of(rig=None))
    hour = hour_calls(course, setting_of(rig=None))[1]
    assert hour.call == TOO_DRY
    told = {remark.key: remark.values for remark in hour.reasons}
    assert told["reason_differs"]["middle"] == Remark("call_ready")
    assert told["reason_in_band"]["value"][0] == pytest.approx(14.0)


@pytest.mark.parametrize(
    ("advice", "told"),
    [(Advice.GO, Advice.WAIT), (Advice.PROBE_FIRST, Advice.WAIT), (Advice.UNKNOWN, Advice.UNKNOWN)],
)
def test_a_stop_waits_unless_nothing_is_known(advice, told):
    weather = hourly(1)
    thunder = replace(weather, columns={**weather.columns, "weather_code": np.array([[95.0]])})
    course = course_with(hay(14.0), setting_of(rig=None), thunder)
    (hour,) = hour_calls(replace(course, advice=np.full(4, int(advice))), setting_of(rig=None))
    assert hour.stop
    assert hour.advice == told


@pytest.mark.parametrize(("least", "said"), [(0.25, False), (0.26, True)])
def test_a_share_of_the_limit_is_not_rare(least, said):
    course = five(14.0, [14, 9, 9, 9])
    chances = 0 * course.chances + np.eye(len(Call))[READY][:, None]
    probe = np.full(4, int(Advice.PROBE_FIRST))
    held = replace(course, chances=chances, advice=probe, risk=replace(Risk(), ready=least))
    (hour,) = hour_calls(held, setting_of(rig=None))
    assert ("advice_rarely_ready" in keys(hour.reasons)) == said


@pytest.mark.parametrize(("most", "said"), [(0.25, False), (0.24, True)])
def test_a_chance_of_wet_hay_at_the_limit_holds_nothing_back(most, said):
    course = five(14.0, [14, 14, 14, 18])
    held = replace(course, advice=np.full(4, int(Advice.PROBE_FIRST)), risk=Risk(wet=most))
    (hour,) = hour_calls(held, setting_of(rig=None))
    assert hour.call == READY
    assert ("advice_may_be_wet" in keys(hour.reasons)) == said


def test_reasons_are_those_of_the_quarters_that_have_the_call():
    """Three quarters of 14 %, one above the band."""
    course = course_with(hay(np.array([14.0, 14, 14, 14, 19])), setting_of(rig=None))
    (hour,) = hour_calls(course, setting_of(rig=None))
    assert hour.call == READY
    told = {remark.key: remark.values for remark in hour.reasons}
    assert told["reason_in_band"]["value"][0] == pytest.approx(14.0)


def test_an_hour_speaks_of_the_first_lane():
    """Members that are dry, wet or unknown change the advice at most."""
    alone = hour_calls(five(14.0, [14, 14, 14, 14]), setting_of(rig=None))[0]
    for others in ([14, 14, 14, 9], [14, 14, 14, 25], [14, 14, 14, np.nan]):
        hour = hour_calls(five(14.0, others), setting_of(rig=None))[0]
        assert hour.call == alone.call == READY
        told = [item for item in hour.reasons if not item.key.startswith("advice")]
        assert told == list(alone.reasons)
        assert (hour.soft_share, hour.wet_share, hour.cause, hour.air) == (
            alone.soft_share, alone.wet_share, alone.cause, alone.air,
        )  # fmt: skip


def test_the_weather_of_an_hour_is_that_of_the_forecast_shown():
    """Members have other air, measured where the forecast's is not."""
    both = hourly(
        1,
        2,
        air_temperature_c=np.array([[12.0, 30.0]]),
        dew_point_c=np.array([[10.0, 1.0]]),
        wind_speed_m_s=np.array([[1.0, 9.0]]),
        rain_mm=np.array([[0.0, 0.05]]),
    )
    both = replace(both, basis=np.array([[0, MEASURED]], dtype=np.uint16))
    one = replace(
        both,
        start=both.start[:1],
        columns={name: values[:, :1] for name, values in both.columns.items()},
        repaired=both.repaired[:, :1],
        basis=both.basis[:, :1],
    )
    setting = setting_of(rig=None)
    found, alone = (
        hour_calls(course_with(hay(14.0, lanes=n), setting, air), setting)[0].air
        for n, air in ((2, both), (1, one))
    )
    assert found == alone


def test_what_the_middle_forecast_lacks_is_not_thinned_by_a_quarter_that_lacks_nothing():
    """4 % for three quarters wants 129 L/t, the last is ready; most members want the rig."""
    setting = setting_of(rig=replace(RIG, vapor_loss=0.0))
    values = np.column_stack([[4.0, 4, 4, 4, 24], *([np.full(5, 9.0)] * 4)])
    (hour,) = hour_calls(course_with(hay(values, 15.0, lanes=5), setting), setting)
    assert hour.call == RIG_CALL
    told = {remark.key: remark.values for remark in hour.reasons}
    assert told["reason_differs"]["middle"] == Remark("call_too_dry")
    assert told["reason_beyond_rig"]["needed"][0] == pytest.approx(1000 * 9 / 87 / 0.8)


def test_a_member_of_another_call_hides_no_quarter():
    """The last member is too dry all the while; three quarters of the forecast are ready."""
    values = np.full((5, 5), 14.0)
    values[4, 0], values[:, 4] = 19.0, 9.0
    (hour,) = hour_calls(course_with(hay(values, 15.0, lanes=5), NO_RIG), NO_RIG)
    assert hour.call == READY
    told = {remark.key: remark.values for remark in hour.reasons}
    assert told["reason_in_band"]["value"][0] == pytest.approx(14.0)
