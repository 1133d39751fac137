"""The ``[grid]`` table of a sites file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from hayweather.farm.keys import Key, Table
from hayweather.farm.values import Spot
from hayweather.farm.zones import read_zone
from hayweather.seasons.grid.clock import offset_of
from hayweather.seasons.record.grid_choice import GridChoice

GRID = Table(
    "grid",
    "one",
    GridChoice,
    (
        Key("file", "text", required=True, us='"weather.nc"'),
        Key("hour", "choice", choices=("start", "center", "end")),
        Key("file_timezone", "text", us='"UTC"'),
        Key("timezone", "text", us='"America/Denver"'),
        Key("wind_height", "number", "wind_height_m", "length", 0.3, 150, us="33"),
        Key("elevation", "number", "elevation_m", "elevation", -430, 9000, us="4330"),
        Key("sums", "choice", choices=("hour",)),
    ),
)


def choice_of(values: dict[str, Any], spot: Spot, folder: Path) -> GridChoice:
    """What a ``[grid]`` table says.

    Parameters
    ----------
    values
        Values by attribute.
    spot
        Where they stand.
    folder
        Folder that a relative path counts from.

    Raises
    ------
    FarmFileError
        If a zone is none, or the file's clock is no fixed offset.
    """
    choice = GridChoice(**values)
    if choice.timezone is not None:
        read_zone(choice.timezone, spot)
    if choice.file_timezone is not None and offset_of(choice.file_timezone) is None:
        raise spot.error("grid_clock", "file_timezone", value=choice.file_timezone)
    return replace(choice, file=folder / choice.file)
