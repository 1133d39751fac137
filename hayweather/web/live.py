"""The night of a farm kept up to date: weather, log and clock in, what is shown out.

One thread works; everybody else looks at what it showed last. A reading in the log,
whoever wrote it, weighs the night in memory anew and repairs the plan. Whatever may take
longer goes on beside, and a reading never waits for it: the better plan, and the weather
asked for again with the night that comes of it, which then takes the place of the other
and counts the same readings. A new hour asks for a new night of the weather at hand.
"""

from __future__ import annotations

import gc
import os
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.setting import out_of_order
from hayweather.errors import HayweatherError
from hayweather.farm.records import Farm, UnitSystem
from hayweather.learning.learned_file import learned_for
from hayweather.log import open_log, readings_for_night
from hayweather.log.database import companions_of
from hayweather.log.joined import farm_now, stations_logged
from hayweather.nights import FieldNight, Night, night_of
from hayweather.nights.drive import compile_for
from hayweather.nights.trust import refuse_old_stored
from hayweather.plan.make import (
    plan_is_needed,
    plan_of_night,
    plan_repaired,
    plan_shown,
    show_plan,
)
from hayweather.plan.record import FieldsPlan
from hayweather.show.outlook_plan import planned_blocks
from hayweather.show.outlook_words import farm_voice, field_voice, tonight_lines
from hayweather.show.voice import Voice, phrase, sentence
from hayweather.weather.asked import wall_clock, weather_for
from hayweather.weather.catalog import US_NWS
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.stations import observations_for
from hayweather.windrow.readings import Reading
from hayweather.windrow.spread import MEMBERS
from hayweather.words import say

LOOKED_EVERY_S = 0.5
"""How often the log and the farm file are looked at; what is posted here is seen at once."""
AGAIN_S = 300.0
"""Wait after weather that could not be had [s]."""
KEPT_CHANGES = 6
"""Changes that pages tell of."""
STOP_S = 2.0
"""Longest wait for what goes on beside when the server ends [s]."""
Weather = Mapping[str, HourlyWeather]
Found = Mapping[str, tuple[Reading, ...]]
T = TypeVar("T")


@dataclass(frozen=True)
class Change:
    """What changed on the pages, and when (UTC): finished sentences."""

    time: np.datetime64
    texts: tuple[str, ...]


@dataclass(frozen=True)
class Shown:
    """What the pages show.

    Attributes
    ----------
    version
        Counted up whenever open pages should look again.
    farm
        As its file says.
    night, plan
        None where nobody knows: `trouble` says why. No plan: the hours of go are it.
    now
        UTC; the minute at which windows are clipped.
    fetched
        When the weather was had (UTC); None: not yet.
    trouble
        Finished sentences on what is wrong; empty: nothing.
    changes
        The newest first.
    """

    version: int
    farm: Farm
    night: Night | None
    plan: FieldsPlan | None
    now: np.datetime64
    fetched: np.datetime64 | None = None
    trouble: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class Source:
    """Where farm, weather and time come from.

    Attributes
    ----------
    read
        Reads the farm file.
    offline, url, old
        As for every command of the night.
    begin
        UTC that counts as now when serving begins, and runs on; None: an invented sample's
        own time, else the clock.
    units
        Of the pages; None: the farm's.
    """

    read: Callable[[], Farm]
    offline: bool = False
    url: str | None = None
    old: bool = False
    begin: np.datetime64 | None = None
    units: UnitSystem | None = None
    members: int = MEMBERS


