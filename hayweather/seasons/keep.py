"""Finished blocks on disk, so that a long run that was stopped goes on where it was."""

from __future__ import annotations

import hashlib
import pickle
import zipfile
from dataclasses import fields
from pathlib import Path
from typing import TypeVar

import numpy as np

from hayweather import __version__
from hayweather.seasons.record.grid import CellTallies
from hayweather.seasons.record.nights import Nights
from hayweather.whole_file import whole_file

Kept = TypeVar("Kept", Nights, CellTallies)


def fingerprint(block: object) -> str:
    """A name for what goes into a block: the same hours and settings, the same name."""
    content = pickle.dumps((__version__, block), protocol=5)
    return hashlib.sha256(content).hexdigest()[:32]


def read_kept(path: Path, kind: type[Kept]) -> Kept | None:
    """The block kept at `path`; None where there is none, or the file is damaged."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            return kind(**{item.name: stored[item.name] for item in fields(kind)})
    except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
        return None


def write_kept(block: Nights | CellTallies, path: Path) -> None:
    """Keep a finished block, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as file:
        np.savez(file, **{item.name: getattr(block, item.name) for item in fields(block)})
