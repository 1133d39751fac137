"""Nights counted, chances to finish, ranges and trends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

NAN = float("nan")


@dataclass(frozen=True)
class Spread:
    """How a number of each night spreads over nights; all NaN over none.

    Attributes
    ----------
    median, p25, p75
        Median and quartiles.
    p20
        What four nights in five reach or pass.
    p80
        What one night in five reaches or passes.
    """

    median: float = NAN
    p20: float = NAN
    p25: float = NAN
    p75: float = NAN
    p80: float = NAN


@dataclass(frozen=True)
class Tally:
    """Nights of some time counted.

    Attributes
    ----------
    nights
        Evenings asked for.
    missing, rain_nights
        Nights that cannot be told; known nights after more than 1 mm of rain in
        48 hours, counted apart.
    counted
        The others: all that follows is over these.
    without_spin_up
        Of these, nights whose run began only the afternoon before.
    with_dew
        Nights with usable dew.
    dew_h, rig_h, wet_h, dry_h
        Hours on dew, with the rig, too wet, too dry beyond the rig.
    longest_without
        Longest run of nights without usable dew; in a typical year runs end
        with each month.
    first_h, last_h
        Median first and last moment on dew, of nights with usable dew [h after
        14:00].
    water_l_t
        Median over nights of the mean water to add [L/t].
    dew_kg, rig_kg
        Hay that the baler does on dew, and behind the rig besides.
    water_l, fuel_l
        Water of the rig, and fuel of its burners, NaN where that is not known.
    """

    nights: int
    missing: int
    rain_nights: int
    counted: int
    without_spin_up: int
    with_dew: int
    dew_h: Spread
    rig_h: Spread
    wet_h: Spread
    dry_h: Spread
    longest_without: int
    first_h: float
    last_h: float
    water_l_t: float
    dew_kg: float
    rig_kg: float
    water_l: float
    fuel_l: float


@dataclass(frozen=True)
class MissingNight:
    """A night that cannot be told, and why (`Missing` as integer).

    Attributes
    ----------
    evening
        Local date.
    causes
        `Missing` flags together.
    """

    evening: date
    causes: int


@dataclass(frozen=True)
class Year:
    """One year of a site; `year` is None for a typical year.

    Attributes
    ----------
    whole, months
        All months asked for together, and each, ``{month: Tally}``.
    share_missing
        Share of nights that cannot be told [-].
    left_out
        True where half the nights or more are missing: shown, not averaged in.
    gaps
        Nights that cannot be told, by name.
    year
        Of the calendar, None for a typical year.
    """

    year: int | None
    whole: Tally
    months: dict[int, Tally]
    share_missing: float
    left_out: bool
    gaps: tuple[MissingNight, ...]


@dataclass(frozen=True)
class Range:
    """An estimate with the range that nine in ten resamples fall into.

    `low` and `high` are None where there is too little to tell a range.

    Attributes
    ----------
    value
        Best estimate.
    low, high
        Ends of the range, None where it cannot be told.
    """

    value: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Finish:
    """Chance to bale the cutting, from runs of real nights, on dew alone and with the rig.

    Attributes
    ----------
    nights
        Nights within which it should be done.
    starts
        Evenings from which so many known nights follow each other.
    within_dew, within_rig
        Share of them done within these nights; rain nights are idle.
    dry_dew, dry_rig
        Share done within these nights and before rain; None without rain data.
    """

    nights: int
    starts: int
    within_dew: float
    within_rig: float
    dry_dew: float | None
    dry_rig: float | None


@dataclass(frozen=True)
class Trend:
    """Change per ten years, with its range, over some years."""

    first: int
    last: int
    years: int
    dew_nights_percent: Range
    dew_hours: Range
