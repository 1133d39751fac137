"""What the night's model takes from the log, and what is kept in it of what was issued."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any, get_args

import numpy as np

from hayweather.baling.clock import span_of, turn_of
from hayweather.farm.records import Farm
from hayweather.log.book import Log, open_log
from hayweather.log.records import Layer, LoggedReading, ReadingKind
from hayweather.log.said import zone_of
from hayweather.windrow.readings import Kind, Reading

TOGETHER = np.timedelta64(20 * 60, "s")
"""Readings of one field no further apart are one."""
WITHOUT_ZONE = np.timedelta64(24 * 3600, "s")


@dataclass(frozen=True)
class Joined:
    """Readings taken together, as one.

    Attributes
    ----------
    field, kind, layer
        Where and of what.
    time
        Their mean, UTC.
    moisture_wb
        Their mean, each with its meter's bias taken off [% wet basis].
    error_wb
        Of that mean [points]: the meter's, which more readings of one meter do not
        make smaller, and the scatter of the places divided by the root of their number.
    low_wb, high_wb, spread_wb
        Lowest and highest, and standard deviation; 0 for a single one.
    ids
        Of the entries.
    """

    field: str
    kind: ReadingKind
    layer: Layer | None
    time: np.datetime64
    moisture_wb: float
    error_wb: float
    low_wb: float
    high_wb: float
    spread_wb: float
    ids: tuple[int, ...]


def join_readings(readings: Iterable[LoggedReading]) -> list[Joined]:
    """Moistures read within 20 minutes of the first, in one field, of one part and layer, as one.

    Readings behind the rig are joined with others of the same water only. In order of time.

    Parameters
    ----------
    readings
        Of any fields; temperatures are left out.
    """
    groups: list[list[LoggedReading]] = []
    latest: dict[tuple[object, ...], list[LoggedReading]] = {}
    moist = [reading for reading in readings if reading.moisture_wb is not None]
    for reading in sorted(moist, key=lambda item: (item.time, item.id)):
        alike = (reading.field, reading.kind, reading.layer, reading.water_l_t)
        group = latest.get(alike)
        if group is None or reading.time - group[0].time > TOGETHER:
            group = latest[alike] = []
            groups.append(group)
        group.append(reading)
    return sorted((_as_one(group) for group in groups), key=lambda item: item.time)


def _as_one(group: Sequence[LoggedReading]) -> Joined:
    """Readings of one place and time."""
    values = np.array([reading.value for reading in group])
    spread = float(values.std(ddof=1)) if len(group) > 1 else 0.0
    meter = max(reading.meter_error for reading in group)
    first = group[0]
    seconds = np.mean([float((reading.time - first.time).astype(np.int64)) for reading in group])
    return Joined(
        field=first.field,
        kind=first.kind,
        layer=first.layer,
        time=first.time + np.timedelta64(round(float(seconds)), "s"),
        moisture_wb=float(values.mean()),
        error_wb=float(np.hypot(meter, spread / np.sqrt(len(group)))),
        low_wb=float(values.min()),
        high_wb=float(values.max()),
        spread_wb=spread,
        ids=tuple(reading.id for reading in group),
    )


def as_reading(item: LoggedReading | Joined) -> Reading | None:
    """A reading as the windrow weighs it, its bias taken off; None for one that it cannot weigh.

    That is a temperature, a bale, and a reading of one layer where `Reading` knows none:
    a wet top is never taken for a wet windrow.

    Parameters
    ----------
    item
        From the log, alone or joined.
    """
    if isinstance(item, LoggedReading):
        if item.moisture_wb is None:
            return None
        value, error = item.value, item.meter_error
    else:
        value, error = item.moisture_wb, item.error_wb
    knows_layers = "layer" in {each.name for each in fields(Reading)}
    if item.kind not in get_args(Kind) or (item.layer is not None and not knows_layers):
        return None
    extra: dict[str, Any] = {} if item.layer is None else {"layer": item.layer}
    return Reading(item.time, value, item.kind, error, **extra)  # type: ignore[arg-type]


def night_readings(log: Log, farm: Farm, now: np.datetime64) -> list[Joined]:
    """Readings of the night that `now` belongs to, taken up to now, joined, in order of time.

    The night begins at 14:00 on the clock of the field's site; where that has no zone,
    24 hours before now.

    Parameters
    ----------
    log
        Open.
    farm
        Its fields are those looked at.
    now
        UTC.
    """
    found: list[LoggedReading] = []
    for name in farm.fields:
        zone = zone_of(farm, name)
        since = now - WITHOUT_ZONE if zone is None else turn_of(span_of(now, zone).evening, zone)
        found += log.readings(name, since, now)
    return join_readings(found)


def readings_for_night(log: Log, farm: Farm, now: np.datetime64) -> dict[str, tuple[Reading, ...]]:
    """What the windrow weighs of `night_readings`, by field; a field without any is absent.

    Parameters
    ----------
    log, farm, now
        As for `night_readings`.
    """
    found: dict[str, tuple[Reading, ...]] = {}
    for item in night_readings(log, farm, now):
        reading = as_reading(item)
        if reading is not None:
            found[item.field] = (*found.get(item.field, ()), reading)
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


def keep_issued(log: Log, outlook: Mapping[str, Any], plan: Mapping[str, Any] | None = None) -> int:
    """Keep an outlook, a row for each of its fields, and a plan as they are issued.

    Parameters
    ----------
    log
        Open to be written.
    outlook
        In the form of its JSON, numbers at full precision: `now` and `fields`, each
        with its `field` and `headline`, which is kept as the advice.
    plan
        In the form of its JSON, if one was made.

    Returns
    -------
    int
        How many were new.
    """
    made = _utc(outlook["now"])
    head = {name: value for name, value in outlook.items() if name != "fields"}
    new = 0
    for field in outlook["fields"]:
        content = {**head, "fields": [field]}
        new += log.add_outlook(str(field["field"]), made, content, _advice(field))
    if plan is not None:
        new += log.add_plan(made, plan, _advice(plan))
    return new


def _advice(form: Mapping[str, Any]) -> str:
    """What a form tells the reader first."""
    headline = form.get("headline", "")
    return headline if isinstance(headline, str) else " ".join(map(str, headline))


def _utc(text: str) -> np.datetime64:
    """UTC of an ISO time with its offset."""
    return np.datetime64(datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None), "s")
