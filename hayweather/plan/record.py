"""A finished plan for the fields of a farm, as reports read it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from hayweather.baling.value import Prices, Sheet
from hayweather.farm.records import Farm, Field
from hayweather.nights import Night
from hayweather.weather.record import HOUR
from hayweather.words import Remark

if TYPE_CHECKING:
    from hayweather.plan.work import Work

Source = Literal["plan", "longest_cured", "rain_first", "windows"]
WayName = Literal["dew", "rig", "dry"]


@dataclass(frozen=True)
class Span:
    """Time for one baler in one field in one way, without a break. Times UTC.

    Attributes
    ----------
    baler, field, rig
        Names; no rig: None.
    way
        On dew, behind the rig, or dry.
    start, end
        Of the work.
    """

    baler: str
    field: str
    rig: str | None
    way: WayName
    start: np.datetime64
    end: np.datetime64

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / HOUR)


@dataclass(frozen=True)
class Block(Span):
    """A span with what is done in it.

    Attributes
    ----------
    kg, area_m2
        Baled in it; None where the field's hay or the baler's pace is not known.
    gain_per_kg
        What a kilogram brings above leaving it to lie, moves not paid; None without prices.
    water_l_t
        Least and most water put on [L/t]; None without a rig.
    water_l
        Water used [L]; None where not known.
    reasons
        Why there, then and so.
    """

    kg: float | None
    area_m2: float | None
    gain_per_kg: float | None
    water_l_t: tuple[float, float] | None
    water_l: float | None
    reasons: tuple[Remark, ...]


@dataclass(frozen=True)
class Visit:
    """One baler in one field, from its first work there until it leaves. Times UTC.

    Attributes
    ----------
    baler, field
        Names.
    came_from
        The field that it worked in before; None for its first.
    drive_h
        From leaving the one to being ready in the other [h]; the set-up alone for the first.
    drive_cost
        What that costs; None without prices.
    start, end
        Of the first and the last work in it; the machine may stand between.
    hours
        Of work.
    kg, area_m2
        Baled in it; None where not known.
    left_kg
        Hay of the field when it leaves; None where not known.
    why_left
        Why it leaves hay; None where it leaves none, or not known how much.
    remarks
        Raking before it, and where the rig comes from.
    """

    baler: str
    field: str
    came_from: str | None
    drive_h: float
    drive_cost: float | None
    start: np.datetime64
    end: np.datetime64
    hours: float
    kg: float | None
    area_m2: float | None
    left_kg: float | None
    why_left: Remark | None
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class Missed:
    """A date that a field misses.

    Attributes
    ----------
    field
        Name.
    due_for
        "finish" or "irrigation".
    time
        When its last bale should be made, UTC.
    late_kg, late_area_m2
        Hay that is baled later, or not at all.
    done
        When it is done, UTC; None where it is not.
    cost
        Of being late; None without prices.
    saves
        What would save it, each found by deciding again; empty where nothing that was
        tried does, or nothing was tried.
    tried
        Whether there was time to try all of it.
    """

    field: str
    due_for: Literal["finish", "irrigation"]
    time: np.datetime64
    late_kg: float
    late_area_m2: float
    done: np.datetime64 | None
    cost: float | None
    saves: tuple[Remark, ...]
    tried: bool


@dataclass(frozen=True)
class WayWorth:
    """What a ton brings in one way at its best time (UTC), work paid [currency/kg]."""

    way: WayName
    time: np.datetime64
    value_per_kg: float


@dataclass(frozen=True)
class FieldResult:
    """What the plan makes of one field.

    Attributes
    ----------
    field
        As the farm file says.
    kg, baled_kg, left_kg, left_area_m2
        Hay and area.
    left_cost_per_kg
        What leaving costs, beside baling in the band now [currency/kg].
    waiting_per_kg
        What a kilogram brings that still lies at the end.
    ways
        The best time of each way.
    sheet, hay_class
        Laboratory figures expected of the bales, and the class they resemble;
        None where the field's are not known.
    remarks
        How its run began; what to do where no hour is fit.
    """

    field: Field
    kg: float
    baled_kg: float
    left_kg: float
    left_area_m2: float
    left_cost_per_kg: float
    waiting_per_kg: float
    ways: tuple[WayWorth, ...]
    sheet: Sheet | None
    hay_class: str | None
    remarks: tuple[Remark, ...]

    @property
    def left_cost(self) -> float:
        """What the hay left costs, all of it."""
        return self.left_kg * self.left_cost_per_kg


@dataclass(frozen=True)
class Comparison:
    """The plan beside a rule of growers, on forecast runs that it was not made with.

    Attributes
    ----------
    rule
        Which.
    expected
        What the rule brings above leaving everything, on the runs planned with.
    mean, low, high
        What the plan brings more on unseen runs: mean, and eight in ten of them.
    """

    rule: Source
    expected: float
    mean: float
    low: float
    high: float


LACKING = ("fields_without_", "fields_too_heavy")


@dataclass(frozen=True)
class FieldsPlan:
    """A plan for all fields, made at `now` (UTC).

    Attributes
    ----------
    night, prices
        What it was made of; prices None where the farm names no price of hay.
    source
        What the schedule comes from: the plan, the rule that was better, or the hours of go
        where nothing had to be chosen.
    missed
        Dates that fields miss, earliest first.
    visits
        Of all balers, in order of time.
    blocks
        Work in order of time.
    work
        How it is done: quarters, tanks, fills; None where a baler cannot take the windrow.
    fields
        Results in the order of the farm file.
    gain, moves_cost, bound
        What it brings above leaving everything, moves paid; what they cost; no schedule
        brings more than the bound. NaN without prices.
    gap
        How much more the bound is, as a part of the gain; infinite where no bound was
        found in time, NaN where none was looked for.
    seconds, timed_out
        Processor time taken [s]; True when it was up before it was near the bound.
    unseen
        Mean, low and high (eight in ten) of what it brings on unseen runs; None
        without members.
    comparisons
        Beside the rules.
    rests
        Local minutes from which to which each crew's hours were cut for rest.
    cautions
        For all of it.
    gain_range
        What the same work brings with the least and with the most loss of leaf.
    """

    night: Night
    prices: Prices | None
    source: Source
    missed: tuple[Missed, ...]
    visits: tuple[Visit, ...]
    blocks: tuple[Block, ...]
    work: Work | None
    fields: tuple[FieldResult, ...]
    gain: float
    moves_cost: float
    bound: float
    gap: float
    seconds: float
    timed_out: bool
    unseen: tuple[float, float, float] | None
    comparisons: tuple[Comparison, ...]
    rests: tuple[tuple[str, int, int], ...]
    cautions: tuple[Remark, ...]
    gain_range: tuple[float, float] | None = None

    @property
    def lacking(self) -> tuple[Remark, ...]:
        """What the farm file lacks for a plan by money, or for any plan but the hours of go."""
        return tuple(item for item in self.cautions if item.key.startswith(LACKING))

    @property
    def missed_said(self) -> tuple[Remark, ...]:
        """Each missed date as the line that every output begins with."""
        return tuple(
            Remark("fields_missed", {"field": item.field.upper(), "time": item.time})
            for item in self.missed
        )

    @property
    def days(self) -> int:
        """Nights asked for."""
        return self.night.days

    @property
    def farm(self) -> Farm:
        """The farm."""
        return self.night.farm

    @property
    def now(self) -> np.datetime64:
        """UTC."""
        return self.night.now
