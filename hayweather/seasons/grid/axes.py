"""What a gridded file says of itself: opening, clock, cells, and its table ``[grid]``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from hayweather.errors import WeatherFileError
from hayweather.farm.keys import Key, Table
from hayweather.farm.values import Spot
from hayweather.farm.zones import read_zone
from hayweather.seasons.grid.variables import UNITS, GridVariable
from hayweather.seasons.record.sites import GridChoice
from hayweather.weather.record import HOUR, Floats, Times

if TYPE_CHECKING:
    import xarray as xr


ZARR_ENDINGS = (".zarr",)
PACKAGES = ("xarray", "dask", "zarr", "h5netcdf")
"""Of the extra `grid`; others may bring some of them, so all are looked for."""


def open_grid(path: Path) -> xr.Dataset:
    """A gridded file as a dataset whose values are read when they are used.

    Parameters
    ----------
    path
        NetCDF file or Zarr store.

    Raises
    ------
    WeatherFileError
        If the packages for it are not installed, or it cannot be read.
    """
    if any(find_spec(package) is None for package in PACKAGES):
        raise WeatherFileError("grid_not_installed", path.name)
    import xarray

    if not path.exists():
        raise WeatherFileError("grid_missing", str(path))
    try:
        if path.suffix.lower() in ZARR_ENDINGS or path.is_dir():
            return xarray.open_zarr(path, chunks=None)
        return xarray.open_dataset(path, chunks=None)
    except (OSError, ValueError, KeyError, ImportError):
        raise WeatherFileError("grid_unreadable", str(path)) from None


def stamp_of(path: Path) -> tuple[int, int]:
    """Size and newest change of a file or of all files of a store, to know it again."""
    files = [path] if path.is_file() else [item for item in path.rglob("*") if item.is_file()]
    states = [file.stat() for file in files]
    return sum(s.st_size for s in states), max((s.st_mtime_ns for s in states), default=0)


Hour = Literal["start", "center", "end"]
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([-+])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)
_UTC = ("UTC", "GMT", "Z")
_MINUTE = np.timedelta64(60, "s")
HOUR_S = 3600
_TIME_NAMES = ("time", "valid_time")


@dataclass(frozen=True)
class GridClock:
    """Stamps of a grid's time axis.

    Attributes
    ----------
    dim
        Name of the dimension.
    stamps
        UTC, ``datetime64[s]``, rising, (times,).
    hour
        Where the hour of a sum or mean lies.
    """

    dim: str
    stamps: Times
    hour: Hour

    @property
    def before_s(self) -> int:
        """Seconds from the begin of an hour to its stamp."""
        return {"start": 0, "center": HOUR_S // 2, "end": HOUR_S}[self.hour]


def offset_of(name: str) -> int | None:
    """Seconds east of UTC of a fixed offset; None for anything else.

    Examples
    --------
    >>> offset_of("UTC-7"), offset_of("utc"), offset_of("America/Denver")
    (-25200, 0, None)
    """
    if name.strip().upper() in _UTC:
        return 0
    match = _OFFSET.fullmatch(name.strip())
    if match is None:
        return None
    seconds = int(match[2]) * HOUR_S + int(match[3] or 0) * 60
    return -seconds if match[1] == "-" else seconds


def clock_of(dataset: xr.Dataset, choice: GridChoice) -> GridClock:
    """The time axis of a dataset.

    Raises
    ------
    WeatherFileError
        If there is none, its calendar is not the common one, steps are not
        hours, or nobody tells where the hours lie.
    """
    name = _time_name(dataset, choice)
    axis = dataset[name]
    if not np.issubdtype(axis.dtype, np.datetime64):
        calendar = getattr(axis.values.flat[0], "calendar", str(axis.dtype))
        raise WeatherFileError("grid_calendar", choice.at(name), value=calendar)
    offset = offset_of(choice.file_timezone) if choice.file_timezone else 0
    shift = np.timedelta64(offset or 0, "s")
    stamps: Times = np.asarray(axis.values.astype("datetime64[s]") - shift)
    _check_steps(stamps, choice, name)
    hour = _hour(dataset, name, choice)
    return GridClock(name, stamps, hour)


def _time_name(dataset: xr.Dataset, choice: GridChoice) -> str:
    """Name of the time axis."""
    found = [
        str(name)
        for name, axis in dataset.coords.items()
        if axis.dims == (name,)
        and (axis.attrs.get("standard_name") == "time" or str(name).lower() in _TIME_NAMES)
    ]
    if len(found) != 1:
        names = ", ".join(found) or ", ".join(str(name) for name in dataset.coords) or "-"
        raise WeatherFileError("grid_no_time", choice.file.name, found=names)
    return found[0]


def _check_steps(stamps: Times, choice: GridChoice, name: str) -> None:
    """Refuse stamps that are no hours in order."""
    steps = np.diff(stamps)
    if stamps.size < 2:
        raise WeatherFileError("grid_short", choice.at(name), hours=stamps.size)
    if np.isnat(stamps).any() or (steps <= np.timedelta64(0, "s")).any():
        place = int(np.argmax(np.isnat(steps) | (steps <= np.timedelta64(0, "s"))))
        raise WeatherFileError("grid_unsorted", choice.at(name), value=str(stamps[place + 1]))
    usual = np.median(steps.astype(np.int64))
    if usual != HOUR_S or (steps.astype(np.int64) % HOUR_S).any():
        uneven = steps[steps.astype(np.int64) % HOUR_S != 0]
        shown = uneven[0] if usual == HOUR_S else np.timedelta64(int(usual), "s")
        raise WeatherFileError("grid_step", choice.at(name), minutes=int(shown / _MINUTE))


def _hour(dataset: xr.Dataset, name: str, choice: GridChoice) -> Hour:
    """Where hours lie: as the file's bounds say, or the user."""
    told = _hour_of_bounds(dataset, name, choice)
    if told is None:
        if choice.hour is None:
            raise WeatherFileError("grid_hour", choice.at(name))
        return choice.hour
    if choice.hour not in (None, told):
        raise WeatherFileError("grid_hour_differs", choice.at(name), said=choice.hour, told=told)
    return told


