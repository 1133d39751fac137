"""Five real summers at four places as a sites file, and their table for the guide.

The hours lie among the recorded weather named by HAYWEATHER_RECORDED; where each
file comes from stands in its SOURCES.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.record.results import Seasons, Tally
from hayweather.seasons.sites import read_sites

SITES = """[farm]
name = "Four places"

[site.NW-Colorado]
latitude = 40.53
longitude = -108.54
elevation = "2168 m"
timezone = "America/Denver"
weather = "@FOLDER@/nw_colorado_20*.csv.gz"
wind_height = "2 m"

[site.New-York-JFK]
latitude = 40.64
longitude = -73.78
elevation = "3 m"
timezone = "America/New_York"
weather = "@FOLDER@/nyc_jfk_2013.csv.gz"
wind_height = "10 m"

[site.Tucson]
latitude = 32.17
longitude = -110.88
elevation = "809 m"
timezone = "America/Phoenix"
weather = "@FOLDER@/tucson_az_tmy3_epw.csv.gz"
wind_height = "10 m"
typical_year = true

[site.Granada]
latitude = 37.18
longitude = -3.78
elevation = "559 m"
timezone = "Europe/Madrid"
weather = "@FOLDER@/granada_es_swec_epw.csv.gz"
wind_height = "10 m"
typical_year = true
"""
MONTHS = {5: "May", 6: "June", 7: "July", 8: "August", 9: "September"}


def sites_text(folder: Path) -> str:
    """The sites file, its weather in `folder`."""
    return SITES.replace("@FOLDER@", str(folder.resolve()))


def five_summers(sites_file: Path) -> Seasons:
    """The nights of May to September of every year."""
    return make_seasons(read_sites(sites_file), Request(months=tuple(MONTHS)))


def markdown_table(seasons: Seasons) -> str:
    """Nights with usable dew in a hundred, and median hours too wet, by month."""
    lines = [
        f"| place and year | {' | '.join(MONTHS.values())} | all |",
        "| --- |" + " ---: |" * (len(MONTHS) + 1),
    ]
    for site in seasons.sites:
        for year in site.years:
            name = "typical year" if year.year is None else str(year.year)
            place = site.site.name.replace("-", " ")
            lines.append(f"| {place}, {name} | {_cells(year.months, year.whole)} |")
    return "\n".join(lines) + "\n"


def rig_table(seasons: Seasons) -> str:
    """Hay that a baler does on dew and with the rig besides, as hours a night, by month."""
    lines = [
        f"| place and year | {' | '.join(MONTHS.values())} | all |",
        "| --- |" + " ---: |" * (len(MONTHS) + 1),
    ]
    for site in seasons.sites[:1]:
        for year in site.years:
            tallies = [*(year.months[month] for month in MONTHS), year.whole]
            cells = [_hours(tally, seasons.file.capacity_kg_h) for tally in tallies]
            place = site.site.name.replace("-", " ")
            lines.append(f"| {place}, {year.year} | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def _hours(tally: Tally, capacity_kg_h: float) -> str:
    """``"1.5 and 4.2 (3.8)"``: on dew, with the rig besides, all as a multiple of dew alone."""
    dew, rig = (mass / capacity_kg_h / tally.counted for mass in (tally.dew_kg, tally.rig_kg))
    return f"{dew:.1f} and {rig:.1f} ({(dew + rig) / dew:.1f})"


def _cells(months: Mapping[int, Tally], whole: Tally) -> str:
    """The cells of one year."""
    return " | ".join(_cell(tally) for tally in (*(months[month] for month in MONTHS), whole))


def _cell(tally: Tally) -> str:
    """``"87 (0.0)"``."""
    return f"{100 * tally.with_dew / tally.counted:.0f} ({tally.wet_h.median:.1f})"
