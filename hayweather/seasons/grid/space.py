"""The cells of a grid: where they lie, how high, and on which clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hayweather.errors import WeatherFileError
from hayweather.seasons.grid.names import UNITS
from hayweather.seasons.grid.variables import GridVariable
from hayweather.seasons.record.grid_choice import GridChoice
from hayweather.weather.record import Floats

if TYPE_CHECKING:
    import xarray as xr

_DEGREES = {
    "latitude": ("degrees_north", "degree_north", "degrees_n", "degree_n", "degreesn", "degreen"),
    "longitude": ("degrees_east", "degree_east", "degrees_e", "degree_e", "degreese", "degreee"),
}
_COMMON = {"latitude": ("latitude", "lat", "xlat"), "longitude": ("longitude", "lon", "xlong")}
_DEGREES_AN_HOUR = 15.0


@dataclass(frozen=True)
class GridSpace:
    """Cells of a dataset.

    Attributes
    ----------
    dims, shape
        Dimensions besides time, and cells along each.
    latitude, longitude
        North and east positive [degrees], (cells,).
    elevation_m
        (cells,).
    """

    dims: tuple[str, ...]
    shape: tuple[int, ...]
    latitude: Floats
    longitude: Floats
    elevation_m: Floats

    @property
    def count(self) -> int:
        """Number of cells."""
        return int(self.latitude.size)


def space_of(
    dataset: xr.Dataset,
    variables: Mapping[str, GridVariable],
    time: str,
    choice: GridChoice,
) -> GridSpace:
    """The cells of a dataset.

    Parameters
    ----------
    dataset, variables
        The file and what serves of it.
    time
        Name of the time dimension.
    choice
        What the user says.

    Raises
    ------
    WeatherFileError
        If places or elevations are not told, or the variables lie on
        different cells.
    """
    dims = _dims(dataset, variables, time, choice)
    shape = tuple(int(dataset.sizes[dim]) for dim in dims)
    latitude, longitude = (
        _degrees(dataset, what, dims, shape, choice) for what in ("latitude", "longitude")
    )
    if np.nanmax(np.abs(latitude)) > 90 or np.nanmax(np.abs(longitude)) > 360:
        raise WeatherFileError("grid_places", choice.file.name)
    longitude = np.where(longitude > 180, longitude - 360, longitude)
    elevation = _elevation(dataset, variables, dims, shape, choice)
    return GridSpace(dims, shape, latitude, longitude, elevation)


def _dims(
    dataset: xr.Dataset, variables: Mapping[str, GridVariable], time: str, choice: GridChoice
) -> tuple[str, ...]:
    """Dimensions besides time, none, one or two, the same for all variables."""
    air = dataset[variables["air_temperature_c"].name]
    dims = tuple(str(dim) for dim in air.dims if dim != time and air.sizes[dim] > 1)
    for variable in variables.values():
        if variable.served_as == "elevation_m":
            continue
        sizes = dataset[variable.name].sizes
        own = {str(dim) for dim in sizes if dim != time and sizes[dim] > 1}
        if own != set(dims) or time not in sizes:
            where = choice.at(variable.name)
            found = ", ".join(str(dim) for dim in sizes)
            raise WeatherFileError("grid_dims", where, found=found, wanted=", ".join([time, *dims]))
    if len(dims) > 2:
        found = ", ".join(str(dim) for dim in air.dims)
        raise WeatherFileError("grid_dims_many", choice.file.name, found=found)
    return dims


def _degrees(
    dataset: xr.Dataset,
    what: str,
    dims: tuple[str, ...],
    shape: tuple[int, ...],
    choice: GridChoice,
) -> Floats:
    """Latitudes or longitudes of all cells."""
    found = [
        str(name)
        for name, variable in dataset.variables.items()
        if variable.attrs.get("standard_name") == what
        or ("standard_name" not in variable.attrs and str(name).lower() in _COMMON[what])
    ]
    if len(found) != 1:
        names = ", ".join(str(name) for name in dataset.coords)
        raise WeatherFileError("grid_no_place", choice.file.name, what=what, found=names)
    axis = dataset[found[0]]
    written = str(axis.attrs.get("units", "")).strip()
    if written.lower() not in _DEGREES[what]:
        where = choice.at(found[0])
        key = "grid_unit_unknown" if written else "grid_unit_untold"
        raise WeatherFileError(key, where, value=written, known=_DEGREES[what][0])
    return _flat(dataset, axis, dims, shape)


def _flat(
    dataset: xr.Dataset, values: xr.DataArray, dims: tuple[str, ...], shape: tuple[int, ...]
) -> Floats:
    """Something that does not change with time, for every cell."""
    still = values.isel({dim: 0 for dim in values.dims if dim not in dims})
    wanted = {dim: dataset.sizes[dim] for dim in dims if dim not in still.dims}
    spread = still.expand_dims(wanted).transpose(*dims)
    return np.asarray(spread.values, dtype=np.float64).reshape(int(np.prod(shape, dtype=np.int64)))


def _elevation(
    dataset: xr.Dataset,
    variables: Mapping[str, GridVariable],
    dims: tuple[str, ...],
    shape: tuple[int, ...],
    choice: GridChoice,
) -> Floats:
    """Elevation of every cell: the file's, else one for all; never taken as sea level."""
    variable = variables.get("elevation_m")
    if variable is None and choice.elevation_m is None:
        known = ", ".join(UNITS["length"])
        raise WeatherFileError("grid_elevation", choice.file.name, known=known)
    if variable is None or choice.elevation_m is not None:
        return np.full(int(np.prod(shape, dtype=np.int64)), choice.elevation_m, dtype=np.float64)
    return _flat(dataset, dataset[variable.name], dims, shape) * variable.unit.factor


def zone_of(longitude: float, choice: GridChoice) -> str:
    """The clock of a cell: as the user says, else the whole hour nearest to the sun's.

    Examples
    --------
    >>> from pathlib import Path
    >>> zone_of(-108.5, GridChoice(Path("a.nc")))
    'Etc/GMT+7'
    """
    if choice.timezone is not None:
        return choice.timezone
    hours = round(longitude / _DEGREES_AN_HOUR)
    return f"Etc/GMT{-hours:+d}" if hours else "Etc/GMT"
