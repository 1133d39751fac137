"""The stations of a farm: which measures a field's air, read and judged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.errors import HayweatherError
from hayweather.farm.records import Farm, Field, Site, Station
from hayweather.farm.zones import distance_km
from hayweather.weather.catalog import US_NWS
from hayweather.weather.files.station import MOST_LINES, read_station
from hayweather.weather.files.table import ReadOptions
from hayweather.weather.observed import Observed
from hayweather.weather.record import HourlyWeather
from hayweather.weather.sensors import checked
from hayweather.words import Remark

if TYPE_CHECKING:
    from hayweather.weather.services import ServiceSettings

USUAL_UNITS = {
    "us": {"temperature": "F", "wind_speed": "mph", "rain": "in", "percent": "%"},
    "metric": {"temperature": "C", "wind_speed": "km/h", "rain": "mm", "percent": "%"},
}
STATION_WIND_M = 2.0
"""Height of a farm station's wind where nobody says it (assumed)."""
TURN = time(14)
AFTERNOON = range(12, 18)
"""Weather that begins in these hours of the day begins early enough for its night."""


def station_of(farm: Farm, field: Field) -> Station | None:
    """The station that measures a field's air: the one it names, else the nearest.

    A station without a place of its own stands in the field.
    """
    if field.station is not None:
        return next(item for item in farm.stations if item.name == field.station)
    site = farm.sites[field.site]
    return min(farm.stations, key=lambda item: _away_km(item, site), default=None)


def _away_km(station: Station, site: Site) -> float:
    if station.latitude is None or station.longitude is None:
        return 0.0
    return distance_km(station.latitude, station.longitude, site.latitude, site.longitude)


def options_of(station: Station, site: Site) -> ReadOptions:
    """What the farm file says of what a station writes."""
    named = {
        "temperature": station.temperature_unit,
        "wind_speed": station.wind_unit,
        "rain": station.rain_unit,
    }
    given = {quantity: unit for quantity, unit in named.items() if unit is not None}
    usual = {**USUAL_UNITS.get(station.units or "", {}), **given}
    return ReadOptions(
        timezone=station.timezone or site.timezone,
        wind_height_m=station.wind_height_m,
        hour=station.hour,
        day_first=None if station.dates is None else station.dates == "day first",
        usual_units=usual,
        names=names_of(station),
        site_elevation_m=site.elevation_m,
    )


def names_of(station: Station) -> dict[str, str]:
    """Columns or keys that the farm file names, in small letters, by column of the record."""
    named = {
        station.temperature: "air_temperature_c",
        station.humidity: "relative_humidity_percent",
        station.dew_point: "dew_point_c",
        station.wind: "wind_speed_m_s",
        station.rain: "rain_mm",
    }
    return {name.strip().casefold(): column for name, column in named.items() if name is not None}


def wind_height_of(station: Station) -> float:
    """Height of a station's wind above the ground [m], as far as its file does not say it."""
    if station.observed is not None:
        from hayweather.weather.services.us_nws import WIND_HEIGHT_M

        return WIND_HEIGHT_M
    return station.wind_height_m or STATION_WIND_M


def observations_for(
    farm: Farm,
    fields: Iterable[Field],
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    logged: Mapping[str, Observed],
    *,
    offline: bool = False,
    url: str | None = None,
) -> dict[str, tuple[Observed, ...]]:
    """What the stations of some fields measured, judged, by field.

    A station that cannot be read costs a line on every output, never the answer. Where the
    forecast of the US service begins too late for the night, its station nearest fills in.

    Parameters
    ----------
    farm, fields
        The farm, and those of its fields that are looked at.
    weather
        Forecasts by site.
    now
        UTC.
    logged
        By station: what sensors sent, from the farm's log.
    offline, url
        As in `hayweather.weather.asked.weather_for`.
    """
    found: dict[str, tuple[Observed, ...]] = {}
    read: dict[tuple[str, str], Observed] = {}

    def taken(site: Site, station: Station) -> Observed:
        key = (site.name, station.name)
        if key not in read:
            forecast = weather[site.name]
            silent = offline or forecast.source.stored  # a service that is away is not asked again
            found = _read(farm, site, station, logged, offline=silent, url=url)
            read[key] = _judged(found, farm, site, forecast, now)
        return read[key]

    for field in fields:
        site, forecast = farm.sites[field.site], weather[field.site]
        zone = site.timezone or forecast.timezone
        site = replace(site, timezone=zone)
        station = station_of(farm, field)
        seen = () if station is None else (taken(site, station),)
        own = any(item.refused is None and item.times[:1] <= forecast.start for item in seen)
        if farm.weather.service == US_NWS.name and not own and _begins_late(forecast, zone, now):
            nearest = taken(site, Station("", observed=US_NWS.name))
            seen = (*seen, replace(nearest, fills_only=True))
        if seen:
            found[field.name] = seen
    return found


