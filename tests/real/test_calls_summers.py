"""Calls and water in real summers; sources of the weather in tests/data/README.md.

A large square baler (12-16 % wet basis, stem 12 %) and a rig from half a gallon
to 40 gallons a short ton, 80 % of it staying in the hay, aiming at 13 %: round
figures of no machine. Nights are lanes, called by the outlook's own code, and
some are run through the whole outlook as well.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields import CURED, RIG, farm_of, setting_of
from support.seasons import HOUR, SITES, default_run, find_file, known_nights, read_columns
from support.seasons import read_season as season_of

from hayweather.baling.calls import BALED, Call, QuarterCalls, call_quarters
from hayweather.baling.cause import Cause
from hayweather.baling.cautions import dangers_of
from hayweather.baling.setting import Setting
from hayweather.baling.water import moisture_after, water_to_add_l_t
from hayweather.baling.windows import find_windows, stopped_quarters
from hayweather.farm.records import Site
from hayweather.nights import night_of
from hayweather.units import GALLON_L, SHORT_TON_KG
from hayweather.weather.record import HourlyWeather, Source

L_T_PER_GALLON_TON = GALLON_L / SHORT_TON_KG * 1000
WIDE_RIG = replace(
    RIG,
    rate_min_l_t=0.5 * L_T_PER_GALLON_TON,
    rate_max_l_t=40 * L_T_PER_GALLON_TON,
    target_wb=13.0,
)
COLORADO = ("NW Colorado 2017", "NW Colorado 2023")
ALL = (*COLORADO, "JFK 2013")
NIGHT = slice(4 * 28, 4 * 46)  # 18:00 to 12:00
MIDDAY = slice(4 * 22, 4 * 26)  # 12:00 to 16:00 of the day before that night
DUSK, ELEVEN = slice(4 * 29, 4 * 30), slice(4 * 33, 4 * 34)  # 19:00 and 23:00


def site_of(name: str) -> Site:
    place = SITES[name].place
    return Site(name, place.latitude, place.longitude, place.elevation_m, SITES[name].zone)


@cache
def setting(name: str) -> Setting:
    return setting_of(rig=WIDE_RIG, site=site_of(name))


@cache
def calls(name: str) -> QuarterCalls:
    """Calls of every night of a summer, as lanes."""
    return call_quarters(season_of(name).weather, default_run(name), setting(name))


def hours_of(name: str, call: Call, rows: slice = NIGHT) -> np.ndarray:
    """Hours of one call in each night without a gap."""
    return (calls(name).call[rows] == call).sum(axis=0)[known_nights(name)] / 4


def water_gal_ton(name: str, rows: slice) -> np.ndarray:
    """Water where the call is to add it, else NaN, (quarters, nights)."""
    found = calls(name)
    added = (found.call == Call.ADD_MOISTURE) & known_nights(name)
    return np.where(added, found.dose.applied_l_t, np.nan)[rows] / L_T_PER_GALLON_TON


@pytest.mark.parametrize("name", COLORADO)
def test_colorado_has_natural_dew_in_some_nights_and_none_in_others(name):
    dew = hours_of(name, Call.NATURAL_DEW)
    # A column that warms and cools inside reaches the band in more of the dry nights.
    assert 0.15 < (dew == 0).mean() < 0.6
    assert (dew >= 2).mean() > 0.3
    assert dew.max() < 18


def test_the_humid_coast_is_mostly_too_wet_at_night():
    wet = hours_of("JFK 2013", Call.TOO_WET)
    assert np.median(wet) > 9  # of 18 hours
    assert wet.mean() > 3 * max(hours_of(name, Call.TOO_WET).mean() for name in COLORADO)


@pytest.mark.parametrize("name", ALL)
def test_a_cured_field_is_never_not_cured(name):
    assert not (calls(name).call == Call.NOT_CURED).any()


@pytest.mark.parametrize("name", ALL)
def test_unknown_nights_are_no_data_and_only_they(name):
    """Real gaps of the coast's station; none in Colorado."""
    found = calls(name)
    unknown = np.isnan(found.windrow_wb)
    assert (found.call[unknown] == Call.NO_DATA).all()
    assert not (found.call[:, known_nights(name)] == Call.NO_DATA).any()
    assert unknown.any() == (name == "JFK 2013")


@pytest.mark.parametrize("name", COLORADO)
def test_midday_water(name, capsys):
    """Wide bounds by common practice, no source; quartiles and share printed as found."""
    water = water_gal_ton(name, MIDDAY)
    water = water[np.isfinite(water)]
    low, middle, high = np.percentile(water, [25, 50, 75])
    share = ((water >= 10) & (water <= 18)).mean()
    with capsys.disabled():
        print(
            f"\n{name}, 12-16 h, target 13 %: {low:.1f} / {middle:.1f} / {high:.1f} gal/ton "
            f"(quartiles), {100 * share:.0f} % within 10-18 ({water.size} quarter hours)"
        )
    # The inside of a windrow gets hotter than the air at noon, and the hay drier.
    assert 8 <= middle <= 36
    assert water.min() >= 0.5
    assert water.max() <= 40


