"""Finished blocks on disk, so that a long run that was stopped goes on where it was."""

from __future__ import annotations

import hashlib
import pickle
import zipfile
from dataclasses import fields
from pathlib import Path

import numpy as np

from hayweather import __version__
from hayweather.seasons.record.nights import Nights
from hayweather.whole_file import whole_file


def fingerprint(block: object) -> str:
    """A name for what goes into a block: the same hours and settings, the same name."""
    content = pickle.dumps((__version__, block), protocol=5)
    return hashlib.sha256(content).hexdigest()[:32]


def read_kept(path: Path) -> Nights | None:
    """The nights kept at `path`; None where there are none, or the file is damaged."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            return Nights(**{item.name: stored[item.name] for item in fields(Nights)})
    except (OSError, KeyError, ValueError, zipfile.BadZipFile):
        return None


def write_kept(nights: Nights, path: Path) -> None:
    """Keep the nights of a finished block, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as file:
        np.savez(file, **{item.name: getattr(nights, item.name) for item in fields(Nights)})