def _hour_of_bounds(dataset: xr.Dataset, name: str, choice: GridChoice) -> Hour | None:
    """Where hours lie by the bounds of the first stamp; None where the file has none."""
    bounds = dataset[name].attrs.get("bounds") or dataset[name].encoding.get("bounds")
    if bounds is None or bounds not in dataset.variables:
        return None
    first = np.sort(dataset[bounds].values[0].astype("datetime64[s]"))
    stamp = dataset[name].values[0].astype("datetime64[s]")
    if first[1] - first[0] != HOUR:
        raise WeatherFileError(
            "grid_bounds", choice.at(bounds), minutes=int((first[1] - first[0]) / _MINUTE)
        )
    places: dict[int, Hour] = {0: "start", HOUR_S // 2: "center", HOUR_S: "end"}
    place = int((stamp - first[0]) / np.timedelta64(1, "s"))
    if place not in places:
        raise WeatherFileError("grid_bounds", choice.at(bounds), minutes=place // 60)
    return places[place]


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


GRID = Table(
    "grid",
    "one",
    GridChoice,
    (
        Key("file", "text", required=True, us='"weather.nc"'),
        Key("hour", "choice", choices=("start", "center", "end")),
        Key("file_timezone", "text", us='"UTC"'),
        Key("timezone", "text", us='"America/Denver"'),
        Key("wind_height", "number", "wind_height_m", "length", 0.3, 150, us="33"),
        Key("elevation", "number", "elevation_m", "elevation", -430, 9000, us="4330"),
        Key("sums", "choice", choices=("hour",)),
    ),
)


def choice_of(values: dict[str, Any], spot: Spot, folder: Path) -> GridChoice:
    """What a ``[grid]`` table says.

    Parameters
    ----------
    values
        Values by attribute.
    spot
        Where they stand.
    folder
        Folder that a relative path counts from.

    Raises
    ------
    FarmFileError
        If a zone is none, or the file's clock is no fixed offset.
    """
    choice = GridChoice(**values)
    if choice.timezone is not None:
        read_zone(choice.timezone, spot)
    if choice.file_timezone is not None and offset_of(choice.file_timezone) is None:
        raise spot.error("grid_clock", "file_timezone", value=choice.file_timezone)
    return replace(choice, file=folder / choice.file)
