"""Observing stations of the US National Weather Service: which is near, and what it measured.

Reports come at odd minutes, in no order, with blanks, in units named beside each value.
An airport's report that has its raw message and no precipitation in its weather tells that
none fell, also where the amount is blank. Foreign names end in this module.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from hayweather.errors import OptionError
from hayweather.farm.records import Site
from hayweather.farm.zones import distance_km
from hayweather.units import to_inside
from hayweather.weather.air import dew_point_from_humidity
from hayweather.weather.observed import INSTANTS, Observed
from hayweather.weather.quality import DEW_POINT_NOISE_K, RANGES
from hayweather.weather.record import HOUR, Floats
from hayweather.weather.services.answers import Access, Reading, obtain, open_access
from hayweather.weather.services.body import (
    elevation_or_none,
    expect_list,
    expect_mapping,
    number_or_none,
)
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.http import Request
from hayweather.weather.services.settings import ServiceSettings
from hayweather.weather.services.us_nws import CELL_LASTS_S, WIND_HEIGHT_M, cell_of
from hayweather.weather.services.us_nws_layers import SERVICE
from hayweather.words import Remark

MOST_ASKED = 3
"""Stations asked until one has air of the last hours."""
YOUNG_S = 240.0
"""An answer this fresh is not asked again (assumed: reports come every 5 to 60 minutes)."""
RECENT = np.timedelta64(3 * 3600, "s")
HOUR_ENDS = np.timedelta64(600, "s")
"""A report this long after the hour still tells of the hour before."""
_STATION = re.compile(r"[A-Z0-9]{3,10}")
_DOUBTED = ("qc:X", "qc:Q")
_UNITS = {
    "degC": "°C", "degF": "°F", "K": "K", "percent": "%", "km_h-1": "km/h", "m_s-1": "m/s",
    "kt": "kn", "mi_h-1": "mph", "mm": "mm", "m": "m", "in": "in", "cm": "cm",
}  # fmt: skip
_VALUES = {
    "temperature": ("air_temperature_c", "temperature"),
    "dewpoint": ("dew_point_c", "temperature"),
    "relativeHumidity": ("relative_humidity_percent", "percent"),
    "windSpeed": ("wind_speed_m_s", "wind_speed"),
}
_COVER = {"CLR": 0.0, "SKC": 0.0, "FEW": 0.19, "SCT": 0.44, "BKN": 0.75, "OVC": 1.0, "VV": 1.0}
"""Middle of the eighths that each word stands for (WMO Manual on Codes, FM 15)."""
_DRY = ("fog", "haze", "smoke", "dust", "sand", "mist", "volcanic_ash", "squalls", "funnel_cloud")


@dataclass(frozen=True)
class Place:
    """One station: its id, where it stands, how high [m], None when not said."""

    id: str
    latitude: float
    longitude: float
    elevation_m: float | None


def fetch_observed(
    site: Site,
    settings: ServiceSettings,
    *,
    now: np.datetime64,
    station: str | None = None,
    offline: bool = False,
) -> Observed:
    """What the observing station nearest a place measured, or the one named.

    Parameters
    ----------
    site
        The place.
    settings
        Address, contact, store.
    now
        UTC time on the wall.
    station
        Id of another station than the nearest; it is never refused for its distance.
    offline
        Use stored answers alone.

    Raises
    ------
    OptionError
        If no contact is set, or the place lies outside the United States.
    ServiceError
        If neither the service nor the store has air of the last hours from one of them.
    """
    access = open_access(settings, now=now, offline=offline)
    cell = cell_of(access, site)
    known = obtain(
        access, _request(access, f"{cell.path}/stations"),
        Reading(read_stations, young_s=CELL_LASTS_S),
    ).value  # fmt: skip
    known = sorted(known, key=lambda place: _away_km(place, site))
    if station is not None:
        named = [place for place in known if place.id == station.strip().upper()]
        known = named or [_place_named(access, station.strip().upper())]
    failure = ServiceError("service_no_stations", SERVICE)
    for place in known[:MOST_ASKED]:
        try:
            found = _observed(access, place, site)
        except ServiceError as caught:
            failure = caught
            continue
        if found.last is not None and now - found.last < RECENT:
            return found
    raise failure


def _place_named(access: Access, station: str) -> Place:
    """A station that the list of the grid cell does not have.

    Raises
    ------
    OptionError
        If its id is none.
    ServiceError
        If the service knows no such station.
    """
    if not _STATION.fullmatch(station):
        raise OptionError("service_station_id", "id", value=station[:40])
    reading = Reading(lambda answer: read_stations({"features": [answer]}), young_s=CELL_LASTS_S)
    return obtain(access, _request(access, f"/stations/{station}"), reading).value[0]


def _observed(access: Access, place: Place, site: Site) -> Observed:
    """What one station measured."""
    request = _request(access, f"/stations/{place.id}/observations")
    reports = obtain(access, request, Reading(read_reports, young_s=YOUNG_S)).value
    here = site.elevation_m
    higher = 0.0 if here is None or place.elevation_m is None else place.elevation_m - here
    return observed_of(place.id, reports, _away_km(place, site), higher)


def _away_km(place: Place, site: Site) -> float:
    return distance_km(place.latitude, place.longitude, site.latitude, site.longitude)


def _request(access: Access, path: str) -> Request:
    return Request(SERVICE, access.settings.base("us_nws_url"), path)


def read_stations(answer: object) -> list[Place]:
    """The stations in the JSON of an answer about a grid cell; unfit ones are passed over.

    Raises
    ------
    ServiceError
        If there is none that is fit.
    """
    features = expect_list(_mapping(answer, "stations").get("features"), "stations", SERVICE)
    found = []
    for feature in features[:200]:
        if not isinstance(feature, Mapping):
            continue
        inner = feature.get("properties")
        named = inner.get("stationIdentifier") if isinstance(inner, Mapping) else None
        place = _point(feature.get("geometry"))
        if place is None or not isinstance(named, str) or not _STATION.fullmatch(named):
            continue
        assert isinstance(inner, Mapping)
        height = _quantity(inner.get("elevation"), "length")
        found.append(Place(named, *place, None if height is None else elevation_or_none(height)))
    if not found:
        raise ServiceError("service_no_stations", SERVICE)
    return found


def _mapping(value: object, part: str) -> Mapping[str, object]:
    return expect_mapping(value, part, SERVICE)


def _point(geometry: object) -> tuple[float, float] | None:
    """Latitude and longitude of a point."""
    pair = geometry.get("coordinates") if isinstance(geometry, Mapping) else None
    if not isinstance(pair, list) or len(pair) < 2:
        return None
    longitude, latitude = (number_or_none(each, written=True) for each in pair[:2])
    if latitude is None or longitude is None or abs(latitude) > 90 or abs(longitude) > 180:
        return None
    return latitude, longitude


def _quantity(part: object, quantity: str) -> float | None:
    """A value with its unit in the inside unit; None where it is blank, doubted or no such."""
    if not isinstance(part, Mapping) or part.get("qualityControl") in _DOUBTED:
        return None
    number = number_or_none(part.get("value"), written=True)
    unit = str(part.get("unitCode")).rpartition(":")[2]
    if number is None or unit not in _UNITS:
        return None
    if unit == "K":
        number, unit = number - 273.15, "degC"
    try:
        inside = to_inside(np.array([number]), quantity, _UNITS[unit])
    except KeyError:
        return None
    return float(inside[0])


@dataclass(frozen=True)
class Report:
    """One report: its time, UTC, and its values; `rain_mm` of the hour before, None unknown."""

    time: np.datetime64
    values: Mapping[str, float]
    rain_mm: float | None


def read_reports(answer: object) -> list[Report]:
    """The reports in the JSON of an answer, in order of time, each time once.

    Raises
    ------
    ServiceError
        If it holds no list of reports.
    """
    features = expect_list(_mapping(answer, "observations").get("features"), "features", SERVICE)
    found: dict[np.datetime64, Report] = {}
    for feature in features:
        inner = feature.get("properties") if isinstance(feature, Mapping) else None
        report = None if not isinstance(inner, Mapping) else _report(inner)
        if report is not None:
            found[report.time] = report
    return [found[time] for time in sorted(found)]


def _report(inner: Mapping[str, object]) -> Report | None:
    """One report; None where it has no time."""
    try:
        moment = datetime.fromisoformat(str(inner.get("timestamp")))
    except ValueError:
        return None
    if moment.tzinfo is None:
        return None
    values = {}
    for name, (column, quantity) in _VALUES.items():
        value = _quantity(inner.get(name), quantity)
        if value is not None and RANGES[column][0] <= value <= RANGES[column][1]:
            values[column] = value
    cover = _cover(inner.get("cloudLayers"))
    if cover is not None:
        values["cloud_fraction"] = cover
    return Report(np.datetime64(int(moment.timestamp()), "s"), values, _rain(inner))


def _cover(layers: object) -> float | None:
    """Cloud of the layer that covers most; None where none is reported."""
    if not isinstance(layers, list):
        return None
    words = [layer.get("amount") for layer in layers if isinstance(layer, Mapping)]
    known = [_COVER[word] for word in words if isinstance(word, str) and word in _COVER]
    return max(known) if known else None


def _rain(inner: Mapping[str, object]) -> float | None:
    """Rain of the hour before a report [mm]; None where it does not tell."""
    part = inner.get("precipitationLastHour")
    amount = _quantity(part, "rain")
    unit = str(part.get("unitCode")).rpartition(":")[2] if isinstance(part, Mapping) else ""
    if amount is None and unit == "m":
        meters = _quantity(part, "length")
        amount = None if meters is None else 1000.0 * meters
    if amount is not None:
        return amount if 0 <= amount <= RANGES["rain_mm"][1] else None
    weather, raw = inner.get("presentWeather"), inner.get("rawMessage")
    if not isinstance(weather, list) or not isinstance(raw, str) or not raw.strip():
        return None
    kinds = [each.get("weather") if isinstance(each, Mapping) else "?" for each in weather]
    return 0.0 if all(kind in _DRY for kind in kinds) else None


def observed_of(
    station: str, reports: Sequence[Report], away_km: float = 0.0, higher_m: float = 0.0
) -> Observed:
    """Reports of a station as what it measured; the dew point from humidity where it is blank.

    Parameters
    ----------
    station
        Its id.
    reports
        In order of time.
    away_km, higher_m
        From the field, and above it.
    """
    times = np.array([report.time for report in reports], dtype="datetime64[s]")

    def column(name: str) -> Floats:
        return np.array([report.values.get(name, np.nan) for report in reports], dtype=np.float64)

    air, humidity = column("air_temperature_c"), column("relative_humidity_percent")
    dew = column("dew_point_c")
    worked = np.isnan(dew) & ~np.isnan(air + humidity) & (humidity > 0)
    if worked.any():
        percent = np.clip(humidity[worked], 1.0, 100.0)
        dew[worked] = dew_point_from_humidity(air[worked], percent)
    with np.errstate(invalid="ignore"):
        dew = np.where(dew > air + DEW_POINT_NOISE_K, np.nan, np.fmin(dew, air))
    columns = {name: column(name) for name in INSTANTS} | {"dew_point_c": dew}
    columns = {name: values for name, values in columns.items() if not np.isnan(values).all()}
    start, rain = _hourly_rain(reports)
    assumed = any(report.rain_mm is not None for report in reports)
    return Observed(
        station, times, columns, start if assumed else None, rain, WIND_HEIGHT_M, official=True,
        away_km=away_km, higher_m=higher_m, notes=(Remark("station_reports_rain"),) if assumed
        else (),
    )  # fmt: skip


def _hourly_rain(reports: Sequence[Report]) -> tuple[np.datetime64 | None, Floats]:
    """Start of the first hour, and the rain of each of whose end a report tells."""
    if not reports:
        return None, np.zeros(0)
    hours = [
        (report.time - HOUR_ENDS).astype("datetime64[h]").astype("datetime64[s]")
        for report in reports
    ]
    first, count = hours[0], int((hours[-1] - hours[0]) / HOUR) + 1
    rain, closed = np.full(count, np.nan), np.zeros(count, dtype=bool)
    for hour, report in zip(hours, reports, strict=True):
        if report.rain_mm is not None:
            row = int((hour - first) / HOUR)
            rain[row] = np.fmax(rain[row], report.rain_mm)
            closed[row] |= bool(report.time - HOUR_ENDS - hour >= HOUR / 2)
    return first, np.where(closed, rain, np.nan)
