"""The plan for the fields of a farm: a night in, visits, blocks of work and their reasons out."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.setting import own_machines
from hayweather.baling.value import prices_of
from hayweather.errors import FarmFileError, OptionError
from hayweather.farm.records import Farm
from hayweather.nights import FieldNight, Night, night_of
from hayweather.nights.night import Readings
from hayweather.nights.station import Observations
from hayweather.plan.candidates import (
    Chosen,
    choose,
    compared,
    gain_range,
    inspected,
    rule_schedules,
    spread_of,
    windows_schedule,
)
from hayweather.plan.case import Case, case_of, due_times
from hayweather.plan.crews import crews_of
from hayweather.plan.pace import can_work, move_h, too_heavy
from hayweather.plan.record import Block, FieldsPlan, Missed, Source, Span, Visit
from hayweather.plan.results import (
    blocks_of,
    missed_of,
    results_of,
    visits_of,
    with_alternatives,
)
from hayweather.plan.solve import gap_of
from hayweather.plan.task import DAY_QUARTERS, IDLE, Schedule, tidied
from hayweather.plan.work import Work, carried_out, spans_done
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.windrow.spread import MEMBERS, SEED, ForecastErrors
from hayweather.windrow.trajectory import QUARTER
from hayweather.words import Remark

MOST_DAYS = 7


def check_days(days: int | None) -> None:
    """Refuse a number of nights that no forecast serves.

    Parameters
    ----------
    days
        Nights to plan; None for the outlook's.

    Raises
    ------
    OptionError
        If it is not 1 to 7.
    """
    if days is not None and not 1 <= days <= MOST_DAYS:
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
    lacking = _lacking(farm)
    if lacking is not None:
        key, name = lacking
        raise FarmFileError(key, where, **name)
    if not farm.money.price_per_kg:
        raise FarmFileError("fields_no_price", where)
    return farm.money.price_per_kg


def _lacking(farm: Farm) -> tuple[str, dict[str, str]] | None:
    """What is missing to know how much hay there is, and how fast it is baled."""
    for name, baler in farm.balers.items():
        if not baler.capacity_kg_h:
            return "fields_no_capacity", {"baler": name}
    for name, field in farm.fields.items():
        if not field.area_m2 and not field.all_baled:
            return "fields_no_area", {"field": name}
        if not field.yield_kg_m2:
            return "fields_no_yield", {"field": name}
        if all(too_heavy(baler, field) for baler in own_machines(farm, field)[0]):
            return "fields_heavy", {"field": name}
    return None


def _without(night: Night) -> Remark | None:
    """What is said where the hours of go are all that can be told; None where more can be."""
    lacking = _lacking(night.farm)
    if lacking is not None:
        return Remark(WITHOUT[lacking[0]], {**lacking[1]})
    heavy = next((item.name for item in night if not _takes(item, night)), None)
    return None if heavy is None else Remark("fields_too_heavy", {"field": heavy})


def _takes(item: FieldNight, night: Night) -> bool:
    """Whether the baler shown in a field takes its windrow."""
    return can_work(item.setting, night.farm.units)


WITHOUT = {
    "fields_no_capacity": "fields_without_capacity",
    "fields_no_area": "fields_without_area",
    "fields_no_yield": "fields_without_yield",
    "fields_heavy": "fields_too_heavy",
}
"""What is said in a plan that lacks what `hayweather plan` refuses to go without."""
TIME_LIMIT_S = 10.0
AGAIN_LIMIT_S = 2.0
"""Longest time to decide again for reasons and missed dates."""
AGAIN_SIZE = 8
"""Balers times fields up to which it is decided again."""
UNSEEN_SEED = SEED + 1


def plan_fields(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    *,
    days: int | None = None,
    seconds: float = TIME_LIMIT_S,
    old: bool = False,
    readings: Readings | None = None,
    observations: Observations | None = None,
    members: int = MEMBERS,
    unseen: int = MEMBERS,
    errors: Mapping[str, ForecastErrors] | None = None,
) -> FieldsPlan:
    """Which field is baled when, by which baler and how, over the coming nights.

    Parameters
    ----------
    farm, weather, now, readings, observations, old, members, errors
        As in `hayweather.nights.night_of`.
    days
        Nights to plan, 1 to 7, tonight's the first; None for the hours of the outlook.
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
    night = night_of(
        farm, weather, now, readings, observations=observations, days=days, members=members,
        old=old, errors=errors,
    )  # fmt: skip
    return plan_work(night, seconds=seconds, unseen=unseen)


