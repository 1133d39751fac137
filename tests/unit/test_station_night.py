"""A station in a night: hours joined, differences carried on, bad sensors not followed."""

import json
from dataclasses import replace

import numpy as np
import pytest
from support.stations import EVENING, FARM, FIELD, MEMBERS, SITE, real_weather, station

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.nights import night_of
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_data import outlook_form
from hayweather.show.outlook_text import outlook_text
from hayweather.weather.record import HOUR
from hayweather.weather.sensors import checked
from hayweather.windrow.carried import Drift, Shown, shares
from hayweather.windrow.spread import ERRORS
from hayweather.windrow.vapor import dew_point, saturation_vapor_pressure
from hayweather.words import LANGUAGES

FORECAST = real_weather()


def night(observed=None, *, weather=FORECAST, now=EVENING, members=MEMBERS):
    seen = {} if observed is None else {FIELD.name: (observed,)}
    return night_of(FARM, {"home": weather}, now, observations=seen, members=members)


def judged(observed, weather=FORECAST, now=EVENING):
    return checked(observed, weather, SITE, now)


def first_ready(found):
    """When the windrow shown first reaches the band."""
    field = found.fields[0]
    times = field.shown.trajectory.times()[:, 0]
    reached = field.shown.trajectory.windrow_wb[:, 0] >= field.setting.band.low_wb
    return times[reached.argmax()]


def at_six(found):
    """Moisture of the members at 6 am local [% wet basis]."""
    run = found.fields[0].shown.trajectory
    row = int((np.datetime64("2017-07-11T12:00") - run.start[0]) / np.timedelta64(900, "s"))
    return run.windrow_wb[row, 1:]


def test_a_damper_station_brings_the_night_forward_a_drier_one_back():
    plain = night()
    damp = night(judged(station(FORECAST, EVENING, dew_point_c=2.5)))
    dry = night(judged(station(FORECAST, EVENING, dew_point_c=-2.5)))
    assert first_ready(damp) < first_ready(plain) < first_ready(dry)
    assert at_six(damp).mean() > at_six(plain).mean() > at_six(dry).mean()


def test_a_measurement_narrows_the_night():
    plain, seen = night(members=200), night(judged(station(FORECAST, EVENING)), members=200)
    assert at_six(seen).std() < 0.95 * at_six(plain).std()
    members = seen.fields[0].weighed.drawn.members.weather
    row = int((EVENING - members.start[0]) / HOUR)
    air = members.columns["air_temperature_c"][:, 1:]
    assert air[row].std() < 0.4 * ERRORS["air_temperature_c"].size
    assert air[row + 24].std() > 0.8 * ERRORS["air_temperature_c"].size


def test_the_difference_fades_with_the_memory():
    """One value: what an hour takes of it is memory to the power of the hours since, times
    variance over variance and the station's own (best linear estimate of an AR(1), textbook)."""
    error = ERRORS["dew_point_c"]
    one = Shown(np.array([3.0]), np.array([2.0]), 0.6, 0.3)
    drift = Drift(error.memory, np.full(20, error.size))
    known = error.size**2 / (error.size**2 + 0.6**2 + 0.3**2)
    expected = known * error.memory ** np.abs(np.arange(20) - 3.0)
    np.testing.assert_allclose(shares(one, drift)[:, 0], expected, rtol=1e-12)
    found = night(judged(station(FORECAST, EVENING, dew_point_c=2.0)), members=0)
    weather = found.fields[0].shown.weather
    first = int((weather.start[0] - FORECAST.start[0]) / HOUR)
    moved = weather.columns["dew_point_c"][:, 0] - FORECAST.columns["dew_point_c"][first:, 0][
        : weather.hours]  # fmt: skip
    assert moved[0] == pytest.approx(2.0)
    assert (np.diff(moved[:12]) < 0).all()
    assert 2.0 * error.memory**10 * 0.8 < moved[10] <= 2.0 * error.memory**10


def stuck(weather, now):
    seen = station(weather, now)
    rows = seen.times >= now - 7 * HOUR
    columns = {name: np.where(rows, values[rows.argmax()], values)
               for name, values in seen.columns.items()}  # fmt: skip
    return replace(seen, columns=columns)


