"""Names and units of gridded weather: the one table where they are known.

Standard names are those of the CF conventions; common names are those of the
public reanalyses and model archives. A variable counts by its standard name; by
its common name only where it has no standard name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from hayweather.units import FOOT_M, INCH_MM, KNOT_M_S, MILE_M

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
