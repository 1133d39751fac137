"""Believable daily courses of weather, from a few knobs a night.

Daily course of temperature: Parton & Logan 1981 (from memory); sun: FAO-56;
cloud over sun: Kasten & Czeplak 1980; the rest is made up.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

FIRST_HOUR, LAST_HOUR = -36, 63
"""Hours of a file, from midnight (solar) before the evening that counts."""

RAIN_CHILL_K = 1.5
"""How far rain cools and moistens the air of its hour."""
NIGHT_DECAY = 2.2
"""How fast air cools after sunset (Parton & Logan 1981)."""
MAXIMUM_LAG_H = 1.86
"""How far the warmest hour lies after solar noon (Parton & Logan 1981)."""


@dataclass(frozen=True)
class Place:
    """Where a sample lies: degrees, meters, station pressure [hPa], clock."""

    latitude: float
    longitude: float
    elevation_m: float
    pressure_hpa: float
    zone: str


@dataclass(frozen=True)
class Night:
    """The knobs of one file.

    Attributes
    ----------
    name, title
        File name without ending; what kind of night, in one sentence.
    day, seed
        Local date of the evening that counts; seed of the unevenness.
    lows_c
        Minimum air temperature of the mornings of day -1, 0, +1, +2 (and +3).
    highs_c
        Maximum of days -2, -1, 0, +1, +2.
    dew_points_c
        Dew point at 3 in the morning of days -1, 0, +1, +2 (and +3).
    afternoon_drop_k
        How far the dew point falls when the afternoon air mixes.
    calm_m_s, breeze_m_s
        Wind [m/s] of the nights that end on day -1, 0, +1, +2 (and +3), and of
        the afternoons of days -2 to +2.
    cloud_tenths
        ``(hour, tenths)`` from midnight before the evening, straight in between.
    rain_mm
        ``{hour: mm}`` from the same midnight.
    """

    name: str
    title: str
    day: date
    seed: int
    lows_c: tuple[float, ...]
    highs_c: tuple[float, ...]
    dew_points_c: tuple[float, ...]
    afternoon_drop_k: float
    calm_m_s: tuple[float, ...]
    breeze_m_s: tuple[float, ...]
    cloud_tenths: tuple[tuple[float, float], ...] = ((0, 0.5),)
    rain_mm: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class Hour:
    """The weather at one hour start; sun and rain of the hour that begins."""

    time: datetime
    temp_c: float
    dew_point_c: float
    wind_m_s: float
    cloud_tenths: float
    shortwave_w_m2: float
    rain_mm: float
    pressure_hpa: float

    @property
    def humidity_pct(self) -> float:
        """Relative humidity [%]."""
        share = saturation_kpa(self.dew_point_c) / saturation_kpa(self.temp_c)
        return min(100.0, 100 * share)


def saturation_kpa(temp_c: float) -> float:
    """Saturation vapor pressure over water, FAO-56 Eq 11 [kPa]."""
    return 0.6108 * math.exp(17.27 * temp_c / (temp_c + 237.3))


def hours_of(night: Night, place: Place) -> list[Hour]:
    """All hours of a file."""
    noise = Unevenness(night.seed)
    midnight = datetime(night.day.year, night.day.month, night.day.day, tzinfo=UTC)
    to_utc = timedelta(hours=round(-place.longitude / 15))
    return [
        hour_of(night, place, float(hour), midnight + timedelta(hours=hour) + to_utc, noise)
        for hour in range(FIRST_HOUR, LAST_HOUR + 1)
    ]


def hour_of(night: Night, place: Place, hour: float, time: datetime, noise: Unevenness) -> Hour:
    """One hour; `hour` counts from the solar midnight before the evening."""
    shifts = noise.next()
    cloud = min(10.0, max(0.0, between(night.cloud_tenths, hour) + 0.4 * shifts[2]))
    rain = dict(night.rain_mm).get(int(hour), 0.0)
    cooled = RAIN_CHILL_K if rain > 0 else 0.0
    temp_c = temperature_c(night, place, hour) + 0.15 * shifts[0] - cooled
    dew_point_c = min(temp_c, dew_point_of(night, hour) + 0.15 * shifts[1] + cooled)
    return Hour(
        time=time,
        temp_c=temp_c,
        dew_point_c=dew_point_c,
        wind_m_s=max(0.1, wind_of(night, hour) * (1 + 0.1 * shifts[3])),
        cloud_tenths=cloud,
        shortwave_w_m2=shortwave(night.day, place, hour + 0.5, cloud),
        rain_mm=rain,
        pressure_hpa=place.pressure_hpa + 0.8 * math.cos(2 * math.pi * (hour - 9) / 12),
    )


class Unevenness:
    """Small hour-to-hour wobble: four slow random walks pulled back to zero."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.state = [0.0] * 4

    def next(self) -> list[float]:
        """The four values of the next hour, each about -1.5 to 1.5."""
        self.state = [0.7 * old + self.random.uniform(-1, 1) for old in self.state]
        return self.state


