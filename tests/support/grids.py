"""Made-up gridded weather for checks of counting and sharing out; no claim on nature.

Latitude makes it cooler, longitude drier; every cell has its own uneven days.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from hayweather.errors import WeatherFileError
from hayweather.seasons.grid.columns import hours_of, layout_of
from hayweather.seasons.record.sites import GridChoice, Sites
from hayweather.seasons.sites import read_sites

HOURS_A_DAY = 24
FIRST = np.datetime64("2021-06-29T00:00", "s")
PLACE = Path("made_up.nc")
SITES = """
[farm]
name = "A made-up plateau"
invented = true
[site.any]
latitude = 43
longitude = -120
weather = "none.csv"
"""


def shared(folder: Path) -> Sites:
    """Windrow, baler and rig that all cells share: the defaults."""
    path = folder / "shared.toml"
    path.write_text(SITES)
    return read_sites(path)


def grid_weather(
    rows: int,
    columns: int,
    first: str = "2021-06-28",
    days: int = 10,
    seed: int = 7,
) -> xr.Dataset:
    """A grid of hourly weather with CF names and units, (time, latitude, longitude)."""
    hours = np.datetime64(first, "ns") + np.arange(HOURS_A_DAY * days) * np.timedelta64(1, "h")
    latitude = 45.0 - 0.25 * np.arange(rows)
    longitude = -118.0 + 0.25 * np.arange(columns)
    values = hourly_values(hours, latitude, longitude, seed)
    dims = ("time", "latitude", "longitude")
    dataset = xr.Dataset(
        {name: (dims, found.astype(np.float32), attributes)
         for name, (found, attributes) in values.items()},
        {
            "time": ("time", hours, {"standard_name": "time"}),
            "latitude": ("latitude", latitude, {"units": "degrees_north"}),
            "longitude": ("longitude", longitude, {"units": "degrees_east"}),
        },
    )  # fmt: skip
    high = 900.0 + 300.0 * np.add.outer(np.arange(rows), np.arange(columns)) / (rows + columns)
    dataset["orog"] = (dims[1:], high, {"standard_name": "surface_altitude", "units": "m"})
    return dataset


def hourly_values(
    hours: np.ndarray, latitude: np.ndarray, longitude: np.ndarray, seed: int
) -> dict[str, tuple[np.ndarray, dict[str, str]]]:
    """Values and attributes of each variable, (hours, latitudes, longitudes)."""
    chance = np.random.default_rng(seed)
    shape = (hours.size, latitude.size, longitude.size)
    days = -(-hours.size // HOURS_A_DAY)
    uneven = chance.normal(size=(4, days, *shape[1:])).repeat(HOURS_A_DAY, axis=1)[:, : shape[0]]
    local = (hours - hours.astype("datetime64[D]")) / np.timedelta64(1, "h")
    clock = (local[:, None, None] + longitude / 15) % 24
    year = (hours - hours.astype("datetime64[Y]")) / np.timedelta64(1, "D")
    summer = np.cos(2 * np.pi * (year - 200) / 365)[:, None, None]
    wave = np.cos(2 * np.pi * (clock - 15) / 24)
    dryness = (longitude - longitude[0])[None, None, :]
    air = 10 + 9 * summer + 11 * wave - 0.8 * (latitude[0] - latitude)[None, :, None] + uneven[0]
    dew = np.minimum(2 + 3 * summer - 5.0 * dryness + 3 * uneven[1] - 2 * np.maximum(wave, 0), air)
    wind = np.maximum(1.6 + 1.4 * np.maximum(wave, 0) + 0.4 * uneven[2], 0.1)
    cloud = np.clip(0.25 + 0.3 * uneven[3], 0, 1)
    wet_day = (uneven[1] > 1.3) & (clock >= 16) & (clock < 19)
    return {
        "t2m": (air + 273.15, {"standard_name": "air_temperature", "units": "K"}),
        "d2m": (dew + 273.15, {"standard_name": "dew_point_temperature", "units": "K"}),
        "si10": (wind, {"standard_name": "wind_speed", "units": "m s-1"}),
        "tcc": (cloud, {"standard_name": "cloud_area_fraction", "units": "1"}),
        "pr": (
            np.where(wet_day, 1.5 / 3600, 0.0),
            {"standard_name": "precipitation_flux", "units": "kg m-2 s-1"},
        ),
    }


def choice(path: Path, **more: object) -> GridChoice:
    """A grid's choice that tells what made-up weather does not."""
    return GridChoice(path, **{"hour": "start", **more})


def columns(
    dataset: xr.Dataset, count: int = 24, first: np.datetime64 = FIRST, **more: object
) -> dict[str, np.ndarray]:
    """What is read of some hours of a dataset; `more` as in `choice`."""
    chosen = choice(PLACE, **more)
    return hours_of(dataset, layout_of(dataset, chosen), first, count)


def refused(dataset: xr.Dataset, **more: object) -> str:
    """The line with which a dataset is refused."""
    with pytest.raises(WeatherFileError) as caught:
        columns(dataset, **more)
    return str(caught.value)


def written(dataset: xr.Dataset, path: Path, chunks: Sequence[int] | None = None) -> Path:
    """The dataset as a file (``.nc``) or a store (``.zarr``)."""
    if path.suffix == ".zarr":
        encoding = {} if chunks is None else {
            name: {"chunks": tuple(chunks)} for name in dataset.data_vars if name != "orog"
        }  # fmt: skip
        dataset.to_zarr(path, encoding=encoding, consolidated=True, zarr_format=2)
    else:
        dataset.to_netcdf(path)
    return path
