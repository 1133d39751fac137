"""Any file given as readings, log or kept outlook is read, or refused in one line."""

import json
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.fields import HOME, farm_of

from hayweather.errors import HayweatherError
from hayweather.learning.keep import load_kept
from hayweather.learning.past import read_log, read_readings

FOLDER = Path(tempfile.mkdtemp(prefix="hayweather-notes-"))
FARM, ZONES = farm_of(), {"home": HOME.timezone}
SMALL = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
TIMES = ["2024-07-03T05:00", "2024-11-03T01:30", "2024-03-10T02:30", "2024-07-03"]
TIMES += ["9999-12-31T23:59", "0001-01-01T00:00"]
WORDS = ["", "north", "west", "baled", "rain", "windrow", "leaf", '"', "# x", "\u2028"]
NUMBERS = ["10.5", "10,5", "1e999", "nan", "-3", "250", "\u0663"]
CELLS = st.sampled_from([*TIMES, *WORDS, *NUMBERS])
NAMES = {
    read_readings: ["time", "field", "moisture_wb", "kind", "meter_error", "skin_temperature_f"],
    read_log: ["start", "end", "field", "event", "moisture_wb", "note"],
}


def one_line(problem: HayweatherError) -> None:
    for language in ("en", "es"):
        line = problem.line(language)
        assert line
        assert len(line.splitlines()) == 1
    assert problem.exit_code == 2


@pytest.mark.parametrize("read", [read_readings, read_log])
@SMALL
@given(st.data())
def test_any_rows(read, data):
    rows = data.draw(st.lists(st.lists(CELLS, min_size=3, max_size=7), max_size=4))
    separator = data.draw(st.sampled_from([",", ";", "\t"]))
    lines = [separator.join(NAMES[read]), *(separator.join(row) for row in rows)]
    path = FOLDER / "notes.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    try:
        found = read(path, FARM, ZONES)
    except HayweatherError as problem:
        one_line(problem)
    else:
        assert 0 < len(found) <= len(rows)


@pytest.mark.parametrize("read", [read_readings, read_log])
@SMALL
@given(st.binary(max_size=200))
def test_any_bytes(read, content):
    path = FOLDER / "bytes.csv"
    path.write_bytes(content)
    try:
        read(path, FARM, ZONES)
    except HayweatherError as problem:
        one_line(problem)
    else:
        pytest.fail("random bytes were read as notes")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["fields", "now", "hours", "schema", "site"]), inner)
    ),
    max_leaves=8,
)


@SMALL
@given(JSON, st.booleans())
def test_any_kept_file(form, named):
    folder = Path(tempfile.mkdtemp(dir=FOLDER))
    if named:
        form = {
            "schema": "hayweather/outlook/1",
            "now": "2025-07-08T17:00:00-07:00",
            "fields": [{"field": "a", "site": {"timezone": "UTC"}, "hours": form, "windows": []}],
        }
    (folder / "a.json").write_text(json.dumps(form), encoding="utf-8")
    try:
        kept, other = load_kept(folder)
    except HayweatherError as problem:
        one_line(problem)
    else:
        assert len(kept) + len(other) >= 1
