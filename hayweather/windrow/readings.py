"""Members weighed by moisture readings: those that agree count more."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.column import State, column_of
from hayweather.windrow.hay import FULL_LEAF_DB, FULL_STEM_DB, MOISTURE_FLOOR_DB
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sorption import dry_basis, water_activity
from hayweather.windrow.trajectory import (
    QUARTER,
    QUARTERS,
    Part,
    WindrowTrajectory,
    layer_weights,
)

Kind = Literal["windrow", "leaf", "stem", "bale"]
BALE_BEFORE = np.timedelta64(900, "s")  # a bale was picked up over the quarter hour before
TOGETHER = np.timedelta64(20 * 60, "s")
"""Readings of one field no further apart are one."""
WATER_KEPT = 0.8  # of a rig's water on the hay that is read behind it (assumed)
METER_ERROR_WB = 1.0  # standard error of a meter reading, points wet basis (assumed)
UNEXPLAINED_ERRORS = 3.0  # further than this from every member a reading is not explained
LEAST_EFFECTIVE = 15.0
"""Members that stay in play whatever was read: farther readings count less sharply (assumed)."""
LEAD_LEFT_ERRORS = 1.0
"""Standard errors of the meter that the members' mean may stay from a reading (assumed)."""
LEAD_NOISE = 1 / 3
"""Spread added where no member explains a reading, of how far all are moved (assumed)."""
POSSIBLE_WB = (3.0, 75.0)
"""Hay is not moved beyond these [% wet basis]."""


@dataclass(frozen=True)
class Reading:
    """One moisture reading.

    Attributes
    ----------
    time
        UTC.
    moisture_wb
        As the meter showed it [% wet basis].
    kind
        What was read; a bale is the whole windrow over the quarter hour before.
    error_wb, bias_wb
        Standard error of the meter, and how much it shows too high [points].
    layer
        "top" (15 % of the dry matter), "middle" (35 %) or "bottom" (50 %); None is
        all of the windrow.
    water_l_t
        What a rig had put on before [L per t of hay].
    values_wb
        Of readings taken together (`joined`), each as it counted; else empty.
    """

    time: np.datetime64
    moisture_wb: float
    kind: Kind = "windrow"
    error_wb: float = METER_ERROR_WB
    bias_wb: float = 0.0
    layer: Part | None = None
    water_l_t: float = 0.0
    values_wb: tuple[float, ...] = ()

    @property
    def true_wb(self) -> float:
        """The reading with the meter's bias taken off [% wet basis]."""
        return self.moisture_wb - self.bias_wb


@dataclass(frozen=True)
class Weights:
    """How much each member counts.

    Attributes
    ----------
    weights
        Sum 1 over members, 0 for lane 0 (the forecast) and unknown lanes,
        (lanes,).
    effective
        Effective number of members, ``1 / sum(w^2)``.
    unexplained
        Readings that no member comes near.
    readings
        All readings that were weighed, these included.
    unused
        Readings of a time at which no member is known.
    """

    weights: Floats
    effective: float
    unexplained: tuple[Reading, ...] = ()
    readings: tuple[Reading, ...] = ()
    unused: tuple[Reading, ...] = ()

    @property
    def members(self) -> int:
        """Number of members that have a weight."""
        return int((self.weights > 0).sum())


