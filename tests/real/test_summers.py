"""Real summers behave as the trade would recognise; sources in tests/data/README.md.

The default windrow of 1.5 kg/m2, nights as lanes with one night of spin-up;
the night runs from 18:00 to 12:00 local, in band is 12-16 % wb of the whole
windrow whatever its stems. Ranges: dry country against humid coast, and the
order of months that two other implementations gave, not their digits.
"""

import numpy as np
import pytest
from support.seasons import (
    AFTERNOON,
    SITES,
    default_run,
    find_file,
    known_nights,
    read_season,
)

from real.night_hours import BAND_WB, in_band, night_moisture, too_wet

MAY, JUNE, JULY, AUGUST, SEPTEMBER = 5, 6, 7, 8, 9
MONTHS = (MAY, JUNE, JULY, AUGUST, SEPTEMBER)
COLORADO = ("NW Colorado 2017", "NW Colorado 2023")
COMMITTED = (*COLORADO, "JFK 2013")


def hours(flags: np.ndarray) -> np.ndarray:
    """Hours of each night, (lanes,)."""
    return flags.sum(axis=0)


def by_month(values: np.ndarray, name: str) -> dict[int, float]:
    """Mean over the known nights of each month."""
    month, known = read_season(name).month(), known_nights(name)
    return {each: float(values[(month == each) & known].mean()) for each in MONTHS}


def without_any(name: str) -> dict[int, float]:
    """Share of nights without an hour in the band, by month."""
    return by_month(hours(in_band(name)) == 0, name)


@pytest.mark.parametrize("name", COLORADO)
def test_median_afternoon_of_colorado(name):
    afternoon = default_run(name).windrow_wb[::4][AFTERNOON]
    assert 4.0 <= np.nanmedian(afternoon) <= 9.0


@pytest.mark.parametrize("name", COLORADO)
def test_natural_dew_hours_in_some_nights_and_none_in_others(name):
    nights = hours(in_band(name))[known_nights(name)]
    assert 0.1 < (nights == 0).mean() < 0.6
    assert (nights >= 3).mean() > 0.3


@pytest.mark.parametrize("name", COLORADO)
def test_hours_in_the_band_by_month_of_colorado(name):
    mean = by_month(hours(in_band(name)), name)
    assert all(1.0 <= mean[month] <= 9.0 for month in MONTHS)
    assert mean[MAY] > mean[JUNE]
    assert mean[MAY] > mean[JULY]


def test_nights_without_an_hour_in_the_band_in_colorado_2017():
    share = without_any("NW Colorado 2017")
    assert share[MAY] <= 0.15
    assert 0.25 <= share[JUNE] <= 0.75
    assert 0.25 <= share[JULY] <= 0.75


def test_spring_of_2023_was_wetter():
    dry, wet = (by_month(hours(in_band(name)) + hours(too_wet(name)), name) for name in COLORADO)
    for month in (MAY, JUNE):
        assert wet[month] > dry[month] + 1


def test_humid_coast_is_mostly_too_wet_at_night():
    mean = by_month(hours(too_wet("JFK 2013")), "JFK 2013")
    assert all(7.0 <= mean[month] <= 15.0 for month in MONTHS)
    moisture = night_moisture("JFK 2013")[:, known_nights("JFK 2013")]
    assert (moisture > BAND_WB[1]).mean() > 0.4


@pytest.mark.parametrize("name", COLORADO)
def test_dry_country_is_seldom_too_wet(name):
    assert max(by_month(hours(too_wet(name)), name).values()) < 5.0


def test_humid_coast_is_moister_than_dry_country_at_every_hour_of_the_night():
    coast = np.nanmedian(night_moisture("JFK 2013"), axis=1)
    for name in COLORADO:
        assert (coast > np.nanmedian(night_moisture(name), axis=1)).all()


@pytest.mark.parametrize("name", COMMITTED)
def test_night_moistens_and_day_dries(name):
    median = np.nanmedian(default_run(name).windrow_wb[::4], axis=1)
    assert 32 <= np.argmax(median[24:]) + 24 <= 43  # between 22:00 and 09:00 local
    assert median[24] < median[36] > median[48]


@pytest.mark.parametrize("name", COLORADO)
def test_leaf_swings_wider_than_the_stem(name):
    run, known = default_run(name), known_nights(name)
    leaf, stem = run.leaf_wb[::4][:, known], run.stem_wb[::4][:, known]
    assert np.median(leaf[36:42].max(axis=0)) > np.median(stem[36:42].max(axis=0))
    assert np.median(leaf[26]) < np.median(stem[26])


@pytest.mark.parametrize("name", COMMITTED)
def test_ledger_closes_in_every_hour(name):
    assert np.nanmax(default_run(name).ledger_kg_m2) <= 1e-9


def test_gaps_of_the_airport_stay_unknown():
    known = known_nights("JFK 2013")
    missing = read_season("JFK 2013").weather.missing().any(axis=0)
    assert 0 < (~known).sum() < 40
    np.testing.assert_array_equal(known, ~missing)


def recorded(name: str) -> str:
    """The site's name, or a skip where its file is not at hand."""
    if find_file(SITES[name]) is None:
        pytest.skip(f"{name}: HAYWEATHER_RECORDED names no folder with the recorded weather")
    return name


def test_hot_desert_has_no_natural_dew_hours_in_early_summer():
    name = recorded("Tucson")
    mean = by_month(hours(in_band(name)), name)
    assert mean[MAY] == mean[JUNE] == 0.0
    assert mean[AUGUST] > 1.0  # the summer rains
    assert np.median(default_run(name).windrow_wb[::4][AFTERNOON]) < 7.0


def test_granada_lies_between_desert_and_coast():
    name = recorded("Granada")
    mean = by_month(hours(in_band(name)), name)
    assert all(2.0 < mean[month] < 12.0 for month in MONTHS)
    assert mean[AUGUST] < mean[MAY]
    assert max(by_month(hours(too_wet(name)), name).values()) < 6.0
