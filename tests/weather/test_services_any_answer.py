"""Whatever a service sends: a result or one of our errors, and no number out of thin air."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from weather import server_answers as answers

from hayweather.weather.services.body import error_reason, parse_body
from hayweather.weather.services.failures import ServiceError, quote
from hayweather.weather.services.open_meteo import FORECAST
from hayweather.weather.services.open_meteo_hours import Stamped, lanes, read_hours
from hayweather.weather.services.us_nws import read_cell
from hayweather.weather.services.us_nws_layers import Grid, read_grid

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4)
    ),
    max_leaves=10,
)
READERS = [read_hours, read_grid, read_cell]
HOURS = answers.open_meteo([*FORECAST], hours=8)
GRID = answers.us_nws_grid(hours=8)


def one_line(read: Callable[[], object]) -> object:
    """The result of `read`, or None after one of our errors in one line."""
    try:
        return read()
    except ServiceError as failure:
        assert "\n" not in failure.line() + failure.line("es")  # noqa: PT017
        return None


@given(body=st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
@example(b"[" * 100_000)
@example(b'{"a": ' + b"9" * 5000 + b"}")
@example(b'"' + b"\\ud800" * 3 + b'"')
def test_any_bytes(body: bytes) -> None:
    value = one_line(lambda: parse_body(body, "x"))
    for read in READERS:
        one_line(lambda read=read: read(value))
    assert isinstance(error_reason(body), str)


@pytest.mark.parametrize("read", READERS)
@given(value=JSON)
@settings(max_examples=60)
def test_any_json(read: Callable[[object], object], value: object) -> None:
    one_line(lambda: read(value))


def replaced(content: object, way: list[int], new: object) -> object:
    """`content` with the part at the end of a way through it replaced."""
    if not way or not isinstance(content, (dict, list)) or not content:
        return new
    keys = list(content) if isinstance(content, dict) else list(range(len(content)))
    key = keys[way[0] % len(keys)]
    copy = dict(content) if isinstance(content, dict) else list(content)
    copy[key] = replaced(content[key], way[1:], new)  # type: ignore[index, call-overload]
    return copy


WAY = st.lists(st.integers(0, 200), min_size=1, max_size=5)


@given(way=WAY, new=JSON)
@settings(max_examples=120)
def test_good_hours_with_any_part_replaced(way: list[int], new: object) -> None:
    found = one_line(lambda: read_hours(replaced(HOURS, way, new)))
    if not isinstance(found, Stamped) or not found.columns:
        return
    for name, values in lanes(found, sorted(found.columns)).items():
        known = values[np.isfinite(values)]
        assert values.shape[0] == found.hours, name
        assert np.abs(known).max(initial=0.0) < 2000.0


@given(way=WAY, new=JSON)
@settings(max_examples=120)
def test_good_grid_with_any_part_replaced(way: list[int], new: object) -> None:
    found = one_line(lambda: read_grid(replaced(GRID, way, new)))
    if isinstance(found, Grid):
        assert len({len(values) for values in found.columns.values()}) == 1


@given(text=st.text(max_size=400))
def test_a_foreign_text_is_made_fit_for_one_line(text: str) -> None:
    shown = quote(text)
    assert len(shown) <= 160
    assert shown.isprintable()


def test_numbers_stay_as_they_were_sent() -> None:
    """Read back, the hours are the numbers that were put in."""
    found = read_hours(json.loads(json.dumps(HOURS)))
    [columns] = found.columns.values()
    assert columns["air_temperature_c"].tolist() == answers.real("temp_c", 0, 8)