def jumping(weather, now):
    seen = station(weather, now)
    off = np.where(np.arange(seen.times.size) % 9 == 4, 14.0, 0.0)
    return replace(seen, columns={**seen.columns, "air_temperature_c":
                                  seen.columns["air_temperature_c"] + off})  # fmt: skip


def in_the_sun(weather, now):
    seen = station(weather, now)
    hour = (seen.times.astype("datetime64[s]").astype(np.int64) / 3600 - 7.25) % 24
    heat = 7.0 * np.clip(np.sin((hour - 6) / 12 * np.pi), 0, None)
    return replace(seen, columns={**seen.columns, "air_temperature_c":
                                  seen.columns["air_temperature_c"] + heat})  # fmt: skip


def old(weather, now):
    return station(weather, now - 3 * HOUR, dew_point_c=3.0)


def other_zone(weather, now):
    """Written in local time, read as UTC six hours off; the values of the future cut away."""
    seen = station(weather, now + 6 * HOUR, dew_point_c=2.0)
    return replace(seen, times=seen.times - 6 * HOUR)


BAD = {
    "stuck": (stuck, "sensor_stuck_air"),
    "jumping": (jumping, "sensor_jumps"),
    "in the sun": (in_the_sun, "sensor_sun"),
    "two hours old": (old, "sensor_stale"),
    "another zone": (other_zone, "sensor_clock"),
}
BY_DAY = np.datetime64("2017-07-10T23:00", "s")  # 5 pm, the sun still up


@pytest.mark.parametrize("name", BAD)
def test_a_bad_sensor_is_said_and_not_followed(name):
    make, key = BAD[name]
    now = BY_DAY if name == "in the sun" else EVENING
    found = judged(make(FORECAST, now), now=now)
    told = [found.refused] if found.refused is not None else list(found.notes)
    assert key in [remark.key for remark in told]
    seen, plain = night(found, now=now), night(now=now)
    for language in LANGUAGES:
        farm = replace(FARM, language=language)
        text = outlook_text(replace(seen, farm=farm), "us")
        assert "yard" in text
    for hour, other in zip(seen.fields[0].hours, plain.fields[0].hours, strict=True):
        assert (hour.call, hour.advice, hour.chance) == (other.call, other.advice, other.chance)
        assert hour.hay.windrow_wb == other.hay.windrow_wb


def test_values_left_out_are_not_called_old():
    """A station that stands still writes on: what is old is the last value that was sound."""
    keys = [note.key for note in judged(stuck(FORECAST, EVENING)).notes]
    assert keys == ["sensor_stuck_air", "sensor_stale_sound"]
    assert [note.key for note in judged(old(FORECAST, EVENING)).notes] == ["sensor_stale"]


def test_humidity_that_stands_still_in_dry_air_is_no_dead_sensor():
    """Whole points of 8 % over an afternoon that moves by 5 K; of 60 % it would be one."""
    now = np.datetime64("2017-07-11T02:00", "s")
    seen = station(FORECAST, now)
    rows = seen.times >= now - 6 * HOUR
    for percent, keys in ((8.0, []), (60.0, ["sensor_stuck_humidity"])):
        air = seen.columns["air_temperature_c"]
        dew = dew_point(percent / 100 * saturation_vapor_pressure(air))
        held = np.where(rows, dew, seen.columns["dew_point_c"])
        found = judged(replace(seen, columns={**seen.columns, "dew_point_c": held}), now=now)
        told = [note.key for note in (found.refused, *found.notes) if note is not None]
        assert [key for key in told if "humidity" in key] == keys


def test_one_leap_costs_what_it_covers():
    seen = station(FORECAST, EVENING, dew_point_c=1.0)
    rows = np.zeros(seen.times.size, dtype=bool)
    rows[-9:-4] = True
    air = seen.columns["air_temperature_c"] + 12.0 * rows
    found = judged(replace(seen, columns={**seen.columns, "air_temperature_c": air}))
    assert [note.key for note in found.notes] == ["sensor_jump"]
    assert np.isnan(found.columns["air_temperature_c"]).sum() == 5
    assert night(found).fields[0].stations[0].carried


