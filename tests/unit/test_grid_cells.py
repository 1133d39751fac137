"""Cells of a grid counted: as sites are, blanks counted and not averaged in, blocks kept."""

import csv
import io
import json
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread
from support.grids import choice, grid_weather, shared, written

from hayweather.cli import main
from hayweather.errors import FarmFileError
from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.grid import engine
from hayweather.seasons.grid.axes import open_grid
from hayweather.seasons.grid.columns import hours_of, layout_of
from hayweather.seasons.grid.engine import GridRequest, make_grid
from hayweather.seasons.record.grid import GridSeasons
from hayweather.seasons.sites import read_sites
from hayweather.show.chart import figure_bytes
from hayweather.show.grid import grid_csv, grid_json, grid_text
from hayweather.show.seasons_chart import STEPS_PERCENT, grid_map, step_colors
from hayweather.weather.files.own import write_weather_csv
from hayweather.weather.record import HourlyWeather, Source

JULY = GridRequest(months=(7,), cores=1)
SEA, GAP, HALF, WHOLE = 0, 1, 2, 4  # cells of the grid of two rows and three columns
SITE = """
[site.cell]
latitude = {latitude}
longitude = {longitude}
elevation = "{elevation} m"
timezone = "Etc/GMT+8"
weather = "cell.csv"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A grid with a cell of the sea, a gap of a night and a half, and half a month blank."""
    place = tmp_path_factory.mktemp("grid")
    weather = grid_weather(2, 3, first="2021-06-28", days=35)
    weather["t2m"][:, 0, 0] = np.nan
    weather["d2m"][24 * 10 : 24 * 11 + 12, 0, 1] = np.nan
    weather["si10"][24 * 14 :, 0, 2] = np.nan
    written(weather, place / "weather.nc")
    return place


@cache
def answer(folder: Path) -> GridSeasons:
    return make_grid(shared(folder), choice(folder / "weather.nc"), JULY)


@pytest.fixture
def made(folder: Path) -> GridSeasons:
    return answer(folder)


def test_blanks_are_counted_and_not_averaged_in(made):
    tallies = made.tallies
    assert tallies.nights[:, 0, 0].tolist() == [31] * 6
    missing = tallies.missing[:, 0, 0]
    assert missing[SEA] == 31
    # Blank from the evening of the 7th (UTC 8 July 0 h) to the 9th, 12 h: three nights touched.
    assert 2 <= missing[GAP] <= 3
    assert missing[HALF] > 15
    assert missing[3:].tolist() == [0, 0, 0]
    assert tallies.kept[:, 0].tolist() == [False, True, False, True, True, True]
    percent = tallies.dew_night_percent()
    assert np.isnan(percent[[SEA, HALF]]).all()
    assert np.isfinite(np.delete(percent, [SEA, HALF])).all()
    assert np.isnan(tallies.median_dew_h[[SEA, HALF]]).all()
    counted = tallies.counted + tallies.rain_nights + tallies.missing
    assert np.array_equal(counted, tallies.nights)


def test_drier_air_has_fewer_dew_nights(made):
    hours = made.tallies.mean("dew_h")[3:]
    assert hours[0] > hours[2]


def site_of(folder: Path, made: GridSeasons) -> Path:
    """One cell as a site with a weather file of its own."""
    with open_grid(folder / "weather.nc") as dataset:
        layout = layout_of(dataset, made.choice)
        begin = layout.clock.stamps[0]
        columns = hours_of(dataset, layout, begin, layout.clock.stamps.size)
        space = layout.space
    one = {name: values[:, WHOLE : WHOLE + 1] for name, values in columns.items()}
    weather = HourlyWeather(np.array([begin]), one, layout.wind_height_m, Source("cell"))
    with (folder / "cell.csv").open("w") as stream:
        write_weather_csv(weather, 0, stream)
    path = folder / "cell.toml"
    path.write_text(
        SITE.format(
            latitude=space.latitude[WHOLE],
            longitude=space.longitude[WHOLE],
            elevation=space.elevation_m[WHOLE],
        )
    )
    return path


