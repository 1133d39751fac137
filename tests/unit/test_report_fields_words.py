"""A plan for fields in sentences: what it says where little is known, or nothing is left."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from hayweather.baling.value import Sheet
from hayweather.farm.records import Baler, Field, Money
from hayweather.show.plan_words import (
    behind_sentences,
    left_sentences,
    summary_sentences,
    worth_sentences,
)
from hayweather.show.voice import Voice, money_text, phrase
from hayweather.words import Remark

VOICES = [Voice("en", "us", "UTC"), Voice("es", "metric", "UTC")]


def result(**changes: object) -> SimpleNamespace:
    """What a plan says of one field, nothing left and nothing expected of its bales."""
    usual = {
        "field": Field("bench", "valley", cured=True), "left_kg": 0.0, "ways": (), "sheet": None,
        "hay_class": None, "remarks": (), "waiting_per_kg": 0.0,
    }  # fmt: skip
    return SimpleNamespace(**(usual | changes))


def plan(**changes: object) -> SimpleNamespace:
    """What the sentences read of a plan."""
    usual = {
        "farm": SimpleNamespace(money=Money(), balers={"baler": Baler("baler")}),
        "source": "plan", "gain": 1200.0, "moves_cost": 90.0, "gap": 0.0123, "missed": (),
        "blocks": (object(),), "timed_out": False, "seconds": 9.96, "unseen": None,
        "comparisons": (), "fields": (result(),), "rests": (),
        "night": SimpleNamespace(fields=()),
        "gain_range": None,
        "prices": SimpleNamespace(assumed=()), "now": np.datetime64("2025-07-09T02:30", "s"),
    }  # fmt: skip
    return SimpleNamespace(**(usual | changes))


@pytest.mark.parametrize("voice", VOICES)
def test_how_near_to_the_best_is_said_where_it_is_known(voice):
    known = summary_sentences(plan(), voice)
    assert voice.say("fields_gap", gap="1.3") in known  # rounded up, never nearer than it is
    unknown = summary_sentences(plan(gap=math.inf), voice)
    assert voice.say("fields_gap_none") in unknown
    assert len(unknown) == len(known) == 2


@pytest.mark.parametrize("voice", VOICES)
def test_what_the_range_of_the_loss_does_is_said_where_it_does_anything(voice):
    said = summary_sentences(plan(gain_range=(-150.0, 1600.0)), voice)
    ends = {"least": money_text(-150.0, voice, None), "most": money_text(1600.0, voice, None)}
    assert voice.say("fields_by_loss", **ends) in said
    tried = Baler("baler", leaf_loss=1.2, leaf_loss_range=(0.9, 1.5))
    farm = SimpleNamespace(money=Money(), balers={"baler": tried})
    said = summary_sentences(plan(gain_range=(-150.0, 1600.0), farm=farm), voice)
    assert voice.say("fields_by_loss_measured", **ends) in said
    same = summary_sentences(plan(gain_range=(100.2, 100.3)), voice)
    assert same == summary_sentences(plan(), voice)
    assert len(summary_sentences(plan(blocks=(), gain_range=(1.0, 900.0)), voice)) == 1


@pytest.mark.parametrize("voice", VOICES)
def test_a_plan_of_no_work_and_one_cut_short_say_so(voice):
    assert summary_sentences(plan(blocks=()), voice) == [voice.say("fields_idle")]
    said = summary_sentences(plan(timed_out=True), voice)
    assert voice.say("fields_timed_out", seconds="10.0") in said


def test_a_rule_is_not_set_beside_itself():
    names = ("longest_cured", "rain_first")
    rules = [SimpleNamespace(rule=rule, mean=10.0, low=5.0, high=20.0) for rule in names]
    voice = VOICES[0]
    values = {"mean": "$10", "low": "$5", "high": "$20"}
    beside = [
        voice.say("fields_beside", rule=voice.say(f"fields_rule_{each.rule}"), **values)
        for each in rules
    ]
    assert set(beside) <= set(summary_sentences(plan(comparisons=rules), voice))
    own = summary_sentences(plan(comparisons=rules, source="rain_first"), voice)
    assert beside[0] in own
    assert beside[1] not in own


@pytest.mark.parametrize("voice", VOICES)
def test_nothing_left_is_said(voice):
    assert left_sentences(plan(), voice) == [voice.say("fields_left_none")]


@pytest.mark.parametrize("voice", VOICES)
def test_what_is_known_of_the_bales_is_told_figure_by_figure(voice):
    sheet = Sheet(crude_protein=np.float64(19.5), adf=None, ndf=np.float64(38.0))
    (said,) = worth_sentences(plan(fields=(result(sheet=sheet),)), voice)
    assert voice.signed("19.5 %") in said
    assert "38 %" in said
    assert voice.say("fields_quality", field="bench", figures="|").split("|")[0] in said
    note = Remark("caution_frost", {})
    noted = worth_sentences(plan(fields=(result(remarks=(note,)),)), voice)
    assert noted == [
        voice.say("fields_note", field="bench", note=voice.say("caution_frost"))
    ]  # fmt: skip


def test_rest_and_assumed_prices_stand_behind_a_plan():
    voice = VOICES[0]
    limits = (
        "Alfalfa in large square bales: windrow 12 % to 16 %, leaf at least 12 %, stem at most 12 %"
    )
    assert behind_sentences(plan(), voice) == [voice.say("fields_rules_note"), limits]
    prices = SimpleNamespace(assumed=("lost_leaf",))
    said = behind_sentences(plan(rests=(("crew", 600, 1080),), prices=prices), voice)
    assert voice.say("fields_rest", crew="crew", start="10 am", end="6 pm") in said
    assert any(voice.say("fields_price_lost_leaf") in text for text in said[1:])


@pytest.mark.parametrize(
    ("voice", "shown"), list(zip(VOICES, ("$2.00/ton", "2,20 $/t"), strict=True))
)
def test_money_by_weight_stands_in_one_piece(voice, shown):
    left = result(
        left_kg=1000.0, left_cost_per_kg=2.0 / 907.18474, left_area_m2=4000.0, left_cost=2.2
    )
    farm = SimpleNamespace(money=Money(currency="$"))
    (said,) = left_sentences(plan(fields=(left,), farm=farm), voice)
    assert shown in said


def test_an_average_outside_its_own_range_is_explained():
    voice = VOICES[0]
    few = voice.say("fields_few_weigh")
    inside, outside = (
        SimpleNamespace(rule="rain_first", mean=mean, low=5.0, high=20.0) for mean in (10.0, 25.0)
    )
    assert not any(few in text for text in summary_sentences(plan(comparisons=[inside]), voice))
    said = summary_sentences(plan(comparisons=[outside]), voice)
    assert any(text.endswith(f"{few}") and "$25" in text for text in said)


def test_money_is_written_one_way():
    """Of a sentence made here and of a remark made with the plan: the sign on the same side."""
    for voice, shown in zip(VOICES, ("$1,500", "1.500 $"), strict=True):
        remark = Remark("fields_reason_without", {"less": (1500.0, "money"), "currency": "$"})
        assert shown in phrase(remark, voice)
        assert shown == money_text(1500.0, voice, "$")
    gain = Remark("fields_reason_gain", {"gain": (0.0022, "price_by_mass"), "currency": "$"})
    assert "2,20 $/t" in phrase(gain, VOICES[1])
    australian = Voice("en", "metric", "UTC")
    assert money_text(-1500.0, australian, "A$") == "-A$1,500"
    assert money_text(1500.0, australian, "€") == "1,500 €"


def test_a_plan_below_a_rule_on_other_runs_brings_less():
    voice = VOICES[0]
    item = SimpleNamespace(rule="rain_first", mean=-5.0, low=-9.0, high=3.0)
    [said] = [text for text in summary_sentences(plan(comparisons=(item,)), voice)
              if "Beside" in text]  # fmt: skip
    assert "$5 less" in said
    assert "-$5" not in said
