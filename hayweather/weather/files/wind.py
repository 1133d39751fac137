"""How high above ground a file's wind was measured, and who says so."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.weather.files.headers import Header
from hayweather.weather.files.notes import WIND_HEIGHT_LIMITS_M, Notes
from hayweather.weather.files.options import Origin, ReadOptions
from hayweather.weather.files.text import FileText
from hayweather.weather.record import Assumption

ASSUMED_WIND_M = 2.0
"""Height of the wind where nobody says it (assumed, and said so)."""


def wind_height(
    file: FileText,
    line: int,
    headers: Sequence[Header | None],
    notes: Notes,
    options: ReadOptions,
) -> tuple[float, Origin, tuple[Assumption, ...]]:
    """Height of the wind [m], who says so, and what to tell when nobody does.

    Raises
    ------
    WeatherFileError
        If the name of the wind column, at `line`, tells a height that no mast has.
    """
    if options.wind_height_m is not None:
        return options.wind_height_m, "option", ()
    for header in headers:
        if header is None or header.served_as != "wind_speed_m_s" or header.height_m is None:
            continue
        low, high = WIND_HEIGHT_LIMITS_M
        if not low <= header.height_m <= high:
            raise file.error("weather_head_line", line, fact="wind_height_m", value=header.text)
        return header.height_m, "file", ()
    if notes.wind_height_m is not None:
        return notes.wind_height_m, "file", ()
    shown: dict[str, object] = {"height": (ASSUMED_WIND_M, "length")}
    return ASSUMED_WIND_M, "assumed", (Assumption("wind_height", shown),)