class Beside(Generic[T]):
    """One piece of work at a time in a thread of its own; what comes of it is fetched.

    Parameters
    ----------
    name
        Of the thread.
    ready
        Called there when a piece is done.
    """

    def __init__(self, name: str, ready: Callable[[], object]) -> None:
        self._name, self._ready = name, ready
        self._thread: threading.Thread | None = None
        self._done: list[T | Exception] = []

    @property
    def is_busy(self) -> bool:
        """Whether a piece is being worked on, or its result has not been fetched."""
        return self._thread is not None

    def begin(self, work: Callable[[], T]) -> None:
        """Begin a piece; only where none is."""

        def worked() -> None:
            try:
                self._done.append(work())
            except Exception as problem:  # it belongs to whoever fetches the result
                self._done.append(problem)
            self._ready()

        assert self._thread is None
        self._thread = threading.Thread(target=worked, name=self._name, daemon=True)
        self._thread.start()

    def wait(self, seconds: float | None = None) -> None:
        """Wait until the piece is done."""
        if self._thread is not None:
            self._thread.join(seconds)

    def take(self) -> T | None:
        """The result, once; None as long as there is none. What went wrong is raised here."""
        if not self._done:
            return None
        self._thread = None
        done = self._done.pop()
        if isinstance(done, Exception):
            raise done
        return done


@dataclass(frozen=True)
class Looked:
    """What came of a look at weather and stations.

    Attributes
    ----------
    files
        As the farm file and its weather file were when it began.
    now
        UTC, when it began.
    weather
        What was found; None: it could not be had.
    is_new
        Whether it was asked for, not that at hand.
    night
        Made of it, no reading counted; None: nobody can call it.
    problem
        Why the one or the other is None.
    """

    files: object
    now: np.datetime64
    weather: Weather | None
    is_new: bool
    night: Night | None = None
    problem: HayweatherError | None = None


