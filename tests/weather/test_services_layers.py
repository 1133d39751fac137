"""Intervals of the US National Weather Service grid to hours, no hour lost or doubled.

The shape is that of its documentation; the small numbers are made by hand so
that every hour can be counted on the fingers.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from weather import server_answers as answers

from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.us_nws import Cell, read_cell
from hayweather.weather.services.us_nws_layers import Grid, read_grid

FIRST = datetime(2017, 7, 8, 6, tzinfo=UTC)


def layer(*intervals: tuple[str, object], uom: str | None = None) -> dict[str, object]:
    values = [{"validTime": time, "value": value} for time, value in intervals]
    return {"values": values} if uom is None else {"uom": uom, "values": values}


def grid(day: str = "2017-07-08T06:00:00+00:00/PT12H", **layers: dict[str, object]) -> Grid:
    """A grid of 12 h whose needed layers are one interval each, unless given."""
    usual = {
        "temperature": layer((day, 20.0), uom="wmoUnit:degC"),
        "dewpoint": layer((day, 5.0), uom="wmoUnit:degC"),
        "windSpeed": layer((day, 7.2), uom="wmoUnit:km_h-1"),
    }
    return read_grid({"properties": {**usual, **layers}})


def hours(found: Grid, column: str) -> list[float]:
    return found.columns[column][:, 0].tolist()


def test_an_interval_holds_for_all_its_hours() -> None:
    found = grid()
    assert found.start == np.datetime64("2017-07-08T06:00:00")
    assert hours(found, "air_temperature_c") == [20.0] * 12
    assert hours(found, "wind_speed_m_s") == pytest.approx([2.0] * 12)


def test_rain_is_spread_over_its_interval_and_nothing_else_is() -> None:
    rain = layer(
        ("2017-07-08T06:00:00+00:00/PT6H", 3.0),
        ("2017-07-08T12:00:00+00:00/PT3H", 1.5),
        ("2017-07-08T15:00:00+00:00/PT3H", 0),
        uom="wmoUnit:mm",
    )
    thunder = layer(("2017-07-08T06:00:00+00:00/PT12H", 12))
    found = grid(quantitativePrecipitation=rain, probabilityOfThunder=thunder)
    assert hours(found, "rain_mm") == [0.5] * 9 + [0.0] * 3
    assert hours(found, "thunder_chance_percent") == [12.0] * 12


def test_a_week_in_one_interval() -> None:
    level = layer(("2017-07-08T06:00:00+00:00/P7DT14H", 3))
    long = grid("2017-07-08T06:00:00+00:00/P7DT14H", lightningActivityLevel=level)
    assert hours(long, "lightning_level") == [3.0] * 182
    assert len(hours(long, "air_temperature_c")) == 182


def test_a_red_flag_is_carried() -> None:
    flag = layer(("2017-07-08T06:00:00+00:00/PT4H", 0), ("2017-07-08T10:00:00+00:00/PT8H", 1))
    assert hours(grid(redFlagThreatIndex=flag), "red_flag") == [0.0] * 4 + [1.0] * 8


def test_null_is_missing_and_shorter_layers_end_in_nothing() -> None:
    air = layer(
        ("2017-07-08T06:00:00+00:00/PT3H", 20.0),
        ("2017-07-08T09:00:00+00:00/PT3H", None),
        uom="wmoUnit:degC",
    )
    found = hours(grid(temperature=air), "air_temperature_c")
    assert found[:3] == [20.0] * 3
    assert np.isnan(found[3:]).tolist() == [True] * 9


def test_longer_layers_that_are_not_needed_add_no_hours() -> None:
    cloud = layer(("2017-07-08T00:00:00+00:00/P3D", 50), uom="wmoUnit:percent")
    found = grid(skyCover=cloud)
    assert hours(found, "cloud_fraction") == [0.5] * 12


def test_a_clock_past_the_hour_is_moved_with_all_its_hours() -> None:
    # The first seconds differ by one, as the service writes them.
    air = layer(
        ("2017-07-08T07:21:05+00:00/PT2H", 20.0),
        ("2017-07-08T09:21:05+00:00/PT1H", 21.0),
        ("2017-07-08T10:21:04+00:00/PT3H", 22.0),
        uom="wmoUnit:degC",
    )
    found = grid("2017-07-08T07:21:05+00:00/PT6H", temperature=air)
    assert found.start == np.datetime64("2017-07-08T07:00:00")
    assert hours(found, "air_temperature_c") == [20.0, 20.0, 21.0, 22.0, 22.0, 22.0]
    assert found.minutes_past == 21


@pytest.mark.parametrize(("minute", "start"), [(29, "06"), (31, "07"), (59, "07")])
def test_a_clock_is_moved_to_the_nearest_hour(minute: int, start: str) -> None:
    found = grid(f"2017-07-08T06:{minute}:00+00:00/PT5H")
    assert found.start == np.datetime64(f"2017-07-08T{start}:00:00")
    assert len(hours(found, "air_temperature_c")) == 5


def test_an_offset_in_the_time_is_honored() -> None:
    assert grid("2017-07-08T00:00:00-06:00/PT12H").start == np.datetime64("2017-07-08T06:00:00")


def test_overlapping_intervals_count_no_hour_twice() -> None:
    rain = layer(
        ("2017-07-08T06:00:00+00:00/PT6H", 6.0),
        ("2017-07-08T09:00:00+00:00/PT6H", 12.0),
        uom="wmoUnit:mm",
    )
    found = hours(grid(quantitativePrecipitation=rain), "rain_mm")
    assert found[:9] == [1.0] * 6 + [2.0] * 3
    assert np.isnan(found[9:]).all()


@pytest.mark.parametrize(
    "time",
    [
        "2017-07-08T06:00:00+00:00",
        "2017-07-08T06:00:00/PT1H",
        "2017-07-08T06:00:00+00:00/1H",
        "2017-07-08T06:00:00+00:00/P1W",
        "2017-07-08T06:00:00+00:00/PT0H",
        "2017-07-08T06:00:00+00:00/P999D",
        "PT1H/2017-07-08T06:00:00+00:00",
        None,
        7,
    ],
)
def test_a_time_that_is_none_is_refused(time: object) -> None:
    with pytest.raises(ServiceError) as caught:
        grid(time)  # type: ignore[arg-type]
    assert caught.value.key == "service_times"


def test_an_unknown_unit_is_refused() -> None:
    air = layer(("2017-07-08T06:00:00+00:00/PT12H", 20.0), uom="wmoUnit:K")
    with pytest.raises(ServiceError) as caught:
        grid(temperature=air)
    assert caught.value.key == "service_unit"
    bare = layer(("2017-07-08T06:00:00+00:00/PT12H", 20.0))
    with pytest.raises(ServiceError):
        grid(temperature=bare)


@given(
    lengths=st.lists(st.integers(1, 30), min_size=1, max_size=12),
    past=st.integers(0, 3599),
    seed=st.integers(0, 1000),
)
def test_any_cut_into_intervals_gives_every_hour_once(
    lengths: list[int], past: int, seed: int
) -> None:
    whole = sum(lengths)
    random = np.random.default_rng(seed)
    values = random.uniform(6.0, 30.0, len(lengths)).tolist()
    start = FIRST + timedelta(seconds=past)
    begins = [start + timedelta(hours=sum(lengths[:index])) for index in range(len(lengths))]
    rows = [
        (f"{begin.isoformat()}/PT{length}H", value)
        for begin, length, value in zip(begins, lengths, values, strict=True)
    ]
    random.shuffle(rows)
    found = grid(
        f"{start.isoformat()}/PT{whole}H",
        temperature=layer(*rows, uom="wmoUnit:degC"),
        quantitativePrecipitation=layer(*rows, uom="wmoUnit:mm"),
    )
    assert hours(found, "air_temperature_c") == np.repeat(values, lengths).tolist()
    assert sum(hours(found, "rain_mm")) == pytest.approx(sum(values))


def test_a_cell_by_address_or_by_its_numbers_as_text_or_number() -> None:
    expected = Cell("/gridpoints/GJT/91,210", answers.ZONE)
    answer = answers.us_nws_points()
    assert read_cell(answer) == expected
    del answer["properties"]["forecastGridData"]
    assert read_cell(answer) == expected
    answer["properties"]["gridX"] = 91
    assert read_cell(answer) == expected


@pytest.mark.parametrize("path", ["/gridpoints/../../etc", "/gridpoints/GJT/1,2/x", "", "/a"])
def test_a_cell_that_is_none_is_refused(path: str) -> None:
    with pytest.raises(ServiceError) as caught:
        read_cell({"properties": {"forecastGridData": f"https://api.weather.gov{path}"}})
    assert caught.value.key == "service_shape"
