"""From settings to courses: the fields of a site run side by side, then readings weigh in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from hayweather.baling.clock import Span, hour_index
from hayweather.baling.course import Course, course_of, shown_as_mean
from hayweather.baling.decide import Costs
from hayweather.baling.setting import Setting
from hayweather.nights.start import Start, start_of
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.windrow.column import State
from hayweather.windrow.forcing import prepare
from hayweather.windrow.lanes import stack_parameters, stack_states
from hayweather.windrow.readings import Reading, Weights, moisture_at, weigh
from hayweather.windrow.run import moisture_state, run
from hayweather.windrow.spread import MEMBERS, SEED, Members, make_members, with_cloud
from hayweather.windrow.trajectory import WindrowTrajectory
from hayweather.words import Remark

FEW_MEMBERS = 30.0  # effective members below which fresh ones are drawn
MOST_MEMBERS = 3200
STARTING_WB = (3.0, 75.0)  # a windrow may start between these [% wet basis]


@dataclass(frozen=True)
class Plan:
    """One field ready to run.

    Attributes
    ----------
    setting, span
        The field, and the hours asked for.
    source
        The weather that members were drawn around.
    members
        Weather and windrow of every lane.
    start
        How the run begins, the same lanes.
    skip
        Hours that the source has before the run's.
    """

    setting: Setting
    span: Span
    source: HourlyWeather
    members: Members
    start: Start
    skip: int = 0


Drawn = tuple[Plan, WindrowTrajectory]


def plan_of(
    setting: Setting,
    span: Span,
    weather: HourlyWeather,
    count: int = MEMBERS,
    seed: int = SEED,
    skip: int = 0,
) -> Plan:
    """Draw the members of a field and find out how its run begins.

    Parameters
    ----------
    setting, span
        The field, and the hours asked for.
    weather
        From where the run may begin; lane 0 the forecast, others a service's
        members.
    count, seed
        Members to draw; 0 for the forecast alone.
    skip
        Hours that the source has before `weather`.
    """
    assumed = prepare(weather, setting.place).assumed  # before cloud is filled in
    cloudy = with_cloud(weather, setting.place)
    cloudy = replace(cloudy, assumed=(*weather.assumed, *assumed))
    members = make_members(cloudy, setting.windrow, count, seed=seed, skip=skip)
    start = start_of(members.weather, setting, span)
    return Plan(setting, span, weather, members, start, skip)


def run_together(plans: Sequence[Plan]) -> list[WindrowTrajectory]:
    """Run fields that share the hours of one weather side by side.

    Parameters
    ----------
    plans
        Fields whose weather begins and ends with the same hours.
    """
    counts = [plan.members.weather.lanes for plan in plans]
    weather = _side_by_side([plan.members.weather for plan in plans])
    trajectory = run(
        weather,
        stack_parameters([plan.setting.place for plan in plans], counts),
        stack_parameters([plan.members.windrow for plan in plans], counts),
        _starts(plans, counts),
        np.concatenate([plan.start.equilibrium for plan in plans], axis=1),
    )
    edges = np.concatenate([[0], np.cumsum(counts)])
    return [trajectory.lanes(slice(int(first), int(past))) for first, past in pairwise(edges)]


def _side_by_side(weathers: Sequence[HourlyWeather]) -> HourlyWeather:
    """The lanes of several weathers with the same hours and columns in one record."""
    first = weathers[0]
    if len(weathers) == 1:
        return first
    return replace(
        first,
        start=np.concatenate([weather.start for weather in weathers]),
        columns={
            name: np.concatenate([weather.columns[name] for weather in weathers], axis=1)
            for name in first.columns
        },
        repaired=np.concatenate([weather.repaired for weather in weathers], axis=1),
    )


def _starts(plans: Sequence[Plan], counts: Sequence[int]) -> dict[int, State]:
    """States given for the start of an hour, by hour, all fields' lanes."""
    hours = sorted({hour for plan in plans for hour in plan.start.starts})
    return {
        hour: stack_states([plan.start.starts.get(hour) for plan in plans], counts)
        for hour in hours
    }


