"""A crop and a kind of baler that did not exist a minute ago, through the commands.

One record in the catalog and its word in both languages, nothing else: all that
"add a crop" and "add a kind of baler" of DEVELOPERS.md ask for. The numbers are
toys, chosen unlike every record that ships.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from cli.commands import done, farm_with, refused
from support.outlooks import FOLDER

from hayweather import words
from hayweather.catalog import (
    BALERS,
    CROPS,
    BalerKind,
    BalingLoss,
    Crop,
    Figure,
    MoistureLimits,
    Sorption,
    Source,
)
from hayweather.catalog.balers import Pace

TOY = Source("assumed", "a toy of the tests")

SAINFOIN = Crop(
    "sainfoin",
    "crop_sainfoin",
    leaf=Sorption(0.5, amount=0.97),
    stem=Sorption(0.31),
    curves_source=TOY,
    leaf_share=0.4,
    leaf_share_source=TOY,
    leaf_minimum=11.5,
    loss=BalingLoss(9.0, 0.05, 2.0, 8.5, 1.1, 0.5, (0.25, 1.0), TOY),
)
TWIN = BalerKind(
    "twin-square",
    "bales_twin_square",
    MoistureLimits(12.5, 15.5, 16.5, 11.0),
    TOY,
    Pace(0.7, (0.6, 0.8), 1.2, 2.9, TOY),
    capacity=Figure(11_000.0, TOY),
    loss_factor=Figure(0.9, TOY),
    bale_size=("2x3", "60x90 cm"),
    bale_weight=("700", "320"),
)
TEXTS = {
    "crop_sainfoin": {"en": "sainfoin", "es": "esparceta"},
    "bales_twin_square": {"en": "twin square bales", "es": "pacas dobles"},
}
LIMITS = (
    "sainfoin in twin square bales: windrow 12.5 % to 15.5 %, leaf at least 11.5 %, "
    "stem at most 11 %"
)


@pytest.fixture(autouse=True)
def added(monkeypatch):
    """The toys in the catalog, as if their records and words stood there."""
    monkeypatch.setitem(CROPS, SAINFOIN.name, SAINFOIN)
    monkeypatch.setitem(BALERS, TWIN.name, TWIN)
    for key, text in TEXTS.items():
        monkeypatch.setitem(words.table(), key, text)


def toy_farm(folder: Path, *changes: tuple[str, str]) -> Path:
    """Sagebeck's farm file with both toys, its bales of no size given."""
    return farm_with(
        folder,
        ('crop = "alfalfa"', 'crop = "sainfoin"'),
        ('kind = "large-square"\nbale_size = "3x4"\n', 'kind = "twin-square"\n'),
        *changes,
    )


def flat(text: str) -> str:
    """A text without the breaks of its lines."""
    return " ".join(text.split())


def test_outlook(tmp_path, capsys):
    farm = toy_farm(tmp_path)
    text = flat(done(capsys, "outlook", farm, "--field", "bench", "--all"))
    assert "Alfalfa" not in text
    assert "Twin square bales: band 12.5 % to 15.5 %, leaf at least 11.5 %" in text
    assert "how sainfoin takes up moisture is assumed" in text.lower()
    assert "shatters" not in text  # its loss is known
    field = json.loads(done(capsys, "outlook", farm, "--field", "bench", "--format", "json"))
    assert field["fields"][0]["band"] == {
        "low": 12.5,
        "high": 15.5,
        "leaf_minimum": 11.5,
        "stem_limit": 11.0,
    }


def test_outlook_in_spanish(tmp_path, capsys):
    farm = toy_farm(tmp_path, ('language = "en"', 'language = "es"'))
    text = flat(done(capsys, "outlook", farm, "--field", "bench", "--all"))
    assert "bench: esparceta" in text
    assert "Pacas dobles: rango 12.5 % a 15.5 %, hoja al menos 11.5 %" in text


