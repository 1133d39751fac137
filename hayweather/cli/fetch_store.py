"""The store of answers: shown, or cleared."""

from __future__ import annotations

import sys
from typing import Any, Literal, NamedTuple
from urllib.parse import parse_qs, urlsplit

from hayweather.cli import options as o
from hayweather.cli.write import SCREEN, write_all
from hayweather.errors import OutputError
from hayweather.show.layout import named_values
from hayweather.show.table import json_text, records_csv
from hayweather.weather.services import ServiceSettings
from hayweather.weather.store import AnswerStore, StoreEntry
from hayweather.words import say

SCHEMA = "hayweather/store/1"
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


def use_store(
    action: Literal["show", "clear", "clear-all"], form: o.Format, out: str | None
) -> None:
    """List what is stored, or remove it; the key is in no name and no answer.

    Raises
    ------
    OutputError
        If something that should go cannot be removed.
    """
    language = o.default_language()
    store = AnswerStore(ServiceSettings.from_environment().store_folder())
    if action != "show":
        _clear(store, language, past_too=action == "clear-all")
        return
    entries = store.entries()
    text = _text(store, entries, language) if form == "table" else _data(store, entries, form)
    write_all([(out or SCREEN, text)], language)


def _clear(store: AnswerStore, language: str, *, past_too: bool) -> None:
    """Remove stored answers and say how many went and how many stay."""
    count = store.clear(past_too=past_too)
    left = store.entries()
    if any(past_too or not entry.kept for entry in left):
        raise OutputError("store_stuck", str(store.folder))
    text = say("store_cleared", language, count=count, folder=store.folder)
    if left:
        text = f"{text} {say('store_past_left', language, count=len(left))}"
    print(text, file=sys.stderr)


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


def _text(store: AnswerStore, entries: tuple[StoreEntry, ...], language: str) -> str:
    """Every stored answer on a line."""
    total = f"{sum(entry.size_bytes for entry in entries) / 1e6:.1f}"
    title = say("store_folder", language, folder=store.folder, count=len(entries), size=total)
    pairs = [(_when(entry), _line(entry, language)) for entry in entries]
    return "\n".join([title, *named_values(pairs, o.text_width())]) + "\n"


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


def _data(store: AnswerStore, entries: tuple[StoreEntry, ...], form: o.Format) -> str:
    """Every stored answer as data."""
    rows = [_row(entry) for entry in entries]
    if form == "csv":
        return records_csv(rows)
    content = {"schema": SCHEMA, "folder": str(store.folder), "answers": rows}
    return json_text(content)


def _row(entry: StoreEntry) -> dict[str, Any]:
    """One stored answer as data; a damaged one has no kind."""
    asked = Asked("damaged", "", "") if entry.request is None else asked_of(entry.request)
    return {
        "fetched": None if entry.fetched is None else f"{entry.fetched}Z",
        **asked._asdict(),
        "kept": entry.kept,
        "size_bytes": entry.size_bytes,
        "file": entry.path.name,
        "request": entry.request,
    }
