"""SITES.toml: sites with their weather, and the windrow, baler, rig and money they share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from hayweather.errors import FarmFileError
from hayweather.farm import checks
from hayweather.farm import tables as known
from hayweather.farm.document import load_document
from hayweather.farm.keys import Key, Table
from hayweather.farm.notes import work_out_mass
from hayweather.farm.reading import (
    Entry,
    Raw,
    check_table_names,
    check_units_said,
    columns_of,
    entries,
    read_keys,
    without_columns,
)
from hayweather.farm.records import (
    Baler,
    Farm,
    Field,
    Money,
    Rig,
    Site,
    Tuning,
    WeatherChoice,
)
from hayweather.farm.values import Spot, as_written
from hayweather.farm.zones import check_clock, read_zone
from hayweather.seasons.grid.axes import GRID, choice_of
from hayweather.seasons.record.sites import ASSUMED_RIG, GridChoice, SeasonSite, Sites, Work
from hayweather.weather.catalog import CHECKS, SERVICES
from hayweather.words import Remark

_WEATHER = "weather"
_TUNING = "tuning"
_FIELD_KEYS = ("crop", "conditioned", "ground", "windrow_mass", "yield", "swath_width",
               "swaths_per_windrow", "windrow_width", "crude_protein", "ndf", "adf")  # fmt: skip
_SOURCE_KEYS = (
    Key(
        "service",
        "choice",
        choices=tuple(name for name, service in SERVICES.items() if service.past),
    ),
    Key("terms", "choice", choices=("non-commercial",)),
    Key("file_timezone", "text", us='"UTC"'),
    Key("wind_height", "number", "wind_height_m", "length", 0.3, 150, us="33"),
    Key("hour", "choice", choices=("start", "center", "end")),
    Key("typical_year", "boolean"),
    Key("columns", "text", us='"my_station.toml"'),
    Key("believe", "choices", choices=CHECKS, us='["place"]'),
)


@dataclass(frozen=True)
class _SiteValues:
    """What stands in a ``[site.X]`` table besides `weather` and `tuning`."""

    service: str | None = None
    terms: str | None = None
    file_timezone: str | None = None
    wind_height_m: float | None = None
    hour: str | None = None
    typical_year: bool = False
    columns: str | None = None
    believe: tuple[str, ...] = ()


@dataclass(frozen=True)
class _SitesHead(known.FarmHead):
    """The `[farm]` table, and whether all of it is made up."""

    invented: bool = False


HEAD = replace(known.FARM, record=_SitesHead, keys=(*known.FARM.keys, Key("invented", "boolean")))
SITE = Table("site", "named", _SiteValues, known.SITE.keys + _SOURCE_KEYS)
WINDROW = Table(
    "windrow", "one", Field, tuple(key for key in known.FIELD.keys if key.name in _FIELD_KEYS)
)
WORK = Table(
    "work",
    "one",
    Work,
    (
        Key("area", "number", "area_m2", "area", 100, 1e8, us="120"),
        Key("yield", "number", "yield_kg_m2", "yield", 0.05, 3, us="1.5"),
        Key("nights", "integer", low=1, high=30, us="4"),
        Key("season_tons", "number", "season_kg", "tons", 1, 1e9, us="3000"),
        Key("gain", "number", "gain_per_kg", "price_by_mass", 0, 10, us="5"),
    ),
)
BALER = replace(known.BALER, form="one")
RIG = replace(known.RIG, form="one")
TABLES = {table.name: table for table in (HEAD, SITE, WINDROW, WORK, BALER, RIG, known.MONEY, GRID)}


@dataclass(frozen=True)
class _Document:
    """A sites file and what its head says."""

    document: Raw
    path: Path
    head: _SitesHead

    def entries(self, table: Table) -> list[Entry]:
        """The entries of a table."""
        return entries(table, self.document, self.path.name, self.head.units)

    def values(self, table: Table) -> tuple[dict[str, Any], Spot]:
        """What stands in a ``[name]`` table, and where it stands."""
        found = self.entries(table)
        spot = Spot(self.path.name, table.heading, self.head.units)
        return (read_keys(table, found[0][1], spot), spot) if found else ({}, spot)


def read_sites(path: Path) -> Sites:
    """Read a sites file.

    Parameters
    ----------
    path
        The TOML file; the paths of weather in it are relative to it.

    Raises
    ------
    FarmFileError
        If anything in it is wrong: one line, with the place.
    """
    if not path.exists():
        raise FarmFileError("seasons_missing", str(path))
    document = load_document(path)
    check_table_names(without_columns(document), path.name, TABLES)
    check_units_said(document, path.name, (SITE, GRID))
    bare = _Document(document, path, _SitesHead())
    head = _SitesHead(**bare.values(HEAD)[0])
    source = _Document(document, path, head)
    sites = {name: _site(name, raw, spot, source) for name, raw, spot in source.entries(SITE)}
    grid = _grid(source)
    if not sites and grid is None:
        raise FarmFileError("seasons_no_site", path.name)
    if sites and grid is not None:
        raise FarmFileError("farm_grid_beside_sites", f"{path.name}: {GRID.heading}")
    baler = _baler(source)
    rig, rig_is_assumed = _rig(source, baler)
    windrow, notes = _windrow(source)
    money = _money(source, windrow)
    return Sites(
        name=head.name or path.stem,
        sites=sites,
        windrow=windrow,
        baler=baler,
        rig=rig,
        rig_is_assumed=rig_is_assumed,
        work=Work(**source.values(WORK)[0]),
        money=money,
        units=head.units,
        language=head.language,
        path=path,
        notes=(
            *notes,
            *(
                Remark("farm_note_price_idle", {"key": key, "by": money.price_by})
                for key in checks.idle_prices(money)
            ),
        ),
        grid=grid,
        invented=head.invented,
        decimals=head.decimals,
    )


def _grid(source: _Document) -> GridChoice | None:
    """The gridded weather that stands for sites; None where there is none."""
    values, spot = source.values(GRID)
    if GRID.name not in source.document:
        return None
    return choice_of(values, spot, source.path.parent)


def _site(name: str, raw: Raw, spot: Spot, document: _Document) -> SeasonSite:
    """One site and where its weather comes from."""
    path = document.path
    plain = {key: value for key, value in raw.items() if key not in (_WEATHER, _TUNING)}
    if "file" in plain:  # what a farm file calls it
        raise spot.error("unknown_key", "file", nearest=_WEATHER)
    values = read_keys(SITE, plain, spot)
    own = {key.target for key in _SOURCE_KEYS}
    site = Site(name=name, **{key: value for key, value in values.items() if key not in own})
    source = _SiteValues(**{key: value for key, value in values.items() if key in own})
    _check_clocks(site, source, spot)
    files = _paths(raw[_WEATHER], spot, path) if _WEATHER in raw else ()
    if bool(files) == (source.service is not None):
        raise spot.error("seasons_source", _WEATHER)
    return SeasonSite(
        site=site,
        files=files,
        weather=WeatherChoice(
            service=source.service,
            terms=source.terms,  # type: ignore[arg-type]
            timezone=source.file_timezone,
            wind_height_m=source.wind_height_m,
            hour=source.hour,  # type: ignore[arg-type]
            columns=columns_of(source.columns, document.document, path),
            believe=source.believe,
        ),
        typical_year=source.typical_year,
        tuning=_tuning(raw.get(_TUNING), spot),
    )


def _check_clocks(site: Site, source: _SiteValues, spot: Spot) -> None:
    """The zone of the place fits it, and that of the files exists."""
    zone = None if site.timezone is None else read_zone(site.timezone, spot)
    checks.check_site(site, zone, WeatherChoice(service=None), spot)
    if source.file_timezone is not None:
        check_clock(source.file_timezone, spot)


def _paths(written: object, spot: Spot, path: Path) -> tuple[Path, ...]:
    """The files and folders that a site names."""
    listed = [written] if isinstance(written, str) else written
    if not isinstance(listed, list) or not all(isinstance(item, str) for item in listed):
        raise spot.error("seasons_weather", _WEATHER, value=as_written(written))
    return tuple(path.parent / item for item in listed)


def _tuning(raw: object, spot: Spot) -> Tuning:
    """What tuning found for a site."""
    if raw is None:
        return Tuning()
    if not isinstance(raw, dict):
        raise spot.error("seasons_tuning", _TUNING, value=as_written(raw))
    return Tuning(**read_keys(known.TUNING, raw, replace(spot, table=f"{spot.table} tuning")))


def _windrow(source: _Document) -> tuple[Field, tuple[Remark, ...]]:
    """The windrow that lies at every site, cured; its mass worked out."""
    values, spot = source.values(WINDROW)
    given = "windrow_mass_kg_m2" in values
    values, _ = work_out_mass(values, spot, source.head.language)
    field = Field(name="windrow", site="", cured=True, **values)
    if given:
        return field, ()
    key = "seasons_mass" if "yield_kg_m2" in values else "seasons_mass_assumed"
    return field, (Remark(key, {"mass": (field.windrow_mass_kg_m2, "windrow_mass")}),)


def _money(source: _Document, windrow: Field) -> Money:
    """Prices and costs; what hay is paid by can be worked out."""
    values, spot = source.values(known.MONEY)
    money = Money(**values)
    checks.check_prices(money, {WINDROW.heading: windrow}, spot)
    if money.price_by != "leaf" and money.price_per_kg is None:
        raise spot.error("required", "price", example="price = 200")
    return money


def _baler(source: _Document) -> Baler:
    """The baler of all sites, its limits checked."""
    values, spot = source.values(BALER)
    baler = Baler(name="baler", **values)
    checks.check_baler(baler, spot)
    return baler


def _rig(source: _Document, baler: Baler) -> tuple[Rig, bool]:
    """The rig of all sites and whether it is the assumed one."""
    values, spot = source.values(RIG)
    rig = Rig(name="rig", **values) if values else ASSUMED_RIG
    checks.check_rig(rig, {baler.name: baler}, spot)
    return rig, not values


def farm_of(sites: Sites, place: SeasonSite) -> Farm:
    """One site of the file as a farm of one field, for the code that calls hours."""
    name = place.site.name
    return Farm(
        name=sites.name,
        sites={name: place.site},
        fields={"windrow": replace(sites.windrow, site=name)},
        balers={sites.baler.name: sites.baler},
        weather=place.weather,
        units=sites.units,
        language=sites.language,
        rigs={sites.rig.name: sites.rig},
        money=sites.money,
        tuning=place.tuning,
        path=sites.path,
    )
