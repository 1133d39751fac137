"""What the night's model takes from the log, and what is kept in it of what was issued."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from hayweather.baling.clock import span_of, turn_of
from hayweather.baling.windows import Stretch, united
from hayweather.farm.clock import wall_clock
from hayweather.farm.records import Farm, Field
from hayweather.log.book import Log, has_log, open_log
from hayweather.log.records import (
    HUMIDITY,
    KeptForecast,
    LoggedReading,
    LoggedWork,
    Observation,
)
from hayweather.log.said import zone_of
from hayweather.weather.observed import INSTANTS, Observed
from hayweather.weather.record import (
    DERIVED,
    HOUR,
    MEASURED,
    MEASURED_THERE,
    Floats,
    HourlyWeather,
    Times,
)
from hayweather.windrow.readings import Reading
from hayweather.windrow.spread import LEAD_EDGES_H
from hayweather.windrow.vapor import dew_point, saturation_vapor_pressure

WITHOUT_ZONE = 24 * HOUR


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
        logged = log.readings(name, _begin_of(farm, name, now), now)
        taken = tuple(reading for reading in map(as_reading, logged) if reading is not None)
        if taken:
            found[name] = taken
    return found


def _begin_of(farm: Farm, name: str, now: np.datetime64) -> np.datetime64:
    """When the night of a field that is on at `now` began, UTC."""
    zone = zone_of(farm, name)
    return now - WITHOUT_ZONE if zone is None else turn_of(span_of(now, zone).evening, zone)


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
    if not has_log(farm):
        return {name: list(readings) for name, readings in given.items()}
    with open_log(farm, only_read=True) as log:
        logged = readings_for_night(log, farm, now)
    found = {}
    for name in dict.fromkeys([*given, *logged]):
        every = dict.fromkeys([*given.get(name, ()), *logged.get(name, ())])
        found[name] = sorted(every, key=lambda item: item.time)
    return found


NEXT_TO_NOTHING = 0.05
"""Part of a field that counts as done: hours times capacity tell no more exactly (assumed)."""


DAY = 24 * HOUR
BROKEN_BACK = 60 * 24 * HOUR
"""A machine is out of order until it is logged to run, but no longer than this (assumed)."""


def farm_now(farm: Farm, now: np.datetime64) -> Farm:
    """The farm as its log has it: hay that lies there still, and machines out of order.

    What was baled this night is taken off the fields: of a machine its capacity times the
    hours logged ("baled", "rig", or from "started" to "stopped", or to now), at most that
    much is gone. What was baled before this night, `area` in the farm file has to say itself;
    how much it was in the night before is kept in the fields, to be asked back.

    Parameters
    ----------
    farm
        From its file, else it has no log.
    now
        UTC.
    """
    if not has_log(farm):
        return farm
    with open_log(farm, only_read=True) as log:
        lately = log.work(since=now - BROKEN_BACK, until=now)
        begins = {name: _begin_of(farm, name, now) for name in farm.fields}
        tonight = [item for name in begins for item in log.work(name, begins[name], now)]
        before = [
            item for name in begins for item in log.work(name, begins[name] - DAY, begins[name])
        ]
    ended = max((item.over for item in before), default=now)  # "started" alone lasts no longer
    fields = {
        name: _less(
            _baled_before(field, _baled_kg(before, field, farm, ended)),
            _baled_kg(tonight, field, farm, now),
        )
        for name, field in farm.fields.items()
    }
    return replace(farm, fields=fields, out_of_order=_out_of_order(farm, lately))


def _out_of_order(
    farm: Farm, logged: Sequence[LoggedWork]
) -> tuple[tuple[str, np.datetime64], ...]:
    """Machines that broke and have not run since, and since when; work in order of time."""
    out: dict[str, np.datetime64] = {}
    for item in logged:
        if item.event == "broken":
            out.setdefault(item.machine, item.time)
        elif item.event in ("mended", "started"):
            out.pop(item.machine, None)
    known = {*farm.balers, *(farm.rigs or {})}
    return tuple((name, since) for name, since in out.items() if name in known)


def _baled_before(field: Field, baled_kg: float) -> Field:
    """A field of which so much hay was baled the night before."""
    if not baled_kg or not field.area_m2 or not field.yield_kg_m2:
        return field
    return replace(field, baled_before_m2=baled_kg / field.yield_kg_m2)


def _less(field: Field, baled_kg: float) -> Field:
    """A field with so much of its hay gone."""
    if not baled_kg or not field.area_m2 or not field.yield_kg_m2:
        return field
    left = field.area_m2 - baled_kg / field.yield_kg_m2
    left = 0.0 if left < NEXT_TO_NOTHING * field.area_m2 else left
    return replace(field, area_m2=left, baled_m2=field.area_m2 - left)


def _baled_kg(logged: Sequence[LoggedWork], field: Field, farm: Farm, now: np.datetime64) -> float:
    """Hay that was baled in a field [kg]; a machine of no name known is the slowest of its."""
    here = [b for name, b in farm.balers.items() if field.baler in (None, name)]
    slowest = min((baler.capacity_kg_h or 0.0 for baler in here), default=0.0)
    rigs = set(farm.rigs or {})
    total, every, behind = 0.0, [], []
    for machine in sorted({item.machine for item in logged}):
        spans = _spans(logged, field.name, machine, now)
        if machine in rigs:
            behind += spans
            continue
        every += spans
        known = farm.balers.get(machine)
        pace = slowest if known is None else known.capacity_kg_h or 0.0
        total += pace * _hours(spans)
    # Behind a rig somebody bales: once where the baler has been logged beside it.
    return total + slowest * (_hours([*every, *behind]) - _hours(every))


def _hours(spans: Sequence[Stretch]) -> float:
    """Length of some spans, what they share once [h]."""
    return sum(float((end - start) / HOUR) for start, end in united(spans))


def _spans(
    logged: Sequence[LoggedWork], field: str, machine: str, now: np.datetime64
) -> list[Stretch]:
    """When a machine worked in a field, in order, overlaps put together."""
    own = sorted((item for item in logged if item.machine == machine), key=lambda i: i.time)
    found = [
        (i.time, min(i.over, now)) for i in own if i.event in ("baled", "rig") and i.field == field
    ]
    begun = None
    for item in own:
        if begun is not None and item.event in ("started", "stopped", "broken"):
            found.append((begun, item.time))
            begun = None
        if item.event == "started" and item.field == field:
            begun = item.time
    return united([*found, *([] if begun is None else [(begun, now)])])


MEASURED_BACK, KEPT_BACK = 5 * 24 * HOUR, 48 * HOUR
TOGETHER_S = 600
"""Air and humidity sent apart belong together within this time [s]."""


def stations_logged(farm: Farm, now: np.datetime64) -> dict[str, Observed]:
    """What sensors sent that a farm's log holds, of the last days up to now, by station.

    Parameters
    ----------
    farm
        From its file, else it has no log.
    now
        UTC.
    """
    names = [station.name for station in farm.stations if station.topic is not None]
    if not names or not has_log(farm):
        return {}
    found = {}
    with open_log(farm, only_read=True) as log:
        for name in names:
            rows = log.observations(name, now - MEASURED_BACK, now + HOUR)
            if rows:
                found[name] = station_in(name, rows)
    return found


def station_in(name: str, rows: Sequence[Observation]) -> Observed:
    """What rows of the log say that a station measured; dew points from humidity too.

    Parameters
    ----------
    name
        Of the station.
    rows
        In order of time, at least one.
    """
    times = np.array(sorted({row.time for row in rows}), dtype="datetime64[s]")
    columns: dict[str, Floats] = {}
    for row in rows:
        column = columns.setdefault(row.quantity, np.full(times.size, np.nan))
        column[np.searchsorted(times, row.time)] = row.value
    rain = columns.pop("rain_mm", None)
    humidity = columns.pop(HUMIDITY, None)
    if humidity is not None and "air_temperature_c" in columns:
        air = _near(times, columns["air_temperature_c"])
        share = np.clip(humidity, 1.0, 100.0) / 100
        dew = dew_point(share * saturation_vapor_pressure(air))
        given = columns.get("dew_point_c")
        columns["dew_point_c"] = dew if given is None else np.where(np.isnan(given), dew, given)
        columns["air_temperature_c"] = np.where(
            np.isnan(columns["air_temperature_c"]) & ~np.isnan(dew),
            air, columns["air_temperature_c"],
        )  # fmt: skip
    kept = {key: columns[key] for key in INSTANTS if key in columns}
    start, hourly = (None, np.zeros(0)) if rain is None else _rain_hours(times, rain)
    return Observed(name, times, kept, start, hourly)


def _near(times: Times, values: Floats) -> Floats:
    """Values with their blanks taken from the known one before, no further than ten minutes."""
    known = np.flatnonzero(~np.isnan(values))
    if not known.size:
        return values
    before = known[np.maximum(np.searchsorted(known, np.arange(times.size), side="right") - 1, 0)]
    far = np.abs((times - times[before]).astype(np.int64)) > TOGETHER_S
    return np.where(np.isnan(values), np.where(far, np.nan, values[before]), values)


def _rain_hours(times: Times, rain: Floats) -> tuple[np.datetime64, Floats]:
    """Rain of whole hours between the first value and the last, each since the one before."""
    known = ~np.isnan(rain)
    at = times[known].astype(np.int64)
    first, count = int(at[0]) // 3600 + 1, max(int(at[-1]) // 3600 - int(at[0]) // 3600 - 1, 0)
    total = np.concatenate([[0.0], np.cumsum(rain[known][1:])])
    edges = 3600 * (first + np.arange(count + 1))
    fallen = np.interp(edges, at, total)
    hours = np.diff(fallen)
    gaps = np.flatnonzero(np.diff(at) > 3600)
    for gap in gaps:
        low, high = int(at[gap]) // 3600 - first, int(at[gap + 1]) // 3600 - first
        hours[max(low, 0) : high + 1] = np.nan
    return np.datetime64(3600 * first, "s"), hours


def keep_measured(log: Log, stations: Iterable[Observed], now: np.datetime64) -> int:
    """Keep the whole hours that stations measured in the last two days; how many values are new.

    Parameters
    ----------
    log
        Open to be written.
    stations
        Judged; those that are left out, and those from the log itself, are passed over.
    now
        UTC.
    """
    count = int(KEPT_BACK / HOUR)
    first = now.astype("datetime64[h]").astype("datetime64[s]") - (count - 1) * HOUR
    sent = {station.name for station in log.farm.stations if station.topic is not None}
    rows = {}
    for item in stations:
        if item.refused is not None or item.station in sent:
            continue
        for quantity, values in item.on_hours(first, count).items():
            for hour in np.flatnonzero(~np.isnan(values)).tolist():
                at, value = first + hour * HOUR, float(values[hour])
                origin = "official" if item.official else "station"
                row = Observation(item.station, at, quantity, value, origin)
                rows[item.station, quantity, hour] = row
    return log.add_observations(rows.values()) if rows else 0


HINDSIGHT = 6 * HOUR
"""An answer for a time so far from the clock's is no forecast to learn from (assumed)."""


