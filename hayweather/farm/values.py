"""One value of the farm file: from TOML to the inside unit, or an error in one line."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, time
from itertools import pairwise
from typing import Any

from hayweather.errors import FarmFileError
from hayweather.farm.clock import parse_clock, parse_time
from hayweather.farm.document import shorten
from hayweather.farm.keys import Key
from hayweather.farm.nearest import likely
from hayweather.farm.records import Preservative, UnitSystem
from hayweather.units import parse, symbol_of, to_inside, to_shown, unit_names


@dataclass(frozen=True)
class Spot:
    """Where in the farm file a value stands.

    Attributes
    ----------
    file
        Name of the file.
    table
        Table as written, ``[field.north]``.
    units
        Unit system of bare numbers.
    """

    file: str
    table: str
    units: UnitSystem = "us"

    def at(self, key: str = "") -> str:
        """``farm.toml: [field.north] area``."""
        return f"{self.file}: {self.table} {key}".rstrip()

    def error(self, problem: str, key: str = "", **values: object) -> FarmFileError:
        """An error at `key`, with the text ``error_farm_<problem>``."""
        return FarmFileError(f"farm_{problem}", self.at(key), **values)


def as_written(value: object) -> str:
    """A TOML value as a person would write it, kept short.

    Parameters
    ----------
    value
        As TOML has it.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{shorten(value)}"'
    if isinstance(value, dict):
        return "{…}"
    return shorten(str(value))


def read_value(key: Key, value: object, spot: Spot) -> Any:
    """The value of `key` in its inside unit and type.

    Times come back as `datetime`, with or without offset: the zone is the
    site's, known later.

    Raises
    ------
    FarmFileError
        If type, unit, word or range is wrong.
    """
    return _READERS[key.kind](key, value, spot)


_DECIMAL_COMMA = re.compile(r"\s*[-+]?\d+,\d+(?![\d,.])")


def _read_number(key: Key, value: object, spot: Spot) -> float:
    """A TOML number, or a quantity string with a unit, inside the key's range."""
    if isinstance(value, str) and _DECIMAL_COMMA.match(value):
        point = as_written(value.replace(",", "."))
        raise spot.error("comma", key.name, value=as_written(value), point=point)
    if isinstance(value, str) and key.quantity:
        number = _parse_quantity(key, value, spot)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number = _plain_number(key, value, spot)
    else:
        raise spot.error("not_number", key.name, value=as_written(value), example=_example(key))
    if not math.isfinite(number):
        raise spot.error("not_finite", key.name, value=as_written(value))
    if not key.low <= number <= key.high:
        raise _range_error(key, value, spot)
    return number


def _plain_number(key: Key, value: float, spot: Spot) -> float:
    """A bare number, in the unit that the farm's system shows."""
    try:
        number = float(value)
    except OverflowError:
        return math.inf
    if not key.quantity:
        return number
    return float(to_inside(number, key.quantity, symbol_of(key.quantity, spot.units)))


def _parse_quantity(key: Key, text: str, spot: Spot) -> float:
    """A string such as "1.5 ton/acre"."""
    try:
        return float(parse(text, key.quantity, spot.units))
    except ValueError:
        raise spot.error(
            "not_number", key.name, value=as_written(text), example=_example(key)
        ) from None
    except KeyError:
        units = ", ".join(f'"{name}"' for name in unit_names(key.quantity))
        raise spot.error("unit", key.name, value=as_written(text), units=units) from None


def _example(key: Key) -> str:
    """What could be written for a number."""
    return f"{key.name} = {key.us or 1}"


def _range_error(key: Key, value: object, spot: Spot) -> FarmFileError:
    """A number outside the key's range, with the range in the farm's own unit."""
    unit = symbol_of(key.quantity, spot.units) if key.quantity else ""
    written = as_written(value) if isinstance(value, str) else f"{value} {unit}".strip()
    low, high = (_bound(limit, key, spot.units) for limit in (key.low, key.high))
    if math.isinf(key.high):
        return spot.error("below", key.name, value=written, low=f"{low} {unit}".strip())
    return spot.error("range", key.name, value=written, low=low, high=f"{high} {unit}".strip())


def _bound(limit: float, key: Key, system: UnitSystem) -> str:
    """One end of a range in the farm's unit, three digits."""
    shown = float(to_shown(limit, key.quantity, system)) if key.quantity else limit
    return f"{shown:,.0f}" if abs(shown) >= 1000 else f"{shown:.3g}"


def _read_integer(key: Key, value: object, spot: Spot) -> int:
    """A whole number inside the key's range."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise spot.error("not_whole", key.name, value=as_written(value), example=_example(key))
    if not key.low <= value <= key.high:
        raise _range_error(key, value, spot)
    return value


def _read_text(key: Key, value: object, spot: Spot) -> str:
    """Text that is not blank."""
    if not isinstance(value, str) or not value.strip():
        raise spot.error("not_text", key.name, value=as_written(value), name=key.name)
    return shorten(value.strip(), 200)


def _read_boolean(key: Key, value: object, spot: Spot) -> bool:
    """true or false."""
    if not isinstance(value, bool):
        raise spot.error("not_boolean", key.name, value=as_written(value))
    return value


def _read_choice(key: Key, value: object, spot: Spot) -> str:
    """One of the key's words."""
    if isinstance(value, str) and value in key.choices:
        return value
    values = {
        "value": as_written(value),
        "choices": ", ".join(f'"{choice}"' for choice in key.choices),
    }
    near = likely(str(value), key.choices)
    if near is None:
        raise spot.error("choice_far", key.name, **values)
    raise spot.error("choice", key.name, nearest=near, **values)


