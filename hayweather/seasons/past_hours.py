"""Past hours of a site: files, folders of files, or a service, joined into whole series."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from hayweather.errors import FarmFileError, HayweatherError, OptionError, WeatherFileError
from hayweather.farm.records import Site, WeatherChoice
from hayweather.seasons.record.sites import SeasonSite
from hayweather.weather.record import HOUR, Assumption, Floats, HourlyWeather

Years = tuple[int, int]
Fetch = Callable[[Site, WeatherChoice, date, date], HourlyWeather]
SOURCES_NAMED = 3
SAME = 1e-6  # two files agree on an hour that both hold when they differ by no more


def series_of(
    place: SeasonSite, years: Years | None, fetch: Fetch | None = None
) -> tuple[list[HourlyWeather], list[HayweatherError]]:
    """All past hours of a site, one lane each, and what is wrong with files it goes on without.

    Files with the same columns are one series.

    Parameters
    ----------
    place
        The site and its source.
    years
        First and last year asked for; a service must be told.
    fetch
        Asks the service; `fetch_archive` unless given.

    Returns
    -------
    tuple
        The series, none where nothing can be read; and every fault of every file.
    """
    try:
        if place.weather.service is not None:
            return [_from_service(place, years, fetch or fetch_archive)], []
        files = _files(place)
    except HayweatherError as problem:
        return [], [problem]
    found: list[HourlyWeather] = []
    faults: list[HayweatherError] = []
    for path in files:
        try:
            found.append(_read(path, place))
        except HayweatherError as problem:
            faults.append(problem)
    typical = [weather.typical_year for weather in found]
    if any(typical) and (not all(typical) or len(found) > 1):
        return [], [*faults, FarmFileError("seasons_typical_mixed", f"[site.{place.site.name}]")]
    try:
        return join_series(found), faults
    except HayweatherError as problem:
        return [], [*faults, problem]


def _from_service(place: SeasonSite, years: Years | None, fetch: Fetch) -> HourlyWeather:
    """The years asked for from the service of a site."""
    if years is None:
        raise FarmFileError("seasons_years_needed", f"[site.{place.site.name}]")
    first, last = date(years[0], 1, 1), date(years[1], 12, 31)
    return fetch(place.site, place.weather, first, last)


def fetch_archive(site: Site, choice: WeatherChoice, first: date, last: date) -> HourlyWeather:
    """Past hours of a site from its service, day `first` to day `last`, (hours, 1).

    Raises
    ------
    OptionError, WeatherUnavailableError
        If the terms do not allow it, or the hours cannot be had.
    """
    from hayweather.weather.judge import judged
    from hayweather.weather.services import ServiceError, ServiceSettings
    from hayweather.weather.services.open_meteo import fetch_past, require_terms

    settings = ServiceSettings.from_environment()
    try:
        require_terms(choice.terms, settings)
    except OptionError as problem:
        where = f"[site.{site.name}] terms"
        raise OptionError(problem.key, where, **problem.values) from None
    now = np.datetime64(datetime.now(UTC).replace(tzinfo=None), "s")
    weather = fetch_past(site, first, last, settings, now=now)
    return judged(weather, site, ServiceError, choice.believe)


def _files(place: SeasonSite) -> list[Path]:
    """The files of a site, folders opened and patterns matched, in order of name."""
    files: list[Path] = []
    for path in place.files:
        if path.is_dir():
            found = [inside for inside in path.iterdir() if inside.name[0] != "."]
            files += _some(found, "seasons_empty_folder", path)
        elif not path.exists() and set(path.name) & set("*?["):
            files += _some(path.parent.glob(path.name), "seasons_no_match", path)
        else:
            files.append(path)
    return files


def _some(found: Iterable[Path], key: str, asked: Path) -> list[Path]:
    """The files among some paths, in order of name; an error where there are none."""
    files = sorted(path for path in found if path.is_file())
    if not files:
        raise WeatherFileError(key, str(asked))
    return files


def _read(path: Path, place: SeasonSite) -> HourlyWeather:
    """One file; the user's word makes it a typical year where the file does not."""
    from hayweather.weather.files import ReadOptions, read_weather_file
    from hayweather.weather.judge import judged

    choice = place.weather
    options = ReadOptions(
        timezone=choice.timezone,
        wind_height_m=choice.wind_height_m,
        hour=choice.hour,
        site_elevation_m=place.site.elevation_m,
        columns=choice.columns,
    )
    weather, _ = read_weather_file(path, options)
    typical = weather.typical_year or place.typical_year
    return judged(replace(weather, typical_year=typical), place.site, believe=choice.believe)


