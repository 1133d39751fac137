"""A grid as NetCDF: what xarray reads back of it is what was counted, at its place."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from support.grids import choice, shared
from zarr.storage import ZipStore

from hayweather.cli import main
from hayweather.seasons.grid import engine
from hayweather.seasons.record.grid import COUNTS, CellTallies, GridSeasons
from hayweather.show.grid import HOURS, grid_dataset, grid_json

SHAPE = (3, 2, 2)  # cells reached, years, months


@pytest.fixture
def made(tmp_path: Path) -> GridSeasons:
    """Three cells of two by two: one was not reached, one has a year left out."""
    rng = np.random.default_rng(3)
    counted = rng.integers(5, 20, SHAPE)
    missing = np.zeros(SHAPE, dtype=np.int64)
    missing[1, 0] = 30
    tallies = CellTallies(
        latitude=np.array([45.0, 45.0, 44.75]),
        longitude=np.array([-118.0, -117.75, -118.0]),
        nights=np.full(SHAPE, 31),
        missing=missing,
        rain_nights=31 - counted - np.minimum(missing, 31 - counted),
        counted=counted,
        with_dew=counted // 2,
        dew_h=2.5 * counted,
        rig_h=1.5 * counted,
        wet_h=0.5 * counted,
        dry_h=0.25 * counted,
        median_dew_h=np.array([2.0, np.nan, 3.0]),
        four_in_five_dew_h=np.array([1.0, np.nan, 0.5]),
    )
    return GridSeasons(
        file=shared(tmp_path),
        choice=choice(tmp_path / "weather.nc"),
        months=(6, 7),
        years=(2020, 2021),
        shape=(2, 2),
        cells=np.array([0, 1, 2]),
        tallies=tallies,
        rain_known=False,
    )


@pytest.fixture
def read(made: GridSeasons, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> xr.Dataset:
    """The file that the command writes, read by xarray."""
    sheet, out = tmp_path / "grid.toml", tmp_path / "counts.nc"
    sheet.write_text('[grid]\nfile = "weather.nc"\nhour = "start"\n')
    # The stop of an unfinished run is of no matter here.
    monkeypatch.setattr(GridSeasons, "unfinished", property(lambda self: False))
    monkeypatch.setattr(engine, "make_grid", lambda file, picked, asked: made)
    assert main.run(["seasons", str(sheet), "--out", str(out)]) == 0
    with xr.open_dataset(out, engine="h5netcdf") as dataset:
        return dataset.load()


def by_cell(found: xr.DataArray) -> np.ndarray:
    """A count as (cells, years, months)."""
    return np.moveaxis(found.values.reshape(2, 2, 4), 2, 0)


def test_every_count_stands_at_its_cell_year_and_month(read, made):
    assert read.sizes == {"latitude": 2, "longitude": 2, "year": 2, "month": 2}
    for name in COUNTS:
        found = by_cell(read[name])
        assert np.array_equal(found[:3], getattr(made.tallies, name))
        assert np.isnan(found[3]).all()  # the cell that was not reached
    for name, key in HOURS.items():
        assert np.array_equal(by_cell(read[f"{name}_hours"])[:3], getattr(made.tallies, key))
    june = read.sel(month=6, year=2021).sel(latitude=44.7, longitude=-118.1, method="nearest")
    assert june["counted"] == made.tallies.counted[2, 1, 0]
    assert (float(june["latitude"]), float(june["longitude"])) == (44.75, -118.0)


def test_means_are_those_of_the_json(read, made):
    cells = json.loads(grid_json(made))["cells"]
    for name in ("dew_nights_percent", "median_dew_hours", "four_in_five_dew_hours"):
        found = read[name].values.ravel()[:3]
        expected = [np.nan if cell[name] is None else cell[name] for cell in cells]
        assert found == pytest.approx(expected, abs=1e-3, nan_ok=True)
    averaged = read["averaged_in"].values.reshape(2, 4).T[:3]
    assert averaged.astype(bool).tolist() == made.tallies.kept.tolist()
    assert not averaged[1, 0]


def test_it_says_what_it_is_and_what_to_beware_of(read):
    assert read.attrs["title"].startswith("INVENTED SAMPLE")
    assert "planning aid only" in read.attrs["cautions"]
    assert "No rain in the source" in read.attrs["comment"]
    assert all(read[name].attrs["long_name"] for name in read.data_vars)


def test_attributes_are_those_of_the_conventions(read):
    # CF conventions 1.11: 2.6.1 and 2.6.2 (title, history, source), 3.1 units, 3.3 standard
    # names, 4.1 and 4.2 latitude and longitude with axis, 7.3 cell methods, 3.5 flags.
    assert {"Conventions", "title", "history", "source", "comment"} <= set(read.attrs)
    assert re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\dZ ", read.attrs["history"])
    for name, unit, axis in (
        ("latitude", "degrees_north", "Y"),
        ("longitude", "degrees_east", "X"),
    ):
        found = read[name]
        assert found.dims == (name,)
        assert (found.attrs["standard_name"], found.attrs["units"]) == (name, unit)
        assert found.attrs["axis"] == axis
        assert "_FillValue" not in found.encoding or np.isnan(found.encoding["_FillValue"])
    for name in read.variables:
        assert read[name].attrs["long_name"], name
    assert read["counted"].dims == ("year", "month", "latitude", "longitude")  # 2.4
    assert read["time"].attrs["standard_name"] == "time"  # 4.4, what cell methods speak of
    for name in (*COUNTS, "dew_hours", "dew_nights_percent", "median_dew_hours"):
        assert read[name].attrs["cell_methods"].split(":")[0] == "time"
        assert read[name].attrs["units"] in ("1", "h", "percent")
    flags = read["averaged_in"].attrs
    assert len(flags["flag_values"]) == len(flags["flag_meanings"].split())


def test_a_grid_that_is_not_regular_keeps_two_dimensions(made):
    bent = replace(made.tallies, latitude=np.array([45.0, 45.1, 44.75]))
    found = grid_dataset(replace(made, tallies=bent))
    assert found["latitude"].dims == ("y", "x")
    assert "axis" not in found["latitude"].attrs


def test_zarr_in_one_file_says_the_same(made, read, tmp_path, monkeypatch):
    sheet, out = tmp_path / "grid.toml", tmp_path / "counts.zarr.zip"
    monkeypatch.setattr(GridSeasons, "unfinished", property(lambda self: False))
    monkeypatch.setattr(engine, "make_grid", lambda file, picked, asked: made)
    for _ in range(2):  # its own result may be replaced
        assert main.run(["seasons", str(sheet), "--out", str(out)]) == 0
    store = ZipStore(out, mode="r")
    with xr.open_zarr(store, consolidated=False) as dataset:
        found = dataset.load()
    xr.testing.assert_allclose(found, read)
    assert found["dew_hours"].attrs == read["dew_hours"].attrs


def test_the_names_of_its_variables_are_in_the_language_of_the_file(made):
    spanish = grid_dataset(replace(made, file=replace(made.file, language="es")))
    assert spanish["counted"].attrs["long_name"] == "noches que cuentan"


@pytest.mark.parametrize("shape", [(), (3,)])
def test_stations_and_a_single_point_are_cells_in_a_row(made, shape):
    count = 1 if shape == () else 3
    few = replace(
        made, shape=shape, cells=np.arange(count), tallies=made.tallies.only(np.arange(count))
    )
    found = grid_dataset(few)
    assert found["counted"].dims == ("year", "month", "cell")
    assert np.array_equal(found["counted"].transpose("cell", ...), few.tallies.counted)


def test_counts_are_never_written_over_the_weather(tmp_path, capsys):
    sheet, weather = tmp_path / "grid.toml", tmp_path / "weather.nc"
    sheet.write_text('[grid]\nfile = "weather.nc"\n')
    weather.write_text("the weather of ten years")
    assert main.run(["seasons", str(sheet), "--out", str(weather)]) == 2
    assert "weather.nc" in capsys.readouterr().err
    assert weather.read_text() == "the weather of ten years"


def test_a_format_asked_for_goes_before_the_ending(made, tmp_path, monkeypatch):
    sheet, out = tmp_path / "grid.toml", tmp_path / "counts.nc"
    sheet.write_text('[grid]\nfile = "weather.nc"\n')
    monkeypatch.setattr(GridSeasons, "unfinished", property(lambda self: False))
    monkeypatch.setattr(engine, "make_grid", lambda file, picked, asked: made)
    assert main.run(["seasons", str(sheet), "--out", str(out), "--format", "csv"]) == 0
    assert "dew_nights_percent" in out.read_text()
