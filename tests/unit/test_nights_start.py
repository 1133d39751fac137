"""How a field's run begins: cured hay at 14:00, a reading, or the cutting."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from support.fields import CURED, EVENING, HOME, TURN, days, setting_of, with_blanks

from hayweather.baling.clock import span_of, turn_of
from hayweather.nights.start import first_hour, start_of, swath_density_kg_m2
from hayweather.weather.record import HOUR
from hayweather.windrow.drying import CUT_MOISTURE_DB, HAND_OVER_DB
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.readings import Weights
from hayweather.windrow.sorption import wet_basis

SPAN = span_of(EVENING, "America/Denver")
CUT = replace(CURED, cured=None)


def start(field=CURED, weather=None, begin=0, span=SPAN, hours=60):
    """The start of a field in weather that begins `begin` hours after yesterday's 14:00."""
    weather = weather or days(hours, start=TURN + begin * HOUR)
    return start_of(weather, setting_of(field), span)


def keys(found):
    return [remark.key for remark in found.remarks]


def starts_at(found):
    """Hours in which an unknown windrow may start."""
    return np.flatnonzero(found.equilibrium[:, 0]).tolist()


def test_cured_hay_starts_at_each_two_in_the_afternoon():
    found = start()
    assert starts_at(found) == [0, 24, 48]
    assert found.remarks == ()
    assert found.starts == {}
    assert found.swath_db is None
    assert not found.uncured.any()


@pytest.mark.parametrize(
    ("begin", "hours", "told"),
    [
        (-20, [20, 44], []),  # longer than needed
        (2, [0, 22, 46], ["start_off_hour"]),  # 16:00 yesterday: still the whole night
        (3, [0, 21, 45], ["start_off_hour"]),
        (4, [20, 44], ["start_without_spin_up"]),  # 18:00 is no time to start; today's 14:00 is
        (22, [0, 2, 26, 50], ["start_without_spin_up", "start_off_hour"]),  # noon today
        (24, [0, 24, 48], ["start_without_spin_up"]),
        (25, [0, 23, 47], ["start_without_spin_up", "start_off_hour"]),
        (28, [20, 44], ["start_too_late"]),
        (29, [19, 43], ["start_too_late"]),
    ],
)
def test_where_the_weather_begins(begin, hours, told):
    """Hours from yesterday's 14:00 to the first of the weather; now is 19:00, hour 29."""
    found = start(begin=begin)
    assert starts_at(found) == hours
    assert keys(found) == told
    for remark in found.remarks:
        assert remark.values.get("time", TURN + begin * HOUR) == TURN + begin * HOUR


def test_weather_missing_at_the_start_counts_as_not_there():
    found = start(weather=with_blanks(days(60), "dew_point_c", 0, 2))
    assert keys(found) == ["start_without_spin_up"]
    later = with_blanks(days(60, start=TURN + 24 * HOUR), "dew_point_c", 0, 1)
    assert keys(start(weather=later)) == ["start_too_late"]


def test_quarters_before_the_named_time_are_uncured():
    found = start(replace(CURED, cured=EVENING + np.timedelta64(40 * 60, "s")))
    assert found.uncured[:, 0].tolist() == [True] * (4 * 29 + 3) + [False] * (4 * 31 - 3)


def test_a_reading_starts_the_run_now():
    found = start(replace(CUT, moisture_now_wb=11.0))
    assert list(found.starts) == [29]
    state = found.starts[29]
    np.testing.assert_allclose(wet_basis(state.moisture_db), 11.0)
    assert state.film_kg_m2.max() == 0
    assert starts_at(found) == []
    assert keys(found) == ["start_from_moisture"]
    assert found.remarks[0].values == {"value": (11.0, "percent"), "time": EVENING}


def test_a_reading_stands_above_cutting_and_cured():
    found = start(replace(CURED, moisture_now_wb=11.0, cut_at=TURN))
    assert keys(found) == ["start_from_moisture"]
    assert starts_at(found) == [48]  # cured, so that a later gap can be made good
    later = start(replace(CURED, cured=EVENING + 4 * HOUR, moisture_now_wb=11.0))
    assert later.uncured[:, 0].sum() == 4 * 33


def test_a_reading_in_unknown_air_starts_nothing():
    weather = with_blanks(days(60), "air_temperature_c", 29, 30)
    state = start(replace(CUT, moisture_now_wb=11.0), weather).starts[29]
    assert np.isnan(state.moisture_db).all()