def plan_work(night: Night, *, seconds: float = TIME_LIMIT_S, unseen: int = MEMBERS) -> FieldsPlan:
    """The plan for the hours of a night, looked at with forecast runs it was not made with.

    Parameters
    ----------
    night
        Of a farm that has what a plan needs.
    seconds
        Time for the plan.
    unseen
        Members that the plan was not made with, to look at it; 0 for none.
    """
    price_needed(night.farm)
    return _plan(night, seconds, unseen)


def plan_of_night(night: Night, *, seconds: float = TIME_LIMIT_S) -> FieldsPlan:
    """The one plan of a night, for every output.

    Where every field has its own baler, or no two fields want a machine at once, it is
    the hours of go (source "windows"). Where machines clash, or hay may be baled dry by
    the grower's word, it is the schedule of
    largest expected value, or, without a price of hay, the rule "rain first, then
    longest cured". Where area, yield or a baler's capacity is missing, it is the hours
    of go as well, clashes and all. Whatever it is, it is said.

    Parameters
    ----------
    night
        Any.
    seconds
        Longest time to look for a better plan.
    """
    return _plan(night, seconds, 0)


_KEPT = "_plan_shown"


def plan_shown(night: Night) -> FieldsPlan:
    """The plan that all outputs of a night show, made once.

    The hours of go where they are the plan: no two fields want a machine at once, none
    may have one of several balers, no date can be missed, a rested crew is there in all of
    them, and no hay is baled dry. A field asked for alone shows what its hay allows, whoever
    is on shift.
    """
    kept: FieldsPlan | None = vars(night).get(_KEPT)
    if kept is None:
        alone = len(night) < len(night.farm.fields)
        needed = plan_is_needed(night)
        kept = plan_of_night(night) if needed else _hours_of_go(night, (), shifts=not alone)
        object.__setattr__(night, _KEPT, kept)
    return kept


def plan_is_needed(night: Night) -> bool:
    """Whether two fields want a machine at once, a field may have one of several balers, a date
    can be missed, a crew is off or must rest in it, or hay may be baled dry, in hours that are
    never go."""
    return (
        _dry_by_word(night)
        or _several_balers(night)
        or _clash(night)
        or _has_date(night)
        or _off_duty(night)
        or _without_rest(night)
    )


def plan_repaired(night: Night, before: FieldsPlan | None) -> FieldsPlan:
    """The plan of an earlier look at the same hours, brought to what is known now; no search.

    What still holds of it stays, work that is no longer go is left out, and the rules of
    growers take its place where they bring more. `plan_of_night` finds a better one.

    Parameters
    ----------
    night
        As it is known now.
    before
        A plan for these hours; None: the rules alone.
    """
    without = _without(night)
    if without is not None:
        return _hours_of_go(night, (without,))
    price = night.farm.money.price_per_kg
    if not price:
        return _plan(night, 0.0, 0)
    case = case_of(night, prices_of(night.farm.money, price))
    if not _dry_by_word(night):
        alone = windows_schedule(case)
        if alone is not None:
            return _told(case, Chosen("windows", alone, None, {}))
    rules = rule_schedules(case)
    offered: dict[Source, Schedule] = dict(rules)
    if before is not None:
        carried = _carried(case, before.blocks)
        if not inspected(case, carried):
            offered = {"plan": carried, **rules}
    best = max(offered, key=lambda name: offered[name].value(case.task))
    return _told(case, Chosen(best, offered[best], None, rules))


def _carried(case: Case, blocks: Sequence[Block]) -> Schedule:
    """Blocks of work of another plan as a schedule of this task, what no longer serves left out."""
    task = case.task
    balers = [baler.name for baler in case.balers]
    rigs = [None, *(rig.name for rig in case.rigs)]
    fields = [field.name for field in case.fields]
    field = np.full((task.balers, task.quarters), IDLE)
    mode = field.copy()
    for block in blocks:
        if block.baler not in balers or block.rig not in rigs or block.field not in fields:
            continue  # a machine that has broken since
        inside = np.flatnonzero((case.starts + QUARTER > block.start) & (case.starts < block.end))
        b, f, m = balers.index(block.baler), fields.index(block.field), rigs.index(block.rig)
        inside = inside[task.useful[b, f, inside, m]]
        field[b, inside], mode[b, inside] = f, m
    return tidied(task, field, mode)


