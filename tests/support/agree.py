"""A checker that knows only what was written: JSON, text, CSV, calendar, page.

It reads them as anybody would and says where they differ from each other, or from
themselves. It uses none of the package's code.
"""

from __future__ import annotations

import csv
import html
import io
import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise

from icalendar import Calendar

ADVICE_BALED = {"natural dew", "ready", "add moisture"}


def moment(text: str) -> datetime:
    """An ISO time with its offset."""
    return datetime.fromisoformat(text)


def disagreements(written: dict[str, str]) -> list[str]:
    """What does not agree, in words; empty where all does.

    Parameters
    ----------
    written
        "json", "text", "csv", "calendar" and "page" of one outlook, in English.
    """
    form = json.loads(written["json"])
    return [
        *_within(form),
        *_csv(form, written["csv"]),
        *_calendar(form, written["calendar"]),
        *_text(form, written["text"]),
        *_page(form, written["page"], written["text"]),
    ]


def _within(form: dict) -> Iterator[str]:
    """Each field of the JSON agrees with itself."""
    now = moment(form["now"])
    for field in form["fields"]:
        name = field["field"]
        spans = []
        for kind in ("windows", "maybe"):
            for window in field[kind]:
                start, end = moment(window["start"]), moment(window["end"])
                spans.append((start, end))
                if not now <= start < end:
                    yield f"{name}: a window from {start} to {end}, now is {now}"
                if abs((end - start) / timedelta(hours=1) - window["hours"]) > 1e-3:
                    yield f"{name}: hours of a window that do not add up"
                for edge, key in ((start, "start_range"), (end, "end_range")):
                    if window[key] and not moment(window[key][0]) <= edge <= moment(window[key][1]):
                        yield f"{name}: {key} does not hold its own time"
                low, half, any_ = (window[k] for k in ("good_throughout", "half_good", "chance"))
                if low is not None and not low <= half + 1e-9 <= any_ + 2e-9:
                    yield f"{name}: chances of a window in the wrong order"
        spans.sort()
        for (_, end), (start, _) in pairwise(spans):
            if start < end:
                yield f"{name}: windows that overlap at {start}"
        for hour in field["hours"]:
            yield from _hour(name, hour, field, now)
        for item in field["rake"]:
            if moment(item["start"]) < now:
                yield f"{name}: raking before now"


def _hour(name: str, hour: dict, field: dict, now: datetime) -> Iterator[str]:
    """One hour: chances, word, advice, windows."""
    begin = max(moment(hour["start"]), now)
    past = moment(hour["start"]) + timedelta(hours=1)
    if past <= now:
        yield f"{name}: an hour that is over, {hour['start']}"
    chance = hour["chance"]
    if chance is not None:
        if abs(sum(chance.values()) - 1) > 1e-6:
            yield f"{name}: chances of {hour['start']} do not sum to 1"
        if chance[hour["call"]] < max(chance.values()) - 1e-6:
            yield f"{name}: a less likely word at {hour['start']}"
    inside = timedelta(0)
    for window in field["windows"]:
        shared = min(past, moment(window["end"])) - max(begin, moment(window["start"]))
        inside += max(shared, timedelta(0))
    if hour["advice"] == "go":
        if hour["call"] not in ADVICE_BALED:
            yield f"{name}: go beside {hour['call']} at {hour['start']}"
        if inside < (past - begin) / 4:
            yield f"{name}: go at {hour['start']} outside the windows"
    if hour["stop"] and inside > timedelta(0):
        yield f"{name}: a window in the stop of {hour['start']}"
    if hour["call"] == "no data" and hour["advice"] != "unknown":
        yield f"{name}: {hour['advice']} without data at {hour['start']}"