def test_a_cell_counts_as_a_site_with_the_same_hours(folder, made):
    seasons = make_seasons(read_sites(site_of(folder, made)), Request(months=(7,), cores=1))
    site, tallies = seasons.sites[0].pooled, made.tallies
    count = {name: int(getattr(tallies, name)[WHOLE, 0, 0]) for name in ("counted", "with_dew")}
    assert count == {"counted": site.counted, "with_dew": site.with_dew}
    assert tallies.rain_nights[WHOLE, 0, 0] == site.rain_nights
    assert tallies.median_dew_h[WHOLE] == pytest.approx(site.dew_h.median, abs=1e-9)
    assert tallies.four_in_five_dew_h[WHOLE] == pytest.approx(site.dew_h.p20, abs=1e-9)
    nights = seasons.sites[0].nights
    for name in ("dew_h", "rig_h", "wet_h", "dry_h"):
        total = getattr(nights, name)[nights.counted].sum()
        assert getattr(tallies, name)[WHOLE, 0, 0] == pytest.approx(total, abs=1e-9)


def test_finished_blocks_are_found_again(folder, made, tmp_path, monkeypatch):
    file, picked = shared(folder), choice(folder / "weather.nc")
    asked = replace(JULY, keep=tmp_path / "kept", tile_cells=3)
    begun = []

    def interrupted(tiles, job, **how):
        for tile in tiles[:1]:
            begun.append(tile)
            yield tile, made.tallies.only(tile.cells(made.shape))
        raise KeyboardInterrupt

    monkeypatch.setattr(engine, "finished_tiles", interrupted)
    stopped = make_grid(file, picked, asked)
    assert stopped.unfinished
    assert stopped.cells.tolist() == [0, 1, 2]
    assert len(list(asked.keep.glob("*.npz"))) == 1
    assert "3 of 6 cells are not in it" in " ".join(grid_text(stopped, None).split())
    grid_map(stopped)

    def goes_on(tiles, job, **how):
        assert begun[0] not in tiles
        yield from ((tile, made.tallies.only(tile.cells(made.shape))) for tile in tiles)

    monkeypatch.setattr(engine, "finished_tiles", goes_on)
    whole = make_grid(file, picked, asked)
    assert not whole.unfinished
    for item in fields(whole.tallies):
        left, right = getattr(whole.tallies, item.name), getattr(made.tallies, item.name)
        assert np.array_equal(left, right, equal_nan=True)
    kept = sorted(asked.keep.glob("*.npz"))
    assert len(kept) == 2
    kept[0].write_bytes(b"cut short")
    begun[:] = [tile_of(kept[0], folder, asked)]
    with pytest.raises(AssertionError):  # the damaged block is asked for again, in `goes_on`
        make_grid(file, picked, asked)


def tile_of(path, folder, asked):
    """The block that a kept file holds."""
    from hayweather.seasons.grid.cells import GridJob
    from hayweather.seasons.grid.sharing import TallyStore, tiles_of

    picked = choice(folder / "weather.nc")
    job = GridJob(shared(folder), picked, asked.months, (2021,))
    with open_grid(picked.file) as dataset:
        tiles = tiles_of(dataset, layout_of(dataset, picked), asked.tile_cells)
    store = TallyStore.of(asked.keep, job)
    return next(tile for tile in tiles if store.path(tile) == path)


def test_a_changed_file_or_question_is_another_job(folder, tmp_path):
    from hayweather.seasons.grid.cells import GridJob
    from hayweather.seasons.grid.sharing import TallyStore

    path = tmp_path / "w.nc"
    path.write_bytes(b"one")
    job = GridJob(shared(folder), choice(path), (7,), (2021,))
    name = TallyStore.of(tmp_path, job).name
    assert TallyStore.of(tmp_path, job).name == name
    assert TallyStore.of(tmp_path, replace(job, months=(8,))).name != name
    path.write_bytes(b"another")
    assert TallyStore.of(tmp_path, job).name != name


@pytest.mark.parametrize("language", ["en", "es"])
def test_text_says_what_stands_behind_it(made, language):
    file = replace(made.file, language=language)
    text = grid_text(replace(made, file=file), None, 80)
    assert max(map(len, text.splitlines())) <= 80
    plain = " ".join(text.split())
    for part in {
        "en": ("INVENTED SAMPLE", "Cells: 6, of them 4", "of their nights missing", "2 of 6",
               "no gap filled", "Planning aid only", "No measured night"),
        "es": ("EJEMPLO INVENTADO", "Celdas: 6, de ellas 4", "se dejan fuera enteros", "2 de 6",
               "sin rellenar huecos"),
    }[language]:  # fmt: skip
        assert part in plain


