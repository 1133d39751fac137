"""WindrowTrajectory: what a run gives and everything later reads."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from hayweather.weather.record import HOUR, Assumption, Booleans, Floats, Times
from hayweather.windrow.layers import State
from hayweather.windrow.sorption import wet_basis

QUARTERS = 4
QUARTER = np.timedelta64(900, "s")
STATE_NAMES = (
    "leaf_db",
    "stem_db",
    "windrow_db",
    "bottom_db",
    "free_water_mm",
    "skin_temperature_c",
    "skin_humidity",
)
FLUX_NAMES = (
    "dew_mm",
    "internal_mm",
    "from_air_mm",
    "from_ground_mm",
    "rain_caught_mm",
    "runoff_mm",
    "ledger_kg_m2",
    "started",
)


@dataclass(frozen=True)
class WindrowTrajectory:
    """The windrow through the hours of a run.

    States stand on quarter-hour boundaries, (4 * hours + 1, lanes), so that
    ``[::4]`` are the hour boundaries; fluxes are sums over hours, (hours,
    lanes). NaN is "unknown".

    Attributes
    ----------
    start
        UTC start of the first hour of each lane, (lanes,).
    leaf_db, stem_db
        Mean leaf and stem moisture [kg/kg].
    windrow_db
        Whole windrow with its free water [kg/kg].
    bottom_db
        Bottom layer without free water [kg/kg].
    free_water_mm
        Free water (dew, rain, frost) in the windrow.
    skin_temperature_c
        Of the windrow's top.
    skin_humidity
        Vapor pressure of the air over saturation at the skin [-]; 1 is dew.
    dew_mm, internal_mm
        Dew from the air; water distilled from inside onto the top.
    from_air_mm, from_ground_mm, rain_caught_mm, runoff_mm
        Water in (+) and out (-), and run-off.
    ledger_kg_m2
        Largest error of the water ledger of a step in each hour.
    started
        True in hours at whose start a lane began anew, (hours, lanes).
    assumed
        What was derived or assumed of the weather.
    final
        State at the end, to go on from.
    """

    start: Times
    leaf_db: Floats
    stem_db: Floats
    windrow_db: Floats
    bottom_db: Floats
    free_water_mm: Floats
    skin_temperature_c: Floats
    skin_humidity: Floats
    dew_mm: Floats
    internal_mm: Floats
    from_air_mm: Floats
    from_ground_mm: Floats
    rain_caught_mm: Floats
    runoff_mm: Floats
    ledger_kg_m2: Floats
    started: Booleans
    assumed: tuple[Assumption, ...]
    final: State

    @property
    def hours(self) -> int:
        """Number of hours."""
        return int(self.dew_mm.shape[0])

    def times(self) -> Times:
        """UTC times of the quarter-hour boundaries, (4 * hours + 1, lanes)."""
        return self.start[None, :] + np.arange(QUARTERS * self.hours + 1)[:, None] * QUARTER

    def between(self, first: int, last: int) -> WindrowTrajectory:
        """The hours ``first`` to ``last - 1``, both ends' states kept."""
        rows, hours = slice(QUARTERS * first, QUARTERS * last + 1), slice(first, last)
        cut = {name: getattr(self, name)[rows] for name in STATE_NAMES}
        cut |= {name: getattr(self, name)[hours] for name in FLUX_NAMES}
        return replace(self, start=self.start + first * HOUR, **cut)

    def lanes(self, lanes: slice) -> WindrowTrajectory:
        """Some of the lanes; the final state with them."""
        cut = {name: getattr(self, name)[:, lanes] for name in (*STATE_NAMES, *FLUX_NAMES)}
        final = {item.name: getattr(self.final, item.name)[..., lanes] for item in fields(State)}
        return replace(self, start=self.start[lanes], **cut, final=State(**final))

    @property
    def windrow_wb(self) -> Floats:
        """Whole windrow with its free water [% wet basis]."""
        return wet_basis(self.windrow_db)

    @property
    def leaf_wb(self) -> Floats:
        """Leaf [% wet basis]."""
        return wet_basis(self.leaf_db)

    @property
    def stem_wb(self) -> Floats:
        """Stem [% wet basis]."""
        return wet_basis(self.stem_db)

    @property
    def bottom_wb(self) -> Floats:
        """Bottom layer without free water [% wet basis]."""
        return wet_basis(self.bottom_db)
