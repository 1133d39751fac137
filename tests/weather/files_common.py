"""Shared by the tests of weather files."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from hayweather.errors import HayweatherError
from hayweather.weather.files import ReadOptions, ReadReport, read_weather_file
from hayweather.weather.record import HourlyWeather

SAMPLES = Path(__file__).parent / "data" / "files"
DEFAULT = ReadOptions()
HEADER = "time_utc,temp_c,dewpoint_c,wind_ms"


def sample(name: str, options: ReadOptions = DEFAULT) -> tuple[HourlyWeather, ReadReport]:
    """Read a file of the samples folder."""
    return read_weather_file(SAMPLES / name, options)


def written(folder: Path, text: str | bytes, name: str = "weather.csv") -> Path:
    """A file with this content."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def read_text(
    folder: Path, text: str | bytes, options: ReadOptions = DEFAULT
) -> tuple[HourlyWeather, ReadReport]:
    """Read a file with this content."""
    return read_weather_file(written(folder, text), options)


def refusal(folder: Path, text: str | bytes, options: ReadOptions = DEFAULT) -> HayweatherError:
    """The error that a file with this content gives: one line in both languages, exit 2."""
    with pytest.raises(HayweatherError) as caught:
        read_text(folder, text, options)
    error = caught.value
    assert error.exit_code == 2
    for language in ("en", "es"):
        assert "\n" not in error.line(language)
    return error


def column(weather: HourlyWeather, name: str, decimals: int = 6) -> list[float]:
    """One column of the only lane, rounded."""
    return np.round(weather.columns[name][:, 0], decimals).tolist()


def first_hour(weather: HourlyWeather) -> str:
    """Start of the first hour, UTC."""
    return str(weather.start[0])[:16]


def hourly_rows(count: int, start: str = "2026-07-09T00:00", step_minutes: int = 60) -> list[str]:
    """Stamps ``...Z``, for plain files of `count` rows."""
    stamps = np.datetime64(start, "m") + np.arange(count) * np.timedelta64(step_minutes, "m")
    return [f"{stamp}Z" for stamp in stamps]


def table(rows: list[str], header: str = HEADER, step_minutes: int = 60) -> str:
    """A plain file of these rows, a stamp in front of each."""
    stamps = hourly_rows(len(rows), step_minutes=step_minutes)
    lines = [f"{stamp},{row}" for stamp, row in zip(stamps, rows, strict=True)]
    return "\n".join([header, *lines]) + "\n"


SMALL = table(["20,10,1", "19,10,2", "18,10,3"])


def recorded(name: str) -> Path:
    """A file of the folder of recorded weather, or a skip."""
    folder = os.environ.get("HAYWEATHER_RECORDED")
    if not folder:
        pytest.skip("HAYWEATHER_RECORDED is not set")
    return Path(folder) / name
