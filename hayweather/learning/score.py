"""How past outlooks did against what happened, beside plain rules on the same hours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.errors import InputError
from hayweather.learning.hours import LoggedHours, last_before, logged_hours
from hayweather.learning.keep import Kept
from hayweather.learning.logs import FieldReading, LogEvent
from hayweather.learning.rules import band_of_other_months, never
from hayweather.learning.skill import Bin, Counts, brier, reliability
from hayweather.learning.times import Bout, TimeError, bouts_of, of_hours, times_of
from hayweather.weather.record import Booleans, Floats


@dataclass(frozen=True)
class MoistureError:
    """Outlook less what was measured, in one clock hour (None: all) [points wet basis].

    Attributes
    ----------
    hour
        Of the local clock; None for all.
    count
        Readings.
    bias_wb, rms_wb
        Mean, positive where said too wet, and root mean square [points].
    """

    hour: int | None
    count: int
    bias_wb: float
    rms_wb: float


@dataclass(frozen=True)
class RuleScore:
    """One way of saying which hours bale on dew.

    Attributes
    ----------
    name
        ``"outlook"``, ``"never"``, ``"yesterday"`` or ``"humidity"``.
    counts
        Hours by what it said and what happened; None where it had no answer.
    too_wet
        False alarms in hay that was too wet.
    brier
        Brier score, of chances where there are any, else of yes and no.
    start, end
        Errors of times.
    """

    name: str
    counts: Counts | None
    too_wet: int
    brier: float
    start: TimeError
    end: TimeError


@dataclass(frozen=True)
class Score:
    """Result of scoring.

    Attributes
    ----------
    outlooks, hours, unspoken
        Outlooks kept, logged hours that they spoke of, and logged hours that
        none did.
    nights, bouts
        Nights with an hour scored; times that hay was baled on dew, each without
        a long break.
    lead_h
        Mean time from outlook to hour [h].
    moisture
        By clock hour, then of all.
    rules
        The outlook first.
    reliability
        Chances of natural dew in five bins; empty where none were given.
    starts_held, starts_timed
        Starts of baling within the range shown, of those that had one.
    """

    outlooks: int
    hours: int
    unspoken: int
    nights: int
    bouts: int
    lead_h: float
    moisture: tuple[MoistureError, ...]
    rules: tuple[RuleScore, ...]
    reliability: tuple[Bin, ...]
    starts_held: int
    starts_timed: int


def score(
    kept: Sequence[Kept], log: Sequence[LogEvent], readings: Sequence[FieldReading] = ()
) -> Score:
    """Score kept outlooks against a log.

    Parameters
    ----------
    kept
        Outlooks in order of time.
    log
        What happened.
    readings
        Moisture readings of the windrow, beside those in the log.

    Raises
    ------
    InputError
        If no outlook speaks of any hour of the log.
    """
    hours = logged_hours(kept, log)
    if not hours.start.size:
        raise InputError("score_nothing", outlooks=len(kept), entries=len(log))
    bouts = list(bouts_of(kept, log))
    dew = hours.happened == Call.NATURAL_DEW
    chance = hours.chances[Call.NATURAL_DEW]
    told = np.isfinite(chance)
    bins = reliability(chance[told], dew[told].astype(np.float64)) if told.any() else []
    held = [bout.held for bout in bouts if bout.held is not None]
    return Score(
        outlooks=len(kept),
        hours=hours.start.size,
        unspoken=hours.unspoken,
        nights=np.unique(hours.evening).size,
        bouts=len(bouts),
        lead_h=float(hours.lead_h.mean()),
        moisture=tuple(_moisture(kept, log, readings)),
        rules=tuple(_rules(hours, bouts)),
        reliability=tuple(bins),
        starts_held=sum(held),
        starts_timed=len(held),
    )


def _moisture(
    kept: Sequence[Kept], log: Sequence[LogEvent], readings: Sequence[FieldReading]
) -> Iterator[MoistureError]:
    """Errors of moisture by clock hour, from the afternoon on, then of all."""
    errors: dict[int, list[float]] = {}
    for field, time, value in _measured(log, readings):
        found = last_before(kept, field, time.astype("datetime64[h]").astype("datetime64[s]"))
        if found is None:
            continue
        said = found[0].moisture_at(time)
        if np.isfinite(said):
            clock = to_local(time, found[0].timezone).hour
            errors.setdefault(clock, []).append(said - value)
    everything = [error for group in errors.values() for error in group]
    in_order = sorted(errors.items(), key=lambda item: (item[0] - TURN_HOUR) % 24)
    groups: list[tuple[int | None, list[float]]] = [*in_order]
    for hour, group in [*groups, *([(None, everything)] if everything else [])]:
        values = np.array(group)
        yield MoistureError(
            hour, values.size, float(values.mean()), float(np.sqrt((values**2).mean()))
        )


def _measured(
    log: Sequence[LogEvent], readings: Sequence[FieldReading]
) -> list[tuple[str, np.datetime64, float]]:
    """Field, time and moisture of the windrow without the rig's water [% wet basis].

    What a log measured meanwhile counts for the middle of its entry.
    """
    measured = [
        (event.field, event.start + (event.end - event.start) / 2, event.moisture_wb)
        for event in log
        if event.moisture_wb is not None and event.event != "rig"
    ]
    measured += [
        (item.field, item.time, item.value)
        for item in readings
        if item.kind == "windrow" and not item.water_l_t
    ]
    return measured


def _rules(hours: LoggedHours, bouts: Sequence[Bout]) -> Iterator[RuleScore]:
    """The outlook and the plain rules on the same hours."""
    dew = hours.happened == Call.NATURAL_DEW
    none = (TimeError.of([]), TimeError.of([]))
    chance = hours.chances[Call.NATURAL_DEW]
    said = hours.said == Call.NATURAL_DEW
    shares = np.where(np.isfinite(chance), chance, said)
    yield _rule("outlook", said, hours, shares, times_of([bout.said for bout in bouts]))
    yield _rule("never", never(dew), hours, None, none)
    yesterday = times_of([bout.yesterday for bout in bouts])
    yield _rule("yesterday", hours.yesterday, hours, None, yesterday)
    band = band_of_other_months(hours.humidity, dew, hours.month)
    if band is None:
        yield RuleScore("humidity", None, 0, float("nan"), *none)
    else:
        yield _rule("humidity", band, hours, None, times_of(of_hours(band, hours, bouts)))


def _rule(
    name: str,
    said: Booleans,
    hours: LoggedHours,
    chance: Floats | None,
    times: tuple[TimeError, TimeError],
) -> RuleScore:
    """Counts and scores of one rule."""
    dew = hours.happened == Call.NATURAL_DEW
    wet = int((said & (hours.happened == Call.TOO_WET)).sum())
    shares = said.astype(np.float64) if chance is None else chance
    return RuleScore(name, Counts.of(said, dew), wet, brier(shares, dew.astype(np.float64)), *times)
