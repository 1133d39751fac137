"""One series in nine layouts gives one record.

The values are rounded as the coarsest layout prints them, so every layout can
carry them whole. Layouts differ in zone, unit, order and in where the hour of
rain and sun lies; the records must not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import read_text

from hayweather.weather.files import ReadOptions
from hayweather.weather.record import HourlyWeather

HOURS = 48
HOUR = np.timedelta64(1, "h")
START = np.datetime64("2026-07-08T07:00", "m")
"""00:00 of UTC-7."""


@dataclass(frozen=True)
class Series:
    """Two summer days; instants at the hour's start, sums and means of the hour."""

    air: np.ndarray
    dew: np.ndarray
    wind: np.ndarray
    sun: np.ndarray
    rain: np.ndarray


def series() -> Series:
    hour = np.arange(HOURS)
    wave = np.sin((hour - 9) / 24 * 2 * np.pi)
    return Series(
        np.round(18 + 11 * wave, 1),
        np.round(4 + 2 * np.cos(hour / 7), 1),
        np.round(2.5 + 1.5 * wave, 1),
        np.round(np.maximum(0, 900 * wave)),
        np.round(np.where(hour % 11 == 5, 0.4 + hour / 10, 0), 1),
    )


Writer = Callable[[Series], str]


def stamps(shift_hours: int = 0, zone_hours: int = 0) -> list[np.datetime64]:
    first = START + np.timedelta64(60 * (shift_hours + zone_hours), "m")
    return list(first + np.arange(HOURS) * HOUR)


def plain_start(s: Series) -> str:
    rows = [
        f"{t}Z,{a},{d},{w},{sun:.0f},{r}"
        for t, a, d, w, sun, r in zip(stamps(), s.air, s.dew, s.wind, s.sun, s.rain, strict=True)
    ]
    return "\n".join(["time_utc,temp_c,dewpoint_c,wind_10m_ms,sw_wm2,rain_mm", *rows])


def ended(s: Series) -> list[tuple[np.datetime64, float, float, float, float, float]]:
    """Rows stamped with instants, and the rain and sun of the hour before them."""
    return [
        (t, s.air[i], s.dew[i], s.wind[i], s.sun[i - 1] if i else 0.0, s.rain[i - 1] if i else 0.0)
        for i, t in enumerate(stamps())
    ]


def plain_end(s: Series) -> str:
    rows = [f"{t};{a};{d};{w};{sun:.0f};{r}".replace(".", ",") for t, a, d, w, sun, r in ended(s)]
    head = "Hour ending (UTC);temp (°C);dew point (°C);wind 10m (m/s);solar (W/m²);rain (mm)"
    return "\n".join([head, *rows])


def local_denver(s: Series) -> str:
    rows = [
        f"{t - 6 * HOUR},{a},{d},{w},{sun:.0f},{r}"
        for t, a, d, w, sun, r in zip(stamps(), s.air, s.dew, s.wind, s.sun, s.rain, strict=True)
    ]
    return "\n".join(
        ["# clock: America/Denver", "time,temp_c,dewpoint_c,wind_10m_ms,sw_wm2,rain_mm", *rows]
    )


def open_meteo(s: Series) -> str:
    head = (
        "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation\n"
        "43.2,-120.6,1320.0,-25200,America/Los_Angeles,PDT\n\n"
        "time,temperature_2m (°C),dew_point_2m (°C),wind_speed_10m (m/s),"
        "shortwave_radiation (W/m²),precipitation (mm)"
    )
    rows = [f"{t - 7 * HOUR},{a},{d},{w},{sun},{r}" for t, a, d, w, sun, r in ended(s)]
    return "\n".join([head, *rows])


def _building_hours(s: Series) -> list[tuple[np.datetime64, int, tuple[float, ...]]]:
    """Day and hour 1 to 24 of UTC-7, with the values of each row."""
    rows = []
    for t, *values in ended(s):
        local = t - 7 * HOUR
        end = local - HOUR
        rows.append(
            (
                end.astype("datetime64[D]"),
                int((end - end.astype("datetime64[D]")) / HOUR) + 1,
                tuple(values),
            )
        )
    return rows


