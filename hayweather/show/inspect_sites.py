"""A sites file shown: every site, how its weather was read, and what is wrong with it."""

from __future__ import annotations

from hayweather.seasons.record.sites import SiteRead, SitesRead
from hayweather.show.layout import WIDEST_PROSE, bullets, named_values, wrapped
from hayweather.show.table import Column, Document, Table
from hayweather.show.voice import Voice, phrases

SITES_READ = Table(
    (
        Column("site", "Name of the site", "name", kind="text"),
        Column("latitude", "North positive", "place.site.latitude", unit="degrees"),
        Column("longitude", "East positive", "place.site.longitude", unit="degrees"),
        Column("file_timezone", "Of the clock of its files", "place.weather.timezone",
               kind="text", null=True),
        Column("typical_year", "Said to be one", "place.typical_year", kind="truth"),
        Column("service", "Asked for its past hours", "place.weather.service", kind="text",
               null=True),
        Column("hours", "Hours of its files in which every needed value is known", kind="count"),
        Column("first", "UTC date of the first hour", kind="text"),
        Column("last", "UTC date of the last hour", kind="text"),
        Column("columns", "Of the record", lambda read: list(read.columns), kind="texts"),
        Column("notes", "What was derived, repaired or assumed", kind="texts",
               said=lambda read, voice: phrases(read.notes, voice)),
        Column("problems", "What is wrong, a file each", kind="texts",
               said=lambda read, voice: [each.line(voice.language) for each in read.problems]),
    ),
    "The weather of one site as it was read.",
)  # fmt: skip
SITES_FILE = Document(
    "hayweather/inspect/1",
    Table(
        (
            Column("kind", "Which kind of file", lambda _: "sites", kind="text",
                   choices=("sites",)),
            Column("name", "Of the sites file", "file.name", kind="text"),
            Column("sites", "One entry a site", kind="rows", of=SITES_READ),
        ),
        "What a sites file puts in force (hayweather inspect SITES.toml).",
    ),
)  # fmt: skip


def sites_text(read: SitesRead, voice: Voice, width: int) -> str:
    """A sites file as text."""
    prose = min(width, WIDEST_PROSE)
    lines = wrapped(voice.say("inspect_sites_title", name=read.file.name, count=len(read.sites)),
                    prose)  # fmt: skip
    for site in read.sites:
        lines += ["", *_site(site, voice, prose)]
    return "\n".join(lines) + "\n"


def _site(read: SiteRead, voice: Voice, width: int) -> list[str]:
    """One site."""
    site, weather = read.place.site, read.place.weather
    place = f"{site.latitude:g}, {site.longitude:g}"
    if site.elevation_m is not None:
        place += f", {voice.amount(site.elevation_m, 'elevation')}"
    source = weather.service or ", ".join(path.name for path in read.place.files)
    pairs = [("place", place), ("source", source)]
    if site.timezone:
        pairs.append(("zone", site.timezone))
    if weather.timezone:
        pairs.append(("file_zone", weather.timezone))
    if weather.wind_height_m is not None:
        pairs.append(("wind", voice.amount(weather.wind_height_m, "length")))
    if weather.hour:
        pairs.append(("hour", weather.hour))
    if read.place.typical_year:
        pairs.append(("typical", "true"))
    if read.hours:
        span = voice.say(
            "inspect_sites_span",
            hours=f"{read.hours:,}",
            first=read.first,
            last=read.last,
        )
        pairs.append(("hours", span))
        pairs.append(("columns", ", ".join(read.columns)))
    named = [(voice.say(f"inspect_sites_{key}"), value) for key, value in pairs]
    problems = [each.line(voice.language) for each in read.problems]
    notes = bullets([*phrases(read.notes, voice), *problems], width)
    return [site.name, *named_values(named, width), *notes]