def between(points: tuple[tuple[float, float], ...], hour: float) -> float:
    """Straight line through `points`, flat beyond the ends."""
    if hour <= points[0][0]:
        return points[0][1]
    for (left, low), (right, high) in pairwise(points):
        if hour <= right:
            return low + (high - low) * (hour - left) / (right - left)
    return points[-1][1]


def temperature_c(night: Night, place: Place, hour: float) -> float:
    """Air temperature: a sine by day, an exponential fall by night."""
    half_day = half_day_hours(night.day, place.latitude)
    sunrise, sunset = 12 - half_day, 12 + half_day
    day, clock = divmod(hour, 24)
    if clock < sunrise:
        day, clock = day - 1, clock + 24
    high = night.highs_c[int(day) + 2]
    lows = (night.lows_c[0], *night.lows_c)
    low, next_low = lows[int(day) + 2], lows[int(day) + 3]
    if clock <= sunset:
        return by_day(low, high, clock - sunrise, 2 * half_day)
    at_sunset = by_day(low, high, 2 * half_day, 2 * half_day)
    gone = (clock - sunset) / (24 - 2 * half_day)
    left = (math.exp(-NIGHT_DECAY * gone) - math.exp(-NIGHT_DECAY)) / (1 - math.exp(-NIGHT_DECAY))
    return next_low + (at_sunset - next_low) * left


def by_day(low: float, high: float, since_sunrise: float, day_length: float) -> float:
    """Temperature between sunrise and sunset."""
    angle = math.pi * since_sunrise / (day_length + 2 * MAXIMUM_LAG_H)
    return low + (high - low) * math.sin(angle)


def dew_point_of(night: Night, hour: float) -> float:
    """Dew point: a line through the small hours, lower while the afternoon mixes."""
    anchors = tuple((24.0 * day + 3, value) for day, value in enumerate(night.dew_points_c, -1))
    mixing = max(0.0, math.sin(math.pi * ((hour % 24) - 9) / 12)) ** 2
    return between(anchors, hour) - night.afternoon_drop_k * mixing


def wind_of(night: Night, hour: float) -> float:
    """Wind: the night's own, stronger toward five in the afternoon."""
    anchors = tuple((24.0 * day + 2, value) for day, value in enumerate(night.calm_m_s, -1))
    calm = between(anchors, hour)
    breeze = night.breeze_m_s[max(0, min(4, int(hour // 24) + 2))]
    share = max(0.0, math.sin(math.pi * ((hour % 24) - 8) / 13)) ** 1.5
    return calm + max(0.0, breeze - calm) * share


def declination(day: date) -> float:
    """Declination of the sun [rad], FAO-56 Eq 24."""
    return 0.409 * math.sin(2 * math.pi * day.timetuple().tm_yday / 365 - 1.39)


def half_day_hours(day: date, latitude: float) -> float:
    """Hours from sunrise to solar noon, FAO-56 Eq 25."""
    cosine = -math.tan(math.radians(latitude)) * math.tan(declination(day))
    return math.acos(cosine) * 12 / math.pi


def shortwave(day: date, place: Place, hour: float, cloud_tenths: float) -> float:
    """Sun on the flat at a solar hour, cloud taken off [W/m2]."""
    latitude, sun = math.radians(place.latitude), declination(day)
    angle = math.pi * ((hour % 24) - 12) / 12
    height = math.sin(latitude) * math.sin(sun) + math.cos(latitude) * math.cos(sun) * math.cos(
        angle
    )
    clear = 1361 * max(0.0, height) * (0.75 + 2e-5 * place.elevation_m)
    return clear * (1 - 0.75 * (cloud_tenths / 10) ** 3.4)
