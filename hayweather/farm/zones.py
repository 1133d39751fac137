"""Places: their time zones, whether they lie where they are said to, how far apart they are."""

from __future__ import annotations

import math
import re
from datetime import datetime
from zoneinfo import ZoneInfo, available_timezones

from hayweather.farm.nearest import nearest
from hayweather.farm.values import Spot, as_written

US_BOXES: tuple[tuple[float, float, float, float], ...] = (
    (24.0, 50.0, -125.5, -66.0),
    (51.0, 72.0, -180.0, -129.0),
    (18.5, 23.0, -161.0, -154.0),
    (17.5, 19.0, -68.0, -64.0),
    (13.0, 21.0, 144.0, 147.0),
)
"""South, north, west, east of the rough boxes that the US service covers [degrees]:
the 48 states, Alaska, Hawaii, Puerto Rico and the Virgin Islands, Guam."""

LARGEST_ZONE_GAP_H = 4.5
"""Clock against sun [h]; western China and Alaska stay below it (arithmetic on maps)."""


_SPOKEN = {
    "America/New_York": ("edt", "eastern"),
    "America/Chicago": ("cst", "cdt", "central"),
    "America/Denver": ("mdt", "mountain"),
    "America/Los_Angeles": ("pst", "pdt", "pacific"),
    "Europe/Madrid": ("cest",),
}
"""What people call their clock, where a like-looking zone is another one; common practice."""


def read_zone(name: str, spot: Spot) -> ZoneInfo:
    """The time zone `name`.

    Parameters
    ----------
    name
        Such as America/Denver.
    spot
        Where it stands, for the error.

    Raises
    ------
    FarmFileError
        If there is none; the nearest is named.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        near = _nearest_zone(name)
        raise spot.error("zone", "timezone", value=as_written(name), nearest=near) from None


def _nearest_zone(name: str) -> str:
    """The Region/City that is likely meant.

    Examples
    --------
    >>> _nearest_zone("PST"), _nearest_zone("Pacific time"), _nearest_zone("Madrid")
    ('America/Los_Angeles', 'America/Los_Angeles', 'Europe/Madrid')
    """
    spoken = name.strip().casefold().removesuffix("time").strip()
    for zone, words in _SPOKEN.items():
        if spoken in words:
            return zone
    return nearest(name, (zone for zone in sorted(available_timezones()) if "/" in zone))


_NO_SUMMER_TIME = re.compile(r"EST|MST|HST|UTC|UCT|Universal|Zulu|GMT(?:[+-]?0)?|Greenwich|Etc/.+")


def keeps_winter_time(name: str) -> bool:
    """Whether a zone is a bare clock without summer time, which few places mean.

    Parameters
    ----------
    name
        As in the farm file.

    Examples
    --------
    >>> [keeps_winter_time(name) for name in ("MST", "UTC", "America/Denver")]
    [True, True, False]
    """
    return _NO_SUMMER_TIME.fullmatch(name) is not None


_FIXED_CLOCK = re.compile(r"(?:UTC|GMT)?\s*[-+]\d{1,2}(?::?\d{2})?|UTC|GMT|Z", re.IGNORECASE)


def check_clock(name: str, spot: Spot) -> None:
    """A weather file's clock may also be a fixed offset, like UTC-8: stations keep standard time.

    Parameters
    ----------
    name
        Of a zone, or an offset.
    spot
        Where it stands, for the error.

    Raises
    ------
    FarmFileError
        If `name` is neither an offset nor a time zone.
    """
    if not _FIXED_CLOCK.fullmatch(name):
        read_zone(name, spot)


def in_us_boxes(latitude: float, longitude: float) -> bool:
    """Whether a place may be in the United States, roughly.

    Parameters
    ----------
    latitude, longitude
        Degrees north and east.
    """
    return any(
        south <= latitude <= north and west <= longitude <= east
        for south, north, west, east in US_BOXES
    )


def zone_gap_h(zone: ZoneInfo, longitude: float) -> float:
    """Hours between the zone's clock in January and the sun at `longitude`, 0-12.

    A large gap tells of a longitude with the wrong sign.

    Examples
    --------
    >>> round(zone_gap_h(ZoneInfo("America/Los_Angeles"), 120.6), 1)
    8.0
    """
    offset = datetime(2026, 1, 15, 12, tzinfo=zone).utcoffset()
    hours = offset.total_seconds() / 3600 if offset is not None else 0.0
    gap = abs(hours - longitude / 15) % 24
    return min(gap, 24 - gap)


def distance_km(latitude: float, longitude: float, other: float, other_longitude: float) -> float:
    """Distance on a sphere of 6371 km between two places in degrees [km].

    Examples
    --------
    >>> round(distance_km(0.0, 0.0, 0.0, 1.0), 1)
    111.2
    """
    a, b, turn = map(math.radians, (latitude, other, other_longitude - longitude))
    half = math.sin((b - a) / 2) ** 2 + math.cos(a) * math.cos(b) * math.sin(turn / 2) ** 2
    return 2 * 6371.0 * math.asin(min(math.sqrt(half), 1.0))
