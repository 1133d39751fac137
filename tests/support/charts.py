"""Charts of the samples, and what can be read off a figure."""

from functools import cache

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from support.outlooks import FOLDER, outlook_of

from hayweather.farm import read_farm
from hayweather.farm.records import Farm
from hayweather.nights import FieldNight, Night, night_of
from hayweather.show import chart
from hayweather.show.chart_look import Look, Shape, plain_settings
from hayweather.weather.asked import weather_for
from hayweather.weather.record import HourlyWeather
from hayweather.words import say

NOW = np.datetime64("2025-07-09T00:00", "s")


@cache
def given(name: str) -> tuple[Farm, HourlyWeather]:
    """A sample's farm and weather."""
    farm = read_farm(FOLDER / f"{name}.toml")
    return farm, next(iter(weather_for(farm, farm.sites).values()))


@cache
def drawn(name: str, shape: Shape) -> list[tuple[FieldNight, Figure]]:
    """First and last field of a sample and their charts: wide in English, narrow in Spanish."""
    language = "en" if shape == "wide" else "es"
    fields = (outlook_of(name).fields[0], outlook_of(name).fields[-1])
    looks = [
        Look("us" if number % 2 else "metric", language, shape, invented=True)
        for number in range(len(fields))
    ]
    pairs = zip(fields, looks, strict=True)
    return [(field, chart.figure_of(field, look)) for field, look in pairs]


def outlook_in(weather: HourlyWeather, farm: Farm, now: np.datetime64) -> Night:
    """The outlook of the first field in other weather, without members."""
    sites = dict.fromkeys(farm.sites, weather)
    return night_of(farm, sites, now, field=next(iter(farm.fields)), members=0)


def of_weather(weather: HourlyWeather, farm: Farm, now: np.datetime64) -> FieldNight:
    """What it says of that field."""
    return outlook_in(weather, farm, now).fields[0]


def panel(figure: Figure, key: str) -> Axes:
    """One panel by its key."""
    return next(axes for axes in figure.axes if axes.get_label() == f"chart_{key}")


def keys(figure: Figure) -> list[str]:
    """Keys of the panels, in order, without the key of patterns."""
    return [label for axes in figure.axes if (label := str(axes.get_label())) != "key"]


def marks(axes: Axes, name: str) -> list[tuple[float, float]]:
    """First and past position of the patches with a name, in order of time."""
    found = [patch for patch in axes.patches if patch.get_label() == name]
    boxes = [patch for patch in found if isinstance(patch, Rectangle)]
    return sorted((box.get_x(), box.get_x() + box.get_width()) for box in boxes)


def quarters_of(axes: Axes, name: str, count: int) -> np.ndarray:
    """True in the quarter hours that patches with a name cover."""
    covered = np.zeros(count, dtype=bool)
    for first, past in marks(axes, name):
        covered[round(4 * first) : round(4 * past)] = True
    return covered


def shown_texts(figure: Figure) -> list[Text]:
    """Every text that is drawn, the watermark left out."""
    if figure.stale:
        with plain_settings():
            figure.draw_without_rendering()
    found = list(figure.texts)
    for axes in figure.axes:
        found += axes.texts
        for axis in (axes.xaxis, axes.yaxis) if axes.axison else ():
            low, high = sorted(axis.get_view_interval())
            ticks = [tick for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
            found += [tick.label1 for tick in ticks if tick.label1.get_visible()]
    watermarks = {say("chart_watermark", language) for language in ("en", "es")}
    return [text for text in found if text.get_text() and text.get_text() not in watermarks]


def words_of(figure: Figure) -> str:
    """All drawn words, hard spaces made plain."""
    texts = " | ".join(text.get_text() for text in shown_texts(figure))
    return texts.replace("\N{NO-BREAK SPACE}", " ").replace("\n", " ")


def boxes_of(figure: Figure) -> list[tuple[str, Bbox]]:
    """Every drawn text with its box in dots."""
    return [(text.get_text(), text.get_window_extent()) for text in shown_texts(figure)]
