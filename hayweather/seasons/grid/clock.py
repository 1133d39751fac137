"""The time axis of gridded weather: hourly stamps in UTC, and where their hours lie."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from hayweather.errors import WeatherFileError
from hayweather.seasons.record.grid_choice import GridChoice
from hayweather.weather.record import HOUR, Times

if TYPE_CHECKING:
    import xarray as xr

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
