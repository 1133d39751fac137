"""Which layout a file has, by its contents."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hayweather.errors import OptionError
from hayweather.weather.files import (
    agrimet,
    asos,
    crn,
    epw,
    isd_lite,
    logger,
    nsrdb,
    open_meteo,
    pvgis,
    tmy3,
)
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.plain import read_plain
from hayweather.weather.files.table import FileTable
from hayweather.weather.files.text import FileText


@dataclass(frozen=True)
class Layout:
    """One layout: how it is recognized and how it is read."""

    name: str
    matches: Callable[[FileText], bool]
    read: Callable[[FileText, ReadOptions], FileTable]


LAYOUTS: tuple[Layout, ...] = (
    Layout(open_meteo.NAME, open_meteo.matches, open_meteo.read_open_meteo),
    Layout(epw.NAME, epw.matches, epw.read_epw),
    Layout(tmy3.NAME, tmy3.matches, tmy3.read_tmy3),
    Layout(nsrdb.NAME, nsrdb.matches, nsrdb.read_nsrdb),
    Layout(pvgis.NAME, pvgis.matches, pvgis.read_pvgis),
    Layout(isd_lite.NAME, isd_lite.matches, isd_lite.read_isd_lite),
    Layout(crn.NAME, crn.matches, crn.read_crn),
    Layout(logger.NAME, logger.matches, logger.read_logger),
    Layout(asos.NAME, asos.matches, asos.read_asos),
    Layout(agrimet.NAME, agrimet.matches, agrimet.read_agrimet),
    Layout("plain", lambda file: True, read_plain),
)
"""In the order in which they are tried; the last fits everything."""


def read_layout(file: FileText, options: ReadOptions) -> FileTable:
    """Read a file in the layout it has, or in the one an option names.

    Raises
    ------
    OptionError
        If an option names an unknown layout.
    WeatherFileError
        If the contents do not fit.
    """
    if options.layout is not None:
        layout = _named(options.layout)
        if not layout.matches(file):
            raise file.error("weather_layout_mismatch", layout=layout.name)
        return layout.read(file, options)
    layout = next(layout for layout in LAYOUTS if layout.matches(file))
    return layout.read(file, options)


def _named(name: str) -> Layout:
    for layout in LAYOUTS:
        if layout.name == name:
            return layout
    known = ", ".join(layout.name for layout in LAYOUTS)
    raise OptionError("weather_layout_unknown", "layout", value=name, known=known)
