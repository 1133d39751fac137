"""One rule of evidence: permission does not grow when data is taken away.

Real hours of NW Colorado, July 2017 (tests/weather/data/services/README.md), as a file and
as an answer of each service. Cells, columns, layers, hours at either end are taken away; no
quarter rises from wait or unknown to go, and from "probe first" to go at most one in a
hundred, of all that were looked at. One thing is let pass, counted and bounded: where the
run begins anew after a gap, a window of go may begin or end a quarter hour elsewhere.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from support.fields import BALER, CURED, RIG, farm_of
from support.random_nights import drawn, read_back, table_of, with_less
from support.seasons import recorded_folder
from weather import server_answers as answers
from weather.server import WeatherServer, reply
from weather.services_common import OPEN_METEO, SITE, US_NWS, settings_for, without_retry

from hayweather.baling.advice import Advice
from hayweather.errors import HayweatherError
from hayweather.farm.records import WeatherChoice
from hayweather.nights import night_of
from hayweather.weather.files import read_weather_file
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import fetch_site_weather, open_meteo

SEED = 16
NOW = np.datetime64("2017-07-09T23:00", "s")
FIRST_ROW, ROWS = 0, 96
MEMBERS = 100
MOST_RAISED, MOST_EDGES = 0.01, 0.001
COLUMNS = ("temp_c", "rh_pct", "dewpoint_c", "wind_ms", "pressure_hpa", "sw_wm2", "cloud_pct",
           "rain_mm")  # fmt: skip
CLOUDY = (0.0, 10.0, 60.0, 90.0)


@dataclass
class Tally:
    """Quarters looked at, and those raised, of all cases of one test."""

    quarters: int = 0
    raised: int = 0
    edges: int = 0
    risen: int = 0
    worse: list[str] = field(default_factory=list)

    def add(self, before: np.ndarray, after: np.ndarray | None, what: str) -> None:
        """Compare the advice of the same quarters; None where nothing was said."""
        if after is None:
            return
        count = min(before.size, after.size)  # both begin at the hour of now
        before, after = before[:count], after[:count]
        goes = after == Advice.GO
        self.quarters += before.size
        self.raised += int((goes & (before == Advice.PROBE_FIRST)).sum())
        was = np.pad(before == Advice.GO, 1)
        raised = goes & (before < Advice.PROBE_FIRST)
        edge = raised & (was[:-2] | was[2:])
        self.edges += int(edge.sum())
        bad = np.flatnonzero(raised & ~edge)
        self.risen += bad.size
        if bad.size:
            self.worse.append(f"{what}: quarters {bad[:5]}")

    def check(self) -> None:
        """The law."""
        print(f"of {self.quarters} quarters {self.raised} rose from probe first to go")
        print(f"and {self.edges} beside a window of go from wait")
        assert self.quarters > 0
        assert self.worse == []
        assert self.raised <= MOST_RAISED * self.quarters
        assert self.edges <= MOST_EDGES * self.quarters


def advised(weather: HourlyWeather, *, rig: bool) -> np.ndarray:
    """The advice of every quarter shown."""
    farm = farm_of(CURED, RIG if rig else None, BALER, sites={"home": SITE})
    found = night_of(farm, {"home": weather}, NOW, members=MEMBERS, old=True)
    return found.fields[0].shown.advice


@pytest.fixture(autouse=True)
def _fewer_fresh_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", MEMBERS)


Rows = list[dict[str, str]]


@cache
def rows_given() -> tuple[tuple[tuple[str, str], ...], ...]:
    """The hours as a file has them, with some cloud and no rain added."""
    found = []
    for hour, row in enumerate(answers.real_hours()[FIRST_ROW : FIRST_ROW + ROWS]):
        time = np.datetime64(answers.FIRST.replace(tzinfo=None), "s") + np.timedelta64(hour, "h")
        named = {"time_utc": f"{time}Z", **{name: str(row[name]) for name in COLUMNS[:6]}}
        named["cloud_pct"] = str(CLOUDY[hour // 6 % len(CLOUDY)])
        named["rain_mm"] = "0"
        found.append(tuple(named.items()))
    return tuple(found)


def thinned(random: np.random.Generator, with_sun: bool) -> tuple[Rows, str]:
    """The rows with something taken away, and what."""
    rows = [dict(row) for row in rows_given()]
    names = [name for name in COLUMNS if with_sun or name != "sw_wm2"]
    kind = random.choice(["cells", "run", "column", "begin", "end"])
    name = str(random.choice(names))
    if kind == "cells":
        for row in random.choice(len(rows), size=int(random.integers(1, 6)), replace=False):
            rows[row][name] = ""
    elif kind == "run":
        first, length = int(random.integers(0, len(rows))), int(random.integers(2, 30))
        for row in rows[first : first + length]:
            row[name] = ""
    elif kind == "column":
        blank = random.random() < 0.5
        for row in rows:
            if blank:
                row[name] = ""
            else:
                del row[name]
    elif kind == "begin":
        rows = rows[int(random.integers(1, 40)) :]
    else:
        rows = rows[: -int(random.integers(1, 60))]
    return rows, f"{kind} {name}"


def from_file(rows: Rows, path: Path) -> HourlyWeather | None:
    """The weather of a file, judged as every command does; None where it is refused."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8")
    try:
        return judged(read_weather_file(path)[0], SITE)
    except HayweatherError:
        return None