def test_a_swath_dries_from_its_cutting_until_the_model_takes_over():
    found = start(replace(CUT, cut_at=TURN + HOUR), hours=100)
    swath = found.swath_db[:, 0]
    assert np.isnan(swath[:1]).all()
    assert swath[1] == CUT_MOISTURE_DB
    (ready,) = found.starts
    assert found.cured_hour.tolist() == [ready]
    assert swath[ready] <= HAND_OVER_DB < swath[ready - 1]
    state = found.starts[ready]
    share = 0.47
    whole = share * state.moisture_db[0] + (1 - share) * state.moisture_db[1]
    np.testing.assert_allclose(whole, HAND_OVER_DB)
    assert (state.moisture_db[0] < state.moisture_db[1]).all()  # the stem is the wetter
    assert found.uncured[:, 0].tolist() == [True] * (4 * ready) + [False] * (4 * (100 - ready))
    assert keys(found) == ["start_from_cutting"]


def test_every_run_takes_over_at_its_own_hour_and_says_when():
    """A windrow with a drying factor for each lane; the shown spread is eight in ten."""
    factors = np.array([1.0, 0.6, 0.8, 1.0, 1.2, 1.6])
    setting = setting_of(replace(CUT, cut_at=TURN + HOUR))
    setting = replace(setting, windrow=replace(setting.windrow, drying_factor=factors))
    weather = repeat_weather(days(100), np.zeros(6, dtype=int))
    found = start_of(weather, setting, SPAN)
    order = found.cured_hour[1:].tolist()
    assert order == sorted(order, reverse=True)
    assert order[0] > order[-1]
    assert sorted(found.starts) == sorted(set(found.cured_hour.tolist()))
    for lane, hour in enumerate(found.cured_hour):
        assert np.isfinite(found.starts[hour].moisture_db[:, :, lane]).all()
        assert found.uncured[: 4 * hour, lane].all()
        assert not found.uncured[4 * hour :, lane].any()
    weights = Weights(np.array([0.0, 0.2, 0.2, 0.2, 0.2, 0.2]), 5.0)
    (said,) = found.cured_when(TURN, weights)
    assert said.key == "start_cured_between"
    assert said.values == {"first": TURN + order[-1] * HOUR, "last": TURN + order[0] * HOUR}
    assert found.cured_when(TURN, Weights(np.zeros(6), 0.0)) == ()
    short = start_of(weather.between(0, order[0]), setting, SPAN)
    (said,) = short.cured_when(TURN, weights)
    assert said.key == "start_cured_from"
    assert said.values["never"] == "20"


@pytest.mark.parametrize("later", [-20, 4])
def test_two_inches_give_the_hay_back_to_the_swath(later):
    """On hay cut the day before, and on hay that the calculation had called cured."""
    field = replace(CUT, cut_at=TURN + HOUR)
    plain = start(field, hours=100)
    (cured,) = plain.starts
    rain = np.zeros(100)
    rain[cured + later] = 50.0
    found = start(field, days(100, rain_mm=rain))
    assert max(found.starts) > cured
    assert (found.uncured | ~plain.uncured).all()
    assert found.uncured[4 * (cured + later) : 4 * max(found.starts)].all()
    assert not found.uncured[4 * max(found.starts) :].any()


def test_cut_within_an_hour_counts_from_its_beginning():
    odd = start(replace(CUT, cut_at=TURN + HOUR + np.timedelta64(59 * 60, "s")), hours=100)
    even = start(replace(CUT, cut_at=TURN + HOUR), hours=100)
    np.testing.assert_array_equal(odd.swath_db, even.swath_db)


def test_still_drying_when_the_weather_ends():
    found = start(replace(CUT, cut_at=TURN + 30 * HOUR), hours=40)
    assert keys(found) == ["start_still_drying"]
    assert found.starts == {}
    assert found.uncured.all()


def test_dry_enough_only_at_the_end_of_the_last_hour_is_still_drying():
    ready = min(start(replace(CUT, cut_at=TURN), hours=100).starts)
    found = start(replace(CUT, cut_at=TURN), hours=ready)
    assert found.swath_db[-1, 0] <= HAND_OVER_DB
    assert keys(found) == ["start_still_drying"]


def test_to_be_cut_after_the_weather_ends():
    found = start(replace(CUT, cut_at=TURN + 60 * HOUR))
    assert keys(found) == ["start_not_cut"]
    assert found.uncured.all()
    assert found.starts == {}


@pytest.mark.parametrize(("before", "uncured"), [(1, 35), (35, 1), (36, 0), (200, 0)])
def test_cut_before_the_weather_begins(before, uncured):
    """Not cured for a day and a half after the cutting (assumed); then nobody knows: no data."""
    found = start(replace(CUT, cut_at=TURN - before * HOUR))
    assert keys(found) == ["start_cut_before_weather"]
    assert found.uncured[:, 0].sum() == 4 * uncured
    assert found.uncured[: 4 * uncured].all()
    assert starts_at(found) == []
    assert found.remarks[0].values == {"time": TURN - before * HOUR, "first": TURN}


