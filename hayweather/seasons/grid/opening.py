"""Opening a NetCDF file or a Zarr store; nothing of its values is read yet."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from hayweather.errors import WeatherFileError

if TYPE_CHECKING:
    import xarray as xr

ZARR_ENDINGS = (".zarr",)
PACKAGES = ("xarray", "dask", "zarr", "h5netcdf")
"""Of the extra `grid`; others may bring some of them, so all are looked for."""


def open_grid(path: Path) -> xr.Dataset:
    """A gridded file as a dataset whose values are read when they are used.

    Parameters
    ----------
    path
        NetCDF file or Zarr store.

    Raises
    ------
    WeatherFileError
        If the packages for it are not installed, or it cannot be read.
    """
    if any(find_spec(package) is None for package in PACKAGES):
        raise WeatherFileError("grid_not_installed", path.name)
    import xarray

    if not path.exists():
        raise WeatherFileError("grid_missing", str(path))
    try:
        if path.suffix.lower() in ZARR_ENDINGS or path.is_dir():
            return xarray.open_zarr(path, chunks=None)
        return xarray.open_dataset(path, chunks=None)
    except (OSError, ValueError, KeyError, ImportError):
        raise WeatherFileError("grid_unreadable", str(path)) from None


def stamp_of(path: Path) -> tuple[int, int]:
    """Size and newest change of a file or of all files of a store, to know it again."""
    files = [path] if path.is_file() else [item for item in path.rglob("*") if item.is_file()]
    states = [file.stat() for file in files]
    return sum(s.st_size for s in states), max((s.st_mtime_ns for s in states), default=0)
