"""Forecasts kept as they came with the outlooks made of them, and learned from."""

import gzip
import json
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from cli.commands import done
from support.colorado import colorado

from hayweather.farm import read_farm
from hayweather.learning.forecast_errors import fit_errors
from hayweather.learning.learn import learn
from hayweather.learning.learned_file import learned_for, learned_path, write_learned
from hayweather.log import Log, keep_forecasts, open_log
from hayweather.log import book as log_book
from hayweather.log import database as log_database
from hayweather.nights import night_of
from hayweather.weather.asked import weather_for
from hayweather.weather.files import ReadOptions, read_weather_file, write_weather_csv
from hayweather.weather.observed import Observed
from hayweather.weather.record import HOUR, MEASURED, HourlyWeather, Source
from hayweather.windrow.spread import ERRORS, ForecastErrors, HourlyError, hourly_errors

SUMMER = Path(__file__).parents[1] / "data" / "nw_colorado_2017_may_september.csv.gz"
AIR, DEW = "air_temperature_c", "dew_point_c"
TRUE = ForecastErrors(
    {**ERRORS, AIR: HourlyError(0.85, 1.2), DEW: HourlyError(0.9, 1.9)}, {(AIR, DEW): 0.5}
)
BIAS = {AIR: 1.4, DEW: -1.1}
FIRST = np.datetime64("2017-06-02T00:20:00")  # 18:20 of 1 June in Colorado
DAY = 24 * HOUR
FARM = colorado(
    'file = "forecast.csv"\nwind_height = "2 m"\n'
    '[station.yard]\nfile = "yard.csv"\ntimezone = "UTC"'
)


@pytest.fixture(autouse=True)
def _fewer_draws(monkeypatch):
    monkeypatch.setattr("hayweather.learning.learn.fit_errors", partial(fit_errors, draws=80))


@pytest.fixture(scope="module")
def truth():
    with gzip.open(SUMMER) as file:
        table = pd.read_csv(file, parse_dates=["time_utc"], index_col=0)
    return table.loc["2017-05-25":"2017-08-10"]


@pytest.fixture
def farm(tmp_path, truth, monkeypatch):
    """A farm with a thermo-hygrometer; the clock on the wall stands at the last evening."""
    seen = truth[["temp_c", "dewpoint_c"]].round(2)
    seen.to_csv(tmp_path / "yard.csv", date_format="%Y-%m-%dT%H:%MZ")
    (tmp_path / "farm.toml").write_text(FARM)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "farm.toml"


