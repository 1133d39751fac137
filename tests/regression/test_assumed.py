"""Every number of the windrow that is assumed: what it moves, and that what moves a start is drawn.

Four nights: the test night, damp ground on it, and two of NW Colorado 2017. The
first ready quarter is the first of the night with the whole windrow at 12 % or
above. ``python -m pytest -s tests/regression/test_assumed.py`` prints the table.
"""

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from support.nights import HIGH_PLACE, weather_of_test_night
from support.seasons import read_season

from hayweather.windrow.lanes import repeat_weather, stack_parameters
from hayweather.windrow.parameters import (
    GROUND_HUMIDITY,
    GROUND_RESISTANCE_S_M,
    WindrowParameters,
)
from hayweather.windrow.run import run
from hayweather.windrow.sorption import Sorption
from hayweather.windrow.spread import (
    CURVE_FACTOR,
    DRYING_SPREAD,
    SOIL_OFFSET_K,
    WINDROW_FACTORS,
    WINDROW_RANGES,
)
from hayweather.windrow.starts import moisture_state

READY_WB, MOVES_QUARTERS = 12.0, 1
STANDARD = WindrowParameters()
DAMP = {
    "ground_resistance_s_m": GROUND_RESISTANCE_S_M["damp"],
    "ground_humidity": GROUND_HUMIDITY["damp"],
}

# Ends of every number that the class says is assumed or fitted, as it says them.
ENDS: dict[str, tuple[float, float]] = {
    **WINDROW_RANGES,
    **{
        name: (getattr(STANDARD, name) * low, getattr(STANDARD, name) * high)
        for name, (low, high) in WINDROW_FACTORS.items()
        if name != "ground_humidity"
    },
    "soil_offset_k": tuple(STANDARD.soil_offset_k + k for k in SOIL_OFFSET_K),
    "ground_humidity": (0.81, 0.99),  # where the ground is damp
    "drying_factor": (float(np.exp(-2 * DRYING_SPREAD)), float(np.exp(2 * DRYING_SPREAD))),
    # Drawn nowhere: they may stay so only while they move no start.
    "leaf_share": (0.45, 0.50),
    "albedo": (0.2, 0.3),
    "emissivity": (0.95, 0.98),
    "still_mixing_m2_s": (2.0e-5, 2.6e-5),
    "soil_memory_h": (24.0, 96.0),
    "film_stem_time_h": (10.0, 20.0),
    "drip_time_h": (0.4, 1.6),
}
CURVES = ("leaf", "stem")
DRAWN = {*WINDROW_RANGES, *WINDROW_FACTORS, "soil_offset_k", "drying_factor", *CURVES}


def test_every_number_of_the_windrow_is_listed():
    assert {item.name for item in fields(WindrowParameters)} == {*ENDS, *CURVES}


def changed(name: str, end: int, windrow: WindrowParameters) -> WindrowParameters:
    """The windrow with one number at an end of its range."""
    if name in CURVES:
        curve: Sorption = getattr(windrow, name)
        return replace(windrow, **{name: replace(curve, amount=curve.amount * CURVE_FACTOR[end])})
    value = ENDS[name][end]
    if name == "ground_resistance_s_m":
        value = windrow.ground_resistance_s_m * WINDROW_FACTORS[name][end]
    if name == "ground_humidity" and np.isnan(windrow.ground_humidity):
        return windrow
    return replace(windrow, **{name: value})


def nights():
    """Weather, place, windrow and first state by name; the season's from its own afternoon."""
    made = weather_of_test_night()
    season = read_season("NW Colorado 2017")
    yield "test night", made, HIGH_PLACE, STANDARD
    yield "damp ground", made, HIGH_PLACE, replace(STANDARD, **DAMP)
    for lane in (45, 110):
        yield (
            f"NW Colorado, {season.days[lane]}",
            repeat_weather(season.weather, [lane]),
            season.place,
            STANDARD,
        )


def first_at(values: np.ndarray, limit: float) -> np.ndarray:
    """Quarters until each lane first rises through a limit, between the rows too, (lanes,)."""
    turn = (values[1:] >= limit) & (values[:-1] < limit)
    row, lanes = turn.argmax(axis=0), np.arange(values.shape[1])
    low, high = values[row, lanes], values[row + 1, lanes]
    return np.where(turn.any(axis=0), row + (limit - low) / (high - low), float(values.shape[0]))


@cache
def table() -> dict[str, dict[str, tuple[float, float]]]:
    """Quarters by which each end moves the first ready quarter, by number and night."""
    names = [*ENDS, *CURVES]
    found: dict[str, dict[str, tuple[float, float]]] = {name: {} for name in names}
    for night, weather, place, windrow in nights():
        cases = [windrow, *(changed(name, end, windrow) for name in names for end in (0, 1))]
        lanes = repeat_weather(weather, [0] * len(cases))
        stacked = stack_parameters(cases, [1] * len(cases))
        if weather.hours < 24:
            air, dew_point = (lanes.columns[c][0] for c in ("air_temperature_c", "dew_point_c"))
            ran = run(lanes, place, stacked, {0: moisture_state(8.0, 8.0, air, dew_point)})
            rows = slice(0, None)
        else:
            begins = np.zeros((lanes.hours, lanes.lanes), dtype=bool)
            begins[0] = True
            ran = run(lanes, place, stacked, equilibrium_starts=begins)
            rows = slice(112, 185)  # 18:00 to noon
        first = first_at(ran.windrow_wb[rows], READY_WB)
        assert 0 < first[0] < ran.windrow_wb[rows].shape[0], night
        for number, name in enumerate(names):
            ends = first[1 + 2 * number : 3 + 2 * number] - first[0]
            found[name][night] = (float(ends[0]), float(ends[1]))
    return found


def test_what_moves_a_start_is_drawn():
    most = {
        name: max(abs(end) for ends in moved.values() for end in ends)
        for name, moved in table().items()
    }
    for name, moved in sorted(table().items(), key=lambda item: -most[item[0]]):
        shown = "; ".join(f"{low:+.1f} {high:+.1f}" for low, high in moved.values())
        print(f"{name:24s} {'drawn' if name in DRAWN else 'not drawn':10s} {shown}")
    missing = {name for name, value in most.items() if value >= MOVES_QUARTERS} - DRAWN
    assert not missing


@pytest.mark.parametrize("name", ["dry_matter_kg_m2", "leaf", "soil_contact_w_m2_k"])
def test_the_table_can_tell(name):
    assert any(abs(end) >= 1 for ends in table()[name].values() for end in ends)
