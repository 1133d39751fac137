"""Read a farm file into frozen records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from hayweather.catalog import kind_of
from hayweather.errors import FarmFileError
from hayweather.farm import checks
from hayweather.farm import tables as known
from hayweather.farm.document import load_document, path_of
from hayweather.farm.keys import Table
from hayweather.farm.nearest import nearest
from hayweather.farm.notes import resolve_times, work_out_mass
from hayweather.farm.reading import (
    Entry,
    Raw,
    check_table_names,
    check_units_said,
    columns_of,
    entries,
    missing,
    read_keys,
    without_columns,
)
from hayweather.farm.records import (
    Baler,
    Farm,
    Field,
    Rig,
    Road,
    Shift,
    Site,
    Station,
    WeatherChoice,
)
from hayweather.farm.values import Spot, as_written
from hayweather.farm.zones import check_clock, keeps_winter_time, read_zone
from hayweather.words import say

Notes = tuple[str, ...]


@dataclass(frozen=True)
class _Source:
    """A document, the file it came from, and its `[farm]` table."""

    document: Raw
    path: Path
    head: known.FarmHead

    def spot(self, table: Table) -> Spot:
        """The place of a ``[name]`` table."""
        return Spot(self.path.name, table.heading, self.head.units)

    def entries(self, table: Table) -> list[Entry]:
        """The entries of a table."""
        return entries(table, self.document, self.path.name, self.head.units)

    def needed(self, table: Table) -> list[Entry]:
        """The entries of a table that must have one."""
        found = self.entries(table)
        if not found:
            raise FarmFileError("farm_no_entry", self.path.name, form=table.heading)
        return found

    def single(self, table: Table) -> Any:
        """The record of a ``[name]`` table; all defaults when it is absent."""
        found = self.entries(table)
        return table.record(**read_keys(table, found[0][1], found[0][2]) if found else {})


def read_farm(path: str | Path, environ: Mapping[str, str] | None = None) -> Farm:
    """Read a farm file.

    Parameters
    ----------
    path
        The TOML file.
    environ
        The environment in which weather will be fetched; with it, a service
        that needs a key or accepted terms is refused without them. None: the
        file is only read, nothing will be fetched.

    Returns
    -------
    Farm
        SI units, UTC times; `Farm.notes` says what was assumed or resolved.

    Raises
    ------
    FarmFileError
        If anything in the file is wrong: one line, with the place.
    """
    place = path_of(path)
    return replace(_farm_from(load_document(place), place, environ), path=place)


def farm_of(environ: Mapping[str, str] | None = None, /, **tables: object) -> Farm:
    """A farm from keywords: the tables of a farm file, with the same names, checks and units.

    Parameters
    ----------
    environ
        As in `read_farm`.
    **tables
        ``site={"home": {...}}``, ``field={"bench": {...}}``, ``baler={...}`` and so
        on; a value is a number in the farm's units, a quantity string, a time, or
        whatever else may stand in the file. Paths are relative to the current folder.
        ``weather`` may be left out where hours are given to `hayweather.night_of`.

    Raises
    ------
    FarmFileError
        If anything in them is wrong: one line, with the place.

    Examples
    --------
    >>> home = {"latitude": 43.2, "longitude": -120.6, "elevation": "1320 m",
    ...         "timezone": "America/Los_Angeles"}
    >>> farm = farm_of(site={"home": home}, field={"bench": {"cutting": 2, "cured": True}},
    ...                baler={"useful_hours": 2}, weather={"service": "us-nws"})
    >>> farm.fields["bench"].site
    'home'
    """
    return _farm_from(dict(tables), Path("farm"), environ, weather_needed=False)


def _farm_from(
    document: Raw, path: Path, environ: Mapping[str, str] | None, *, weather_needed: bool = True
) -> Farm:
    """The farm of a document that stands, or would stand, at `path`."""
    source = _open(document, path)
    sites, site_notes = _sites(source)
    weather, weather_notes = _weather(source, sites, needed=weather_needed)
    _check_sites(source, sites, weather)
    if environ is not None:
        checks.check_terms(weather, environ, source.spot(known.WEATHER))
    fields, field_notes = _fields(source, sites)
    stations = _stations(source)
    balers, baler_notes = _balers(source)
    rigs = _rigs(source, balers)
    _check_named(source, fields, {"baler": balers, "rig": rigs or {}, "station": stations})
    money = source.single(known.MONEY)
    headed = {f"[field.{name}]": field for name, field in fields.items()}
    checks.check_prices(money, headed, source.spot(known.MONEY))
    money_notes = tuple(
        say("farm_note_price_idle", source.head.language, key=key, by=money.price_by)
        for key in checks.idle_prices(money)
    )
    return Farm(
        name=source.head.name or path.stem,
        sites=sites,
        fields=fields,
        balers=balers,
        weather=weather,
        units=source.head.units,
        language=source.head.language,
        rigs=rigs,
        shifts=_shifts(source),
        roads=_roads(source, sites, fields),
        rest_h=source.head.rest_h,
        money=money,
        risk=source.single(known.RISK),
        tuning=source.single(known.TUNING),
        log=path.parent / source.head.log,
        decimals=source.head.decimals,
        stations=tuple(stations.values()),
        notes=site_notes + weather_notes + field_notes + baler_notes + money_notes,
    )


def _open(document: Raw, path: Path) -> _Source:
    """The document with its head, which says in which units the rest is written."""
    check_table_names(without_columns(document), path.name)
    bare = _Source(document, path, known.FarmHead())
    check_units_said(document, path.name, (known.SITE, known.WEATHER, known.STATION))
    return _Source(document, path, bare.single(known.FARM))


def _sites(source: _Source) -> tuple[dict[str, Site], Notes]:
    """All sites; their zones exist, and one without summer time is said."""
    sites, notes = {}, []
    for name, raw, spot in source.needed(known.SITE):
        sites[name] = Site(name=name, **read_keys(known.SITE, raw, spot))
        _zone(sites[name], spot)
        zone = sites[name].timezone
        if zone is not None and keeps_winter_time(zone):
            where = spot.at("timezone")
            notes.append(say("farm_note_no_summer", source.head.language, where=where, zone=zone))
    return sites, tuple(notes)


def _zone(site: Site, spot: Spot) -> ZoneInfo | None:
    """The zone of a site, None when the weather service is to tell it."""
    return None if site.timezone is None else read_zone(site.timezone, spot)


def _check_sites(source: _Source, sites: dict[str, Site], weather: WeatherChoice) -> None:
    """Check every site against the weather source."""
    for name, _, spot in source.needed(known.SITE):
        checks.check_site(sites[name], _zone(sites[name], spot), weather, spot)


def _weather(
    source: _Source, sites: dict[str, Site], *, needed: bool
) -> tuple[WeatherChoice, Notes]:
    """Where the weather comes from; `now` is local when all sites share a zone."""
    spot = source.spot(known.WEATHER)
    found = source.entries(known.WEATHER)
    values = read_keys(known.WEATHER, found[0][1], spot) if found else {}
    zones = {site.timezone for site in sites.values()}
    shared = next(iter(zones)) if len(zones) == 1 else None
    zone = None if shared is None else ZoneInfo(shared)
    values, notes = resolve_times(known.WEATHER, values, zone, spot, source.head.language)
    if "timezone" in values:
        check_clock(values["timezone"], spot)
    if "file" in values:
        values["file"] = source.path.parent / values["file"]
    if columns := columns_of(values.get("columns"), source.document, source.path):
        values["columns"] = columns
    weather = WeatherChoice(**values)
    if found or needed:
        checks.check_weather(weather, spot)
    return weather, notes


def _fields(source: _Source, sites: dict[str, Site]) -> tuple[dict[str, Field], Notes]:
    """All fields, with times in UTC and the windrow's mass worked out."""
    fields, notes = {}, []
    for name, raw, spot in source.needed(known.FIELD):
        values = read_keys(known.FIELD, raw, spot)
        site = _site_of(values, sites, spot)
        zone = _zone(site, spot)
        language = source.head.language
        values, time_notes = resolve_times(known.FIELD, values, zone, spot, language)
        values, mass_notes = work_out_mass(values, spot, language)
        fields[name] = Field(name=name, **{**values, "site": site.name})
        checks.check_field(fields[name], spot)
        notes += [*time_notes, *mass_notes]
    return fields, tuple(notes)


