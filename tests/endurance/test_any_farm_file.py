"""A farm file with anything in it is read, or refused in one line; never a traceback.

100 files by default, 5,000 with ``pytest -m long tests/endurance``.
"""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hayweather.errors import HayweatherError
from hayweather.farm import read_farm
from hayweather.farm.records import Site
from hayweather.farm.starter import starter_text

FOLDER = Path(tempfile.mkdtemp(prefix="hayweather-farms-"))
SMALL = settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
LARGE = settings(max_examples=5000, deadline=None, suppress_health_check=list(HealthCheck))
HOME = Site("home", 43.2, -120.6, 1311.0, "America/Los_Angeles")
NUMBERS = ["0", "-1", "1e308", "nan", "-inf", "99999999999999999999", "0x10", "1_000", "true"]
TEXTS = ["", "x", "NaN", "12 ton", "1.5 ton/acre", "3 kg/m2", "80 F", "us", "metric", "es"]
TEXTS += ["../x", "-40", "2026-07-09T25:00", "\\u0000"]
OTHERS = ["[]", "[1]", "[12, 16]", '["a", "b"]', "{}", "{ a = 1 }", "2026-07-09", "07:00"]
OTHERS += ["2026-07-09T00:00:00Z"]
VALUES = st.sampled_from([*NUMBERS, *(f'"{text}"' for text in TEXTS), *OTHERS])


@st.composite
def changed_starters(draw: st.DrawFn) -> str:
    """A starter file with comments made lines, values, lines and tables changed."""
    lines = starter_text(draw(st.sampled_from(["us", "metric"])), "en", HOME).splitlines()
    for _ in range(draw(st.integers(1, 8))):
        place = draw(st.integers(0, len(lines) - 1))
        line = lines[place].lstrip("# ")
        kind = draw(st.sampled_from(["open", "value", "drop", "twice", "cut", "noise"]))
        if kind == "value" and "=" in line:
            line = f"{line.split('=')[0]}= {draw(VALUES)}"
        elif kind == "drop":
            line = ""
        elif kind == "twice":
            line = f"{line}\n{line}"
        elif kind == "cut":
            line = line[: draw(st.integers(0, max(len(line), 1)))]
        elif kind == "noise":
            line += draw(st.text(max_size=8))
        lines[place] = line
    return "\n".join(lines)


def check(text: str) -> None:
    """Read or refused."""
    path = FOLDER / "farm.toml"
    path.write_bytes(text.encode("utf-8", errors="surrogatepass"))
    problem = None
    try:
        assert read_farm(path, {}).fields
    except HayweatherError as refused:
        problem = refused
    if problem is not None:
        check_refusal(problem)


def check_refusal(problem: HayweatherError) -> None:
    """One line, in both languages, not too long."""
    assert problem.exit_code == 2
    for language in ("en", "es"):
        line = problem.line(language)
        assert line
        assert len(line.splitlines()) == 1
        assert len(line) < 600


@SMALL
@given(changed_starters())
def test_any_farm_file(text):
    check(text)


@pytest.mark.long
@LARGE
@given(changed_starters())
def test_any_farm_file_long(text):
    check(text)
