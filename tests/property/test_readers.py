"""Readers never crash and never make a number up, whatever a file holds.

A run by default is small; `pytest -m long tests/property/test_readers.py` runs
10,000 cases of each.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hayweather.errors import HayweatherError
from hayweather.weather.files import ReadOptions, ReadReport, read_weather_file
from hayweather.weather.quality import LONGEST_GAP_HOURS, RANGES
from hayweather.weather.record import HourlyWeather

SAMPLES = Path(__file__).parents[1] / "weather" / "data" / "files"
FOLDER = Path(tempfile.mkdtemp(prefix="hayweather-readers-"))

SMALL = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
LARGE = settings(max_examples=10_000, deadline=None, suppress_health_check=list(HealthCheck))

OPTIONS = st.builds(
    ReadOptions,
    timezone=st.sampled_from([None, "UTC", "America/Denver", "Asia/Kolkata"]),
    hour=st.sampled_from([None, "start", "center", "end"]),
    site_elevation_m=st.sampled_from([None, 0.0, 1500.0]),
)

_WORDS = """time_utc time date year month day hour temp_c temp_f temp rh_pct rh dewpoint_c wind_ms
wind_mph rain_mm sw_wm2 station valid tmpf dwpf sknt TOA5 TIMESTAMP LOCATION Latitude
2026-07-09T00:00Z 2026-07-09T01:00Z 2026-07-09T02:00Z 2026-07-09 01/02/2026 24:00 2026 7 9 23
7/29/2026 2026-07-09T00:00+24:00 00:00:75 Hourly wind_999m_ms
10 10.5 -9999 1e999 1e308 nan M T 99.9 140 0 -0 "" "a,b" # # # : °C (F) [mph]"""
TOKENS = st.sampled_from(_WORDS.split())
SEPARATORS = st.sampled_from([",", ";", "\t", " ", "\n", "\r\n", ",,", "\x00", '"'])
TABLES = st.lists(st.tuples(TOKENS, SEPARATORS), max_size=60).map(
    lambda pairs: "".join(token + separator for token, separator in pairs).encode()
)


KINDS = ["cut", "drop", "twice", "swap", "cell", "more", "byte", "end"]


@st.composite
def damaged_samples(draw: st.DrawFn) -> bytes:
    """A file of the samples with some bytes, words or lines changed, or its end cut off."""
    name = draw(st.sampled_from(sorted(p.name for p in SAMPLES.iterdir() if p.suffix != ".md")))
    lines = (SAMPLES / name).read_bytes().split(b"\n")
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(lines) - 1))
        kind = draw(st.sampled_from(KINDS))
        lines = _damaged(lines, place, kind, draw)
    return b"\n".join(lines)


def _damaged(lines: list[bytes], place: int, kind: str, draw: st.DrawFn) -> list[bytes]:
    line = lines[place]
    if kind == "drop" and len(lines) > 1:
        return lines[:place] + lines[place + 1 :]
    if kind == "end":
        return lines[: place + 1]
    if kind == "twice":
        return [*lines[:place], line, *lines[place:]]
    if kind == "swap":
        other = draw(st.integers(0, len(lines) - 1))
        lines = list(lines)
        lines[place], lines[other] = lines[other], line
        return lines
    at = draw(st.integers(0, max(len(line), 1)))
    if kind == "cut":
        changed = line[:at]
    elif kind in ("cell", "more"):
        mark = b"," if b"," in line else b" "
        cells = line.split(mark)
        first = draw(st.integers(0, len(cells) - 1))
        cells[first : first + (kind == "cell")] = [draw(TOKENS).encode()]
        changed = mark.join(cells)
    else:
        changed = line[:at] + draw(st.binary(max_size=3)) + line[at + 1 :]
    return [*lines[:place], changed, *lines[place + 1 :]]


def check_any(content: bytes, options: ReadOptions) -> HourlyWeather | None:
    """Reading gives an error with one line in each language, or a possible record."""
    path = FOLDER / "weather.csv"
    path.write_bytes(content)
    try:
        weather, report = read_weather_file(path, options)
    except HayweatherError as caught:
        error = caught
    else:
        return check_record(weather, report)
    assert all(error.line(language) for language in ("en", "es"))
    return None


def check_record(weather: HourlyWeather, report: ReadReport) -> HourlyWeather:
    """The record holds possible values only."""
    assert weather.hours == report.hours >= 2
    assert int((~np.isnan(weather.columns["air_temperature_c"])).sum()) >= 2
    for name, values in weather.columns.items():
        low, high = RANGES[name]
        known = values[~np.isnan(values)]
        assert known.size == 0 or (low <= known.min() and known.max() <= high), name
    air, dew = weather.columns["air_temperature_c"], weather.columns["dew_point_c"]
    assert not (dew > air).any()
    return weather