def test_a_clock_ahead_and_air_of_another_place_are_left_out():
    ahead = judged(station(FORECAST, EVENING + 6 * HOUR))
    assert ahead.refused.key == "sensor_clock_ahead"
    far = judged(station(FORECAST, EVENING, air_temperature_c=15.0, dew_point_c=15.0))
    assert far.refused.key == "sensor_apart_air"
    fahrenheit = station(FORECAST, EVENING)
    wrong = {name: values * 1.8 + 32 for name, values in fahrenheit.columns.items()}
    assert judged(replace(fahrenheit, columns=wrong)).refused is not None


def cut(weather, first):
    """The weather as an answer that begins at `first`."""
    skip = int((first - weather.start[0]) / HOUR)
    return weather.between(skip, weather.hours)


AFTER_MIDNIGHT = np.datetime64("2017-07-11T07:20", "s")  # 1:20 am
GRIDS = {
    "18:00": np.datetime64("2017-07-11T00:00", "s"),
    "00:00": np.datetime64("2017-07-11T06:00", "s"),
}


@pytest.mark.parametrize("name", ["00:00", pytest.param("18:00", marks=pytest.mark.slow)])
def test_after_midnight_the_station_stands_for_the_hours_that_the_grid_lacks(name):
    grid = cut(FORECAST, GRIDS[name])
    alone = night(weather=grid, now=AFTER_MIDNIGHT)
    assert {hour.call for hour in alone.fields[0].hours if hour.start < GRIDS[name] + 8 * HOUR} == {
        Call.NO_DATA}  # fmt: skip
    seen = judged(station(FORECAST, AFTER_MIDNIGHT, wind=True, rain=True), grid, AFTER_MIDNIGHT)
    assert seen.refused is None
    found = night(seen, weather=grid, now=AFTER_MIDNIGHT)
    whole = night(judged(station(FORECAST, AFTER_MIDNIGHT, wind=True, rain=True), FORECAST,
                         AFTER_MIDNIGHT), now=AFTER_MIDNIGHT)  # fmt: skip
    called = [hour.call for hour in found.fields[0].hours]
    assert Call.NO_DATA not in called
    wet = [item.fields[0].shown.trajectory.windrow_wb[:, 0] for item in (found, whole)]
    np.testing.assert_allclose(wet[0], wet[1], atol=0.6)  # the sky of those hours is not known
    assert found.fields[0].stations[0].filled >= 10
    form = outlook_form(found, "us")
    (first, *_) = form["fields"][0]["hours"]
    origin = {"air_temperature": "measured", "dew_point": "measured", "wind": "measured"}
    assert origin.items() <= first["origin"].items()


def test_without_wind_or_rain_the_hours_that_nobody_has_stay_unknown():
    grid = cut(FORECAST, GRIDS["00:00"])
    for seen in (
        station(FORECAST, AFTER_MIDNIGHT),
        station(FORECAST, AFTER_MIDNIGHT, wind=True),
    ):
        found = night(judged(seen, grid, AFTER_MIDNIGHT), weather=grid, now=AFTER_MIDNIGHT)
        assert found.fields[0].hours[0].call == Call.NO_DATA
        lacks = "wind and rain" if "wind_speed_m_s" not in seen.columns else "rain"
        text = " ".join(outlook_text(found, "us").split())
        assert f"no forecast has: {lacks} would be needed too." in text
        assert "Note: the weather begins" not in text
        assert json.dumps(outlook_form(found, "us")).count('"unknown"') > 1


def test_the_phrase_stands_on_screen_message_and_data():
    from hayweather.plan.sheet import make_runsheet

    now = EVENING + np.timedelta64(12 * 60, "s")
    found = night(judged(station(FORECAST, EVENING, dew_point_c=0.8), now=now), now=now)
    phrase = "Your station: 1.4 °F damper than forecast, 12 min ago."
    assert phrase in " ".join(outlook_text(found, "us").split())
    message = " ".join(runsheet_message(make_runsheet(found), "us"))
    assert "Your station: 1.4" in message
    (told,) = outlook_form(found, "us")["fields"][0]["stations"]
    assert told["phrase"] == phrase
    assert (told["age_minutes"], told["carried"]) == (12.0, True)
    assert told["damper_k"] == pytest.approx(0.8, abs=1e-3)


