"""Which pages a farm's live server has, and what stands on them."""

from __future__ import annotations

import gzip
import threading
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from hayweather.errors import HayweatherError
from hayweather.farm.records import UnitSystem
from hayweather.log import Entry, LoggedReading, LoggedWork, open_log
from hayweather.log.records import LAYERS
from hayweather.plan.make import plan_of_night
from hayweather.plan.sheet import make_runsheet
from hayweather.plan.sheet_record import RunSheet
from hayweather.show.page import (
    Frame,
    Served,
    outlook_page,
    plan_page,
    render,
    runsheet_page,
    served_as,
)
from hayweather.show.voice import Voice
from hayweather.web.doors import Role
from hayweather.web.forms import DONE, PARTS, RECENT, machines
from hayweather.web.live import Shown, told
from hayweather.windrow.sky import sun_elevation

LOG_NAME = "log.html"
MOST_ENTRIES = 60


@dataclass(frozen=True)
class PageOf:
    """A page: its name in the address, what links call it, and how it is made."""

    name: str
    title: str
    make: Callable[[], str]


def pages_of(shown: Shown, voice: Voice, units: UnitSystem) -> list[PageOf]:
    """The pages of a farm, the first that which opens; the one list of them.

    Parameters
    ----------
    shown
        What is known.
    voice, units
        Of the reader.
    """
    night, plan = shown.night, shown.plan
    if night is None:
        return [PageOf("", voice.say("web_page_night"), lambda: _unknown_page(shown, voice))]
    sheets: list[RunSheet] = []

    def sheet() -> RunSheet:
        if not sheets:
            sheets.append(make_runsheet(night))
        return sheets[0]

    return [
        PageOf("", voice.say("web_page_night"), lambda: outlook_page(night, units)),
        PageOf(
            "plan.html",
            voice.say("web_page_plan"),
            lambda: plan_page(plan or plan_of_night(night), units),
        ),
        *(
            PageOf(
                f"sheet-{number}.html",
                voice.machine(name),
                lambda name=name: runsheet_page(sheet().of_machine(name), units),  # type: ignore[misc]
            )
            for number, name in enumerate(machines(shown.farm), 1)
        ),
    ]


@dataclass
class Made:
    """A rendered page, plain and compressed, and what it may load."""

    html: bytes
    packed: bytes
    policy: str


@dataclass
class Pages:
    """All pages of one state of the night, each rendered when it is first asked for.

    Attributes
    ----------
    shown, voice, units
        As in `pages_of`.
    beside
        Address and title of the evening's folder, where it is served too.
    """

    shown: Shown
    voice: Voice
    units: UnitSystem
    beside: tuple[str, str] | None = None
    _made: dict[tuple[str, Role], Made] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def get(self, name: str, role: Role) -> Made | None:
        """A page for a role; None where there is none of that name.

        The page of the log is made anew each time.
        """
        with self._lock:
            known = self._made.get((name, role))
            if known is not None:
                return known
            found = {page.name: page for page in self._all(role)}.get(name)
            if found is None:
                return None
            links = [(page.name or "./", page.title, page.name == name) for page in self._all(role)]
            links += [] if self.beside is None else [(*self.beside, False)]
            around = served_around(self.shown, self.voice, links, role)
            with served_as(around):
                try:
                    text = found.make()
                except HayweatherError as problem:
                    text = _said_page(self.voice, [told(problem, self.voice.language)])
            data = text.encode()
            made = Made(data, gzip.compress(data, 6, mtime=0), around.policy)
            if name != LOG_NAME:
                self._made[name, role] = made
            return made

    def _all(self, role: Role) -> list[PageOf]:
        """The pages of the night, and that of the log."""
        log = PageOf(LOG_NAME, self.voice.say("web_page_log"), lambda: self._log_page(role))
        return [*pages_of(self.shown, self.voice, self.units), log]

    def _log_page(self, role: Role) -> str:
        """What was typed in these two nights, the newest first."""
        farm, now = self.shown.farm, self.shown.now
        since = now - RECENT
        try:
            with open_log(farm, only_read=True) as log:
                entries: list[Entry] = [*log.readings(since=since), *log.work(since=since)]
        except HayweatherError as problem:
            return _said_page(self.voice, [told(problem, self.voice.language)])
        newest = sorted(entries, key=lambda item: (item.time, item.id), reverse=True)
        shown = [
            (item.id, entry_text(item, self.voice), role == "log" and item.time >= since)
            for item in newest[:MOST_ENTRIES]
        ]
        said = [] if shown else [self.voice.say("web_log_empty")]
        if len(newest) > MOST_ENTRIES:
            said = [self.voice.say("web_log_more", count=len(newest) - MOST_ENTRIES)]
        return render("live_log.html", _frame(self.shown, self.voice), said=said, entries=shown)