def stations_as_read(
    farm: Farm, logged: Mapping[str, Observed], most_lines: int = MOST_LINES
) -> list[Observed]:
    """What the farm's own stations hold, not judged; official ones are not asked.

    Parameters
    ----------
    farm
        Its stations.
    logged
        By station: what sensors sent, from the farm's log.
    most_lines
        Of their files, from the end.
    """
    default = next(iter(farm.sites.values()))
    found = []
    for station in farm.stations:
        if station.observed is not None:
            continue
        own = [field.site for field in farm.fields.values() if field.station == station.name]
        site = farm.sites[own[0]] if own else default
        found.append(
            _read(farm, site, station, logged, offline=True, url=None, most_lines=most_lines)
        )
    return found


def judged_station(
    observed: Observed, farm: Farm, field: Field, forecast: HourlyWeather, now: np.datetime64
) -> Observed:
    """A station as it was given, judged for a field."""
    return _judged(observed, farm, farm.sites[field.site], forecast, now)


def _judged(
    observed: Observed, farm: Farm, site: Site, forecast: HourlyWeather, now: np.datetime64
) -> Observed:
    from hayweather.weather.asked import wall_clock

    return checked(observed, forecast, site, now, farm.weather.believe, wall_clock())


def _begins_late(weather: HourlyWeather, zone: str | None, now: np.datetime64) -> bool:
    """Whether a forecast begins after the afternoon before the night of now."""
    clock = ZoneInfo(zone or "UTC")
    utc = ZoneInfo("UTC")
    local = datetime.fromisoformat(str(now.astype("datetime64[s]"))).replace(tzinfo=utc)
    local = local.astimezone(clock)
    day = local.date() if local.time() >= TURN else local.date() - timedelta(days=1)
    turn = datetime.combine(day, TURN, tzinfo=clock)
    begin = datetime.fromisoformat(str(weather.start[0])).replace(tzinfo=utc)
    return begin > turn and begin.astimezone(clock).hour not in AFTERNOON


def _read(
    farm: Farm,
    site: Site,
    station: Station,
    logged: Mapping[str, Observed],
    *,
    offline: bool,
    url: str | None,
    most_lines: int = MOST_LINES,
) -> Observed:
    """What one station measured; what goes wrong is the reason why it is left out."""
    from hayweather.weather.asked import settings_for, wall_clock

    name = station.name
    nothing = Observed(name, np.zeros(0, dtype="datetime64[s]"), {})
    try:
        if station.file is not None:
            options = options_of(station, site)
            found = read_station(station.file, options, wall_clock(), most_lines)
            found = replace(found, station=name)
        elif station.observed is not None:
            found = _official(site, settings_for(farm.weather, url), station.id, offline=offline)
        elif name in logged:
            found = replace(logged[name], wind_height_m=wind_height_of(station))
        else:
            return nothing.left_out(Remark("sensor_no_messages"))
    except HayweatherError as failure:
        why = Remark(f"error_{failure.key}", dict(failure.values))
        return replace(nothing, official=station.observed is not None).left_out(why)
    if station.latitude is not None:
        there = station.elevation_m
        here = site.elevation_m
        higher = 0.0 if there is None or here is None else there - here
        found = replace(found, away_km=_away_km(station, site), higher_m=higher)
    return found


def _official(
    site: Site, settings: ServiceSettings, station: str | None, *, offline: bool
) -> Observed:
    """The observing station nearest a site."""
    from hayweather.weather.asked import wall_clock
    from hayweather.weather.services.us_nws_stations import fetch_observed

    once = replace(settings, limits=replace(settings.limits, waits_s=()))
    return fetch_observed(site, once, now=wall_clock(), station=station, offline=offline)
