"""Farms with several fields, balers and a rig for tests of plans; no claim on nature."""

from dataclasses import replace

import numpy as np
from support.fields import EVENING, HOME, days

from hayweather.baling.value import prices_of
from hayweather.farm.records import Baler, Farm, Field, Money, Rig, Shift, WeatherChoice
from hayweather.nights import night_of
from hayweather.plan.case import Case, case_of
from hayweather.weather.record import HOUR, HourlyWeather

AWAY = replace(HOME, name="away", latitude=40.1)
ACRE_M2 = 4046.86
MONEY = Money(price_per_kg=0.2, currency="$", allow_dry=True, never_dry_below_wb=0.0)


def field(name: str, acres: float = 40, site: str = "home", **changed) -> Field:
    """A cured field of alfalfa."""
    given = {"cured": True, "area_m2": acres * ACRE_M2, "yield_kg_m2": 0.33, **changed}
    return Field(name, site, **given)


def random_farm(seed: int) -> Farm:
    """Two to four fields on two sites, one or two balers, with and without rig, shifts, dues."""
    rng = np.random.default_rng(seed)
    fields = {}
    for number in range(int(rng.integers(2, 5))):
        due = EVENING + int(rng.integers(10, 60)) * HOUR
        named = {0: {"finish_before": due}, 1: {"irrigation_due": due}}.get(
            int(rng.integers(4)), {}
        )
        site = "away" if rng.random() < 0.3 and number else "home"
        made = field(f"f{number}", float(rng.uniform(10, 90)), site, **named)
        fields[made.name] = made
    balers = {
        f"b{number}": Baler(
            f"b{number}",
            kind=("large-square", "round")[int(rng.integers(2))],
            capacity_kg_h=float(rng.uniform(9_000, 20_000)),
            move_minutes=float(rng.choice([0, 20, 30, 45])),
        )
        for number in range(int(rng.integers(1, 3)))
    }
    rig = Rig("rig", 3000.0, 8.0, 90.0, 40.0, float(rng.uniform(10, 40)), spray_wind_limit_m_s=5.0)
    shifts = (
        (Shift(20 * 60, 9 * 60, "night"),),
        (Shift(18 * 60, 2 * 60, "one"), Shift(2 * 60, 10 * 60, "two")),
        (Shift(6 * 60, 4 * 60, "long"),),
        (),
    )[int(rng.integers(4))]
    return farm_with(fields, balers, {"rig": rig} if rng.random() < 0.6 else {}, shifts)


def farm_with(fields, balers, rigs, shifts=()) -> Farm:
    """A farm on two sites."""
    return Farm(
        "Sagebeck",
        {"home": HOME, "away": AWAY},
        fields,
        balers,
        WeatherChoice(),
        rigs=rigs,
        shifts=shifts,
        money=replace(MONEY, rig_cost_per_h=10.0, water_price_per_l=0.0005),
    )


def weather_of(seed: int, hours: int = 76) -> dict[str, HourlyWeather]:
    """Clear days, more or less humid; rain on some farms' second day."""
    rng = np.random.default_rng(seed)
    rain = np.zeros(hours)
    if rng.random() < 0.4:
        first = int(rng.integers(45, 70))
        rain[first : first + 4] = 2.0
    made = days(hours, dew_point_c=float(rng.uniform(3, 12)), rain_mm=rain)
    return {"home": made, "away": made}


def case_for(
    farm: Farm, weather: dict[str, HourlyWeather], nights: int = 2, members: int = 8
) -> Case:
    """A farm as a task, with few members to be quick."""
    night = night_of(farm, weather, EVENING, days=nights, members=members)
    return case_of(night, prices_of(farm.money, farm.money.price_per_kg))
