"""Night with the service's own forecast runs behind its chances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cli.commands import done, refused
from cli.service_farms import ASKED, WHOLE_PLACE, farm_file, hours_of, outlook_form
from weather import server_answers as answers
from weather.server import reply

from hayweather.farm import read_farm
from hayweather.learning.learned_file import learned_path, write_learned
from hayweather.weather import catalog
from hayweather.weather.services import open_meteo
from hayweather.windrow.spread import ERRORS, TIES, ForecastErrors

pytestmark = pytest.mark.usefixtures("few_members")


@pytest.fixture
def farm(tmp_path):
    """A farm that asks for the runs."""
    path = farm_file(tmp_path, place=WHOLE_PLACE)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("terms", "forecast_runs = true\nterms"), encoding="utf-8")
    return path


def forecast() -> dict:
    return answers.open_meteo(list(open_meteo.FORECAST))


def ensemble(dew_point_k: float = 0.0, members: int = 3) -> dict:
    """The hours of the forecast in every run, with a moister or drier air."""
    content = answers.open_meteo(list(open_meteo.RUNS))
    hourly = content["hourly"]
    del hourly["relative_humidity_2m"]
    moved = np.array(hourly["dew_point_2m"]) + dew_point_k
    hourly["dew_point_2m"] = np.minimum(moved, hourly["temperature_2m"]).tolist()
    for name in [name for name in hourly if name != "time"]:
        for member in range(1, members + 1):
            full = f"{name}_member{member:02d}"
            hourly[full] = hourly[name]
            content["hourly_units"][full] = content["hourly_units"][name]
    return content


def assumed(form: dict) -> str:
    return " ".join(form["weather"]["assumed"])


def test_fitted_errors_are_named_beside_the_runs(server, farm, capsys):
    """As beside a single forecast: nights and date stand on the screen and in --why."""
    own = read_farm(farm)
    until = np.datetime64("2017-07-01")
    columns = {
        name: replace(error, sizes=(error.size,) * 5, biases=(0.0,) * 5, nights=(30,) * 5)
        for name, error in ERRORS.items()
    }
    errors = ForecastErrors(columns, TIES, 30, until)
    write_learned(learned_path(farm), own.sites, {"home": errors},
                  {"home": catalog.OPEN_METEO.label})  # fmt: skip
    table = done(capsys, "outlook", farm, *ASKED)
    assert max(len(line) for line in table.splitlines() if str(farm) not in line) <= 80
    text = " ".join(table.split())
    assert "4 forecast runs; errors around them: fitted on 30 nights to 2017-07-01" in text


def test_the_runs_are_asked_for_and_counted(server, farm, capsys):
    form = outlook_form(capsys, farm, *ASKED)
    assert [path for path, _, _ in server.seen] == ["/v1/forecast", "/v1/ensemble"]
    query = server.seen[1][1]
    assert query["models"] == open_meteo.DEFAULT_RUN_MODEL
    assert (query["timezone"], query["wind_speed_unit"]) == ("GMT", "ms")
    assert "come from 4 forecast runs of the service; assumed: " in assumed(form)
    assert "70 % of what is taken for a single forecast" in assumed(form)
    assert "from one forecast" not in assumed(form)
    table = " ".join(done(capsys, "outlook", farm, *ASKED).split())
    assert "Chances rest on 4 forecast runs of the service" in table
    shown = [hour["air_temperature_c"] for hour in hours_of(form)]
    np.testing.assert_allclose(shown, answers.real("temp_c", 24 + 18, 26), atol=1e-4)


def test_moister_runs_raise_the_chance_of_too_wet_and_leave_the_middle(server, farm, capsys):
    def with_runs(dew_point_k: float) -> list[dict]:
        server.script = [reply(200, forecast()), reply(200, ensemble(dew_point_k))]
        return hours_of(outlook_form(capsys, farm, *ASKED))

    dry, moist = with_runs(-3.0), with_runs(+14.0)
    for one, other in zip(dry, moist, strict=True):
        assert one["windrow_moisture_wb"] == other["windrow_moisture_wb"]
        assert one["dew_point_c"] == other["dew_point_c"]
    wet = [sum(hour["chance"]["too wet"] for hour in hours) for hours in (dry, moist)]
    assert wet[1] > wet[0] + 3


def test_a_run_with_a_gap_is_left_out_and_counted(server, farm, capsys):
    content = ensemble()
    content["hourly"]["temperature_2m_member02"] = [
        None if hour == 50 else value
        for hour, value in enumerate(content["hourly"]["temperature_2m"])
    ]
    server.script = [reply(200, forecast()), reply(200, content)] * 2
    form = outlook_form(capsys, farm, *ASKED)
    assert "come from 3 forecast runs of the service" in assumed(form)
    table = " ".join(done(capsys, "outlook", farm, *ASKED).split())
    assert "left out because of gaps: 1" in table


def test_the_order_of_the_runs_changes_nothing(server, farm, capsys):
    def form_of(content: dict) -> dict:
        server.script = [reply(200, forecast()), reply(200, content)]
        return outlook_form(capsys, farm, *ASKED)

    first = answers.open_meteo(list(open_meteo.RUNS), members=3)
    turned = answers.open_meteo(list(open_meteo.RUNS), members=3)
    hourly = turned["hourly"]
    for name in open_meteo.RUNS:
        ends = [name, f"{name}_member03"]
        hourly[ends[0]], hourly[ends[1]] = hourly[ends[1]], hourly[ends[0]]
    assert turned != first
    assert form_of(turned) == form_of(first)


def test_runs_that_cannot_be_had_leave_the_forecast_and_say_so(server, farm, tmp_path, capsys):
    server.script = [reply(200, forecast()), reply(503, "")]
    without = outlook_form(capsys, farm, *ASKED)
    (tmp_path / "other").mkdir()
    plain = outlook_form(capsys, farm_file(tmp_path / "other", place=WHOLE_PLACE), *ASKED)
    assert hours_of(without) == hours_of(plain)
    assert (
        "the forecast runs of the service could not be had (service out of order); "
        "the single forecast serves alone"
    ) in assumed(without)
    assert "chances and ranges come from one forecast" in assumed(without)
    assert "chances and ranges come from one forecast" in assumed(plain)


def test_without_connection_forecast_and_runs_are_the_stored_ones(server, farm, capsys):
    fresh = outlook_form(capsys, farm, *ASKED)
    asked = len(server.seen)
    stored = outlook_form(capsys, farm, *ASKED, "--offline")
    assert len(server.seen) == asked
    assert hours_of(stored) == hours_of(fresh)
    assert "the forecast runs are stored ones, 0 h old" in assumed(stored)


def test_runs_are_open_meteo_s_alone(server, tmp_path, capsys):
    path = farm_file(tmp_path, "us-nws", WHOLE_PLACE)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[field", "forecast_runs = true\n[field"), encoding="utf-8")
    line = refused(capsys, "outlook", path, *ASKED)
    assert "[weather] forecast_runs: only open-meteo hands out" in line
    assert server.seen == []
