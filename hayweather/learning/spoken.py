"""Readings given with a command: ``--reading "21:40=10.5"``.

``[FIELD@]TIME=MOISTURE[,KIND][,error=E][,bias=B]``; the time is HH:MM of this
night or a whole ISO time, the moisture percent wet basis, the kind windrow,
leaf or stem. A comma between two digits is a decimal sign.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import cast

import numpy as np

from hayweather.baling.clock import Span, span_of, turn_of
from hayweather.errors import OptionError
from hayweather.farm.clock import parse_clock, parse_time
from hayweather.farm.document import shorten
from hayweather.farm.records import Farm
from hayweather.log.said import time_said
from hayweather.log.sheets import BIAS_RANGE, METER_ERROR_RANGE, MOISTURE_RANGE_WB
from hayweather.windrow.readings import METER_ERROR_WB, Kind, Reading

OPTION = "--reading"
KINDS = ("windrow", "leaf", "stem")
NUMBERS = {"error": METER_ERROR_RANGE, "bias": BIAS_RANGE}
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")


@dataclass(frozen=True)
class _Said:
    """One text as written, for messages."""

    text: str

    def error(self, key: str, **values: object) -> OptionError:
        """The error `key` of this text."""
        return OptionError(key, OPTION, value=shorten(self.text, 60), **values)

    def number(self, text: str, low: float, high: float, name: str) -> float:
        """A number within bounds."""
        try:
            value = float(text.removesuffix("%").strip())
        except ValueError:
            raise self.error("reading_not_understood") from None
        if not (math.isfinite(value) and low <= value <= high):
            raise self.error("reading_range", name=name, low=f"{low:g}", high=f"{high:g}")
        return value


def read_spoken(
    texts: Sequence[str],
    farm: Farm,
    zones: Mapping[str, str | None],
    now: np.datetime64,
    field: str | None = None,
) -> dict[str, list[Reading]]:
    """Readings by field name, each field's in order of time.

    Parameters
    ----------
    texts
        As given, one for each ``--reading``.
    farm
        Its fields.
    zones
        Time zone of each site.
    now
        UTC; tells which night is meant.
    field
        The field asked for, if one was; readings without a name belong to it.

    Raises
    ------
    OptionError
        If a text is not understood, its moisture is impossible, its field is
        not known or not said, or its time lies outside the night.
    InputError
        If the clock never showed its time.
    """
    found: dict[str, list[Reading]] = {}
    for text in texts:
        name, reading = _read(_Said(text), farm, zones, now, field)
        found.setdefault(name, []).append(reading)
    return {name: sorted(list_, key=lambda item: item.time) for name, list_ in found.items()}


def _read(
    said: _Said,
    farm: Farm,
    zones: Mapping[str, str | None],
    now: np.datetime64,
    field: str | None,
) -> tuple[str, Reading]:
    """One text as a field's name and a reading."""
    named, _, rest = said.text.rpartition("@")
    clock, equals, value = rest.partition("=")
    if not equals:
        raise said.error("reading_not_understood")
    name = _field(said, named.strip(), farm, field)
    time = _time(said, clock.strip(), zones.get(farm.fields[name].site), now)
    moisture, *more = (part.strip() for part in _DECIMAL_COMMA.sub(".", value).split(","))
    low, high = MOISTURE_RANGE_WB
    return name, Reading(
        time,
        said.number(moisture, low, high, "moisture"),
        _kind(said, more),
        _named(said, more, "error", METER_ERROR_WB),
        _named(said, more, "bias", 0.0),
    )


def _field(said: _Said, named: str, farm: Farm, chosen: str | None) -> str:
    """The field that is meant."""
    known = list(farm.fields)
    name = named or chosen or (known[0] if len(known) == 1 else "")
    if not name:
        raise said.error("reading_which_field", known=", ".join(known), first=known[0])
    if name not in known or (chosen is not None and name != chosen):
        raise said.error(
            "reading_wrong_field", name=shorten(name, 40), known=chosen or ", ".join(known)
        )
    return name


def _kind(said: _Said, more: Sequence[str]) -> Kind:
    """What was read; the windrow unless said."""
    words = [part for part in more if "=" not in part]
    if not words:
        return "windrow"
    if len(words) > 1 or words[0].casefold() not in KINDS:
        raise said.error("reading_kind", known=", ".join(KINDS))
    return cast(Kind, words[0].casefold())


def _named(said: _Said, more: Sequence[str], name: str, default: float) -> float:
    """The value of ``name=value`` among the parts; unknown names are refused."""
    pairs = [part.partition("=") for part in more if "=" in part]
    if any(key.strip().casefold() not in NUMBERS for key, _, _ in pairs):
        raise said.error("reading_not_understood")
    values = [value for key, _, value in pairs if key.strip().casefold() == name]
    if len(values) > 1:
        raise said.error("reading_not_understood")
    return said.number(values[0], *NUMBERS[name], name) if values else default


def _time(said: _Said, text: str, zone: str | None, now: np.datetime64) -> np.datetime64:
    """The UTC time meant, within the night that `now` belongs to."""
    if zone is None:
        raise said.error("reading_zone")
    if parse_clock(text) is None and parse_time(text) is None:
        raise said.error("reading_not_understood")
    time, _ = time_said(text, zone, now, OPTION)
    span = span_of(now, zone)
    if not _in_night(time, span, zone):
        raise said.error("reading_outside_night", night=span.evening.isoformat())
    return time


def _in_night(time: np.datetime64, span: Span, zone: str) -> bool:
    """Whether a time lies between 14:00 of the evening and the next 14:00."""
    first, past = (turn_of(span.evening + timedelta(days=day), zone) for day in (0, 1))
    return bool(first <= time <= past)
