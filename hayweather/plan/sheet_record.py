"""The operator's run sheet as records: what to do when, in SI units.

Times are UTC. None is "not known": without a capacity there is no mass, water or
flow; without a yield there is no area; without a windrow's mass no ground speed.
Masses are of hay as it lies in the windrow. `hayweather.plan.sheet` makes
these; reports only read them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.nights import FieldNight, Night
from hayweather.words import Remark


@dataclass(frozen=True)
class RateStep:
    """From when on a rate is dialed.

    Attributes
    ----------
    start
        UTC.
    water_l_t
        Rate to dial [L per tonne as it lies], a multiple of the rig's step.
    flow_l_min
        Flow while moving [L/min], never above the rig's; None where not known.
    speed_m_s
        Ground speed [m/s]; None where not known.
    """

    start: np.datetime64
    water_l_t: float
    flow_l_min: float | None
    speed_m_s: float | None


@dataclass(frozen=True)
class SheetWindow:
    """A piece of work of at most an hour, one call, without a stop or a fill in it.

    Attributes
    ----------
    start, end
        UTC; pieces are in order and do not overlap.
    call
        Natural dew or add moisture.
    reasons, cautions
        Of the hours it lies in.
    windrow_wb, leaf_wb
        Moisture before any water is added, mean [% wet basis].
    after_wb
        Windrow moisture behind the rig [% wet basis]; None on natural dew.
    efficiency
        Part of the applied water that stays in the hay [-]; None on natural dew.
    water_l_t
        Mean rate [L/t]; None on natural dew.
    flow_l_min
        Mean flow while moving [L/min]; None on natural dew or where not known.
    speed_m_s
        Mean ground speed while moving [m/s].
    mass_kg, bales, area_m2
        What is baled in it; bales are not rounded.
    loads
        Tanks of water [-], not rounded; 0 on natural dew.
    water_l
        Water leaving the tank [L]; 0 on natural dew.
    burner_fuel_l
        Fuel of the burners while water flows [L]; 0 without a heated rig, None
        where not known.
    rate_steps
        Rates to dial, the first at `start`; empty on natural dew.
    """

    start: np.datetime64
    end: np.datetime64
    call: Call
    reasons: tuple[Remark, ...]
    cautions: tuple[Remark, ...]
    windrow_wb: float
    leaf_wb: float
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
    rate_steps: tuple[RateStep, ...] = ()

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / np.timedelta64(3600, "s"))


@dataclass(frozen=True)
class Fill:
    """A way to the water and back.

    Attributes
    ----------
    start
        UTC.
    minutes
        How long it takes, the way included.
    baler_waits
        True where it takes time from a window; False where the rig fills while
        the baler works on dew or nobody works.
    """

    start: np.datetime64
    minutes: float
    baler_waits: bool

    @property
    def end(self) -> np.datetime64:
        """UTC end."""
        return self.start + np.timedelta64(round(60 * self.minutes), "s")


@dataclass(frozen=True)
class Totals:
    """Sums over the pieces of a field, or of all fields.

    Attributes
    ----------
    hours, dew_hours, rig_hours
        Of work; the first is the sum of the other two [h].
    mass_kg, bales, area_m2, loads, water_l, burner_fuel_l
        As in `SheetWindow`; None where a part is not known.
    fills, fill_minutes
        Number of fills and the time of them all [min].
    """

    hours: float
    dew_hours: float
    rig_hours: float
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
class FieldSheet:
    """The run sheet of one field.

    Attributes
    ----------
    outlook
        The field's outlook: setting, site, hours, chances.
    windows
        Pieces in order of time.
    fills
        In order of time.
    totals
        Sums of the pieces.
    area_done_at
        UTC time at which the whole field is baled; None where it is not, or
        its area is not known.
    water_per_point_l_t
        What to add to the rate for every point of moisture that the windrow is
        drier than shown [L/t], and to take off where it is damper; None
        without a rig window.
    signs
        In the windrow.
    relief
        When a crew is to be relieved, and by whom.
    notes
        What limits the work, and what was assumed.
    """

    outlook: FieldNight
    windows: tuple[SheetWindow, ...]
    fills: tuple[Fill, ...]
    totals: Totals
    area_done_at: np.datetime64 | None
    water_per_point_l_t: float | None
    signs: Signs
    relief: tuple[Remark, ...]
    notes: tuple[Remark, ...]

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.outlook.setting.field.name


@dataclass(frozen=True)
class RunSheet:
    """A farm's run sheet.

    Attributes
    ----------
    outlook
        The outlook it is made from: farm, now, weather, its cautions.
    fields
        One a field, in the farm file's order.
    cautions
        Those of the outlook that hold for all of it; the safety cautions of
        `hayweather.show.voice` are shown in full beside them.
    """

    outlook: Night
    fields: tuple[FieldSheet, ...]
    cautions: tuple[Remark, ...]
