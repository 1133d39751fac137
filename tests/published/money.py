"""Quality after lost leaf, and what owning a machine costs, as their sources state them."""

from hayweather.baling.value import (
    HayPrice,
    Sheet,
    baled_sheet,
    baling_loss_percent,
    relative_feed_value,
    worth_per_kg,
)
from hayweather.catalog import crop_of
from hayweather.farm.records import Field
from hayweather.seasons.pays import break_even, capital_recovery

ALFALFA = crop_of("alfalfa")


def cost_of_owning_a_year(price, salvage, interest_percent, years):
    return capital_recovery(price, salvage, interest_percent / 100, years)


def break_even_units(fixed, gain, variable):
    return break_even(fixed, gain, variable)


def feed_value(adf, ndf):
    return float(relative_feed_value(adf, ndf))


def without_leaf(sheet, leaf_points):
    """The figures once the hay holds so many points of leaf less; the loss for it by mass."""
    stem = 1 - ALFALFA.leaf_share
    return baled_sheet(sheet, leaf_points / (stem + leaf_points / 100), ALFALFA.name)


def protein_lost_points(leaf_points):
    return 20.0 - float(without_leaf(Sheet(crude_protein=20.0), leaf_points).crude_protein)


def ndf_gained_points(leaf_points):
    return float(without_leaf(Sheet(ndf=40.0), leaf_points).ndf) - 40.0


def price_ratio_percent(feed_value, base):
    """Price of hay of one feed value beside that of another, in proportion."""
    digestible = 88.9 - 0.779 * 27.0
    sheets = [Sheet(adf=27.0, ndf=digestible * 120 / 1.29 / rfv) for rfv in (feed_value, base)]
    return 100 * float(HayPrice(1.0, "rfv", price_rfv=base).of_rfv(*sheets))


def cost_of_a_point_of_leaf(price, ndf, adf):
    """A ton of hay, paid by feed value, that holds a point of leaf less."""
    field = Field("field", "", ndf_percent=ndf, adf_percent=adf)
    lost = 1 / (1 - ALFALFA.leaf_share + 1 / 100)
    return price - float(worth_per_kg(lost, field, HayPrice(price, "rfv")))


def small_bale_loss_percent(leaf_wb):
    return float(baling_loss_percent(leaf_wb, ALFALFA.name, "small-square"))
