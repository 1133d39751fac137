"""Finished blocks of a grid on disk, known again by the job and the state of its file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hayweather.seasons.grid.cells import GridJob
from hayweather.seasons.grid.opening import stamp_of
from hayweather.seasons.grid.tiles import Tile
from hayweather.seasons.keep import fingerprint, read_kept, write_kept
from hayweather.seasons.record.grid import CellTallies


@dataclass(frozen=True)
class TallyStore:
    """A folder of finished blocks; `name` tells one job on one state of a file from another."""

    folder: Path
    name: str

    @classmethod
    def of(cls, folder: Path, job: GridJob) -> TallyStore:
        """The store of a job in a folder."""
        return cls(folder, fingerprint((job, stamp_of(job.choice.file))))

    def path(self, tile: Tile) -> Path:
        """Where a block is kept."""
        return self.folder / f"grid-{fingerprint((self.name, tile))}.npz"

    def read(self, tile: Tile) -> CellTallies | None:
        """A finished block; None where there is none, or its file is damaged."""
        return read_kept(self.path(tile), CellTallies)

    def write(self, tile: Tile, tallies: CellTallies) -> None:
        """Keep a finished block, whole or not at all."""
        write_kept(tallies, self.path(tile))
