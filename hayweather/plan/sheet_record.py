"""The run sheets of a farm's machines as records: what to do when, in SI units.

Times are UTC. None is "not known": without a capacity there is no mass, water or
flow; without a yield there is no area; without a windrow's mass no ground speed.
Masses are of hay as it lies in the windrow. `hayweather.plan.sheet` makes
these; reports only read them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from hayweather.baling.calls import Call
from hayweather.nights import FieldNight, Night
from hayweather.plan.record import WayName
from hayweather.weather.record import HOUR
from hayweather.words import Remark

MachineKind = Literal["baler", "rig"]
StepKind = Literal["drive", "set_up", "fill", "wait", "hand_over", "off", "drain", "work"]
AnswerKind = Literal["rate", "slower", "none", "leave"]


@dataclass(frozen=True)
class Answer:
    """What to do where the meter reads other than expected.

    Attributes
    ----------
    reads_wb
        What it reads [% wet basis].
    kind
        Dial a rate; dial it and go slower, the pump being at its limit; no water
        needed; or leave the hay, the rig cannot bring it in.
    water_l_t, flow_l_min, speed_m_s
        As in `Dial`; None where there is nothing to dial.
    """

    reads_wb: float
    kind: AnswerKind
    water_l_t: float | None = None
    flow_l_min: float | None = None
    speed_m_s: float | None = None


@dataclass(frozen=True)
class Heat:
    """What a rig's burners do to the water of one setting.

    Attributes
    ----------
    full_c
        Behind the burners at full rate, by calculation [C]; None where not known.
    limit_c
        What it may not pass: the machine's, else the assumed one [C].
    assumed
        True where the limit is assumed.
    """

    full_c: float | None
    limit_c: float
    assumed: bool

    @property
    def refused(self) -> bool:
        """Whether burners at full rate would pass the limit: one is turned down or off."""
        return self.full_c is not None and self.full_c > self.limit_c + 0.05


@dataclass(frozen=True)
class Dial:
    """A setting that can be dialed, for a quarter of an hour or less.

    Attributes
    ----------
    start, end
        UTC.
    reads_wb
        What a meter in the windrow is expected to read, before any water [% wet basis].
    after_wb
        Behind the rig [% wet basis]; the same without one.
    water_l_t
        Rate [L per tonne as it lies], a multiple of the rig's step; 0 without the rig.
    flow_l_min
        Flow while moving [L/min], never above the rig's; None where not known.
    speed_m_s
        Ground speed of this machine [m/s]; None where not known.
    heat
        Of a heated rig; None without one.
    answers
        What to do where the meter reads another whole percent, driest first.
    """

    start: np.datetime64
    end: np.datetime64
    reads_wb: float
    after_wb: float
    water_l_t: float
    flow_l_min: float | None
    speed_m_s: float | None
    heat: Heat | None = None
    answers: tuple[Answer, ...] = ()


@dataclass(frozen=True)
class Step:
    """One thing after another that a machine's driver does; `Piece` is the one that bales.

    Attributes
    ----------
    kind
        "wait" is a baler's, while the rig ahead of it fills; "off": no crew is on shift.
    start, end
        UTC.
    field
        Where; None on no field.
    remark
        What is said beyond the kind.
    baler_waits
        Of a fill: whether it takes time from work.
    """

    kind: StepKind
    start: np.datetime64
    end: np.datetime64
    field: str | None
    remark: Remark | None = None
    baler_waits: bool = False

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / HOUR)

    @property
    def minutes(self) -> float:
        """Length [min]."""
        return 60 * self.hours


@dataclass(frozen=True)
class Piece(Step):
    """Work of at most an hour in one field, one way, without a stop or a fill in it.

    Attributes
    ----------
    way, call
        On dew, behind the rig, or dry; what the hay is called.
    rig, balers
        Who works together.
    reasons, cautions
        Of the hours it lies in.
    windrow_wb, leaf_wb
        Moisture before any water is added, mean [% wet basis].
    after_wb
        Windrow moisture behind the rig [% wet basis]; None without a rig.
    efficiency
        Part of the applied water that stays in the hay [-]; None without a rig.
    water_l_t
        Mean rate [L/t]; None without a rig.
    flow_l_min
        Mean flow while moving [L/min]; None without a rig or where not known.
    speed_m_s
        Mean ground speed of this machine while moving [m/s].
    mass_kg, bales, area_m2
        What this machine bales or wets in it; bales are not rounded.
    loads
        Tanks of water [-], not rounded; 0 without a rig.
    water_l
        Water leaving the tank [L]; 0 without a rig, and on a baler's sheet.
    burner_fuel_l
        Fuel of the burners while water flows [L]; 0 without a heated rig, None
        where not known.
    dials
        Settings by the quarter, the first at `start`.
    """

    way: WayName = "dew"
    call: Call = Call.NATURAL_DEW
    rig: str | None = None
    balers: tuple[str, ...] = ()
    reasons: tuple[Remark, ...] = ()
    cautions: tuple[Remark, ...] = ()
    windrow_wb: float = float("nan")
    leaf_wb: float = float("nan")
    after_wb: float | None = None
    efficiency: float | None = None
    water_l_t: float | None = None
    flow_l_min: float | None = None
    speed_m_s: float | None = None
    mass_kg: float | None = None
    bales: float | None = None
    area_m2: float | None = None
    loads: float | None = 0.0
    water_l: float | None = 0.0
    burner_fuel_l: float | None = 0.0
    dials: tuple[Dial, ...] = ()


@dataclass(frozen=True)
class Totals:
    """Sums over the pieces of a machine, or of a field.

    Attributes
    ----------
    hours, dew_hours, rig_hours, dry_hours
        Of work; the first is the sum of the others [h].
    mass_kg, bales, area_m2, loads, water_l, burner_fuel_l
        As in `Piece`; None where a part is not known.
    fills, fill_minutes
        Number of fills and the time of them all [min].
    """

    hours: float
    dew_hours: float
    rig_hours: float
    dry_hours: float
    mass_kg: float | None
    bales: float | None
    area_m2: float | None
    loads: float | None
    water_l: float | None
    burner_fuel_l: float | None
    fills: int
    fill_minutes: float


@dataclass(frozen=True)
class Signs:
    """What to look for in the windrow: before the start, on the way, and to stop."""

    start: tuple[Remark, ...]
    way: tuple[Remark, ...]
    stop: tuple[Remark, ...]


@dataclass(frozen=True)
class MachineSheet:
    """The run sheet of one machine and its driver.

    Attributes
    ----------
    name, kind
        Of the machine.
    steps
        In driving order over the fields.
    totals
        Sums of the pieces.
    done
        Fields that this machine finishes, and when (UTC).
    signs
        In the windrow.
    relief
        When a crew is to be relieved, and by whom.
    notes
        What limits the work, and what was assumed.
    """

    name: str
    kind: MachineKind
    steps: tuple[Step, ...]
    totals: Totals
    done: tuple[tuple[str, np.datetime64], ...]
    signs: Signs
    relief: tuple[Remark, ...]
    notes: tuple[Remark, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The work in it."""
        return tuple(step for step in self.steps if isinstance(step, Piece))

    @property
    def fills(self) -> tuple[Step, ...]:
        """The ways to the water and back."""
        return tuple(step for step in self.steps if step.kind == "fill")


