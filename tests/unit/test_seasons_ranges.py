"""Ranges hold what they say, by simulation; gaps scaled; rain known by year; doubts kept apart."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy import stats
from unit.test_seasons_tally import CAPACITY, RIG, nights, years_site

from hayweather.seasons.compare import mean_range
from hayweather.seasons.mean_season import SiteNights, mean_seasons, month_weights
from hayweather.seasons.ranges import pooled_ranges, prior_variance, ratio_range, slope_range
from hayweather.seasons.record.nights import join_nights
from hayweather.seasons.record.results import Range
from hayweather.seasons.record.sites import Work
from hayweather.seasons.tally import finish_of, follow, year_of

NIGHTS = 150


def held(found: Range, true: float) -> bool:
    return found.low <= true <= found.high


def years_of(rng: np.random.Generator, level: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Nights with dew, and nights that count, of years with these shares; some nights missing."""
    count = rng.integers(int(0.8 * NIGHTS), NIGHTS, level.size)
    return rng.binomial(count, level).astype(float), count.astype(float)


def one_site(rng: np.random.Generator, years: int, kind: str) -> bool:
    """Whether the range of one site holds; shares of a year normal, or skewed."""
    level = np.clip(rng.normal(0.5, 0.1, years), 0, 1) if kind == "even" else rng.beta(2, 3, years)
    found = ratio_range(*years_of(rng, level), 0.0, 1.0)
    return held(found, 0.5 if kind == "even" else 0.4)


def five_sites(rng: np.random.Generator, years: int) -> list[bool]:
    """Whether the ranges of five sites with weather in common hold, each with its own spread."""
    shared = rng.normal(0, 0.06, years)
    means, spreads = rng.uniform(0.25, 0.75, 5), rng.uniform(0.04, 0.12, 5)
    levels = [
        np.clip(mean + shared + rng.normal(0, spread, years), 0, 1)
        for mean, spread in zip(means, spreads, strict=True)
    ]
    found = pooled_ranges([years_of(rng, level) for level in levels], 0.0, 1.0)
    return [held(each, mean) for each, mean in zip(found, means, strict=True)]


def slope(rng: np.random.Generator, years: int) -> bool:
    """Whether the range of a slope of 0.2 in ten years holds, around it skewed years."""
    when = 2000.0 + np.arange(years)
    return held(slope_range(when, 0.02 * when + rng.gamma(3, 0.5, years)), 0.2)


def coverage(years: int, times: int) -> dict[str, float]:
    """How often each range holds [%]."""
    rng = np.random.default_rng(years)
    return {
        "even years": 100 * np.mean([one_site(rng, years, "even") for _ in range(times)]),
        "skewed years": 100 * np.mean([one_site(rng, years, "skewed") for _ in range(times)]),
        "five sites": 100 * np.mean([five_sites(rng, years) for _ in range(times)]),
        "slope": 100 * np.mean([slope(rng, years) for _ in range(times)]),
    }


@pytest.mark.long
@pytest.mark.parametrize("years", [5, 10, 20])
def test_nine_in_ten_is_86_to_94_in_2000_simulations(years):
    found = coverage(years, 2000)
    print(years, "years:", ", ".join(f"{name} {share:.1f} %" for name, share in found.items()))
    assert all(86 <= share <= 94 for share in found.values())


@pytest.mark.parametrize("years", [5, 10, 20])
def test_nine_in_ten_is_about_that_in_300_simulations(years):
    """Three standard errors of 300 draws besides the 86 to 94 of the long lane."""
    assert all(81 <= share <= 97 for share in coverage(years, 300).values())


def test_a_range_of_one_site_is_student_s_where_years_are_symmetric():
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    found = ratio_range(values, np.ones(5))
    half = stats.t.ppf(0.95, 4) * values.std(ddof=1) / np.sqrt(5)
    assert (found.low, found.high) == pytest.approx((3 - half, 3 + half))
    assert ratio_range(values[:2], np.ones(2)).low is None
    assert mean_range(np.repeat(values, 30), np.repeat(np.arange(5), 30)).low == pytest.approx(
        found.low
    )


def test_variances_of_one_population_are_taken_as_one_and_of_several_are_not():
    rng = np.random.default_rng(4)
    alike = rng.chisquare(9, 400) / 9
    prior, degrees = prior_variance(alike, np.full(400, 9.0))
    assert prior == pytest.approx(1.0, abs=0.06)
    assert degrees > 30  # infinite but for chance
    # Drawn from scaled inverse chi-squared of six degrees: found again.
    true = 6 * 2.0 / rng.chisquare(6, 4000)
    prior, degrees = prior_variance(true * rng.chisquare(9, 4000) / 9, np.full(4000, 9.0))
    assert (prior, degrees) == pytest.approx((2.0, 6.0), rel=0.12)


