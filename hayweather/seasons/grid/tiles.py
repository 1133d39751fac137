"""A grid parted into blocks of neighboring cells, along the chunks of its file where it has any."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from hayweather.seasons.grid.hours import GridLayout
from hayweather.seasons.record.grid import Counts

if TYPE_CHECKING:
    import xarray as xr

TILE_CELLS = 20  # finished and kept together; small enough to lose little


@dataclass(frozen=True)
class Tile:
    """A block of neighboring cells.

    Attributes
    ----------
    dims
        Dimensions of the grid besides time.
    spans
        First and one-past-last cell along each.
    """

    dims: tuple[str, ...]
    spans: tuple[tuple[int, int], ...]

    def of(self, dataset: xr.Dataset) -> xr.Dataset:
        """This block of a dataset, not read yet."""
        return dataset.isel(
            {dim: slice(*span) for dim, span in zip(self.dims, self.spans, strict=True)}
        )

    def cells(self, shape: Sequence[int]) -> Counts:
        """Places of its cells in the flattened grid."""
        if not shape:
            return np.zeros(1, dtype=np.int64)
        ranges = [np.arange(*span) for span in self.spans]
        return np.ravel_multi_index(np.ix_(*ranges), tuple(shape)).ravel().astype(np.int64)


def tiles_of(dataset: xr.Dataset, layout: GridLayout, cells: int = TILE_CELLS) -> list[Tile]:
    """The blocks of a grid, each of at most `cells` cells.

    Parameters
    ----------
    dataset, layout
        The file and what it says.
    cells
        Cells of a block; a chunk of the file is not parted unless it holds more.
    """
    dims, shape = layout.space.dims, layout.space.shape
    air = dataset[layout.variables["air_temperature_c"].name]
    chunks = air.encoding.get("preferred_chunks") or {}
    size = tile_shape(shape, [chunks.get(dim) for dim in dims], cells)
    starts = [range(0, whole, step) for whole, step in zip(shape, size, strict=True)]
    return [
        Tile(
            dims,
            tuple(
                (first, min(first + step, whole))
                for first, step, whole in zip(corner, size, shape, strict=True)
            ),
        )
        for corner in product(*starts)
    ]


def tile_shape(shape: Sequence[int], chunks: Sequence[int | None], cells: int) -> tuple[int, ...]:
    """Cells of a block along each dimension.

    A chunk, halved along its longest side until it holds no more than `cells`;
    where the file has no chunks, part of a row.

    Examples
    --------
    >>> tile_shape((40, 25), (10, 25), 50), tile_shape((40, 25), (None, None), 20)
    ((5, 7), (1, 20))
    """
    if any(chunk is None for chunk in chunks):
        return tuple(1 if place < len(shape) - 1 else min(cells, whole)
                     for place, whole in enumerate(shape))  # fmt: skip
    size = [min(int(chunk or 1), whole) for chunk, whole in zip(chunks, shape, strict=True)]
    while size and np.prod(size) > cells:
        longest = int(np.argmax(size))
        size[longest] = -(-size[longest] // 2)
        if max(size) == 1:
            break
    return tuple(size)
