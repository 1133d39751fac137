"""Plain dictionaries and lists as JSON, written the same way by every command."""

from __future__ import annotations

import json
import math
from typing import Any

from hayweather.units import to_shown

Json = dict[str, Any]
DECIMALS = 4


def json_text(form: Any) -> str:
    """JSON in which letters stay as they are.

    Parameters
    ----------
    form
        Dictionaries, lists, texts, numbers, None.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: what is missing is null.

    Examples
    --------
    >>> json_text({"rocío": None})
    '{\\n "rocío": null\\n}\\n'
    """
    return json.dumps(form, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def number(value: float | None) -> float | None:
    """A number for data: rounded, null where it is not known.

    Examples
    --------
    >>> number(float("nan")) is None, number(12.345678)
    (True, 12.3457)
    """
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), DECIMALS)


def twins(metric: str, us: str, value: float | None, quantity: str) -> Json:
    """A number under its SI key and its US key, each in the unit that is shown there.

    Examples
    --------
    >>> twins("rain_mm", "rain_in", 25.4, "rain")
    {'rain_mm': 25.4, 'rain_in': 1.0}
    """
    if value is None:
        return {metric: None, us: None}
    return {
        metric: number(to_shown(value, quantity, "metric")),
        us: number(to_shown(value, quantity, "us")),
    }
