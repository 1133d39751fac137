"""Voice: in which language, units and clock a person is spoken to.

US readers get a twelve-hour clock, metric readers one of twenty-four hours. A
time within the night that is spoken of goes without a day; others name theirs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TypeAlias

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.farm.records import Language, UnitSystem
from hayweather.units import format_shown, joined, symbol_of, to_shown
from hayweather.words import say

Day: TypeAlias = date
NEAR_DAYS = 4


@dataclass(frozen=True)
class Voice:
    """How to speak to the reader.

    Attributes
    ----------
    language, units
        Of the words and of the numbers.
    timezone
        IANA zone of the clock.
    evening
        Local date of the evening of the night spoken of; None outside an outlook.
    """

    language: Language
    units: UnitSystem
    timezone: str
    evening: Day | None = None

    def say(self, key: str, /, **values: object) -> str:
        """A text of the table in this language."""
        return say(key, self.language, **values)

    def call(self, call: Call) -> str:
        """The word for a call."""
        return self.say(f"call_{call.name.lower()}")

    def local(self, time: np.datetime64) -> datetime:
        """A UTC time on this clock."""
        return to_local(time, self.timezone)

    def iso(self, time: np.datetime64) -> str:
        """A UTC time for data: local with its offset."""
        return self.local(time).isoformat()

    def clock(self, time: np.datetime64, *, words: bool = True) -> str:
        """Time of day: ``"11:30 pm"`` or ``"23:30"``; with `words` also "midnight".

        In the hour that comes twice when clocks go back, `words` say which: ``"1:30 am PST"``.
        """
        local = self.local(time)
        which = f" {local:%Z}" if words and _comes_twice(local) else ""
        return self._hand(local, words=words) + which

    def _hand(self, local: datetime, *, words: bool) -> str:
        """Time of day as the reader's clock shows it."""
        if self.units == "metric":
            return f"{local:%H:%M}"
        if local.minute == 0 and local.hour == 12:
            return self.say("clock_noon" if words else "clock_noon_short")
        if words and local.minute == 0 and local.hour == 0:
            return self.say("clock_midnight")
        minutes = f":{local.minute:02d}" if local.minute else ""
        return f"{(local.hour - 1) % 12 + 1}{minutes} {'am' if local.hour < 12 else 'pm'}"

    def when(self, time: np.datetime64, *, is_end: bool = False) -> str:
        """Time of day, with the day where it lies outside the night spoken of.

        The end of something (`is_end`) belongs to the night that it ends.
        """
        if self.evening is None:
            return self._far(time)
        local = self.local(time)
        night = _night_of(local - timedelta(seconds=1) if is_end else local)
        if night == self.evening:
            return self.clock(time)
        if abs((night - self.evening).days) > NEAR_DAYS:
            return self._far(time)
        return self.say("time_other_day", day=self.day(local.date()), clock=self.clock(time))

    def _far(self, time: np.datetime64) -> str:
        """Date and time of day."""
        return self.say("time_far", date=self.date(self.local(time).date()), clock=self.clock(time))

    def day(self, day: Day) -> str:
        """Short name of a weekday."""
        return self.say(f"day_{day.weekday()}")

    def month(self, day: Day) -> str:
        """Name of a month."""
        return self.say(f"month_{day.month}")

    def date(self, day: Day) -> str:
        """``"Tue 8 July"``."""
        return self.say("date_day", day=self.day(day), number=day.day, month=self.month(day))

    def night(self, evening: Day) -> str:
        """``"Tue 8 to Wed 9 July"``."""
        morning = evening + timedelta(days=1)
        key = "date_night" if evening.month == morning.month else "date_night_months"
        return self.say(
            key,
            day1=self.day(evening), number1=evening.day, month1=self.month(evening),
            day2=self.day(morning), number2=morning.day, month2=self.month(morning),
            month=self.month(evening),
        )  # fmt: skip

    def span(self, start: np.datetime64, end: np.datetime64) -> str:
        """``"3 am to 7 am"``, the day said once where both have the same."""
        first, last = self.when(start), self.when(end, is_end=True)
        if last.rsplit(self.clock(end), 1)[0] == first.rsplit(self.clock(start), 1)[0]:
            last = self.clock(end)
        return self.say("span_short", start=first, end=last)

    def amount(self, value: float, quantity: str, *, extra: int = 0) -> str:
        """A number with its unit; `extra` decimals on request, none where it is whole."""
        shown = to_shown(value, quantity, self.units)
        if abs(shown - round(shown)) < 1e-6:
            return joined(f"{round(shown)}", symbol_of(quantity, self.units))
        return format_shown(value, quantity, self.units, extra_decimals=extra)

    def number(self, value: float, quantity: str, *, extra: int = 0) -> str:
        """A number without its unit."""
        return format_shown(value, quantity, self.units, with_unit=False, extra_decimals=extra)

    def counted(self, value: float, quantity: str) -> str:
        """An area or a mass of hay in words: ``"105 acres"``."""
        number = self.number(value, quantity)
        return self.say(f"amount_{quantity}_{self.units}", number=number)

    def between(self, low: float, high: float, quantity: str, *, extra: int = 0) -> str:
        """``"5.8 to 7.0 %"``; one number where both look the same."""
        first, last = (self.number(value, quantity, extra=extra) for value in (low, high))
        if first == last:
            return self.amount(high, quantity, extra=extra)
        text = self.say("range", low=first, high=last)
        return joined(text, symbol_of(quantity, self.units))

    def chance(self, share: float) -> str:
        """A chance to the nearest five in a hundred; never "sure"."""
        percent = 5 * round(20 * share)
        if percent >= 100 or percent <= 0:
            return self.say("chance_over" if percent >= 100 else "chance_under")
        return self.say("chance_about", percent=percent)

    def hours(self, hours: float) -> str:
        """``"3.25 h"``."""
        return self.say("hours_count", hours=f"{hours:.2f}".rstrip("0").rstrip("."))

    def duration(self, hours: float) -> str:
        """``"3 h 15 min"``, to the minute."""
        whole, minutes = divmod(round(hours * 60), 60)
        if not minutes:
            return self.hours(whole)
        key = "hours_and_minutes" if whole else "minutes_alone"
        return self.say(key, hours=whole, minutes=minutes)

    def listed(self, items: Sequence[str]) -> str:
        """``"a, b and c"``."""
        if len(items) < 2:
            return "".join(items)
        return self.say("list_and", first=", ".join(items[:-1]), last=items[-1])


def _comes_twice(local: datetime) -> bool:
    """Whether clocks go back over this time of day."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def _night_of(local: datetime) -> Day:
    """Local date of the evening of the night that a local time belongs to."""
    return local.date() - timedelta(days=0 if local.hour >= TURN_HOUR else 1)


def capital(text: str) -> str:
    """A text with its first letter large, the others left alone."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """A text as a sentence: first letter large, a full stop at its end.

    Examples
    --------
    >>> sentence("rain is not known")
    'Rain is not known.'
    """
    return capital(text if text.endswith((".", "!", "?", ":")) else f"{text}.")


def unique(texts: Iterable[str]) -> list[str]:
    """Each text once, in order."""
    return list(dict.fromkeys(texts))
