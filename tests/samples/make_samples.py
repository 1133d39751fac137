"""Write the invented sample scenario: ``cd tests && python -m samples.make_samples [FOLDER]``.

Everything here is made up. `NIGHTS` and `VALLUMBRIA` are the knobs: what kind of
night each file shows. A seeded generator adds small unevenness; the same seed
gives the same bytes.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from samples.notes import log_csv, readings_csv
from samples.shapes import Hour, Night, Place, hours_of

TEMPLATES = Path(__file__).parent / "templates"
FOLDER = Path(__file__).parents[2] / "sample_forecasts"

SAGEBECK_PLACE = Place(43.2, -120.6, 1320.0, 866.0, "America/Los_Angeles")
VALLUMBRIA_PLACE = Place(41.6, -0.6, 210.0, 989.0, "Europe/Madrid")

NIGHTS = (
    Night(
        name="sagebeck",
        title="A dewy night: clear, calm and cool, some humidity from the pivots.",
        day=date(2025, 7, 8),
        seed=8,
        lows_c=(8.0, 8.5, 8.0, 9.0, 9.0),
        highs_c=(28.0, 28.5, 29.0, 29.5, 30.0),
        dew_points_c=(5.0, 5.5, 6.5, 5.0, 5.0),
        afternoon_drop_k=2.0,
        calm_m_s=(1.2, 1.2, 1.0, 1.3, 1.3),
        breeze_m_s=(3.2, 3.0, 3.0, 3.2, 3.4),
        cloud_tenths=((-36, 1), (0, 0.5), (20, 0), (30, 0), (63, 1)),
    ),
    Night(
        name="sagebeck_no_dew",
        title="A clear, calm night whose air is too dry for dew.",
        day=date(2025, 7, 15),
        seed=15,
        lows_c=(9.0, 9.5, 9.5, 10.0, 10.0),
        highs_c=(31.0, 31.5, 32.0, 32.0, 32.0),
        dew_points_c=(1.0, 0.5, 0.5, 1.0, 1.0),
        afternoon_drop_k=2.0,
        calm_m_s=(1.4, 1.4, 1.4, 1.4, 1.4),
        breeze_m_s=(3.4, 3.4, 3.4, 3.4, 3.4),
        cloud_tenths=((0, 0.5),),
    ),
    Night(
        name="sagebeck_shower",
        title="Cloud moves in during the evening, a shower falls after midnight.",
        day=date(2025, 8, 19),
        seed=19,
        lows_c=(9.5, 10.0, 12.0, 9.0, 9.0),
        highs_c=(28.0, 28.0, 28.5, 25.0, 27.0),
        dew_points_c=(4.0, 4.5, 8.0, 6.0, 5.0),
        afternoon_drop_k=1.5,
        calm_m_s=(1.3, 1.3, 1.8, 1.3, 1.3),
        breeze_m_s=(3.0, 3.0, 3.4, 3.6, 3.0),
        cloud_tenths=((-36, 1), (12, 2), (18, 5), (22, 8), (26, 9), (31, 7), (40, 3), (63, 1)),
        rain_mm=((26, 0.8), (27, 1.9), (28, 0.4)),
    ),
    Night(
        name="sagebeck_hot_wind",
        title="A hot, windy, dry night.",
        day=date(2025, 7, 29),
        seed=29,
        lows_c=(11.0, 12.0, 16.5, 14.0, 12.0),
        highs_c=(32.5, 33.0, 33.5, 32.0, 31.0),
        dew_points_c=(0.0, -1.0, -2.0, -1.0, 0.0),
        afternoon_drop_k=2.5,
        calm_m_s=(1.8, 2.2, 4.8, 2.5, 2.0),
        breeze_m_s=(4.5, 5.0, 8.0, 6.0, 4.5),
        cloud_tenths=((0, 0.5),),
    ),
    Night(
        name="sagebeck_frost",
        title="Late September: frost before sunrise, a thaw after it.",
        day=date(2025, 9, 23),
        seed=23,
        lows_c=(0.5, 0.0, -3.0, 0.0, 1.0),
        highs_c=(20.0, 20.0, 19.0, 20.0, 21.0),
        dew_points_c=(-2.0, -2.0, -2.5, -1.0, 0.0),
        afternoon_drop_k=1.5,
        calm_m_s=(1.2, 1.2, 0.9, 1.2, 1.2),
        breeze_m_s=(2.8, 2.8, 2.5, 2.8, 2.8),
        cloud_tenths=((0, 0),),
    ),
)

VALLUMBRIA = Night(
    name="vallumbria",
    title="Noche de verano junto al Ebro: templada, algo húmeda, poco viento.",
    day=date(2025, 7, 10),
    seed=10,
    lows_c=(16.5, 16.0, 15.5, 17.0, 17.0),
    highs_c=(32.0, 32.5, 33.0, 34.0, 34.0),
    dew_points_c=(12.5, 12.5, 13.0, 13.0, 13.0),
    afternoon_drop_k=2.5,
    calm_m_s=(1.5, 1.4, 1.2, 1.5, 1.5),
    breeze_m_s=(4.0, 3.8, 3.8, 4.0, 4.0),
    cloud_tenths=((-36, 1), (20, 0.5), (63, 2)),
)

SAGEBECK_COLUMNS = (
    "time_utc,temp_c,rh_pct,dewpoint_c,wind_ms,pressure_hpa,sw_wm2,rain_mm,cloud_tenths"
)
VALLUMBRIA_COLUMNS = (
    "fecha;hora;temperatura (°C);humedad relativa (%);viento (km/h);presión (hPa);"
    "radiación (W/m2);lluvia (mm);nubosidad (%)"
)


def all_files() -> Iterator[tuple[str, str]]:
    """Name and text of every generated file."""
    for night in NIGHTS:
        yield f"{night.name}.csv", sagebeck_csv(hours_of(night, SAGEBECK_PLACE))
        yield f"{night.name}.toml", farm_text("sagebeck.toml", night)
    yield "vallumbria.csv", vallumbria_csv(hours_of(VALLUMBRIA, VALLUMBRIA_PLACE))
    yield "vallumbria.toml", farm_text("vallumbria.toml", VALLUMBRIA)
    yield "sagebeck_readings.csv", readings_csv()
    yield "sagebeck_log.csv", log_csv()


def sagebeck_csv(hours: list[Hour]) -> str:
    """UTC, metric units, decimal point."""
    rows = [
        f"{hour.time:%Y-%m-%dT%H:%M}Z,{hour.temp_c:.1f},{hour.humidity_pct:.0f},"
        f"{hour.dew_point_c:.1f},{hour.wind_m_s:.1f},{hour.pressure_hpa:.1f},"
        f"{hour.shortwave_w_m2:.0f},{hour.rain_mm:.1f},{hour.cloud_tenths:.0f}"
        for hour in hours
    ]
    return "\n".join([SAGEBECK_COLUMNS, *rows, ""])


def vallumbria_csv(hours: list[Hour]) -> str:
    """Local clock, semicolons, decimal commas, wind in km/h, no dew point."""
    zone = ZoneInfo(VALLUMBRIA_PLACE.zone)
    rows = [
        f"{hour.time.astimezone(zone):%d/%m/%Y;%H:%M};{hour.temp_c:.1f};{hour.humidity_pct:.0f};"
        f"{hour.wind_m_s * 3.6:.1f};{hour.pressure_hpa:.1f};{hour.shortwave_w_m2:.0f};"
        f"{hour.rain_mm:.1f};{10 * hour.cloud_tenths:.0f}".replace(".", ",")
        for hour in hours
    ]
    return "\n".join([VALLUMBRIA_COLUMNS, *rows, ""])


def farm_text(template: str, night: Night) -> str:
    """A farm file with the dates and the weather file of `night`."""
    text = (TEMPLATES / template).read_text(encoding="utf-8")
    marks = {"WEATHER": f"{night.name}.csv", "WHAT": night.title}
    marks |= {f"DAY{shift:+d}": str(night.day + timedelta(days=shift)) for shift in range(-4, 5)}
    for mark, value in marks.items():
        text = text.replace(f"@{mark}@", value)
    return text


def main(folder: Path) -> None:
    """Write every file into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in all_files():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
