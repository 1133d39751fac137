"""One series of hours written in nine layouts, each as files of that layout are written.

Layouts differ in zone, unit, order and in where the hour of rain and sun lies.
"""

from __future__ import annotations

import csv
import gzip
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hayweather.weather.record import HourlyWeather, Source

HOURS = 48
HOUR = np.timedelta64(1, "h")
START = np.datetime64("2026-07-08T07:00", "m")
"""00:00 of UTC-7."""
RECORDED = Path(__file__).parents[1] / "data" / "nw_colorado_2017_may_september.csv.gz"
"""Real hours of north-west Colorado; where they come from: README.md beside the file."""
KNOT_M_S = 1852 / 3600


@dataclass(frozen=True)
class Series:
    """Hours from `start` (UTC) on; instants at the hour's start, sums and means of the hour.

    Times in the layouts are UTC, UTC-6 (America/Denver in summer) or UTC-7.
    """

    air: np.ndarray
    dew: np.ndarray
    wind: np.ndarray
    sun: np.ndarray
    rain: np.ndarray
    start: np.datetime64 = START


def series() -> Series:
    """Two made-up summer days, rounded as the coarsest layout prints."""
    hour = np.arange(HOURS)
    wave = np.sin((hour - 9) / 24 * 2 * np.pi)
    return Series(
        np.round(18 + 11 * wave, 1),
        np.round(4 + 2 * np.cos(hour / 7), 1),
        np.round(2.5 + 1.5 * wave, 1),
        np.round(np.maximum(0, 900 * wave)),
        np.round(np.where(hour % 11 == 5, 0.4 + hour / 10, 0), 1),
    )


def real_series(start: str, hours: int) -> Series:
    """Real hours from `start` (UTC, 07:00 for 00:00 of UTC-7) on, as the source has them.

    The source has no rain: none is written. Its wind of 2 m stands where the layouts say 10 m.
    """
    with gzip.open(RECORDED, "rt", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    first = next(i for i, row in enumerate(rows) if row["time_utc"][:16] == start.replace("T", " "))

    def column(name: str) -> np.ndarray:
        return np.array([float(row[name]) for row in rows[first : first + hours]])

    names = ("temp_c", "dewpoint_c", "wind_ms", "sw_wm2")
    values = [column(name) for name in names]
    return Series(*values, np.zeros(hours), np.datetime64(start, "m"))


def rounded(given: Series, air: float, wind: float, sun: float, rain: float = 0.1) -> Series:
    """The series to the nearest multiples of these; dew point as air."""

    def to(values: np.ndarray, step: float) -> np.ndarray:
        exact = np.round(values / step) * step
        return exact if step == KNOT_M_S else np.round(exact, 6)

    return replace(
        given,
        air=to(given.air, air), dew=to(given.dew, air), wind=to(given.wind, wind),
        sun=to(given.sun, sun), rain=to(given.rain, rain),
    )  # fmt: skip


def record(given: Series, *, sun: bool = True) -> HourlyWeather:
    """The series as it is, through no file; without its sun where a layout has none."""
    columns = {
        "air_temperature_c": given.air,
        "dew_point_c": given.dew,
        "wind_speed_m_s": given.wind,
        "shortwave_w_m2": given.sun,
        "rain_mm": given.rain,
    }
    if not sun:
        del columns["shortwave_w_m2"]
    stacked = {name: np.asarray(column, float)[:, None] for name, column in columns.items()}
    start = np.array([given.start.astype("datetime64[s]")])
    return HourlyWeather(start, stacked, 10.0, Source("series"))


Writer = Callable[[Series], str]


def stamps(s: Series) -> list[np.datetime64]:
    return list(s.start + np.arange(s.air.size) * HOUR)


def plain_start(s: Series) -> str:
    rows = [
        f"{t}Z,{a},{d},{w},{sun:.0f},{r}"
        for t, a, d, w, sun, r in zip(stamps(s), s.air, s.dew, s.wind, s.sun, s.rain, strict=True)
    ]
    return "\n".join(["time_utc,temp_c,dewpoint_c,wind_10m_ms,sw_wm2,rain_mm", *rows])


def ended(s: Series) -> list[tuple[np.datetime64, float, float, float, float, float]]:
    """Rows stamped with instants, and the rain and sun of the hour before them."""
    return [
        (t, s.air[i], s.dew[i], s.wind[i], s.sun[i - 1] if i else 0.0, s.rain[i - 1] if i else 0.0)
        for i, t in enumerate(stamps(s))
    ]


def plain_end(s: Series) -> str:
    rows = [f"{t};{a};{d};{w};{sun:.0f};{r}".replace(".", ",") for t, a, d, w, sun, r in ended(s)]
    head = "Hour ending (UTC);temp (°C);dew point (°C);wind 10m (m/s);solar (W/m²);rain (mm)"
    return "\n".join([head, *rows])


def local_denver(s: Series) -> str:
    rows = [
        f"{t - 6 * HOUR},{a},{d},{w},{sun:.0f},{r}"
        for t, a, d, w, sun, r in zip(stamps(s), s.air, s.dew, s.wind, s.sun, s.rain, strict=True)
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
RESOLUTION: dict[str, tuple[float, float, float]] = {
    "plain_start": (0.1, 0.1, 1.0),
    "plain_end": (0.1, 0.1, 1.0),
    "local_denver": (0.1, 0.1, 1.0),
    "open_meteo": (0.1, 0.01, 1.0),
    "epw": (0.1, 0.1, 1.0),
    "tmy3": (0.1, 0.1, 1.0),
    "isd_lite": (0.1, 0.1, 1.0),
    "logger": (0.01, 0.01, 0.1),
    "asos": (0.1, KNOT_M_S, 1.0),
}
"""Steps of temperature [C], wind [m/s] and sun [W/m2] in files of each layout.

Of the formats' own descriptions where they fix it (ISD-lite tenths, EPW and TMY3 tenths and
whole Wh/m2, airport wind in whole knots); else of the samples in data/files.
"""


NIGHTS = ("2017-05-20", "2017-06-10", "2017-06-25", "2017-07-10", "2017-07-26", "2017-08-20")
"""Nights of the printed table, dry and dewy ones."""


def main() -> int:
    """Print what each layout takes off the outlook of real nights."""
    import sys
    import tempfile

    from weather.layout_outlooks import differences, markdown_table

    with tempfile.TemporaryDirectory() as folder:
        sys.stdout.write(markdown_table(differences(Path(folder), NIGHTS)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
