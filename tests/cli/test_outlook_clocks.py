"""Outlooks from both services over the days on which clocks change.

The days and their lengths are those of the IANA time zone data base (US: second Sunday of
March, first of November; EU: last Sundays of March and October; South Australia, half an hour
off the full hour: first Sundays of October and April).
"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from cli.service_farms import farm_file, hours_of, outlook_form
from weather import server_answers as answers
from weather.server import reply

from hayweather import nights
from hayweather.weather import asked as load
from hayweather.weather.record import HOUR
from hayweather.weather.services import open_meteo

PLACES = {
    "America/Denver": (answers.LATITUDE, answers.LONGITUDE),
    "Europe/Madrid": (41.6, -0.6),
    "Australia/Adelaide": (-34.9, 138.6),
}
DAYS = [
    ("America/Denver", "2017-03-12", 23),
    ("America/Denver", "2017-11-05", 25),
    ("Europe/Madrid", "2017-03-26", 23),
    ("Europe/Madrid", "2017-10-29", 25),
    ("Australia/Adelaide", "2017-10-01", 23),
    ("Australia/Adelaide", "2017-04-02", 25),
]
CASES = [("open-meteo", *day) for day in DAYS] + [("us-nws", *day) for day in DAYS[:2]]


@pytest.fixture(autouse=True)
def two_days_without_members(monkeypatch) -> None:
    """The middle forecast from now to the end of the second day."""
    usual = nights.night_of

    def make(farm, weather, now, **options):
        ahead = {
            site: hours.between(int((now - hours.start[0]) / HOUR), 72)
            for site, hours in weather.items()
        }
        return usual(farm, ahead, now, **options, members=0)

    monkeypatch.setattr(nights, "night_of", make)


@pytest.mark.usefixtures("any_place")
@pytest.mark.parametrize(("service", "zone", "day", "length"), CASES)
def test_every_local_hour_is_there_once_and_right(
    server, tmp_path, capsys, monkeypatch, service, zone, day, length
):
    evening = datetime.fromisoformat(f"{day}T18:00").replace(tzinfo=ZoneInfo(zone))
    evening = (evening - timedelta(days=1)).replace(fold=0)
    first = datetime.combine(evening.astimezone(UTC).date(), datetime.min.time(), UTC)
    now = evening.astimezone(UTC).replace(tzinfo=None)
    monkeypatch.setattr(load, "wall_clock", lambda: np.datetime64(now, "s"))
    if service == "open-meteo":
        content = answers.open_meteo(list(open_meteo.FORECAST), first_stamp=first)
        server.always = reply(200, content)
    else:
        server.script = [
            reply(200, answers.us_nws_points()),
            reply(200, answers.us_nws_grid(first=first)),
        ]
    latitude, longitude = PLACES[zone]
    place = f'latitude = {latitude}\nlongitude = {longitude}\nelevation = "500 m"'
    farm = farm_file(tmp_path, service, f'{place}\ntimezone = "{zone}"')
    hours = hours_of(outlook_form(capsys, farm, "--old"))
    starts = [datetime.fromisoformat(hour["start"]) for hour in hours]
    assert {after - before for before, after in pairwise(starts)} == {timedelta(hours=1)}
    assert all(
        start.utcoffset() == start.astimezone(ZoneInfo(zone)).utcoffset() for start in starts
    )
    assert Counter(f"{start:%Y-%m-%d}" for start in starts)[day] == length
    assert starts[0] <= evening < starts[0] + timedelta(hours=1)
    given = answers.real("temp_c")
    expected = [given[int((start - first) / timedelta(hours=1))] for start in starts]
    assert [hour["air_temperature_c"] for hour in hours] == pytest.approx(expected, abs=1e-4)
