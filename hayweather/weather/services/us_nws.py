"""The US National Weather Service: a place to its grid cell, the cell to hours.

Public domain, United States only. It wants to know whom to write to, so every
request carries the contact that was set.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

import numpy as np

from hayweather.errors import OptionError
from hayweather.farm.records import Site
from hayweather.weather.judge import judged
from hayweather.weather.record import (
    DERIVED,
    HOUR,
    Assumption,
    Bits,
    Floats,
    HourlyWeather,
    Source,
)
from hayweather.weather.services.answers import (
    Access,
    Obtained,
    Reading,
    covers,
    obtain,
    open_access,
)
from hayweather.weather.services.body import expect_mapping
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.http import Request
from hayweather.weather.services.joined import with_earlier
from hayweather.weather.services.settings import CONTACT_VARIABLE, ServiceSettings
from hayweather.weather.services.us_nws_layers import SERVICE, Grid, read_grid
from hayweather.weather.services.values import (
    HUMIDITY,
    require,
    settle_dew_point,
    without_blank,
)

WIND_HEIGHT_M = 10.0
CELL_LASTS_S = 86400.0
"""A place keeps its grid cell for long, but not for ever; asked once a day (assumed)."""

_GRID_PATH = re.compile(r"/gridpoints/[A-Z]{3}/\d{1,4},\d{1,4}")


@dataclass(frozen=True)
class Cell:
    """Where the forecast of a place stands, and the place's time zone."""

    path: str
    timezone: str | None


def fetch_forecast(
    site: Site, settings: ServiceSettings, *, now: np.datetime64, offline: bool = False
) -> HourlyWeather:
    """Forecast of the grid cell of a place, (hours, 1).

    There is no shortwave and no pressure in it.

    Raises
    ------
    OptionError
        If no contact is set, or the place lies outside the United States.
    ServiceError
        If neither the service nor the store has an answer that serves.
    """
    access = open_access(settings, now=now, offline=offline)
    cell = cell_of(access, site)
    now = access.now

    def judge(grid: Grid) -> object:
        weather = _weather(Obtained(grid, now), site, cell)
        return judged(weather, site, ServiceError, settings.believe)

    reading = Reading(_read_needed, lambda grid: _serves(grid, now), judge, joins=True)
    found = obtain(access, _request(access, cell.path), reading)
    earlier = (_weather(Obtained(grid, fetched), site, cell) for grid, fetched in found.earlier)
    return with_earlier(_weather(found, site, cell), earlier)


def ask_zone(
    site: Site, settings: ServiceSettings, *, now: np.datetime64, offline: bool = False
) -> tuple[str | None, float | None]:
    """The name of the time zone of a place and the elevation [m] of its grid cell.

    Raises
    ------
    OptionError, ServiceError
        As `fetch_forecast`.
    """
    access = open_access(settings, now=now, offline=offline)
    cell = cell_of(access, site)
    grid = obtain(access, _request(access, cell.path), Reading(read_grid), keep=False).value
    return cell.timezone, grid.elevation_m


def require_contact(settings: ServiceSettings) -> None:
    """Refuse to ask without a contact; none is ever made up.

    Raises
    ------
    OptionError
        If none is set.
    """
    if not settings.contact.value:
        raise OptionError("service_contact", CONTACT_VARIABLE)


def cell_of(access: Access, site: Site) -> Cell:
    """The grid cell of a place."""
    if not access.offline:
        require_contact(access.settings)
    place = f"{_short(site.latitude)},{_short(site.longitude)}"
    request = _request(access, f"/points/{place}")
    try:
        return obtain(access, request, Reading(read_cell, young_s=CELL_LASTS_S)).value
    except ServiceError as caught:
        failure = caught
    if failure.values.get("status") == 404:
        raise OptionError("service_outside_us", f"[site.{site.name}]", place=place)
    raise failure


def _short(degrees: float) -> str:
    """Degrees with at most four decimals and no zeros at the end.

    Examples
    --------
    >>> _short(-108.5400), _short(40.0)
    ('-108.54', '40')
    """
    text = f"{degrees:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def read_cell(answer: object) -> Cell:
    """The grid cell in the JSON of an answer about a place.

    Only the path of the address in it is used: the host stays the one asked.

    Raises
    ------
    ServiceError
        If it names no cell.
    """
    top = expect_mapping(answer, "place", SERVICE)
    properties = expect_mapping(top.get("properties"), "properties", SERVICE)
    path = urlsplit(str(properties.get("forecastGridData") or "")).path
    if not _GRID_PATH.fullmatch(path):
        path = _path_from_parts(properties)
    if not _GRID_PATH.fullmatch(path):
        raise ServiceError("service_shape", SERVICE, part="forecastGridData")
    zone = properties.get("timeZone")
    return Cell(path, zone if isinstance(zone, str) else None)


def _path_from_parts(properties: Mapping[str, object]) -> str:
    """The path put together from office and cell numbers, which may be text."""
    office, x, y = (properties.get(name) for name in ("gridId", "gridX", "gridY"))
    return f"/gridpoints/{office}/{x},{y}"


def _request(access: Access, path: str) -> Request:
    return Request(SERVICE, access.settings.base("us_nws_url"), path)


def _serves(grid: Grid, now: np.datetime64) -> bool:
    """Whether a grid holds now and the hours after it, and was made by now."""
    end = grid.start + len(grid.columns["air_temperature_c"]) * HOUR
    made = grid.issued is None or bool(grid.issued <= now + HOUR)
    return made and covers(grid.start, end, now)


def _read_needed(answer: object) -> Grid:
    """A grid that has, or can be given, what the windrow needs."""
    grid = read_grid(answer)
    columns, _, _ = settle_dew_point(dict(grid.columns), SERVICE)
    require(columns, SERVICE)
    return grid


def _weather(found: Obtained[Grid], site: Site, cell: Cell) -> HourlyWeather:
    """The record of a grid answer."""
    grid = found.value
    columns, repaired, notes = settle_dew_point(dict(grid.columns), SERVICE)
    if grid.minutes_past:
        notes = (*notes, Assumption("hours_moved", {"minutes": str(abs(grid.minutes_past))}))
    derived = _worked_out(grid, columns)
    latitude, longitude = grid.place or (site.latitude, site.longitude)
    return HourlyWeather(
        start=np.array([grid.start]),
        columns=without_blank(columns),
        wind_height_m=WIND_HEIGHT_M,
        source=Source(SERVICE, grid.issued, found.fetched, "", found.stored, answered=True),
        repaired=repaired,
        assumed=(*notes, *found.notes),
        elevation_m=grid.elevation_m,
        latitude=latitude,
        longitude=longitude,
        timezone=cell.timezone,
        basis=derived,
        humidity_percent=grid.columns.get(HUMIDITY) if "dew_point_c" in grid.columns else None,
    )


def _worked_out(grid: Grid, columns: Mapping[str, Floats]) -> Bits:
    """Where the dew point was worked out from humidity, as bits of the record."""
    given = grid.columns.get("dew_point_c")
    absent = np.ones(columns["dew_point_c"].shape, dtype=bool) if given is None else np.isnan(given)
    return np.where(absent, DERIVED["dew_point_c"], 0).astype(np.uint8)
