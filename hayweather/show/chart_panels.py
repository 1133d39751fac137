"""The panels of a chart in their order: what each is called and when it is shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from hayweather.show.chart_bars import draw_chances, draw_rain, draw_water
from hayweather.show.chart_curves import draw_moisture, draw_temperature
from hayweather.show.chart_scene import Scene
from hayweather.show.chart_strip import draw_strip, strip_height_in
from hayweather.units import symbol_of


@dataclass(frozen=True)
class Panel:
    """One panel.

    Attributes
    ----------
    key
        Names its axes and its caption.
    quantity
        Whose unit stands in the caption; empty for none.
    height_in
        Inches, margins not counted.
    wanted
        False where a field has nothing to show in it.
    draw
        Draws it.
    """

    key: str
    quantity: str
    height_in: Callable[[Scene], float]
    wanted: Callable[[Scene], bool]
    draw: Callable[[Axes, Scene], None]

    def caption(self, scene: Scene) -> str:
        """The line above the panel."""
        unit = symbol_of(self.quantity, scene.look.units) if self.quantity else ""
        key = f"{self.key}_spread" if self is MOISTURE and _with_members(scene) else self.key
        words = scene.voice.say(key, unit=unit)
        if self is MOISTURE and scene.points():
            words += scene.voice.say("chart_readings")
        for at, forward in scene.clock.changes() if self is CALLS else ():
            moved = "chart_clocks_forward" if forward else "chart_clocks_back"
            words += scene.voice.say(moved, time=scene.voice.when(scene.clock.time(at)))
        return words


def _always(scene: Scene) -> bool:
    """Shown for every field."""
    return True


def _with_members(scene: Scene) -> bool:
    """Shown where there are chances."""
    return bool(scene.members.any())


def _with_water(scene: Scene) -> bool:
    """Shown where some hour asks for water."""
    return bool(np.isfinite(scene.water()).any())


def _with_rain(scene: Scene) -> bool:
    """Shown where rain falls, or is not known in some hour."""
    rain = scene.rain()
    return rain is not None and not bool((rain == 0.0).all())


def _high(height_in: float) -> Callable[[Scene], float]:
    """The same height for every field."""
    return lambda scene: height_in


CALLS = Panel("chart_panel_calls", "", strip_height_in, _always, draw_strip)
MOISTURE = Panel("chart_panel_moisture", "", _high(2.1), _always, draw_moisture)
PANELS = (
    CALLS,
    Panel("chart_panel_chances", "", _high(0.8), _with_members, draw_chances),
    Panel("chart_panel_water", "water_rate", _high(0.8), _with_water, draw_water),
    MOISTURE,
    Panel("chart_panel_rain", "rain", _high(0.45), _with_rain, draw_rain),
    Panel("chart_panel_temperature", "temperature", _high(1.7), _always, draw_temperature),
)