def _told(case: Case, chosen: Chosen) -> FieldsPlan:
    """A schedule as a plan, nothing decided again."""
    done = _carried_out(case, chosen)
    blocks = blocks_of(case, done.schedule, done.work)
    missed = missed_of(case, done.schedule, done.work, chosen.schedule)
    return _planned(case, None, done, (), (blocks, missed))


def show_plan(night: Night, plan: FieldsPlan) -> None:
    """Let all outputs of a night show a plan that was made for it already."""
    object.__setattr__(night, _KEPT, plan)


def _dry_by_word(night: Night) -> bool:
    """Whether the grower lets hay be baled dry, and its price says when that pays."""
    return night.farm.money.allow_dry and bool(night.farm.money.price_per_kg)


def _wanted(night: Night) -> dict[tuple[str, str], list[tuple[np.datetime64, str]]]:
    """When each baler and rig is wanted in the hours of go, and in which field, in order."""
    found: dict[tuple[str, str], list[tuple[np.datetime64, str]]] = {}
    for item in night:
        course, baler, rig = item.shown, item.setting.baler, item.setting.rig
        for row in np.flatnonzero(course.advice == Advice.GO):
            at = (course.weather.start[0] + row * QUARTER, item.name)
            found.setdefault(("baler", baler.name), []).append(at)
            if rig is not None and course.way[row] == Call.ADD_MOISTURE:
                found.setdefault(("rig", rig.name), []).append(at)
    return {machine: sorted(times) for machine, times in found.items()}


def _clash(night: Night) -> bool:
    """Whether two fields want a machine in the same quarter, or with no time to move between."""
    farm = night.farm
    for (kind, name), times in _wanted(night).items():
        balers = [farm.balers[name]] if kind == "baler" else list(farm.balers.values())
        for (before, one), (after, other) in pairwise(times):
            if one != other:
                fields = (farm.fields[one], farm.fields[other])
                move = max(move_h(baler, farm, *fields) for baler in balers)
                if (after - before - QUARTER) / HOUR < move - 1e-9:
                    return True
    return False


def _several_balers(night: Night) -> bool:
    """Whether another baler than the one shown may work in a field; a field asked for alone shows
    what its hay allows one of them, and says so."""
    alone = len(night) < len(night.farm.fields)
    return not alone and any(len(item.balers) > 1 for item in night)


def _without_rest(night: Night) -> bool:
    """Whether the hours of go leave a baler no rest; a field asked for alone as in `_off_duty`."""
    rest_h = night.farm.rest_h
    if len(night) < len(night.farm.fields) or not rest_h:
        return False
    for (kind, _), times in _wanted(night).items():
        begin = times[0][0]
        for (before, _), (after, _) in pairwise(times if kind == "baler" else ()):
            if (after - before - QUARTER) / HOUR >= rest_h:
                begin = after
            if (after + QUARTER - begin) / HOUR > 24 - rest_h:
                return True
    return False


def _off_duty(night: Night) -> bool:
    """Whether an hour of go lies outside every shift; a field asked for alone shows what its hay
    allows, and says so."""
    if not night.farm.shifts or len(night) < len(night.farm.fields):
        return False
    crews = crews_of(night.farm.shifts, 0.0, np.zeros(DAY_QUARTERS))
    rows = [(item.shown.weather.start[0], item.shown.advice == Advice.GO) for item in night]
    starts = np.concatenate([begin + np.flatnonzero(go) * QUARTER for begin, go in rows])
    return not crews.may_work(starts, night.timezone).all()


def _has_date(night: Night) -> bool:
    """Whether a field is due before the night ends."""
    return any(time <= night.end for item in night for _, time in due_times(item.setting.field))


