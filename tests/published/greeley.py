"""ASCE-EWRI 2005, appendix C: Greeley, Colorado, 30 hours of July 2000.

The table prints two decimals, so half a digit of the last place is its
accuracy. Hours are ends of hours in standard time; the wind stands at 3 m.
"""

import csv
from functools import cache

import numpy as np
from published import reference_et
from published.checks import DATA, Check

SOURCE = "ASCE-EWRI 2005, appendix C, Greeley CO, 1-2 July 2000"
LATITUDE, LONGITUDE, ELEVATION_M, WIND_HEIGHT_M = 40.41, -104.78, 1462.4, 3.0
FIRST = np.datetime64("2000-07-01T22:00", "s")  # hour that ends at 16:00, zone centre 105 W
SURFACES = {"short_mm": reference_et.SHORT, "tall_mm": reference_et.TALL}
TOLERANCE_MM, OWN_CLOUD_TOLERANCE_MM, SUN_TOLERANCE_MJ = 0.0055, 0.02, 0.0055


@cache
def columns() -> dict[str, np.ndarray]:
    """The table by columns."""
    with (DATA / "greeley_hours.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


def times() -> np.ndarray:
    """UTC starts of the hours."""
    return FIRST + np.arange(len(columns()["hour"])) * np.timedelta64(3600, "s")


@cache
def extraterrestrial() -> np.ndarray:
    """Our own shortwave above the atmosphere [MJ/m2/h]."""
    return reference_et.extraterrestrial_mj(times(), LATITUDE, LONGITUDE)


@cache
def evapotranspiration(surface: str, own_cloud: bool) -> np.ndarray:
    """Our reference evapotranspiration [mm/h], with the table's or our cloud function."""
    table = columns()
    clouds = table["cloud_function"]
    if own_cloud:
        clouds = reference_et.own_cloud_function(
            times(), LATITUDE, LONGITUDE, ELEVATION_M, table["shortwave_mj"], np.nan
        )
    return reference_et.hourly_et(
        SURFACES[surface],
        table["temperature_c"],
        table["vapor_pressure_kpa"],
        table["shortwave_mj"],
        clouds,
        table["wind_3m_m_s"],
        WIND_HEIGHT_M,
        ELEVATION_M,
    )


def check(touches, piece, name, unit, theirs, tolerance, compute) -> Check:
    """One value of the table."""
    return Check(
        touches=touches,
        piece=piece,
        name=name,
        source=SOURCE,
        status="published",
        unit=unit,
        low=theirs - tolerance,
        high=theirs + tolerance,
        expected=theirs,
        tolerance=f"{tolerance:g}",
        relative=False,
        compute=compute,
    )


def sun_checks() -> list[Check]:
    """Extraterrestrial shortwave of each hour."""
    return [
        check(
            "sun",
            "Sun",
            f"extraterrestrial hour {row}",
            "MJ/m2/h",
            float(theirs),
            SUN_TOLERANCE_MJ,
            lambda row=row: float(extraterrestrial()[row]),
        )
        for row, theirs in enumerate(columns()["extraterrestrial_mj"])
    ]


def et_checks(surface: str, own_cloud: bool) -> list[Check]:
    """Reference evapotranspiration of each hour."""
    piece = "Reference ET, own cloud" if own_cloud else "Reference ET"
    tolerance = OWN_CLOUD_TOLERANCE_MM if own_cloud else TOLERANCE_MM
    return [
        check(
            "air",
            piece,
            f"{surface} hour {row}{' own cloud' if own_cloud else ''}",
            "mm/h",
            float(theirs),
            tolerance,
            lambda row=row: float(evapotranspiration(surface, own_cloud)[row]),
        )
        for row, theirs in enumerate(columns()[surface])
    ]


def checks() -> list[Check]:
    """30 values of the sun, 60 of reference ET, and these again with our own cloud function."""
    both = [each for own in (False, True) for name in SURFACES for each in et_checks(name, own)]
    return sun_checks() + both
