"""The plan for the fields of a farm: farm and weather in, blocks of work and their reasons out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from hayweather.baling.value import prices_of
from hayweather.farm.records import Farm, Rig
from hayweather.nights.outlook import common_cautions
from hayweather.plan.ahead import UNSEEN_SEED, Ahead, look_ahead
from hayweather.plan.blocks import blocks_of
from hayweather.plan.candidates import choose, compared, inspected, spread_of
from hayweather.plan.case import Case, case_of
from hayweather.plan.needed import check_days, price_needed
from hayweather.plan.record import FieldsPlan
from hayweather.plan.results import results_of
from hayweather.plan.solve import gap_of
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.spread import MEMBERS
from hayweather.words import Remark

TIME_LIMIT_S = 10.0
PLAN_MEMBERS = 100


def plan_fields(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    *,
    days: int = 2,
    seconds: float = TIME_LIMIT_S,
    old: bool = False,
    members: int = PLAN_MEMBERS,
    unseen: int = MEMBERS,
) -> FieldsPlan:
    """Which field is baled when, by which baler and how.

    One fixed schedule of half-hour slots with the largest expected value over
    the members, or a rule of growers where that is better.

    Parameters
    ----------
    farm, weather
        The farm, and hourly weather by site name.
    now
        UTC.
    days
        Nights to plan, 1 to 7, tonight's the first.
    seconds
        Time for the plan.
    old
        True to accept a forecast of more than 24 hours.
    members, unseen
        Members to plan with, and others to look at it with; 0 unseen for none.

    Raises
    ------
    FarmFileError, OptionError
        If the farm file lacks what a plan needs, or the nights are too many.
    WeatherFileError
        If the weather does not cover now, ends too early or is too old.
    """
    check_days(days)
    prices = prices_of(farm.money, price_needed(farm))
    rigs = _tuned_rigs(farm)
    ahead = look_ahead(farm, weather, now, days, members=members, old=old)
    case = case_of(farm, ahead, prices, rigs)
    other = None
    if unseen:
        again = look_ahead(farm, weather, now, days, members=unseen, old=old, seed=UNSEEN_SEED)
        other = case_of(farm, again, prices, rigs)
    return _planned(case, other, now, days, seconds)


def _tuned_rigs(farm: Farm) -> tuple[Rig, ...]:
    """The rigs with the efficiency that readings gave."""
    tuned = farm.tuning.rig_efficiency
    rigs = tuple((farm.rigs or {}).values())
    return rigs if tuned is None else tuple(replace(rig, efficiency=tuned) for rig in rigs)


def _planned(
    case: Case, other: Case | None, now: np.datetime64, days: int, seconds: float
) -> FieldsPlan:
    """The plan of a case, looked at with other members."""
    chosen = choose(case, seconds)
    wrong = inspected(case, chosen.schedule)
    if wrong:  # a defect: never shown as a plan
        raise RuntimeError("; ".join(wrong[:3]))
    gain = chosen.schedule.value(case.task)
    return FieldsPlan(
        farm=case.farm,
        now=now,
        days=days,
        ahead=case.ahead,
        prices=case.prices,
        source=chosen.source,
        blocks=blocks_of(case, chosen.schedule),
        fields=results_of(case, chosen.schedule),
        gain=gain,
        bound=chosen.solved.bound,
        gap=gap_of(gain, chosen.solved.bound),
        seconds=chosen.solved.seconds,
        timed_out=chosen.solved.timed_out,
        unseen=None if other is None else spread_of(other.member_gains(chosen.schedule)),
        comparisons=() if other is None else compared(case, other, chosen),
        rests=tuple(
            (name, *rest)
            for name, rest in zip(case.crews.names, case.crews.rests, strict=True)
            if rest is not None
        ),
        cautions=_cautions(case.farm, case.ahead),
    )


def _cautions(farm: Farm, ahead: Ahead) -> tuple[Remark, ...]:
    """Cautions for all of the plan."""
    looked = [(item.facts, item.setting) for item in ahead.fields]
    short: tuple[Remark, ...] = ()
    if ahead.short_by_h > 0:
        values: dict[str, object] = {"end": ahead.end, "hours": f"{ahead.short_by_h:.0f}"}
        short = (Remark("fields_forecast_short", values),)
    return (*short, Remark("fields_class_no_promise"), *common_cautions(farm, looked))
