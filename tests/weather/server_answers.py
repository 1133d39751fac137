"""Answers in the documented shapes of the services, filled with real NW Colorado hours.

Where the hours come from and what is left out: data/services/README.md.
"""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

DATA = Path(__file__).parent / "data" / "services" / "nw_colorado_2017_july.csv"
LATITUDE, LONGITUDE, ELEVATION_M, ZONE = 40.53, -108.54, 2168.0, "America/Denver"
FIRST = datetime(2017, 7, 8, tzinfo=UTC)
HOURS = 144
"""Hours in an answer: six of the eight days, so that runs can start later."""
HOUR = timedelta(hours=1)

UNITS = {
    "temperature_2m": "°C",
    "relative_humidity_2m": "%",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "undefined",
    "cloud_cover": "undefined",
    "shortwave_radiation": "W/m²",
    "precipitation": "mm",
    "precipitation_probability": "undefined",
    "weather_code": "undefined",
    "surface_pressure": "hPa",
}
SOURCE_COLUMNS = {
    "temperature_2m": "temp_c",
    "relative_humidity_2m": "rh_pct",
    "dew_point_2m": "dewpoint_c",
    "wind_speed_10m": "wind_ms",
    "surface_pressure": "pressure_hpa",
}


@cache
def real_hours() -> tuple[dict[str, float], ...]:
    """The hours of the source from `FIRST` on, ``{source column: value}``."""
    with DATA.open(encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return tuple(
            {name: float(value) for name, value in row.items() if name != "time_utc"}
            for row in rows
        )


def real(name: str, first: int = 0, hours: int = HOURS) -> list[float]:
    """One source column of some hours after `FIRST`."""
    return [row[name] for row in real_hours()[first : first + hours]]


def open_meteo_values(name: str, first: int = 0, hours: int = HOURS) -> list[float | None]:
    """Values of one service column at the stamps from hour `first` on."""
    if name in SOURCE_COLUMNS:
        return list(real(SOURCE_COLUMNS[name], first, hours))
    if name == "shortwave_radiation":
        before = real("sw_wm2", first - 1, 1) if first else [None]
        return [*before, *real("sw_wm2", first, hours - 1)]
    return [0.0 if name == "precipitation" else None] * hours


def open_meteo(
    names: list[str],
    *,
    first_stamp: datetime = FIRST,
    hours: int = HOURS,
    members: int = 0,
    offset_hours: int = 0,
    zone: str = "GMT",
    skip: int = 0,
) -> dict:
    """An answer of the open weather API for the columns `names`."""
    local = first_stamp + offset_hours * HOUR
    stamps = [(local + hour * HOUR).strftime("%Y-%m-%dT%H:%M") for hour in range(hours)]
    hourly: dict[str, list] = {"time": stamps}
    units = {"time": "iso8601"}
    for name in names:
        plain, _, lead = name.partition("_previous_day")
        for member in range(members + 1):
            full = f"{name}_member{member:02d}" if member else name
            shift = skip + 24 * (member % 2 + int(lead or 0) % 2)
            hourly[full] = open_meteo_values(plain, shift, hours)
            units[full] = UNITS[plain]
    return {
        "latitude": 40.52,
        "longitude": -108.55,
        "generationtime_ms": 0.5,
        "utc_offset_seconds": offset_hours * 3600,
        "timezone": zone,
        "timezone_abbreviation": zone,
        "elevation": ELEVATION_M,
        "hourly_units": units,
        "hourly": hourly,
    }


def merged(values: list[float | None], first: datetime, longest: int = 200) -> list[dict]:
    """Values of hours as intervals, equal neighbors as one."""
    entries: list[dict] = []
    start = 0
    for hour in range(1, len(values) + 1):
        if hour < len(values) and values[hour] == values[start] and hour - start < longest:
            continue
        length = hour - start
        days, rest = divmod(length, 24)
        duration = "P" + (f"{days}D" if days else "") + (f"T{rest}H" if rest else "")
        begin = (first + start * HOUR).isoformat()
        entries.append({"validTime": f"{begin}/{duration}", "value": values[start]})
        start = hour
    return entries


def us_nws_points(host: str = "https://api.weather.gov") -> dict:
    """An answer about a place."""
    return {
        "type": "Feature",
        "properties": {
            "gridId": "GJT",
            "gridX": "91",
            "gridY": 210,
            "forecastGridData": f"{host}/gridpoints/GJT/91,210",
            "timeZone": ZONE,
        },
    }


def us_nws_grid(*, first: datetime = FIRST, hours: int = HOURS, skip: int = 0) -> dict:
    """A grid answer: merged intervals, km/h, rain of six hours, empty layers.

    `skip` hours of the source stay out before its first.
    """
    wind_km_h = [round(value * 3.6, 6) for value in real("wind_ms", skip, hours)]
    layers = {
        "temperature": ("wmoUnit:degC", merged(real("temp_c", skip, hours), first)),
        "dewpoint": ("wmoUnit:degC", merged(real("dewpoint_c", skip, hours), first)),
        "relativeHumidity": ("wmoUnit:percent", merged(real("rh_pct", skip, hours), first)),
        "windSpeed": ("wmoUnit:km_h-1", merged(wind_km_h, first)),
        "quantitativePrecipitation": ("wmoUnit:mm", merged([0.0] * hours, first, longest=6)),
        "probabilityOfThunder": (None, merged([0.0] * hours, first)),
        "lightningActivityLevel": (None, merged([1.0] * hours, first)),
        "skyCover": (None, []),
        "windGust": (None, []),
        "pressure": (None, []),
        "redFlagThreatIndex": (None, []),
    }
    properties: dict = {
        "updateTime": (first + HOUR / 4).isoformat(),
        "validTimes": f"{first.isoformat()}/P{hours // 24}DT{hours % 24}H",
        "elevation": {"unitCode": "wmoUnit:m", "value": ELEVATION_M},
        "gridId": "GJT",
        "gridX": "91",
        "gridY": 210,
    }
    for name, (uom, values) in layers.items():
        properties[name] = {"values": values} if uom is None else {"uom": uom, "values": values}
    return {"type": "Feature", "properties": properties}


def us_nws_stations() -> dict:
    """Observing stations of a grid cell, in no order: one at 11 km and lower, one far away."""
    places = {"KFAR": (41.5, -109.4, 1900.0), "KCAG": (40.49, -108.42, 1887.0)}
    features = [
        {
            "id": f"https://api.weather.gov/stations/{name}",
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [east, north]},
            "properties": {
                "elevation": {"unitCode": "wmoUnit:m", "value": high},
                "stationIdentifier": name,
            },
        }
        for name, (north, east, high) in places.items()
    ]
    return {"type": "FeatureCollection", "features": features}


