"""In which language, units and clock a person is spoken to; remarks into sentences; the cautions.

US readers get a twelve-hour clock, metric readers one of twenty-four hours. A
time within the night that is spoken of goes without a day; others name theirs.

Stack temperatures and what each asks for: extension services of Pennsylvania
State and Purdue universities, published. Wording made here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TypeAlias

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.cautions import RAIN_AHEAD_HOURS
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.farm.records import Decimals, Farm, Language, UnitSystem
from hayweather.units import format_shown, joined, symbol_of, to_shown
from hayweather.weather.record import HOUR, Assumption
from hayweather.words import Remark, say

Day: TypeAlias = date
NEAR_DAYS = 4
UNKNOWN = "?"
JUMP = np.timedelta64(15 * 60, "s")
EXCHANGED = str.maketrans(".,", ",.")
MACHINE_FIELDS = ("baler", "rig", "machine", "names")
UNNAMED = ("baler", "rig")
"""What the farm's reader calls a machine whose table has no name of its own."""
NUMBER = re.compile(r"[-+]?\d+(,\d{3})*(\.\d+)?")


class Signed(str):
    """A text whose numbers have this reader's signs already."""

    __slots__ = ()


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
    decimals
        Sign before tenths; None: a comma for metric readers of Spanish, else a point.
    """

    language: Language
    units: UnitSystem
    timezone: str
    evening: Day | None = None
    decimals: Decimals | None = None

    @classmethod
    def of(cls, farm: Farm, units: UnitSystem, timezone: str, evening: Day | None = None) -> Voice:
        """A farm's language and its sign before tenths."""
        return cls(farm.language, units, timezone, evening, farm.decimals)

    @property
    def has_comma(self) -> bool:
        """Whether tenths stand behind a comma."""
        if self.decimals is None:
            return self.language == "es" and self.units == "metric"
        return self.decimals == "comma"

    def signed(self, text: str) -> Signed:
        """A number as it came, with this reader's sign before tenths and between thousands."""
        done = isinstance(text, Signed) or not self.has_comma
        return Signed(text if done else text.translate(EXCHANGED))

    def say(self, key: str, /, **values: object) -> str:
        """A text of the table in this language; bare numbers get this reader's sign."""
        values |= {
            field: self.machine(name)
            for field in MACHINE_FIELDS
            if isinstance(name := values.get(field), str)
        }
        if self.has_comma:
            bare = {name: value for name, value in values.items() if isinstance(value, str)}
            values |= {name: self.signed(v) for name, v in bare.items() if NUMBER.fullmatch(v)}
        return say(key, self.language, **values)

    def machine(self, name: str) -> str:
        """A machine's name; one that the farm file gives none (``[baler]``) by its word."""
        return say(f"machine_{name}", self.language) if name in UNNAMED else name

    def advice(self, advice: Advice) -> str:
        """The word for an advice."""
        return self.say(f"advice_{advice.name.lower()}")

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

        Around a change of the clock it names its zone: ``"1:30 am PST"``.
        """
        local = self.local(time)
        which = f" {local:%Z}" if _comes_twice(local) or self._jumps(time) else ""
        return self._hand(local, words=words) + which

    def _jumps(self, time: np.datetime64) -> bool:
        """Whether clocks are changed within a quarter of an hour."""
        around = (self.local(time - JUMP), self.local(time + JUMP))
        return around[0].utcoffset() != around[1].utcoffset()

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
        night = night_of_local(local - timedelta(seconds=1) if is_end else local)
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

    def amount(
        self, value: float, quantity: str, *, extra: int = 0, limits: Sequence[float] = ()
    ) -> str:
        """A number with its unit; `extra` decimals on request, none where it is whole.

        Parameters
        ----------
        value, quantity
            In inside units.
        extra
            Decimals beyond the usual.
        limits
            Numbers that stand beside it; see `beside`.
        """
        near = self.beside(value, quantity, limits)
        if near != self.number(value, quantity):
            return joined(near, symbol_of(quantity, self.units))
        return joined(self.short(value, quantity, extra=extra), symbol_of(quantity, self.units))

    def short(self, value: float, quantity: str, *, extra: int = 0) -> str:
        """A number without its unit, and without decimals where it is whole."""
        shown = to_shown(value, quantity, self.units)
        return f"{round(shown)}" if _whole(shown) else self.number(value, quantity, extra=extra)

    def number(self, value: float, quantity: str, *, extra: int = 0) -> str:
        """A number without its unit.

        A rate of water that is a quarter or another hundredth of a unit, as some are
        dialed, has two decimals.
        """
        if quantity == "water_rate":
            shown = to_shown(value, quantity, self.units)
            extra += _whole(100 * shown) and not _whole(10 * shown)
        return self.signed(
            format_shown(value, quantity, self.units, with_unit=False, extra_decimals=extra)
        )

    def counted(self, value: float, quantity: str) -> str:
        """An area or a mass of hay in words: ``"105 acres"``; a little is not told as none."""
        shown = format_shown(value, quantity, self.units, with_unit=False)
        number = self.number(value, quantity, extra=int(value > 0 and float(shown) == 0))
        return self.say(f"amount_{quantity}_{self.units}", number=number)

    def between(self, low: float, high: float, quantity: str, limits: Sequence[float] = ()) -> str:
        """``"5.8 to 7.0 %"``; one number where both look the same.

        Parameters
        ----------
        low, high, quantity
            In inside units.
        limits
            Numbers that stand beside them; see `beside`.
        """
        first, last = (self.beside(value, quantity, limits) for value in (low, high))
        if first == last:
            return self.amount(high, quantity, limits=limits)
        text = self.say("range", low=first, high=last)
        return joined(text, symbol_of(quantity, self.units))

    def beside(self, value: float, quantity: str, limits: Sequence[float]) -> str:
        """A number without its unit; one that looks like a limit beside it says on which side.

        ``"just under 12"``: decimals that nobody can measure would tell no more.
        """
        shown = self.number(value, quantity)
        for limit in limits:
            if abs(value - limit) > SAME and self.number(limit, quantity) == shown:
                whole = to_shown(limit, quantity, self.units)
                near = f"{round(whole)}" if _whole(whole) else shown
                return self.say("just_under" if value < limit else "just_over", value=near)
        return shown

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


def _whole(number: float) -> bool:
    return abs(number - round(number)) < 1e-6 if math.isfinite(number) else False


def _comes_twice(local: datetime) -> bool:
    """Whether clocks go back over this time of day."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def night_of_local(local: datetime) -> Day:
    """Local date of the evening of the night that a local time belongs to."""
    return local.date() - timedelta(days=0 if local.hour >= TURN_HOUR else 1)


