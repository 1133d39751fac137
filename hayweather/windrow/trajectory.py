"""WindrowTrajectory: what a run gives and everything later reads, and the hay by layer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import HOUR, Assumption, Booleans, Floats, Times
from hayweather.windrow.column import PARTS, State
from hayweather.windrow.sorption import wet_basis

Singles = NDArray[np.float32]
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
    "energy_ledger_w_m2",
    "started",
)
Part = Literal["top", "middle", "bottom"]
LayerKind = Literal["leaf", "stem", "windrow"]


def layer_weights(shares: Floats, part: Part) -> Floats:
    """How much of each layer lies in a named part of the windrow [-], (layers,).

    Parameters
    ----------
    shares
        Of the layers in the dry matter, (layers,).
    part
        "top" 15 %, "middle" 35 %, "bottom" 50 % of the dry matter from the top.
    """
    first, past = PARTS[part]
    ends = np.cumsum(shares)
    inside = np.minimum(ends, past) - np.maximum(ends - shares, first)
    return np.asarray(np.clip(inside, 0.0, None) / shares)


@dataclass(frozen=True)
class Layers:
    """Every layer through a run, at quarter-hour boundaries, single precision.

    Attributes
    ----------
    shares
        Of each layer in the dry matter, top first, (layers,).
    leaf_share
        Leaf share of the dry matter [-], (lanes or 1,).
    leaf_db, stem_db, film_db
        Leaf, stem and free water [kg/kg], (4 * hours + 1, layers, lanes).
    temperature_c
        (4 * hours + 1, layers, lanes).
    """

    shares: Floats
    leaf_share: Floats
    leaf_db: Singles
    stem_db: Singles
    film_db: Singles
    temperature_c: Singles

    @property
    def middles(self) -> Floats:
        """Depth of each layer's middle, share of the dry matter above it, (layers,)."""
        return np.asarray(np.cumsum(self.shares) - self.shares / 2)

    def of_kind(self, kind: LayerKind) -> Floats:
        """Moisture of every layer [kg/kg]; "windrow" is leaf, stem and free water together."""
        if kind != "windrow":
            only = self.leaf_db if kind == "leaf" else self.stem_db
            return np.asarray(only, dtype=np.float64)
        leaf = self.leaf_share
        return np.asarray(leaf * self.leaf_db + (1 - leaf) * self.stem_db + self.film_db)

    def kind_wb(self, kind: Literal["leaf", "windrow"]) -> Singles:
        """Moisture of every layer [% wet basis], in single precision as the layers are kept."""
        held = self.leaf_db
        if kind == "windrow":
            leaf = self.leaf_share.astype(np.float32)
            held = leaf * self.leaf_db + (1 - leaf) * self.stem_db + self.film_db
        return 100 * held / (1 + held)

    def part_wb(self, part: Part, kind: LayerKind = "windrow") -> Floats:
        """Moisture of a named part of the windrow [% wet basis], (rows, lanes)."""
        weights = self.shares * layer_weights(self.shares, part)
        mean = np.einsum("i,til->tl", weights / weights.sum(), self.of_kind(kind))
        return wet_basis(mean)

    def quarters(self) -> Layers:
        """The middle of every quarter, the mean of its two ends."""
        names = ("leaf_db", "stem_db", "film_db", "temperature_c")
        parts = {name: getattr(self, name) for name in names}
        return replace(self, **{name: (x[:-1] + x[1:]) / 2 for name, x in parts.items()})

    def cut(self, rows: slice, lanes: slice | NDArray[np.int64]) -> Layers:
        """Some quarter-hour boundaries of some lanes."""
        names = ("leaf_db", "stem_db", "film_db", "temperature_c")
        parts = {name: getattr(self, name)[rows] for name in names}
        parts = {
            name: x[..., lanes] if isinstance(lanes, slice) else x.take(lanes, axis=-1)
            for name, x in parts.items()
        }
        share = self.leaf_share[lanes] if self.leaf_share.size > 1 else self.leaf_share
        return replace(self, leaf_share=share, **parts)


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
        What a thermometer in the sky reads.
    skin_humidity
        Vapor pressure of the air over saturation at the top layer [-]; 1 is dew.
    dew_mm, internal_mm
        Dew from the air; water distilled from inside onto the top.
    from_air_mm, from_ground_mm, rain_caught_mm, runoff_mm
        Water in (+) and out (-), and run-off.
    ledger_kg_m2, energy_ledger_w_m2
        Largest error of the water and of the energy ledger of a step in each hour.
    started
        True in hours at whose start a lane began anew, (hours, lanes).
    assumed
        What was derived or assumed of the weather.
    final
        State at the end, to go on from.
    layers
        Every layer, of the last boundaries where the run kept them from an hour on;
        None where it left them out.
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
    energy_ledger_w_m2: Floats | None = None
    layers: Layers | None = None

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
        return replace(self._cut(rows, hours, slice(None)), start=self.start + first * HOUR)

    def lanes(self, lanes: slice) -> WindrowTrajectory:
        """Some of the lanes; the final state with them."""
        final = State(*(values[..., lanes] for values in self.final))
        whole = slice(None)
        return replace(self._cut(whole, whole, lanes), start=self.start[lanes], final=final)

    def _cut(self, rows: slice, hours: slice, lanes: slice) -> WindrowTrajectory:
        """Some quarter-hour boundaries and hours of some lanes."""
        cut = {name: getattr(self, name)[rows, lanes] for name in STATE_NAMES}
        there = [name for name in FLUX_NAMES if getattr(self, name) is not None]
        cut |= {name: getattr(self, name)[hours, lanes] for name in there}
        layers = None if self.layers is None else self.layers.cut(self._layer_rows(rows), lanes)
        return replace(self, **cut, layers=layers)

    def _layer_rows(self, rows: slice) -> slice:
        """Where some of all boundaries stand among those of which the layers are kept."""
        kept = 0 if self.layers is None else self.layers.leaf_db.shape[0]
        before = QUARTERS * self.hours + 1 - kept
        if rows.start is None or before == 0:
            return rows
        if rows.start < before:
            raise ValueError(f"this run kept its layers from hour {before // QUARTERS} on")
        return slice(rows.start - before, rows.stop - before)

    def layer_wb(self, part: Part, kind: LayerKind = "windrow") -> Floats:
        """Moisture of a named part of the windrow [% wet basis], (4 * hours + 1, lanes).

        Parameters
        ----------
        part
            "top" 15 %, "middle" 35 % or "bottom" 50 % of the dry matter.
        kind
            "leaf", "stem", or "windrow" with its free water.

        Raises
        ------
        ValueError
            Where the run left the layers out.
        """
        return self.every_layer.part_wb(part, kind)

    @property
    def every_layer(self) -> Layers:
        """The layers; an error where the run left them out."""
        if self.layers is None:
            raise ValueError("this run left its layers out: run it with keep_layers=True")
        return self.layers

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


