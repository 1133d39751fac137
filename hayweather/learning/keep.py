"""Outlooks kept for scoring: one JSON file a field and time, or in the farm's log; schema
``hayweather/outlook/2`` (those of ``hayweather/outlook/1``, without layers, are read too)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import to_utc
from hayweather.errors import InputError
from hayweather.farm.document import shorten
from hayweather.log import Log
from hayweather.log.records import LAYERS, Layer
from hayweather.weather.record import HOUR, Floats, Times
from hayweather.windrow.trajectory import LayerKind

SCORED_AS = {Call.READY: Call.NATURAL_DEW, Call.DAMP_BELOW: Call.TOO_WET}
SCHEMAS = ("hayweather/outlook/1", "hayweather/outlook/2")
ENDING = ".json"
PLAIN = "-_ "  # beside letters and digits kept in a file's name as they are
Json = Mapping[str, Any]
LAYER_KINDS: dict[LayerKind, str] = {"leaf": "leaf", "stem": "stem", "windrow": "whole"}
"""What can be read of a layer, and how it is called in the JSON of an outlook."""


@dataclass(frozen=True)
class KeptWindow:
    """A window as it was shown; times UTC."""

    call: Call
    start: np.datetime64
    end: np.datetime64
    chance: float | None
    start_range: tuple[np.datetime64, np.datetime64] | None


@dataclass(frozen=True)
class Kept:
    """One field's outlook as it was shown.

    Attributes
    ----------
    field, timezone
        Of the field.
    made
        UTC.
    starts
        UTC start of every hour, (hours,).
    calls
        `Call` of every hour; "no data" where work was to stop.
    windrow_wb, humidity
        Moisture [% wet basis], humidity of the air [%]; NaN where unknown.
    chances
        Of each call, (6, hours), NaN where none were given.
    windows
        As shown.
    layers_wb
        Moisture of each layer, top first, by what was read of it [% wet basis], (3,
        hours); None in an outlook that held none.
    """

    field: str
    timezone: str
    made: np.datetime64
    starts: Times
    calls: np.ndarray
    windrow_wb: Floats
    humidity: Floats
    chances: Floats
    windows: tuple[KeptWindow, ...]
    layers_wb: Mapping[LayerKind, Floats] | None = None

    def moisture_at(
        self, time: np.datetime64, layer: Layer | None = None, kind: LayerKind = "windrow"
    ) -> float:
        """Moisture of the windrow at a UTC time [% wet basis], NaN where it was not said.

        Hours hold the mean of the hour, so the line runs between their middles.

        Parameters
        ----------
        time
            UTC.
        layer, kind
            A third of the depth, and what of it; None: all of the windrow.
        """
        series = self.windrow_wb
        if layer is not None:
            if self.layers_wb is None:
                return float("nan")
            series = self.layers_wb[kind][LAYERS.index(layer)]
        hours = np.asarray((self.starts - self.starts[0]) / HOUR) + 0.5
        at = float((time - self.starts[0]) / HOUR)
        if not 0 <= at <= hours[-1] + 0.5:
            return float("nan")
        return float(np.interp(at, hours, series))


def files_to_keep(form: Json) -> list[tuple[str, str]]:
    """An outlook as files of a folder, one for each field.

    Parameters
    ----------
    form
        The outlook as in its JSON.

    Returns
    -------
    list of (str, str)
        Name and text: ``FIELD_YYYYMMDDTHHMMZ.json``, the time in UTC.
    """
    made = to_utc(datetime.fromisoformat(form["now"])).astype(datetime)
    return [
        (
            f"{file_name(field['field'])}_{made:%Y%m%dT%H%MZ}{ENDING}",
            json.dumps({**form, "fields": [field]}, ensure_ascii=False, allow_nan=False, indent=1)
            + "\n",
        )
        for field in form["fields"]
    ]


def file_name(field: str) -> str:
    """A field's name as part of a file's name; different for different fields.

    Examples
    --------
    >>> file_name("North 40"), file_name("a*b")
    ('North 40', 'a%2Ab')
    """
    return "".join(
        letter if letter.isalnum() or letter in PLAIN else f"%{ord(letter):02X}" for letter in field
    )


def load_kept(folder: Path) -> tuple[list[Kept], list[str]]:
    """All outlooks kept in a folder in order of time, and names of files that are none.

    Parameters
    ----------
    folder
        As named with ``--keep``; other files in it do no harm.

    Raises
    ------
    InputError
        If there is no such folder, or no outlook in it.
    """
    if not folder.is_dir():
        raise InputError("keep_no_folder", str(folder))
    kept, other = [], []
    for path in sorted(folder.glob(f"*{ENDING}")):
        try:
            kept.extend(_kept(json.loads(path.read_text(encoding="utf-8"))))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            other.append(shorten(path.name))
    if not kept:
        raise InputError("keep_nothing", str(folder))
    return sorted(kept, key=lambda item: (item.made, item.field)), other


def logged_outlooks(log: Log) -> list[Kept]:
    """All outlooks in a farm's log in order of time, as `load_kept` gives them.

    Parameters
    ----------
    log
        Open. Fields that the farm no longer has are left out.
    """
    issued = [item for item in log.outlooks() if item.field in log.farm.fields]
    return [kept for item in issued for kept in _kept(item.content)]


def each_once(kept: Iterable[Kept]) -> list[Kept]:
    """Outlooks in order of time; of several of one field and time the last given counts."""
    once = {(item.made, item.field): item for item in kept}
    return [once[key] for key in sorted(once)]


def _kept(form: Json) -> list[Kept]:
    """The fields of one file."""
    if form["schema"] not in SCHEMAS:
        raise ValueError(form["schema"])
    made = _time(form["now"])
    return [_field(field, made) for field in form["fields"]]


def _field(field: Json, made: np.datetime64) -> Kept:
    """One field."""
    hours = field["hours"]
    shown = [Call.NO_DATA if hour["stop"] else _call(hour["call"]) for hour in hours]
    return Kept(
        field=str(field["field"]),
        timezone=str(field["site"]["timezone"]),
        made=made,
        starts=np.array([_time(hour["start"]) for hour in hours], dtype="datetime64[s]"),
        calls=np.array(shown, dtype=np.int8),
        windrow_wb=_numbers([hour["windrow_moisture_wb"] for hour in hours]),
        humidity=_numbers([hour["relative_humidity"] for hour in hours]),
        chances=np.stack(
            [_numbers(_chance(hour["chance"], call) for hour in hours) for call in Call]
        )
        if hours
        else np.zeros((len(Call), 0)),
        windows=tuple(_window(window) for window in field["windows"]),
        layers_wb=_layers(hours),
    )


def _layers(hours: Sequence[Json]) -> dict[LayerKind, Floats] | None:
    """Moisture of every layer; None where an hour has none."""
    found = [hour["layers"] for hour in hours if hour.get("layers") is not None]
    if not found or len(found) < len(hours):
        return None
    return {
        kind: np.stack(
            [_numbers(each[layer][f"{word}_moisture_wb"] for each in found) for layer in LAYERS]
        )
        for kind, word in LAYER_KINDS.items()
    }


def _chance(chances: Json | None, call: Call) -> float | None:
    """Chance of one call, None where none were given."""
    if chances is None:
        return None
    return sum(float(chances.get(word, 0.0)) for word in _counted_as(call))


def _counted_as(call: Call) -> list[str]:
    """Words of the calls that are scored as one: ready for any reason is what is baled as it lies,
    damp from below is not to be baled."""
    return [each.word for each in Call if SCORED_AS.get(each, each) == call]


def _window(window: Json) -> KeptWindow:
    """One window."""
    low_high = window["start_range"]
    return KeptWindow(
        _call(window["call"]),
        _time(window["start"]),
        _time(window["end"]),
        window["chance"],
        None if low_high is None else (_time(low_high[0]), _time(low_high[1])),
    )


def _call(word: str) -> Call:
    """A call from its word in data, as it is scored."""
    call = Call[word.upper().replace(" ", "_")]
    return SCORED_AS.get(call, call)


def _time(text: str) -> np.datetime64:
    """A time with its offset as UTC."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(text)
    return to_utc(moment)


def _numbers(values: Any) -> Floats:
    """Numbers, NaN for null."""
    found: Sequence[float | None] = list(values)
    return np.array([np.nan if value is None else float(value) for value in found])
