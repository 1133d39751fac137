"""Random nights of random farms over real weather, each by its number; no claim on nature."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from support.fields import BALER, CURED, RIG
from support.fields_farm import ACRE_M2, MONEY
from support.outlooks import FOLDER, SAMPLES
from support.seasons import DATA, HOUR

from hayweather.catalog import BALERS
from hayweather.errors import HayweatherError
from hayweather.farm import read_farm
from hayweather.farm.records import Farm, Money, Site, WeatherChoice
from hayweather.nights import Night, night_of
from hayweather.weather.asked import weather_for
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.readings import Reading

SEED = 43
MEMBERS = 16
MINUTE = np.timedelta64(60, "s")
BEFORE, AFTER = 42, 54
"""Hours of weather before and after now."""
COLORADO = Site("home", 40.53, -108.54, 2168.0, "America/Denver")
KENNEDY = Site("home", 40.64, -73.78, 4.0, "America/New_York")
TUCSON = Site("home", 32.17, -110.88, 809.0, "America/Phoenix")
GRANADA = Site("home", 37.18, -3.78, 559.0, "Europe/Madrid")
COMMITTED = {
    "nw_colorado_2017": COLORADO, "nw_colorado_2023": COLORADO, "nyc_jfk_2013": KENNEDY,
}  # fmt: skip
RECORDED = {
    "hourly/nw_colorado_2017.csv.gz": COLORADO,
    "hourly/nw_colorado_2023.csv.gz": COLORADO,
    "hourly/nyc_jfk_2013.csv.gz": KENNEDY,
    "hourly/tucson_az_tmy3_epw.csv.gz": TUCSON,
    "hourly/granada_es_swec_epw.csv.gz": GRANADA,
    "formats/nsrdb_nwcolorado_2017_30min.csv.gz": COLORADO,
    "formats/tmy3_greensboro_nc_723170.csv.gz": Site(
        "home", 36.1, -79.95, 273.0, "America/New_York"
    ),
    "formats/granada_es_swec.epw.gz": GRANADA,
    "formats/pvgis_tmy_45N_8E.csv.gz": Site("home", 45.0, 8.0, 250.0, "Europe/Rome"),
}


@dataclass(frozen=True)
class Drawn:
    """A farm, its weather, now and readings."""

    name: str
    farm: Farm
    weather: dict[str, HourlyWeather]
    now: np.datetime64
    readings: dict[str, list[Reading]]

    def night(
        self, weather: dict[str, HourlyWeather] | None = None, members: int = MEMBERS
    ) -> Night:
        """The night, of this weather or of another."""
        return night_of(
            self.farm, weather or self.weather, self.now, self.readings, members=members, old=True
        )


@cache
def series_of(path: Path, site: Site) -> HourlyWeather:
    """A whole file."""
    weather, _ = read_weather_file(path, ReadOptions(site_elevation_m=site.elevation_m))
    return replace(weather, typical_year=False)


def sources(recorded: Path | None) -> list[tuple[Path, Site]]:
    """Every series there is: the committed ones, or those of the recorded folder `hourly`."""
    if recorded is None:
        return [(DATA / f"{n}_may_september.csv.gz", site) for n, site in COMMITTED.items()]
    return [(recorded.parent / name, site) for name, site in RECORDED.items()]


def drawn(number: int, recorded: Path | None = None) -> Drawn:
    """The night of a number; every tenth is of a sample farm.

    Parameters
    ----------
    recorded
        Folder of the recorded hourly series; None: the committed ones.
    """
    random = np.random.default_rng((SEED, number))
    if number % 10 == 0:
        return _sample(random)
    known = sources(recorded)
    for _ in range(20):  # a stretch of which the air is not known serves nobody
        path, site = known[int(random.integers(len(known)))]
        whole = series_of(path, site)
        first = int(random.integers(0, whole.hours - BEFORE - AFTER))
        weather = whole.between(first, first + BEFORE + AFTER)
        if np.isfinite(weather.columns["air_temperature_c"][BEFORE - 12 :]).mean() < 0.6:
            continue
        if weather.get("rain_mm") is None and random.random() < 0.8:
            dry = np.zeros((weather.hours, 1))
            weather = replace(weather, columns={**weather.columns, "rain_mm": dry})
        try:
            weather = judged(weather, site)
        except HayweatherError:
            continue  # its clock or units look wrong in so short a stretch
        return _of_series(path.name, site, weather, random)
    raise AssertionError(f"no night for {number}")


def _sample(random: np.random.Generator) -> Drawn:
    """A sample farm at some minute of its weather."""
    name = str(random.choice(SAMPLES))
    farm = replace(read_farm(FOLDER / f"{name}.toml"), language="en", notes=())
    weather = weather_for(farm, farm.sites)
    now = farm.weather.now + int(random.integers(-120, 16 * 60)) * MINUTE
    return Drawn(name, farm, weather, now, {})


def _of_series(name: str, site: Site, weather: HourlyWeather, random: np.random.Generator) -> Drawn:
    """A random farm under this weather."""
    local = _afternoon(weather, site)
    now = local + int(random.integers(0, 14 * 60)) * MINUTE
    away = replace(site, name="away", latitude=site.latitude + 0.05)
    balers = {}
    for machine in ("baler", "second")[: int(random.integers(1, 3))]:
        balers[machine] = replace(
            BALER,
            name=machine,
            kind=str(random.choice(list(BALERS))),
            capacity_kg_h=float(random.uniform(8_000, 20_000)),
            move_minutes=float(random.choice([0, 15, 40])),
        )
    fields = {}
    for field in ("north", "creek", "saddle")[: int(random.integers(1, 4))]:
        acres = float(random.uniform(8, 120)) if random.random() < 0.9 else None
        due = now + int(random.integers(6, 40)) * HOUR if random.random() < 0.15 else None
        fields[field] = replace(
            CURED,
            name=field,
            site="away" if fields and random.random() < 0.3 else "home",
            cured=True if random.random() < 0.75 else None,
            ground=str(random.choice(["dry", "damp", "wet"])),
            crop=str(random.choice(["alfalfa", "grass"])),
            area_m2=None if acres is None else acres * ACRE_M2,
            irrigation_due=due,
            baler=str(random.choice(list(balers))),
        )
    rigs = {"rig": replace(RIG, name="rig")} if random.random() < 0.6 else {}
    priced = random.random() < 0.7
    farm = Farm(
        "Random",
        {"home": site, "away": away},
        fields,
        balers,
        WeatherChoice(),
        rigs=rigs,
        money=replace(MONEY, allow_dry=bool(random.random() < 0.2)) if priced else Money(),
    )
    readings = {}
    if random.random() < 0.3:
        readings["north"] = [Reading(now - 20 * MINUTE, float(random.uniform(6, 25)))]
    return Drawn(name, farm, {"home": weather, "away": weather}, now, readings)


def _afternoon(weather: HourlyWeather, site: Site) -> np.datetime64:
    """Five in the afternoon, local, of the day in which now lies."""
    begin = weather.start[0] + BEFORE * HOUR
    utc = begin.astype("datetime64[s]").item().replace(tzinfo=UTC)
    ahead = (17 - utc.astimezone(ZoneInfo(str(site.timezone))).hour) % 24
    return begin + (ahead - 24 if ahead > 12 else ahead) * HOUR


FILE = {
    "air_temperature_c": ("temp_c", 1.0), "dew_point_c": ("dewpoint_c", 1.0),
    "wind_speed_m_s": ("wind_ms", 1.0), "pressure_kpa": ("pressure_hpa", 10.0),
    "shortwave_w_m2": ("sw_wm2", 1.0), "cloud_fraction": ("cloud_pct", 100.0),
    "rain_mm": ("rain_mm", 1.0),
}  # fmt: skip


def table_of(weather: HourlyWeather) -> pd.DataFrame:
    """The hours as a file has them."""
    times = weather.start[0] + np.arange(weather.hours) * HOUR
    columns = {"time_utc": [f"{time}Z" for time in times]}
    for name, values in weather.columns.items():
        ours, factor = FILE[name]
        columns[ours] = values[:, 0] * factor
    return pd.DataFrame(columns)


def with_less(table: pd.DataFrame, random: np.random.Generator) -> tuple[pd.DataFrame, str]:
    """The rows with cells, hours, a column, the rain or an end taken away, and what."""
    less, rows = table.copy(), len(table)
    name = str(random.choice(table.columns[1:]))
    kind = str(random.choice(["cells", "run", "hours", "blank", "gone", "rain", "begin", "end"]))
    first, length = int(random.integers(0, rows - 2)), int(random.integers(2, 24))
    if kind == "cells":
        less.loc[random.integers(0, rows, 4), name] = np.nan
    elif kind == "run":
        less.loc[first : first + length, name] = np.nan
    elif kind == "hours":
        less = less.drop(index=range(first, min(first + length, rows - 1)))
    elif kind == "blank":
        less[name] = np.nan
    elif kind == "gone":
        less = less.drop(columns=name)
    elif kind == "rain":
        less["rain_mm"] = np.nan
    elif kind == "begin":
        less = less.iloc[int(random.integers(1, 40)) :]
    else:
        less = less.iloc[: -int(random.integers(1, 40))]
    return less, f"{kind} {name}"


def read_back(table: pd.DataFrame, drawn: Drawn, path: Path) -> dict[str, HourlyWeather] | None:
    """A table as the weather of every site of a farm; None where it is refused."""
    table.to_csv(path, index=False)
    first = next(iter(drawn.farm.sites.values()))
    height = next(iter(drawn.weather.values())).wind_height_m
    options = ReadOptions(site_elevation_m=first.elevation_m, wind_height_m=height)
    try:
        weather = judged(read_weather_file(path, options)[0], first)
    except HayweatherError:
        return None
    return dict.fromkeys(drawn.weather, weather)
