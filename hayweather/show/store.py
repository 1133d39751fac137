"""What a store of answers holds, as lines and as data."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple
from urllib.parse import parse_qs, urlsplit

from hayweather.show.layout import named_values
from hayweather.show.table import Column, Document, Table
from hayweather.show.voice import Voice
from hayweather.weather.store import StoreEntry
from hayweather.words import say

KINDS = {
    "/v1/archive": "past",
    "/v1/ensemble": "runs",
    "/v1/forecast": "forecast",
    "/points/": "place",
    "/gridpoints/": "forecast",
}
"""What is asked, by the beginning of the path."""


class Asked(NamedTuple):
    """What a stored answer is about: its kind, the place, the days where they are named."""

    kind: str
    place: str
    days: str


def asked_of(request: str) -> Asked:
    """What a stored request is about.

    Examples
    --------
    >>> asked_of("https://h/v1/archive?latitude=40.5&longitude=-108.5&start_date=2015-01-01"
    ...          "&end_date=2015-12-31")
    Asked(kind='past', place='40.5, -108.5', days='2015-01-01 - 2015-12-31')
    """
    parts = urlsplit(request)
    query = {name: values[0] for name, values in parse_qs(parts.query).items()}
    kind = next((kind for begin, kind in KINDS.items() if parts.path.startswith(begin)), "other")
    if query.get("timezone") == "auto":
        kind = "place"
    if "_previous_day" in query.get("hourly", ""):
        kind = "earlier"
    place = ", ".join(query[name] for name in ("latitude", "longitude") if name in query)
    days = " - ".join(query[name] for name in ("start_date", "end_date") if name in query)
    return Asked(kind, place or parts.path.partition("points/")[2], days)


def store_text(folder: Path, entries: tuple[StoreEntry, ...], language: str, width: int) -> str:
    """Every stored answer on a line."""
    total = f"{sum(entry.size_bytes for entry in entries) / 1e6:.1f}"
    title = say("store_folder", language, folder=folder, count=len(entries), size=total)
    pairs = [(_when(entry), _line(entry, language)) for entry in entries]
    return "\n".join([title, *named_values(pairs, width)]) + "\n"


def _when(entry: StoreEntry) -> str:
    """When an answer was fetched, to the minute; blank for a damaged one."""
    return "" if entry.fetched is None else f"{str(entry.fetched)[:16].replace('T', ' ')} UTC"


def _line(entry: StoreEntry, language: str) -> str:
    """What an answer is about, and its size."""
    size = f"{entry.size_bytes / 1000:.0f}"
    if entry.request is None:
        return say("store_damaged_file", language, name=entry.path.name, size=size)
    asked = asked_of(entry.request)
    kind = say(f"store_kind_{asked.kind}", language)
    text = ", ".join(part for part in (kind, asked.place, asked.days) if part)
    return say("store_kept" if entry.kept else "store_passing", language, text=text, size=size)


class Stored(NamedTuple):
    """A store and what is in it."""

    folder: str
    answers: tuple[StoreEntry, ...]


def _asked(name: str) -> Callable[[StoreEntry], str]:
    """A part of what was asked; a damaged answer has no kind."""

    def found(entry: StoreEntry) -> str:
        asked = Asked("damaged", "", "") if entry.request is None else asked_of(entry.request)
        return str(getattr(asked, name))

    return found


_PLAIN = Voice("en", "metric", "UTC")
ANSWERS = Table(
    (
        Column("fetched", "When", kind="utc", null=True),
        Column("kind", "What was asked for", _asked("kind"), kind="text"),
        Column("place", "Latitude and longitude", _asked("place"), kind="text"),
        Column("days", "First and last, where they are named", _asked("days"), kind="text"),
        Column("kept", "Past hours, which stay", kind="truth"),
        Column("size_bytes", "Of its file", kind="count"),
        Column("file", "Its name", "path.name", kind="text"),
        Column("request", "The address, without a key", kind="text", null=True),
    ),
    "A stored answer.",
)
STORE = Document(
    "hayweather/store/1",
    Table(
        (
            Column("folder", "Where they are", kind="text"),
            Column("answers", "All of them", kind="rows", of=ANSWERS),
        ),
        "Stored answers of weather services (hayweather fetch --store show).",
    ),
)


def store_data(folder: Path, entries: tuple[StoreEntry, ...], *, csv: bool, raw: bool) -> str:
    """Every stored answer as CSV or JSON."""
    if csv:
        return ANSWERS.csv(entries, _PLAIN, raw=raw)
    return STORE.text(Stored(str(folder), entries), _PLAIN)
