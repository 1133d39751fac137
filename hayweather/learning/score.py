"""How past outlooks did against what happened, beside plain rules on the same hours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.errors import InputError
from hayweather.learning.happened import (
    Bout,
    LoggedHours,
    TimeError,
    bouts_of,
    last_before,
    logged_hours,
    of_hours,
    times_of,
)
from hayweather.learning.keep import LAYER_KINDS, Kept
from hayweather.learning.past import FieldReading, LogEvent
from hayweather.log.records import LAYERS, Layer
from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.readings import TOGETHER
from hayweather.windrow.trajectory import LayerKind

BINS = 5


@dataclass(frozen=True)
class Bin:
    """Hours of which the same was said.

    Attributes
    ----------
    low, high
        Chances from `low` to below `high` [-].
    hours
        How many.
    said, happened
        Mean chance, and how often it came true [-]; NaN without hours.
    """

    low: float
    high: float
    hours: int
    said: float
    happened: float


@dataclass(frozen=True)
class Counts:
    """Hours by what was said and what happened.

    Attributes
    ----------
    hits, misses, false_alarms, quiet
        Said and happened; not said but happened; said but not happened; neither.
    """

    hits: int
    misses: int
    false_alarms: int
    quiet: int

    @classmethod
    def of(cls, said: Booleans, happened: Booleans) -> Counts:
        """Count two arrays of one shape.

        Examples
        --------
        >>> Counts.of(np.array([True, True, False]), np.array([True, False, True]))
        Counts(hits=1, misses=1, false_alarms=1, quiet=0)
        """
        return cls(
            int((said & happened).sum()),
            int((~said & happened).sum()),
            int((said & ~happened).sum()),
            int((~said & ~happened).sum()),
        )

    @property
    def hours(self) -> int:
        """All hours."""
        return self.hits + self.misses + self.false_alarms + self.quiet

    @property
    def wrong(self) -> int:
        """Hours in which it was wrong, either way."""
        return self.misses + self.false_alarms


def brier(chance: Floats, happened: Floats) -> float:
    """Brier score: mean square of chance less outcome (Brier 1950); 0 is best, NaN without hours.

    Parameters
    ----------
    chance
        Said [-].
    happened
        1 or 0, or the part of the hour in which it was so.

    Examples
    --------
    >>> round(brier(np.array([0.9, 0.2]), np.array([1.0, 0.0])), 4)
    0.025
    """
    return float(((chance - happened) ** 2).mean()) if chance.size else float("nan")


def reliability(chance: Floats, happened: Floats, bins: int = BINS) -> list[Bin]:
    """Of hours with about the same chance, how often it came true.

    Parameters
    ----------
    chance, happened
        Of the same hours, as in `brier`.
    bins
        Equal parts of 0 to 1; a chance of 1 belongs to the last.

    Examples
    --------
    >>> table = reliability(np.array([0.1, 0.1, 1.0]), np.array([0.0, 1.0, 1.0]), bins=2)
    >>> [(each.hours, each.happened) for each in table]
    [(2, 0.5), (1, 1.0)]
    """
    index = np.minimum((chance * bins).astype(np.int64), bins - 1)
    return [_bin(index == number, chance, happened, number, bins) for number in range(bins)]


def _bin(inside: Booleans, chance: Floats, happened: Floats, number: int, bins: int) -> Bin:
    """The hours of one bin."""
    count = int(inside.sum())
    said = float(chance[inside].mean()) if count else float("nan")
    came = float(happened[inside].mean()) if count else float("nan")
    return Bin(number / bins, (number + 1) / bins, count, said, came)


LOWEST_PERCENT, HIGHEST_PERCENT, STEP_PERCENT = 30, 100, 5


@dataclass(frozen=True)
class HumidityBand:
    """Air humidity [%] from `low` to below `high` in which the rule bales."""

    low: float
    high: float

    def says(self, humidity: Floats) -> Booleans:
        """Where the rule bales; nowhere where the humidity is not known."""
        return np.asarray((humidity >= self.low) & (humidity < self.high))


def never(happened: Booleans) -> Booleans:
    """Never bale."""
    return np.zeros_like(happened)


def best_band(humidity: Floats, dew: Booleans) -> HumidityBand:
    """The band of air humidity with the fewest wrong hours, in steps of 5 %.

    Of several equally good ones that with the lowest bottom, then the lowest top.

    Parameters
    ----------
    humidity
        Of the air [%], one dimension.
    dew
        True in hours on natural dew, the same hours.

    Examples
    --------
    >>> best_band(np.array([50.0, 72.0, 78.0, 96.0]), np.array([False, True, True, False]))
    HumidityBand(low=55.0, high=80.0)
    """
    edges = np.arange(LOWEST_PERCENT, HIGHEST_PERCENT + STEP_PERCENT + 1, STEP_PERCENT)
    found = np.clip(np.digitize(humidity, edges) - 1, -1, edges.size - 2)
    inside = (found >= 0) & np.isfinite(humidity)
    gain = np.bincount(
        found[inside], weights=np.where(dew[inside], 1.0, -1.0), minlength=edges.size - 1
    )
    total = np.concatenate([[0.0], np.cumsum(gain)])
    worth = total[None, :] - total[:, None]
    worth[np.tril_indices(edges.size)] = -np.inf
    low, high = np.unravel_index(int(worth.argmax()), worth.shape)
    return HumidityBand(float(edges[low]), float(edges[high]))


def band_of_other_months(humidity: Floats, dew: Booleans, month: np.ndarray) -> Booleans | None:
    """Where the best band says to bale, each month by the band fitted on the others.

    None where all hours lie in one month.

    Parameters
    ----------
    humidity, dew
        As in `best_band`.
    month
        Of each hour: any number that tells months apart.
    """
    months = np.unique(month)
    if months.size < 2:
        return None
    said = np.zeros(dew.shape, dtype=bool)
    for number in months:
        here = month == number
        said[here] = best_band(humidity[~here], dew[~here]).says(humidity[here])
    return said


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
class DepthSample:
    """What was read in a windrow by layer at one time, beside what the last outlook before said.

    Attributes
    ----------
    field, time, timezone
        Where and when (UTC), and the zone of the field's clock.
    kind
        "windrow" for all of it, "leaf" or "stem".
    read, said
        Top, middle, bottom [% wet basis]; NaN where nothing was read, or said.
    without
        Why nothing was said: "outlook" where none was made before, "layers" where it
        held none; empty where it was said.
    """

    field: str
    time: np.datetime64
    timezone: str
    kind: LayerKind
    read: tuple[float, float, float]
    said: tuple[float, float, float]
    without: str = ""

    @property
    def off(self) -> tuple[float, ...]:
        """Said less read, by layer [points]."""
        return tuple(said - read for said, read in zip(self.said, self.read, strict=True))


@dataclass(frozen=True)
class LayerError:
    """Outlook less what was read of one layer [points wet basis]; as `MoistureError`."""

    layer: Layer
    kind: LayerKind
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
    samples
        Readings by layer, in order of field, kind and time.
    layers
        Errors by kind and layer, of the samples that an outlook spoke of.
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
    samples: tuple[DepthSample, ...] = ()
    layers: tuple[LayerError, ...] = ()

    def unsaid(self, why: str) -> int:
        """Samples beside which nothing stands for want of an "outlook", or of its "layers"."""
        return sum(sample.without == why for sample in self.samples)


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
        Moisture readings, beside those in the log.

    Raises
    ------
    InputError
        If no outlook speaks of any hour of the log, nor of a reading.
    """
    hours = logged_hours(kept, log)
    moisture = tuple(_moisture(kept, log, readings))
    samples = tuple(depth_samples(kept, readings))
    layers = tuple(_layer_errors(samples))
    if not hours.start.size and not moisture and not layers:
        entries = len(log) + len(readings)
        raise InputError("score_nothing", outlooks=len(kept), entries=entries)
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
        lead_h=float(hours.lead_h.mean()) if hours.start.size else float("nan"),
        moisture=moisture,
        rules=tuple(_rules(hours, bouts)) if hours.start.size else (),
        reliability=tuple(bins),
        starts_held=sum(held),
        starts_timed=len(held),
        samples=samples,
        layers=layers,
    )


