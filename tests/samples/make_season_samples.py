"""Write the invented seasons and strips: ``cd tests && python -m samples.make_season_samples``.

Everything here is made up: two Julys of two places, and a trial of strips.
`SEASONS` and `STRIPS` are the knobs; the same seed gives the same bytes.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from samples.make_samples import TEMPLATES
from samples.shapes import Hour, Night, Place, Unevenness, hour_of

FOLDER = Path(__file__).parents[2] / "sample_forecasts" / "seasons"

BENCH = Place(43.2, -120.6, 1320.0, 866.0, "America/Los_Angeles")
MEADOW = Place(43.0, -121.2, 1270.0, 871.0, "America/Los_Angeles")
DAYS = 35  # from 29 June to 2 August: rain counts two days back
HELD = 0.7  # how much of a day's departure the next day keeps


@dataclass(frozen=True)
class Season:
    """The knobs of one July at one place.

    Attributes
    ----------
    name, place, year, seed
        File name without ending; where; which July; seed of its days.
    low_c, high_c, dew_point_c, cloud_tenths
        What its days waver about.
    calm_m_s
        Wind of its nights.
    rain
        ``{day of July: mm}``, in two hours of that evening.
    blank
        ``(day of July, hours)``: a recorder without humidity from midnight UTC.
    """

    name: str
    place: Place
    year: int
    seed: int
    low_c: float
    high_c: float
    dew_point_c: float
    cloud_tenths: float
    calm_m_s: float
    rain: tuple[tuple[int, float], ...] = ()
    blank: tuple[int, int] | None = None


SEASONS = (
    Season("bench_2023", BENCH, 2023, 23, 9.0, 29.0, 4.0, 1.5, 1.6),
    Season("bench_2024", BENCH, 2024, 24, 10.5, 31.5, 2.5, 1.0, 1.8, blank=(18, 14)),
    Season("meadow_2023", MEADOW, 2023, 33, 7.5, 26.5, 7.5, 2.0, 1.1, rain=((9, 4.0), (21, 2.5))),
    Season("meadow_2024", MEADOW, 2024, 34, 8.5, 28.5, 6.5, 1.5, 1.2, rain=((15, 3.0),)),
)


class Wander:
    """Days that depart from a mean and come back to it."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def days(self, mean: float, spread: float) -> list[float]:
        """A value for each day from 3 days before the first to 4 after the last."""
        found, apart = [], 0.0
        for _ in range(DAYS + 7):
            apart = HELD * apart + self.random.gauss(0, spread)
            found.append(mean + apart)
        return found


def hours_of_season(season: Season) -> list[Hour]:
    """All hours of one July, day by day from the middle of a five-day night."""
    wander, noise = Wander(season.seed), Unevenness(season.seed)
    lows, highs = wander.days(season.low_c, 1.4), wander.days(season.high_c, 1.6)
    dew_points = wander.days(season.dew_point_c, 1.8)
    clouds = [max(0.0, min(9.0, cloud)) for cloud in wander.days(season.cloud_tenths, 1.5)]
    first = date(season.year, 6, 29)
    to_utc = timedelta(hours=round(-season.place.longitude / 15))
    found = []
    for number in range(DAYS):
        day, at = first + timedelta(days=number), number + 3
        night = Night(
            name=season.name,
            title="",
            day=day,
            seed=season.seed,
            lows_c=tuple(lows[at - 1 : at + 4]),
            highs_c=tuple(highs[at - 2 : at + 3]),
            dew_points_c=tuple(dew_points[at - 1 : at + 4]),
            afternoon_drop_k=2.0,
            calm_m_s=(season.calm_m_s,) * 5,
            breeze_m_s=(3.4,) * 5,
            cloud_tenths=((0, clouds[at]), (24, clouds[at + 1])),
            rain_mm=tuple((hour, mm / 2) for mm in _rain(season, day) for hour in (19, 20)),
        )
        midnight = datetime(day.year, day.month, day.day, tzinfo=UTC) + to_utc
        found += [
            hour_of(night, season.place, float(hour), midnight + timedelta(hours=hour), noise)
            for hour in range(24)
        ]
    return found