@pytest.mark.parametrize("name", COLORADO)
def test_water_falls_as_the_hay_dampens_into_the_night(name):
    """Nights in which the rig can run both at 19:00 and at 23:00: less water at 23:00."""
    dusk = water_gal_ton(name, DUSK).mean(axis=0)
    later = water_gal_ton(name, ELEVEN).mean(axis=0)
    both = np.isfinite(dusk) & np.isfinite(later)
    assert both.sum() > 60
    assert (later < dusk)[both].mean() > 0.9
    assert np.median((dusk - later)[both]) > 1.0


@pytest.mark.parametrize("name", ALL)
def test_water_obeys_the_mass_balance_and_never_passes_the_band(name):
    found = calls(name)
    rig = found.call == Call.ADD_MOISTURE
    moisture, applied = found.windrow_wb[rig], found.dose.applied_l_t[rig]
    kept = applied * found.dose.efficiency[rig]
    by_hand = 100 * (moisture / 100 * 1000 + kept) / (1000 + kept)
    np.testing.assert_allclose(found.dose.after_wb[rig], by_hand)
    np.testing.assert_allclose(moisture_after(moisture, kept), by_hand)
    assert by_hand.min() >= 12 - 1e-9
    assert by_hand.max() <= 16 + 1e-9
    inside = (applied > WIDE_RIG.rate_min_l_t) & (applied < WIDE_RIG.rate_max_l_t)
    # The target is a floor: more is put on only where the leaf needs it to be soft.
    assert by_hand[inside].min() >= 13.0 - 1e-6
    assert np.mean(by_hand[inside] < 13.0 + 1e-6) > 0.85
    lowest = water_to_add_l_t(moisture, 13.0)
    np.testing.assert_array_less(lowest[inside] - 1e-6, kept[inside])


@pytest.mark.parametrize("name", ALL)
def test_ready_quarters_are_inside_every_limit(name):
    found = calls(name)
    dew = found.call == Call.NATURAL_DEW
    assert dew.any()
    assert found.windrow_wb[dew].min() >= 12
    assert found.windrow_wb[dew].max() <= 16
    assert found.soft_share[dew].min() >= 0.6
    assert found.wet_share[dew].max() <= 0.3
    assert np.isin(found.cause[dew], (Cause.DEW, Cause.HUMID_AIR)).all()
    assert found.free_water_mm[dew].max() <= 0.02
    assert found.rain_mm_h[dew].max() < 0.1
    assert found.rain_mm_h[found.call == Call.ADD_MOISTURE].max() < 0.1


@pytest.mark.parametrize("name", ALL)
def test_windows_of_every_night_hold_its_ready_quarters(name):
    found, weather = calls(name), season_of(name).weather
    stopped = stopped_quarters(found, dangers_of(weather), setting(name))
    ready = np.isin(found.call, BALED) & ~stopped
    for lane in range(0, weather.lanes, 10):
        ways = np.where(stopped, -1, found.call)[:, lane]
        windows = find_windows(weather.start[lane], ways, found.dose.applied_l_t[:, lane])
        assert sum(window.hours for window in windows) == ready[:, lane].sum() / 4
        ends = [weather.start[lane], *(window.end for window in windows)]
        assert all(window.start >= end for window, end in zip(windows, ends, strict=False))


@cache
def whole_summer(name: str) -> HourlyWeather:
    begin, columns = read_columns(find_file(SITES[name]))
    shaped = {key: values[:, None] for key, values in columns.items()}
    return HourlyWeather(np.array([begin]), shaped, SITES[name].wind_height_m, Source(name))


@pytest.mark.parametrize(("name", "lane"), [(COLORADO[0], 12), (COLORADO[1], 80), (ALL[2], 30)])
def test_the_outlook_makes_the_same_calls_as_the_lanes(name, lane):
    """From 17:00 of a real day, the forecast alone.

    The outlook draws cloud that was derived on a line between hours, a lane
    holds it for the hour, and the soil's slow mean begins with the run: less than
    0.05 point.
    """
    start = season_of(name).weather.start[lane]
    summer = whole_summer(name)
    first = int((start - summer.start[0]) / HOUR)
    weather = summer.between(first, first + 48)
    farm = farm_of(replace(CURED, site=name), WIDE_RIG, sites={name: site_of(name)})
    found = night_of(farm, {name: weather}, start + 27 * HOUR, members=0).fields[0]
    lanes = calls(name)
    same = found.shown.quarters.call[:, 0] == lanes.call[4 * 27 :, lane]
    assert same.sum() >= 83  # of 84: one quarter may lie at a limit
    # An hour near the limit between few and fine steps may go either way.
    np.testing.assert_allclose(
        found.shown.quarters.windrow_wb[:, 0], lanes.windrow_wb[4 * 27 :, lane], atol=0.1
    )
    assert all(hour.reasons for hour in found.hours)
    assert ("caution_rain_unknown" in [r.key for r in found.hours[0].cautions]) == (
        name in COLORADO
    )