def both(strategy: st.SearchStrategy[bytes]) -> tuple[Callable[[], None], Callable[[], None]]:
    """The small and the large run of one kind of content."""

    def run(content: bytes, options: ReadOptions) -> None:
        check_any(content, options)

    cases = given(content=strategy, options=OPTIONS)
    return SMALL(cases(run)), pytest.mark.long(LARGE(cases(run)))


test_any_bytes, test_any_bytes_long = both(st.binary(max_size=400))
test_any_text, test_any_text_long = both(st.text(max_size=400).map(str.encode))
test_any_table, test_any_table_long = both(TABLES)
test_any_damaged_sample, test_any_damaged_sample_long = both(damaged_samples())


def outcome(content: bytes, options: ReadOptions) -> object:
    """What reading gives: the lines of the errors, or the record and its report in full."""
    path = FOLDER / "weather.csv"
    path.write_bytes(content)
    try:
        weather, report = read_weather_file(path, options)
    except HayweatherError as caught:
        return [caught.line(), *(row.line() for row in getattr(caught, "rows", ()))]
    arrays = (*weather.columns.values(), weather.repaired, weather.basis)
    return [
        *weather.columns,
        *(a.tobytes() for a in arrays),
        weather.start,
        weather.assumed,
        report,
    ]


def check_both_ways(content: bytes, options: ReadOptions) -> None:
    """A table read at once is the same as cell by cell, stamp by stamp, errors too."""
    at_once = outcome(content, options)
    with (
        patch("hayweather.weather.files.cells._plain_cells", lambda *_: None),
        patch("hayweather.weather.files.times.letters_of", lambda _: None),
    ):
        assert repr(outcome(content, options)) == repr(at_once)


@settings(SMALL, max_examples=25)
@given(content=damaged_samples(), options=OPTIONS)
def test_both_ways_of_reading_agree(content: bytes, options: ReadOptions) -> None:
    check_both_ways(content, options)


@pytest.mark.long
@LARGE
@given(content=damaged_samples(), options=OPTIONS)
def test_both_ways_of_reading_agree_long(content: bytes, options: ReadOptions) -> None:
    check_both_ways(content, options)


@pytest.mark.parametrize("cell", ["1\t", " 1", '"1"', "NA", "", "Nan", "1e1", "0x1", '"1,5"', "#1"])
def test_one_odd_cell_is_read_alike_both_ways(cell: str) -> None:
    rows = [f"7/{day}/2026 {hour}:00,20,10,1" for day in (9, 10, 13) for hour in range(24)]
    rows[5] = f"7/9/2026 5:00,20,10,{cell}"
    check_both_ways("\n".join(["time,temp_c,rh_pct,wind_ms", *rows]).encode(), ReadOptions("UTC"))


@st.composite
def gappy_hours(draw: st.DrawFn) -> list[float | None]:
    """Hourly temperatures with gaps, the first and last known."""
    value = st.floats(-20, 40).map(lambda t: round(t, 2))
    inner = draw(st.lists(st.one_of(value, value, st.none()), min_size=2, max_size=40))
    return [draw(value), *inner, draw(value)]


def check_gaps(values: list[float | None]) -> None:
    """Given hours stay bit for bit; short gaps lie between neighbors; long ones stay missing."""
    hour = np.timedelta64(60, "m")
    stamps = np.datetime64("2026-07-09T00:00", "m") + np.arange(len(values)) * hour
    rows = [
        f"{stamp}Z,{'' if v is None else repr(v)},-30,1"
        for stamp, v in zip(stamps, values, strict=True)
    ]
    text = "\n".join(["time_utc,temp_c,dewpoint_c,wind_ms", *rows])
    weather = check_any(text.encode(), ReadOptions())
    assert weather is not None
    read = weather.columns["air_temperature_c"][:, 0]
    known = np.array([v is not None for v in values])
    given_values = np.array([np.nan if v is None else v for v in values])
    assert np.array_equal(read[known], given_values[known])
    places = np.flatnonzero(known)
    for hour in np.flatnonzero(~known):
        left, right = places[places < hour].max(), places[places > hour].min()
        if right - left - 1 > LONGEST_GAP_HOURS:
            assert np.isnan(read[hour])
        else:
            low, high = sorted(given_values[[left, right]])
            assert low - 1e-9 <= read[hour] <= high + 1e-9
            assert weather.repaired[hour, 0]


@SMALL
@given(gappy_hours())
def test_no_number_out_of_thin_air(values: list[float | None]) -> None:
    check_gaps(values)


@pytest.mark.long
@LARGE
@given(gappy_hours())
def test_no_number_out_of_thin_air_long(values: list[float | None]) -> None:
    check_gaps(values)
