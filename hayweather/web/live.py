"""The night of a farm kept up to date: weather, log and clock in, what is shown out.

One thread works; everybody else looks at what it showed last. A reading in the log,
whoever wrote it, weighs the night in memory anew and repairs the plan; the better
plan follows. A new hour, new weather or a changed farm file asks for a new night.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from hayweather.errors import HayweatherError
from hayweather.farm.records import Farm, UnitSystem
from hayweather.learning.learned_file import learned_for
from hayweather.log import open_log, readings_for_night
from hayweather.log.database import companions_of
from hayweather.log.joined import lying_now, stations_logged
from hayweather.nights import FieldNight, Night, night_of
from hayweather.nights.drive import compile_for
from hayweather.nights.trust import refuse_old_stored
from hayweather.plan.make import plan_of_night, plan_repaired, plan_shown, show_plan
from hayweather.plan.record import FieldsPlan
from hayweather.show.outlook_plan import planned_blocks
from hayweather.show.outlook_words import farm_voice, field_voice, tonight_lines
from hayweather.show.voice import Voice, sentence
from hayweather.weather.asked import wall_clock, weather_for
from hayweather.weather.record import HourlyWeather
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
Weather = Mapping[str, HourlyWeather]
Found = Mapping[str, tuple[Reading, ...]]


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
        self._due, self._had_weather = 0.0, False
        self._fetched: np.datetime64 | None = None
        self._troubles: dict[str, str] = {}
        self._files = self._signature(self._farm_files())
        self._log_files: object = None
        self._awake, self._ended = threading.Event(), threading.Event()
        self._shown_once = threading.Event()
        self._thread = threading.Thread(target=self._work, name="night", daemon=True)
        self._lock = threading.Lock()
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
                self.step()
            except Exception as problem:  # the pages go on with what they have, and say so
                self._fault("web_fault", problem)
            if self._prior is not None and not self._shown_once.is_set():
                drawn = self._prior.fields[0].weighed.drawn
                threading.Thread(target=compile_for, args=(drawn,), daemon=True).start()
            self._shown_once.set()
            self._awake.wait(LOOKED_EVERY_S)
            self._awake.clear()

    def step(self) -> None:
        """Look once at everything, and show what changed."""
        begin = time.perf_counter()
        self._look_at_farm()
        found = self._look_at_log()
        now = self.now()
        if found is not None and self._prior is not None:
            self._weigh(found, now, begin)
        if self._look_at_weather(now) or self._prior is None or self._moved_on(now):
            self._make(now)
        elif self._minute(now):
            self._weigh(self._readings, now, begin)

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
        except HayweatherError as problem:
            self._fault("web_log_unread", problem)
            return None
        self._log_files = signature
        self._troubles.pop("web_log_unread", None)
        if found == self._readings:
            return None
        return found

    def _look_at_weather(self, now: np.datetime64) -> bool:
        """Fetch or read the weather when it is due; whether there is new."""
        if time.monotonic() < self._due:
            return False
        refresh_s = 60.0 * self.farm.weather.refresh_min
        sites = list(dict.fromkeys(item.site for item in self.farm.fields.values()))
        try:
            weather = weather_for(
                self.farm, sites, offline=self.source.offline, url=self.source.url
            )
            refuse_old_stored(weather, now, old=self.source.old)
        except HayweatherError as problem:
            self._due = time.monotonic() + min(AGAIN_S, refresh_s)
            self._fault("web_weather_failed", problem)
            return False
        self._troubles.pop("web_weather_failed", None)
        self._weather, self._due = weather, time.monotonic() + refresh_s
        self._fetched = now
        return True

    def _moved_on(self, now: np.datetime64) -> bool:
        """Whether a new hour has begun."""
        prior = self._prior
        return prior is not None and _hour(now) != _hour(prior.now)

    def _minute(self, now: np.datetime64) -> bool:
        """Whether a new minute has begun since what is shown."""
        minute = "datetime64[m]"
        return now.astype(minute) != self.shown.now.astype(minute)

    def _make(self, now: np.datetime64, told: Sequence[str] = ()) -> None:
        """The night from its weather; what cannot be called is said to be unknown."""
        if not self._weather:
            self._show(None, None, now, ())
            return
        try:
            chosen = list(self.farm.fields.values())
            seen = observations_for(
                self.farm, chosen, self._weather, now, stations_logged(self.farm, now),
                offline=self.source.offline, url=self.source.url,
            )  # fmt: skip
            self._prior = night_of(
                lying_now(self.farm, now), self._weather, now, observations=seen,
                old=self.source.old, members=self.source.members,
                errors=learned_for(self.farm, self._weather, now),
            )  # fmt: skip
        except HayweatherError as problem:
            self._prior = None
            self._fault("web_night_unknown", problem)
            self._due = min(self._due, time.monotonic() + AGAIN_S)
            self._show(None, None, now, ())
            # Without a night there is nothing to clip; look again with the next weather.
            self._weather = {}
            return
        self._troubles.pop("web_night_unknown", None)
        self._troubles.pop("web_fault", None)
        said = [*told]
        if self._had_weather and self._fetched == now:
            said.append(self.voice.say("web_changed_weather"))
        self._had_weather = True
        self._log_files = None
        found = self._look_at_log()
        if found is not None:
            self._readings = found
        night = self._prior.weighed_again(now, self._readings) or self._prior
        self._plan_and_show(night, said)

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
        """Repair the plan and show it; then look for a better one, and show that."""
        before = self.shown.plan
        changed = bool(said) or self.shown.night is None
        if before is not None and before.night.farm is night.farm:
            show_plan(night, plan_repaired(night, before))
            self._show(night, before, night.now, said)
            if begin is not None:
                self.weighing_s.append(time.perf_counter() - begin)
            if not changed or self._ended.is_set():
                return
            better = plan_of_night(night)
            show_plan(night, better)
            self._show(night, better, night.now, ())
            return
        self._show(night, plan_shown(night), night.now, said)
        if begin is not None:
            self.weighing_s.append(time.perf_counter() - begin)

    def _show(
        self,
        night: Night | None,
        plan: FieldsPlan | None,
        now: np.datetime64,
        said: Sequence[str],
    ) -> None:
        """Put a night on the pages, with what changed beside what stood there."""
        before = self.shown
        if night is not None:
            plan = plan_shown(night)
        trouble = tuple(self._troubles.values())
        moved = [] if night is None else self._moves(before.night, night)
        if said and not moved and before.night is not None:
            moved = [self.voice.say("web_changed_nothing")]
        texts = tuple(sentence(text) for text in (*said, *moved))
        if texts and before.night is not None:
            self._changes.appendleft(Change(now, texts))
        new = bool(texts) or trouble != before.trouble or (night is None) != (before.night is None)
        version = before.version + int(new or before.version == 0)
        changes = tuple(self._changes)
        with self._lock:
            self.shown = Shown(
                version, self.farm, night, plan, now, self._fetched, trouble, changes
            )
        if version != before.version:
            self.tell(version)

    def _moves(self, before: Night | None, night: Night) -> list[str]:
        """What a reader would do otherwise, as sentences; the clock alone changes nothing."""
        if before is None:
            return []
        found = []
        voice = farm_voice(night, self.source.units or self.farm.units)
        known = {item.name: item for item in before}
        for item in night:
            was = known.get(item.name)
            if was is None or _doing(was, night.now) == _doing(item, night.now):
                continue
            own = field_voice(item, voice)
            texts = [
                "; ".join(line.text for line in tonight_lines(each, own, details=False))
                or own.say("page_no_windows")
                for each in (was, item)
            ]
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
            self._show(self.shown.night, self.shown.plan, self.shown.now, ())

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


def _hour(time: np.datetime64) -> np.datetime64:
    return time.astype("datetime64[h]")


def _doing(item: FieldNight, now: np.datetime64) -> list[tuple[object, ...]]:
    """Windows of a field as far as they lie ahead: how, from when, until when."""
    return [
        (advice, each.call, max(each.start, now), each.end)
        for advice, windows in enumerate((item.windows, item.maybe))
        for each in windows
        if each.end > now
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
