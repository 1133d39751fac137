"""Counting: quantiles as defined, runs of nights, cuttings followed, pairs, trends, ranges."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from support.made_sheets import BALER, simple_sheet

from hayweather.farm.records import Rig, Site
from hayweather.seasons.compare import mean_range, pair_of, trend_of
from hayweather.seasons.nights import rig_pace
from hayweather.seasons.record.nights import Missing, Nights, unknown_nights
from hayweather.seasons.record.results import SiteSeasons
from hayweather.seasons.record.sites import Work
from hayweather.seasons.tally import (
    finish_of,
    follow,
    fuel_of,
    kept_nights,
    longest_without,
    reached_by,
    spread_of,
    tally_of,
    year_of,
)
from hayweather.weather.record import HOUR

RIG = Rig("rig", 4000.0, 20.0, 80.0, 40.0, 20.0, fuel_rate_l_h=30.0)
CAPACITY = 10_000.0


def nights(
    dew_h: object,
    first: date = date(2023, 6, 1),
    rain_mm: object = 0.0,
    missing: object = 0,
    rig_kg: object = 0.0,
) -> Nights:
    """Evenings one after the other with hours on dew as said."""
    hours = np.asarray(dew_h, dtype=float)
    evening = np.datetime64(first, "D") + np.arange(hours.size)
    blank = unknown_nights(evening, 0)
    zeros = np.zeros(hours.size)
    named = dict.fromkeys(("rig_h", "wet_h", "dry_h", "stop_h", "water_l", "flow_h"), zeros)
    values = {item: getattr(blank, item) for item in Nights.__dataclass_fields__} | named
    values |= {
        "dew_h": hours,
        "missing": np.broadcast_to(np.asarray(missing, dtype=np.int16), hours.shape).copy(),
        "rain_before_mm": np.broadcast_to(np.asarray(rain_mm, dtype=float), hours.shape).copy(),
        "rig_kg": np.broadcast_to(np.asarray(rig_kg, dtype=float), hours.shape).copy(),
        "spun_up": np.ones(hours.size, dtype=bool),
        "rain_known": np.ones(hours.size, dtype=bool),
    }
    return Nights(**values)


def years_site(name: str, dew_by_year: dict[int, object]) -> SiteSeasons:
    """A site of whole years of some nights."""
    parts = [nights(dew, date(year, 6, 1)) for year, dew in dew_by_year.items()]
    joined = Nights(
        **{
            item: np.concatenate([getattr(part, item) for part in parts])
            for item in Nights.__dataclass_fields__
        }
    )
    years = tuple(
        year_of(joined.only(joined.year == year), year, (6,), 2.0, RIG, CAPACITY)
        for year in dew_by_year
    )
    pooled = tally_of(joined, 2.0, RIG, CAPACITY, real=True)
    place = Site(name, 40.0, -105.0, 1500.0, "America/Denver")
    return SiteSeasons(
        place, False, True, years, pooled, {6: pooled}, None, None, joined, (), (), ()
    )


def test_four_nights_in_five_reach_p20():
    rng = np.random.default_rng(1)
    for size in (1, 2, 5, 7, 30, 153):
        values = np.round(rng.uniform(0, 12, size) * 4) / 4
        low, high = reached_by(values, 0.8), reached_by(values, 0.2)
        assert (values >= low).mean() >= 0.8
        assert (values >= high).mean() >= 0.2
        above = values[values > low]
        assert above.size == 0 or (values >= above.min()).mean() < 0.8


def test_quartiles_are_those_of_numpy():
    rng = np.random.default_rng(2)
    for size in (1, 2, 6, 31, 153):
        values = rng.uniform(0, 12, size)
        found = spread_of(values)
        theirs = np.quantile(values, [0.25, 0.5, 0.75]).tolist()
        assert [found.p25, found.median, found.p75] == theirs


def test_zeros_count_and_rain_and_missing_nights_do_not():
    found = nights(
        [0, 0, 3, 8, 5],
        rain_mm=[0, 0, 0, 1.01, 0],
        missing=[0, 0, 0, 0, Missing.WIND],
    )
    tally = tally_of(found, 2.0, RIG, CAPACITY, real=True)
    assert (tally.nights, tally.missing, tally.rain_nights, tally.counted) == (5, 1, 1, 3)
    assert tally.with_dew == 1
    assert tally.dew_h.median == 0.0
    assert tally.dew_kg == pytest.approx(3 * CAPACITY)


def test_the_longest_run_is_ended_by_rain_gaps_and_missing_days():
    assert longest_without(nights([0, 0, 3, 0, 0, 0]), 2.0, real=True) == 3
    assert longest_without(nights([0] * 5, rain_mm=[0, 0, 9, 0, 0]), 2.0, real=True) == 2
    assert longest_without(nights([0] * 5, missing=[0, 0, 0, 1, 0]), 2.0, real=True) == 3
    apart = nights([0] * 6).only(np.array([0, 1, 3, 4, 5]))
    assert longest_without(apart, 2.0, real=True) == 3


def test_in_a_typical_year_a_run_ends_with_the_month():
    across = nights([0] * 8, date(2015, 6, 27))  # four nights of June, four of July
    assert longest_without(across, 2.0, real=True) == 8
    assert longest_without(across, 2.0, real=False) == 4


def test_half_a_year_missing_is_reported_and_not_averaged_in():
    half = nights([5, 5, 5, 5], missing=[4, 4, 0, 0])
    year = year_of(half, 2023, (6,), 2.0, RIG, CAPACITY)
    assert year.left_out
    assert [gap.evening for gap in year.gaps] == [date(2023, 6, 1), date(2023, 6, 2)]
    assert kept_nights(half, [year]).count == 0
    less = year_of(nights([5] * 5, missing=[4, 0, 0, 0, 0]), 2023, (6,), 2.0, RIG, CAPACITY)
    assert not less.left_out


def test_a_cutting_is_followed_through_real_nights():
    work = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=3)  # 50 t, five hours
    found = follow(nights([5, 0, 0, 0, 2, 3]), work, CAPACITY, real=True)
    assert found.done_dew.tolist() == [1.0, 0.0, 0.4, 1.0]
    finish = finish_of(found, work)
    assert (finish.starts, finish.within_dew) == (4, 0.5)


def test_nothing_is_baled_from_rain_on_before_rain():
    work = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=3)
    wet = nights([2, 9, 3, 0, 0, 0], rain_mm=[0, 5, 0, 0, 0, 0])
    found = follow(wet, work, CAPACITY, real=True)
    assert found.done_dew[0] == 1.0  # the rain night itself is idle
    assert found.dry_dew[0] == pytest.approx(0.4)
    assert found.year.size == 3  # no run begins with the rain night


def test_a_missing_night_is_not_followed_over():
    work = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=3)
    found = follow(nights([5] * 6, missing=[0, 0, 0, 1, 0, 0]), work, CAPACITY, real=True)
    assert found.year.size == 1


def test_the_rig_is_held_by_flow_and_fills():
    pace, share = rig_pace(np.array([40.0]), RIG, CAPACITY, 1.0)
    assert pace[0] == pytest.approx(10_000 * share[0])
    assert share[0] == pytest.approx(10 / (10 + 1 / 3))  # a tank in 10 h, 20 minutes to fill
    held, _ = rig_pace(np.array([80.0]), replace(RIG, fill_minutes=0.0), 60_000.0, 0.8)
    assert held[0] == pytest.approx(24_000.0)  # 40 L/min at 80 L/t are 30 t/h, turns a fifth


@pytest.mark.parametrize("flow_l_min", [40.0, 4.0])
def test_seasons_and_the_run_sheet_agree_on_what_a_rig_does(flow_l_min):
    """Once the baler's capacity is the limit, once the rig's flow."""
    rig = Rig("rig", 1e6, 10.0, 100.0, flow_l_min, 20.0, heated=True, fuel_rate_l_h=3.0)
    night = [piece for piece in simple_sheet(10.0, rig=rig).pieces if piece.loads]
    rate = {round(piece.water_l_t, 9) for piece in night}
    assert len(rate) == 1
    pace, flowing = rig_pace(np.array([*rate]), rig, BALER.capacity_kg_h, BALER.field_efficiency)
    hours = sum(piece.hours for piece in night)
    assert hours > 5
    assert sum(piece.mass_kg for piece in night) == pytest.approx(hours * pace[0], rel=1e-3)
    assert pace[0] < BALER.capacity_kg_h or flow_l_min > 10
    fuel = sum(piece.burner_fuel_l for piece in night)
    assert fuel == pytest.approx(3.0 * hours * flowing[0], rel=1e-3)


def test_fills_take_as_long_in_seasons_as_on_the_run_sheet():
    rig = Rig("rig", 1000.0, 10.0, 100.0, 40.0, 30.0)
    night = [piece for piece in simple_sheet(10.0, hours=12, rig=rig).pieces if piece.loads]
    pace, _ = rig_pace(
        np.array([night[0].water_l_t]), rig, BALER.capacity_kg_h, BALER.field_efficiency
    )
    hours = (night[-1].end - night[0].start) / HOUR
    # Ahead by what is left of the tank that was filled before work began, at most a fill's time.
    baled = sum(piece.mass_kg for piece in night)
    assert hours * pace[0] <= baled <= (hours + rig.fill_minutes / 60) * pace[0]
    assert baled < 0.8 * hours * BALER.capacity_kg_h


def test_fuel_is_the_burner_s_by_its_rate_or_by_the_water_it_warms():
    found = replace(nights([1.0]), water_l=np.array([600.0]), flow_h=np.array([2.0]))
    assert np.isnan(fuel_of(found, RIG))  # a rig that does not heat
    hot = replace(RIG, heated=True, fuel_rate_l_h=2.0)
    assert fuel_of(found, hot) == pytest.approx(4.0)  # 2 L/h for two hours
    assert np.isnan(fuel_of(found, replace(hot, fuel_rate_l_h=None)))
    # 600 kg by 45 K at 4.186 kJ/(kg K), diesel of 38.3 MJ/L, four fifths of it used: 3.69 L.
    warm = replace(
        hot, fuel_rate_l_h=30.0, water_in_c=15.0, water_out_c=60.0, burner_efficiency=0.8
    )
    assert fuel_of(found, warm) == pytest.approx(3.69, abs=0.05)


def test_pairs_compare_the_same_nights_only():
    one = years_site("one", {2020: [4.0, 6.0, 8.0], 2021: [4.0]})
    other = years_site("other", {2020: [1.0, 1.0], 2022: [9.0]})
    pair = pair_of(one, other, 2.0)
    assert (pair.nights, pair.years) == (2, (2020,))
    assert pair.dew_hours.value == pytest.approx(4.0)
    assert pair.dew_hours.low is None  # one year tells no range
    assert pair.dew_nights_percent.value == 100.0


def test_sites_without_a_night_in_common_are_not_compared():
    apart = pair_of(years_site("a", {2020: [4.0]}), years_site("b", {2021: [4.0]}), 2.0)
    assert (apart.nights, apart.dew_hours) == (0, None)


def test_the_range_is_by_years_not_by_nights():
    # Nights of a year are all alike: thousands of nights say no more than six years do.
    rng = np.random.default_rng(2)
    yearly = rng.normal(0, 1, 6)
    few = mean_range(np.repeat(yearly, 10), np.repeat(np.arange(6), 10))
    many = mean_range(np.repeat(yearly, 1000), np.repeat(np.arange(6), 1000))
    assert few.low == pytest.approx(many.low)
    assert few.low < few.value < few.high


def test_a_trend_needs_ten_years_and_has_a_range():
    steady = {2000 + n: [n / 10.0] * 5 for n in range(12)}
    site = years_site("s", steady)
    trend = trend_of(site.years, site.nights)
    assert trend.dew_hours.value == pytest.approx(1.0)  # a tenth of an hour a year
    assert trend.dew_hours.low == pytest.approx(1.0)
    short = years_site("s", {2000 + n: [1.0] * 5 for n in range(9)})
    assert trend_of(short.years, short.nights) is None
