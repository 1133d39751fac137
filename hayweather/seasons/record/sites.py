"""What a sites file says."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from hayweather.catalog import kind_of
from hayweather.catalog.rigs import PLACEHOLDERS
from hayweather.errors import HayweatherError
from hayweather.farm.records import (
    Baler,
    Decimals,
    Field,
    Language,
    Money,
    Rig,
    Site,
    Tuning,
    UnitSystem,
    WeatherChoice,
)
from hayweather.units import ACRE_M2, SHORT_TON_KG
from hayweather.words import Remark

_TAKEN = {name: figure.value for name, figure in PLACEHOLDERS.items()}


@dataclass(frozen=True)
class GridChoice:
    """The ``[grid]`` table: a gridded weather file, and what it does not tell itself.

    Attributes
    ----------
    file
        NetCDF file or Zarr store.
    hour
        Where the hour of rain and sun lies: its stamp is its start, center or end.
    file_timezone
        Fixed offset of the file's clock; None is UTC, as CF has it.
    timezone
        Clock of all cells; None is the whole hour nearest to the sun's.
    wind_height_m, elevation_m
        Of all cells, where the file does not tell.
    sums
        "hour" where amounts of rain or sun are those of one hour.
    """

    file: Path
    hour: Literal["start", "center", "end"] | None = None
    file_timezone: str | None = None
    timezone: str | None = None
    wind_height_m: float | None = None
    elevation_m: float | None = None
    sums: Literal["hour"] | None = None

    def at(self, name: object) -> str:
        """A variable or dimension of the file, as errors name it."""
        return f"{self.file.name}: {name}"


ASSUMED_RIG = Rig(
    name="rig",
    tank_l=_TAKEN["tank_l"],
    rate_min_l_t=_TAKEN["rate_min_l_t"],
    rate_max_l_t=_TAKEN["rate_max_l_t"],
    flow_max_l_min=_TAKEN["flow_max_l_min"],
    fill_minutes=_TAKEN["fill_minutes"],
)
"""Round placeholders, assumed; a user's own rig replaces them."""


@dataclass(frozen=True)
class Work:
    """How much hay lies ready at once, and how long it may wait (all assumed unless given).

    Attributes
    ----------
    area_m2, yield_kg_m2
        Of one cutting.
    nights
        Nights within which it should be baled.
    season_kg
        Hay baled in a season; None is three times the cutting.
    gain_per_kg
        What added moisture brought per kg of hay in the user's own trial; None
        is the leaf that it saves.
    """

    area_m2: float = 120 * ACRE_M2
    yield_kg_m2: float = 1.5 * SHORT_TON_KG / ACRE_M2
    nights: int = 4
    season_kg: float | None = None
    gain_per_kg: float | None = None

    @property
    def cutting_kg(self) -> float:
        """Hay of one cutting."""
        return self.area_m2 * self.yield_kg_m2

    @property
    def year_kg(self) -> float:
        """Hay of a season."""
        return 3 * self.cutting_kg if self.season_kg is None else self.season_kg


@dataclass(frozen=True)
class SeasonSite:
    """A site and where its past hours come from.

    Attributes
    ----------
    site
        Where it lies.
    files
        Files and folders of files; empty where a service is asked.
    weather
        Service, clock and wind height of the files.
    typical_year
        True where the user says that the files are a stitched typical year.
    tuning
        What tuning found there.
    """

    site: Site
    files: tuple[Path, ...]
    weather: WeatherChoice
    typical_year: bool = False
    tuning: Tuning = field(default_factory=Tuning)


@dataclass(frozen=True)
class Sites:
    """A whole sites file; `notes` say what was assumed, `invented` that all of it is made up.

    Attributes
    ----------
    name
        Of the comparison.
    sites
        By name, in the order of the file.
    windrow, baler, rig
        The same at all sites.
    rig_is_assumed
        True where the file names none.
    work, money
        Size and time of a cutting, prices and costs.
    units, language
        Of the reader, unless asked otherwise.
    decimals
        Sign before tenths in what people read; None: as of language and units.
    path
        The file, None where there is none.
    notes
        What was assumed.
    grid
        Gridded weather instead of sites, None without.
    invented
        True where the file says that it is made up.
    """

    name: str
    sites: dict[str, SeasonSite]
    windrow: Field
    baler: Baler
    rig: Rig
    rig_is_assumed: bool
    work: Work = Work()
    money: Money = field(default_factory=Money)
    units: UnitSystem = "us"
    language: Language = "en"
    path: Path | None = None
    notes: tuple[Remark, ...] = ()
    grid: GridChoice | None = None
    invented: bool = False
    decimals: Decimals | None = None

    @property
    def capacity_kg_h(self) -> float:
        """What the baler does, or the figure of its kind."""
        given = self.baler.capacity_kg_h
        return kind_of(self.baler.kind).capacity.value if given is None else given


@dataclass(frozen=True)
class SiteRead:
    """The weather of one site as it was read.

    Attributes
    ----------
    place
        The site and its source.
    hours
        Hours of its files in which every needed value is known.
    first, last
        UTC dates; empty where nothing could be read.
    columns
        Of the record.
    notes
        What was derived, repaired or assumed.
    problems
        What is wrong, a file each; not asked of a service.
    """

    place: SeasonSite
    hours: int
    first: str
    last: str
    columns: tuple[str, ...]
    notes: tuple[Remark, ...]
    problems: tuple[HayweatherError, ...]

    @property
    def name(self) -> str:
        """Of the site."""
        return self.place.site.name


@dataclass(frozen=True)
class SitesRead:
    """A sites file and what was read for each of its sites."""

    file: Sites
    sites: tuple[SiteRead, ...]