def _read_choices(key: Key, value: object, spot: Spot) -> tuple[str, ...]:
    """A list of the key's words, each once; one word alone is a list of one."""
    items = value if isinstance(value, list) else [value]
    return tuple(dict.fromkeys(_read_choice(key, item, spot) for item in items))


def _read_time(key: Key, value: object, spot: Spot) -> datetime:
    """A date and hour, TOML or string."""
    moment = parse_time(value)
    if moment is None:
        raise spot.error("not_time", key.name, value=as_written(value), name=key.name)
    return moment


def _read_cured(key: Key, value: object, spot: Spot) -> bool | datetime | None:
    """True, a time, or None for false: "not by the grower's word"."""
    if isinstance(value, bool):
        return True if value else None
    moment = parse_time(value)
    if moment is None:
        raise spot.error("not_cured", key.name, value=as_written(value))
    return moment


def _read_clock(key: Key, value: object, spot: Spot) -> int:
    """A time of day as minutes after midnight."""
    moment = value if isinstance(value, time) else parse_clock(value)
    if moment is None:
        raise spot.error("not_clock", key.name, value=as_written(value), name=key.name)
    return moment.hour * 60 + moment.minute


def _read_band(key: Key, value: object, spot: Spot) -> tuple[float, float]:
    """Two moistures, bottom first."""
    if not isinstance(value, list) or len(value) != 2:
        raise spot.error("not_band", key.name, value=as_written(value))
    low, high = (_read_number(key, item, spot) for item in value)
    if low >= high:
        raise spot.error("band_reversed", key.name, low=f"{low:g}", high=f"{high:g}")
    return low, high


def _read_label(key: Key, value: object, spot: Spot) -> Preservative:
    """``{ rate = "6 lb/ton", ceiling = 20 }``."""
    if not isinstance(value, dict) or set(value) != {"rate", "ceiling"}:
        raise spot.error("not_label", key.name, value=as_written(value))
    ceiling = Key("preservative.ceiling", "number", "", "percent", key.low, key.high, us="20")
    rate = value["rate"]
    return Preservative(
        _read_text(Key("preservative.rate", "text"), rate if isinstance(rate, str) else "", spot),
        _read_number(ceiling, value["ceiling"], spot),
    )


def _read_span(key: Key, value: object, spot: Spot) -> tuple[float, float]:
    """Two numbers, the lower first."""
    if isinstance(value, list) and len(value) == 2:
        low, high = (_read_number(key, item, spot) for item in value)
        if low <= high:
            return low, high
    raise spot.error("not_span", key.name, value=as_written(value), example=_example(key))


def _read_points(key: Key, value: object, spot: Spot) -> tuple[tuple[float, float], ...]:
    """``[[150, 180], [170, 200]]``: two pairs or more, the first number rising."""
    listed = value if isinstance(value, list) else []
    if len(listed) < 2 or not all(isinstance(pair, list) and len(pair) == 2 for pair in listed):
        raise spot.error("not_points", key.name, value=as_written(value), example=_example(key))
    first = replace(key, quantity="")
    second = replace(key, low=0.0, high=math.inf)
    found = tuple((_read_number(first, x, spot), _read_number(second, y, spot)) for x, y in listed)
    if any(after[0] <= before[0] for before, after in pairwise(found)):
        raise spot.error("points_order", key.name, value=as_written(value), example=_example(key))
    return found


def _read_ladder(key: Key, value: object, spot: Spot) -> tuple[tuple[str, float], ...]:
    """``{ supreme = 220, good = 180 }``: a number for every one of the key's words."""
    given = value if isinstance(value, dict) else {}
    if set(given) != set(key.choices):
        values = {"value": as_written(value), "example": _example(key)}
        missing = [name for name in key.choices if name not in given]
        wrong = [name for name in given if name not in key.choices]
        if given and (missing or wrong):
            values["value"] = ", ".join(wrong or missing)
            raise spot.error("ladder_word" if wrong else "ladder_short", key.name, **values)
        raise spot.error("not_ladder", key.name, **values)
    steps = {name: replace(key, name=f"{key.name}.{name}", us="180") for name in key.choices}
    return tuple((name, _read_number(steps[name], given[name], spot)) for name in key.choices)


_READERS: dict[str, Callable[[Key, object, Spot], Any]] = {
    "number": _read_number,
    "integer": _read_integer,
    "text": _read_text,
    "boolean": _read_boolean,
    "choice": _read_choice,
    "choices": _read_choices,
    "time": _read_time,
    "cured": _read_cured,
    "clock": _read_clock,
    "band": _read_band,
    "label": _read_label,
    "span": _read_span,
    "points": _read_points,
    "ladder": _read_ladder,
}