def joined(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """Readings of one field within 20 minutes of the first, of one part, as one; in order of time.

    It stands at their mean time and moisture. Its error is the meter's, which more
    readings of one meter do not make smaller, and the scatter of the places divided
    by the root of their number.

    Parameters
    ----------
    readings
        Of one field.

    Examples
    --------
    >>> at = np.datetime64("2025-07-09T06:10", "s")
    >>> (one,) = joined([Reading(at, 12.0), Reading(at, 16.0)])
    >>> (one.moisture_wb, round(one.error_wb, 2), one.values_wb)
    (14.0, 2.24, (12.0, 16.0))
    """
    groups: list[list[Reading]] = []
    latest: dict[tuple[object, ...], list[Reading]] = {}
    for reading in sorted(readings, key=lambda item: item.time):
        alike = (reading.kind, reading.layer, reading.water_l_t)
        group = latest.get(alike)
        if group is None or reading.time - group[0].time > TOGETHER:
            group = latest[alike] = []
            groups.append(group)
        group.append(reading)
    return tuple(sorted((_as_one(group) for group in groups), key=lambda item: item.time))


def _as_one(group: Sequence[Reading]) -> Reading:
    """Readings of one place and time."""
    if len(group) == 1:
        return group[0]
    values = np.array([item.true_wb for item in group])
    seconds = np.mean([float((item.time - group[0].time).astype(np.int64)) for item in group])
    meter = max(item.error_wb for item in group)
    return replace(
        group[0],
        time=group[0].time + np.timedelta64(round(float(seconds)), "s"),
        moisture_wb=float(values.mean()),
        bias_wb=0.0,
        error_wb=float(np.hypot(meter, values.std(ddof=1) / np.sqrt(len(group)))),
        values_wb=tuple(values.tolist()),
    )


def moisture_at(trajectory: WindrowTrajectory, reading: Reading) -> Floats:
    """Moisture of every lane at the time of a reading [% wet basis], (lanes,).

    Linear between quarter hours; NaN outside the run. A bale is the mean of now
    and a quarter hour before.

    Parameters
    ----------
    trajectory
        A run, all its lanes of the same hours; with its layers where the reading
        names one.
    reading
        Its time, kind and layer; its value does not count here.
    """
    series = _read_part(trajectory, reading)
    now = _at(series, float((reading.time - trajectory.start[0]) / QUARTER))
    if reading.kind != "bale":
        return now
    before = reading.time - BALE_BEFORE - trajectory.start[0]
    return (now + _at(series, float(before / QUARTER))) / 2


def _read_part(trajectory: WindrowTrajectory, reading: Reading) -> Floats:
    """Moisture of the part that a reading is of [% wet basis], (4 * hours + 1, lanes)."""
    kind = "windrow" if reading.kind == "bale" else reading.kind
    series: Floats = (
        getattr(trajectory, f"{kind}_wb")
        if reading.layer is None
        else trajectory.layer_wb(reading.layer, kind)
    )
    if not reading.water_l_t:
        return series
    return (series + WATER_KEPT * reading.water_l_t / 10) / (
        1 + WATER_KEPT * reading.water_l_t / 1000
    )


def _at(series: Floats, row: float) -> Floats:
    """A series at a quarter hour between its rows, (lanes,)."""
    if not 0 <= row <= series.shape[0] - 1:
        return np.full(series.shape[1], np.nan)
    low = min(int(row), series.shape[0] - 2)
    part = row - low
    return np.asarray(series[low] * (1 - part) + series[low + 1] * part)


def weigh(trajectory: WindrowTrajectory, readings: Sequence[Reading] = ()) -> Weights:
    """Weights of the members of one field: normal errors of the meter.

    Where fewer than `LEAST_EFFECTIVE` members would be left, all readings count
    less sharply until so many are: what no member explains is for `lead_wb`.

    Parameters
    ----------
    trajectory
        Lane 0 is the forecast, the others members.
    readings
        None: every known member counts the same.
    """
    known = np.asarray(np.isfinite(trajectory.windrow_wb).any(axis=0))
    known[0] = False
    unexplained, unused = [], []
    distance = np.zeros(known.size)  # half the squared errors, summed over readings
    for reading in readings:
        off = (moisture_at(trajectory, reading) - reading.true_wb) / reading.error_wb
        if not np.isfinite(off[1:]).any():
            unused.append(reading)
            continue
        if not np.any(np.abs(off[1:]) <= UNEXPLAINED_ERRORS):
            unexplained.append(reading)
        distance += 0.5 * off**2  # a member unknown at a reading becomes NaN: it drops out
    known &= np.isfinite(distance)
    weighed = tuple(reading for reading in readings if reading not in unused)
    told = (tuple(unexplained), weighed, tuple(unused))
    if not known.any():
        return Weights(np.zeros(known.size), 0.0, *told)
    sharp = _shares(distance, known, 1.0)
    effective = float(1 / (sharp**2).sum())
    return Weights(_blunted(distance, known, sharp), effective, *told)


def _shares(distance: Floats, known: Booleans, sharpness: float) -> Floats:
    """Weights by distance, sum 1, (lanes,)."""
    nearest = distance[known].min()
    found = np.where(known, np.exp(-sharpness * np.where(known, distance - nearest, 0.0)), 0.0)
    return np.asarray(found / found.sum())


def _blunted(distance: Floats, known: Booleans, sharp: Floats) -> Floats:
    """The weights, with the sharpness at which `LEAST_EFFECTIVE` members are left."""
    least = min(LEAST_EFFECTIVE, float(known.sum()) / 2)
    if 1 / (sharp**2).sum() >= least:
        return sharp
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        enough = 1 / (_shares(distance, known, middle) ** 2).sum() >= least
        low, high = (middle, high) if enough else (low, middle)
    return _shares(distance, known, low)


def lead_wb(trajectory: WindrowTrajectory, reading: Reading, weights: Floats) -> float:
    """How far the members must be moved to follow a reading [points wet basis].

    A reading in the field outranks the model: what weighing leaves between the
    members' mean and the reading, beyond the meter's own error, is moved. 0 where
    nothing is known at its time.

    Parameters
    ----------
    trajectory
        Of the members.
    reading
        Taken in the field.
    weights
        Of the members, (lanes,).
    """
    there = moisture_at(trajectory, reading)
    counted = np.isfinite(there) & (weights > 0)
    if not counted.any():
        return 0.0
    off = reading.true_wb - float(np.average(there[counted], weights=weights[counted]))
    left = LEAD_LEFT_ERRORS * reading.error_wb
    return off - float(np.clip(off, -left, left))


def moved_by(
    trajectory: WindrowTrajectory,
    hour: int,
    reading: Reading,
    lead: Floats,
    windrow: WindrowParameters,
) -> State:
    """The state at the start of an hour with the part that was read moved, every lane.

    Hay moved up takes the same water in every layer of that part, leaf and stem
    alike, as much as they hold; hay moved down gives off the same share of all it has.

    Parameters
    ----------
    trajectory
        With its layers.
    hour
        Of the trajectory.
    reading
        Tells which part: the whole windrow or a bale, leaf, stem, one layer.
    lead
        Points wet basis, (lanes,).
    windrow
        Its parameters, of the same lanes.
    """
    layers, row = trajectory.every_layer, QUARTERS * hour
    moisture = np.stack([layers.leaf_db[row], layers.stem_db[row]]).astype(np.float64)
    film = layers.film_db[row].astype(np.float64)
    inside: Floats = np.ones((layers.shares.size, 1))
    if reading.layer is not None:
        inside = layer_weights(layers.shares, reading.layer)[:, None]
    organs = {"leaf": (1.0, 0.0), "stem": (0.0, 1.0)}
    here = (
        inside * np.array(organs.get(reading.kind, (1.0, 1.0)))[:, None, None]
    )  # (2, layers, 1): how much of it was read
    there = _read_part(trajectory, reading)[row]
    now_db, then_db = dry_basis(there), dry_basis(np.clip(there + lead, *POSSIBLE_WB))
    share = np.minimum(then_db / now_db, 1.0)
    full = np.array([FULL_LEAF_DB, FULL_STEM_DB])[:, None, None]
    added = here * np.maximum(then_db - now_db, 0.0)
    moved = np.where(
        then_db > now_db,
        np.maximum(np.minimum(moisture + added, full), moisture),
        np.maximum(moisture * (1 - here * (1 - share)), MOISTURE_FLOOR_DB),
    )
    if reading.kind not in organs:
        film = film * (1 - inside * (1 - share))
    temperature = layers.temperature_c[row].astype(np.float64)
    humidity = np.clip(water_activity(moved[0], temperature, windrow.leaf), 0.0, 1.0)
    mass = column_of(windrow, layers.shares.size).layer_mass
    return State(moved, film * mass, humidity, temperature, 0.0 * temperature)


def weighted_quantile(values: Floats, weights: Floats, levels: Sequence[float]) -> Floats:
    """Quantiles of values (n,) with weights (n,); NaN values do not count.

    Parameters
    ----------
    values, weights
        (n,) each; weights of zero do not count.
    levels
        Shares between 0 and 1.

    Examples
    --------
    >>> weighted_quantile(np.array([3.0, 1.0, 2.0]), np.ones(3), [0.5]).tolist()
    [2.0]
    """
    counted = np.isfinite(values) & (weights > 0)
    if not counted.any():
        return np.full(len(levels), np.nan)
    order = np.argsort(values[counted])
    ordered, shares = values[counted][order], weights[counted][order]
    middle = (np.cumsum(shares) - shares / 2) / shares.sum()
    return np.interp(levels, middle, ordered)
