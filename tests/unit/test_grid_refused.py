"""Gridded weather that does not say enough of itself, or cannot be: refused in one line."""

import numpy as np
import pytest
import xarray as xr
from support.grids import grid_weather, refused

from hayweather.errors import FarmFileError, WeatherFileError
from hayweather.seasons.grid import axes
from hayweather.seasons.grid.axes import open_grid
from hayweather.seasons.record.sites import GridChoice
from hayweather.seasons.sites import read_sites


@pytest.fixture
def weather() -> xr.Dataset:
    return grid_weather(2, 3, days=4)


def without_units(name):
    def change(dataset):
        dataset[name].attrs.pop("units")
        return dataset

    return change


def with_attribute(name, **attributes):
    def change(dataset):
        dataset[name].attrs.update(attributes)
        return dataset

    return change


def second_air(dataset):
    dataset["tas"] = dataset["t2m"].assign_attrs(units="K")
    return dataset


def other_calendar(dataset):
    times = xr.date_range("2021-06-28", periods=96, freq="h", calendar="noleap", use_cftime=True)
    return dataset.assign_coords(time=times)


def five_runs(dataset):
    return dataset.assign(si10=dataset["si10"].expand_dims(number=5))


def twice_five_runs(dataset):
    names = ["t2m", "d2m", "si10", "tcc", "pr"]
    return dataset.assign({name: dataset[name].expand_dims(number=5) for name in names})


def dewy(dataset):
    dataset["d2m"][30] = dataset["t2m"][30] + 2
    return dataset


@pytest.mark.parametrize(
    ("change", "more", "said"),
    [
        (without_units("t2m"), {}, "t2m: has no unit"),
        (with_attribute("t2m", units="furlong"), {}, 'unit "furlong" is not known'),
        (with_attribute("t2m", units="degC"), {}, "is not possible"),
        (with_attribute("d2m", units="degC"), {}, "is not possible"),
        (second_air, {}, "t2m, tas both serve"),
        (lambda d: d.drop_vars("t2m"), {}, "no air temperature (found: d2m, si10"),
        (lambda d: d.drop_vars("d2m"), {}, "no humidity"),
        (lambda d: d.drop_vars("si10"), {}, "no wind"),
        (lambda d: d.rename(si10="wind"), {}, "wind_height"),
        (lambda d: d, {"wind_height_m": 2.0}, "the file says 10 m above ground, [grid] says 2 m"),
        (lambda d: d.drop_vars("orog"), {}, "elevation"),
        (lambda d: d, {"hour": None}, "hour ="),
        (lambda d: d.isel(time=slice(None, None, 3)), {}, "180 minutes apart"),
        (lambda d: d.isel(time=np.r_[5:9, 0:5]), {}, "does not come after"),
        (lambda d: d.isel(time=[0]), {}, "has 1 hour;"),
        (other_calendar, {}, 'calendar is "noleap"'),
        (five_runs, {}, "number"),
        (twice_five_runs, {}, "keep time and at most two dimensions of place"),
        (dewy, {}, "dew point"),
        (with_attribute("pr", units="mm"), {}, 'sums = "hour"'),
        (with_attribute("pr", cell_methods="time: point"), {}, "single moments"),
        (without_units("latitude"), {}, "latitude: has no unit"),
        (with_attribute("latitude", units="m"), {}, 'unit "m" is not known'),
        (lambda d: d.rename(latitude="y").drop_vars("y"), {}, "needs one latitude"),
        (lambda d: d.rename(time="moment").assign_coords(moment=range(96)), {}, "time axis"),
        (lambda d: d.assign_coords(latitude=d["latitude"] + 60), {}, "beyond 90 degrees"),
    ],
)
def test_what_is_not_told_stops(weather, change, more, said):
    line = refused(change(weather.copy(deep=True)), **more)
    assert said in line
    assert "\n" not in line


def test_the_clock_of_the_cells_must_exist(tmp_path):
    path = tmp_path / "grid.toml"
    table = '[grid]\nfile = "weather.nc"\ntimezone = "{zone}"\n'
    path.write_text(table.format(zone="America/Denver"))
    assert read_sites(path).grid == GridChoice(tmp_path / "weather.nc", timezone="America/Denver")
    path.write_text(table.format(zone="America/Nowhere"))
    with pytest.raises(FarmFileError, match="America/Nowhere"):
        read_sites(path)


def test_a_file_that_is_none_is_named(tmp_path):
    with pytest.raises(WeatherFileError, match="no such file"):
        open_grid(tmp_path / "none.nc")
    (tmp_path / "text.nc").write_text("no weather")
    with pytest.raises(WeatherFileError, match="cannot be read"):
        open_grid(tmp_path / "text.nc")


@pytest.mark.parametrize("missing", axes.PACKAGES)
def test_a_package_that_is_not_installed_is_named_by_its_extra(tmp_path, monkeypatch, missing):
    path = tmp_path / "weather.nc"
    path.touch()
    monkeypatch.setattr(axes, "find_spec", lambda name: None if name == missing else name)
    with pytest.raises(WeatherFileError, match=r"pip install 'hayweather\[grid\]'"):
        open_grid(path)


def test_a_file_of_another_kind_is_refused_in_plain_words(tmp_path):
    path = tmp_path / "weather.nc"
    path.write_text("no such thing")
    with pytest.raises(WeatherFileError, match="cannot be read as NetCDF or Zarr; check"):
        open_grid(path)
