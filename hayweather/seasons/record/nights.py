"""Nights: what one or many nights gave, as columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from enum import IntFlag

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Booleans, Floats, Times

RAIN_NIGHT_MM = 1.0
RAIN_HOURS = 48
LEFT_OUT_SHARE = 0.2
"""A year with more than this share of its nights missing is not averaged in (assumed)."""


class Missing(IntFlag):
    """Why a night cannot be told; text ``seasons_missing_<name>``."""

    NONE = 0
    AIR_TEMPERATURE = 1
    DEW_POINT = 2
    WIND = 4
    RAIN = 8
    NO_HOURS = 16
    RAIN_BEFORE = 32
    NO_SUNSET = 64
    NOT_RUN = 128


@dataclass(frozen=True)
class Nights:
    """Some nights of one site, each array (nights,).

    Hours are counted between sunset and four hours after sunrise, outside
    stops; what is not known is NaN.

    Attributes
    ----------
    evening
        Local date of the evening, ``datetime64[D]``.
    missing
        `Missing` as integer; 0 where the night is known.
    spun_up
        False where the run began only in the afternoon before the night.
    rain_before_mm
        Rain in the 48 hours before sunset; 0 without rain data.
    rain_known
        False in a year whose source has no rain: none is taken to fall.
    dew_h, rig_h, wet_h, dry_h, stop_h
        Hours ready on dew, ready with the rig, too wet, too dry beyond the
        rig, and ready but stopped [h].
    first_h, last_h
        First and last moment on dew [h after 14:00 local].
    water_l_t
        Mean water to add in the hours with the rig [L/t].
    rig_kg, water_l, flow_h
        Hay that one baler behind the rig does in those hours, with its flow and
        fills; the water; the hours of flow.
    dew_loss, rig_loss, dry_loss
        Dry matter lost at the baler [%]: on dew, with the rig, and baled in the
        rig's hours without it. NaN where there are none, or the crop's loss is
        not known.
    hours
        Call of each hour from 14:00 local on, (nights, 24); -1 where the clock
        has no such hour.
    """

    evening: Times
    missing: NDArray[np.int16]
    spun_up: Booleans
    rain_before_mm: Floats
    rain_known: Booleans
    dew_h: Floats
    rig_h: Floats
    wet_h: Floats
    dry_h: Floats
    stop_h: Floats
    first_h: Floats
    last_h: Floats
    water_l_t: Floats
    rig_kg: Floats
    water_l: Floats
    flow_h: Floats
    dew_loss: Floats
    rig_loss: Floats
    dry_loss: Floats
    hours: NDArray[np.int8]

    @property
    def count(self) -> int:
        """Number of nights."""
        return int(self.evening.size)

    @property
    def known(self) -> Booleans:
        """Nights that can be told."""
        return np.asarray(self.missing == Missing.NONE)

    @property
    def rain_night(self) -> Booleans:
        """Known nights with more than 1 mm in the 48 hours before."""
        return self.known & (self.rain_before_mm > RAIN_NIGHT_MM)

    @property
    def counted(self) -> Booleans:
        """Known nights that are no rain nights."""
        return self.known & ~self.rain_night

    @property
    def year(self) -> NDArray[np.int64]:
        """Year of each evening."""
        return self.evening.astype("datetime64[Y]").astype(np.int64) + 1970

    @property
    def month(self) -> NDArray[np.int64]:
        """Month of each evening, 1 to 12."""
        return self.evening.astype("datetime64[M]").astype(np.int64) % 12 + 1

    def only(self, chosen: Booleans | NDArray[np.intp] | slice) -> Nights:
        """Some of the nights; those that follow each other share memory with all."""
        rows = np.arange(self.count)[chosen]
        side_by_side = rows.size > 0 and bool((np.diff(rows) == 1).all())
        there = slice(rows[0], rows[-1] + 1) if side_by_side else rows
        return Nights(**{name: values[there] for name, values in vars(self).items()})


def join_nights(parts: Sequence[Nights]) -> Nights:
    """Nights of several parts one after the other."""
    return Nights(
        **{
            item.name: np.concatenate([getattr(part, item.name) for part in parts])
            for item in fields(Nights)
        }
    )


def unknown_nights(evening: Times, missing: int) -> Nights:
    """Nights of which nothing is known, all for the same reason."""
    count = evening.size
    blank = {
        item.name: np.full(count, np.nan)
        for item in fields(Nights)
        if item.name not in ("evening", "missing", "spun_up", "rain_known", "hours")
    }
    return Nights(
        evening=evening,
        missing=np.full(count, missing, dtype=np.int16),
        spun_up=np.zeros(count, dtype=bool),
        rain_known=np.zeros(count, dtype=bool),
        hours=np.zeros((count, 24), dtype=np.int8),
        **blank,
    )
