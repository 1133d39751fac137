"""A grid parted into blocks: none too large, every cell in one, along the chunks of the file."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.grids import PLACE, choice, grid_weather, written

from hayweather.seasons.grid.axes import open_grid
from hayweather.seasons.grid.columns import layout_of
from hayweather.seasons.grid.sharing import tile_shape, tiles_of


@given(
    st.lists(st.integers(1, 60), max_size=2),
    st.lists(st.one_of(st.none(), st.integers(1, 70)), min_size=2, max_size=2),
    st.integers(1, 200),
)
@settings(max_examples=60)
def test_blocks_hold_no_more_than_asked(shape, chunks, cells):
    size = tile_shape(shape, chunks[: len(shape)], cells)
    assert all(1 <= side <= whole for side, whole in zip(size, shape, strict=True))
    assert np.prod(size, dtype=int) <= cells


@pytest.mark.parametrize("cells", [1, 2, 4, 5, 100])
def test_blocks_cover_every_cell_once(cells, tmp_path):
    weather = grid_weather(3, 5, days=2)
    path = written(weather, tmp_path / "a.zarr", (48, 2, 3))
    with open_grid(path) as dataset:
        layout = layout_of(dataset, choice(path))
        tiles = tiles_of(dataset, layout, cells)
        places = np.concatenate([tile.cells(layout.space.shape) for tile in tiles])
        assert sorted(places.tolist()) == list(range(15))
        for tile in tiles[:3]:
            part = layout_of(tile.of(dataset), choice(path)).space
            where = tile.cells(layout.space.shape)
            assert part.latitude.tolist() == layout.space.latitude[where].tolist()
            assert part.longitude.tolist() == layout.space.longitude[where].tolist()


def test_one_point_is_one_block():
    point = grid_weather(2, 3, days=2).isel(latitude=1, longitude=2)
    layout = layout_of(point, choice(PLACE))
    tiles = tiles_of(point, layout)
    assert [tile.cells(layout.space.shape).tolist() for tile in tiles] == [[0]]
    assert tiles[0].of(point).equals(point)