def _rain(season: Season, day: date) -> list[float]:
    """Rain of one evening [mm]."""
    return [mm for number, mm in season.rain if day == date(season.year, 7, number)]


def season_csv(season: Season) -> str:
    """UTC, metric units; a blank where the recorder is said to have failed."""
    rows = []
    for hour in hours_of_season(season):
        dew_point = "" if _is_blank(season, hour.time) else f"{hour.dew_point_c:.1f}"
        rows.append(
            f"{hour.time:%Y-%m-%dT%H:%M}Z,{hour.temp_c:.1f},{dew_point},{hour.wind_m_s:.1f},"
            f"{hour.cloud_tenths:.0f},{hour.rain_mm:.1f}"
        )
    return "\n".join(["time_utc,temp_c,dewpoint_c,wind_ms,cloud_tenths,rain_mm", *rows, ""])


def _is_blank(season: Season, time: datetime) -> bool:
    """Whether the recorder gave no humidity."""
    if season.blank is None:
        return False
    begin = datetime(season.year, 7, season.blank[0], tzinfo=UTC)
    return begin <= time < begin + timedelta(hours=season.blank[1])


@dataclass(frozen=True)
class Strips:
    """The knobs of the trial: what is true of the invented field, by strip.

    Attributes
    ----------
    seed, blocks
        Seed and number of blocks.
    dry_lb_acre, gain, noise
        Dry matter without added moisture; share more with it; unevenness of strips.
    moisture_with, moisture_without
        Of the bales [% wb].
    protein, protein_gain
        Percent of dry matter; points more with added moisture.
    """

    seed: int = 12
    blocks: int = 6
    dry_lb_acre: float = 2750.0
    gain: float = 0.012
    noise: float = 0.012
    moisture_with: float = 14.0
    moisture_without: float = 9.6
    protein: float = 20.2
    protein_gain: float = 0.5


STRIPS = Strips()
HEADER = "block,strip,treatment,area_acre,bales,bale_weight_lb,bale_moisture_wb,crude_protein"


def strips_csv(knobs: Strips = STRIPS) -> str:
    """The strips of the trial."""
    chance = random.Random(knobs.seed)
    lines = ["# Invented: no such field, no such bales.", HEADER]
    for block in range(1, knobs.blocks + 1):
        level = 1 + chance.gauss(0, 0.05)
        for kind in chance.sample(["water", "none"], 2):
            wet = kind == "water"
            area = 1.2 + 0.1 * chance.randrange(4)
            gain = knobs.gain if wet else 0.0
            dry = knobs.dry_lb_acre * level * (1 + gain) * (1 + chance.gauss(0, knobs.noise))
            moisture = knobs.moisture_with if wet else knobs.moisture_without
            moisture += chance.gauss(0, 0.4)
            protein = knobs.protein + (knobs.protein_gain if wet else 0.0) + chance.gauss(0, 0.5)
            bale = 1300.0 if wet else 1240.0
            bales = dry * area / (1 - moisture / 100) / bale
            lines.append(
                f"{block},{block}{'a' if wet else 'b'},{kind},{area:.1f},{bales:.2f},{bale:.0f},"
                f"{moisture:.1f},{protein:.1f}"
            )
    return "\n".join([*lines, ""])


def season_files() -> Iterator[tuple[str, str]]:
    """Name and text of every generated file."""
    for season in SEASONS:
        yield f"{season.name}.csv", season_csv(season)
    yield "sites.toml", (TEMPLATES / "seasons.toml").read_text(encoding="utf-8")
    yield "rig.toml", (TEMPLATES / "seasons_rig.toml").read_text(encoding="utf-8")
    yield "strips.csv", strips_csv()


def main(folder: Path) -> None:
    """Write every file into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in season_files():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
