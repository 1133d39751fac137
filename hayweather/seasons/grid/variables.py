"""Which variables of a gridded file serve, by the names and units they carry."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from hayweather.errors import WeatherFileError
from hayweather.seasons.record.sites import GridChoice
from hayweather.units import FOOT_M, INCH_MM, KNOT_M_S, MILE_M

if TYPE_CHECKING:
    import xarray as xr


Timing = Literal["instant", "rate", "amount", "still"]


@dataclass(frozen=True)
class GridUnit:
    """One unit: ``inside = value * factor + offset``, and what it says of time.

    Attributes
    ----------
    timing
        "rate": a mean over the hour; "amount": a sum over it; "instant":
        neither.
    """

    factor: float
    offset: float = 0.0
    timing: Timing = "instant"


@dataclass(frozen=True)
class GridName:
    """One quantity that serves.

    Attributes
    ----------
    standard, common
        Standard names of CF; names in use, small letters.
    units
        Key of `UNITS`.
    """

    standard: tuple[str, ...]
    common: tuple[str, ...]
    units: str


NAMES: dict[str, GridName] = {
    "air_temperature_c": GridName(
        ("air_temperature",), ("t2m", "2t", "tas", "t2", "temperature_2m", "temp"), "temperature"
    ),
    "dew_point_c": GridName(
        ("dew_point_temperature",),
        ("d2m", "2d", "tdps", "dew_point_2m", "dew_point", "dewpoint"),
        "temperature",
    ),
    "relative_humidity_percent": GridName(
        ("relative_humidity",), ("hurs", "rh", "r2", "rh2m", "relative_humidity_2m"), "percent"
    ),
    "specific_humidity": GridName(
        ("specific_humidity",), ("huss", "q2m", "q2", "sh2", "qv2m"), "ratio"
    ),
    "wind_speed_m_s": GridName(
        ("wind_speed",), ("sfcwind", "si10", "ws10", "wind_speed_10m"), "wind"
    ),
    "eastward_wind_m_s": GridName(("eastward_wind",), ("u10", "10u", "uas", "u10m"), "wind"),
    "northward_wind_m_s": GridName(("northward_wind",), ("v10", "10v", "vas", "v10m"), "wind"),
    "cloud_fraction": GridName(("cloud_area_fraction",), ("tcc", "clt", "cloud_cover"), "fraction"),
    "shortwave_w_m2": GridName(
        (
            "surface_downwelling_shortwave_flux_in_air",
            "surface_downwelling_shortwave_flux",
            "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air",
        ),
        ("rsds", "ssrd", "swdown", "swgdn"),
        "sun",
    ),
    "rain_mm": GridName(
        (
            "precipitation_flux",
            "precipitation_amount",
            "lwe_precipitation_rate",
            "lwe_thickness_of_precipitation_amount",
        ),
        ("pr", "tp", "precip", "precipitation", "prectot"),
        "rain",
    ),
    "pressure_kpa": GridName(
        ("surface_air_pressure",), ("sp", "ps", "surface_pressure"), "pressure"
    ),
    "elevation_m": GridName(("surface_altitude",), ("orog", "elevation", "altitude"), "length"),
}

WIND_HEIGHT_M = {
    **dict.fromkeys(("u10", "v10", "10u", "10v", "u10m", "v10m"), 10.0),
    **dict.fromkeys(("si10", "ws10", "wind_speed_10m"), 10.0),
}
"""Height that a common name itself tells [m]."""

_RATE_3600 = GridUnit(3600.0, timing="rate")
UNITS: dict[str, dict[str, GridUnit]] = {
    "temperature": {
        **dict.fromkeys(("k", "kelvin", "degk"), GridUnit(1.0, -273.15)),
        **dict.fromkeys(
            ("degc", "degree_c", "degrees_c", "celsius", "degrees_celsius", "°c"), GridUnit(1.0)
        ),
        **dict.fromkeys(("degf", "degree_f", "fahrenheit", "°f"), GridUnit(5 / 9, -160 / 9)),
    },
    "percent": {"%": GridUnit(1.0), "percent": GridUnit(1.0), "1": GridUnit(100.0)},
    "fraction": {
        **dict.fromkeys(("1", "(0 - 1)", "0-1"), GridUnit(1.0)),
        **dict.fromkeys(("%", "percent"), GridUnit(0.01)),
        **dict.fromkeys(("okta", "oktas"), GridUnit(0.125)),
    },
    "ratio": {
        **dict.fromkeys(("kg kg-1", "kg/kg", "1"), GridUnit(1.0)),
        **dict.fromkeys(("g kg-1", "g/kg"), GridUnit(1e-3)),
    },
    "wind": {
        **dict.fromkeys(("m s-1", "m/s", "meters/second"), GridUnit(1.0)),
        **dict.fromkeys(("km h-1", "km/h"), GridUnit(1 / 3.6)),
        **dict.fromkeys(("knot", "knots", "kt"), GridUnit(KNOT_M_S)),
        **dict.fromkeys(("mile hour-1", "mph"), GridUnit(MILE_M / 3600)),
    },
    "pressure": {
        "pa": GridUnit(1e-3),
        **dict.fromkeys(("hpa", "mbar", "millibar"), GridUnit(0.1)),
        "kpa": GridUnit(1.0),
    },
    "sun": {
        **dict.fromkeys(("w m-2", "w/m2"), GridUnit(1.0, timing="rate")),
        **dict.fromkeys(("j m-2", "j/m2"), GridUnit(1 / 3600, timing="amount")),
    },
    "rain": {
        **dict.fromkeys(("kg m-2 s-1", "kg/m2/s", "mm s-1", "mm/s"), _RATE_3600),
        **dict.fromkeys(("mm h-1", "mm/h", "mm/hr", "mm hr-1"), GridUnit(1.0, timing="rate")),
        "m s-1": GridUnit(3.6e6, timing="rate"),
        **dict.fromkeys(("kg m-2", "mm", "kg/m2"), GridUnit(1.0, timing="amount")),
        "m": GridUnit(1000.0, timing="amount"),
        "cm": GridUnit(10.0, timing="amount"),
        **dict.fromkeys(("in", "inch", "inches"), GridUnit(INCH_MM, timing="amount")),
    },
    "length": {
        **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), GridUnit(1.0)),
        **dict.fromkeys(("ft", "foot", "feet"), GridUnit(FOOT_M)),
        "km": GridUnit(1000.0),
    },
}


def grid_unit(quantity: str, text: str) -> GridUnit | None:
    """The unit of `quantity` that a file spells `text`, or None when it is not known.

    Examples
    --------
    >>> grid_unit("rain", "kg m**-2 s**-1").factor
    3600.0
    >>> grid_unit("temperature", "m") is None
    True
    """
    plain = " ".join(text.replace("**", "").replace("^", "").split()).lower()
    return UNITS[quantity].get(plain)


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
