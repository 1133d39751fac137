"""Real summers as lanes: one lane a night, 48 hours from 14:00 local.

The first night of a lane is spin-up; the second, from 18:00 to 12:00 local,
counts. Where each file comes from: tests/data/README.md, and SOURCES.md of the
recorded weather beside the checkout.
"""

import csv
import gzip
import os
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.trajectory import WindrowTrajectory

DATA = Path(__file__).parents[1] / "data"
START_HOUR = 14
SPIN_UP_HOURS = 24
NIGHT = slice(28, 47)  # hour boundaries 18:00 to 12:00 of the night that counts
AFTERNOON = slice(24, 28)  # 14:00 to 17:00 of the same day

# Column of the file: ours, factor.
COLUMNS = {
    "temp_c": ("air_temperature_c", 1.0),
    "dewpoint_c": ("dew_point_c", 1.0),
    "wind_ms": ("wind_speed_m_s", 1.0),
    "pressure_hpa": ("pressure_kpa", 0.1),
    "sw_wm2": ("shortwave_w_m2", 1.0),
    "rain_mm": ("rain_mm", 1.0),
    "cloud_tenths": ("cloud_fraction", 0.1),
}


@dataclass(frozen=True)
class Site:
    """One real (or typical) year."""

    file: str
    year: int
    place: Place
    zone: str
    wind_height_m: float


COLORADO = Place(40.53, -108.54, 2168.0)
SITES = {
    "NW Colorado 2017": Site("nw_colorado_2017", 2017, COLORADO, "America/Denver", 2.0),
    "NW Colorado 2023": Site("nw_colorado_2023", 2023, COLORADO, "America/Denver", 2.0),
    "JFK 2013": Site("nyc_jfk_2013", 2013, Place(40.64, -73.78, 3.0), "America/New_York", 10.0),
    "Tucson": Site(
        "tucson_az_tmy3_epw", 2015, Place(32.17, -110.88, 809.0), "America/Phoenix", 10.0
    ),
    "Granada": Site("granada_es_swec_epw", 2015, Place(37.18, -3.78, 559.0), "Europe/Madrid", 10.0),
}


@dataclass(frozen=True)
class Season:
    """Nights of May to September as lanes."""

    weather: HourlyWeather
    place: Place
    days: tuple[date, ...]

    def month(self) -> np.ndarray:
        """Month of the evening of each lane."""
        return np.array([day.month for day in self.days])


def recorded_folder() -> Path | None:
    """The folder of recorded weather named by HAYWEATHER_RECORDED, if there is one."""
    named = os.environ.get("HAYWEATHER_RECORDED")
    folder = Path(named) / "hourly" if named else None
    return folder if folder and folder.is_dir() else None


def find_file(site: Site) -> Path | None:
    """The committed extract of a site, else its file among the recorded weather."""
    extract = DATA / f"{site.file}_may_september.csv.gz"
    if extract.exists():
        return extract
    folder = recorded_folder()
    return folder / f"{site.file}.csv.gz" if folder else None


def read_columns(path: Path) -> tuple[np.datetime64, dict[str, np.ndarray]]:
    """First hour and columns on a whole hourly grid; hours not in the file are NaN."""
    with gzip.open(path, "rt") as file:
        rows = list(csv.DictReader(file))
    times = np.array([row["time_utc"][:19] for row in rows], dtype="datetime64[s]")
    index = ((times - times[0]) / HOUR).astype(int)
    columns = {}
    for name, (ours, factor) in COLUMNS.items():
        if name in rows[0]:
            columns[ours] = np.full(index[-1] + 1, np.nan)
            columns[ours][index] = [float(row[name] or "nan") * factor for row in rows]
    return times[0], columns


def lane_starts(site: Site, spin_up_hours: int) -> tuple[tuple[date, ...], np.ndarray]:
    """Evenings of May to September, and the UTC start of each one's lane."""
    first = date(site.year, 5, 1) + timedelta(days=spin_up_hours // 24)
    count = (date(site.year, 10, 1) - first).days
    days = tuple(first + timedelta(days=number) for number in range(count))
    zone = ZoneInfo(site.zone)
    starts = []
    for day in days:
        begin = day - timedelta(days=spin_up_hours // 24)
        local = datetime(begin.year, begin.month, begin.day, START_HOUR, tzinfo=zone)
        starts.append(np.datetime64(local.astimezone(UTC).replace(tzinfo=None), "s"))
    return days, np.array(starts)


@cache
def read_season(name: str, spin_up_hours: int = SPIN_UP_HOURS) -> Season:
    """The nights of one site as lanes of spin-up and 24 hours more."""
    site = SITES[name]
    path = find_file(site)
    if path is None:
        raise FileNotFoundError(f"no file of {name}: set HAYWEATHER_RECORDED")
    begin, columns = read_columns(path)
    days, starts = lane_starts(site, spin_up_hours)
    first = ((starts - begin) / HOUR).astype(int)
    rows = first[None, :] + np.arange(spin_up_hours + 24)[:, None]
    weather = HourlyWeather(
        start=starts,
        columns={key: values[rows] for key, values in columns.items()},
        wind_height_m=site.wind_height_m,
        source=Source(name),
    )
    return Season(weather, site.place, days)


def run_season(
    season: Season, windrow: WindrowParameters, steps: int | None = None
) -> WindrowTrajectory:
    """All nights from equilibrium at 14:00 local of the first afternoon."""
    begins = np.zeros((season.weather.hours, season.weather.lanes), dtype=bool)
    begins[0] = True
    return run(
        season.weather,
        season.place,
        windrow,
        equilibrium_starts=begins,
        steps_per_hour=steps,
    )


@cache
def default_run(name: str) -> WindrowTrajectory:
    """The windrow with its default parameters through one season."""
    return run_season(read_season(name), WindrowParameters())


def known_nights(name: str) -> np.ndarray:
    """True for nights without a gap, (lanes,)."""
    return np.isfinite(default_run(name).windrow_db).all(axis=0)
