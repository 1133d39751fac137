"""The inside of a windrow by depth through a clear night and the day after, as one figure.

``python -m regression.inside OUT.png`` in ``tests``: temperature, humidity and leaf
moisture; the same windy, overcast, over damp ground and at 3 kg/m2. The night is
the test night (tests/regression/test_night.py), the day made up; no claim on nature.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from support.nights import HIGH_PLACE, TEST_NIGHT_C, hourly, test_night_windrow

from hayweather.windrow.column import column_of, step
from hayweather.windrow.forcing import prepare
from hayweather.windrow.parameters import GROUND_HUMIDITY, GROUND_RESISTANCE_S_M
from hayweather.windrow.skin import Air
from hayweather.windrow.sorption import wet_basis
from hayweather.windrow.starts import FINE_STEPS, moisture_state

DAY_C = (10.5, 13, 17, 21.5, 25, 26, 27)
SUN_W_M2 = (40, 200, 430, 650, 800, 850, 850)
DAMP = {
    "ground_resistance_s_m": GROUND_RESISTANCE_S_M["damp"],
    "ground_humidity": GROUND_HUMIDITY["damp"],
}
CASES = {
    "clear, calm": ({}, {}),
    "wind 4 m/s": ({"wind_speed_m_s": 4.0}, {}),
    "overcast": ({"cloud_fraction": 1.0}, {}),
    "damp ground": ({}, DAMP),
    "3 kg/m2": ({}, {"dry_matter_kg_m2": 3.0}),
}
LAYERS = 20
SHOWN = ("temperature [C]", "humidity [%]", "leaf moisture [% wb]")
RANGES = ((5, 55), (20, 100), (5, 35))


def course(weather_changes: dict, windrow_changes: dict) -> np.ndarray:
    """Temperature, humidity and leaf moisture, (3, steps, layers)."""
    hours = len(TEST_NIGHT_C) + len(DAY_C)
    sun = np.r_[np.zeros(len(TEST_NIGHT_C)), SUN_W_M2]
    sun = sun * (1 - 0.75 * weather_changes.get("cloud_fraction", 0.0) ** 3.4)
    named = {
        "air_temperature_c": np.r_[TEST_NIGHT_C, DAY_C], "dew_point_c": 7.0,
        "wind_speed_m_s": 1.5, "shortwave_w_m2": sun,
    }  # fmt: skip
    weather = hourly(hours, **{**named, **weather_changes})
    windrow = replace(test_night_windrow(), **windrow_changes)
    forcing, column = prepare(weather, HIGH_PLACE, windrow), column_of(windrow, LAYERS)
    state = moisture_state(8.0, 8.0, np.array([28.0]), np.array([7.0]), LAYERS)
    rows = []
    for hour in range(hours):
        air = forcing.steps(hour, FINE_STEPS)
        for index in range(FINE_STEPS):
            now = Air(*(values[index] for values in air))
            state, _ = step(state, now, column, 3600 / FINE_STEPS)
            rows.append(
                [state.temperature_c[:, 0], 100 * state.humidity[:, 0],
                 wet_basis(state.moisture_db[0, :, 0])]
            )  # fmt: skip
    return np.moveaxis(np.array(rows), 1, 0)


def draw(path: Path) -> None:
    """Write the figure."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    edges = np.r_[0, np.cumsum(column_of(test_night_windrow(), LAYERS).shares)]
    figure, axes = plt.subplots(
        len(SHOWN), len(CASES), figsize=(17, 8.5), sharex=True, sharey=True, layout="constrained"
    )
    for number, (name, changes) in enumerate(CASES.items()):
        found = course(*changes)
        times = np.linspace(18, 18 + found.shape[1] / FINE_STEPS, found.shape[1] + 1)
        for row, (label, (low, high)) in enumerate(zip(SHOWN, RANGES, strict=True)):
            axis = axes[row, number]
            mesh = axis.pcolormesh(times, edges, found[row].T, vmin=low, vmax=high, cmap="viridis")
            axis.axhline(0.15, color="white", lw=0.6)
            axis.axhline(0.5, color="white", lw=0.6)
            axis.axvline(30, color="white", lw=0.6, ls=":")
            if row == 0:
                axis.set_title(name)
            if row == len(SHOWN) - 1:
                axis.set_xlabel("hour of the clock")
                axis.set_xticks(range(18, 38, 3), [f"{hour % 24:02d}" for hour in range(18, 38, 3)])
            if number == 0:
                axis.set_ylabel("dry matter above [-]")
            if number == len(CASES) - 1:
                figure.colorbar(mesh, ax=axes[row, :], label=label, pad=0.01)
    axes[0, 0].invert_yaxis()
    figure.savefig(path, dpi=90)


if __name__ == "__main__":
    draw(Path(sys.argv[1] if len(sys.argv) > 1 else "inside.png"))
