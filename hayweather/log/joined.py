"""What the night's model takes from the log, and what is kept in it of what was issued."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np

from hayweather.baling.clock import span_of, turn_of
from hayweather.farm.records import Farm
from hayweather.log.book import Log, open_log
from hayweather.log.records import LoggedReading
from hayweather.log.said import zone_of
from hayweather.windrow.readings import Reading

WITHOUT_ZONE = np.timedelta64(24 * 3600, "s")


def as_reading(item: LoggedReading) -> Reading | None:
    """A reading as the windrow weighs it; None for a temperature.

    Parameters
    ----------
    item
        From the log.
    """
    if item.moisture_wb is None or item.kind == "skin":
        return None
    return Reading(
        item.time,
        item.moisture_wb,
        item.kind,
        item.meter_error,
        item.bias,
        item.layer,
        item.water_l_t or 0.0,
    )


def readings_for_night(log: Log, farm: Farm, now: np.datetime64) -> dict[str, tuple[Reading, ...]]:
    """Readings of the night that `now` belongs to, taken up to now, by field, in order of time.

    The night begins at 14:00 on the clock of the field's site; where that has no zone,
    24 hours before now. A field without any is absent.

    Parameters
    ----------
    log
        Open.
    farm
        Its fields are those looked at.
    now
        UTC.
    """
    found = {}
    for name in farm.fields:
        zone = zone_of(farm, name)
        since = now - WITHOUT_ZONE if zone is None else turn_of(span_of(now, zone).evening, zone)
        logged = sorted(log.readings(name, since, now), key=lambda item: (item.time, item.id))
        taken = tuple(reading for reading in map(as_reading, logged) if reading is not None)
        if taken:
            found[name] = taken
    return found


def with_logged(
    farm: Farm, now: np.datetime64, given: Mapping[str, Sequence[Reading]]
) -> dict[str, list[Reading]]:
    """Readings given now and those of tonight in the farm's log, by field, in order of time.

    Parameters
    ----------
    farm
        From its file, else it has no log.
    now
        UTC.
    given
        By field; one that says the same as the log counts once.
    """
    if farm.log is None or not farm.log.exists():
        return {name: list(readings) for name, readings in given.items()}
    with open_log(farm, only_read=True) as log:
        logged = readings_for_night(log, farm, now)
    found = {}
    for name in dict.fromkeys([*given, *logged]):
        every = dict.fromkeys([*given.get(name, ()), *logged.get(name, ())])
        found[name] = sorted(every, key=lambda item: item.time)
    return found


def keep_issued(
    log: Log, outlook: Mapping[str, Any] | None, plan: Mapping[str, Any] | None = None
) -> int:
    """Keep an outlook, a row for each of its fields, and a plan as they are issued.

    Parameters
    ----------
    log
        Open to be written.
    outlook
        In the form of its JSON, numbers at full precision: `now` and `fields`, each
        with its `field` and `headline`, which is kept as the advice; None for a plan alone.
    plan
        In the form of its JSON, if one was made; its own `now` counts where no outlook has one.

    Returns
    -------
    int
        How many were new.
    """
    new = 0
    if outlook is not None:
        head = {name: value for name, value in outlook.items() if name != "fields"}
        for field in outlook["fields"]:
            content = {**head, "fields": [field]}
            name, made = str(field["field"]), _utc(outlook["now"])
            new += log.add_outlook(name, made, content, _advice(field))
    if plan is not None:
        new += log.add_plan(_utc((outlook or plan)["now"]), plan, _advice(plan))
    return new


def _advice(form: Mapping[str, Any]) -> str:
    """What a form tells the reader first."""
    headline = form.get("headline", "")
    return headline if isinstance(headline, str) else " ".join(map(str, headline))


def _utc(text: str) -> np.datetime64:
    """UTC of an ISO time with its offset."""
    return np.datetime64(datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None), "s")
