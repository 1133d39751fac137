"""The layer rule beside the mean rule, by month, and advice on forty nights.

The mean rule is what the first version judged by: the whole windrow in its band and
the mean leaf at the leaf minimum, no free water, no rain. The layer rule asks for soft
leaf and little wet hay. Nights as lanes, quarter hours from 18:00 to 12:00 local; a
large square baler as in `support.fields`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from support.fields import CURED, RIG, farm_of, setting_of
from support.seasons import SITES, default_run, find_file, known_nights, read_season

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, Call, QuarterCalls, call_quarters, middles
from hayweather.baling.setting import Setting
from hayweather.farm.records import Site
from hayweather.nights import night_of
from hayweather.nights.night import FieldNight
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.trajectory import QUARTERS

MONTHS = {5: "May", 6: "June", 7: "July", 8: "August", 9: "September"}
NIGHT = slice(QUARTERS * 28, QUARTERS * 46)  # 18:00 to 12:00
STATES = (Call.NATURAL_DEW, Call.READY, Call.ADD_MOISTURE, Call.DAMP_BELOW, Call.TOO_WET,
          Call.TOO_DRY, Call.NOT_CURED, Call.NO_DATA)  # fmt: skip
FORTY = {"NW Colorado 2017": 10, "NW Colorado 2023": 10, "JFK 2013": 10, "Tucson": 10}
EVENING_HOUR = 27  # 17:00 of the lane's second day


def setting(name: str) -> Setting:
    """A cured field at a site."""
    return setting_of(rig=RIG, site=site_of(name))


def site_of(name: str) -> Site:
    """A site as a farm file has it."""
    place = SITES[name].place
    return Site(name, place.latitude, place.longitude, place.elevation_m, SITES[name].zone)


@cache
def calls(name: str) -> QuarterCalls:
    """Calls of every night."""
    return call_quarters(read_season(name).weather, default_run(name), setting(name))


def by_mean(name: str) -> np.ndarray:
    """Where the mean rule says ready, (quarters, lanes)."""
    found, band = calls(name), setting(name).band
    leaf = middles(default_run(name).leaf_wb)
    ready = (found.windrow_wb >= band.low_wb) & (found.windrow_wb <= band.high_wb)
    ready &= (leaf >= band.leaf_minimum_wb) & (found.free_water_mm <= 0.02)
    return ready & (found.rain_mm_h < 0.1)


def month_rows(name: str) -> list[tuple[str, ...]]:
    """Hours a night by both rules, month by month."""
    found, rows = calls(name), []
    for month, word in MONTHS.items():
        chosen = (read_season(name).month() == month) & known_nights(name)

        def hours(marks: np.ndarray, chosen: np.ndarray = chosen) -> str:
            return f"{marks[NIGHT][:, chosen].sum(axis=0).mean() / QUARTERS:.1f}"

        dew = found.call == Call.NATURAL_DEW
        rows.append(
            (
                name,
                word,
                hours(by_mean(name)),
                hours(np.isin(found.call, (Call.NATURAL_DEW, Call.READY))),
                *(hours(found.call == call) for call in STATES[:5]),
                f"{100 * (dew[NIGHT][:, chosen].sum(axis=0) >= 2 * QUARTERS).mean():.0f} %",
            )
        )
    return rows


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """Markdown."""
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines) + "\n"


def layer_table() -> str:
    """Every site whose weather is at hand."""
    head = ("place and year", "month", "ready by the mean", "ready by layer",
            *(call.word for call in STATES[:5]), "nights with 2 h of dew")  # fmt: skip
    return table(
        head,
        [
            row
            for name, site in SITES.items()
            if find_file(site) is not None
            for row in month_rows(name)
        ],
    )


def advice_rows(name: str, count: int) -> tuple[list[tuple[str, ...]], int]:
    """Hours by state and advice over some nights, 17:00 on; and words that were less likely."""
    season = read_season(name)
    lanes = np.flatnonzero(known_nights(name))
    lanes = lanes[np.linspace(0, lanes.size - 1, count).astype(int)]
    hours = np.zeros((len(Call), len(Advice)), dtype=int)
    shares: list[tuple[float, float]] = []
    less_likely = 0
    for lane in lanes:
        found = night_from(name, repeat_weather(season.weather, [int(lane)]))
        for hour in found.hours:
            hours[hour.call, hour.advice] += 1
            less_likely += hour.chance[hour.call] < max(hour.chance.values()) - 1e-9
            if hour.advice == Advice.GO and hour.call in BALED[:2]:
                shares.append((hour.soft_share, hour.wet_share))
    rows = [
        (name, call.word, *(str(hours[call, advice]) for advice in reversed(Advice)))
        for call in STATES
        if hours[call].any()
    ]
    if shares:
        soft, wet = np.array(shares).T
        rows.append((name, "of go as it lies", f"soft share {soft.min():.2f} to {soft.max():.2f}",
                     f"wet share {wet.min():.2f} to {wet.max():.2f}", "", ""))  # fmt: skip
    return rows, less_likely


def night_from(name: str, weather: HourlyWeather) -> FieldNight:
    """The outlook of one night at 17:00; a source without rain has none."""
    if weather.get("rain_mm") is None:
        dry = np.zeros((weather.hours, 1))
        weather = replace(weather, columns={**weather.columns, "rain_mm": dry})
    farm = farm_of(replace(CURED, site=name), RIG, sites={name: site_of(name)})
    return night_of(farm, {name: weather}, weather.start[0] + EVENING_HOUR * HOUR).fields[0]


def advice_table() -> str:
    """Forty real nights: hours by state and advice."""
    rows, less_likely = [], 0
    for name, count in FORTY.items():
        if find_file(SITES[name]) is not None:
            found, odd = advice_rows(name, count)
            rows += found
            less_likely += odd
    head = ("place and year", "call", *(advice.word for advice in reversed(Advice)))
    return table(head, rows) + f"\nHours whose word was less likely than another: {less_likely}.\n"
