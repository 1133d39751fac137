"""Money of a rig: published and hand-worked figures."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from hayweather.farm.records import Baler, Field, Money, Rig, Site
from hayweather.seasons.pays import break_even, capital_recovery, costs_of, fixed_cost, pays_of
from hayweather.seasons.record.nights import Nights, join_nights, unknown_nights
from hayweather.seasons.record.results import Pays, SiteSeasons
from hayweather.seasons.record.sites import Sites, Work
from hayweather.seasons.tally import tally_of, wait, year_of

RIG = Rig("rig", 4000.0, 10.0, 80.0, 40.0, 20.0, heated=True, fuel_rate_l_h=3.0)
CAPACITY = 10_000.0
ROUND = Money(
    rig_price=10_000.0,
    rig_salvage=0.0,
    rig_years=10.0,
    interest_percent=0.0,
    taxes_and_insurance_percent=0.0,
    repairs_percent=0.0,
    fuel_price_per_l=10.0,
    water_price_per_l=0.01,
    wage_per_h=20.0,
    rig_cost_per_h=30.0,
)


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


def nights_of_year(year: int, dew_h: object, rig_kg: float = 30_000.0) -> Nights:
    """Nights on each of which the rig works three hours, two of them with flow."""
    hours = np.asarray(dew_h, dtype=float)
    blank = unknown_nights(np.datetime64(date(year, 6, 1), "D") + np.arange(hours.size), 0)
    fixed = {
        "rig_h": 3.0, "rig_kg": rig_kg, "water_l": 600.0, "flow_h": 2.0, "wet_h": 0.0,
        "dry_h": 0.0, "rain_before_mm": 0.0, "dry_loss": 6.0, "rig_loss": 4.0,
    }  # fmt: skip
    columns = {name: np.full(hours.size, value) for name, value in fixed.items()}
    return replace(blank, dew_h=hours, rain_known=np.ones(hours.size, dtype=bool), **columns)


WINDROW = Field("windrow", "", cured=True)


def pays(
    dew_by_year: dict[int, object],
    money: Money = ROUND,
    field: Field = WINDROW,
    rain_mm: object = 0.0,
    rain_known: bool = True,
    **work: float,
) -> Pays:
    """The money of a rig over some years; 50 t that may wait two nights, three times a year."""
    parts = {year: nights_of_year(year, dew) for year, dew in dew_by_year.items()}
    for year, part in parts.items():
        rain = np.broadcast_to(np.asarray(rain_mm, dtype=float), part.evening.shape)
        known = np.full(part.evening.shape, rain_known)
        parts[year] = replace(part, rain_before_mm=rain, rain_known=known)
    nights = join_nights(list(parts.values()))
    rest = (2.0, RIG, CAPACITY)
    years = tuple(year_of(part, year, (6,), *rest) for year, part in parts.items())
    pooled = tally_of(nights, *rest, real=True)
    place = Site("bench", 40.0, -105.0, 1500.0, "America/Denver")
    site = SiteSeasons(
        place, False, True, years, pooled, {6: pooled}, None, None, nights, (), (), ()
    )
    chosen = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=2, **work)
    file = Sites(
        "file", {}, field, Baler("baler", capacity_kg_h=CAPACITY), RIG,
        False, chosen, money, path=Path("sites.toml"),
    )  # fmt: skip
    found = pays_of(site, file, costs_of(money))
    assert found is not None
    return found


def test_a_partial_budget_worked_by_hand():
    # Per tonne: 0.1 h at 50, 20 L of water at 0.01, 0.2 L of fuel at 10: 7.2. Fixed 1,000 a year.
    found = pays({2023: [0.0] * 8}, gain_per_kg=0.0172)
    assert found.variable_t == pytest.approx(7.2)
    assert found.fixed == pytest.approx(1000.0)
    assert found.good_kg == pytest.approx(150_000.0)
    assert found.net == pytest.approx(150 * 10 - 1000)
    assert found.break_even_kg == pytest.approx(100_000.0)
    assert found.break_even_h == pytest.approx(10.0)


def test_the_gain_is_the_leaf_saved_unless_the_user_has_a_trial():
    # Two points less loss, each tonne of leaf at 260.
    assert pays({2023: [0.0] * 8}).gain_t == pytest.approx(0.02 * 260.0, rel=1e-3)
    assert pays({2023: [0.0] * 8}, gain_per_kg=0.012).gain_t == pytest.approx(12.0)


def test_the_gain_by_feed_value_counts_the_leaf_as_weight_and_in_the_figures():
    """By hand at 190 a tonne of NDF 38, ADF 30 (RFV 160.4): 6 % lost dry, 4 % with the rig.

    Leaf 3.383 and 2.208 points less; NDF 39.488 and 38.972, ADF 31.191 and 30.777; RFV 152.18 and
    154.97 of 160.416; 190 x 0.94 x 152.18/160.416 = 169.43 and 190 x 0.96 x 154.97/160.416 =
    176.20.
    """
    field = Field("windrow", "", cured=True, ndf_percent=38.0, adf_percent=30.0)
    money = replace(ROUND, price_by="rfv", price_per_kg=0.19)
    found = pays({2023: [0.0] * 8}, money, field)
    assert found.gain_t == pytest.approx(176.20 - 169.43, abs=0.02)
    sways = {sway.key: sway for sway in found.sways}
    assert "lost_leaf_t" not in sways
    assert sways["hay_t"].net_high - found.net == pytest.approx(150 * 0.25 * found.gain_t)
    assert sways["gain"].low < found.gain_t < sways["gain"].high
    classes = (("supreme", 0.2), ("premium", 0.2), ("good", 0.2), ("fair", 0.2), ("utility", 0.2))
    flat = replace(ROUND, price_by="class", price_per_kg=0.2, class_prices=classes)
    assert pays({2023: [0.0] * 8}, flat, field).gain_t == pytest.approx(0.02 * 200.0)


def test_hay_that_dew_serves_in_time_is_not_the_rig_s():
    dewy = pays({2023: [5.0] * 8}, gain_per_kg=0.0172)
    assert dewy.good_kg == 0.0
    assert dewy.net == pytest.approx(-1000.0)
    half = pays({2023: [1.25] * 8}, gain_per_kg=0.0172)  # dew does 25 t of 50 in two nights
    assert half.dry_share == half.good_share == pytest.approx(0.5)
    assert half.good_kg == pytest.approx(75_000.0)


def test_money_and_break_even_move_with_wages_fuel_and_price():
    sways = {sway.key: sway for sway in pays({2023: [0.0] * 8}, gain_per_kg=0.0172).sways}
    wage = sways["wage_h"]
    assert (wage.low, wage.high) == (15.0, 30.0)
    assert wage.net_low == pytest.approx(150 * 10.5 - 1000)
    assert wage.net_high == pytest.approx(150 * 9.0 - 1000)
    assert wage.even_low_kg == pytest.approx(1e6 / 10.5)
    assert wage.even_high_kg == pytest.approx(1e6 / 9.0)
    assert sways["fuel_price_l"].net_high == pytest.approx(150 * 8.0 - 1000)
    assert sways["price"].even_high_kg == pytest.approx(125_000.0)
    assert sways["gain"].even_low_kg == float("inf")  # a third of the gain is below the cost
    assert "weather" not in sways


def test_dry_and_dewy_years_are_set_apart():
    found = pays({2022: [5.0] * 8, 2023: [0.0] * 8}, gain_per_kg=0.0172)
    assert [year.good_kg for year in found.years] == pytest.approx([0.0, 150_000.0])
    weather = next(sway for sway in found.sways if sway.key == "weather")
    assert (weather.net_low, weather.net_high) == pytest.approx((-1000.0, 500.0))
    assert found.net == pytest.approx(-250.0)


def test_from_where_a_rig_pays_worked_by_hand():
    """Two years of 50 t three times, two nights each; dew does a half, and none of it.

    Every start counts alike: 75 t and 150 t made good, 112.5 on average, of 15 ha cut in a season.
    A gain of 17.2 less running of 7.2 is 10 a tonne, against 1,000 a year: 100 t. So 15 x
    100/112.5 = 13.33 ha on average, 10 and 20 ha by year; a gain of 1000/112.5 + 7.2; and of eight
    nights without usable dew 8 x 100/112.5.
    Dew alone with more balers: half of the starts never finish, so no six balers do it.
    """
    found = pays({2022: [1.25] * 8, 2023: [0.0] * 8}, gain_per_kg=0.0172)
    verdict = found.verdict
    assert found.good_kg == pytest.approx(112_500.0)
    assert verdict.area_m2.value == pytest.approx(133_333.3, rel=1e-5)
    assert verdict.area_m2.years == pytest.approx((100_000.0, 200_000.0))
    assert verdict.season_area_m2 == pytest.approx(150_000.0)
    assert verdict.price_now_t == pytest.approx(17.2)
    assert verdict.price_t.value == pytest.approx(1000 / 112.5 + 7.2)
    assert verdict.price_t.years == pytest.approx((1000 / 150 + 7.2, 1000 / 75 + 7.2))
    assert (verdict.dry_nights_now, verdict.nights) == (8.0, 8.0)
    assert verdict.dry_nights.value == pytest.approx(8 * 100 / 112.5)
    assert verdict.area_m2.loss[1] == float("inf")  # at the least gain the work is not covered
    assert verdict.balers is None
    assert (verdict.done_dew, verdict.done_rig) == pytest.approx((0.25, 1.0))
    assert verdict.says == "open"


def test_another_baler_is_what_a_rig_saves_where_dew_is_short():
    """Dew does 25 t of 50 in two nights: two balers do all. Rig: 1,000 + 75 x 7.2 a year."""
    verdict = pays({2023: [1.25] * 8}, gain_per_kg=0.0172).verdict
    assert verdict.balers == 2
    assert verdict.other_baler.value == pytest.approx(1000 + 75 * 7.2)
    assert verdict.other_baler.years is None
    enough = pays({2023: [5.0] * 8}, gain_per_kg=0.0172).verdict
    assert (enough.balers, enough.other_baler, enough.dry_nights) == (1, None, None)
    assert enough.says == "not"


def test_a_rig_pays_where_every_year_and_every_published_loss_says_so():
    cheap = replace(ROUND, rig_price=100.0)
    assert pays({2023: [0.0] * 8}, cheap, gain_per_kg=0.1).verdict.says == "pays"


def test_beside_waiting_the_days_and_the_running_count_worked_by_hand():
    """Dew does a quarter of a cutting a night, the rig six tenths: in after two nights 0.5 and 1.

    The rig does 0.6 of it (0.25 is left to dew in the first night and 0.15 in the second). A ton
    lies 0.75 and 0.15 days. Of 150 t a year: leaf 0.5 x 17.2, time 0.6 x 3, running 0.6 x 7.2 each.
    """
    money = replace(ROUND, wait_cost_per_kg_day=0.003)
    found = pays({2023: [1.25] * 8}, money, gain_per_kg=0.0172)
    waiting = found.waiting
    assert waiting.in_dew == pytest.approx((0.25, 0.5))
    assert waiting.in_rig == pytest.approx((0.85, 1.0))
    assert (waiting.days_dew, waiting.days_rig) == pytest.approx((0.75, 0.15))
    assert waiting.by_rig == pytest.approx(0.6)
    assert waiting.leaf.value == pytest.approx(0.5 * 150 * 17.2)
    assert waiting.time.value == pytest.approx(0.6 * 150 * 3)
    assert waiting.running.value == pytest.approx(-0.6 * 150 * 7.2)
    assert waiting.rain is None  # no price of hay
    assert waiting.net.value == pytest.approx(1290 + 270 - 648 - 1000)
    assert waiting.net_wait == pytest.approx((1290 - 648 - 1000, 1290 + 540 - 648 - 1000))
    assert waiting.area_m2.value == pytest.approx(150_000 * 1000 / 912)
    assert waiting.area_m2.years is None
    assert waiting.says == "open"
    cheap = replace(money, rig_price=100.0)
    assert pays({2023: [1.25] * 8}, cheap, gain_per_kg=0.1).waiting.says == "pays"
    dewy = pays({2023: [5.0] * 8}, money, gain_per_kg=0.0172).waiting
    assert (dewy.by_rig, dewy.net.value, dewy.says) == (0.0, -1000.0, "not")


def test_rain_falls_on_what_still_lies():
    """10 mm before the third of four nights: it finds 0.75 of the second run lying, or 0.15.

    The first run stays dry; 25 % of 200 lost to 25 mm is 2 a ton and millimeter, and the mean of
    both runs 150 x 2 x 10 x (0.75 - 0.15) / 2.
    """
    money = replace(ROUND, price_per_kg=0.2, rain_loss_percent=25.0)
    wet = pays({2023: [1.25] * 4}, money, rain_mm=[0, 0, 10, 0], gain_per_kg=0.0172).waiting
    assert (wet.rain_dew, wet.rain_rig) == pytest.approx((3.75, 0.75))
    assert wet.rain.value == pytest.approx(150 * 2 * 10 * 0.6 / 2)
    unknown = pays({2023: [1.25] * 4}, money, rain_known=False, gain_per_kg=0.0172).waiting
    assert (unknown.rain, unknown.rain_dew) == (None, None)


def test_rain_of_two_days_in_a_row_is_not_counted_twice():
    """Sums of two days: 10 mm, then 12 of which 2 are new; nothing in, all of it lies."""
    nights = nights_of_year(2023, [0.0] * 3, rig_kg=0.0)
    nights = replace(nights, rain_before_mm=np.array([0.0, 10.0, 12.0]))
    work = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=3)
    found = wait(nights, work, CAPACITY, real=True)
    assert found.rain_dew == pytest.approx([12.0])
    assert found.days_dew == pytest.approx([2.0])