def test_a_blank_while_the_swath_dries_ends_what_is_known():
    field = replace(CUT, cut_at=TURN + 20 * HOUR)
    found = start(field, with_blanks(days(100), "rain_mm", 25, 26))
    assert np.isfinite(found.swath_db[20:26]).all()
    assert np.isnan(found.swath_db[26:]).all()
    assert found.uncured[:, 0].tolist() == [True] * 100 + [False] * 300
    assert keys(found) == ["start_drying_unknown"]


def test_a_blank_before_the_cutting_does_not_matter():
    field = replace(CUT, cut_at=TURN + 10 * HOUR)
    found = start(field, with_blanks(days(100), "dew_point_c", 3, 6))
    assert keys(found) == ["start_from_cutting"]


def test_first_hour_reaches_back_to_the_cutting_but_not_before_the_weather():
    weather = days(150, start=TURN - 72 * HOUR)
    assert first_hour(weather, setting_of(), SPAN) == 72
    cut = replace(CUT, cut_at=TURN - 30 * HOUR)
    assert first_hour(weather, setting_of(cut), SPAN) == 42
    assert first_hour(weather, setting_of(replace(CUT, cut_at=TURN + HOUR)), SPAN) == 72
    assert first_hour(weather, setting_of(replace(cut, moisture_now_wb=9.0)), SPAN) == 72
    assert first_hour(weather, setting_of(replace(CUT, cut_at=TURN - 100 * HOUR)), SPAN) == 0
    assert first_hour(days(50, start=EVENING), setting_of(), SPAN) == 0


def test_swath_density_from_the_windrow_and_its_widths():
    """1.5 kg/m2 of a 1.7 m windrow came from two swaths of 5 m."""
    widths = {"swath_width_m": 5.0, "windrow_width_m": 1.7, "swaths_per_windrow": 2}
    assert swath_density_kg_m2(setting_of(replace(CURED, **widths))) == pytest.approx(0.255)
    assert swath_density_kg_m2(setting_of()) == pytest.approx(0.45)


def test_in_a_half_hour_zone_the_run_starts_in_the_hour_after_two():
    site = replace(HOME, longitude=138.6, latitude=-34.9, timezone="Australia/Adelaide")
    begin = turn_of(date(2024, 12, 1), "Australia/Adelaide")
    weather = days(60, start=begin.astype("datetime64[h]").astype("datetime64[s]"))
    span = span_of(begin + 29 * HOUR, "Australia/Adelaide")
    assert span.start == begin
    found = start_of(weather, setting_of(site=site), span)
    assert starts_at(found) == [1, 25, 49]
    assert found.remarks == ()


def rainy(first, amount_mm, begin=-72, hours=150):
    """Days from `begin` hours before yesterday's 14:00 on, with rain in one hour after it."""
    rain = np.zeros(hours)
    rain[first - begin] = amount_mm
    return days(hours, start=TURN + begin * HOUR, rain_mm=rain)


@pytest.mark.parametrize(
    ("first", "amount_mm", "back"),
    [
        (-3, 5.0, 24),  # yesterday at 11:00: hay is wet at 14:00, begin a day earlier
        (-24, 1.1, 24),
        (-24, 1.0, 0),  # dried off by then (assumed)
        (-25, 5.0, 0),  # more than a day before
        (0, 5.0, 0),  # the run itself follows it
    ],
)
def test_rain_before_the_start_is_followed_from_the_day_before(first, amount_mm, back):
    assert first_hour(rainy(first, amount_mm), setting_of(), SPAN) == 72 - back


def test_rain_day_after_day_is_followed_four_days_at_most():
    weather = days(250, start=TURN - 172 * HOUR, rain_mm=0.5)
    assert first_hour(weather, setting_of(), SPAN) == 172 - 96
    assert first_hour(weather.between(150, 250), setting_of(), SPAN) == 0


def test_rain_before_the_cutting_did_not_fall_on_this_hay():
    field = replace(CURED, cut_at=TURN - 2 * HOUR)
    assert first_hour(rainy(-3, 5.0), setting_of(field), SPAN) == 72
    read = replace(CURED, moisture_now_wb=11.0)
    assert first_hour(rainy(-3, 5.0), setting_of(read), SPAN) == 72


def test_no_start_in_the_air_of_an_afternoon_after_rain():
    """Rain at 09:00 today, weather from 20:00 yesterday: nobody knows how wet the hay is."""
    found = start(weather=rainy(19, 4.0, begin=6, hours=60))
    assert starts_at(found) == [42]
    assert keys(found) == ["start_after_rain"]
    read = start(replace(CURED, moisture_now_wb=9.0), rainy(40, 4.0, begin=6, hours=80))
    assert starts_at(read) == [66]