def _plan(night: Night, seconds: float, unseen: int) -> FieldsPlan:
    """The plan of a night."""
    begin = time.thread_time()
    without = _without(night)
    if without is not None:
        return _hours_of_go(night, (without,))
    price = night.farm.money.price_per_kg
    prices = prices_of(night.farm.money, price) if price else None
    case = case_of(night, prices)
    windows = None
    if not _dry_by_word(night):
        windows = windows_schedule(case)
    said: tuple[Remark, ...] = ()
    if windows is not None:
        chosen = Chosen("windows", windows, None, {})
    elif prices is None:
        rules = rule_schedules(case)
        chosen = Chosen("rain_first", rules["rain_first"], None, rules)
        said = (Remark("fields_without_price"),)
    else:
        chosen = choose(case, seconds)
    done = _carried_out(case, chosen)

    def more() -> bool:
        size = case.task.balers * case.task.fields
        spent = time.thread_time() - begin
        return chosen.solved is not None and size <= AGAIN_SIZE and spent < seconds + AGAIN_LIMIT_S

    blocks = blocks_of(case, done.schedule, done.work)
    blocks = with_alternatives(case, done.planned, blocks, more)
    missed = missed_of(case, done.schedule, done.work, done.planned, more)
    other = None
    if unseen and prices is not None:
        other = case_of(night.drawn_again(unseen, UNSEEN_SEED), prices)
    return _planned(case, other, done, said, (blocks, missed))


@dataclass(frozen=True)
class Done(Chosen):
    """A schedule carried out, and the rules beside it.

    Attributes
    ----------
    planned
        Before it was carried out.
    work
        How it is.
    """

    planned: Schedule
    work: Work


def _carried_out(case: Case, chosen: Chosen) -> Done:
    """The schedule taken and the rules beside it, carried out; the best where hay is priced.

    One that breaks a limit is a defect, never shown as a plan.
    """
    offered = {**chosen.rules, chosen.source: chosen.schedule}
    done: dict[Source, tuple[Schedule, Work]]
    if chosen.source == "windows" and not plan_is_needed(case.night):
        done = {chosen.source: spans_done(case, _spans_of_go(case.night))}
    else:
        done = {name: carried_out(case, schedule) for name, schedule in offered.items()}
    source = chosen.source
    if case.prices is not None:
        worth = {name: schedule.value(case.task) for name, (schedule, _) in done.items()}
        best = max(worth, key=lambda name: worth[name])
        if worth[best] > worth[source] + 1e-6 * max(abs(worth[source]), 1.0):
            source = best
    schedule, work = done[source]
    # How long a visit must be is for the plan; fills and a field that is done may shorten it.
    wrong = inspected(case, schedule, visits=False)
    if source != "windows":
        wrong += inspected(case, offered[source])
    if wrong:
        raise RuntimeError("; ".join(wrong[:3]))
    rules = {name: done[name][0] for name in chosen.rules}
    return Done(source, schedule, chosen.solved, rules, offered[source], work)


def _planned(
    case: Case,
    other: Case | None,
    done: Done,
    said: tuple[Remark, ...],
    told: tuple[tuple[Block, ...], tuple[Missed, ...]],
) -> FieldsPlan:
    """The plan of a case, looked at with other members."""
    schedule, solved = done.schedule, done.solved
    priced = case.prices is not None
    gain = schedule.value(case.task) if priced else np.nan
    return FieldsPlan(
        night=case.night,
        prices=case.prices,
        source=done.source,
        missed=told[1],
        visits=visits_of(case, schedule, told[0]),
        blocks=told[0],
        work=done.work,
        fields=results_of(case, schedule),
        gain=gain,
        moves_cost=schedule.charges(case.task) if priced else np.nan,
        bound=np.nan if solved is None else solved.bound,
        gap=np.nan if solved is None else gap_of(gain, max(solved.bound, gain)),
        seconds=0.0 if solved is None else solved.seconds,
        timed_out=solved is not None and solved.timed_out,
        unseen=None if other is None else spread_of(other.member_gains(schedule)),
        comparisons=() if other is None else compared(case, other, done),
        rests=tuple(
            (name, *rest)
            for name, rest in zip(case.crews.names, case.crews.rests, strict=True)
            if rest is not None
        ),
        cautions=(*said, *_cautions(case.night, priced=priced)),
        gain_range=None if other is None else gain_range(case, schedule, gain),
    )


