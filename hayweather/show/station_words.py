"""What a station shows of the air, in one phrase, and as data."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from hayweather.nights import FieldNight
from hayweather.nights.station import StationNight
from hayweather.show.layout import named_values
from hayweather.show.table import Column, Table
from hayweather.show.voice import Voice, capital, phrase, phrases
from hayweather.weather.observed import Observed

UNFILLED = ("start_too_late", "reason_run_broken")
"""Reasons of unknown hours that a station with all columns would have taken away."""
SAID_K, SAID_AIR_K = 0.25, 1.0
"""Differences of humidity and of the air below these are not said."""


def station_phrase(station: StationNight, voice: Voice) -> str | None:
    """``"Your station: 1.4 °F damper than forecast, 12 min ago."``; None where it is left out."""
    if not (station.carried or station.filled) or station.age_minutes is None:
        return None
    name = _name(station, voice)
    age = _age(station.age_minutes, voice)
    parts = []
    damper, air = station.damper_k, station.off.get("air_temperature_c", math.nan)
    for value, least, more, less in (
        (damper, SAID_K, "station_damper", "station_drier"),
        (air, SAID_AIR_K, "station_warmer", "station_colder"),
    ):
        if math.isfinite(value) and abs(value) >= least:
            by = voice.amount(abs(value), "temperature_difference")
            parts.append(voice.say(more if value > 0 else less, by=by))
    if not math.isfinite(damper):
        return voice.say("station_no_forecast", station=name, age=age)
    if not parts:
        return voice.say("station_as_forecast", station=name, age=age)
    off = parts[0] if len(parts) == 1 else voice.say(
        "station_two", first=parts[0], second=parts[1])  # fmt: skip
    return voice.say("station_off", station=name, off=off, age=age)


def _age(minutes: float, voice: Voice) -> str:
    """``"12 min ago"``, ``"just now"``."""
    if minutes < 1:
        return voice.say("station_now")
    if minutes < 60:
        return voice.say("station_ago", age=voice.amount(round(minutes), "minutes"))
    return voice.say("station_ago", age=voice.duration(minutes / 60))


def _name(station: StationNight, voice: Voice) -> str:
    """``"Your station"``, or the id of an official one and how far away it stands."""
    seen = station.observed
    if not seen.official:
        return voice.say("station_yours")
    away = voice.amount(1000 * seen.away_km, "distance")
    return voice.say("station_official", name=seen.station, away=away)


def station_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """What the stations of a field say of its night, and which hours they fill."""
    told = []
    for station in field.stations:
        said = station_phrase(station, voice)
        told += [] if said is None else [said]
        if station.filled:
            name, hours = _name(station, voice), f"{station.filled}"
            told.append(voice.say("station_filled", station=name, hours=hours))
        lacks = _lacks(station)
        if lacks and any(
            remark.key in UNFILLED or remark.key.startswith("reason_missing")
            for hour in field.hours
            for remark in hour.reasons
        ):
            what = voice.listed([voice.say(READ_AS[lack]) for lack in lacks])
            told.append(voice.say("station_lacks", station=_name(station, voice), what=what))
    return told


def _lacks(station: StationNight) -> list[str]:
    """What a station would have to measure to stand for hours that no forecast has."""
    seen = station.observed
    if seen.refused is not None or seen.last is None:
        return []
    wind = [] if seen.known("wind_speed_m_s").any() else ["wind_speed_m_s"]
    return [*wind, *([] if seen.rain_start is not None else ["rain_mm"])]


def station_short(field: FieldNight, voice: Voice) -> list[str]:
    """What a text message says of the station that is carried on."""
    phrases = (station_phrase(item, voice) for item in field.stations if item.carried)
    return [said for said in phrases if said is not None]


def as_read_lines(stations: Sequence[Observed], voice: Voice, width: int) -> list[str]:
    """A heading, and what each station holds as it was read; nothing where there is none."""
    if not stations:
        return []
    pairs = []
    for item in stations:
        if item.refused is not None:
            pairs.append((item.station, phrase(item.refused, voice)))
            continue
        names = [voice.say(READ_AS[name]) for name in item.columns]
        names += [voice.say(READ_AS["rain_mm"])] if item.rain_start is not None else []
        read = {"count": f"{item.times.size}", "columns": voice.listed(names)}
        said, last = [voice.say("station_read", **read)], last_text(item, voice)
        said += [] if last is None else [voice.say("station_read_last", last=last)]
        said += phrases(item.notes, voice)
        pairs.append((item.station, "; ".join(said)))
    return [voice.say("station_read_heading"), *named_values(pairs, width)]


def last_text(item: Observed, voice: Voice) -> str | None:
    """When and what the last air of a station is; None where it has none."""
    if item.last is None:
        return None
    row = int(np.searchsorted(item.times, item.last))
    air, dew = (
        voice.amount(float(item.columns[name][row]), "temperature")
        for name in ("air_temperature_c", "dew_point_c")
    )
    return voice.say("station_last", time=voice.when(item.last), air=air, dew=dew)


READ_AS = {
    "air_temperature_c": "station_read_air",
    "dew_point_c": "station_read_humidity",
    "wind_speed_m_s": "station_read_wind",
    "cloud_fraction": "station_read_cloud",
    "rain_mm": "station_read_rain",
}


def _why(station: StationNight, voice: Voice) -> str | None:
    why = station.observed.refused
    return None if why is None else phrase(why, voice)


STATIONS = Table(
    (
        Column("station", "Its name in the farm file, or its id", "observed.station", kind="text"),
        Column("official", "An observing station of a weather service", "observed.official",
               kind="truth"),
        Column("away_m", "Distance from the field", lambda item: 1000 * item.observed.away_km,
               unit="m"),
        Column("higher_m", "Height above the field", "observed.higher_m", unit="m"),
        Column("last", "Time of its last air", "observed.last", kind="time", null=True),
        Column("age_minutes", "Age of its last air", unit="min"),
        Column("carried", "Its differences are carried on", kind="truth"),
        Column("filled_hours", "Hours that no forecast has and it measured", "filled",
               kind="count"),
        Column("damper_k", "How much nearer the air is to its dew point than forecast", unit="K"),
        Column("air_off_k", "Air less forecast, at the last",
               lambda item: item.off.get("air_temperature_c", math.nan), unit="K"),
        Column("dew_point_off_k", "Dew point less forecast, at the last",
               lambda item: item.off.get("dew_point_c", math.nan), unit="K"),
        Column("wind_off_m_s", "Wind less forecast, at the last",
               lambda item: item.off.get("wind_speed_m_s", math.nan), unit="m/s"),
        Column("phrase", "All of it in one sentence", kind="text", null=True, said=station_phrase),
        Column("left_out", "Why all of it is left out", kind="text", null=True, said=_why),
        Column("notes", "What of it is left out or assumed", kind="texts",
               said=lambda item, voice: [capital(phrase(note, voice))
                                         for note in item.observed.notes]),
    ),
    "A station of a field.",
)  # fmt: skip


STATIONS_READ = Table(
    (
        Column("station", "Its name in the farm file", "station", kind="text"),
        Column("rows", "Rows read", lambda item: item.times.size, kind="count"),
        Column("columns", "What it measures, columns of the record",
               lambda item: [*item.columns, *(["rain_mm"] if item.rain_start is not None else [])],
               kind="texts"),
        Column("last", "UTC time of its last air", kind="utc", null=True),
        Column("last_text", "Its last air in words", kind="text", null=True, said=last_text),
        Column("left_out", "Why all of it is left out", kind="text", null=True,
               said=lambda item, voice: None if item.refused is None
               else phrase(item.refused, voice)),
        Column("notes", "What of it is left out or assumed", kind="texts",
               said=lambda item, voice: [capital(note) for note in phrases(item.notes, voice)]),
    ),
    "A station of the farm as it is read now, not judged.",
)  # fmt: skip
