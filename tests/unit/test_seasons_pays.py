"""Money of a rig: published and hand-worked figures."""

from dataclasses import replace

import pytest

from hayweather.baling.capital import break_even, capital_recovery
from hayweather.farm.records import Money
from hayweather.seasons.pays import costs_of, fixed_cost


@pytest.mark.parametrize(
    ("price", "salvage", "interest", "years", "a_year"),
    [
        (50_000, 5_000, 0.10, 5, 12_371),  # published extension example of capital recovery
        (130_000, 34_500, 0.08, 15, 13_917),  # worked by hand from the formula
    ],
)
def test_capital_recovery(price, salvage, interest, years, a_year):
    assert capital_recovery(price, salvage, interest, years) == pytest.approx(a_year, abs=0.6)


def test_capital_recovery_without_interest_is_plain_shares():
    assert capital_recovery(1000.0, 100.0, 0.0, 9.0) == pytest.approx(100.0)
    assert capital_recovery(1000.0, 100.0, 1e-9, 9.0) == pytest.approx(100.0, abs=1e-3)


def test_break_even_acres():
    assert break_even(1000.0, 21.0, 4.0) == pytest.approx(58.8, abs=0.05)  # published


def test_a_rig_of_round_numbers():
    # Worked by hand: 100,000, salvage 20,000, 7 %, 10 years, 1 % taxes and insurance.
    costs = costs_of(Money(repairs_percent=0.0))
    fixed = fixed_cost(costs)
    assert fixed == pytest.approx(13_790, abs=1)
    assert break_even(fixed, 5.0, 1.687) == pytest.approx(4_162, abs=1)
    assert break_even(fixed, 10.0, 1.687) == pytest.approx(1_659, abs=1)
    assert fixed_cost(replace(costs, repairs_percent=2.0)) == pytest.approx(15_790, abs=1)


def test_no_amount_of_hay_pays_for_a_gain_below_the_running_cost():
    assert break_even(1000.0, 3.0, 4.0) == float("inf")


def test_what_was_not_given_is_called_assumed():
    costs = costs_of(Money(rig_price=80_000.0, wage_per_h=20.0))
    assert costs.price == 80_000.0
    assert {"price", "wage_h"}.isdisjoint(costs.assumed)
    assert {"salvage", "fuel_price_l"} <= set(costs.assumed)
