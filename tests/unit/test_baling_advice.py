"""Advice from chances, and the cause of the water in the hay."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from hayweather.baling.advice import Advice, Odds, Risk, advise, likeliest, odds_as_it_lies
from hayweather.baling.calls import CAUTIOUS_FIRST, Call
from hayweather.baling.cause import Cause, cause_of


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
