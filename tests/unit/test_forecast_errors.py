"""Errors of the forecast: fitted ones recovered, weighed by nights; the assumed draw unmoved."""

import hashlib
from dataclasses import replace

import numpy as np
import pytest

from hayweather.learning.forecast_errors import (
    LEAST_NIGHTS,
    LEAST_SIZE_SHARE,
    FittedErrors,
    Pairs,
    fit_errors,
    pairs_of,
)
from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.windrow.spread import ASSUMED, ERRORS, ForecastErrors, HourlyError, hourly_errors

AIR, DEW = "air_temperature_c", "dew_point_c"
TRUE = ForecastErrors(
    {
        AIR: HourlyError(0.85, 1.1),
        DEW: HourlyError(0.96, 2.6),
        "wind_speed_m_s": HourlyError(0.6, 0.3),
        "cloud_fraction": HourlyError(0.9, 0.3),
    },
    {(AIR, DEW): 0.6},
)
BIAS = {AIR: 0.8, DEW: -1.5}


def pairs(nights: int, seed: int = 1, share: float = 1.0) -> Pairs:
    """Nights of 48 hours whose errors are those of `TRUE`, times `share`."""
    noise = hourly_errors(seed, 480_000, 48, nights, TRUE)
    wrong = {name: share * noise[name].T + BIAS.get(name, 0.0) for name in (AIR, DEW)}
    measured = {name: np.full((nights, 48), 12.0) for name in wrong}
    evenings = np.datetime64("2025-05-01") + np.arange(nights)
    forecast = {name: measured[name] + wrong[name] for name in wrong}
    return Pairs(evenings, np.arange(48.0), forecast, measured)


def missed(found: FittedErrors) -> list[bool]:
    """For each of six numbers, whether its bar leaves out the true one."""
    told = [
        (found.biases[AIR][2], BIAS[AIR]),
        (found.biases[DEW][2], BIAS[DEW]),
        (found.sizes[AIR][2], 1.1),
        (found.sizes[DEW][2], 2.6),
        (found.memories[AIR], 0.85),
        (found.ties[AIR, DEW], 0.6),
    ]
    return [not one.bar[0] <= true <= one.bar[1] for one, true in told]


@pytest.mark.slow
def test_known_errors_lie_within_their_bars():
    """Bars of 90 %, resampled nights, 12 worlds: by chance 7 of 72 miss, more than 20 hardly."""
    misses = [missed(fit_errors(pairs(64, seed), draws=80)) for seed in range(12)]
    assert np.sum(misses) <= 20
    many = fit_errors(pairs(1500), draws=2)
    assert many.biases[DEW][2].value == pytest.approx(-1.5, abs=0.25)
    assert many.sizes[AIR][2].value == pytest.approx(1.1, rel=0.05)
    assert many.memories[AIR].value == pytest.approx(0.85, abs=0.02)
    assert many.memories[DEW].value == pytest.approx(0.96, abs=0.02)
    assert many.ties[AIR, DEW].value == pytest.approx(0.6, abs=0.06)
    assert many.errors.columns[DEW].size_at(np.array([18.0])) == pytest.approx(2.6, rel=0.06)


def test_few_nights_change_nothing_and_more_weigh_more():
    assert fit_errors(pairs(LEAST_NIGHTS - 1), draws=2).errors is ASSUMED
    found = [fit_errors(pairs(nights), draws=2) for nights in (LEAST_NIGHTS, 400)]
    assert found[0].errors.nights == LEAST_NIGHTS
    shares = [each.biases[DEW][1].used / each.biases[DEW][1].value for each in found]
    assert shares == pytest.approx([0.5, 400 / 420])
    column = found[1].errors.columns[DEW]
    # Leads without a night, and columns nobody measured, keep what is assumed.
    assert column.nights[:4] == (400,) * 4
    assert column.nights[4] == 0
    assert (column.sizes[4], column.biases[4]) == (ERRORS[DEW].size, 0.0)
    assert found[1].errors.columns["cloud_fraction"] is ERRORS["cloud_fraction"]
    assert found[1].errors.until == np.datetime64("2025-05-01") + 399


def test_perfect_forecasts_do_not_make_chances_sure():
    found = fit_errors(pairs(2000, share=0.0), draws=2).errors
    for name in (AIR, DEW):
        floor = LEAST_SIZE_SHARE * ERRORS[name].size
        assert min(found.columns[name].sizes) == pytest.approx(floor)


def test_missing_hours_are_left_out():
    whole = pairs(60)
    blank = np.where(np.random.default_rng(4).random((60, 48)) < 0.3, np.nan, 12.0)
    gaps = Pairs(whole.evenings, whole.lead_h, whole.forecast, {AIR: blank})
    found = fit_errors(gaps, draws=2)
    assert found.biases[AIR][2].value == pytest.approx(
        fit_errors(whole, draws=2).biases[AIR][2].value, abs=0.1
    )
    assert DEW not in found.biases
    assert found.errors.columns[DEW] is ERRORS[DEW]


def test_the_assumed_draw_is_the_same_to_the_bit():
    """The draw of the commit before errors became a record (NumPy's Generator is stable)."""
    digest = hashlib.sha256()
    for values in hourly_errors(20_260_708, 490_000, 72, 37).values():
        digest.update(values.tobytes())
    assert digest.hexdigest() == "bdb7a26b799f48c7532665673f89a7489b9ea9adcab681400c34052613ce06b2"


def test_fitted_errors_are_drawn_as_given():
    drawn = hourly_errors(3, 480_000, 24, 4000, TRUE)
    air, dew = drawn[AIR], drawn[DEW]
    assert air.std() == pytest.approx(1.1, rel=0.03)
    assert np.corrcoef(dew[5], dew[6])[0, 1] == pytest.approx(0.96, abs=0.01)
    assert np.corrcoef(air[12], dew[12])[0, 1] == pytest.approx(0.6, abs=0.04)


def test_forecasts_meet_the_hours_that_were_measured():
    """A forecast that is the measured air shifted by 2 K, and ends after 30 hours."""
    start = np.datetime64("2025-06-01T00:00:00")
    air = 20 + 8 * np.sin(np.arange(24.0 * 40) * 2 * np.pi / 24)[:, None]
    columns = {AIR: air, DEW: air - 9.0, "wind_speed_m_s": np.full_like(air, 2.0)}
    measured = HourlyWeather(np.array([start]), columns, 2.0, Source("station", measured=True))
    shifted = replace(measured, columns={**columns, AIR: air + 2.0})
    rows = range(10, 24 * 36, 24)
    pairs = pairs_of(
        [(start + row * HOUR, shifted.between(row - 5, row + 30)) for row in rows], measured
    )
    found = fit_errors(pairs, draws=1)
    assert [one.value for one in found.biases[AIR][:4]] == pytest.approx([2.0] * 4)
    assert found.biases[AIR][4].nights == 0
    assert found.biases[DEW][0].value == 0.0
    assert found.errors.nights == len(rows)
    assert fit_errors(pairs_of([], measured)).errors is ASSUMED