def course_with_readings(
    plan: Plan, trajectory: WindrowTrajectory, readings: Sequence[Reading], costs: Costs
) -> tuple[Plan, Course]:
    """The course of a field, its members weighed by readings.

    Where few members agree with the readings, fresh ones are drawn, up to
    `MOST_MEMBERS`; the plan returned is the one that was used.

    Parameters
    ----------
    plan, trajectory
        A field and its run.
    readings
        Of this field; may be empty.
    costs
        What wrong hours cost.
    """
    plan, trajectory, weights = members_that_agree(plan, trajectory, readings)
    if weights.readings:
        trajectory = shown_as_mean(trajectory, weights)
    return plan, _course(plan, trajectory, weights, costs)


def fresh_members(plan: Plan, count: int) -> Drawn:
    """The same field with about `count` members drawn anew, and their run."""
    plan = plan_of(plan.setting, plan.span, plan.source, count, skip=plan.skip)
    return plan, run_together([plan])[0]


def members_that_agree(
    plan: Plan,
    trajectory: WindrowTrajectory,
    readings: Sequence[Reading],
    draw: Callable[[Plan, int], Drawn] = fresh_members,
) -> tuple[Plan, WindrowTrajectory, Weights]:
    """Members weighed by readings; more of them where too few agree.

    Parameters
    ----------
    plan, trajectory
        A field and its run.
    readings
        Of this field; may be empty.
    draw
        Draws and runs so many members.
    """
    plan, trajectory, others = start_by_reading(plan, trajectory, readings)
    weights = weigh(trajectory, others)
    count = plan.members.weather.lanes - 1
    while 0 < count < MOST_MEMBERS and _too_few(weights):
        count = min(4 * count, MOST_MEMBERS)
        plan, trajectory, others = start_by_reading(*draw(plan, count), readings)
        weights = weigh(trajectory, others)
    return plan, trajectory, weights


def start_by_reading(
    plan: Plan, trajectory: WindrowTrajectory, readings: Sequence[Reading]
) -> tuple[Plan, WindrowTrajectory, tuple[Reading, ...]]:
    """Where the windrow is unknown when it is first read, it starts from that reading.

    So a reading serves where the weather begins too late in the night, or has a
    gap. The members start from it with the error of the meter. It is not
    weighed again: the readings left over come back.

    Parameters
    ----------
    plan, trajectory
        A field and its run.
    readings
        Of this field.
    """
    begin = trajectory.start[0]
    if plan.start.swath_db is not None:  # a swath that dries is no windrow yet
        return plan, trajectory, tuple(readings)
    for reading in sorted(readings, key=lambda item: item.time):
        hour = max(hour_index(begin, reading.time), 0)
        unknown = np.isnan(moisture_at(trajectory, reading)).all()
        if unknown and begin - HOUR <= reading.time and hour < plan.source.hours:
            started = replace(plan, start=_start_from(plan, reading, hour))
            others = tuple(item for item in readings if item is not reading)
            return started, run_together([started])[0], others
    return plan, trajectory, tuple(readings)


def _start_from(plan: Plan, reading: Reading, hour: int) -> Start:
    """The start of a plan with all of the windrow at a reading in one hour."""
    weather = plan.members.weather
    forcing = prepare(weather, plan.setting.place)
    noise = np.random.default_rng(SEED).standard_normal(weather.lanes)
    noise[0] = 0.0
    moisture = np.clip(reading.true_wb + reading.error_wb * noise, *STARTING_WB)
    air = (forcing.temperature_c[hour], forcing.dew_point_c[hour])
    value = (reading.moisture_wb, "percent")
    remark = Remark("start_from_moisture", {"value": value, "time": reading.time})
    return replace(
        plan.start,
        starts={**plan.start.starts, hour: moisture_state(moisture, moisture, *air)},
        remarks=(remark, *(item for item in plan.start.remarks if item.key != "start_too_late")),
    )


def _too_few(weights: Weights) -> bool:
    """Whether fresh members could agree better with the readings."""
    return bool(weights.readings) and (weights.effective < FEW_MEMBERS or bool(weights.unexplained))


def _course(plan: Plan, trajectory: WindrowTrajectory, weights: Weights, costs: Costs) -> Course:
    """The course of a plan's run."""
    uncured = plan.start.uncured
    return course_of(plan.members.weather, trajectory, plan.setting, uncured, weights, costs)