def keep_forecasts(
    log: Log,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    clock: np.datetime64 | None = None,
) -> dict[str, int]:
    """Keep the forecasts of an answer as they came; their numbers in the log, by site.

    What is kept of each: its own hours, lane 0, from the hour of the answer on, as far as
    errors of forecasts reach. Hours that it says were measured or worked out from other
    columns are blank. Nothing is kept of what was measured, of an invented sample, and of
    an answer for a time that is over: what is known afterwards is no forecast.

    Parameters
    ----------
    log
        Open to be written.
    weather
        By site, before stations and learned errors (`hayweather.nights.night.Night.weather`).
    now
        UTC time of the answer.
    clock
        UTC time on the wall; None: the computer's.
    """
    hour = now.astype("datetime64[h]").astype("datetime64[s]")
    written = wall_clock() if clock is None else clock
    if log.farm.weather.invented or abs(written - now) > HINDSIGHT:
        return {}
    found = {}
    for name, came in weather.items():
        source, site = came.source, log.farm.sites[name]
        first = int((hour - came.start[0]) // HOUR)
        issued = source.fetched if source.issued is None else source.issued
        if source.measured or not 0 <= first < came.hours or (issued or now) > now + HINDSIGHT:
            continue
        part = came.between(first, min(first + int(LEAD_EDGES_H[-1]), came.hours))
        came_so = KeptForecast(
            name, source.name, hour, issued, written, site.latitude, site.longitude,
            {column: _as_it_came(part, column) for column in part.columns}, came.wind_height_m,
        )  # fmt: skip
        found[name] = log.add_forecast(came_so)
    return found


def _as_it_came(weather: HourlyWeather, column: str) -> Floats:
    """A column of lane 0, blank where it was measured or derived."""
    other = MEASURED | MEASURED_THERE.get(column, 0) | DERIVED.get(column, 0)
    if column == "dew_point_c":  # derived from the humidity that came with it
        other &= ~DERIVED[column]
    blank = ((weather.basis[:, 0] & np.uint16(other)) > 0) | weather.repaired[:, 0]
    return np.where(blank, np.nan, weather.columns[column][:, 0])


def keep_issued(
    log: Log,
    outlook: Mapping[str, Any] | None,
    plan: Mapping[str, Any] | None = None,
    forecasts: Mapping[str, int] | None = None,
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
    forecasts
        Numbers of the forecasts that it was made of, by site, as `keep_forecasts` gives them.

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
            farm_field = log.farm.fields.get(name)
            came = None if farm_field is None else (forecasts or {}).get(farm_field.site)
            new += log.add_outlook(name, made, content, _advice(field), came)
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
