"""What people type on a page: read, put into the log once, and answered in one line."""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from hayweather.errors import HayweatherError, InputError
from hayweather.farm.records import Farm
from hayweather.log import Entry, LoggedReading, LoggedWork, open_log
from hayweather.log.records import LAYERS, OF_MACHINES, Instant
from hayweather.log.said import field_said, machine_said, moisture_said, one_line

PARTS = {"whole": "windrow", "leaf": "leaf", "stem": "stem"}
DONE: tuple[Instant, ...] = ("started", "stopped", "filled", "broken", "mended")
LONGEST_WAIT = np.timedelta64(7 * 24 * 3600, "s")
"""A form that waited longer in a browser is asked back (assumed)."""
RECENT = np.timedelta64(48 * 3600, "s")
"""Older entries are taken out with `hayweather log remove` alone."""
KNOWN = frozenset(
    {"form", "id", "field", "moisture", "part", "layer", "sure", "event", "machine", "note",
     "by", "age", "number"}
)  # fmt: skip
_ONE = threading.Lock()
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@dataclass(frozen=True)
class Taken:
    """An entry as it stands in the log, and whether it stood there before."""

    entry: Entry
    known: bool


def take(farm: Farm, given: Mapping[str, str], now: np.datetime64) -> Taken:
    """Put what a form says into the log; the same id twice is once, also after a restart.

    Parameters
    ----------
    farm
        Its log.
    given
        Fields of the form: `form` is "reading", "work", "note" or "remove", `id` a uuid,
        `age` the seconds that it waited before it was sent.
    now
        UTC.

    Raises
    ------
    InputError
        If anything cannot be, or the id has another content in the log.
    OutputError
        If the log cannot be written.
    """
    strange = sorted(set(given) - KNOWN)
    if strange:
        raise InputError("web_form_field")
    form = given.get("form", "")
    if form == "remove":
        return _removed(farm, given.get("number", ""), now)
    uuid = given.get("id", "").lower()
    if not _UUID.fullmatch(uuid):
        raise InputError("web_form_id")
    made = now - _age(given.get("age", "0"))
    name = field_said(given.get("field", ""), farm)
    common: dict[str, Any] = {
        "note": one_line(given.get("note", ""), "web"),
        "by": one_line(given.get("by", ""), "web"),
        "source": "hayweather serve",
        "uuid": uuid,
        "time": made,
        "now": now,
    }
    # One at a time: the same form may come in twice in one moment.
    with _ONE, open_log(farm) as log:
        before = log.by_uuid(uuid)
        if before is None:
            return Taken(_added(log, form, name, given, common, farm), known=False)
    _same(before, form, name, given, farm)
    return Taken(before, known=True)


def _added(
    log: Any, form: str, name: str, given: Mapping[str, str], common: dict[str, Any], farm: Farm
) -> Entry:
    """A new entry."""
    if form == "reading":
        layer = given.get("layer", "")
        part = given.get("part", "whole")
        if part not in PARTS or layer not in ("", *LAYERS):
            raise InputError("web_form_field")
        sure = given.get("sure") == "yes"
        percent = moisture_said(given.get("moisture", ""), sure=sure, where="web")
        return log.add_reading(
            name, percent, kind=PARTS[part], layer=layer or None, sure=sure, **common
        )
    if form == "work":
        event, machine = given.get("event", ""), given.get("machine", "")
        if event not in DONE or (machine and machine not in machines(farm)):
            raise InputError("web_form_field")
        return log.add_work(name, event, machine=machine, **common)
    if form == "note":
        if not common["note"]:
            raise InputError("web_form_empty")
        return log.add_work(name, "note", **common)
    raise InputError("web_form_field")


def _same(before: Entry, form: str, name: str, given: Mapping[str, str], farm: Farm) -> None:
    """Refuse another content under an id that is taken; its time is that of the first sending."""
    alike = before.field == name and before.note == one_line(given.get("note", ""), "web")
    if isinstance(before, LoggedReading):
        try:
            percent = moisture_said(given.get("moisture", ""), sure=True, where="web")
        except InputError:
            percent = float("nan")
        alike &= form == "reading" and before.moisture_wb == percent
        alike &= (before.layer or "") == given.get("layer", "")
        alike &= before.kind == PARTS.get(given.get("part", "whole"))
    elif isinstance(before, LoggedWork):
        event = "note" if form == "note" else given.get("event", "")
        alike &= form in ("work", "note") and before.event == event
        # A note is of no machine, whatever its form says; the only machine need not be named.
        machine = given.get("machine", "")
        machine = machine_said(machine, farm) if event in OF_MACHINES else machine
        alike &= form == "note" or before.machine == machine
    else:
        alike = False
    if not alike:
        raise InputError("web_form_other")


def _removed(farm: Farm, number: str, now: np.datetime64) -> Taken:
    """An entry taken out; one that is out already stays so."""
    if not re.fullmatch(r"[0-9]{1,9}", number):
        raise InputError("web_form_field")
    with open_log(farm) as log:
        found = log.entry(int(number))
        if found.time < now - RECENT:
            raise InputError("web_form_old")
        if found.removed is not None:
            return Taken(found, known=True)
        try:
            return Taken(log.remove(int(number), now=now), known=False)
        except HayweatherError as problem:
            if problem.key == "log_removed_before":
                return Taken(log.entry(int(number)), known=True)
            raise


def _age(text: str) -> np.timedelta64:
    """How long a form waited, to the second."""
    if not re.fullmatch(r"[0-9]{1,7}", text):
        raise InputError("web_form_field")
    age = np.timedelta64(int(text), "s")
    if age > LONGEST_WAIT:
        raise InputError("web_form_old")
    return age


def machines(farm: Farm) -> list[str]:
    """Names of the farm's machines."""
    return [*farm.balers, *(farm.rigs or {})]