class Live:
    """A farm's night, kept up to date by one thread.

    Parameters
    ----------
    source
        Where everything comes from.
    tell
        Called with each version that open pages should fetch, in the working thread.

    Raises
    ------
    HayweatherError
        If the farm file is wrong.
    """

    def __init__(self, source: Source, tell: Callable[[int], None] = lambda version: None) -> None:
        self.source, self.tell = source, tell
        self.farm = source.read()
        self._began = time.monotonic()
        self._begin = source.begin if source.begin is not None else self.farm.weather.now
        self._weather: Weather = {}
        self._prior: Night | None = None
        self._readings: Found = {}
        self._changes: deque[Change] = deque(maxlen=KEPT_CHANGES)
        self._due, self._stations_due, self._had_weather = 0.0, False, False
        self._fetched: np.datetime64 | None = None
        self._troubles: dict[str, str] = {}
        self._files = self._signature(self._farm_files())
        self._log_files: object = None
        self._lies_otherwise = False
        self._awake, self._ended = threading.Event(), threading.Event()
        self._shown_once, self._compiles = threading.Event(), False
        self._looking: Beside[Looked] = Beside("weather", self._awake.set)
        self._seeking: Beside[tuple[Night, FieldsPlan]] = Beside("plan", self._awake.set)
        self._sought: tuple[object, object] = (None, None)
        self._tidied: Night | None = None
        self._thread = threading.Thread(target=self._work, name="night", daemon=True)
        self.weighing_s: deque[float] = deque(maxlen=1000)
        self.shown = Shown(0, self.farm, None, None, self.now())

    # What others call

    def start(self) -> None:
        """Begin to work; the first night is there when `wait` comes back."""
        self._thread.start()

    def wait(self, seconds: float) -> bool:
        """Wait for the first night, or for what is said in its place."""
        return self._shown_once.wait(seconds)

    def stop(self) -> None:
        """End the work."""
        self._ended.set()
        self._awake.set()
        if self._thread.is_alive():
            self._thread.join(30)
        for beside in (self._looking, self._seeking):
            beside.wait(STOP_S)

    def look(self) -> None:
        """Look at the log now: something was written."""
        self._awake.set()

    def now(self) -> np.datetime64:
        """UTC: the clock's, or that of an invented night, which runs from its own time on."""
        if self._begin is None:
            return wall_clock()
        gone = np.timedelta64(int(time.monotonic() - self._began), "s")
        return (self._begin + gone).astype("datetime64[s]")

    @property
    def voice(self) -> Voice:
        """How to speak to the farm's people."""
        night = self.shown.night
        units = self.source.units or self.farm.units
        if night is not None:
            return farm_voice(night, units)
        return Voice.of(self.farm, units, next(iter(self.farm.sites.values())).timezone or "UTC")

    # The work

    def _work(self) -> None:
        while not self._ended.is_set():
            try:
                self.step(wait=False)
            except Exception as problem:  # the pages go on with what they have, and say so
                self._fault("web_fault", problem)
            self.let_go()
            if self._prior is not None and not self._compiles:
                self._compiles = True
                drawn = self._prior.fields[0].weighed.drawn
                threading.Thread(target=compile_for, args=(drawn,), daemon=True).start()
            self._awake.wait(LOOKED_EVERY_S)
            self._awake.clear()

    def step(self, *, wait: bool = True) -> None:
        """Look once at everything, and show what changed.

        Parameters
        ----------
        wait
            For what goes on beside; without it the next step takes it up.
        """
        begin = time.perf_counter()
        self._look_at_farm()
        found = self._look_at_log()
        now = self.now()
        if found is not None and self._prior is not None:
            self._weigh(found, now, begin)
        self._look_at_weather(now)
        if wait:
            self._looking.wait()
        try:
            looked = self._looking.take()
        except Exception:
            self._due = time.monotonic() + AGAIN_S
            raise
        if looked is not None:
            self._take(looked, now)
        elif self._prior is None:
            if self._minute(now) and self.shown.version:
                self._show(None, now, ())
        elif self._moved_on(now):
            self._stations_due = self._asks_stations()
            self._make(now)
        elif self._lies_otherwise:
            self._make(now)
        elif self._minute(now):
            self._weigh(self._readings, now, begin)
        if wait:
            self._seeking.wait()
        self._take_better()

    def let_go(self) -> None:
        """Give back the memory of nights that nobody shows any longer.

        A night and its plan name each other; left to itself Python would let many of them
        pile up before it looks, since it counts objects and not the arrays in them.
        """
        if self.shown.night is not self._tidied:
            self._tidied = self.shown.night
            gc.collect()

    def _look_at_farm(self) -> None:
        """Read the farm file again where it, or its weather file, changed."""
        signature = self._signature(self._farm_files())
        if signature == self._files:
            return
        self._files = signature
        try:
            self.farm = self.source.read()
        except HayweatherError as problem:
            self._fault("web_farm_wrong", problem)
            return
        self._troubles.pop("web_farm_wrong", None)
        self._due, self._log_files = 0.0, None

    def _look_at_log(self) -> Found | None:
        """Readings of tonight where they changed; None where they did not."""
        if self.farm.log is None:
            return None
        signature = self._signature(companions_of(self.farm.log)[:2])
        if signature == self._log_files:
            return None
        try:
            with open_log(self.farm, only_read=True) as log:
                found = readings_for_night(log, self.farm, self.now())
            if self._prior is not None:
                lying = farm_now(self.farm, self.now())
                before = self._prior.farm
                self._lies_otherwise = (
                    lying.fields != before.fields or lying.out_of_order != before.out_of_order
                )
        except HayweatherError as problem:
            self._fault("web_log_unread", problem)
            return None
        self._log_files = signature
        self._troubles.pop("web_log_unread", None)
        if found == self._readings:
            return None
        return found

    def _look_at_weather(self, now: np.datetime64) -> None:
        """Ask for the weather beside where it is due, or for stations where the hour is new."""
        is_due = time.monotonic() >= self._due
        if self._looking.is_busy or not (is_due or self._stations_due):
            return
        self._stations_due = False
        is_due = is_due or not self._weather
        farm, files = self.farm, self._files
        at_hand = None if is_due else self._weather
        self._looking.begin(lambda: self._look(farm, files, now, at_hand))

    def _look(
        self, farm: Farm, files: object, now: np.datetime64, at_hand: Weather | None
    ) -> Looked:
        """The weather asked for, or that at hand, and the night of it; in a thread beside."""
        weather, is_new = at_hand, at_hand is None
        try:
            if weather is None:
                sites = list(dict.fromkeys(item.site for item in farm.fields.values()))
                asked = weather_for(farm, sites, offline=self.source.offline, url=self.source.url)
                refuse_old_stored(asked, now, old=self.source.old)
                weather = asked
            night = self._night(farm, weather, now, offline=self.source.offline)
        except HayweatherError as problem:
            return Looked(files, now, weather, is_new, problem=problem)
        return Looked(files, now, weather, is_new, night)

    def _take(self, looked: Looked, now: np.datetime64) -> None:
        """Show what a look has found; what a changed file has overtaken is asked for anew."""
        if looked.files != self._files:
            return
        if looked.weather is None:
            assert looked.problem is not None
            self._due = time.monotonic() + min(AGAIN_S, 60.0 * self.farm.weather.refresh_min)
            self._fault("web_weather_failed", looked.problem)
            return
        said: list[str] = []
        if looked.is_new:
            self._troubles.pop("web_weather_failed", None)
            self._due = time.monotonic() + 60.0 * self.farm.weather.refresh_min
            self._weather, self._fetched = looked.weather, looked.now
            said += [self.voice.say("web_changed_weather")] if self._had_weather else []
            self._had_weather = True
        if looked.problem is not None:
            self._unknown(looked.problem, now)
            return
        self._prior = looked.night
        if self._moved_on(now):
            self._make(now, said)
        else:
            self._count(now, said)

    def _asks_stations(self) -> bool:
        """Whether a station is a service's, which is asked over the network."""
        official = any(station.observed is not None for station in self.farm.stations)
        return (official or self.farm.weather.service == US_NWS.name) and not self.source.offline

    def _moved_on(self, now: np.datetime64) -> bool:
        """Whether a new hour of a field's weather has begun."""
        fields = self._prior or ()
        return any(not item.span.first <= now < item.span.first + HOUR for item in fields)

    def _minute(self, now: np.datetime64) -> bool:
        """Whether a new minute has begun since what is shown."""
        minute = "datetime64[m]"
        return now.astype(minute) != self.shown.now.astype(minute)

    def _night(self, farm: Farm, weather: Weather, now: np.datetime64, *, offline: bool) -> Night:
        """The night of some weather and of the farm's stations, no reading counted."""
        seen = observations_for(
            farm, list(farm.fields.values()), weather, now, stations_logged(farm, now),
            offline=offline, url=self.source.url,
        )  # fmt: skip
        return night_of(
            farm_now(farm, now), weather, now, observations=seen, old=self.source.old,
            members=self.source.members, errors=learned_for(farm, weather, now),
        )  # fmt: skip

    def _make(self, now: np.datetime64, told: Sequence[str] = ()) -> None:
        """The night from what is at hand, nobody asked; unknown where nobody can call it."""
        sites = {item.site for item in self.farm.fields.values()}
        if not sites <= set(self._weather):
            self._prior = None
            self._show(None, now, ())
            return
        try:
            self._prior = self._night(self.farm, self._weather, now, offline=True)
        except HayweatherError as problem:
            self._unknown(problem, now)
            return
        self._count(now, told)

    def _unknown(self, problem: HayweatherError, now: np.datetime64) -> None:
        """Nobody can call the night; look again with the next weather."""
        self._prior, self._weather = None, {}
        self._due = min(self._due, time.monotonic() + AGAIN_S)
        self._fault("web_night_unknown", problem)
        self._show(None, now, ())

    def _count(self, now: np.datetime64, told: Sequence[str]) -> None:
        """A night that was just made, with every reading of the log counted."""
        assert self._prior is not None
        self._troubles.pop("web_night_unknown", None)
        self._troubles.pop("web_fault", None)
        self._log_files = None
        found = self._look_at_log()
        self._lies_otherwise = False
        if found is not None:
            self._readings = found
        night = self._prior.weighed_again(now, self._readings) or self._prior
        self._plan_and_show(night, told)

    def _weigh(self, found: Found, now: np.datetime64, begin: float) -> None:
        """The night by what was read, the plan repaired at once and then made better."""
        assert self._prior is not None
        new = [(name, item) for name in found for item in found[name]
               if item not in self._readings.get(name, ())]  # fmt: skip
        gone = [(name, item) for name in self._readings for item in self._readings[name]
                if item not in found.get(name, ())]  # fmt: skip
        late = max((item.time for _, item in new), default=now)
        now = max(now, late)
        night = self._prior.weighed_again(now, found, self.shown.night)
        self._readings = found
        said = [
            self._of_reading(key, name, item)
            for key, items in (("web_changed_reading", new), ("web_changed_removed", gone))
            for name, item in items
        ]
        if night is None:
            self._make(now, said)
            return
        self._plan_and_show(night, said, begin if said else None)

    def _plan_and_show(self, night: Night, said: Sequence[str], begin: float | None = None) -> None:
        """Repair the plan and show it, then look for a better one; the first is waited for."""
        before = self.shown
        stood = before.plan if before.farm is night.farm else None
        if before.night is not None and plan_is_needed(night):
            show_plan(night, plan_repaired(night, stood))
        self._show(night, night.now, said)
        if begin is not None:
            self.weighing_s.append(time.perf_counter() - begin)
        if said and before.night is not None and self.shown.plan is not None:
            self._seek(night)

    def _seek(self, night: Night) -> None:
        """Look for a better plan beside; a search that goes on is followed by the next."""
        if not self._seeking.is_busy:
            self._sought = (self._prior, self._readings)
            self._seeking.begin(lambda: (night, plan_of_night(night)))

    def _take_better(self) -> None:
        """Show the better plan; one that a reading or new weather has overtaken is sought anew."""
        found = self._seeking.take()
        shown = self.shown.night
        if found is None or shown is None:
            return
        night, plan = found
        prior, readings = self._sought
        if prior is not self._prior or readings is not self._readings:
            self._seek(shown)
            return
        # The minute alone may have gone on.
        show_plan(shown, plan if shown is night else plan_repaired(shown, plan))
        self._show(shown, shown.now, (), joins=True)

    def _show(
        self, night: Night | None, now: np.datetime64, said: Sequence[str], *, joins: bool = False
    ) -> None:
        """Put a night on the pages, with what changed beside what stood there.

        What `joins` the newest change belongs to the same reading and stands with it.
        """
        before = self.shown
        plan = None if night is None or not plan_is_needed(night) else plan_shown(night)
        trouble = tuple(self._troubles.values())
        moved = [] if night is None else self._moves(before.night, night)
        if said and not moved and before.night is not None:
            moved = [self.voice.say("web_changed_nothing")]
        texts = tuple(sentence(text) for text in (*said, *moved))
        if texts and before.night is not None:
            top = self._changes.popleft() if joins and self._changes else Change(now, ())
            self._changes.appendleft(Change(top.time, tuple(dict.fromkeys((*top.texts, *texts)))))
        new = bool(texts) or trouble != before.trouble or (night is None) != (before.night is None)
        version = before.version + int(new or before.version == 0)
        changes = tuple(self._changes)
        # A farm file that has just changed belongs to the next night.
        farm = self.farm if night is None else night.farm
        self.shown = Shown(version, farm, night, plan, now, self._fetched, trouble, changes)
        self._shown_once.set()
        if version != before.version:
            self.tell(version)

    def _moves(self, before: Night | None, night: Night) -> list[str]:
        """What a reader would do otherwise, as sentences; the clock alone changes nothing."""
        if before is None:
            return []
        found = []
        voice = farm_voice(night, self.source.units or self.farm.units)
        was_out, out = (dict(each.farm.out_of_order) for each in (before, night))
        said = zip(out, out_of_order(night.farm), strict=True)
        found += [phrase(remark, voice) for name, remark in said if name not in was_out]
        found += [voice.say("web_changed_mended", machine=name)
                  for name in was_out if name not in out]  # fmt: skip
        known = {item.name: item for item in before}
        for item in night:
            was = known.get(item.name)
            if was is None or _doing(was, night.now) == _doing(item, night.now):
                continue
            own = field_voice(item, voice)
            texts = _lines_moved(was, item, own)
            if texts[0] == texts[1]:
                continue
            found.append(
                own.say("web_changed_field", field=item.name, now=texts[1], before=texts[0])
            )
        plans = [_planned(each, night.now) for each in (before, night)]
        if plans[0] != plans[1]:
            found.append(voice.say("web_changed_plan"))
        return found

    def _of_reading(self, key: str, name: str, reading: Reading) -> str:
        """A reading that was counted, or is no longer."""
        voice = self.voice
        value = voice.amount(reading.moisture_wb, "percent")
        time = voice.when(reading.time)
        if key == "web_changed_removed":
            return voice.say("web_changed_removed", field=name, value=value, time=time)
        return voice.say("web_changed_reading", field=name, value=value, time=time)

    def _fault(self, key: str, problem: Exception) -> None:
        """Say on the pages that something is wrong, and on the terminal what.

        An error's own line may name files of this computer; it stays here.
        """
        line = problem.line(self.farm.language) if isinstance(problem, HayweatherError) else (
            f"{type(problem).__name__}: {problem}")  # fmt: skip
        voice = self.voice
        text = voice.say(key, time=voice.clock(self.now()))
        if key not in self._troubles:
            print(line, file=sys.stderr, flush=True)
            self._troubles[key] = text
            self._show(self.shown.night, self.shown.now, ())

    def _farm_files(self) -> list[Path]:
        """The farm file and its weather file."""
        return [path for path in (self.farm.path, self.farm.weather.file) if path is not None]

    @staticmethod
    def _signature(paths: Sequence[Path]) -> tuple[tuple[int, int, int] | None, ...]:
        """Something that is another when a file was written."""
        found: list[tuple[int, int, int] | None] = []
        for path in paths:
            try:
                stat = os.stat(path)
                found.append((stat.st_mtime_ns, stat.st_size, stat.st_ino))
            except OSError:
                found.append(None)
        return tuple(found)


