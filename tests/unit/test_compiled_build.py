"""The compiled loop is loaded only when asked for, works with compilation off, needs no cache."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numba
import pytest
from support.nights import HIGH_PLACE, weather_of_test_night

from hayweather.windrow import compiled
from hayweather.windrow.column import LAYERS
from hayweather.windrow.lanes import repeat_weather, stack_parameters
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run

TESTS = Path(__file__).parents[1]
OFF = """
import numpy as np
from support.nights import HIGH_PLACE, hourly
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.starts import moisture_state
random = np.random.default_rng(3)
air = random.uniform(-5, 25, 3)
air_c = air + np.zeros((2, 3))
weather = hourly(2, 3, air_temperature_c=air_c, dew_point_c=air_c - 0.5,
                 rain_mm=[[0, 2, 0], [0, 0, 3]], shortwave_w_m2=150.0)
first = {0: moisture_state(20.0, 18.0, air, air - 0.5)}
found, expected = (run(weather, HIGH_PLACE, WindrowParameters(), first, loop=loop)
                   for loop in ("compiled", "numpy"))
print(np.nanmax(np.abs(found.windrow_db - expected.windrow_db)) < 1e-9)
"""
AGAIN = """
from support.nights import HIGH_PLACE, weather_of_test_night
from hayweather.windrow.column import LAYERS
from hayweather.windrow.compiled import compiled_steps
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
run(weather_of_test_night(), HIGH_PLACE, WindrowParameters(), loop="compiled")
print(sum(compiled_steps(LAYERS).stats.cache_hits.values()))
"""
UNASKED = """
import sys
import hayweather.seasons.blocks
import hayweather.windrow.run
print("numba" in sys.modules)
"""


def said(code: str, **environment: str) -> str:
    given = {**os.environ, "PYTHONPATH": str(TESTS), **environment}
    ran = subprocess.run(
        [sys.executable, "-c", code], env=given, capture_output=True, text=True, check=True
    )
    return ran.stdout.strip()


@pytest.mark.slow
def test_the_same_functions_with_compilation_off():
    assert said(OFF, NUMBA_DISABLE_JIT="1") == "True"


@pytest.mark.slow
def test_what_one_process_compiled_the_next_finds_on_disk():
    said(AGAIN)
    assert said(AGAIN) == "1"


def test_nothing_is_loaded_unasked():
    assert said(UNASKED) == "False"


def test_without_a_place_for_the_cache_it_is_built_in_memory(monkeypatch):
    asked = []

    def nowhere(cache: bool = False, **_: object):
        asked.append(cache)
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return lambda function: function

    monkeypatch.setattr(numba, "njit", nowhere)
    built = compiled._build.__wrapped__(3, single=False)
    assert asked[-2:] == [True, False]
    assert asked.count(True) == 1
    assert built.__name__ == "follow"


def test_one_build_serves_one_windrow_and_many():
    """Numba compiles anew for every other order of an array in memory."""
    night, windrow = weather_of_test_night(), WindrowParameters()
    run(night, HIGH_PLACE, windrow, loop="compiled")
    many = stack_parameters([windrow, replace(windrow, albedo=0.2)], [1, 2])
    run(repeat_weather(night, [0, 0, 0]), HIGH_PLACE, many, loop="compiled")
    assert len(compiled.compiled_steps(LAYERS).signatures) == 1


def test_a_changed_source_is_built_anew(monkeypatch):
    before = compiled.fingerprint()
    whole = Path.read_bytes
    monkeypatch.setattr(
        Path, "read_bytes", lambda path: whole(path) + b"#" * (path.name == "vapor.py")
    )
    assert compiled.fingerprint() != before
