"""The record of hourly weather: what it refuses to be, and what it says of itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hayweather.weather.record import HourlyWeather, Source

COLUMNS = {
    "air_temperature_c": np.array([[20.0, 10.0], [19.0, np.nan], [18.0, 8.0]]),
    "dew_point_c": np.full((3, 2), 5.0),
    "wind_speed_m_s": np.full((3, 2), 1.0),
}
STARTS = np.array(["2026-07-09T06:00", "2027-07-09T06:00"], dtype="datetime64[s]")


def record(**changed: object) -> HourlyWeather:
    parts = {"start": STARTS, "columns": COLUMNS, "wind_height_m": 2.0, "source": Source("x")}
    return HourlyWeather(**{**parts, **changed})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"columns": {**COLUMNS, "snow_cm": COLUMNS["dew_point_c"]}}, "unknown {'snow_cm'}"),
        ({"columns": {n: v for n, v in COLUMNS.items() if n[0] != "d"}}, "absent {'dew_point_c'}"),
        ({"columns": {**COLUMNS, "rain_mm": np.zeros((2, 2))}}, "shapes"),
        ({"start": STARTS[:1]}, "start has shape"),
        ({"repaired": np.zeros((3, 1), dtype=bool)}, "repaired has shape"),
    ],
)
def test_a_record_that_does_not_fit_together(changed: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        record(**changed)


def test_hours_lanes_and_ends() -> None:
    found = record()
    assert (found.hours, found.lanes) == (3, 2)
    assert found.end.tolist() == (STARTS + np.timedelta64(3, "h")).tolist()
    assert found.times()[1].tolist() == (STARTS + np.timedelta64(1, "h")).tolist()
    assert not found.repaired.any()
    assert found.get("rain_mm") is None


def test_a_part_keeps_its_own_hours_and_marks() -> None:
    marks = np.array([[False, False], [True, False], [False, False]])
    part = record(repaired=marks).between(1, 3)
    assert part.hours == 2
    assert part.start.tolist() == (STARTS + np.timedelta64(1, "h")).tolist()
    assert part.columns["air_temperature_c"][:, 0].tolist() == [19.0, 18.0]
    assert part.repaired.tolist() == [[True, False], [False, False]]


def test_blank_rain_is_missing_and_no_rain_column_is_not() -> None:
    found = record()
    assert found.missing().tolist() == [[False, False], [False, True], [False, False]]
    rain = np.array([[0.0, 0.0], [0.0, 0.0], [np.nan, 0.0]])
    wet = replace(found, columns={**COLUMNS, "rain_mm": rain})
    assert wet.missing().tolist() == [[False, False], [False, True], [True, False]]
