"""What a grid of cells gave: nights counted by cell, year and month."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from hayweather.seasons.record.nights import LEFT_OUT_SHARE
from hayweather.seasons.record.sites import GridChoice, Sites
from hayweather.weather.record import Booleans, Floats
from hayweather.words import Remark

Counts = NDArray[np.int64]
COUNTS = ("nights", "missing", "rain_nights", "counted", "with_dew")
SUMS = ("dew_h", "rig_h", "wet_h", "dry_h")


@dataclass(frozen=True)
class CellTallies:
    """Nights of some cells counted.

    Counts and hours have the shape (cells, years, months); hours are sums over
    the nights counted, so that nothing missing is averaged in.

    Attributes
    ----------
    latitude, longitude
        Of each cell, (cells,).
    nights, missing, rain_nights, counted, with_dew
        All nights; those not known; those after rain; known nights without rain
        before; of these, nights with usable dew.
    dew_h, rig_h, wet_h, dry_h
        Hours ready on dew, ready with the rig, too wet, too dry [h].
    median_dew_h, four_in_five_dew_h
        Hours on dew of the middle night, and hours that four nights in five
        reach, over the years kept [h], (cells,); NaN where no night counts.
    """

    latitude: Floats
    longitude: Floats
    nights: Counts
    missing: Counts
    rain_nights: Counts
    counted: Counts
    with_dew: Counts
    dew_h: Floats
    rig_h: Floats
    wet_h: Floats
    dry_h: Floats
    median_dew_h: Floats
    four_in_five_dew_h: Floats

    @property
    def count(self) -> int:
        """Number of cells."""
        return int(self.latitude.size)

    def only(self, chosen: Booleans | Counts) -> CellTallies:
        """Some of the cells."""
        return CellTallies(
            **{item.name: getattr(self, item.name)[chosen] for item in fields(CellTallies)}
        )

    @property
    def kept(self) -> Booleans:
        """Years of a cell that are averaged in, (cells, years)."""
        nights, missing = self.nights.sum(axis=2), self.missing.sum(axis=2)
        return np.asarray((nights > 0) & (missing <= LEFT_OUT_SHARE * nights))

    def pooled(self, name: str, month: int | None = None) -> Floats:
        """One of the counts or sums of hours over the years kept, (cells,).

        Parameters
        ----------
        name
            Of the attribute.
        month
            Place of a month; None is all.
        """
        values = getattr(self, name)
        values = values.sum(axis=2) if month is None else values[:, :, month]
        return np.asarray(np.where(self.kept, values, 0).sum(axis=1), dtype=np.float64)

    def dew_night_percent(self, month: int | None = None) -> Floats:
        """Nights with usable dew of all counted [%], (cells,); NaN where none counts."""
        return 100 * self.mean("with_dew", month)

    def mean(self, name: str, month: int | None = None) -> Floats:
        """A count or sum of hours by counted night, (cells,); NaN where none counts."""
        counted = self.pooled("counted", month)
        total = self.pooled(name, month)
        return np.where(counted > 0, total / np.maximum(counted, 1), np.nan)


def join_tallies(parts: Sequence[CellTallies]) -> CellTallies:
    """Cells of several parts one after the other."""
    return CellTallies(
        **{
            item.name: np.concatenate([getattr(part, item.name) for part in parts])
            for item in fields(CellTallies)
        }
    )


@dataclass(frozen=True)
class GridSeasons:
    """The whole answer of a grid.

    Attributes
    ----------
    file, choice
        What was asked.
    months, years
        Months counted, and years that the file has of them.
    shape
        Cells along each dimension of the grid.
    cells
        Place of each cell in the flattened grid, (cells,); cells not reached
        before a stop are absent.
    tallies
        Of these cells, in this order.
    rain_known
        Whether the file has rain.
    notes
        What was derived or assumed.
    """

    file: Sites
    choice: GridChoice
    months: tuple[int, ...]
    years: tuple[int, ...]
    shape: tuple[int, ...]
    cells: Counts
    tallies: CellTallies
    rain_known: bool
    notes: tuple[Remark, ...] = ()

    @property
    def size(self) -> int:
        """Cells of the whole grid."""
        return int(np.prod(self.shape, dtype=np.int64))

    @property
    def unfinished(self) -> bool:
        """Whether the run was stopped before its end."""
        return self.cells.size < self.size
