"""Whatever a station sends: one line or none, no traceback, no impossible hour."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from support.stations import EVENING, FARM, FIELD, SITE, real_weather

from hayweather.nights import night_of
from hayweather.nights.station import joined_with
from hayweather.show.outlook_text import outlook_text
from hayweather.weather.files.station import whole_lines
from hayweather.weather.observed import Observed
from hayweather.weather.record import HOUR
from hayweather.weather.sensors import checked

FORECAST = real_weather()
FIRST = FORECAST.start[0]
VALUES = st.one_of(st.just(float("nan")), st.floats(-30, 45), st.sampled_from([0.0, -40.0, 21.5]))


@st.composite
def stations(draw):
    """Rows at any times from before the forecast to after now, values of any kind."""
    minutes = draw(st.lists(st.integers(-3000, 6000), max_size=60, unique=True))
    times = np.sort(EVENING + np.array(minutes, dtype=np.int64) * np.timedelta64(60, "s"))
    times = times.astype("datetime64[s]")
    size = times.size
    rows = st.lists(VALUES, min_size=size, max_size=size)
    columns = {"air_temperature_c": np.array(draw(rows), dtype=float)}
    true = np.interp((times - FIRST) / HOUR, np.arange(FORECAST.hours),
                     FORECAST.columns["air_temperature_c"][:, 0])  # fmt: skip
    if draw(st.booleans()):
        columns["air_temperature_c"] = true + draw(st.floats(-4, 4))
    off = np.array(draw(st.lists(st.floats(0, 30), min_size=size, max_size=size)), dtype=float)
    columns["dew_point_c"] = columns["air_temperature_c"] - off
    if draw(st.booleans()):
        columns["wind_speed_m_s"] = np.abs(np.array(draw(rows), dtype=float))
    gauge = {}
    if draw(st.booleans()):
        gauge = {"rain_start": EVENING - 30 * HOUR, "rain_mm": np.full(34, draw(VALUES) ** 2)}
    kinds = {"official": draw(st.booleans()), "fills_only": draw(st.booleans()),
             "away_km": draw(st.floats(0, 200)),
             "higher_m": draw(st.floats(-1500, 1500))}  # fmt: skip
    return Observed("yard", times, columns, **gauge, **kinds)


@settings(max_examples=60, deadline=None)
@given(stations(), st.integers(0, 80))
def test_hours_stay_possible_and_only_to_now(observed, cut):
    grid = FORECAST.between(cut, FORECAST.hours)
    seen = checked(observed, grid, SITE, EVENING)
    there = joined_with(grid, [seen], EVENING)
    assert there.weather.end[0] == FORECAST.end[0]
    assert there.weather.start[0] <= grid.start[0]
    columns = there.weather.columns
    with np.errstate(invalid="ignore"):
        assert not (columns["dew_point_c"] > columns["air_temperature_c"] + 1e-9).any()
        assert not (columns["wind_speed_m_s"] < 0).any()
    for name in ("air_temperature_c", "dew_point_c", "wind_speed_m_s"):
        old, new = grid.columns[name][:, 0], columns[name][-grid.hours :, 0]
        np.testing.assert_array_equal(old[~np.isnan(old)], new[~np.isnan(old)])
    known = columns["air_temperature_c"][:, 0]
    assert not (~np.isnan(known) & (there.weather.times()[:, 0] > EVENING))[
        : int((grid.start[0] - there.weather.start[0]) / HOUR)].any()  # fmt: skip
    for shown in there.measured.values():
        assert (np.diff(shown.at) > 0).all()
        assert np.isfinite(shown.values).all()


@settings(max_examples=4, deadline=None)
@given(stations())
def test_a_night_with_any_station_is_an_answer(observed):
    seen = checked(observed, FORECAST, SITE, EVENING)
    made = night_of(FARM, {"home": FORECAST}, EVENING, members=6,
                    observations={FIELD.name: (seen,)})  # fmt: skip
    field = made.fields[0]
    air = field.weighed.drawn.members.weather.columns
    assert np.isfinite(air["air_temperature_c"]).all()
    assert (air["dew_point_c"] <= air["air_temperature_c"]).all()
    assert all(hour.chance is None or abs(sum(hour.chance.values()) - 1) < 1e-9
               for hour in field.hours)  # fmt: skip
    for language in ("en", "es"):
        text = outlook_text(replace(made, farm=replace(FARM, language=language)), "us")
        assert "nan" not in text.lower().split()


@given(st.text(alphabet="0123456789,.;-: \tab\x00\n", max_size=200), st.booleans())
def test_lines_that_stay_are_lines_that_were_there(text, growing):
    lines = text.split("\n")
    kept, cut = whole_lines(lines, growing=growing)
    assert cut >= 0
    rest = iter(lines)
    assert all(line in rest for line in kept)