def said(weather: HourlyWeather | None, *, rig: bool) -> np.ndarray | None:
    """The advice, None where the weather is refused."""
    if weather is None:
        return None
    try:
        return advised(weather, rig=rig)
    except HayweatherError:
        return None


def check_files(numbers: range, path: Path) -> None:
    whole: dict[tuple[bool, bool], np.ndarray] = {}
    tally = Tally()
    for number in numbers:
        random = np.random.default_rng((SEED, number))
        with_sun, rig = bool(random.random() < 0.5), bool(random.random() < 0.6)
        if (with_sun, rig) not in whole:
            rows = [dict(row) for row in rows_given()]
            if not with_sun:
                for row in rows:
                    del row["sw_wm2"]
            found = said(from_file(rows, path), rig=rig)
            assert found is not None
            assert (found == Advice.GO).any()
            whole[with_sun, rig] = found
        rows, what = thinned(random, with_sun)
        if not with_sun:
            for row in rows:
                row.pop("sw_wm2", None)
        after = said(from_file(rows, path), rig=rig)
        tally.add(whole[with_sun, rig], after, f"{number}: {what}, rig {rig}")
    tally.check()


def without_part(content: dict, random: np.random.Generator, table: dict) -> str:
    """Take a layer, its values or a run of them out of an answer."""
    name = str(random.choice([name for name in table if name != "time"]))
    kind = random.choice(["gone", "empty", "run"])
    if kind == "gone":
        del table[name]
        content.get("hourly_units", {}).pop(name, None)
    elif isinstance(table[name], list):
        first = 0 if kind == "empty" else int(random.integers(0, len(table[name])))
        last = len(table[name]) if kind == "empty" else first + int(random.integers(1, 30))
        table[name][first:last] = [None] * len(table[name][first:last])
    else:
        values = table[name]["values"]
        first = int(random.integers(0, max(len(values), 1)))
        table[name]["values"] = [] if kind == "empty" else values[:first] + values[first + 5 :]
    return f"{kind} {name}"


def is_layer(part: object) -> bool:
    """Whether a property of a grid answer is a layer."""
    return isinstance(part, dict) and "values" in part


def check_services(numbers: range, folder: Path) -> None:
    wholes: dict[tuple[str, bool], np.ndarray] = {}
    tally = Tally()
    for number in numbers:
        random = np.random.default_rng((SEED, number))
        rig = bool(random.random() < 0.6)
        choice = (OPEN_METEO, US_NWS)[int(random.integers(2))]
        service = str(choice.service)
        if service == "open-meteo":
            content = answers.open_meteo(list(open_meteo.FORECAST))
            table = content["hourly"]
        else:
            content = answers.us_nws_grid()
            layers = content["properties"]
            table = {name: part for name, part in layers.items() if is_layer(part)}
        if (service, rig) not in wholes:
            found = asked(choice, content, folder / f"{number}-whole", rig=rig)
            assert found is not None
            if rig or service != "us-nws":  # that grid tells no sky: no go on dew alone
                assert (found == Advice.GO).any()
            wholes[service, rig] = found
        what = without_part(content, random, table)
        if service == "us-nws":
            for name in [name for name, part in layers.items() if is_layer(part)]:
                if name not in table:
                    del layers[name]
        after = asked(choice, content, folder / f"{number}", rig=rig)
        tally.add(wholes[service, rig], after, f"{number}: {service} {what}, rig {rig}")
    tally.check()