def capital(text: str) -> str:
    """A text with its first letter large, the others left alone."""
    return text[:1].upper() + text[1:]


def sentence(text: str, names: Collection[str] = ()) -> str:
    """A text as a sentence: first letter large, a full stop at its end.

    Parameters
    ----------
    text
        What is said.
    names
        Names of the user's; a sentence that begins with one begins as it is written.

    Examples
    --------
    >>> sentence("rain is not known")
    'Rain is not known.'
    >>> sentence("dry creek: rain is not known", ["dry creek"])
    'dry creek: rain is not known.'
    """
    text = text if text.endswith((".", "!", "?", ":")) else f"{text}."
    named = any(text.startswith(name) and not text[len(name)].isalnum() for name in names if name)
    return text if named else capital(text)


def unique(texts: Iterable[str]) -> list[str]:
    """Each text once, in order."""
    return list(dict.fromkeys(texts))


SAME = 1e-9
LIMITS = ("limit", "low", "high", "least", "most")
"""Names of values that the others of a remark are held against."""


def money_text(value: float, voice: Voice, currency: str | None) -> str:
    """Money rounded to whole units: ``"-$12,300"``."""
    if not math.isfinite(value):
        return UNKNOWN
    sign = "-" if round(value) < 0 else ""
    unit = currency or "$"
    number = voice.signed(f"{abs(value):,.0f}")
    return f"{sign}{unit}{number}" if _before(unit, voice) else f"{sign}{number} {unit}"


def _before(unit: str, voice: Voice) -> bool:
    """Whether the sign of a currency stands before the number; dollars and pounds do in English."""
    return voice.units == "us" or (voice.language == "en" and unit.endswith(("$", "£")))


def money_by_ton(per_tonne: float, voice: Voice, currency: str | None) -> str:
    """Money by weight of hay, in the reader's ton."""
    amount = to_shown(per_tonne / 1000, "price_by_mass", voice.units)
    sign, shown = "-" if round(amount, 2) < 0 else "", voice.signed(f"{abs(amount):.2f}")
    unit = currency or "$"
    amount_text = f"{unit}{shown}" if _before(unit, voice) else f"{shown} {unit}"
    return f"{sign}{amount_text}/{'ton' if voice.units == 'us' else 't'}"


def phrase(remark: Remark, voice: Voice) -> str:
    """A remark as a text in the reader's language, units and clock.

    A value of three parts, ``(low, high, quantity)``, is a range. A remark with a
    ``currency`` speaks of money in it.
    """
    key = f"assumed_{remark.key}" if isinstance(remark, Assumption) else remark.key
    limits = [value for name in LIMITS for value in [remark.values.get(name)]]
    pairs = [value for value in limits if isinstance(value, tuple) and len(value) == 2]
    values = {
        name: _money(value, voice, remark.values)
        or _shown(value, voice, () if name in LIMITS else pairs)
        for name, value in remark.values.items()
    }
    return voice.say(key, **values)


def _money(value: object, voice: Voice, values: Mapping[str, object]) -> str:
    """An amount of money as text; empty for anything else."""
    if not isinstance(value, tuple) or len(value) != 2 or "currency" not in values:
        return ""
    amount, currency = float(value[0]), str(values["currency"])
    if value[1] == "money":
        return money_text(amount, voice, currency)
    if value[1] == "price_by_mass":
        return money_by_ton(1000 * amount, voice, currency)
    return ""


