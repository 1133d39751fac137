"""Finished blocks on disk, so that a long run that was stopped goes on where it was."""

from __future__ import annotations

import zipfile
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from hayweather.seasons.grid.cells import GridJob
from hayweather.seasons.grid.opening import stamp_of
from hayweather.seasons.grid.tiles import Tile
from hayweather.seasons.keep import fingerprint
from hayweather.seasons.record.grid import CellTallies
from hayweather.whole_file import whole_file


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
        try:
            with np.load(self.path(tile), allow_pickle=False) as stored:
                return CellTallies(**{item.name: stored[item.name] for item in fields(CellTallies)})
        except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
            return None

    def write(self, tile: Tile, tallies: CellTallies) -> None:
        """Keep a finished block, whole or not at all."""
        self.folder.mkdir(parents=True, exist_ok=True)
        values = {item.name: getattr(tallies, item.name) for item in fields(CellTallies)}
        with whole_file(self.path(tile)) as file:
            np.savez(file, **values)