def forecasts(truth, nights):
    """Each evening's time and its forecast, wrong as `TRUE` and `BIAS` say."""
    start = np.datetime64(truth.index[0].tz_localize(None), "s")
    columns = {AIR: "temp_c", DEW: "dewpoint_c", "wind_speed_m_s": "wind_ms"}
    first = int(FIRST.astype("datetime64[h]").astype(np.int64))
    for night in range(nights):
        made = FIRST + night * DAY
        begin = made.astype("datetime64[h]").astype("datetime64[s]") - DAY
        rows = slice(int((begin - start) // HOUR), int((begin - start) // HOUR) + 24 + 96)
        part = {name: truth[of].to_numpy()[rows, None] for name, of in columns.items()}
        wrong = hourly_errors(night, first, 24 + 96, 1, TRUE)
        part = {name: part[name] + (wrong[name] + BIAS[name] if name in BIAS else 0)
                for name in part}  # fmt: skip
        part[DEW] = np.minimum(part[DEW], part[AIR])
        source = Source("forecast.csv", made - HOUR)
        yield made, HourlyWeather(np.array([begin]), part, 2.0, source)


def season(farm, truth, nights=60):
    """Keep every evening's forecast, and one of later in the night that is quite wrong."""
    with open_log(farm) as log:
        for made, came in forecasts(truth, nights):
            assert keep_forecasts(log, {"home": came}, made, made)
            columns = {**came.columns, AIR: came.columns[AIR] + 9.0}
            keep_forecasts(log, {"home": replace(came, columns=columns)}, made + 6 * HOUR,
                           made + 6 * HOUR)  # fmt: skip
    return made, came


def test_a_season_of_kept_outlooks_gives_back_its_bias_and_size(farm, truth):
    """60 evenings, bars of 90 %: of twelve numbers one may lie outside by chance."""
    read_in = read_farm(farm)
    season(read_in, truth)
    (found,) = learn(read_in)
    assert (found.nights, found.kept, found.source) == (60, 60, "forecast.csv")
    asked = []
    for name, size in ((AIR, TRUE.columns[AIR].size), (DEW, TRUE.columns[DEW].size)):
        for at in range(4):
            bias, spread = found.fitted.biases[name][at], found.fitted.sizes[name][at]
            assert bias.nights == 60
            asked += [(bias, BIAS[name]), (spread, size)]
    inside = [one.bar[0] <= true <= one.bar[1] for one, true in asked]
    assert sum(inside) >= 14, inside
    assert found.fitted.memories[AIR].value == pytest.approx(0.85, abs=0.06)


def test_learning_twice_does_not_learn_from_what_was_corrected(farm, truth, monkeypatch, capsys):
    """With learned errors and a station in force, the log keeps what came, digit for digit."""
    read_in = read_farm(farm)
    made, came = season(read_in, truth, 24)
    came.to_pandas("UTC")[list(came.columns)].to_csv("forecast.csv", date_format="%Y-%m-%dT%H:%MZ")
    text = Path("forecast.csv").read_text()
    Path("forecast.csv").write_text(f"# issued: {came.source.issued}Z\n{text}")
    (found,) = learn(read_in)
    write_learned(learned_path(farm), read_in.sites, {"home": found.fitted.errors},
                  {"home": found.source})  # fmt: skip
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 8)
    made += 3 * HOUR
    monkeypatch.setattr("hayweather.log.joined.wall_clock", lambda: made)
    monkeypatch.setattr("hayweather.weather.asked.wall_clock", lambda: made)
    form = json.loads(done(capsys, "outlook", farm, "--now", f"{made}Z", "--format", "json"))
    assert "fitted on 24 nights" in json.dumps(form)
    assert form["fields"][0]["stations"]
    came = read_weather_file(Path("forecast.csv"), ReadOptions(wind_height_m=2.0))[0]
    row = int((made.astype("datetime64[h]").astype("datetime64[s]") - came.start[0]) // HOUR)
    with open_log(read_in, only_read=True) as log:
        (outlook,) = log.outlooks()
        (kept,) = [item for item in log.forecasts() if item.id == outlook.forecast]
        assert kept.issued == came.source.issued
        for name in (AIR, DEW, "wind_speed_m_s"):
            assert np.array_equal(kept.columns[name], came.columns[name][row : row + 96, 0])
        shown = [hour["air_temperature_c"] for hour in form["fields"][0]["hours"]][:6]
        assert not np.allclose(shown, kept.columns[AIR][:6], atol=0.2)
    assert learned_for(read_in, {"home": came}, made)["home"].nights == 24
    (again,) = learn(read_in)
    for name in (AIR, DEW):
        for one, other in zip(found.fitted.biases[name], again.fitted.biases[name], strict=True):
            assert one.value == pytest.approx(other.value, abs=1e-9, nan_ok=True)


def test_what_is_known_afterwards_or_was_measured_is_not_kept_as_a_forecast(farm, truth):
    read_in = read_farm(farm)
    ((made, came),) = forecasts(truth, 1)
    invented = replace(read_in, weather=replace(read_in.weather, invented=True))
    issued = replace(came, source=Source("forecast.csv", made + DAY))
    past = replace(came, source=Source("forecast.csv", measured=True))
    with open_log(read_in) as log:
        assert keep_forecasts(log, {"home": came}, made, made + DAY) == {}
        assert keep_forecasts(log, {"home": issued}, made, made) == {}
        assert keep_forecasts(log, {"home": past}, made, made) == {}
        assert keep_forecasts(Log(invented, log.path, log._connection), {"home": came}, made,
                              made) == {}  # fmt: skip
        basis = came.basis.copy()
        basis[24:30] = MEASURED
        repaired = came.repaired.copy()
        repaired[40] = True
        marked = replace(came, basis=basis, repaired=repaired)
        keep_forecasts(log, {"home": marked}, made, made)
        (kept,) = log.forecasts("home")
    blank = np.isnan(kept.columns[AIR])
    assert np.flatnonzero(blank).tolist() == [*range(6), 16]


def test_the_log_does_not_grow_without_end_and_keeps_the_first_of_each_night(
    farm, truth, monkeypatch
):
    read_in = read_farm(farm)
    monkeypatch.setattr(log_book, "NIGHTS_KEPT", 6)
    ((made, came),) = forecasts(truth, 1)
    with open_log(read_in) as log:
        for night in range(12):
            moved = replace(came, start=came.start + night * DAY,
                            source=Source("forecast.csv", made + night * DAY))  # fmt: skip
            for minutes in (0, 10, 20, 60, 120, 180):
                now = made + night * DAY + np.timedelta64(60 * minutes, "s")
                keep_forecasts(log, {"home": moved}, now, now)
        hours = [item.hour for item in log.forecasts()]
        nights = [item.night for item in log.forecasts()]
    assert len(set(nights)) == 6
    assert [nights.count(night) for night in sorted(set(nights))] == [1, 1, 1, 4, 4, 4]
    assert hours[0] == (made + 6 * DAY).astype("datetime64[h]")


def test_a_log_without_forecasts_is_read_and_brought_up_to_date(farm, truth, monkeypatch):
    read_in = read_farm(farm)
    with monkeypatch.context() as older:
        older.setattr(log_database, "MIGRATIONS", log_database.MIGRATIONS[:1])
        with open_log(read_in) as log:
            log._connection.execute(
                "INSERT INTO issued (what, field, made, advice, digest, content) VALUES"
                " ('outlook', 'bench', '2017-06-01T01:00:00Z', '', ?, ?)",
                _packed(),
            )
    with open_log(read_in, only_read=True) as log:
        assert log.forecasts() == []
        assert [item.forecast for item in log.outlooks()] == [None]
    season(read_in, truth, 2)
    with open_log(read_in, only_read=True) as log:
        assert len(log.forecasts("home")) == 4
        assert [item.content for item in log.outlooks()] == [{}]


def _packed():
    import hashlib
    import zlib

    return hashlib.sha256(b"{}").hexdigest(), zlib.compress(b"{}")


def test_forecasts_of_another_source_or_place_are_left_out_and_counted(farm, truth):
    read_in = read_farm(farm)
    season(read_in, truth, 3)
    text = farm.read_text()
    farm.write_text(text.replace("forecast.csv", "other.csv"))
    other = read_farm(farm)
    with pytest.raises(Exception, match="no forecast of site"):
        learn(other)
    farm.write_text(text.replace("40.53", "40.83"))
    with pytest.raises(Exception, match="no forecast of site"):
        learn(read_farm(farm))


def test_a_file_that_names_its_source_is_learned_and_used_under_that_name(farm, truth):
    """As `hayweather fetch` writes it: what is learned holds for the outlooks of the same file."""
    read_in = read_farm(farm)
    with open_log(read_in) as log:
        for made, came in forecasts(truth, 20):
            named = replace(came, source=Source("Open-Meteo", made - HOUR))
            keep_forecasts(log, {"home": named}, made, made)
    with farm.with_name("forecast.csv").open("w") as file:
        write_weather_csv(named, 0, file)
    (found,) = learn(read_in)
    assert (found.source, found.kept, found.said) == ("Open-Meteo", 20, ())
    write_learned(learned_path(farm), read_in.sites, {"home": found.fitted.errors},
                  {"home": found.source})  # fmt: skip
    weather = weather_for(read_in, ["home"])
    assert learned_for(read_in, weather, made)["home"].nights == 20


@pytest.mark.slow
def test_a_sensor_that_is_not_believed_teaches_nothing(farm, truth):
    """Stuck for four days, then in the sun on every day: said, and the bias is that of the rest."""
    read_in = read_farm(farm)
    season(read_in, truth, 26)
    (sound,) = learn(read_in)
    seen = truth[["temp_c", "dewpoint_c"]].copy()
    seen.loc["2017-06-10":"2017-06-13", "temp_c"] = 31.0
    seen.to_csv(farm.with_name("yard.csv"), date_format="%Y-%m-%dT%H:%MZ")
    (stuck,) = learn(read_in)
    assert sound.said == ()
    said = [note.values["note"].values["why"].key for note in stuck.said]
    assert "sensor_stuck_air" in said
    for at in range(3):
        one, other = sound.fitted.biases[AIR][at], stuck.fitted.biases[AIR][at]
        assert other.nights >= 20
        assert other.value == pytest.approx(one.value, abs=0.35)
    lit = truth["sw_wm2"] > 150
    seen = truth[["temp_c", "dewpoint_c"]].copy()
    seen.loc[lit, "temp_c"] += 6.0
    seen.to_csv(farm.with_name("yard.csv"), date_format="%Y-%m-%dT%H:%MZ")
    (heated,) = learn(read_in)
    assert "sensor_sun" in [note.values["note"].key for note in heated.said]
    assert heated.fitted.biases[AIR][1].value == pytest.approx(sound.fitted.biases[AIR][1].value,
                                                               abs=0.35)  # fmt: skip


def test_a_night_keeps_the_weather_before_stations_and_learned_errors(farm, truth):
    read_in = read_farm(farm)
    ((made, came),) = forecasts(truth, 1)
    seen = Observed("yard", np.array([made - HOUR, made]), {AIR: np.array([3.0, 3.0]),
                    DEW: np.array([1.0, 1.0])})  # fmt: skip
    bias = ForecastErrors({**ForecastErrors().columns,
                           AIR: HourlyError(0.9, 1.6, (1.6,) * 5, (2.0,) * 5, (20,) * 5)},
                          nights=20, until=made - DAY)  # fmt: skip
    night = night_of(read_in, {"home": came}, made, observations={"bench": [seen]}, members=0,
                     errors={"home": bias})  # fmt: skip
    assert night.weather["home"] is came
    assert isinstance(night.weather["home"], HourlyWeather)
