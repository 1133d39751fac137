"""The skin balance and the whole windrow beside a measured series: touches skin, sun and air.

It validates cooling, dew on the top and the hour at which it dries off, not the
moisture of hay. Every limit was set before the run (see `ACCEPT`); soybean and
stubble over moist soil are not a windrow. Data: bondville.py.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from measured import balance
from measured import bondville as site

MEASURED_K, COMPUTED_K = 1.1, 1.4
KAPPA, FALSE_SHARE, HOURS = 0.72, 1 / 3, 0.5
MOVES_K, MOVES_H = 0.1, 0.3
RECORDED = {
    "windrow, bias": 0.01,
    "windrow, RMSE": 0.94,
    "stand, measured longwave, bias": -0.03,
    "stand, measured longwave, RMSE": 0.76,
    "stand, computed longwave, bias": 0.01,
    "stand, computed longwave, RMSE": 0.80,
    "onset, h": 1.50,
    "dry-off, mean, h": 0.02,
}
LEAST_FOUND = 0.9  # of the wet nights of the month that rides with the tests


def whole_series():
    """April to July, or a skip."""
    path = site.recorded_file()
    if path is None:
        pytest.skip("HAYWEATHER_RECORDED names no folder with the measured series")
    return site.read(path)


@cache
def month():
    """The month that rides with the tests, its nights, and those without rain."""
    table = site.read(site.EXTRACT)
    nights = site.evenings(table)
    return table, nights, site.dry_nights(table, nights)


def with_sun_late(nights: site.Evenings, hours: int) -> site.Evenings:
    """The same weather with its sun some hours late."""
    columns = dict(nights.weather.columns)
    columns["shortwave_w_m2"] = np.roll(columns["shortwave_w_m2"], hours, axis=0)
    return site.Evenings(nights.days, replace(nights.weather, columns=columns))


def dew(table, nights, counted, **changed) -> site.DewNights:
    """The sensor beside the run."""
    found = site.windrow_wetness(nights, site.run_windrow(nights, **changed))
    return site.compare(site.measured_wetness(table, nights), found, counted)


def test_the_month_is_what_its_source_says():
    table, nights, dry = month()
    assert len(table) == 30 * 48
    assert table.index.to_series().diff().dropna().eq(site.HOUR / 2).all()
    assert len(nights.days) == 28
    assert dry.sum() == 16
    assert site.measured_wetness(table, nights).wet[dry].sum() == 11
    noon = table.between_time("11:30", "12:30").shortwave_w_m2.mean()
    assert noon > table.between_time("14:30", "15:30").shortwave_w_m2.mean() > 200


def test_faulty_skin_is_left_out():
    table, _, _ = month()
    assert table.skin_c[list(site.BAD_SKIN)].isna().all()
    assert (table.skin_c - table.air_c).dropna().between(-8, 13).all()


def test_balance_with_measured_longwave_and_ground_heat():
    nights = site.half_hours_of_nights(month()[0])
    bias, spread = balance.bias_and_spread(nights, balance.model_skin(nights))
    assert nights.period.size > 400
    assert abs(bias) <= 0.5
    assert spread <= MEASURED_K


def test_ground_heat_is_positive_into_the_ground():
    nights = site.half_hours_of_nights(month()[0])
    heat = nights.soil_heat_w_m2
    spreads = {}
    for factor in (1, 0, -1):
        changed = replace(nights, soil_heat_w_m2=factor * heat)
        skin = balance.model_skin(changed)
        spreads[factor] = balance.bias_and_spread(nights, skin)[1]
    assert spreads[1] < spreads[0] < spreads[-1]


def test_balance_with_longwave_as_in_a_forecast():
    nights = site.half_hours_of_nights(month()[0])
    skin = balance.model_skin(nights, balance.computed_longwave(nights))
    assert balance.bias_and_spread(nights, skin)[1] <= COMPUTED_K


def test_skin_of_the_windrow_as_by_a_forecast():
    table, nights, _ = month()
    assert site.windrow_skin(table, nights, site.run_windrow(nights)).spread <= COMPUTED_K


def test_dew_of_the_month_is_found_and_dries_off_in_time():
    found = dew(*month())
    assert found.both >= LEAST_FOUND * (found.both + found.missed)
    assert max(abs(found.dry_off_h), abs(found.dry_off_mean_h)) <= HOURS


@pytest.mark.parametrize("hours", [1, -1])
def test_a_sun_an_hour_off_would_show(hours):
    table, nights, dry = month()
    assert abs(dew(table, with_sun_late(nights, hours), dry).dry_off_mean_h) > HOURS


def test_a_slip_of_the_night_cap_or_the_air_resistance_would_show():
    nights = site.half_hours_of_nights(month()[0])
    for changed in ({"air_resistance_s": 500.0}, {"sky_view": 0.5}):
        loose = {**changed, "air_resistance_max_s_m": 1e9}
        bias, spread = balance.bias_and_spread(nights, balance.model_skin(nights, **loose))
        assert abs(bias) > 0.5 or spread > MEASURED_K, changed


def test_agreement_of_the_month_is_the_recorded_one():
    """What the limits above leave open: a residual that moves is a change to explain."""
    table, nights, dry = month()
    made = site.run_windrow(nights)
    skin, found = site.windrow_skin(table, nights, made), dew(table, nights, dry)
    half_hours = site.half_hours_of_nights(table)
    longwave = balance.computed_longwave(half_hours)
    stands = [
        balance.bias_and_spread(half_hours, balance.model_skin(half_hours, each))
        for each in (None, longwave)
    ]
    residuals = {
        "windrow, bias": skin.bias,
        "windrow, RMSE": skin.spread,
        "stand, measured longwave, bias": stands[0][0],
        "stand, measured longwave, RMSE": stands[0][1],
        "stand, computed longwave, bias": stands[1][0],
        "stand, computed longwave, RMSE": stands[1][1],
        "onset, h": found.onset_h,
        "dry-off, mean, h": found.dry_off_mean_h,
    }
    moved = {
        name: (value, RECORDED[name])
        for name, value in residuals.items()
        if abs(value - RECORDED[name]) > (MOVES_H if name.endswith("h") else MOVES_K)
    }
    assert not moved


def test_skin_of_four_months():
    table = whole_series()
    nights = site.half_hours_of_nights(table)
    measured = balance.model_skin(nights)
    computed = balance.model_skin(nights, balance.computed_longwave(nights))
    assert balance.bias_and_spread(nights, measured)[1] <= MEASURED_K
    assert balance.bias_and_spread(nights, computed)[1] <= COMPUTED_K
    evenings = site.evenings(table)
    assert site.windrow_skin(table, evenings, site.run_windrow(evenings)).spread <= COMPUTED_K


def test_onset_of_four_months_misses_what_was_asked():
    """Asked half an hour; it comes one to two hours late, and this holds the miss where it is.

    When the sensor wets, the thermometer stands 0.4 K above the dew point of the
    air at 3 m (in 22 of 30 nights water vapor still rises), so that half an hour
    is the sensor's; and the top of the windrow is then 1.1 K warmer than soybean,
    for it holds the heat of 1.5 kg/m2 of hay. Nothing was tuned to it.
    """
    table = whole_series()
    nights = site.evenings(table)
    assert 1.0 <= dew(table, nights, site.dry_nights(table, nights)).onset_h <= 2.0


def test_dew_of_four_months():
    table = whole_series()
    nights = site.evenings(table)
    found = dew(table, nights, site.dry_nights(table, nights))
    assert found.both + found.missed + found.false + found.neither >= 55
    assert found.kappa >= KAPPA
    assert found.false_share <= FALSE_SHARE
    assert max(abs(found.dry_off_h), abs(found.dry_off_mean_h)) <= HOURS


IN_SOIL = ("1998-07-23", "1998-07-31T12:00")


def test_soil_under_leaves_from_the_air_alone():
    """Nine days under closed soybean: the fitted numbers, then those that hay is given.

    Under hay the swing is less and the mean nearer the air: assumed.
    """
    under_leaves = {"soil_swing": 0.52, "soil_lag_h": 1.45, "soil_offset_k": 1.6}
    fitted = site.soil_beside(whole_series(), *IN_SOIL, **under_leaves)
    assert abs(fitted.bias) < 0.3
    assert fitted.spread < 1.3
    assert 0.7 < fitted.swing_ratio < 1.1  # least squares rather understate a swing
    assert site.soil_beside(whole_series(), *IN_SOIL).swing_ratio < fitted.swing_ratio


def test_soil_thermometers_lie_in_soil_only_from_mid_july_on():
    """Before that the deepest swings with the skin; an error of the source, and why so few days."""
    table = whole_series()
    columns = ["skin_c", "soil_8cm_c"]
    daily = table[columns].resample("D").agg(np.ptp)
    share = daily.soil_8cm_c / daily.skin_c
    assert share["1998-04-02":"1998-07-13"].median() > 0.85
    assert share["1998-07-16":"1998-07-30"].median() < 0.35
