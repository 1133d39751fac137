"""What the model says at the readings: the nights they belong to, run as lanes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.clock import hour_index, span_of
from hayweather.baling.setting import Setting
from hayweather.baling.water import moisture_after
from hayweather.farm.records import Farm, Tuning
from hayweather.learning.past import FieldReading
from hayweather.nights.drive import drive, drive_members, lanes_from, setting_in
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.sorption import wet_basis
from hayweather.windrow.trajectory import QUARTER, QUARTERS, LayerKind, WindrowTrajectory

NIGHT_HOURS = 48  # one night of spin-up, and the night of the reading
START_ROWS = (0, 24)  # 14:00 local of both afternoons
BALE_BEFORE = np.timedelta64(900, "s")  # a bale was picked up over the quarter hour before
MOST_LANES = 4000  # of one run; more are run in parts, to spare memory
SERIES = {"windrow": "windrow_db", "leaf": "leaf_db", "stem": "stem_db", "bale": "windrow_db"}


@dataclass(frozen=True)
class SiteNights:
    """The nights of one site that have readings.

    Attributes
    ----------
    weather
        One lane a night, from 14:00 local of the day before its evening; NaN
        where the source does not reach.
    fields
        Field of each lane.
    readings
        Of this site.
    lanes
        Lane of each reading.
    """

    weather: HourlyWeather
    fields: tuple[str, ...]
    readings: tuple[FieldReading, ...]
    lanes: tuple[int, ...]

    @property
    def count(self) -> int:
        """Number of nights."""
        return len(self.fields)


def site_nights(
    farm: Farm, weather: Mapping[str, HourlyWeather], readings: Sequence[FieldReading]
) -> list[SiteNights]:
    """The nights of the readings, by site.

    Parameters
    ----------
    farm
        The farm.
    weather
        Hourly weather by site name; lane 0 is used.
    readings
        Of its fields.
    """
    found = []
    for name in dict.fromkeys(farm.fields[reading.field].site for reading in readings):
        here = tuple(item for item in readings if farm.fields[item.field].site == name)
        first = here[0]
        zone = setting_in(farm, farm.fields[first.field], weather[name], first.time).site.timezone
        found.append(_nights_of(str(zone), weather[name], here))
    return found


def _nights_of(
    timezone: str, weather: HourlyWeather, readings: tuple[FieldReading, ...]
) -> SiteNights:
    """The nights of one site."""
    spans = [span_of(item.time, timezone).start for item in readings]
    keys = [(item.field, start) for item, start in zip(readings, spans, strict=True)]
    nights = list(dict.fromkeys(keys))
    first = np.array([hour_index(weather.start[0], start) for _, start in nights])
    lanes = tuple(nights.index(key) for key in keys)
    fields = tuple(field for field, _ in nights)
    return SiteNights(lanes_from(weather, first, NIGHT_HOURS), fields, readings, lanes)


def settings_for(farm: Farm, nights: SiteNights, tuning: Tuning) -> list[Setting]:
    """What would hold in each night with a tuning; the hay is taken as cured."""
    tuned = replace(farm, tuning=tuning)
    begins = nights.weather.start + np.timedelta64(1, "D")
    return [
        setting_in(tuned, farm.fields[field], nights.weather, begin)
        for field, begin in zip(nights.fields, begins, strict=True)
    ]


def predict(farm: Farm, nights: SiteNights, tunings: Sequence[Tuning]) -> Floats:
    """What the model says at each reading, (tunings, readings), in the unit of the reading.

    NaN where the weather does not reach.
    """
    some = max(MOST_LANES // nights.count, 1)
    parts = [tunings[first : first + some] for first in range(0, len(tunings), some)]
    return np.concatenate([_predict_some(farm, nights, part) for part in parts])


def _predict_some(farm: Farm, nights: SiteNights, tunings: Sequence[Tuning]) -> Floats:
    """As `predict`, all tunings side by side."""
    settings = [settings_for(farm, nights, tuning) for tuning in tunings]
    lanes = np.tile(np.arange(nights.count), len(tunings))
    weather = repeat_weather(nights.weather, lanes)
    flat = [setting for each in settings for setting in each]
    trajectory = drive(weather, flat, [1] * len(flat), _begins(weather))
    columns = []
    for reading, lane in zip(nights.readings, nights.lanes, strict=True):
        index = np.arange(len(tunings)) * nights.count + lane
        rigs = [each[lane].rig for each in settings]
        efficiency = np.array([np.nan if rig is None else rig.efficiency for rig in rigs])
        columns.append(with_rig(reading, at_reading(reading, trajectory, index), efficiency))
    return np.stack(columns, axis=1)


def _begins(weather: HourlyWeather) -> Booleans:
    """Lanes start in equilibrium at 14:00 of both afternoons."""
    begins = np.zeros((weather.hours, weather.lanes), dtype=bool)
    begins[list(START_ROWS)] = True
    return begins


def at_reading(reading: FieldReading, trajectory: WindrowTrajectory, lanes: np.ndarray) -> Floats:
    """Moisture [% wet basis] or skin temperature [C] of some lanes at a reading, (lanes,).

    A reading of one layer is that of the same third of the modelled windrow. A bale is
    the mean of the quarter hour before it.
    """
    if reading.kind == "skin":
        return _between(trajectory.skin_temperature_c, trajectory, reading.time, lanes)
    now = _moisture_at(reading, trajectory, reading.time, lanes)
    if reading.kind != "bale":
        return now
    return (now + _moisture_at(reading, trajectory, reading.time - BALE_BEFORE, lanes)) / 2


def _moisture_at(
    reading: FieldReading, trajectory: WindrowTrajectory, time: np.datetime64, lanes: np.ndarray
) -> Floats:
    """Moisture of what was read at a time [% wet basis], (lanes,); NaN outside the run."""
    if reading.layer is None:
        series: Floats = getattr(trajectory, SERIES[reading.kind])
        return wet_basis(_between(series, trajectory, time, lanes))
    found = _rows_at(trajectory, time, lanes)
    if found is None:
        return np.full(lanes.size, np.nan)
    low, part = found
    kind: LayerKind = "windrow"
    if reading.kind == "leaf" or reading.kind == "stem":
        kind = reading.kind
    before, after = trajectory.every_layer.cut(slice(low, low + 2), lanes).part_wb(
        reading.layer, kind
    )
    return np.asarray(before * (1 - part) + after * part)


def _between(
    series: Floats, trajectory: WindrowTrajectory, time: np.datetime64, lanes: np.ndarray
) -> Floats:
    """A series at a time, linear between quarter hours; NaN outside the run."""
    found = _rows_at(trajectory, time, lanes)
    if found is None:
        return np.full(lanes.size, np.nan)
    low, part = found
    return series[low, lanes] * (1 - part) + series[low + 1, lanes] * part


def _rows_at(
    trajectory: WindrowTrajectory, time: np.datetime64, lanes: np.ndarray
) -> tuple[int, float] | None:
    """The quarter hour before a time, and how much of the way to the next; None outside."""
    row = float((time - trajectory.start[lanes[0]]) / QUARTER)
    last = QUARTERS * trajectory.hours
    if not 0 <= row <= last:
        return None
    low = min(int(row), last - 1)
    return low, row - low


def with_rig(reading: FieldReading, value: Floats, efficiency: Floats) -> Floats:
    """The value with the rig's water in it, where the rig had run."""
    if reading.water_l_t is None or reading.kind == "skin":
        return value
    return moisture_after(value, reading.water_l_t * efficiency)


def weather_scatter(farm: Farm, nights: SiteNights, members: int, seed: int) -> Floats:
    """Covariance of the readings when the weather is off as assumed, (readings, readings).

    Nights are independent of each other; within a night the errors last from
    hour to hour, so readings of one night share them.
    """
    count = len(nights.readings)
    scatter = np.zeros((count, count))
    settings = settings_for(farm, nights, Tuning())
    for lane, setting in enumerate(settings):
        rows = [row for row in range(count) if nights.lanes[row] == lane]
        one = repeat_weather(nights.weather, [lane])
        spread = drive_members(one, setting, _begins(one), members, seed + lane)
        index = np.arange(1, spread.windrow_db.shape[1])
        values = np.stack([at_reading(nights.readings[row], spread, index) for row in rows])
        scatter[np.ix_(rows, rows)] = np.atleast_2d(np.cov(values))
    return scatter
