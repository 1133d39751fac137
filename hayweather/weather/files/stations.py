"""Files that name their station: one record is one place."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.weather.files.text import FileText

STATION_NAMES = frozenset({"station", "station_id", "stid", "site", "site_id", "origin", "wbanno"})


def one_station(file: FileText, texts: Sequence[str]) -> tuple[str, ...]:
    """The one station that a column names.

    Raises
    ------
    WeatherFileError
        If it names several.
    """
    stations = list(dict.fromkeys(text.strip() for text in texts if text.strip()))
    if len(stations) > 1:
        raise file.error("weather_stations", stations=", ".join(stations[:5])[:80])
    return tuple(stations)
