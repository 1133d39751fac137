"""What a sites file says of gridded weather."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal


@dataclass(frozen=True)
class GridChoice:
    """The ``[grid]`` table: a gridded weather file, and what it does not tell itself.

    Attributes
    ----------
    file
        NetCDF file or Zarr store.
    hour
        Where the hour of rain and sun lies: its stamp is its start, center or end.
    file_timezone
        Fixed offset of the file's clock; None is UTC, as CF has it.
    timezone
        Clock of all cells; None is the whole hour nearest to the sun's.
    wind_height_m, elevation_m
        Of all cells, where the file does not tell.
    sums
        "hour" where amounts of rain or sun are those of one hour.
    """

    file: Path
    hour: Literal["start", "center", "end"] | None = None
    file_timezone: str | None = None
    timezone: str | None = None
    wind_height_m: float | None = None
    elevation_m: float | None = None
    sums: Literal["hour"] | None = None

    def at(self, name: object) -> str:
        """A variable or dimension of the file, as errors name it."""
        return f"{self.file.name}: {name}"
