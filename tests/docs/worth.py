"""What hours are worth by the way hay is paid: ``cd tests && python -m docs.worth``.

The first field of two dry samples, its hay given laboratory figures; dry hay allowed, so
that its price shows. Work is paid, one baler behind the rig. ``hours`` prints every hour of
one way of pay instead of the best hours of all.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hayweather.baling.calls import AS_IT_LIES
from hayweather.baling.clock import to_local
from hayweather.baling.machines import field_efficiency
from hayweather.baling.setting import with_machines
from hayweather.baling.value import Prices, hour_values, loss_ends, prices_of
from hayweather.farm import Farm, read_farm
from hayweather.farm.records import Money, PriceBy
from hayweather.nights import FieldNight, night_of
from hayweather.plan.pace import baler_rate_kg_h, behind_rig_kg_h, keeps_pace
from hayweather.units import to_shown
from hayweather.weather.asked import weather_for
from hayweather.weather.record import Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
NAMES = {"sagebeck_no_dew": "no dew", "sagebeck_hot_wind": "hot wind"}
SHEET = {"crude_protein_percent": 20.5, "ndf_percent": 38.0, "adf_percent": 30.0}
LADDER = {"supreme": 1.05, "premium": 1.0, "good": 0.9, "fair": 0.75, "utility": 0.6}
"""Prices of the classes beside the price of the farm file; made up for this table."""
PAID: tuple[PriceBy, ...] = ("leaf", "rfv", "class")
WAYS = ("dew", "rig", "dry")
FIRST_HOUR, HOURS = 19, 16  # of the clock, and how many are shown


@dataclass(frozen=True)
class Worth:
    """Money by the ton: each quarter by way, NaN where it has none; and waiting for another day."""

    quarters: Mapping[str, Floats]
    waiting: float

    def best(self, way: str) -> float:
        """The best quarter of a way; NaN without one."""
        found = self.quarters[way]
        return float(np.nanmax(found)) if np.isfinite(found).any() else float("nan")


def field_of(name: str) -> tuple[Farm, FieldNight]:
    """The first field of a sample through its night."""
    farm = read_farm(SAMPLES / f"{name}.toml")
    weather: dict[str, HourlyWeather] = weather_for(farm, farm.sites)
    key, field = next(iter(farm.fields.items()))
    money = replace(farm.money, allow_dry=True, never_dry_below_wb=0.0)
    farm = replace(farm, fields={key: replace(field, **SHEET)}, money=money)
    assert farm.weather.now is not None
    return farm, night_of(farm, weather, farm.weather.now, days=1).fields[0]


def paid_by(money: Money, way: PriceBy) -> Prices:
    """The prices of a farm file, hay paid by one way."""
    price = money.price_per_kg or 0.0
    classes = tuple((step, factor * price) for step, factor in LADDER.items())
    return prices_of(replace(money, price_by=way, class_prices=classes), price)


def worth_of(field: FieldNight, prices: Prices) -> Worth:
    """What each quarter of the night brings by each way, means over the members."""
    baler, rig = field.balers[0], field.rigs[0]
    band, found = field.setting.band, {}
    alone = baler_rate_kg_h(baler, field.setting.field, None, band.low_wb)
    hourly = prices.baler_h + prices.wage_h
    waiting = np.nan
    for machine in (None, rig):
        course = field.course(baler, machine)
        setting = with_machines(field.setting, baler, machine)
        values = hour_values(course.quarters, course.weather, setting, prices)
        may = course.may_bale(machine is not None)
        if machine is None:
            brought = values.as_it_lies[:, 1:].mean(axis=1) - hourly / alone
            on_dew = np.isin(course.quarters.call[:, 0], AS_IT_LIES)
            found["dew"] = np.where(may & on_dew, brought, np.nan)
            found["dry"] = np.where(may & ~on_dew, brought, np.nan)
            waiting = values.standing[-1, 1:].mean() - hourly / alone - prices.wait_day
        else:
            assert course.quarters.dose is not None
            water = course.quarters.dose.applied_l_t[:, 0]
            pace = behind_rig_kg_h(alone, field_efficiency(baler), machine, water)
            fuel = (machine.fuel_rate_l_h or 0.0) if machine.heated else 0.0
            paid = hourly + prices.rig_h + prices.wage_h + fuel * prices.fuel_l
            may = may & keeps_pace(alone, baler, machine, setting.field, water, band.low_wb)
            brought = values.with_rig[:, 1:].mean(axis=1) - paid / pace
            found["rig"] = np.where(may, brought, np.nan)
    per_ton = {
        way: np.asarray(to_shown(value, "price_by_mass", "us")) for way, value in found.items()
    }
    return Worth(per_ton, float(to_shown(waiting, "price_by_mass", "us")))


def cell(value: float) -> str:
    """Money by the ton, "-" where there is no such hour."""
    return "-" if np.isnan(value) else f"{value:.1f}"


def table(heads: list[str], lines: list[list[str]]) -> list[str]:
    """Markdown."""
    return [f"| {' | '.join(cells)} |" for cells in (heads, ["---"] * len(heads), *lines)]


def best_hours() -> list[str]:
    """The best hour of each way, by every way of pay, and what the loss does to the rig's."""
    heads = ["night", "paid by", "on dew", "with the rig", "dry", "waiting"]
    heads += [f"rig less {than}: least, usual, most loss" for than in ("dry", "waiting")]
    lines = []
    for sample, name in NAMES.items():
        farm, field = field_of(sample)
        for way in PAID:
            usual = paid_by(farm.money, way)
            least, most = loss_ends(usual)
            ends = [worth_of(field, prices) for prices in (least, usual, most)]
            shown = [*(ends[1].best(key) for key in WAYS), ends[1].waiting]
            beside = [[end.best("rig") - end.best("dry") for end in ends]]
            beside.append([end.best("rig") - end.waiting for end in ends])
            gaps = [", ".join(map(cell, gap)) for gap in beside]
            lines.append([name, way, *map(cell, shown), *gaps])
    return table(heads, lines)


def every_hour(way: PriceBy) -> list[str]:
    """Each hour of the night by one way of pay, the mean of its quarters."""
    heads, columns = ["hour"], []
    for sample, name in NAMES.items():
        farm, field = field_of(sample)
        worth = worth_of(field, paid_by(farm.money, way))
        clock = [
            to_local(hour.start, str(field.setting.site.timezone)).hour for hour in field.hours
        ]
        first = clock.index(FIRST_HOUR)
        rows = slice(QUARTERS * first, QUARTERS * (first + HOURS))
        by_hour = {
            key: [_mean(value) for value in worth.quarters[key][rows].reshape(HOURS, QUARTERS)]
            for key in WAYS
        }
        columns += [by_hour[key] for key in WAYS]
        columns.append([value - worth.waiting for value in by_hour["rig"]])
        heads += [
            f"{name}: {what}" for what in ("on dew", "with the rig", "dry", "rig less waiting")
        ]
    lines = [
        [f"{(FIRST_HOUR + row) % 24}:00", *(cell(column[row]) for column in columns)]
        for row in range(HOURS)
    ]
    return table(heads, lines)


def _mean(values: Floats) -> float:
    """Of the quarters that there are."""
    there = values[np.isfinite(values)]
    return float(there.mean()) if there.size else float("nan")


if __name__ == "__main__":
    print("\n".join(every_hour("rfv") if sys.argv[1:] == ["hours"] else best_hours()))