def _shown(value: object, voice: Voice, limits: Sequence[tuple[float, str]]) -> str:
    """One value of a remark as text, told apart from the limits beside it."""
    if isinstance(value, Remark):
        return phrase(value, voice)
    if isinstance(value, np.datetime64):
        return voice.when(value)
    if not isinstance(value, tuple):
        return str(value)
    *numbers, quantity = value
    alike = [float(limit) for limit, kind in limits if kind == quantity]
    if quantity == "area":
        return voice.counted(float(numbers[0]), "area")
    if len(numbers) == 2:
        return voice.between(float(numbers[0]), float(numbers[1]), str(quantity), alike)
    return voice.amount(float(numbers[0]), str(quantity), limits=alike)


def phrases(remarks: Sequence[Remark], voice: Voice) -> list[str]:
    """Several remarks, each text once."""
    return list(dict.fromkeys(phrase(remark, voice) for remark in remarks))


RAIN = "caution_rain_ahead"
RAIN_CHANCE = "caution_rain_chance"


def rain_spells(remarks: Iterable[Remark]) -> list[int]:
    """Which rain each of several hours' remarks is of, in order; 0 for what is no rain."""
    found: list[int] = []
    spell, last = 0, dict[str, np.datetime64]()
    for remark in remarks:
        at = remark.values.get("time")
        if remark.key in (RAIN, RAIN_CHANCE) and isinstance(at, np.datetime64):
            if remark.key in last and at - last[remark.key] > RAIN_AHEAD_HOURS * HOUR:
                spell += 1
            last[remark.key] = at
            found.append(spell)
        else:
            found.append(0)
    return found


def merge(remarks: Sequence[Remark]) -> list[Remark]:
    """Remarks of several hours: one a key, its numbers as ranges, its first time kept.

    A rain is told once, as it is when it begins.
    """
    by_key: dict[tuple[type, str, int, tuple[str, ...]], list[Remark]] = {}
    for remark, spell in zip(remarks, rain_spells(remarks), strict=True):
        inner = tuple(v.key for v in remark.values.values() if isinstance(v, Remark))
        group = by_key.setdefault((type(remark), remark.key, spell, inner), [])
        if not (group and remark.key == RAIN):
            group.append(remark)
    return [
        kind(key, {name: _merged([r.values[name] for r in group]) for name in group[0].values})
        for (kind, key, _, _), group in by_key.items()
    ]


def _merged(values: Sequence[object]) -> object:
    """One value for those of several hours."""
    first = values[0]
    amounts = [value for value in values if isinstance(value, tuple)]
    if len(amounts) == len(values):
        numbers = [float(number) for *parts, _ in amounts for number in parts]
        low, high = min(numbers), max(numbers)
        return first if low == high else (low, high, amounts[0][-1])
    counts = [int(value) for value in values if isinstance(value, str) and value.isdigit()]
    if len(counts) == len(values):
        return first if min(counts) == max(counts) else f"{min(counts)}-{max(counts)}"
    return first


# Text and temperature [F] of each step.
STACK_STEPS_F = (
    ("safety_stack_watch", 125),
    ("safety_stack_twice", 150),
    ("safety_stack_hours", 160),
    ("safety_stack_call", 175),
    ("safety_stack_fire", 190),
)
BEFORE_STACKS = (
    "safety_planning",
    "safety_authority",
    "safety_fire",
    "safety_steam",
    "safety_pressure",
    "safety_scald",
    "safety_lockout",
    "safety_people",
    "safety_exhaust",
    "safety_power",
    "safety_lightning",
    "safety_road",
    "safety_tired",
    "safety_stack",
)
SHORT = ("safety_short_hay", "safety_short_danger", "safety_short_all")


def safety_texts(voice: Voice) -> list[str]:
    """All of them, in full."""
    stacks = [voice.say(key, limit=both_scales(limit)) for key, limit in STACK_STEPS_F]
    return [*(voice.say(key) for key in BEFORE_STACKS), *stacks, voice.say("safety_driving")]


def short_safety_texts(voice: Voice) -> list[str]:
    """The short form that stands below every outlook."""
    watch = both_scales(STACK_STEPS_F[0][1])
    return [voice.say(key, watch=watch) for key in SHORT]


def near_safety(voice: Voice) -> list[str]:
    """The cautions that stand right beside what is told; all of them follow, or are linked."""
    return [*short_safety_texts(voice)[:2], voice.say("safety_driving")]


def shown_safety(voice: Voice, all_cautions: bool) -> list[str]:
    """The cautions in full where they were asked for, else the short form."""
    return safety_texts(voice) if all_cautions else short_safety_texts(voice)


def both_scales(fahrenheit: int) -> str:
    """A stack temperature in both scales.

    Examples
    --------
    >>> both_scales(175)
    '175 °F (79 °C)'
    """
    return f"{fahrenheit} °F ({round((fahrenheit - 32) / 1.8)} °C)"