def _doing(item: FieldNight, now: np.datetime64) -> list[tuple[object, ...]]:
    """Windows of a field as far as they lie ahead: how, from when, until when."""
    return [
        (advice, each.call, max(each.start, now), each.end)
        for advice, windows in enumerate((item.windows, item.maybe))
        for each in windows
        if each.end > now
    ]


def _lines_moved(was: FieldNight, now: FieldNight, voice: Voice) -> list[str]:
    """What stood there, and what stands there: all lines of go where one moved, else what moved.

    A side without go says its other lines; one that left out a line of go that still
    stands would read as if there were none.
    """
    sides = [
        {(line.call, line.advice): line.text for line in tonight_lines(each, voice, details=False)}
        for each in (was, now)
    ]
    firm = [{key: text for key, text in side.items() if key[1] == Advice.GO} for side in sides]
    if firm[0] == firm[1]:
        moved = {key for key in sides[1] | sides[0] if sides[0].get(key) != sides[1].get(key)}
        sides = [{key: text for key, text in side.items() if key in moved} for side in sides]
        firm = [{}, {}]
    return [
        "; ".join((go or side).values()) or voice.say("page_no_windows")
        for go, side in zip(firm, sides, strict=True)
    ]


def _planned(night: Night, now: np.datetime64) -> list[tuple[object, ...]]:
    """Work of the plan as far as it lies ahead."""
    return [
        (each.baler, each.field, each.rig, max(each.start, now), each.end)
        for each in planned_blocks(night)
        if each.end > now
    ]


def told(problem: HayweatherError, language: str) -> str:
    """What was wrong with what a person typed, without the place of any file."""
    return say(f"error_{problem.key}", language, **problem.values)