def _hours_of_go(night: Night, said: tuple[Remark, ...], *, shifts: bool = True) -> FieldsPlan:
    """The hours of go of every field, within shifts, and what is done in them.

    Where fields want a machine at once, nobody knows which it goes to: all hours, no amounts.
    """
    spans = _spans_of_go(night, shifts=shifts)
    work = None
    if all(_takes(item, night) for item in night):
        work = Work(night, spans, shifts=shifts)
    known = None if _clash(night) else work
    blocks = tuple(block for span in spans for block in _block_of(night[span.field], span, known))
    visits = tuple(
        Visit(
            baler=block.baler,
            field=block.field,
            came_from=None,
            drive_h=night.farm.balers[block.baler].move_minutes / 60,
            drive_cost=None,
            start=block.start,
            end=block.end,
            hours=block.hours,
            kg=block.kg,
            area_m2=block.area_m2,
            left_kg=None,
            why_left=None,
            remarks=(),
        )
        for block in blocks
    )
    return FieldsPlan(
        night=night,
        prices=None,
        source="windows",
        missed=(),
        visits=visits,
        blocks=blocks,
        work=work,
        fields=(),
        gain=np.nan,
        moves_cost=np.nan,
        bound=np.nan,
        gap=np.nan,
        seconds=0.0,
        timed_out=False,
        unseen=None,
        comparisons=(),
        rests=(),
        cautions=(*said, *_cautions(night, priced=False)),
    )


def _spans_of_go(night: Night, *, shifts: bool = True) -> list[Span]:
    """The hours of go of every field, in order of time."""
    spans = [span for item in night for span in _windows_of(item, night, shifts=shifts)]
    return sorted(spans, key=lambda span: (span.start, span.baler, span.field))


def _windows_of(item: FieldNight, night: Night, *, shifts: bool) -> Iterator[Span]:
    """The windows of one field, cut to the hours of the crews."""
    crews = crews_of(night.farm.shifts if shifts else (), 0.0, np.zeros(DAY_QUARTERS))
    baler, rig = item.setting.baler, item.setting.rig
    for window in item.windows:
        wet = window.call == Call.ADD_MOISTURE
        first = night.start + int((window.start - night.start) // QUARTER) * QUARTER
        starts = np.arange(first, window.end, QUARTER)
        works = crews.may_work(starts, night.timezone)
        for run in np.split(np.arange(starts.size), np.flatnonzero(np.diff(works)) + 1):
            if run.size and works[run[0]]:
                yield Span(
                    baler=baler.name,
                    field=item.name,
                    rig=rig.name if wet and rig is not None else None,
                    way="rig" if wet else "dew",
                    start=max(starts[run[0]], window.start),
                    end=min(starts[run[-1]] + QUARTER, window.end),
                )


def _block_of(item: FieldNight, span: Span, work: Work | None) -> Iterator[Block]:
    """What is done in a span of the hours of go; nothing where the field is done before."""
    start, end, kg, area, water_l = span.start, span.end, None, None, None
    if work is not None:
        inside, kg, water_l = work.done_of(span)
        if not inside:
            return
        start, end = inside[0].start, inside[-1].end
        one = work.machines(item, span.baler, span.rig).mass_of_area_kg(1.0)
        area = None if kg is None or not one else kg / one
    rates: tuple[float, ...] = ()
    if span.rig is not None:
        rates = item.shown.rates_between(start, end) if work is None else work.rates_l_t(span)
    yield Block(
        baler=span.baler,
        field=span.field,
        rig=span.rig,
        way=span.way,
        start=start,
        end=end,
        kg=kg,
        area_m2=area,
        gain_per_kg=None,
        water_l_t=(min(rates), max(rates)) if rates else None,
        water_l=water_l if span.rig is not None else 0.0,
        reasons=(),
    )


def _cautions(night: Night, *, priced: bool) -> tuple[Remark, ...]:
    """Cautions for all of the plan."""
    short: tuple[Remark, ...] = ()
    if night.short_by_h > 0:
        values: dict[str, object] = {"end": night.end, "hours": f"{night.short_by_h:.0f}"}
        short = (Remark("fields_forecast_short", values),)
    amounts = (Remark("fields_class_no_promise"),) if priced else ()
    return (*short, *amounts, *night.cautions)
