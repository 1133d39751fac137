"""The catalog: complete records with sources and words, and no second place that knows them."""

import re
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

import hayweather
from hayweather.baling.water import Landing
from hayweather.catalog import (
    BALERS,
    CROPS,
    DEFAULT_BALER,
    DEFAULT_CROP,
    Figure,
    Source,
    crop_of,
    kind_of,
    prices,
    rigs,
)
from hayweather.errors import InputError
from hayweather.farm.records import Money, Rig
from hayweather.farm.tables import BALER, FIELD, MONEY, RIG
from hayweather.words import LANGUAGES, say

PACKAGE = Path(hayweather.__file__).parent


@pytest.mark.parametrize("records", [CROPS, BALERS], ids=["crops", "balers"])
def test_every_record_has_its_name_and_a_word_of_its_own(records):
    assert all(record.name == name for name, record in records.items())
    for language in LANGUAGES:
        words = [say(record.text, language) for record in records.values()]
        assert len(set(words)) == len(words)


def test_the_farm_file_offers_what_the_catalog_has():
    choices = {key.name: key.choices for table in (FIELD, BALER) for key in table.keys}
    assert choices["crop"] is CROPS
    assert choices["kind"] is BALERS
    assert DEFAULT_CROP in CROPS
    assert DEFAULT_BALER in BALERS


def test_no_crop_is_a_silent_copy_of_another():
    """Who has another crop's curves says so, or was fitted together with it."""
    for crop in CROPS.values():
        for other in CROPS.values():
            if crop.leaf == other.leaf and crop is not other:
                assert "assumed" in (crop.curves_source.status, other.curves_source.status)


def sources(record):
    """Every source in a record, those inside its parts too."""
    for item in fields(record):
        value = getattr(record, item.name)
        if isinstance(value, Source):
            yield value
        elif hasattr(value, "__dataclass_fields__"):
            yield from sources(value)


@pytest.mark.parametrize("name", [*CROPS, *BALERS])
def test_what_is_not_assumed_names_its_source(name):
    record = CROPS.get(name) or BALERS[name]
    found = list(sources(record))
    assert len(found) >= 3
    assert all(item.name for item in found if item.status not in ("assumed", "common"))


def test_bands_lie_below_their_ceilings():
    for kind in BALERS.values():
        limits = kind.limits
        assert limits.low_wb < limits.high_wb <= limits.ceiling_wb
        least, most = kind.pace.efficiency_range
        assert least < kind.pace.field_efficiency < most
        assert 0 < kind.pace.slow_m_s < kind.pace.fast_m_s


@pytest.mark.parametrize(
    ("figures", "record", "table"),
    [
        (rigs.DEFAULTS, Rig, RIG),
        (rigs.PLACEHOLDERS, Rig, RIG),
        (prices.PRICES, Money, MONEY),
    ],
)
def test_figures_belong_to_keys_of_the_farm_file_and_lie_in_their_range(figures, record, table):
    known = {key.target: key for key in table.keys}
    assert set(figures) <= set(known) & {item.name for item in fields(record)}
    for name, figure in figures.items():
        assert isinstance(figure, Figure)
        assert known[name].low <= figure.value <= known[name].high, name


def test_the_defaults_of_a_rig_are_those_of_the_catalog():
    rig = Rig("rig", 4000.0, 20.0, 80.0, 40.0, 20.0)
    plain = rigs.DEFAULTS.keys() - rigs.DRAWN.keys()
    assert {name: getattr(rig, name) for name in plain} == {
        name: rigs.DEFAULTS[name].value for name in plain
    }
    usual = {name: rigs.DEFAULTS[name].value for name in rigs.DRAWN}
    assert Landing.of(rig) == Landing(usual["leaf_share"], usual["top_share"])
    for name, (low, high) in rigs.DRAWN.items():
        assert low < usual[name] < high


def test_a_share_in_the_farm_file_is_not_drawn():
    """The other still is; every lane has its own."""
    drawn = {name: np.linspace(*ends, 3) for name, ends in rigs.DRAWN.items()}
    rig = Rig("rig", 4000.0, 20.0, 80.0, 40.0, 20.0, leaf_share=0.8)
    found = Landing.of(rig, drawn)
    assert found.leaf == 0.8
    np.testing.assert_array_equal(found.top, drawn["top_share"])
    assert found.at(np.array([2])).top == drawn["top_share"][2]


@pytest.mark.parametrize(("find", "where"), [(crop_of, "crop"), (kind_of, "kind")])
def test_an_unknown_name_is_refused_with_those_known(find, where):
    with pytest.raises(InputError) as caught:
        find("moon")
    line = str(caught.value)
    assert line.startswith(f'{where}: "moon" is not one of "')
    assert "\n" not in line


# Names of the catalog as a string of code, or, where no other word looks like them, anywhere.
NAMES = "|".join(sorted(map(re.escape, (*CROPS, *BALERS)), key=len, reverse=True))
HYPHENED = "|".join(re.escape(name) for name in (*CROPS, *BALERS) if "-" in name)
NAMED = re.compile(rf"""["'`](?:{NAMES})["'`]|\b(?:{HYPHENED})\b""")
# Rooms whose job it is to name them.
MAY_NAME = ("catalog", "words", "guide")


def named_in(text):
    """Crops and kinds of baler that a text of code names."""
    return NAMED.findall(text)


def test_no_other_place_names_a_crop_or_a_kind_of_baler():
    files = [path for end in ("*.py", "*.html", "*.js") for path in PACKAGE.rglob(end)]
    assert len(files) > 100
    found = {
        str(path.relative_to(PACKAGE)): names
        for path in files
        if path.relative_to(PACKAGE).parts[0] not in MAY_NAME
        and (names := named_in(path.read_text(encoding="utf-8")))
    }
    assert found == {}


def test_a_name_would_be_found():
    assert named_in('if crop == "alfalfa":') == ['"alfalfa"']
    assert named_in("three-tie as small-square") == ["three-tie", "small-square"]
    assert named_in("round(3.2), grass is green, CEREAL") == []
