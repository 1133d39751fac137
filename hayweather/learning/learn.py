"""What a farm's forecasts said beside what was measured: gathered by site, and fitted."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from hayweather.errors import HayweatherError, InputError, WeatherFileError
from hayweather.farm.records import Farm, Site
from hayweather.farm.zones import distance_km
from hayweather.learning.forecast_errors import (
    FittedErrors,
    Pairs,
    fit_errors,
    hours_from,
    pairs_of,
)
from hayweather.log import has_log, open_log
from hayweather.log.joined import station_in
from hayweather.log.records import KeptForecast, night_number
from hayweather.weather.asked import file_options, settings_for, wall_clock
from hayweather.weather.catalog import OPEN_METEO, SERVICES
from hayweather.weather.files import read_weather_file
from hayweather.weather.files.station import ALL_LINES, LACKS_WIND, read_station
from hayweather.weather.observed import Observed
from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.weather.sensors import checked_days
from hayweather.weather.services import open_meteo
from hayweather.weather.stations import stations_as_read, wind_height_of
from hayweather.windrow.spread import ERRORS, LEAD_EDGES_H
from hayweather.windrow.vapor import wind_at_two_meters
from hayweather.words import Remark

Forecast = tuple[np.datetime64, HourlyWeather]
WIND = "wind_speed_m_s"
ISSUED_AROUND = 24 * HOUR
"""A file's time is when its forecast was made only so near to its first hour (assumed)."""
MOVED_KM = 15.0
"""Forecasts of a site that lay so far away say nothing of it (assumed)."""
LEADS_D = (1, 2, 3)
DAY_H = 24
SERVICE = OPEN_METEO.label


@dataclass(frozen=True)
class Learned:
    """The errors of one site's forecasts.

    Attributes
    ----------
    site
        Its name.
    source
        Whose forecasts, as `Source.name`.
    nights
        That have a forecast and something measured.
    kept
        Nights of them whose forecast was kept with an outlook.
    fitted
        Beside what is assumed.
    said
        What could not be used, and why.
    """

    site: str
    source: str
    nights: int
    fitted: FittedErrors
    said: tuple[Remark, ...] = ()
    kept: int = 0


def learn(
    farm: Farm,
    measured: Sequence[Path] = (),
    forecasts: Sequence[Path] = (),
    *,
    offline: bool = False,
    url: str | None = None,
) -> list[Learned]:
    """Errors of the forecast at every site of a farm.

    Parameters
    ----------
    farm
        Its sites, stations and log; the forecasts that the log kept with its outlooks
        count before others of the same night.
    measured
        Weather files of what was measured, before the farm's stations and its log.
    forecasts
        Weather files, each one forecast as it was issued, and folders of them; without
        any the open service is asked what it said of the days that were measured.
    offline, url
        As in `hayweather.weather.asked.weather_for`.

    Raises
    ------
    InputError
        If nothing was measured, or there is no forecast.
    OptionError, ServiceError
        If the terms of the service are not met, or it has no answer, and no forecast was kept.
    """
    found = []
    for name in dict.fromkeys(field.site for field in farm.fields.values()):
        site = farm.sites[name]
        seen = _measured_at(farm, site, measured)
        was = seen.hours()
        if was is None:
            raise InputError("learn_nothing_measured", str(farm.path or farm.name), site=name)
        kept, told = _kept_at(farm, site)
        try:
            source, said, more = _forecasts_at(farm, site, was, forecasts, offline=offline, url=url)
        except HayweatherError as problem:
            if not kept or forecasts:
                raise
            source, said, more = _source_of(farm, site), [], [_not_had(problem)]
        if not said and not kept:
            raise InputError("learn_no_forecasts", str(farm.path or farm.name), site=name)
        chosen = one_a_night(site.longitude, kept, said)
        was, left_out = seen.believed(chosen, site, farm.weather.believe)
        if was is None:
            raise InputError("learn_nothing_measured", str(farm.path or farm.name), site=name)
        pairs = pairs_of(chosen, was)
        of_log = nights_of(pairs_of(one_a_night(site.longitude, kept), was))
        fitted, notes = fit_errors(pairs), (*told, *more, *left_out)
        found.append(Learned(name, source, nights_of(pairs), fitted, notes, of_log))
    return found


def _not_had(problem: HayweatherError) -> Remark:
    """Why the service's earlier forecasts are not among those learned from."""
    return Remark("learn_service", {"why": Remark(f"error_{problem.key}", dict(problem.values))})


def nights_of(pairs: Pairs) -> int:
    """Nights of which any hour was both forecast and measured."""
    known = np.zeros(len(pairs.evenings), dtype=bool)
    for each in pairs.errors().values():
        known |= np.isfinite(each).any(axis=1)
    return int(known.sum())