@pytest.mark.slow
def test_runsheet(tmp_path, capsys):
    text = flat(done(capsys, "runsheet", toy_farm(tmp_path), "--field", "bench"))
    assert "Alfalfa" not in text
    assert LIMITS in text.replace("Sainfoin", "sainfoin")
    assert "70 %" in text  # its field efficiency, called assumed


@pytest.mark.slow
def test_plan(tmp_path, capsys):
    farm = toy_farm(tmp_path)
    text = flat(done(capsys, "fields", farm, "--time-limit", "2"))
    assert LIMITS in text.replace("Sainfoin", "sainfoin")


def toy_sites(folder: Path, crop: str, kind: str) -> Path:
    """The sample sites file with a crop and a kind of baler, its capacity not given."""
    text = (FOLDER / "seasons" / "sites.toml").read_text(encoding="utf-8")
    for old, new in (
        ("[windrow]\n", f'[windrow]\ncrop = "{crop}"\n'),
        ('kind = "large-square"\nbale_size = "3x4"\ncapacity = "25 ton/h"', f'kind = "{kind}"'),
        ('"bench_*.csv"', f'"{FOLDER / "seasons"}/bench_*.csv"'),
        ('"meadow_2023.csv", "meadow_2024.csv"', f'"{FOLDER / "seasons"}/meadow_2023.csv"'),
    ):
        assert old in text, old
        text = text.replace(old, new, 1)
    path = folder / "sites.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.slow
def test_seasons(tmp_path, capsys):
    text = flat(done(capsys, "seasons", toy_sites(tmp_path, "sainfoin", "twin-square"), "--detail"))
    assert LIMITS in text.replace("Sainfoin", "sainfoin")
    assert "Baler capacity 12.1 ton/h, assumed for its kind" in text  # 11 t


def rig_money(capsys, sites: Path) -> list[dict]:
    """What a rig would bring at each site in July, where the crop's loss is known."""
    form = json.loads(done(capsys, "seasons", sites, "--months", "7", "--format", "json"))
    return (form["pays"] or {}).get("sites", [])


@pytest.mark.slow
def test_a_rig_saves_leaf_of_a_crop_whose_loss_is_known(tmp_path, capsys, monkeypatch):
    """Worth counted with the toy's curve; without one nobody says whether a rig pays."""
    sites = toy_sites(tmp_path, "sainfoin", "twin-square")
    once = rig_money(capsys, sites)[0]["gain_t"]
    assert once > 0
    double = replace(SAINFOIN, loss=replace(SAINFOIN.loss, level=2 * SAINFOIN.loss.level))
    monkeypatch.setitem(CROPS, SAINFOIN.name, double)
    assert rig_money(capsys, sites)[0]["gain_t"] == pytest.approx(2 * once, rel=1e-3)
    monkeypatch.setitem(CROPS, SAINFOIN.name, replace(SAINFOIN, loss=None))
    assert rig_money(capsys, sites) == []


def test_the_starter_offers_them(tmp_path, capsys):
    done(capsys, "farm", tmp_path / "en")
    text = (tmp_path / "en" / "farm.toml").read_text(encoding="utf-8")
    assert f"# one of: {', '.join(CROPS)}\n" in text
    assert f"{', '.join(BALERS)}\n" in text
    assert {"sainfoin", "twin-square"} <= {*CROPS, *BALERS}


def test_a_slip_is_told_what_is_known(tmp_path, capsys):
    line = refused(capsys, "outlook", farm_with(tmp_path, ('"alfalfa"', '"sainfoil"')))
    assert '"sainfoin"; did you mean "sainfoin"?' in line
    big = ('"twin-square"\n', '"twin-square"\nbale_size = "big"\n')
    line = refused(capsys, "outlook", toy_farm(tmp_path, big))
    assert line.endswith('like: bale_size = "2x3"')


def test_inspect(tmp_path, capsys):
    text = flat(done(capsys, "inspect", toy_farm(tmp_path)))
    assert f"bench {LIMITS}" in text
    assert "stem_limit 11 % (by the kind of bale)" in text
