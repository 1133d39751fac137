"""Fields run side by side with their members, and what readings change."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, EVENING, days, farm_of, hay, setting_of, with_blanks

from hayweather.baling.clock import span_of
from hayweather.errors import InputError
from hayweather.nights import night_of
from hayweather.nights.drive import (
    MOST_MEMBERS,
    drawn_of,
    members_that_agree,
    run_together,
    start_by_reading,
)
from hayweather.nights.trust import agreement, doubts
from hayweather.weather.record import HOUR
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.readings import Reading, moisture_at

SPAN = span_of(EVENING, "America/Denver")


def keys(remarks):
    return [remark.key for remark in remarks]


def test_the_forecast_alone_is_one_lane():
    plan = drawn_of(setting_of(), SPAN, days(36), 0)
    assert plan.members.weather.lanes == 1
    np.testing.assert_array_equal(
        plan.members.weather.columns["dew_point_c"], days(36).columns["dew_point_c"]
    )


def test_fields_run_side_by_side_as_they_run_alone():
    """One cured, one from a reading, one cut this morning; members of different numbers."""
    fields = (
        (CURED, 2),
        (replace(CURED, cured=None, moisture_now_wb=11.0, crop="grass"), 0),
        (replace(CURED, cured=None, cut_at=EVENING - 9 * HOUR, ground="wet"), 1),
    )
    plans = [drawn_of(setting_of(field), SPAN, days(36), count) for field, count in fields]
    together = run_together(plans)
    for plan, found in zip(plans, together, strict=True):
        alone = run_together([plan])[0]
        for name in ("windrow_db", "leaf_db", "stem_db", "free_water_mm", "skin_temperature_c"):
            np.testing.assert_allclose(
                getattr(found, name), getattr(alone, name), rtol=0, atol=1e-12
            )


def fake_draw(values):
    """Draws lanes that are as said, by number of members asked for."""
    asked = []

    def draw(plan, count):
        asked.append(count)
        weather = repeat_weather(plan.members.weather, [0] * (count + 1))
        members = replace(plan.members, weather=weather)
        lanes = np.concatenate([[9.0], np.resize(values, count)])[None, :]
        return replace(plan, members=members), hay(lanes, lanes=count + 1, start=EVENING)

    return draw, asked


def agreeing(values, readings, count=40):
    """What `members_that_agree` does with members of these moistures, and what it draws."""
    draw, asked = fake_draw(np.asarray(values, dtype=float))
    plan, trajectory = draw(drawn_of(setting_of(), SPAN, days(36), 0), count)
    asked.clear()
    used, _, weights = members_that_agree(plan, trajectory, readings, draw)
    return used, weights, asked


def test_without_readings_no_member_is_drawn_anew():
    used, weights, asked = agreeing([9.0, 14.0], ())
    assert asked == []
    assert weights.effective == pytest.approx(40)
    assert agreement(weights) == ()
    assert used.members.weather.lanes == 41


def test_where_enough_agree_no_member_is_drawn_anew():
    _, weights, asked = agreeing([10.0], [Reading(EVENING, 10.0)])
    assert asked == []
    (remark,) = agreement(weights)
    assert remark.key == "readings_agree"
    assert remark.values == {"count": "40", "all": "40"}


def test_where_few_agree_four_times_as_many_are_drawn():
    """One member in ten near the reading: 4 of 40, 16 of 160, 64 of 640 are enough."""
    _, weights, asked = agreeing([10.0] + [20.0] * 9, [Reading(EVENING, 10.0)])
    assert asked == [160, 640]
    assert weights.effective > 30


def test_a_reading_that_no_member_explains_is_told_and_drawing_ends():
    reading = Reading(EVENING, 40.0)
    _, weights, asked = agreeing([9.0, 10.0], [reading])
    assert asked[-1] == MOST_MEMBERS
    assert weights.unexplained == (reading,)
    (remark,) = agreement(weights)
    assert remark.key == "reading_unexplained"
    assert remark.values == {"time": EVENING, "value": (40.0, "percent")}


def test_of_two_readings_the_one_that_fits_none_is_told():
    fits, not_at_all = Reading(EVENING, 10.0), Reading(EVENING, 40.0)
    _, weights, _ = agreeing([9.0, 10.0], [fits, not_at_all])
    assert keys(agreement(weights)) == ["readings_agree", "reading_unexplained"]
    assert agreement(weights)[1].values["value"] == (40.0, "percent")


def test_a_reading_of_an_hour_that_is_not_followed_is_told_and_draws_nothing():
    early = Reading(EVENING - 9 * HOUR, 10.0)
    _, weights, asked = agreeing([9.0, 10.0], [early])
    assert (asked, weights.readings, weights.unused) == ([], (), (early,))
    assert keys(agreement(weights)) == ["reading_unused"]


def test_dropped_members_are_told():
    _, weights, _ = agreeing([9.0, 10.0], ())
    (gaps,) = doubts(2, weights)
    assert (gaps.key, gaps.values) == ("members_dropped", {"count": "2"})


def test_a_reading_to_come_is_refused():
    with pytest.raises(InputError) as caught:
        outlook_of(days(36), {"north": [Reading(EVENING + HOUR, 11.0)]}, 2)
    assert caught.value.key == "reading_after_now"
    assert "north" in str(caught.value)


def outlook_of(weather, readings=None, members=24):
    farm = farm_of(replace(CURED))
    return night_of(farm, {"home": weather}, EVENING, readings=readings, members=members).fields[0]


def test_an_outlook_with_members_has_chances_and_ranges():
    found = outlook_of(days(36))
    for hour in found.hours:
        assert sum(hour.chance.values()) == pytest.approx(1.0)
    assert found.headline.dew_chance is not None
    assert all(0 <= window.chance <= 1 for window in found.windows)
    again = outlook_of(days(36))
    assert [hour.chance for hour in again.hours] == [hour.chance for hour in found.hours]


def test_a_wetter_reading_makes_a_wetter_night():
    """Read two hours ago at 4, 6 and 7.5 %, where the forecast says 6 %."""
    told = {}
    for moisture in (4.0, 6.0, 7.5):
        reading = Reading(EVENING - 2 * HOUR, moisture)
        told[moisture] = outlook_of(days(36), {"north": [reading]}, 120).hours[0].hay.windrow_wb
    assert told[4.0] < told[6.0] < told[7.5]


def test_a_reading_that_fits_no_member_is_told(monkeypatch):
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 32)
    reading = Reading(EVENING - HOUR, 45.0)
    found = outlook_of(days(34), {"north": [reading], "south": [reading]}, 8)
    assert "reading_unexplained" in keys(found.remarks)


def test_members_of_a_service_with_a_gap_are_dropped_and_told():
    three = repeat_weather(days(36), [0, 0, 0])
    three.columns["dew_point_c"][:, 1] += 2.0
    three.columns["wind_speed_m_s"][20, 2] = np.nan
    found = outlook_of(three, members=4)
    assert "members_dropped" in keys(found.remarks)
    assert found.hours[0].chance is not None


def test_a_gap_of_the_forecast_is_no_data_whatever_the_members():
    found = outlook_of(with_blanks(days(36), "wind_speed_m_s", 31, 32), members=8)
    for hour in found.hours[1:]:
        assert hour.call.word == "no data"
        assert hour.reasons


GAP_FIRST, GAP_PAST = 3, 16
"""Longer than any repair: the windrow is unknown from there on."""


def with_gap(count):
    """A field whose weather breaks off in the evening, and its run with members."""
    weather = with_blanks(days(36), "air_temperature_c", GAP_FIRST, GAP_PAST)
    plan = drawn_of(setting_of(), SPAN, weather, count)
    return plan, run_together([plan])[0]


def test_a_reading_after_a_gap_starts_the_windrow_anew():
    plan, unknown = with_gap(200)
    begin = unknown.start[0]
    early = Reading(begin + 18 * HOUR, 15.0, error_wb=0.5, bias_wb=1.0)
    later = Reading(begin + 20 * HOUR, 12.0)
    assert np.isnan(moisture_at(unknown, early)).all()
    started, found, others = start_by_reading(plan, unknown, (later, early))
    assert others == (later,)  # the first of them starts it and is not weighed again
    assert np.isnan(found.windrow_wb[4 * GAP_FIRST + 4 : 4 * 18]).all()
    moisture = moisture_at(found, early)
    assert moisture[0] == pytest.approx(14.0)  # without the meter's bias
    assert moisture[1:].mean() == pytest.approx(14.0, abs=0.15)
    assert moisture[1:].std() == pytest.approx(0.5, abs=0.1)
    assert np.isfinite(found.windrow_wb[4 * 18 :]).all()
    assert keys(started.start.remarks)[0] == "start_from_moisture"
    assert started.start.remarks[0].values["value"] == (15.0, "percent")


def test_a_reading_that_cannot_start_the_windrow_is_weighed_as_any_other():
    plan, unknown = with_gap(2)
    before = Reading(unknown.start[0] - 2 * HOUR, 12.0)
    past = Reading(unknown.start[0] + 40 * HOUR, 12.0)
    assert start_by_reading(plan, unknown, (before, past))[2] == (before, past)
    known = Reading(unknown.start[0] + HOUR, 12.0)
    used, found, others = start_by_reading(plan, unknown, (known,))
    assert used is plan
    assert others == (known,)
    assert found is unknown
