"""A server that stands for the weather services, and settings that point to it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from weather.server import WeatherServer
from weather.services_common import settings_for

from hayweather.weather.services import ServiceSettings
from hayweather.weather.store import AnswerStore


@pytest.fixture
def server() -> Iterator[WeatherServer]:
    with WeatherServer() as running:
        yield running


@pytest.fixture
def slept() -> list[float]:
    """What the program would have slept between two tries [s]."""
    return []


@pytest.fixture
def settings(server: WeatherServer, tmp_path: Path, slept: list[float]) -> ServiceSettings:
    return settings_for(server, tmp_path / "store", slept)


@pytest.fixture
def store(tmp_path: Path) -> AnswerStore:
    return AnswerStore(tmp_path / "store")