def entry_text(entry: Entry, voice: Voice) -> str:
    """One entry in words, its time first."""
    parts = []
    if isinstance(entry, LoggedReading):
        parts.append(voice.say(f"log_kind_{entry.kind}"))
        if entry.layer:
            parts.append(voice.say(f"log_layer_{entry.layer}"))
        if entry.moisture_wb is not None:
            parts.append(voice.amount(entry.moisture_wb, "percent"))
        if entry.skin_temperature_c is not None:
            parts.append(voice.amount(entry.skin_temperature_c, "temperature"))
    elif isinstance(entry, LoggedWork):
        parts.append(voice.say(f"log_event_{entry.event}"))
        parts += [text for text in (voice.machine(entry.machine), entry.note) if text]
    return f"{voice.when(entry.time)}, {entry.field}: {', '.join(parts)}"


def served_around(
    shown: Shown, voice: Voice, links: list[tuple[str, str, bool]], role: Role
) -> Served:
    """What stands around a page: links, what changed, what is wrong, and the forms."""
    stand = voice.say("web_stand", time=voice.when(shown.now))
    if shown.fetched is not None:
        stand += " " + voice.say("web_weather_had", time=voice.when(shown.fetched))
    values: dict[str, object] = {
        "version": shown.version,
        "links": links,
        "trouble": shown.trouble,
        "changes": [(voice.when(item.time), item.texts) for item in shown.changes],
        "stand": stand,
        "may_log": role == "log",
        "fields": list(shown.farm.fields),
        "machines": [(name, voice.machine(name)) for name in machines(shown.farm)],
        "parts": [
            (part, voice.say(f"log_kind_{kind}")) for part, kind in PARTS.items()
        ],
        "layers": [
            ("", voice.say("web_no_layer")),
            *((layer, voice.say(f"log_layer_{layer}")) for layer in LAYERS),
        ],
        "events": [(event, voice.say(f"log_event_{event}")) for event in DONE],
    }  # fmt: skip
    return Served(values, is_dark=_is_dark(shown))


def _is_dark(shown: Shown) -> bool:
    """Whether the sun is down at the farm's first site."""
    site = next(iter(shown.farm.sites.values()))
    times = np.array([[shown.now]], dtype="datetime64[s]")
    return bool(sun_elevation(times, site.latitude, site.longitude)[0, 0] < 0)


def _frame(shown: Shown, voice: Voice) -> Frame:
    """Around a page without a night."""
    mark = voice.say("outlook_invented") if shown.farm.weather.invented else ""
    return Frame(voice=voice, title=shown.farm.name, made=(), mark=mark)


def _unknown_page(shown: Shown, voice: Voice) -> str:
    """What stands where nobody knows the night."""
    said = [voice.say("web_unknown"), *shown.trouble]
    return render("live_log.html", _frame(shown, voice), said=said, entries=[])


def _said_page(voice: Voice, said: list[str]) -> str:
    """A page that says only why there is none."""
    frame = Frame(voice=voice, title=voice.say("web_unknown"), made=(), mark="")
    return render("live_log.html", frame, said=said, entries=[])