def test_a_place_without_any_dew_stays_without_range_and_lends_none():
    rng = np.random.default_rng(5)
    sites = [years_of(rng, np.full(6, level)) for level in (0.3, 0.5, 0.7)]
    with_dry = pooled_ranges([*sites, (np.zeros(6), np.full(6, 150.0))], 0.0, 1.0)
    assert with_dry[3] == Range(0.0, 0.0, 0.0)
    assert with_dry[:3] == pooled_ranges(sites, 0.0, 1.0)


def test_gaps_are_made_up_for_from_the_same_month():
    """By hand: 30 nights of 2 h, 4 h, and 3 h with six unknown: 90 h on average."""
    site = years_site("s", {2020: [2.0] * 30, 2021: [4.0] * 30, 2022: [3.0] * 30})
    blank = np.zeros(90, dtype=np.int16)
    blank[60:66] = 4
    gappy = replace(site.nights, missing=blank)
    season = mean_seasons([SiteNights(gappy, site.years)], 2.0, RIG, CAPACITY)[0]
    assert season.dew_kg.range.value == pytest.approx(90 * CAPACITY)
    assert season.scaled == {2022: pytest.approx(30 / 24)}
    assert season.dew_kg.range.low < 90 * CAPACITY < season.dew_kg.range.high


def test_a_month_that_one_year_lacks_is_taken_from_the_others():
    month = nights([1.0] * 20)
    both = join_nights([month, nights([5.0] * 20, missing=4)])
    weight = month_weights(both, np.repeat([0, 1], 20), 2)
    assert weight[1, :20].sum() == pytest.approx(20.0)
    assert weight[1, 20:].sum() == 0.0


def test_rain_is_known_by_year_and_before_rain_counts_those_years_alone():
    work = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=3)
    wet = nights([2, 9, 3, 9, 9, 9], rain_mm=[0, 5, 0, 0, 0, 0])
    unknown = replace(wet, rain_known=np.zeros(6, dtype=bool))
    known, none = (finish_of(follow(x, work, CAPACITY, real=True), work) for x in (wet, unknown))
    assert (known.dry_starts, none.dry_starts) == (3, 0)
    assert none.dry_dew is None
    assert none.within_dew == known.within_dew


def test_whole_seasons_are_counted_in_the_years_that_know_rain():
    """By hand: 28 dry nights of 2 h and 30 of 3 h; 30 nights of 9 h without a gauge stay out."""
    wet = nights([2.0] * 30, date(2021, 7, 1), rain_mm=[5.0, 5.0, *[0.0] * 28])
    dry = nights([3.0] * 30, date(2022, 7, 1))
    no_gauge = replace(nights([9.0] * 30, date(2020, 7, 1)), rain_known=np.zeros(30, dtype=bool))
    years = [
        year_of(part, int(part.year[0]), (7,), 2.0, RIG, CAPACITY) for part in (no_gauge, wet, dry)
    ]
    site = SiteNights(join_nights([no_gauge, wet, dry]), years)
    season = mean_seasons([site], 2.0, RIG, CAPACITY)[0]
    assert season.dew_kg.range.value == pytest.approx((28 * 2 + 30 * 3) / 2 * CAPACITY)
    assert (season.dew_kg.lowest, season.dew_kg.highest) == pytest.approx(
        (56 * CAPACITY, 90 * CAPACITY)
    )
    assert season.dew_hours.range.value == pytest.approx((30 * 9 + 28 * 2 + 30 * 3) / 88)
    work = Work(area_m2=50_000.0, yield_kg_m2=1.0, nights=3)
    both = (join_nights([no_gauge, wet, dry]), join_nights([wet, dry]))
    finishes = [finish_of(follow(each, work, CAPACITY, real=True), work) for each in both]
    assert finishes[0] == finishes[1]


def test_the_model_s_doubt_is_the_same_for_few_years_and_many():
    """Draws an hour and half an hour off, whatever the years; kept apart from their range."""
    few = years_site("s", {year: [3.0] * 20 for year in range(2020, 2023)})
    many = years_site("s", {year: [3.0 + year % 2] * 20 for year in range(1990, 2023)})
    for site in (few, many):
        drawn = [replace(site.nights, dew_h=site.nights.dew_h + off) for off in (-1.0, 0.5)]
        taken = SiteNights(site.nights, site.years, [each.only(slice(0, 10)) for each in drawn])
        doubt = mean_seasons([taken], 2.0, RIG, CAPACITY)[0].dew_hours.doubt
        assert (doubt.low, doubt.high) == pytest.approx((-0.925, 0.425))