def epw(s: Series) -> str:
    head = ["LOCATION,Sagebeck,OR,USA,made by hand,0,43.2,-120.6,-7.0,1320.0"]
    head += ["DESIGN CONDITIONS,0", "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"]
    rows = []
    for day, hour, (a, d, w, sun, r) in _building_hours(s):
        y, m, dd = str(day).split("-")
        cells = [y, int(m), int(dd), hour, 60, "?9", a, d, 999, 999999, 0, 0, 0, sun, 0, 0, 0, 0, 0,
                 0, 0, w, 99, 99, 0, 0, 0, 0, 0, 0, 0, 0, 0, r, 1.0]  # fmt: skip
        rows.append(",".join(str(cell) for cell in cells))
    return "\n".join([*head, *rows])


def tmy3(s: Series) -> str:
    head = ['0,"SAGEBECK",OR,-7.0,43.2,-120.6,1320']
    head += ["Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),Dry-bulb (C),Dew-point (C),Wspd (m/s),"
             "Lprecip depth (mm),Lprecip quantity (hr)"]  # fmt: skip
    rows = []
    for day, hour, (a, d, w, sun, r) in _building_hours(s):
        y, m, dd = str(day).split("-")
        rows.append(f"{m}/{dd}/{y},{hour:02d}:00,{sun:.0f},{a},{d},{w},{r},1")
    return "\n".join([*head, *rows])


def isd_lite(s: Series) -> str:
    rows = []
    for t, a, d, w, _, r in ended(s):
        y, m, dd, hh = str(t)[:13].replace("T", "-").split("-")
        tenths = [
            round(10 * a),
            round(10 * d),
            -9999,
            0,
            round(10 * w),
            -9999,
            round(10 * r),
            -9999,
        ]
        rows.append(f"{y} {m} {dd} {hh} " + " ".join(f"{n:5d}" for n in tenths))
    return "\n".join(rows)


def logger(s: Series) -> str:
    head = [
        '"TOA5","Sagebeck","logger","0","std","x","0","Hourly"',
        '"TIMESTAMP","RECORD","AirTC","DewPt_C","WS_10m_ms","SlrW_Avg","Rain_mm_Tot"',
        '"TS","RN","Deg C","Deg C","m/s","W/m^2","mm"',
        '"","","Smp","Smp","Smp","Avg","Tot"',
    ]
    rows = [f'"{str(t).replace("T", " ")}:00",{i},{a},{d},{w},{sun},{r}'
            for i, (t, a, d, w, sun, r) in enumerate(ended(s))]  # fmt: skip
    return "\n".join([*head, *rows])


def asos(s: Series) -> str:
    head = "station,valid(UTC),tmpc,dwpc,sknt,p01m,mslp"
    rows = [
        f"LKV,{str(t).replace('T', ' ')},{a},{d},{float(w) * 3600 / 1852!r},{r},1015.0"
        for t, a, d, w, _, r in ended(s)
    ]
    return "\n".join([head, *rows])


WRITERS: dict[str, Writer] = {
    f.__name__: f
    for f in (plain_start, plain_end, local_denver, open_meteo, epw, tmy3, isd_lite, logger, asos)
}
WITHOUT_SUN = ("isd_lite", "asos")


def read(tmp_path: Path, name: str) -> HourlyWeather:
    zone = "UTC" if name == "logger" else None
    return read_text(tmp_path, WRITERS[name](series()), ReadOptions(timezone=zone))[0]


@pytest.mark.parametrize("name", sorted(WRITERS))
def test_one_series_in_every_layout(tmp_path: Path, name: str) -> None:
    weather, given = read(tmp_path, name), series()
    assert weather.hours == HOURS
    assert str(weather.start[0])[:16] == str(START)
    assert weather.wind_height_m == 10.0
    expected = {
        "air_temperature_c": given.air,
        "dew_point_c": given.dew,
        "wind_speed_m_s": given.wind,
        "rain_mm": given.rain,
    }
    if name not in WITHOUT_SUN:
        expected["shortwave_w_m2"] = given.sun
    for column, values in expected.items():
        read_values = weather.columns[column][:, 0]
        # Where sums close their hour, the sum of the last hour would stand in a next row.
        last = None if name in ("plain_start", "local_denver") or column in (
            "air_temperature_c", "dew_point_c", "wind_speed_m_s") else -1  # fmt: skip
        assert_allclose(read_values[:last], values[:last], atol=1e-6, err_msg=column)
        assert last is None or np.isnan(read_values[-1])
    assert not weather.repaired.any()