def test_data_of_a_grid(made):
    form = json.loads(grid_json(made))
    assert form["schema"] == "hayweather/grid/1"
    assert form["invented"] is True
    assert len(form["cells"]) == 6
    sea, whole = form["cells"][SEA], form["cells"][WHOLE]
    assert sea["dew_nights_percent"] is None
    assert sea["years"]["2021"] == {
        "averaged_in": False, "nights": [31], "missing": [31], "rain_nights": [0],
        "counted": [0], "with_dew": [0],
    }  # fmt: skip
    expected = made.tallies.dew_night_percent()[WHOLE]
    assert whole["dew_nights_percent"] == pytest.approx(expected, abs=1e-3)
    assert form["cautions"]
    lines = grid_csv(made).splitlines()
    notes = [line for line in lines if line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines[len(notes) :]))))
    assert [float(row["latitude"]) for row in rows] == made.tallies.latitude.tolist()
    assert rows[SEA]["dew_nights_percent"] == ""
    assert rows[SEA]["missing"] == "31"
    assert rows[SEA]["counted_kept"] == "0"
    assert rows[SEA]["years_left_out"] == "1"
    assert any("Planning aid" in note for note in notes)


@pytest.mark.slow
def test_map_draws_every_cell(made):
    figure = grid_map(made)
    axes = {item.get_label(): item for item in figure.axes}
    mesh = axes["map"].collections[0]
    shown = np.ma.getmaskarray(mesh.get_array()).ravel()
    # Rows run south to north in the picture.
    assert shown.reshape(2, 3)[::-1].ravel().tolist() == [True, False, True, False, False, False]
    assert "INVENTED" in " ".join(text.get_text() for text in figure.texts)
    pixels = imread(io.BytesIO(figure_bytes(figure, ".png")))
    assert pixels.shape[1] > 800


def lightness(color: str) -> float:
    """CIE L* of an sRGB hex color, IEC 61966-2-1 and CIE 15."""
    encoded = np.array([int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return float(116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16)


def test_steps_of_the_map_darken_evenly():
    steps = [lightness(color) for color in step_colors()]
    assert len(steps) == len(STEPS_PERCENT) - 1
    assert (np.diff(steps) < -4).all()


def test_a_grid_through_the_command(folder, tmp_path, capsys, monkeypatch):
    sheet = folder / "grid.toml"
    sheet.write_text('[farm]\ninvented = true\n[grid]\nfile = "weather.nc"\nhour = "start"\n')
    monkeypatch.setattr(engine, "make_grid", lambda file, picked, asked: answer(folder))
    chart = tmp_path / "map.svg"
    command = ["seasons", str(sheet), "--months", "7", "--chart", str(chart)]
    assert main.run([*command, "--format", "csv"]) == 0
    assert "dew_nights_percent" in capsys.readouterr().out
    assert chart.read_text().startswith("<?xml")
    for wrong in (["--page", str(tmp_path / "a.html")], ["--inputs"]):
        assert main.run([*command, *wrong]) == 2
        assert "for sites, not for a grid" in capsys.readouterr().err


def test_sites_beside_a_grid_and_a_scheduler_for_sites_are_refused(folder, capsys):
    both = folder / "both.toml"
    both.write_text(
        '[grid]\nfile = "weather.nc"\n' + SITE.format(latitude=43, longitude=-120, elevation=1000)
    )
    with pytest.raises(FarmFileError, match="beside"):
        read_sites(both)
    site = folder / "cell_only.toml"
    site.write_text(SITE.format(latitude=43, longitude=-120, elevation=1000))
    assert main.run(["seasons", str(site), "--scheduler", "tcp://127.0.0.1:1"]) == 2
    assert "[grid]" in capsys.readouterr().err
    (folder / "clock.toml").write_text(
        '[grid]\nfile = "weather.nc"\nfile_timezone = "America/Denver"\n'
    )
    with pytest.raises(FarmFileError, match="fixed offset"):
        read_sites(folder / "clock.toml")


def test_a_scheduler_gives_what_one_process_gives(folder, made):
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
    ) as cluster:
        asked = replace(JULY, scheduler=cluster.scheduler_address, tile_cells=3)
        shared_out = make_grid(shared(folder), choice(folder / "weather.nc"), asked)
    for item in fields(made.tallies):
        left, right = getattr(shared_out.tallies, item.name), getattr(made.tallies, item.name)
        assert np.allclose(left, right, rtol=0, atol=1e-9, equal_nan=True), item.name