RAKE_MIXING = 0.5
"""How far raking evens the hay out: 0 turns it over whole, 1 makes it all alike (assumed)."""


def raked(layers: Layers, mixing: float = RAKE_MIXING) -> Layers:
    """The hay just after raking: what lay below comes up, and part of it is mixed.

    Parameters
    ----------
    layers
        Before it.
    mixing
        Share that is mixed through [-].
    """
    shares = layers.shares
    ends = np.cumsum(shares)
    begins = ends - shares
    # Upside down a layer holds what lay as far from the ground as it lies from the top.
    low, high = 1 - ends[:, None], 1 - begins[:, None]
    overlap = np.minimum(ends, high) - np.maximum(begins, low)
    turned = np.clip(overlap, 0.0, None) / shares[:, None]
    whole = (1 - mixing) * turned + mixing * shares[None, :]
    names = ("leaf_db", "stem_db", "film_db", "temperature_c")
    return replace(
        layers,
        **{
            name: np.einsum("ij,tjl->til", whole, getattr(layers, name)).astype(np.float32)
            for name in names
        },
    )


def soft_share(layers: Layers, leaf_minimum_wb: float | Floats | None) -> Floats:
    """Share of the leaf dry matter at or above a leaf moisture [-], (rows, lanes).

    Parameters
    ----------
    layers
        The hay by layer.
    leaf_minimum_wb
        Below it leaves shatter [% wet basis]; None for a crop whose leaf does not:
        then all of it is soft.
    """
    if leaf_minimum_wb is None:
        return np.where(np.isnan(layers.leaf_db).any(axis=1), np.nan, 1.0)
    return share_above(layers, layers.kind_wb("leaf"), leaf_minimum_wb)


def wet_share(layers: Layers, ceiling_wb: float | Floats) -> Floats:
    """Share of the dry matter above a moisture, free water counted [-], (rows, lanes).

    Parameters
    ----------
    layers
        The hay by layer.
    ceiling_wb
        The bale's ceiling [% wet basis].
    """
    return share_above(layers, layers.kind_wb("windrow"), ceiling_wb)


def share_above(layers: Layers, values: Singles, limit: float | Floats) -> Floats:
    """Share of the dry matter where a profile is at or above a limit [-], (rows, lanes).

    The profile runs straight between the layers' middles, and on to top and
    ground, so that the share does not jump as a layer passes the limit.

    Parameters
    ----------
    layers
        Their depths.
    values
        At the layers' middles, (rows, layers, lanes); NaN stays.
    limit
        A number or (lanes,).
    """
    middles, above = layers.middles, values - np.asarray(limit, dtype=values.dtype)
    knots = middles.copy()
    knots[0], knots[-1] = 0.0, 1.0
    ends = [above[:, layer] for layer in range(middles.size)]
    for end, other in ((0, 1), (-1, -2)):
        reach = float((knots[end] - middles[end]) / (middles[end] - middles[other]))
        ends[end] = ends[end] + reach * (ends[end] - ends[other])
    widths = np.diff(knots).tolist()
    least, most = reduce(np.minimum, ends), reduce(np.maximum, ends)  # NaN stays
    crossed = np.flatnonzero((least < 0) & (most >= 0))  # all others lie on one side of the limit
    if 2 * crossed.size > most.size:
        return _share_between(ends, widths).astype(np.float64)
    found = np.where(least >= 0, sum(widths), (most - most).astype(np.float64))
    np.put(found, crossed, _share_between([end.take(crossed) for end in ends], widths))
    return found


def _share_between(ends: Sequence[Singles], widths: Sequence[float]) -> Singles:
    """Share of straight pieces between their ends that lies at or above nought."""
    found, part, rise = (np.zeros_like(ends[0]) for _ in range(3))
    above = [np.maximum(end, 0.0) for end in ends]
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for piece, width in enumerate(widths):
            np.subtract(ends[piece + 1], ends[piece], out=rise)
            np.subtract(above[piece + 1], above[piece], out=part)
            np.divide(part, rise, out=part)
            flat = rise == 0
            if flat.any():
                part[flat] = ends[piece][flat] >= 0
            found += np.multiply(part, width, out=part)
    return found