@dataclass(frozen=True)
class FieldWork:
    """What the sheets together make of one field.

    Attributes
    ----------
    night
        The field's night: setting, site, hours, chances.
    totals
        Of all balers in it.
    done_at
        UTC time at which the whole field is baled; None where it is not, or
        its area is not known.
    notes
        What of its hours is left out, and what is not known.
    """

    night: FieldNight
    totals: Totals
    done_at: np.datetime64 | None
    notes: tuple[Remark, ...]

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.night.name


@dataclass(frozen=True)
class RunSheet:
    """A farm's run sheets.

    Attributes
    ----------
    night
        What they are made from: farm, now, weather, its cautions.
    machines
        One a machine that works, balers first; empty where there is no work.
    fields
        One a field, in the farm file's order.
    missed
        Fields that miss their date, and what would save it.
    cautions
        Those of the night that hold for all of it; the safety cautions of
        `hayweather.show.voice` are shown in full beside them.
    """

    night: Night
    machines: tuple[MachineSheet, ...]
    fields: tuple[FieldWork, ...]
    missed: tuple[Remark, ...]
    cautions: tuple[Remark, ...]

    def of_machine(self, name: str) -> RunSheet:
        """The same with one machine's sheet alone."""
        return RunSheet(
            self.night,
            tuple(each for each in self.machines if each.name == name),
            self.fields,
            self.missed,
            self.cautions,
        )