def _site_of(values: dict[str, Any], sites: dict[str, Site], spot: Spot) -> Site:
    """The site that a field names, or the only one."""
    if "site" not in values:
        if len(sites) == 1:
            return next(iter(sites.values()))
        raise missing(known.FIELD.keys[0], spot)
    if values["site"] not in sites:
        near = nearest(values["site"], sites)
        raise spot.error("unknown_site", "site", value=as_written(values["site"]), nearest=near)
    return sites[values["site"]]


def _stations(source: _Source) -> dict[str, Station]:
    """All stations, each of one kind; their zones exist."""
    stations = {}
    for name, raw, spot in source.entries(known.STATION):
        values = read_keys(known.STATION, raw, spot)
        if "file" in values:
            values["file"] = source.path.parent / values["file"]
        if "timezone" in values:
            check_clock(values["timezone"], spot)
        stations[name] = Station(name=name, **values)
        checks.check_station(stations[name], spot)
    return stations


def _balers(source: _Source) -> tuple[dict[str, Baler], Notes]:
    """All balers, bands checked; one whose limits hang on a size not given gets a note."""
    balers, notes = {}, []
    for name, raw, spot in source.needed(known.BALER):
        balers[name] = baler = Baler(name=name, **read_keys(known.BALER, raw, spot))
        checks.check_baler(baler, spot)
        unknown_size = baler.bale_size is None and baler.bale_mass_kg is None
        if unknown_size and kind_of(baler.kind).heavy_side_m is not None:
            notes.append(say("farm_note_bale_size", source.head.language, where=spot.at()))
    return balers, tuple(notes)


