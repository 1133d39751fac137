"""Some hours of some cells, from a dataset to the columns of the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hayweather.errors import WeatherFileError
from hayweather.seasons.grid.axes import HOUR_S, GridClock, GridSpace, clock_of, space_of
from hayweather.seasons.grid.variables import (
    GridVariable,
    find_variables,
    is_still,
    wind_height_m,
)
from hayweather.seasons.record.sites import GridChoice
from hayweather.weather import air
from hayweather.weather.quality import (
    MOST_BLANKED_SHARE,
    RANGES,
    cap_dew_point,
    cap_humidity,
    dew_point_beyond_noise,
    lift_sun,
)
from hayweather.weather.record import COLUMN_KINDS, HOUR, Floats

if TYPE_CHECKING:
    import xarray as xr


Columns = dict[str, Floats]
_ROUNDING = {"cloud_fraction": 0.02, "rain_mm": 0.02}
"""Packed numbers of archives pass their limits by this much; they are clipped (assumed)."""
_RATIO_RANGE = (0.0, 0.05)
_COMPONENT_RANGE = (-75.0, 75.0)
_VAPOR_RATIO = 0.622


@dataclass(frozen=True)
class GridLayout:
    """What a dataset says of itself.

    Attributes
    ----------
    choice
        What the user says of it.
    clock, space, variables
        Its times, cells and the variables that serve.
    wind_height_m
        Height of the wind above ground.
    """

    choice: GridChoice
    clock: GridClock
    space: GridSpace
    variables: Mapping[str, GridVariable]
    wind_height_m: float

    @property
    def has(self) -> set[str]:
        """What the file brings, as columns of the record."""
        return set(self.variables) & set(COLUMN_KINDS)


def layout_of(dataset: xr.Dataset, choice: GridChoice) -> GridLayout:
    """Read what a dataset says of itself; no values but those of its axes.

    Raises
    ------
    WeatherFileError
        If it does not say enough.
    """
    clock = clock_of(dataset, choice)
    variables = find_variables(dataset, choice)
    space = space_of(dataset, variables, clock.dim, choice)
    height = wind_height_m(dataset, variables, choice)
    return GridLayout(choice, clock, space, variables, height)


def hours_of(dataset: xr.Dataset, layout: GridLayout, first: np.datetime64, count: int) -> Columns:
    """The columns of the record for some hours, each (hours, cells).

    Parameters
    ----------
    dataset, layout
        The file and what it says.
    first
        UTC start of the first hour.
    count
        Number of hours.

    Raises
    ------
    WeatherFileError
        If a value is not possible, or stamps lie off the hour.
    """
    found = {
        name: _checked(_hourly(dataset, layout, variable, first, count), layout, variable, first)
        for name, variable in layout.variables.items()
        if not is_still(variable)
    }
    if "wind_speed_m_s" not in found:
        east, north = found.pop("eastward_wind_m_s"), found.pop("northward_wind_m_s")
        found["wind_speed_m_s"] = np.hypot(east, north)
    return _with_dew_point(found, layout, first)


def _hourly(
    dataset: xr.Dataset,
    layout: GridLayout,
    variable: GridVariable,
    first: np.datetime64,
    count: int,
) -> Floats:
    """One variable on whole hours, in its inside unit."""
    places = layout.clock.stamps.astype(np.int64) + _shift(variable, layout.clock)
    begin = int(first.astype("datetime64[s]").astype(np.int64))
    near = np.flatnonzero((places > begin - HOUR_S) & (places < begin + (count + 1) * HOUR_S))
    values = np.full((count + 2, layout.space.count), np.nan)
    if near.size == 0:
        return values[1:-1]
    rows = slice(int(near[0]), int(near[-1]) + 1)
    index, phase = np.divmod(places[rows] - begin, HOUR_S)
    phases = np.unique(phase)
    half = HOUR_S // 2
    if phases.size > 1 or phases[0] not in (0, half) or (phases[0] and _over_time(variable)):
        where = layout.choice.at(layout.clock.dim)
        raise WeatherFileError("grid_phase", where, minutes=int(phases[-1]) // 60)
    values[index + 1] = _read(dataset, layout, variable, rows)
    if phases[0] == half:  # on the line between two half hours
        values[1:] = 0.5 * (values[:-1] + values[1:])
    return values[1:-1]


def _over_time(variable: GridVariable) -> bool:
    """Whether a value belongs to an hour."""
    return variable.unit.timing in ("rate", "amount")


def _shift(variable: GridVariable, clock: GridClock) -> int:
    """Seconds from the stamp to where a value lies: its instant, or the begin of its hour."""
    if _over_time(variable):
        return -clock.before_s
    return HOUR_S // 2 - clock.before_s if variable.is_mean else 0


def _read(
    dataset: xr.Dataset, layout: GridLayout, variable: GridVariable, rows: slice
) -> NDArray[np.float64]:
    """Values of some stamps in the inside unit, (stamps, cells)."""
    time, dims = layout.clock.dim, layout.space.dims
    part = dataset[variable.name].isel({time: rows})
    part = part.isel({dim: 0 for dim in part.dims if dim != time and dim not in dims})
    values = np.asarray(part.transpose(time, *dims).values, dtype=np.float64)
    unit = variable.unit
    return values.reshape(values.shape[0], -1) * unit.factor + unit.offset


def _checked(
    values: Floats, layout: GridLayout, variable: GridVariable, first: np.datetime64
) -> Floats:
    """Values within what is possible; a rounding beyond is clipped, more is refused."""
    name = variable.served_as
    other = _RATIO_RANGE if name == "specific_humidity" else _COMPONENT_RANGE
    low, high = RANGES.get(name, other)
    slack = _ROUNDING.get(name, 0.0)
    with np.errstate(invalid="ignore"):
        outside = (values < low - slack) | (values > high + slack)
    if outside.any():
        raise _impossible(values, outside, layout, variable, first)
    if name == "shortwave_w_m2":
        return lift_sun(values)[0]
    return np.clip(values, low, high) if slack else values


def _impossible(
    values: Floats,
    outside: NDArray[np.bool_],
    layout: GridLayout,
    variable: GridVariable,
    first: np.datetime64,
) -> WeatherFileError:
    """The error for a value that cannot be, with its place and hour."""
    row, cell = (int(place[0]) for place in np.nonzero(outside))
    space, unit = layout.space, variable.unit
    written = (values[row, cell] - unit.offset) / unit.factor
    return WeatherFileError(
        "grid_impossible",
        layout.choice.at(variable.name),
        value=f"{written:g}",
        latitude=f"{space.latitude[cell]:g}",
        longitude=f"{space.longitude[cell]:g}",
        time=f"{first + row * HOUR}Z",
    )


def _with_dew_point(found: Columns, layout: GridLayout, first: np.datetime64) -> Columns:
    """The columns with a dew point, from whichever humidity the file gives."""
    temperature = found["air_temperature_c"]
    humidity = found.pop("relative_humidity_percent", None)
    ratio = found.pop("specific_humidity", None)
    if humidity is not None:
        capped, _ = cap_humidity(humidity)
        found["dew_point_c"] = air.dew_point_from_humidity(temperature, capped)
    elif ratio is not None:
        found["dew_point_c"] = np.minimum(_from_ratio(ratio, found, layout), temperature)
    else:
        found["dew_point_c"] = _dew_point(found, layout, first)
    return found


def _from_ratio(ratio: Floats, found: Columns, layout: GridLayout) -> Floats:
    """Dew point [C] from specific humidity [kg/kg] and pressure, or the elevation's pressure."""
    pressure = found.get("pressure_kpa")
    if pressure is None:
        heights = layout.space.elevation_m.tolist()
        pressure = np.array([air.standard_pressure(height) for height in heights])
    vapor = ratio * pressure / (_VAPOR_RATIO + (1 - _VAPOR_RATIO) * ratio)
    with np.errstate(divide="ignore"):
        return air.dew_point_from_vapor_pressure(np.where(vapor > 0, vapor, np.nan))


def _dew_point(found: Columns, layout: GridLayout, first: np.datetime64) -> Floats:
    """The dew point, missing where it stands above the air by more than noise; else capped.

    Raises
    ------
    WeatherFileError
        If many do.
    """
    dew, temperature = found["dew_point_c"], found["air_temperature_c"]
    beyond = dew_point_beyond_noise(dew, temperature)
    if beyond.sum() > MOST_BLANKED_SHARE * np.isfinite(dew).sum():
        row, cell = divmod(int(beyond.argmax()), dew.shape[1])
        raise WeatherFileError(
            "grid_dew_point",
            layout.choice.at(layout.variables["dew_point_c"].name),
            dew=f"{dew[row, cell]:.1f}",
            air=f"{temperature[row, cell]:.1f}",
            time=f"{first + row * HOUR}Z",
        )
    return cap_dew_point(np.where(beyond, np.nan, dew), temperature)[0]