def one_a_night(longitude: float, *groups: Iterable[Forecast]) -> list[Forecast]:
    """The first forecast made for each night, in order of time: nights count once.

    The first, because people plan by the chances of the early evening: errors so many hours
    ahead are then errors of the same hours of the night.

    Parameters
    ----------
    longitude
        Of the site, east positive; a night turns at 14:00 by its sun.
    *groups
        A night of an earlier group stands.
    """
    first: dict[int, Forecast] = {}
    for group in groups:
        own: dict[int, Forecast] = {}
        for made, hours in sorted(group, key=lambda item: item[0]):
            own.setdefault(night_number(made, longitude), (made, hours))
        first = {**own, **first}
    return [first[night] for night in sorted(first)]


def together(records: Sequence[HourlyWeather]) -> HourlyWeather | None:
    """What several records measured as one, lane 0, wind at 2 m; the first that knows counts."""
    if not records:
        return None
    start = min(record.start[0] for record in records)
    end = max(record.start[0] + record.hours * HOUR for record in records)
    hours = int((end - start) // HOUR)
    columns = {name: np.full((hours, 1), np.nan) for name in ERRORS}
    for record in records:
        first = int((record.start[0] - start) // HOUR)
        for name, column in columns.items():
            values = at_two_meters(record).get(name)
            if values is not None:
                part = column[first : first + record.hours, 0]
                part[...] = np.where(np.isnan(part), values[:, 0], part)
    return HourlyWeather(np.array([start]), columns, 2.0, Source("measured", measured=True))


def at_two_meters(weather: HourlyWeather) -> HourlyWeather:
    """The weather with its wind at 2 m."""
    wind = weather.get(WIND)
    if wind is None:
        return weather
    columns = {**weather.columns, WIND: wind_at_two_meters(wind, weather.wind_height_m)}
    return replace(weather, columns=columns, wind_height_m=2.0)


@dataclass(frozen=True)
class _Measured:
    """What was measured for a site: weather files, and stations as they were read."""

    files: tuple[HourlyWeather, ...]
    stations: tuple[Observed, ...]

    def hours(self) -> HourlyWeather | None:
        """All of it as one; None for nothing."""
        own = (hours for item in self.stations if (hours := item.as_weather()) is not None)
        return together([*self.files, *own])

    def believed(
        self, forecasts: Sequence[Forecast], site: Site, believe: Collection[str]
    ) -> tuple[HourlyWeather | None, list[Remark]]:
        """The same with what the checks of sensors leave out, which is said."""
        said = _one_after_another(forecasts)
        checked = [checked_days(item, said, site, believe) for item in self.stations]
        told = [
            Remark("station_note", {"station": item.station, "note": note})
            for item, before in zip(checked, self.stations, strict=True)
            for note in item.notes[len(before.notes) :]
        ]
        return replace(self, stations=tuple(checked)).hours(), told


def _one_after_another(forecasts: Sequence[Forecast]) -> HourlyWeather:
    """Forecasts as one record: of every hour what was said last before it."""
    start = min(made for made, _ in forecasts)
    end = max(made for made, _ in forecasts) + int(LEAD_EDGES_H[-1]) * HOUR
    hours = int((end - start) // HOUR)
    columns = {name: np.full(hours, np.nan) for name in ERRORS}
    for made, weather in sorted(forecasts, key=lambda item: item[0]):
        row = int((made - start) // HOUR)
        for name, column in columns.items():
            own = hours_from(weather, name, made, int(LEAD_EDGES_H[-1]))
            part = column[row : row + own.size]
            part[...] = np.where(np.isnan(own), part, own)
    held = {name: values[:, None] for name, values in columns.items()}
    return HourlyWeather(np.array([start]), held, 2.0, Source("forecasts"))


def _measured_at(farm: Farm, site: Site, files: Sequence[Path]) -> _Measured:
    """All that was measured for a site, of files, of stations and of the log, in this order."""
    records, seen = [], []
    for file in _in(files):
        try:
            records.append(read_weather_file(file, file_options(farm, site))[0])
        except WeatherFileError as problem:
            if problem.key != LACKS_WIND:
                raise
            seen.append(read_station(file, file_options(farm, site), wall_clock(), ALL_LINES))
    own = {field.station for field in farm.fields.values() if field.site == site.name}
    own |= {station.name for station in farm.stations} if len(farm.sites) == 1 else set()
    seen += [
        item
        for item in stations_as_read(farm, {}, ALL_LINES)
        if item.refused is None and item.station in own
    ]
    if has_log(farm):
        with open_log(farm, only_read=True) as log:
            heights = {station.name: wind_height_of(station) for station in farm.stations}
            for name in own - {None}:
                rows = log.observations(name)
                if rows:
                    there = station_in(str(name), rows)
                    seen.append(replace(there, wind_height_m=heights[str(name)]))
    return _Measured(tuple(records), tuple(seen))


def _in(paths: Sequence[Path]) -> list[Path]:
    """Files, and those in folders, in order of their names."""
    found = []
    for path in paths:
        inside = sorted(each for each in path.iterdir() if each.is_file()) if path.is_dir() else []
        found += inside if path.is_dir() else [path]
    return found


def _source_of(farm: Farm, site: Site) -> str:
    """Whose forecasts a farm stands on, as `Source.name`; empty where it names none."""
    file = farm.weather.file
    if file is not None:
        try:
            return read_weather_file(file, file_options(farm, site))[0].source.name
        except HayweatherError:
            return file.name
    return "" if farm.weather.service is None else SERVICES[farm.weather.service].label


def _kept_at(farm: Farm, site: Site) -> tuple[list[Forecast], list[Remark]]:
    """The forecasts that the log kept as they came, made at the hour of their outlook.

    Those of another source, or of a site that was moved since, are left out and counted.
    """
    if not has_log(farm):
        return [], []
    with open_log(farm, only_read=True) as log:
        kept = log.forecasts(site.name)
    source = _source_of(farm, site)
    told = []
    for key, others in (
        ("learn_other_source", [item for item in kept if item.source != source]),
        ("learn_other_place", [item for item in kept if _moved(item, site)]),
    ):
        if others:
            told.append(Remark(key, {"count": len(others), "source": others[-1].source}))
    own = [item for item in kept if item.source == source and not _moved(item, site)]
    return [(item.hour, as_came(item)) for item in own], told


def _moved(item: KeptForecast, site: Site) -> bool:
    """Whether a forecast was kept where the site no longer is."""
    away = distance_km(item.latitude, item.longitude, site.latitude, site.longitude)
    return away > MOVED_KM


def as_came(item: KeptForecast) -> HourlyWeather:
    """The hours of a kept forecast, wind at 2 m."""
    columns = {name: values[:, None] for name, values in item.columns.items() if name in ERRORS}
    hours = HourlyWeather(
        np.array([item.hour]), columns, item.wind_height_m, Source(item.source, item.issued)
    )
    return at_two_meters(hours)


def _forecasts_at(
    farm: Farm,
    site: Site,
    measured: HourlyWeather,
    files: Sequence[Path],
    *,
    offline: bool,
    url: str | None,
) -> tuple[str, list[Forecast], list[Remark]]:
    """Whose forecasts, when each was made, and what could not be used."""
    if files:
        return _forecasts_in(farm, site, files)
    if farm.weather.service != OPEN_METEO.name:
        return _source_of(farm, site), [], []
    settings = settings_for(farm.weather, url)
    open_meteo.require_terms(farm.weather.terms, settings)
    days = (measured.start[0], measured.start[0] + (measured.hours - 1) * HOUR)
    first, last = (date.fromisoformat(str(day.astype("datetime64[D]"))) for day in days)
    now = wall_clock()
    by_lead = open_meteo.fetch_earlier_forecasts(
        site, first, last, settings, now=now, leads=LEADS_D, offline=offline
    )
    return SERVICE, as_issued(by_lead, first, last) if by_lead else [], []


def _forecasts_in(
    farm: Farm, site: Site, files: Sequence[Path]
) -> tuple[str, list[Forecast], list[Remark]]:
    """Forecasts of files; one that does not say when it was made is left out."""
    found: list[Forecast] = []
    told: list[Remark] = []
    source = ""
    for file in _in(files):
        hours, _ = read_weather_file(file, file_options(farm, site))
        issued = hours.source.issued
        if issued is None or abs(issued - hours.start[0]) > ISSUED_AROUND:
            told.append(Remark("learn_no_time", {"file": file.name}))
            continue
        source = source or hours.source.name
        made = issued.astype("datetime64[h]").astype("datetime64[s]")
        found.append((made, at_two_meters(hours)))
    return _source_of(farm, site) or source, found, told


def as_issued(by_lead: dict[int, HourlyWeather], first: date, last: date) -> list[Forecast]:
    """Forecasts as they were made each day, from what was said so many days ahead.

    Parameters
    ----------
    by_lead
        As `fetch_earlier_forecasts` gives it.
    first, last
        Days on which they were made; the first day of each stays blank, for which the
        service keeps nothing.
    """
    found: list[Forecast] = []
    ready = {lead: at_two_meters(hours) for lead, hours in by_lead.items()}
    for day in range(-max(by_lead, default=0), (last - first).days + 1):
        made = np.datetime64(first + timedelta(days=day), "s")
        columns = {name: np.full((int(LEAD_EDGES_H[-1]), 1), np.nan) for name in ERRORS}
        for lead, hours in ready.items():
            rows = int((made - hours.start[0]) // HOUR) + DAY_H * lead + np.arange(DAY_H)
            there = (rows >= 0) & (rows < hours.hours)
            for name, column in columns.items():
                values = hours.get(name)
                if values is not None:
                    column[DAY_H * lead + np.flatnonzero(there), 0] = values[rows[there], 0]
        source = Source(SERVICE)
        found.append((made, HourlyWeather(np.array([made]), columns, 2.0, source)))
    return found
