"""Outlooks of real nights from the files of each layout, beside the same hours through no file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from weather.layouts import RESOLUTION, WITHOUT_SUN, WRITERS, Series, real_series, record, rounded

from hayweather.farm.records import Baler, Farm, Field, Site, WeatherChoice
from hayweather.nights import FieldNight, night_of
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.record import HourlyWeather

SITE = Site("home", 40.53, -108.54, 2168.0, "America/Denver")
FARM = Farm(
    "Hill",
    {"home": SITE},
    {"north": Field("north", "home", cured=True)},
    {"baler": Baler("baler")},
    WeatherChoice(),
)
HOURS = 40
"""From midnight of UTC-7 to the end of the outlook, and a little more."""
EVENING = np.timedelta64(17, "h")
COMPARED_HOURS = 20
"""Hours of an outlook that every layout can tell: sums that close their hour miss the last."""


class Difference(NamedTuple):
    """How far the outlook from a layout lies from that of the unrounded hours.

    Over windrow, leaf and stem of every quarter hour, points wet basis; and the quarters whose
    call is another.
    """

    layout: str
    typical: float
    largest: float
    other_calls: int
    quarters: int


def outlook_of(weather: HourlyWeather) -> FieldNight:
    """The middle forecast alone, as of 18:00 on the clock there."""
    now = weather.start[0] + EVENING
    return night_of(FARM, {"home": weather}, now, members=0).fields[0]


def moistures(outlook: FieldNight) -> np.ndarray:
    """Windrow, leaf and stem of the quarter hours compared [% wb]."""
    run = outlook.shown.trajectory
    return np.stack([run.windrow_wb, run.leaf_wb, run.stem_wb])[:, : 4 * COMPARED_HOURS, 0]


def calls(outlook: FieldNight) -> np.ndarray:
    """Call of each of the quarter hours compared."""
    return outlook.shown.quarters.call[: 4 * COMPARED_HOURS, 0]


def read(folder: Path, layout: str, given: Series) -> HourlyWeather:
    """The hours written in a layout and read again."""
    path = folder / f"{layout}.csv"
    path.write_text(WRITERS[layout](given), encoding="utf-8")
    options = ReadOptions(timezone="UTC" if layout == "logger" else None)
    return read_weather_file(path, options)[0]


def differences(folder: Path, days: Sequence[str]) -> list[Difference]:
    """What each layout takes off the outlooks of some real nights.

    Layouts without sun come twice: beside hours without it, which is the rounding alone, and
    beside the whole hours.
    """
    nights = [real_series(f"{day}T07:00", HOURS) for day in days]
    truths = {
        sun: [outlook_of(record(night, sun=sun)) for night in nights] for sun in (True, False)
    }
    found = []
    for layout in WRITERS:
        made = [outlook_of(read(folder, layout, as_printed(night, layout))) for night in nights]
        if layout in WITHOUT_SUN:
            found.append(_difference(f"{layout}, rounding alone", made, truths[False]))
            layout = f"{layout}, sun missing too"
        found.append(_difference(layout, made, truths[True]))
    return found


def as_printed(given: Series, layout: str) -> Series:
    """The hours as a file of the layout rounds them."""
    return rounded(given, *RESOLUTION[layout])


def _difference(layout: str, made: Sequence[FieldNight], truth: Sequence[FieldNight]) -> Difference:
    pairs = list(zip(made, truth, strict=True))
    off = np.abs([moistures(one) - moistures(other) for one, other in pairs])
    another = np.array([calls(one) != calls(other) for one, other in pairs])
    typical = float(np.quantile(off, 0.95))
    return Difference(layout, typical, float(off.max()), int(another.sum()), another.size)


def markdown_table(found: Sequence[Difference]) -> str:
    """One row a layout."""
    head = "| layout | 95th percentile | largest | other calls |\n| --- | --- | --- | --- |\n"
    return head + "".join(
        f"| {each.layout.replace('_', ' ')} | {each.typical:.3f} | {each.largest:.3f} "
        f"| {each.other_calls} of {each.quarters} |\n"
        for each in found
    )
