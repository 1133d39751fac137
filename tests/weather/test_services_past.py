"""Past hours, earlier forecasts, and the zone and elevation of a place."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer, reply
from weather.services_common import NOW, OPEN_METEO, SITE, US_NWS, changed, column

from hayweather.farm.records import Site, WeatherChoice
from hayweather.weather.services import (
    ServiceSettings,
    fetch_site_weather,
    open_meteo,
    resolve_place,
    us_nws,
)
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.open_meteo_days import years_between


def test_past_years_come_in_pieces_and_join(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    done: list[tuple[int, int]] = []
    weather = open_meteo.fetch_past(
        SITE,
        date(2015, 12, 30),
        date(2016, 1, 2),
        settings,
        now=NOW,
        progress=lambda part, whole: done.append((part, whole)),
    )
    asked = [(query["start_date"], query["end_date"]) for _, query, _ in server.seen]
    assert asked == [("2015-12-30", "2015-12-31"), ("2016-01-01", "2016-01-02")]
    assert done == [(1, 2), (2, 2)]
    assert weather.hours == 96
    assert weather.start[0] == np.datetime64("2015-12-30T00:00:00")
    # Rain of the last hour before the turn of the year is stamped in the new year.
    assert np.isnan(column(weather, "rain_mm")).nonzero()[0].tolist() == [95]


def test_past_hours_are_kept_for_good_and_a_pull_resumes(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    days = (date(2015, 12, 30), date(2016, 1, 2))
    # The server answers the first piece and then stays away.
    server.script += [
        reply(
            200,
            answers.open_meteo(list(open_meteo.PAST), first_stamp=_stamp("2015-12-30"), hours=48),
        )
    ]
    server.always = reply(400, {"error": True, "reason": "Out of order for this test"})
    with pytest.raises(ServiceError):
        open_meteo.fetch_past(SITE, *days, settings, now=NOW)
    server.always = None
    server.seen.clear()
    whole = open_meteo.fetch_past(SITE, *days, settings, now=NOW)
    assert [query["start_date"] for _, query, _ in server.seen] == ["2016-01-01"]
    server.seen.clear()
    again = open_meteo.fetch_past(SITE, *days, settings, now=NOW, offline=True)
    assert server.seen == []
    assert not again.source.stored
    np.testing.assert_array_equal(
        column(again, "air_temperature_c"), column(whole, "air_temperature_c")
    )


def test_recent_past_hours_are_asked_again(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    days = (date(2017, 7, 6), date(2017, 7, 7))
    for _ in range(2):
        open_meteo.fetch_past(SITE, *days, settings, now=NOW)
    assert len(server.seen) == 2


def test_earlier_forecasts_by_lead_in_days(
    server: WeatherServer, settings: ServiceSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(open_meteo, "EARLIER_SINCE", date(2017, 1, 1))
    days = (date(2017, 7, 8), date(2017, 7, 9))
    found = open_meteo.fetch_earlier_forecasts(SITE, *days, settings, now=NOW, leads=(1, 2))
    assert list(found) == [1, 2]
    assert "temperature_2m_previous_day2" in server.seen[0][1]["hourly"].split(",")
    np.testing.assert_allclose(
        column(found[1], "air_temperature_c"), answers.real("temp_c", 24, 48)
    )
    np.testing.assert_allclose(column(found[2], "air_temperature_c"), answers.real("temp_c", 0, 48))


def test_dew_point_is_worked_out_where_only_humidity_is_given(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    content = answers.open_meteo(list(open_meteo.FORECAST))
    content["hourly_units"]["dew_point_2m"] = "undefined"
    content["hourly"]["dew_point_2m"] = [None] * answers.HOURS
    server.script.append(reply(200, content))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert "dew_point_from_humidity" in {note.key for note in weather.assumed}
    # The source rounds to 0.05 K and has a curve of its own: 0.073 K apart at the most.
    expected = answers.real("dewpoint_c")
    np.testing.assert_allclose(column(weather, "dew_point_c"), expected, atol=0.1)


@pytest.mark.parametrize("choice", [OPEN_METEO, US_NWS], ids=["open-meteo", "us-nws"])
def test_zone_and_elevation_are_filled_from_the_service(
    server: WeatherServer, settings: ServiceSettings, choice: WeatherChoice
) -> None:
    bare = Site("home", answers.LATITUDE, answers.LONGITUDE)
    assert resolve_place(choice, bare, settings, now=NOW) == (answers.ZONE, answers.ELEVATION_M)
    assert fetch_site_weather(choice, bare, settings, now=NOW).timezone == answers.ZONE
    server.always = reply(500, "")
    offline = resolve_place(choice, bare, settings, offline=True, now=NOW)
    assert offline == (answers.ZONE, answers.ELEVATION_M)


def test_the_farm_file_comes_first_and_then_nothing_is_asked(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    there = replace(SITE, timezone="Europe/Madrid", elevation_m=210.0)
    assert resolve_place(OPEN_METEO, there, settings, now=NOW) == ("Europe/Madrid", 210.0)
    only_zone = replace(there, elevation_m=None)
    found = resolve_place(OPEN_METEO, only_zone, settings, now=NOW)
    assert found == ("Europe/Madrid", answers.ELEVATION_M)
    assert len(server.seen) == 1


def test_a_place_unlike_the_site_is_said(server: WeatherServer, settings: ServiceSettings) -> None:
    far = replace(SITE, latitude=SITE.latitude + 0.2, elevation_m=(SITE.elevation_m or 0) - 300)
    keys = {note.key for note in fetch_site_weather(OPEN_METEO, far, settings, now=NOW).assumed}
    assert {"elevation_differs", "place_differs"} <= keys
    near = {note.key for note in fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW).assumed}
    assert not near & {"elevation_differs", "place_differs"}


def test_a_zone_that_no_clock_knows_is_none(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    bare = Site("home", answers.LATITUDE, answers.LONGITUDE)
    for zone in ("Nowhere/Else", "../etc/passwd"):
        server.always = reply(200, answers.open_meteo(["temperature_2m"], zone=zone))
        found = resolve_place(OPEN_METEO, replace(bare, latitude=len(zone)), settings, now=NOW)
        assert found == (None, answers.ELEVATION_M)


def test_an_answer_without_a_place_is_not_called_far(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    server.script.append(reply(200, changed(latitude="here")))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert weather.latitude is None
    assert weather.assumed == ()


def test_a_choice_without_a_service_is_a_mistake_of_the_caller(settings: ServiceSettings) -> None:
    with pytest.raises(ValueError, match="names no service"):
        fetch_site_weather(WeatherChoice(), SITE, settings, now=NOW)


def test_pieces_that_do_not_follow_one_another(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    late = answers.open_meteo(list(open_meteo.PAST), first_stamp=_stamp("2016-01-02"), hours=24)
    first = answers.open_meteo(list(open_meteo.PAST), first_stamp=_stamp("2015-12-31"), hours=24)
    server.script += [reply(200, first), reply(200, late)]
    with pytest.raises(ServiceError) as caught:
        open_meteo.fetch_past(SITE, date(2015, 12, 31), date(2016, 1, 1), settings, now=NOW)
    assert caught.value.key == "service_times"


def test_days_that_run_backward() -> None:
    with pytest.raises(ValueError, match="2015-01-01 is before 2015-02-01"):
        years_between(date(2015, 2, 1), date(2015, 1, 1))


def test_missing_elevation_is_no_trouble(server: WeatherServer, settings: ServiceSettings) -> None:
    content = answers.open_meteo(list(open_meteo.FORECAST))
    del content["elevation"]
    server.script.append(reply(200, content))
    assert fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW).elevation_m is None
    grid = answers.us_nws_grid()
    del grid["properties"]["elevation"]
    server.script += [reply(200, answers.us_nws_points()), reply(200, grid)]
    assert us_nws.fetch_forecast(SITE, settings, now=NOW).elevation_m is None


def _stamp(day: str) -> datetime:
    return datetime.fromisoformat(day).replace(tzinfo=UTC)
