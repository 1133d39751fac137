"""Learned errors beside the farm file: whole, ours alone, and never believed when they are bad."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import hayweather as hw
from hayweather.errors import InputError, OutputError
from hayweather.farm.records import Site
from hayweather.learning.forecast_errors import Pairs, fit_errors
from hayweather.learning.learned_file import (
    forget_learned,
    learned_path,
    read_learned,
    write_learned,
)

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SITES = {"mesa": Site("mesa", 39.1, -108.5)}
SOURCES = {"mesa": "Open-Meteo"}
NOW = np.datetime64("2025-08-01T00:00:00")


def fitted():
    random = np.random.default_rng(2)
    blank = np.full((40, 24), 12.0)
    names = ("air_temperature_c", "dew_point_c")
    forecast = {name: blank + random.normal(1.0, 1.5, blank.shape) for name in names}
    evenings = np.datetime64("2025-06-01") + np.arange(40)
    return fit_errors(
        Pairs(evenings, np.arange(24.0), forecast, dict.fromkeys(names, blank)), draws=1
    ).errors


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = learned_path(tmp_path / "farm.toml")
    write_learned(path, SITES, {"mesa": fitted()}, SOURCES)
    return path


def test_what_was_written_is_read_again_and_can_be_forgotten(path):
    found = read_learned(path, SITES, NOW, SOURCES)["mesa"]
    assert found == fitted()
    assert read_learned(path, SITES, NOW, {"mesa": "another"}) == {}
    assert str(found.until) == "2025-07-10"
    assert forget_learned(path)
    assert not forget_learned(path)
    assert read_learned(path, SITES, NOW, SOURCES) == {}


def test_a_file_of_somebody_else_stays(path):
    for content in ("mine\n", '{"schema": "hayweather/outlook/2"}', "[]"):
        path.write_text(content)
        for act in (lambda: write_learned(path, SITES, {}, {}), lambda: forget_learned(path)):
            with pytest.raises(OutputError, match="somebody else"):
                act()
        assert path.read_text() == content


def set_in(form, *keys_and_value):
    *keys, last, value = keys_and_value
    for key in keys:
        form = form[key]
    form[last] = value


DEW = ("sites", "mesa", "columns", "dew_point_c")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ((*DEW, "sizes", 2, 40.0), "dew_point_c sizes = 40"),
        ((*DEW, "sizes", 2, 0.01), "dew_point_c sizes = 0.01"),
        ((*DEW, "sizes", 2, float("nan")), "dew_point_c sizes = nan"),
        ((*DEW, "biases", 1, -30), "dew_point_c biases = -30"),
        ((*DEW, "memory", 1.0), "dew_point_c memory = 1.0"),
        ((*DEW, "nights", 1, 3), "dew_point_c nights = 3"),
        ((*DEW, "sizes", [2.0]), "damaged"),
        (("sites", "mesa", "nights", 4), "nights = 4"),
        (("sites", "mesa", "latitude", 42.0), "learned 322 km"),
        (("sites", "mesa", "until", "2025-09-01"), "nights to 2025-09-01"),
        (("sites", "mesa", "until", "soon"), "damaged"),
        (("sites", "mesa", "ties", [["air_temperature_c", "dew_point_c", 2]]), "= 2"),
        (("sites", []), "damaged"),
        (("schema", "hayweather/learned/9"), "damaged"),
    ],
)
def test_a_bad_file_is_one_line(path, change, said):
    form = json.loads(path.read_text())
    set_in(form, *change)
    path.write_text(json.dumps(form))
    with pytest.raises(InputError) as caught:
        read_learned(path, SITES, NOW, SOURCES)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("content", [b"", b"{", b"[1]", b"\xff\xfe", b"[" * 100_000])
def test_a_damaged_file_is_one_line(path, content):
    path.write_bytes(content)
    with pytest.raises(InputError, match="damaged"):
        read_learned(path, SITES, NOW, SOURCES)


def test_a_night_takes_what_was_learned_until_it_is_forgotten(tmp_path):
    """Forecasts 1 K too damp were learned: the dew point shown is drier by two thirds of it."""
    for name in ("sagebeck.toml", "sagebeck.csv"):
        shutil.copy(SAMPLES / name, tmp_path / name)
    farm = hw.read_farm(tmp_path / "sagebeck.toml")
    path = learned_path(tmp_path / "sagebeck.toml")

    def shown():
        night = hw.night_of(farm, field="bench", members=4)
        table = night["bench"].hours
        return table["dew_point_c"].to_numpy(), repr(night.record["bench"].facts)

    before, said = shown()
    assert "spread_of_one" in said
    errors = replace(fitted(), until=np.datetime64("2025-07-07"))
    write_learned(path, farm.sites, {"valley": errors}, {"valley": "sagebeck.csv"})
    after, said = shown()
    bias = errors.columns["dew_point_c"].biases
    assert "spread_fitted" in said
    assert "spread_of_one" not in said
    assert after[0] - before[0] == pytest.approx(-bias[0], abs=0.06)
    forget_learned(path)
    assert shown()[0] == pytest.approx(before)
