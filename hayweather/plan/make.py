"""The plan for the fields of a farm: a night in, blocks of work and their reasons out."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from hayweather.baling.setting import own_machines
from hayweather.baling.value import prices_of
from hayweather.errors import FarmFileError, OptionError
from hayweather.farm.records import Farm
from hayweather.nights import Night, night_of
from hayweather.nights.night import Readings
from hayweather.plan.candidates import choose, compared, inspected, spread_of
from hayweather.plan.case import Case, case_of
from hayweather.plan.loss_range import gain_range
from hayweather.plan.pace import too_heavy
from hayweather.plan.record import FieldsPlan
from hayweather.plan.results import blocks_of, results_of
from hayweather.plan.solve import gap_of
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.spread import MEMBERS, SEED
from hayweather.words import Remark

MOST_DAYS = 7


def check_days(days: int) -> None:
    """Refuse a number of nights that no forecast serves.

    Parameters
    ----------
    days
        Nights to plan.

    Raises
    ------
    OptionError
        If it is not 1 to 7.
    """
    if not 1 <= days <= MOST_DAYS:
        raise OptionError("fields_days", "--days", value=days, most=MOST_DAYS)


def price_needed(farm: Farm) -> float:
    """The price of hay [/kg], after everything else that a plan needs was found.

    Parameters
    ----------
    farm
        With the fields and balers that are to be planned.

    Raises
    ------
    FarmFileError
        If there is no price, a field has no area or yield, a baler has no
        capacity, or a windrow is heavier than every baler takes.
    """
    where = str(farm.path or "")
    for name, baler in farm.balers.items():
        if not baler.capacity_kg_h:
            raise FarmFileError("fields_no_capacity", where, baler=name)
    for name, field in farm.fields.items():
        if not field.area_m2:
            raise FarmFileError("fields_no_area", where, field=name)
        if not field.yield_kg_m2:
            raise FarmFileError("fields_no_yield", where, field=name)
        if all(too_heavy(baler, field) for baler in own_machines(farm, field)[0]):
            raise FarmFileError("fields_heavy", where, field=name)
    if not farm.money.price_per_kg:
        raise FarmFileError("fields_no_price", where)
    return farm.money.price_per_kg


TIME_LIMIT_S = 10.0
UNSEEN_SEED = SEED + 1


def plan_fields(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    *,
    days: int = 2,
    seconds: float = TIME_LIMIT_S,
    old: bool = False,
    readings: Readings | None = None,
    members: int = MEMBERS,
    unseen: int = MEMBERS,
) -> FieldsPlan:
    """Which field is baled when, by which baler and how, over the coming nights.

    Parameters
    ----------
    farm, weather, now, readings, old, members
        As in `hayweather.nights.night_of`.
    days
        Nights to plan, 1 to 7, tonight's the first.
    seconds, unseen
        As in `plan_work`.

    Raises
    ------
    FarmFileError, OptionError
        If the farm file lacks what a plan needs, or the nights are too many.
    WeatherFileError
        If the weather does not cover now, ends too early or is too old.
    """
    check_days(days)
    price_needed(farm)
    night = night_of(farm, weather, now, readings, days=days, members=members, old=old)
    return plan_work(night, seconds=seconds, unseen=unseen)


def plan_work(night: Night, *, seconds: float = TIME_LIMIT_S, unseen: int = MEMBERS) -> FieldsPlan:
    """The plan for the hours of a night.

    One fixed schedule of half-hour slots with the largest expected value over
    the members, or a rule of growers where that is better.

    Parameters
    ----------
    night
        Of a farm that has what a plan needs.
    seconds
        Time for the plan.
    unseen
        Members that the plan was not made with, to look at it; 0 for none.
    """
    prices = prices_of(night.farm.money, price_needed(night.farm))
    case = case_of(night, prices)
    other = case_of(night.drawn_again(unseen, UNSEEN_SEED), prices) if unseen else None
    return _planned(case, other, seconds)


def _planned(case: Case, other: Case | None, seconds: float) -> FieldsPlan:
    """The plan of a case, looked at with other members."""
    chosen = choose(case, seconds)
    wrong = inspected(case, chosen.schedule)
    if wrong:  # a defect: never shown as a plan
        raise RuntimeError("; ".join(wrong[:3]))
    gain = chosen.schedule.value(case.task)
    return FieldsPlan(
        night=case.night,
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
        cautions=_cautions(case.night),
        gain_range=gain_range(case, chosen.schedule, gain),
    )


def _cautions(night: Night) -> tuple[Remark, ...]:
    """Cautions for all of the plan."""
    short: tuple[Remark, ...] = ()
    if night.short_by_h > 0:
        values: dict[str, object] = {"end": night.end, "hours": f"{night.short_by_h:.0f}"}
        short = (Remark("fields_forecast_short", values),)
    return (*short, Remark("fields_class_no_promise"), *night.cautions)
