"""Bands, ceilings and limits by kind of bale and crop.

Expected numbers: the design's table. Ceilings without preservative are the
extension figures small square 18-20, large round 16-18, large square 16-17,
4x4 of 2,500 lb about 14 (% wb); each ceiling must lie in its range. Export top
and leaf minimum: common practice, no source.
"""

import pytest

from hayweather.farm.bands import bale_end_m, band_for, is_heavy
from hayweather.farm.records import Baler, Field, Preservative

ALFALFA = Field("north", "home")


@pytest.mark.parametrize(
    ("kind", "band", "ceiling", "stem", "published"),
    [
        ("small-square", (12, 18), 20, 14, (18, 20)),
        ("three-tie", (12, 16), 17, 13, None),
        ("round", (12, 16), 18, 13, (16, 18)),
        ("large-square", (12, 16), 17, 12, (16, 17)),
    ],
)
def test_defaults_by_kind(kind, band, ceiling, stem, published):
    found = band_for(Baler("baler", kind), ALFALFA)
    assert (found.low_wb, found.high_wb) == band
    assert (found.ceiling_wb, found.stem_limit_wb, found.by_label) == (ceiling, stem, False)
    if published is not None:
        assert published[0] <= found.ceiling_wb <= published[1]


@pytest.mark.parametrize(
    "baler",
    [
        Baler("b", bale_size="4x4"),
        Baler("b", bale_size="4 x 4 x 8 ft"),
        Baler("b", bale_size="120x120 cm"),
        Baler("b", bale_size="1.2x1.3"),
        Baler("b", bale_size="1,2x1,3"),
        Baler("b", bale_size="1,2 m x 1,3 m"),
        Baler("b", bale_size='47x50"'),
        Baler("b", bale_size="3x4", bale_mass_kg=1001),
        Baler("b", "round", bale_mass_kg=1200),
    ],
)
def test_four_by_four_and_heavy_bales(baler):
    found = band_for(baler, ALFALFA)
    assert (found.low_wb, found.high_wb, found.ceiling_wb) == (11, 14, 14)
    assert found.leaf_minimum_wb == 11


@pytest.mark.parametrize(
    "size", ["3x3", "3x4", "3x4x8", "90x120 cm", "50x60 cm", "80x90", "31.5x34.4", "0,9x1,2"]
)
def test_smaller_large_squares_are_not_heavy(size):
    assert not is_heavy(Baler("b", bale_size=size, bale_mass_kg=1000))


def test_a_small_square_of_large_numbers_is_not_heavy():
    assert not is_heavy(Baler("b", "small-square", bale_size="46x61 cm"))


@pytest.mark.parametrize("text", ["", "big", "4", "0x4"])
def test_what_is_no_size(text):
    assert bale_end_m(text) is None


def test_export_lowers_the_top_to_13():
    found = band_for(Baler("b", "small-square", market="export"), ALFALFA)
    assert (found.low_wb, found.high_wb, found.ceiling_wb) == (12, 13, 20)


def test_preservative_makes_the_ceiling_the_users():
    label = Preservative("6 lb/ton", 24)
    found = band_for(Baler("b", preservative=label, band_wb=(14, 22)), ALFALFA)
    assert (found.low_wb, found.high_wb, found.ceiling_wb, found.by_label) == (14, 22, 24, True)


def test_preservative_alone_does_not_widen_the_band():
    found = band_for(Baler("b", preservative=Preservative("6 lb/ton", 24)), ALFALFA)
    assert (found.low_wb, found.high_wb) == (12, 16)


def test_a_label_below_the_usual_top_lowers_it():
    found = band_for(Baler("b", preservative=Preservative("1 lb/ton", 15)), ALFALFA)
    assert found.high_wb == 15


@pytest.mark.parametrize(
    ("crop", "minimum"), [("alfalfa", 12), ("alfalfa-grass", 10), ("grass", None), ("cereal", None)]
)
def test_leaf_minimum_by_crop(crop, minimum):
    assert band_for(Baler("b"), Field("f", "s", crop)).leaf_minimum_wb == minimum


def test_leaf_minimum_follows_the_farms_band():
    assert band_for(Baler("b", band_wb=(13, 15)), ALFALFA).leaf_minimum_wb == 13


@pytest.mark.parametrize("crop", ["alfalfa", "grass"])
def test_the_farms_own_limits_win(crop):
    baler = Baler("b", leaf_minimum_wb=9, stem_limit_wb=14)
    found = band_for(baler, Field("f", "s", crop))
    assert (found.leaf_minimum_wb, found.stem_limit_wb) == (9, 14)