def taken_away(weather, name, rows):
    values = weather.columns[name].copy()
    values[rows] = np.nan
    return replace(weather, columns={**weather.columns, name: values})


@pytest.mark.slow
def test_permission_does_not_grow_when_cells_go_beside_a_station():
    """The law of tests/property/test_evidence_laws.py, with a station that measures."""
    random = np.random.default_rng(5)
    seen = judged(station(FORECAST, EVENING, dew_point_c=1.5, wind=True, rain=True))
    whole = night(seen).fields[0].shown.advice
    here = int((EVENING - FORECAST.start[0]) / HOUR)
    quarters = raised = 0
    for name in ("air_temperature_c", "dew_point_c", "wind_speed_m_s", "rain_mm"):
        for _ in range(3):
            first = int(random.integers(here - 30, here + 14))
            weather = taken_away(FORECAST, name, slice(first, first + int(random.integers(1, 8))))
            advice = night(seen, weather=weather).fields[0].shown.advice
            goes = advice == Advice.GO
            assert not (goes & np.isin(whole, (Advice.WAIT, Advice.UNKNOWN))).any()
            raised += int((goes & (whole == Advice.PROBE_FIRST)).sum())
            quarters += advice.size
    assert raised <= 0.01 * quarters


def test_rain_in_the_gauge_is_not_forgotten_with_its_sensor():
    """A station that fell silent after a shower: what it measured of rain has fallen."""
    wet = station(FORECAST, EVENING - 3 * HOUR, rain=True)
    wet.rain_mm[-2] = 6.0
    seen = judged(wet)
    assert seen.fills_only
    rained, plain = night(seen), night()
    begin = rained.fields[0].weighed.drawn.source
    assert np.nansum(begin.columns["rain_mm"]) == 6.0
    goes = [np.count_nonzero(item.fields[0].shown.advice == Advice.GO) for item in (rained, plain)]
    assert goes[0] < goes[1]
    # A gauge elsewhere fills blanks, and neither wets nor dries what the forecast knows.
    far = replace(judged(station(FORECAST, EVENING, rain=True)), away_km=30.0, official=True)
    far.rain_mm[-2] = 6.0
    assert np.nansum(night(far).fields[0].weighed.drawn.source.columns["rain_mm"]) == 0.0


@pytest.mark.slow
def test_two_fields_with_two_stations_are_as_each_alone():
    other = replace(FIELD, name="south")
    farm = replace(FARM, fields={FIELD.name: FIELD, "south": other})
    damp, dry = (judged(station(FORECAST, EVENING, dew_point_c=off)) for off in (1.5, -1.5))
    both = night_of(farm, {"home": FORECAST}, EVENING, members=MEMBERS,
                    observations={FIELD.name: (damp,), "south": (dry,)})  # fmt: skip
    for number, seen in enumerate((damp, dry)):
        alone = night(seen).fields[0].shown.trajectory.windrow_wb
        np.testing.assert_allclose(
            both.fields[number].shown.trajectory.windrow_wb, alone, atol=1e-6
        )


def test_readings_and_station_go_together():
    from hayweather.windrow.readings import Reading

    seen = judged(station(FORECAST, EVENING, dew_point_c=1.0))
    read = {FIELD.name: [Reading(EVENING, 11.0)]}
    both = night_of(FARM, {"home": FORECAST}, EVENING, read,
                    observations={FIELD.name: (seen,)}, members=MEMBERS)  # fmt: skip
    field = both.fields[0]
    assert field.shown.weights.readings
    assert field.stations[0].carried
    assert at_six(both).std() < at_six(night(seen)).std() * 1.05


def test_what_is_not_observed_changes_nothing():
    same = night_of(FARM, {"home": FORECAST}, EVENING, members=MEMBERS)
    other = night(None)
    one, two = (item.fields[0].shown.trajectory.windrow_wb for item in (same, other))
    np.testing.assert_array_equal(one, two)
