"""A grid as a NetCDF file: counts and hours of every cell by year and month, on the grid itself.

Attributes are those of the CF conventions 1.11 (published); cells not reached
before a stop are blank.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather import __version__
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import COUNTS, GridSeasons
from hayweather.show.grid_form import HOURS
from hayweather.show.grid_sentences import (
    cell_sentences,
    grid_counting,
    grid_rests_on,
    grid_title,
    grid_voice,
)
from hayweather.show.safety import safety_texts
from hayweather.show.voice import Voice

if TYPE_CHECKING:
    import xarray as xr

ENDINGS = (".nc", ".nc4")
BLANK_COUNT = -1
_TIMES = ("year", "month")
_DEGREES = {"latitude": "degrees_north", "longitude": "degrees_east"}

Variable = tuple[tuple[str, ...], np.ndarray, dict[str, Any]]


def grid_netcdf(grid: GridSeasons, units: UnitSystem | None = None) -> bytes:
    """A grid as the bytes of a NetCDF 4 file; `units` are those of the sentences in it.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    dataset = grid_dataset(grid, units)
    counts = {name: {"_FillValue": BLANK_COUNT} for name in (*COUNTS, "averaged_in")}
    plain = {name: {"_FillValue": None} for name in (*_DEGREES, *_TIMES)}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "grid.nc")
        dataset.to_netcdf(path, engine="h5netcdf", encoding={**counts, **plain})
        return path.read_bytes()


def grid_dataset(grid: GridSeasons, units: UnitSystem | None = None) -> xr.Dataset:
    """A grid as a dataset: the dimensions of its cells, then year and month."""
    import xarray

    voice, tallies = grid_voice(grid, units), grid.tallies
    cells = ("y", "x") if len(grid.shape) == 2 else ("cell",)
    values: dict[str, Variable] = {}
    for name in COUNTS:
        counts = _on_grid(grid, getattr(tallies, name), BLANK_COUNT)
        values[name] = _described(cells + _TIMES, counts, name, "1", voice)
    for name, key in HOURS.items():
        hours = _on_grid(grid, getattr(tallies, key), np.nan)
        values[f"{name}_hours"] = _described(cells + _TIMES, hours, f"{name}_hours", "h", voice)
    kept = _on_grid(grid, tallies.kept.astype(np.int64), BLANK_COUNT)
    values["averaged_in"] = _described((*cells, "year"), kept, "averaged_in", "1", voice)
    for name, found, unit in (
        ("dew_nights_percent", tallies.dew_night_percent(), "percent"),
        ("median_dew_hours", tallies.median_dew_h, "h"),
        ("four_in_five_dew_hours", tallies.four_in_five_dew_h, "h"),
    ):
        values[name] = _described(cells, _on_grid(grid, found, np.nan), name, unit, voice)
    return xarray.Dataset(values, _axes(grid, cells), _said(grid, voice))


def _described(
    dims: tuple[str, ...], values: np.ndarray, name: str, unit: str, voice: Voice
) -> Variable:
    """A variable with its unit and its name in words."""
    return dims, values, {"units": unit, "long_name": voice.say(f"grid_file_{name}")}


def _on_grid(grid: GridSeasons, values: np.ndarray, blank: float) -> np.ndarray:
    """Values of the cells at their places, (cells along each dimension, ...)."""
    whole = np.full((grid.size, *values.shape[1:]), blank, dtype=values.dtype)
    whole[grid.cells] = values
    return whole.reshape(*(grid.shape or (1,)), *values.shape[1:])


def _axes(grid: GridSeasons, cells: tuple[str, ...]) -> dict[str, Variable]:
    """Places of the cells, years and months."""
    axes: dict[str, Variable] = {
        name: (
            cells,
            _on_grid(grid, getattr(grid.tallies, name), np.nan),
            {"standard_name": name, "units": unit},
        )
        for name, unit in _DEGREES.items()
    }
    times = {"year": grid.years, "month": grid.months}
    return axes | {name: ((name,), np.array(found), {}) for name, found in times.items()}


def _said(grid: GridSeasons, voice: Voice) -> dict[str, str]:
    """What a reader must know of the file, as its attributes."""
    title = grid_title(grid, voice)
    invented = [voice.say("seasons_invented")] if grid.file.invented else []
    unknown = [] if grid.rain_known else [voice.say("seasons_rain_unknown")]
    counted = [*unknown, *cell_sentences(grid, voice), grid_counting(grid, voice)]
    return {
        "Conventions": "CF-1.11",
        "title": " ".join([*invented, title]),
        "source": f"hayweather {__version__}, {grid.choice.file.name}",
        "comment": "\n".join([*counted, *grid_rests_on(grid, voice)]),
        "cautions": "\n".join(safety_texts(voice)),
    }