def depth_samples(kept: Sequence[Kept], readings: Sequence[FieldReading]) -> Iterator[DepthSample]:
    """Readings by layer, those of one field and kind within 20 minutes of the first as one row.

    Parameters
    ----------
    kept
        Outlooks in order of time.
    readings
        Those without a layer, of bales, and behind a rig do not count.
    """
    groups: list[list[FieldReading]] = []
    taken = [
        item
        for item in readings
        if item.layer is not None and item.kind in LAYER_KINDS and not item.water_l_t
    ]
    for item in sorted(taken, key=lambda item: (item.field, item.kind, item.time)):
        first = groups[-1][0] if groups else None
        alike = first is not None and (item.field, item.kind) == (first.field, first.kind)
        if first is None or not alike or item.time - first.time > TOGETHER:
            groups.append([])
        groups[-1].append(item)
    for group in groups:
        yield _sample(kept, group)


def _sample(kept: Sequence[Kept], group: Sequence[FieldReading]) -> DepthSample:
    """One row: the mean of what was read of each layer, and what was said at the same times."""
    first = group[0]
    kind = cast(LayerKind, first.kind)
    hour = first.time.astype("datetime64[h]").astype("datetime64[s]")
    found = last_before(kept, first.field, hour)
    zones = [item.timezone for item in kept if item.field == first.field]
    read, said = [], []
    for layer in LAYERS:
        here = [item for item in group if item.layer == layer]
        read.append(_mean([item.value for item in here]))
        told = [] if found is None else [found[0].moisture_at(i.time, layer, kind) for i in here]
        said.append(_mean(told))
    without = "outlook" if found is None else "layers" if found[0].layers_wb is None else ""
    return DepthSample(
        field=first.field,
        time=first.time,
        timezone=zones[-1] if zones else "UTC",
        kind=kind,
        read=(read[0], read[1], read[2]),
        said=(said[0], said[1], said[2]),
        without=without,
    )


def _mean(values: Sequence[float]) -> float:
    """Mean of some numbers, NaN of none."""
    return float(np.mean(values)) if values else float("nan")


def _layer_errors(samples: Sequence[DepthSample]) -> Iterator[LayerError]:
    """Errors by what was read and by layer, top first."""
    for kind in dict.fromkeys(sample.kind for sample in samples):
        for number, layer in enumerate(LAYERS):
            off = np.array([sample.off[number] for sample in samples if sample.kind == kind])
            off = off[np.isfinite(off)]
            if off.size:
                rms = float(np.sqrt((off**2).mean()))
                yield LayerError(layer, kind, off.size, float(off.mean()), rms)


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
        if item.kind == "windrow" and item.layer is None and not item.water_l_t
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
