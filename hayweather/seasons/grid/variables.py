"""Which variables of a gridded file serve, by the names and units they carry."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from hayweather.errors import WeatherFileError
from hayweather.seasons.grid.names import NAMES, UNITS, WIND_HEIGHT_M, GridUnit, grid_unit
from hayweather.seasons.record.grid_choice import GridChoice

if TYPE_CHECKING:
    import xarray as xr

_UNNAMED = ("", "unknown")
_WIND = ("wind_speed_m_s", "eastward_wind_m_s", "northward_wind_m_s")
_HUMIDITY = ("dew_point_c", "relative_humidity_percent", "specific_humidity")
_STILL = ("elevation_m",)
HEIGHT_SLACK_M = 0.1  # heights that differ by no more are the same, rounded (assumed)


@dataclass(frozen=True)
class GridVariable:
    """A variable that serves.

    Attributes
    ----------
    name
        In the file.
    served_as
        Key of `NAMES`.
    unit
        To the inside unit.
    is_mean
        Whether an instant's value is in truth the mean of an hour.
    """

    name: str
    served_as: str
    unit: GridUnit
    is_mean: bool = False


def find_variables(dataset: xr.Dataset, choice: GridChoice) -> dict[str, GridVariable]:
    """The variables that serve, by what they serve as.

    Raises
    ------
    WeatherFileError
        If a needed one is missing, two serve as the same, a unit is not told
        or not known, or nobody tells over which time an amount is summed.
    """
    found: dict[str, GridVariable] = {}
    for name, variable in dataset.variables.items():
        served_as = _served_as(name, variable.attrs)
        if served_as is None:
            continue
        if served_as in found:
            names = f"{found[served_as].name}, {name}"
            raise WeatherFileError("grid_two", choice.at(name), names=names, what=served_as)
        found[served_as] = _variable(str(name), served_as, variable.attrs, choice)
    _check_needed(found, dataset, choice)
    return _without_spare(found)


def _served_as(name: Hashable, attributes: Mapping[str, Any]) -> str | None:
    """What a variable serves as: by its standard name, else by its common name."""
    standard = str(attributes.get("standard_name", "")).strip()
    plain = str(name).lower()
    for served_as, known in NAMES.items():
        if standard in known.standard:
            return served_as
        if standard in _UNNAMED and (plain in known.common or plain in known.standard):
            return served_as
    return None


def _variable(
    name: str, served_as: str, attributes: Mapping[str, Any], choice: GridChoice
) -> GridVariable:
    """A variable with its unit, over a time that somebody tells."""
    unit = _unit(NAMES[served_as].units, attributes, choice.at(name))
    over = str(attributes.get("cell_methods", "")).lower()
    if unit.timing == "amount" and "time: sum" not in over and choice.sums is None:
        raise WeatherFileError("grid_sum", choice.at(name), unit=attributes["units"])
    if unit.timing == "rate" and "time: point" in over:
        raise WeatherFileError("grid_point", choice.at(name))
    return GridVariable(name, served_as, unit, "time: mean" in over)


def _unit(quantity: str, attributes: Mapping[str, Any], where: str) -> GridUnit:
    """The unit that attributes tell, or an error that shows what they say."""
    written = str(attributes.get("units", "")).strip()
    unit = grid_unit(quantity, written)
    if unit is None:
        key = "grid_unit_unknown" if written else "grid_unit_untold"
        raise WeatherFileError(key, where, value=written, known=", ".join(UNITS[quantity]))
    return unit


def _check_needed(
    found: Mapping[str, GridVariable], dataset: xr.Dataset, choice: GridChoice
) -> None:
    """Refuse a file without air temperature, humidity or wind."""
    names = ", ".join(str(name) for name in dataset.data_vars)[:200]
    wind = "wind_speed_m_s" in found or {*_WIND[1:]} <= set(found)
    has = {
        "air": "air_temperature_c" in found,
        "humidity": any(name in found for name in _HUMIDITY),
        "wind": wind,
    }
    for what, there in has.items():
        if not there:
            raise WeatherFileError(f"grid_needs_{what}", choice.file.name, found=names)


def _without_spare(found: dict[str, GridVariable]) -> dict[str, GridVariable]:
    """Of several humidities or winds the first that serves."""
    humidity = next(name for name in _HUMIDITY if name in found)
    spare = {name for name in _HUMIDITY if name != humidity}
    spare |= set(_WIND[1:]) if "wind_speed_m_s" in found else {"wind_speed_m_s"}
    return {name: variable for name, variable in found.items() if name not in spare}


def is_still(variable: GridVariable) -> bool:
    """Whether a variable does not change with time."""
    return variable.served_as in _STILL


def wind_height_m(
    dataset: xr.Dataset, variables: Mapping[str, GridVariable], choice: GridChoice
) -> float:
    """Height of the wind above ground: as the file says, else the user.

    Raises
    ------
    WeatherFileError
        If nobody tells it, or both differ.
    """
    name = next(variables[key].name for key in _WIND if key in variables)
    told = _height_of(dataset, name, choice)
    said = choice.wind_height_m
    if told is None:
        if said is None:
            raise WeatherFileError("grid_wind_height", choice.at(name))
        return said
    if said is not None and abs(told - said) > HEIGHT_SLACK_M:
        heights = {"told": f"{told:g}", "said": f"{said:g}"}
        raise WeatherFileError("grid_wind_height_differs", choice.at(name), **heights)
    return told


def _height_of(dataset: xr.Dataset, name: str, choice: GridChoice) -> float | None:
    """Height that a scalar coordinate or the name itself tells."""
    for label, axis in dataset[name].coords.items():
        if axis.attrs.get("standard_name") == "height" and axis.size == 1:
            unit = _unit("length", axis.attrs, choice.at(label))
            return float(axis.values.reshape(-1)[0]) * unit.factor
    return WIND_HEIGHT_M.get(name.lower())
