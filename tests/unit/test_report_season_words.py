"""Seasons in words and small tables, from records written by hand: changes, pairs, money."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from hayweather.farm.records import Money
from hayweather.seasons.pays import costs_of
from hayweather.seasons.record.results import (
    InputEffect,
    Pair,
    Pays,
    Range,
    RigVerdict,
    Sway,
    Threshold,
)
from hayweather.show.layout import table_lines
from hayweather.show.seasons_text import input_columns, sway_columns
from hayweather.show.seasons_words import (
    months_text,
    pair_sentence,
    range_text,
    rig_sentences,
    verdict_sentences,
)
from hayweather.show.table import csv_text
from hayweather.show.voice import Voice
from hayweather.units import ACRE_M2

US, METRIC = Voice("en", "us", "UTC"), Voice("es", "metric", "UTC")
TON_KG = 907.18474


def effect(key: str, change: tuple[float, str], dew: float) -> InputEffect:
    """What a change does to the hours on dew, the rest the same."""
    return InputEffect("bench", key, change, dew, 0.0, -0.04, 3.4)


def test_inputs_stand_with_their_change_in_the_readers_unit_and_a_sign():
    effects = [
        effect("mass", (1.5, "windrow_mass"), -0.5),
        effect("dew_point", (1.0, "temperature_difference"), 0.75),
        effect("dew_point", (-1.0, "temperature_difference"), -0.75),
    ]
    us, metric = (input_columns(effects, voice) for voice in (US, METRIC))
    names, dew, rig, wet, nights = us
    assert "+" not in names.cells[0]
    assert "+1.8 °F" in names.cells[1]
    assert "-1.8 °F" in names.cells[2]
    assert "+1 °C" in metric[0].cells[1]
    assert dew.cells == ("-0.5", "+0.8", "-0.8")
    assert rig.cells == wet.cells == ("0.0", "0.0", "0.0")
    assert nights.cells == ("+3", "+3", "+3")
    assert len({len(column.heading) for column in us}) == 1
    assert len(table_lines(us, 80)) == len(names.heading) + 3


def money(sways: tuple[Sway, ...], even_kg: float) -> Pays:
    """A rig that leaves 1,234 a year."""
    return Pays(
        "bench", 0.5, 0.2, 5e4, 30.0, 10.0, 900.0, 1234.4, even_kg, 40.0, (), sways
    )  # fmt: skip


def test_money_that_does_not_move_is_left_out_and_endless_hay_is_never():
    sways = (
        Sway("price", 1.0, 2.0, 2000.0, -500.0, 1000 * TON_KG, math.inf),
        Sway("wage", 1.0, 2.0, 1234.4, 1234.1, 1.0, 2.0),
    )
    names, left, even = sway_columns(money(sways, 20_000 * TON_KG), US, None)
    assert len(names.cells) == 2
    assert left.cells == ("$1,234", "-$500 to $2,000")
    never = US.say("seasons_never")
    assert even.cells == ("20,000", f"1,000 to {never}")
    metric = sway_columns(money(sways, 20e6), METRIC, "€")
    assert metric[1].cells[0] == "1.234 €"
    assert metric[2].cells[0] == "20.000"


@pytest.mark.parametrize(("low", "key"), [(-1.0, "range"), (None, "range_none")])
def test_a_pair_of_sites_says_whether_its_range_can_be_told(low, key):
    change = Range(0.5, low, None if low is None else 2.0)
    said = pair_sentence(Pair("a", "b", 12, (2019, 2020, 2023), change, change, change, change), US)
    assert said.endswith(US.say(f"seasons_pair_{key}"))
    assert "2019-2020, 2023" in said
    assert range_text(change, US) in said


def test_a_pair_without_nights_in_common_says_so():
    said = pair_sentence(Pair("a", "b", 0, (), None, None, None, None), US)
    assert said == US.say("seasons_pair_none", first="a", second="b")


def test_one_month_is_named_alone():
    assert months_text([7], US) == "July"
    assert months_text([5, 6, 7], US) == "May to July"


def test_csv_without_rows_keeps_its_notes_and_a_note_is_one_line():
    assert csv_text(["a"], [], ["made\n up"]) == "# made up\na\n"
    assert csv_text(["a"], [["1;2"], ['x"y']], []) == 'a\n1;2\n"x""y"\n'


ALL_GIVEN = Money(
    wait_cost_per_kg_day=0.003, rig_price=1.0, rig_salvage=0.0, rig_years=10.0,
    interest_percent=7.0,
    taxes_and_insurance_percent=1.0, repairs_percent=1.0, fuel_price_per_l=1.0,
    water_price_per_l=1.0, wage_per_h=1.0, rig_cost_per_h=1.0, lost_leaf_cost_per_kg=1.0,
)  # fmt: skip


def verdict(acres: float, says: str) -> RigVerdict:
    """A rig that pays above so many acres."""
    there = Threshold(acres * ACRE_M2, None, (acres * ACRE_M2, math.inf))
    return RigVerdict(
        there, there, 1.0, there, 1.0, math.inf, 1.0, 1.0, 30.0, 0.5, 0.9, None, None, says
    )


def seasons_of(nets, given=True):
    """What a rig leaves at some sites: (money left, acres from which on it pays, verdict)."""
    file = SimpleNamespace(money=SimpleNamespace(currency=None))
    pays = [
        replace(money((), 1.0), site=name, net=net, verdict=verdict(*asked))
        for name, (net, *asked) in nets.items()
    ]
    costs = costs_of(ALL_GIVEN if given else Money())
    return SimpleNamespace(file=file, pays=pays, costs=costs)


def test_a_rig_is_judged_in_three_classes_with_the_best_place_of_each_first():
    money = {"a": (-100.0, 900.0, "not"), "c": (50.0, 300.0, "open"), "b": (2500.0, 100.0, "pays"),
             "d": (90.0, 200.0, "open"), "e": (-9.0, math.inf, "not")}  # fmt: skip
    pays, doubtful, never = rig_sentences(seasons_of(money), US)
    assert pays.endswith("beside waiting for dew: b (100 acres).")
    assert doubtful.endswith("beside waiting for dew: d (200 acres), c (300 acres).")
    assert never.endswith("beside waiting for dew: e (never), a (900 acres).")


@pytest.mark.parametrize(("dry", "waiting"), [("pays", "not"), ("not", "open"), ("open", "pays")])
def test_a_rig_pays_or_not_only_where_both_ways_to_do_without_agree(dry, waiting):
    """What the grower would do instead is his to know: one way alone gives no yes or no."""
    seasons = seasons_of({"a": (1.0, 100.0, dry)})
    beside = SimpleNamespace(area_m2=Threshold(50 * ACRE_M2, None, (1.0, 2.0)), says=waiting)
    seasons.pays[0] = replace(seasons.pays[0], waiting=beside)
    (said,) = rig_sentences(seasons, US)
    assert said.startswith("Whether a rig pays is open")
    assert said.endswith("beside baling dry / beside waiting for dew: a (100 acres / 50 acres).")


def test_more_than_one_baler_does_is_no_area_from_which_a_rig_pays():
    seasons = seasons_of({"a": (1.0, 100.0, "open"), "b": (1.0, 50.0, "open")})
    seasons.pays = [
        replace(each, verdict=replace(each.verdict, most_rig_m2=60 * ACRE_M2))
        for each in seasons.pays
    ]
    (said,) = rig_sentences(seasons, US)
    assert said.endswith("beside waiting for dew: a (over one baler's 60 acres), b (50 acres).")


def test_placeholder_prices_are_named_first_and_rank_no_place():
    money = {"a": (-100.0, 900.0, "not"), "b": (2500.0, 100.0, "pays")}
    (said,) = rig_sentences(seasons_of(money, given=False), US)
    assert "price of the rig $100,000" in said
    assert said.endswith("a (900 acres), b (100 acres).")  # in the order of the file


def test_without_money_nothing_is_said_of_a_rig():
    assert rig_sentences(seasons_of({}), US) == []


def test_of_many_places_six_are_named():
    left = {f"place {n}": (100.0 * n, 10.0 * n, "pays") for n in range(1, 9)}
    (said,) = rig_sentences(seasons_of(left), US)
    assert said.endswith("place 3 (30 acres), and 2 more in the tables.")
    assert "place 8 (80 acres)" in said


def test_a_rig_that_pays_from_no_amount_on_is_said_not_to_pay():
    """Not "it pays where more is cut than no amount", with hay and with nights without dew."""
    never = Threshold(math.inf, (math.inf, math.inf), (100 * ACRE_M2, math.inf))
    found = replace(
        verdict(100.0, "not"), area_m2=never, dry_nights=replace(never, loss=(9.0, 20.0))
    )
    file = SimpleNamespace(
        money=SimpleNamespace(currency=None, price_by="leaf"),
        work=SimpleNamespace(gain_per_kg=None, area_m2=ACRE_M2, nights=1),
    )
    said = verdict_sentences(found, SimpleNamespace(file=file), US)
    assert "it does not pay, however much is cut (no amount from year to year; 100 acres" in said[0]
    assert said[1].startswith("Nor with more nights")
    assert not any("than no amount" in text for text in said)
    assert "Of 1 acre within 1 night one baler" in said[-1]
    paying = verdict_sentences(verdict(100.0, "pays"), SimpleNamespace(file=file), US)
    assert "it pays where more is cut in a season than 100 acres" in paying[0]
