"""A made-up world on real nights: what the outlook said at 18:00, and what came true.

The real weather of a night is the forecast. Each truth is the model's own run
through that weather with hourly errors and a windrow drawn with seeds that the
outlook does not know. In the changed worlds truth follows other physics.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from support.fields import RIG
from support.seasons import known_nights, read_season

from hayweather.baling.advice import Advice, Risk
from hayweather.baling.calls import call_quarters
from hayweather.baling.cautions import dangers_of, relative_humidity
from hayweather.baling.clock import span_of
from hayweather.baling.course import Course
from hayweather.baling.setting import setting_for
from hayweather.baling.windows import Window, stopped_quarters
from hayweather.farm.records import Baler, Farm, Field, Site, WeatherChoice
from hayweather.nights.drive import Drawn, drawn_of, run_together, weighed_by
from hayweather.weather.record import HOUR, Booleans, Floats
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.spread import MEMBERS, Members, make_members, spread_windrow
from hayweather.windrow.trajectory import WindrowTrajectory

SEASONS = ("NW Colorado 2017", "NW Colorado 2023")
SITE = Site("home", 40.53, -108.54, 2168.0, "America/Denver")
FIELD = Field("north", "home", cured=True)
TRUTHS = 4
TRUTH_SEED = 771_000
NOW_ROW, LAST_ROW = 28, 48  # 18:00 of the night that counts, and the 14:00 after it
CHUNK = 10
DEW_POINT_BIAS_K = 1.5

# What truth follows in each world; the outlook never knows.
HALF_MIXING = {"still_mixing_m2_s": 0.5, "wind_mixing": 0.5, "free_mixing": 0.5}
WINDROW_CHANGES: dict[str, dict[str, float]] = {
    "same physics": {},
    "mixing halved": HALF_MIXING,
    "leaf time tripled": {"leaf_time_h": 3.0},
    "night cap doubled": {"night_cap": 2.0},
    "dew point 1.5 K off": {},
    "all four": {**HALF_MIXING, "leaf_time_h": 3.0, "night_cap": 2.0},
}
BIASED = ("dew point 1.5 K off", "all four")
SAME = "same physics"
STEADY = "one windrow a season"  # for rules that remember yesterday
WORLDS = (*WINDROW_CHANGES, STEADY)


@dataclass(frozen=True)
class Truth:
    """What came true in each draw of one world, (..., draws); calls and stops by quarter hour."""

    call: np.ndarray
    stopped: Booleans
    humidity: Floats
    trajectory: WindrowTrajectory


@dataclass(frozen=True)
class Night:
    """One real night: the outlook of 18:00, and the truths of every world."""

    season: str
    day: date
    plan: Drawn
    members: WindrowTrajectory
    course: Course
    windows: list[Window]
    humidity: Floats
    truths: dict[str, Truth]


def farm() -> Farm:
    """A large-square baler and a rig, everything else as assumed."""
    return Farm(
        "twin",
        {"home": SITE},
        {"north": FIELD},
        {"baler": Baler("baler")},
        WeatherChoice(),
        rigs={"rig": RIG},
    )


def night_list(every: int = 1) -> list[tuple[str, int, date]]:
    """Season, lane and evening of every night without a gap, or of every n-th."""
    found = []
    for season in SEASONS:
        known = known_nights(season)
        days = read_season(season).days
        found += [(season, lane, days[lane]) for lane in np.flatnonzero(known)[::every]]
    return found


def plan_for(season: str, lane: int, members: int = MEMBERS) -> Drawn:
    """The outlook's members for one night, now being 18:00."""
    weather = repeat_weather(read_season(season).weather, [lane])
    if weather.get("rain_mm") is None:  # in the made-up world rain is known: there is none
        dry = np.zeros((weather.hours, 1))
        weather = replace(weather, columns={**weather.columns, "rain_mm": dry})
    now = weather.start[0] + NOW_ROW * HOUR
    return drawn_of(
        setting_for(farm(), FIELD, SITE, now), span_of(now, str(SITE.timezone)), weather, members
    )


def truth_plan(plan: Drawn, world: str, season: str, lane: int) -> Drawn:
    """Lane 0 and the truths of one world: own seeds, own physics."""
    number = TRUTH_SEED + 1000 * SEASONS.index(season) + lane
    forecast = repeat_weather(plan.members.weather, [0])
    drawn = make_members(forecast, plan.setting.windrow, TRUTHS, seed=number)
    windrow = drawn.windrow
    if world == STEADY:
        steady = np.random.default_rng(TRUTH_SEED - 1 - SEASONS.index(season))
        windrow = spread_windrow(steady, plan.setting.windrow, TRUTHS)
    changes = {
        name: getattr(windrow, name) * factor
        for name, factor in WINDROW_CHANGES.get(world, {}).items()
    }
    place = plan.setting.place
    if world in BIASED:
        place = replace(place, dew_point_offset_k=DEW_POINT_BIAS_K)
    start = plan.start
    return replace(
        plan,
        setting=replace(plan.setting, place=place),
        members=Members(drawn.weather, replace(windrow, **changes), 0),
        start=replace(
            start,
            equilibrium=np.repeat(start.equilibrium[:, :1], TRUTHS + 1, axis=1),
            uncured=np.repeat(start.uncured[:, :1], TRUTHS + 1, axis=1),
        ),
    )


def truth_of(plan: Drawn, trajectory: WindrowTrajectory) -> Truth:
    """Calls, stops and air of the truths, from 18:00 on."""
    calls = call_quarters(plan.members.weather, trajectory, plan.setting, plan.start.uncured)
    shown = calls.between(NOW_ROW, LAST_ROW)
    weather = plan.members.weather.between(NOW_ROW, LAST_ROW)
    stopped = stopped_quarters(shown, dangers_of(weather), plan.setting)
    return Truth(
        shown.call[:, 1:],
        stopped[:, 1:],
        relative_humidity(weather)[:, 1:],
        trajectory.lanes(slice(1, TRUTHS + 1)),
    )


def nights(every: int = 1, worlds: tuple[str, ...] = WORLDS) -> Iterator[Night]:
    """Every night with its outlook and its truths, some at a time as lanes of one run."""
    listed = night_list(every)
    for first in range(0, len(listed), CHUNK):
        yield from _together(listed[first : first + CHUNK], worlds)


def _together(listed: list[tuple[str, int, date]], worlds: tuple[str, ...]) -> Iterator[Night]:
    """Some nights: members in one run, truths in another."""
    plans = [plan_for(season, lane) for season, lane, _ in listed]
    runs = run_together(plans)
    made = [
        truth_plan(plan, world, season, lane)
        for plan, (season, lane, _) in zip(plans, listed, strict=True)
        for world in worlds
    ]
    came = iter(zip(made, run_together(made), strict=True))
    risk = Risk.of(farm())
    for plan, members, (season, _, day) in zip(plans, runs, listed, strict=True):
        truths = {world: truth_of(*next(came)) for world in worlds}
        course = weighed_by(plan, members, ()).course(risk)
        shown = course.between(NOW_ROW, LAST_ROW)
        humidity = relative_humidity(shown.weather)[:, 0]
        named = [*shown.windows(), *shown.windows(Advice.PROBE_FIRST)]
        yield Night(season, day, plan, members, shown, named, humidity, truths)