def join_series(parts: Sequence[HourlyWeather]) -> list[HourlyWeather]:
    """Parts with the same columns and wind height as one series each, in order of time.

    Hours between parts are blank.

    Raises
    ------
    WeatherFileError
        If two parts hold the same hour with different values.
    """
    groups: dict[tuple[object, ...], list[HourlyWeather]] = {}
    for part in parts:
        phase = int(part.start[0].astype(np.int64) % 3600)
        key = (frozenset(part.columns), part.wind_height_m, phase)
        groups.setdefault(key, []).append(part)
    return [_joined(sorted(group, key=lambda p: p.start[0])) for group in groups.values()]


def _joined(parts: Sequence[HourlyWeather]) -> HourlyWeather:
    """Several parts on one hourly grid."""
    first = parts[0]
    if len(parts) == 1:
        return first
    begin = first.start[0]
    hours = int((max(part.end[0] for part in parts) - begin) / HOUR)
    columns = {name: np.full((hours, 1), np.nan) for name in first.columns}
    repaired = np.zeros((hours, 1), dtype=bool)
    basis = np.zeros((hours, 1), dtype=np.uint8)
    for part in parts:
        row = int((part.start[0] - begin) / HOUR)
        rows = slice(row, row + part.hours)
        for name, values in part.columns.items():
            columns[name][rows] = _merged(columns[name][rows], values, name, part, parts)
        repaired[rows] |= part.repaired
        basis[rows] |= part.basis
    notes = {(note.key, str(note.values)): note for part in parts for note in part.assumed}
    assumed: tuple[Assumption, ...] = tuple(notes.values())
    source = replace(first.source, name=_names(parts))
    return replace(
        first, columns=columns, repaired=repaired, basis=basis, assumed=assumed, source=source
    )


def _names(parts: Sequence[HourlyWeather]) -> str:
    """Names of the sources of some parts; of many, the first, the last and how many."""
    names = list(dict.fromkeys(part.source.name for part in parts))
    if len(names) <= SOURCES_NAMED:
        return ", ".join(names)
    return f"{names[0]} … {names[-1]} ({len(names)})"


def _merged(
    old: Floats, new: Floats, name: str, part: HourlyWeather, parts: Sequence[HourlyWeather]
) -> Floats:
    """Values of a part laid over what earlier parts gave."""
    apart = np.abs(old - new) > SAME
    if apart.any():
        row = int(np.argmax(apart[:, 0]))
        hour = part.start[0] + row * HOUR
        other = next(each for each in parts if each.start[0] <= hour < each.end[0])
        raise WeatherFileError(
            "seasons_files_differ",
            part.source.name,
            column=name,
            time=f"{hour}Z",
            here=f"{new[row, 0]:g}",
            there=f"{old[row, 0]:g}",
            other=other.source.name,
            count=int(apart.sum()),
        )
    return np.where(np.isnan(new), old, new)


def derived_notes(columns: Collection[str]) -> list[Assumption]:
    """What the windrow's run derives or assumes where only these columns are there."""
    keys = {
        "cloud_fraction": "cloud_from_sun" if "shortwave_w_m2" in columns else "cloud_unknown",
        "shortwave_w_m2": "sun_from_cloud",
        "rain_mm": "rain_unknown",
        "pressure_kpa": "pressure_from_elevation",
    }
    return [Assumption(key) for name, key in keys.items() if name not in columns]
