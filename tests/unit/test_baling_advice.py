"""Advice from chances, and the cause of the water in the hay."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from support.fields import farm_of

from hayweather.baling.advice import (
    Advice,
    Odds,
    Risk,
    advise,
    held_longest,
    likeliest,
    odds_as_it_lies,
)
from hayweather.baling.calls import CAUTIOUS_FIRST, Call
from hayweather.baling.cause import Cause, cause_of
from hayweather.farm.records import RiskLimits


def chances(**shares):
    found = np.zeros((len(Call), 1))
    for name, share in shares.items():
        found[Call[name.upper()]] = share
    return found


def advice_of(**shares):
    found = advise(odds_as_it_lies(chances(**shares)), Risk(), np.zeros(1, dtype=bool))
    return Advice(found[0])


def test_the_three_pieces_of_advice():
    assert advice_of(natural_dew=0.5, too_dry=0.35, too_wet=0.15) == Advice.GO
    assert advice_of(natural_dew=0.25, ready=0.15, too_dry=0.6) == Advice.GO
    assert advice_of(natural_dew=0.39, too_dry=0.61) == Advice.PROBE_FIRST
    assert advice_of(natural_dew=0.5, too_dry=0.34, too_wet=0.16) == Advice.PROBE_FIRST
    assert advice_of(natural_dew=0.5, too_wet=0.1, not_cured=0.1, too_dry=0.3) == (
        Advice.PROBE_FIRST
    )
    assert advice_of(natural_dew=0.25, too_dry=0.75) == Advice.PROBE_FIRST
    assert advice_of(natural_dew=0.24, too_dry=0.76) == Advice.WAIT
    assert advice_of(damp_below=1.0) == Advice.WAIT
    assert advice_of(no_data=1.0) == Advice.UNKNOWN


def test_a_stop_waits_and_a_limit_holds_back():
    odds = Odds(np.ones(2), np.zeros(2), np.ones(2, dtype=bool))
    found = advise(odds, Risk(), np.array([False, True]))
    assert found.tolist() == [Advice.GO, Advice.WAIT]
    held = advise(odds, Risk(), np.zeros(2, dtype=bool), most=Advice.PROBE_FIRST)
    assert held.tolist() == [Advice.PROBE_FIRST] * 2


@given(arrays(float, (len(Call), 7), elements=st.floats(0, 1)))
def test_no_call_shown_is_less_likely_than_another(weights):
    total = weights.sum(axis=0)
    shares = weights / np.where(total > 0, total, 1.0)
    shown = likeliest(shares)
    assert (shares[shown, np.arange(7)] >= shares.max(axis=0) - 1e-9).all()


def test_of_equals_the_most_cautious_is_shown():
    assert set(CAUTIOUS_FIRST) == set(Call)
    assert Call(likeliest(chances(too_wet=0.5, natural_dew=0.5))[0]) == Call.TOO_WET
    assert Call(likeliest(chances(too_dry=0.5, ready=0.5))[0]) == Call.TOO_DRY


def test_equal_chances_are_equal_whatever_their_last_digits():
    close = chances(too_wet=0.5, natural_dew=0.5 + 1e-10)
    assert Call(likeliest(close)[0]) == Call.TOO_WET
    assert Call(likeliest(chances(too_wet=0.5, natural_dew=0.5 + 4e-9))[0]) == Call.NATURAL_DEW


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        (RiskLimits(), Risk()),
        (RiskLimits(ready_percent=60.0), replace(Risk(), ready=0.6)),
        (RiskLimits(wet_percent=5.0), replace(Risk(), wet=0.05)),
        (RiskLimits(ready_percent=20.0), replace(Risk(), ready=0.2, probe=0.2)),
    ],
)
def test_the_limits_of_a_farm_are_percents_and_probe_is_never_above_go(limits, expected):
    assert Risk.of(farm_of(risk=limits)) == expected


WAIT, PROBE, GO = Advice.WAIT, Advice.PROBE_FIRST, Advice.GO


@pytest.mark.parametrize(
    ("quarters", "call", "expected"),
    [
        ([GO, GO, GO, WAIT], Call.READY, GO),
        ([GO, GO, GO, WAIT], Call.ADD_MOISTURE, GO),
        ([GO, GO, GO, WAIT], Call.TOO_DRY, PROBE),
        ([WAIT, WAIT, WAIT, GO], Call.TOO_DRY, WAIT),
        ([WAIT, WAIT, WAIT, GO], Call.READY, WAIT),
        ([PROBE, PROBE, PROBE, GO], Call.READY, PROBE),
        ([GO, GO, WAIT, WAIT], Call.READY, WAIT),
        ([GO, GO, PROBE, PROBE], Call.NATURAL_DEW, PROBE),
        ([PROBE, PROBE, WAIT, WAIT], Call.TOO_WET, WAIT),
        ([Advice.UNKNOWN, Advice.UNKNOWN, GO, GO], Call.READY, Advice.UNKNOWN),
        ([GO] * 4, Call.NO_DATA, Advice.UNKNOWN),
    ],
)
def test_an_hour_has_the_advice_of_most_of_it_of_two_the_more_cautious(quarters, call, expected):
    assert held_longest(np.array(quarters, dtype=np.int8), call) == expected


def test_advice_grows_bolder_with_its_number():
    """Data and comparisons hold on to the numbers: never renumber."""
    assert {item.word: int(item) for item in Advice} == {
        "unknown": 0, "wait": 1, "probe first": 2, "go": 3,
    }  # fmt: skip


@pytest.mark.parametrize("off", [-1e-12, 1e-12])
def test_a_chance_of_the_limit_is_enough_whatever_its_last_digits(off):
    known = np.ones(1, dtype=bool)
    go = Odds(np.array([0.4 + off]), np.array([0.15 - off]), known)
    assert advise(go, Risk(), ~known)[0] == GO
    probe = Odds(np.array([0.25 + off]), np.zeros(1), known)
    assert advise(probe, Risk(), ~known)[0] == PROBE


def sources(rows, **named):
    blank = {cause: np.zeros((rows, 1)) for cause in Cause if cause != Cause.DRYING}
    for name, values in named.items():
        blank[Cause[name.upper()]] = np.array(values, dtype=float)[:, None]
    return blank


def test_the_largest_source_since_the_driest_moment():
    # Dries for two quarters, then dew brings more than humid air, then it dries again.
    gain = np.array([-0.02, -0.02, 0.05, 0.05, -0.03, -0.03])
    water = 0.2 + np.concatenate([[0], np.cumsum(gain)])[:, None]
    found = cause_of(
        water,
        sources(
            6, dew=[0, 0, 0.04, 0.03, 0, 0], humid_air=[-0.02, -0.02, 0.01, 0.02, -0.03, -0.03]
        ),
        96,
    )
    assert [Cause(call) for call in found[:, 0]] == [
        *(Cause.DRYING, Cause.DRYING),
        *[Cause.DEW] * 4,
    ]


def test_rain_at_noon_is_rain_and_ground_is_ground():
    gain = np.array([0.1, 0.0, -0.01])
    water = 0.12 + np.concatenate([[0], np.cumsum(gain)])[:, None]
    rained = cause_of(water, sources(3, rain=[0.1, 0, 0], dew=[0.0, 0.0, 0.0]), 96)
    assert [Cause(call) for call in rained[:, 0]] == [Cause.RAIN] * 3
    damp = cause_of(water, sources(3, damp_ground=[0.09, 0, 0], humid_air=[0.01, 0, -0.01]), 96)
    assert [Cause(call) for call in damp[:, 0]] == [Cause.DAMP_GROUND] * 3


def test_what_lies_further_back_does_not_count():
    # Rain long ago; since then it only dries.
    gain = np.array([0.2, *[-0.02] * 9])
    water = 0.12 + np.concatenate([[0], np.cumsum(gain)])[:, None]
    found = cause_of(water, sources(10, rain=[0.2, *[0] * 9]), 4)
    assert Cause(found[0, 0]) == Cause.RAIN
    assert [Cause(call) for call in found[5:, 0]] == [Cause.DRYING] * 5
