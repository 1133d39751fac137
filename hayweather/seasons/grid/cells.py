"""One block of a grid: a part of a dataset in, its nights counted out.

The same function does a block on one core, on a cluster of this machine and on
any other; it needs nothing but the part and the job.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather.baling.setting import Setting
from hayweather.farm.records import Site, WeatherChoice
from hayweather.nights.drive import setting_in
from hayweather.seasons.blocks import Piece, run_nights
from hayweather.seasons.grid.axes import zone_of
from hayweather.seasons.grid.columns import Columns, GridLayout, hours_of, layout_of
from hayweather.seasons.nights import NightCuts, cuts_of, evenings_between, move_cuts
from hayweather.seasons.record.grid import COUNTS, SUMS, CellTallies
from hayweather.seasons.record.nights import (
    LEFT_OUT_SHARE,
    Missing,
    Nights,
    join_nights,
    unknown_nights,
)
from hayweather.seasons.record.sites import GridChoice, SeasonSite, Sites
from hayweather.seasons.sites import farm_of
from hayweather.seasons.tally import reached_by, usable
from hayweather.weather.record import HOUR, Booleans, HourlyWeather, Source

if TYPE_CHECKING:
    import xarray as xr

BEFORE_H = 72  # rain of 48 h before sunset, and the afternoon before the evening
AFTER_H = 60  # to the end of a lane far west of Greenwich
_FOUR_IN_FIVE = 0.8


@dataclass(frozen=True)
class GridJob:
    """What is asked of every cell.

    Attributes
    ----------
    file
        What the cells share: windrow, baler, rig.
    choice
        What the user says of the weather.
    months, years
        Months, 1 to 12, and years, each in order.
    size
        Nights that are run together.
    """

    file: Sites
    choice: GridChoice
    months: tuple[int, ...]
    years: tuple[int, ...]
    size: int | None = None


def tally_cells(part: xr.Dataset, job: GridJob) -> CellTallies:
    """Nights of the cells of a part of a dataset, counted by cell, year and month.

    Parameters
    ----------
    part
        All times of some cells; values are read a year at a time.
    job
        What is asked.

    Raises
    ------
    WeatherFileError
        If the part does not say enough of itself, or holds an impossible value.
    """
    layout = layout_of(part, job.choice)
    found: list[list[Nights]] = [[] for _ in range(layout.space.count)]
    pieces = _pieces(part, layout, job, found)
    for labels, nights in run_nights(pieces, size=job.size, cores=1):
        for cell in np.unique(labels).tolist():
            found[cell].append(nights.only(labels == cell))
    return _counted([join_nights(parts) for parts in found], layout, job)


def _pieces(
    part: xr.Dataset, layout: GridLayout, job: GridJob, found: list[list[Nights]]
) -> Iterator[Piece]:
    """Nights of all cells ready to run, one year in memory after the other.

    Those of a cell without any value, such as one of the sea, need no run; they
    go to what was found.
    """
    for number in job.years:
        year = _Year(part, layout, job, number)
        blank = np.isnan(year.columns["air_temperature_c"]).all(axis=0)
        for cell in np.flatnonzero(blank).tolist():
            found[cell].append(year.unknown())
        yield from year.pieces(np.flatnonzero(~blank).tolist())


class _Year:
    """One year of some cells."""

    def __init__(self, part: xr.Dataset, layout: GridLayout, job: GridJob, year: int) -> None:
        self.layout, self.job, self.year = layout, job, year
        self.evenings = evenings_between(date(year, 1, 1), date(year, 12, 31), job.months)
        self.begin = np.datetime64(self.evenings[0], "s") - BEFORE_H * HOUR
        end = np.datetime64(self.evenings[-1], "s") + AFTER_H * HOUR
        self.columns: Columns = hours_of(part, layout, self.begin, int((end - self.begin) / HOUR))
        self.cuts: dict[str, NightCuts] = {}

    def unknown(self) -> Nights:
        """All nights of a cell that has no weather."""
        days = np.array(self.evenings, dtype="datetime64[D]")
        return unknown_nights(days, Missing.AIR_TEMPERATURE)

    def pieces(self, cells: Sequence[int]) -> Iterator[Piece]:
        """The nights of each cell, ready to run."""
        for cell in cells:
            site = self._site(cell)
            series = self._series(cell)
            setting = _setting(self.job, site, series)
            yield Piece(cell, series, self._plan(site), setting, self.job.file.capacity_kg_h)

    def _site(self, cell: int) -> Site:
        """A cell as a site."""
        space = self.layout.space
        longitude = float(space.longitude[cell])
        return Site(
            name=f"cell {cell}",
            latitude=float(space.latitude[cell]),
            longitude=longitude,
            elevation_m=float(space.elevation_m[cell]),
            timezone=zone_of(longitude, self.job.choice),
        )

    def _series(self, cell: int) -> HourlyWeather:
        """The hours of one cell."""
        columns = {
            name: np.ascontiguousarray(values[:, cell : cell + 1])
            for name, values in self.columns.items()
        }
        source = Source(self.job.choice.file.name)
        return HourlyWeather(np.array([self.begin]), columns, self.layout.wind_height_m, source)

    def _plan(self, site: Site) -> NightCuts:
        """Where the nights of a cell lie; cells of one clock share all but sunset and sunrise."""
        zone = str(site.timezone)
        place = (site.latitude, site.longitude)
        if zone not in self.cuts:
            hours = self.columns["air_temperature_c"].shape[0]
            blank = np.full((hours, 1), np.nan)
            names = ("air_temperature_c", "dew_point_c", "wind_speed_m_s")
            series = HourlyWeather(
                np.array([self.begin]), dict.fromkeys(names, blank), 2.0, Source("")
            )
            self.cuts[zone] = cuts_of(series, zone, *place, self.evenings)
            return self.cuts[zone]
        return move_cuts(self.cuts[zone], self.begin, *place)


def _setting(job: GridJob, site: Site, series: HourlyWeather) -> Setting:
    """What holds at a cell."""
    place = SeasonSite(site, (), WeatherChoice(service=None))
    field = replace(job.file.windrow, site=site.name)
    return setting_in(farm_of(job.file, place), field, series, series.start[0])


def _counted(nights: Sequence[Nights], layout: GridLayout, job: GridJob) -> CellTallies:
    """Nights of every cell as counts."""
    shape = (len(nights), len(job.years), len(job.months))
    counts: dict[str, Any] = {name: np.zeros(shape, dtype=np.int64) for name in COUNTS}
    sums: dict[str, Any] = {name: np.zeros(shape) for name in SUMS}
    spread = np.full((2, len(nights)), np.nan)
    useful = job.file.baler.useful_hours
    for cell, found in enumerate(nights):
        place = _places(found, job)
        for name, marks in _marks(found, useful).items():
            np.add.at(counts[name][cell], (place[0][marks], place[1][marks]), 1)
        good = found.counted
        for name, total in sums.items():
            np.add.at(total[cell], (place[0][good], place[1][good]), getattr(found, name)[good])
        spread[:, cell] = _spread(found, counts["nights"][cell], counts["missing"][cell], place[0])
    space = layout.space
    return CellTallies(
        latitude=space.latitude,
        longitude=space.longitude,
        **counts,
        **sums,
        median_dew_h=spread[0],
        four_in_five_dew_h=spread[1],
    )


def _places(found: Nights, job: GridJob) -> tuple[np.ndarray, np.ndarray]:
    """Place of each night's year and month."""
    months = {month: place for place, month in enumerate(job.months)}
    month = np.array([months[month] for month in found.month.tolist()], dtype=np.int64)
    return np.searchsorted(job.years, found.year), month


def _marks(found: Nights, useful_hours: float) -> dict[str, Booleans]:
    """Which nights each count counts."""
    return {
        "nights": np.ones(found.count, dtype=bool),
        "missing": ~found.known,
        "rain_nights": found.rain_night,
        "counted": found.counted,
        "with_dew": usable(found, useful_hours),
    }


def _spread(
    found: Nights, nights: np.ndarray, missing: np.ndarray, year: np.ndarray
) -> tuple[float, float]:
    """Median hours on dew and those reached by four nights in five, of the years kept."""
    kept = missing.sum(axis=1) <= LEFT_OUT_SHARE * nights.sum(axis=1)
    hours = found.dew_h[found.counted & kept[year]]
    if hours.size == 0:
        return float("nan"), float("nan")
    return float(np.median(hours)), reached_by(hours, _FOUR_IN_FIVE)