def _csv(form: dict, text: str) -> Iterator[str]:
    """The rows are the hours."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    hours = [(f["field"], hour) for f in form["fields"] for hour in f["hours"]]
    if len(rows) != len(hours):
        yield f"csv: {len(rows)} rows for {len(hours)} hours"
        return
    for row, (name, hour) in zip(rows, hours, strict=True):
        for key in ("call", "advice"):
            if row[key] != hour[key]:
                yield f"csv: {key} of {name} at {hour['start']}"


def _calendar(form: dict, text: str) -> Iterator[str]:
    """Every window is an event at its time, and no event is over.

    Where fields share machines, or one has a date, the work of the plan may stand in the
    place of the windows of go (`agree_work` looks at that).
    """
    several = len(form["fields"]) > 1 or bool(form["missed"])
    planned = several or re.search(r"SUMMARY:.*(On dew|With the rig|Dry): ", text) is not None
    events = {
        (event.decoded("dtstart"), event.decoded("dtend"))
        for event in Calendar.from_ical(text).walk("VEVENT")
    }
    windows = {
        (moment(window["start"]), moment(window["end"]))
        for field in form["fields"]
        for kind in (("maybe",) if planned else ("windows", "maybe"))
        for window in field[kind]
    }
    for start, end in sorted(windows - events):
        yield f"calendar: no event from {start} to {end}"
    now = moment(form["now"])
    for start, end in sorted(events):
        if end <= now:
            yield f"calendar: an event that is over, {start}"


def _text(form: dict, text: str) -> Iterator[str]:
    """The table holds each hour's words in order; the first screen the tons of its windows."""
    rows = re.findall(
        r"^(?:\S\S)\s+(?:noon|\d{1,2} [ap]m)(?: [A-Z]{3,4})?\s+(no data|not cured|too wet"
        r"|natural dew|add moisture|too dry|ready|damp below|STOP)"
        r"\s+(go|probe first|wait|unknown)\b",
        text,
        re.MULTILINE,
    )
    hours = [hour for field in form["fields"] for hour in field["hours"]]
    if len(rows) != len(hours):
        yield f"text: {len(rows)} rows for {len(hours)} hours"
        return
    for (call, advice), hour in zip(rows, hours, strict=True):
        if (call not in (hour["call"], "STOP")) or advice != hour["advice"]:
            yield f"text: {call} {advice} at {hour['start']}"
    for field in form["fields"]:
        for line in _sentences(field):
            if line not in _plain(text):
                yield f"text: {field['field']} does not say {line!r}"


PAGE_HOUR = re.compile(
    r'<span class="hour-call">(.*?)</td>\s*<td class="text">(.*?)</td>', re.DOTALL
)


def _page(form: dict, page: str, text: str) -> Iterator[str]:
    """The page says the sentences of the first screen, and the words of every hour."""
    plain = _plain(html.unescape(re.sub(r"<[^>]+>", " ", page)))
    for field in form["fields"]:
        for line in _sentences(field):
            if line not in plain:
                yield f"page: {field['field']} does not say {line!r}"
    if ("INVENTED" in text) != ("INVENTED" in plain.upper()):
        yield "page: whether it is invented"
    hours = [hour for field in form["fields"] for hour in field["hours"]]
    rows = [(_plain(re.sub(r"<[^>]+>", " ", row[1])), row[2]) for row in PAGE_HOUR.finditer(page)]
    if len(rows) != len(hours):
        yield f"page: {len(rows)} rows for {len(hours)} hours"
        return
    for (call, advice), hour in zip(rows, hours, strict=True):
        if not call.endswith(hour["call"]) or not advice.startswith(hour["advice"]):
            yield f"page: {call} {advice} at {hour['start']}"


def _plain(text: str) -> str:
    """Words with single spaces, without the dashes of a list."""
    return " ".join(re.sub(r"^- ", "", text, flags=re.MULTILINE).replace("\xa0", " ").split())


def _sentences(field: dict) -> list[str]:
    """The first screen's sentences that name a time or a chance."""
    said = _plain(field["headline"])
    return [each for each in re.split(r"(?<=[.;]) ", said) if re.search(r"\d", each)]