def us_nws_observations(
    *, first: datetime = FIRST, hours: int = HOURS, damper: float = 0.0, minute: int = 53
) -> dict:
    """Reports of a station of every hour, the newest first, some values blank, rain never told.

    Its air is the source's, at `minute` of the hour before the stamp of the source.
    """

    def part(value: float | None, unit: str) -> dict:
        return {"unitCode": f"wmoUnit:{unit}", "value": value, "qualityControl": "V"}

    features = []
    for hour in range(1, hours):
        share = minute / 60
        at = first + (hour - 1) * HOUR + timedelta(minutes=minute)
        now = {
            name: (1 - share) * real(name, hour - 1, 1)[0] + share * real(name, hour, 1)[0]
            for name in ("temp_c", "dewpoint_c", "wind_ms")
        }
        dew = min(now["dewpoint_c"] + damper, now["temp_c"])
        features.append(
            {
                "type": "Feature",
                "properties": {
                    "timestamp": at.isoformat(),
                    "rawMessage": "KCAG AUTO",
                    "presentWeather": [],
                    "temperature": part(now["temp_c"], "degC"),
                    "dewpoint": part(None if hour % 7 == 0 else dew, "degC"),
                    "windSpeed": part(3.6 * now["wind_ms"], "km_h-1"),
                    "precipitationLastHour": part(None, "mm"),
                    "relativeHumidity": part(None, "percent"),
                    "cloudLayers": [],
                },
            }
        )
    return {"type": "FeatureCollection", "features": features[::-1]}