def _rigs(source: _Source, balers: dict[str, Baler]) -> dict[str, Rig] | None:
    """All rigs, None when there is no rig."""
    rigs = {}
    for name, raw, spot in source.entries(known.RIG):
        rigs[name] = Rig(name=name, **read_keys(known.RIG, raw, spot))
        checks.check_rig(rigs[name], balers, spot)
    return rigs or None


def _check_named(
    source: _Source, fields: Mapping[str, Field], tables: Mapping[str, Mapping[str, object]]
) -> None:
    """The baler, the rig and the station that a field names stand in the file."""
    for name, _, spot in source.needed(known.FIELD):
        for key, there in tables.items():
            named = getattr(fields[name], key)
            if named is None or named in there:
                continue
            written = as_written(named)
            if not there:
                raise spot.error(_NONE_THERE[key], key, value=written)
            near = nearest(named, there)
            raise spot.error("unknown_named", key, value=written, table=key, nearest=near)


_NONE_THERE = {"rig": "no_rig_there", "station": "no_station_there"}


def _shifts(source: _Source) -> tuple[Shift, ...]:
    """All shifts, in the order of the file."""
    found = source.entries(known.SHIFT)
    shifts = tuple(Shift(**read_keys(known.SHIFT, raw, spot)) for _, raw, spot in found)
    checks.check_shifts(shifts, [spot for _, _, spot in found])
    return shifts


def _roads(
    source: _Source, sites: Mapping[str, Site], fields: Mapping[str, Field]
) -> tuple[Road, ...]:
    """All ways between fields or sites that the file has, in the order of the file."""
    found = source.entries(known.ROAD)
    roads = tuple(Road(**read_keys(known.ROAD, raw, spot)) for _, raw, spot in found)
    checks.check_roads(roads, [spot for _, _, spot in found], {**sites, **fields})
    return roads