def asked(choice: WeatherChoice, content: dict, store: Path, *, rig: bool) -> np.ndarray | None:
    """The advice by an answer of a service; None where it is refused."""
    with WeatherServer() as server:
        if choice is US_NWS:
            server.script.append(reply(200, answers.us_nws_points()))
        server.script.append(reply(200, content))
        settings = without_retry(settings_for(server, store))
        try:
            return advised(fetch_site_weather(choice, SITE, settings, now=NOW), rig=rig)
        except HayweatherError:
            return None


@pytest.mark.slow
def test_a_file_with_something_taken_away_permits_no_more(tmp_path: Path) -> None:
    check_files(range(10), tmp_path / "hours.csv")


@pytest.mark.slow
def test_an_answer_with_something_taken_away_permits_no_more(tmp_path: Path) -> None:
    check_services(range(6), tmp_path)


@pytest.mark.long
def test_many_files_with_something_taken_away_permit_no_more(tmp_path: Path) -> None:
    check_files(range(100, 500), tmp_path / "hours.csv")


@pytest.mark.long
def test_many_answers_with_something_taken_away_permit_no_more(tmp_path: Path) -> None:
    check_services(range(100, 300), tmp_path)


MOST_SKIES = 0.003
"""Of quarters whose whole sky was taken away, those that may rise from wait.

Most are edges of windows. Of 300 random real nights (63,588 quarters, 29 November 2026) 55 rose,
in 24 fields: 35 within an hour of a window of the full weather, 16 in windows of two fields at
the farthest hours shown, 4 others. What is go must be so under the clearest third of the skies
drawn, the middle and the most overcast (`course._skies`), but a drawn sky stays as it is, and a
real one was clear by day and overcast by night, or changed within either: hay then dries
longer, or wets later, than under any of the three. With the sun alone taken away the cloud that
is kept counts as a sky that is told, and the sun is reckoned from it: its errors are not drawn.

A stricter rule was tried, on 11,956 quarters of 40 nights with all of these among them: skies
drawn apart for day and night, go demanded in each of the four quarters of them, left 54 risen
and took 62 of 1,561 quarters of go (the full weather has 2,120); with the three parts besides
it left 40 and took 102, seven of go for each that no longer rose. No rule tried closes them at
a smaller price, so they are counted here and bounded.
"""


def compared(number: int, path: Path, recorded: Path | None, tally: Tally, *, sky: bool) -> None:
    """A random night beside the same with less weather: without any sky, or something of all."""
    random = np.random.default_rng((SEED, number))
    night = drawn(number, recorded)
    table = table_of(night.weather["home"])
    weather = read_back(table, night, path)
    if weather is None:
        return
    before = night.night(weather, MEMBERS)
    if not any((field.shown.advice > Advice.WAIT).any() for field in before):
        return
    less, what = with_less(table, random)
    if sky:
        less, what = table.assign(**dict.fromkeys(SKY & set(table), np.nan)), "sky"
    found = read_back(less, night, path)
    try:
        after = None if found is None else night.night(found, MEMBERS)
    except HayweatherError:
        after = None
    if after is not None:
        for one, other in zip(before, after, strict=True):
            told = f"{number} {night.name}: {one.name}, {what}"
            tally.add(one.shown.advice, other.shown.advice, told)


SKY = {"sw_wm2", "cloud_pct"}


@pytest.mark.parametrize("number", [2, 5])
def test_a_real_night_without_its_sky_gives_no_permission(number: int, tmp_path: Path) -> None:
    tally = Tally()
    compared(number, tmp_path / "less.csv", None, tally, sky=True)
    assert tally.worse == []


@pytest.mark.long
@pytest.mark.parametrize("sky", [True, False])
def test_random_nights_with_less_weather(sky: bool, tmp_path: Path) -> None:
    tally = Tally()
    for number in (each for each in range(300) if each % 10):
        compared(number, tmp_path / "less.csv", recorded_folder(), tally, sky=sky)
    print(f"of {tally.quarters} quarters {tally.risen} rose from wait, {tally.raised} from probe")
    print("\n".join(tally.worse))
    assert tally.quarters > 0
    assert tally.risen <= MOST_SKIES * tally.quarters
    assert tally.raised <= MOST_RAISED * tally.quarters
