"""Quality after lost leaf, and what owning a machine costs, as their sources state them."""

from hayweather.baling.value import baling_loss_percent
from hayweather.baling.value_quality import Sheet, relative_feed_value, shifted
from hayweather.seasons.pays import break_even, capital_recovery


def cost_of_owning_a_year(price, salvage, interest_percent, years):
    return capital_recovery(price, salvage, interest_percent / 100, years)


def break_even_units(fixed, gain, variable):
    return break_even(fixed, gain, variable)


def feed_value(adf, ndf):
    return float(relative_feed_value(adf, ndf))


def protein_lost_points(leaf_percent):
    return 20.0 - float(shifted(Sheet(crude_protein=20.0), leaf_percent).crude_protein)


def ndf_gained_points(leaf_percent):
    return float(shifted(Sheet(ndf=40.0), leaf_percent).ndf) - 40.0


def small_bale_loss_percent(leaf_wb):
    return float(baling_loss_percent(leaf_wb, "small-square"))
