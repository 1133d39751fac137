"""Outlooks kept in a folder as `outlook --keep` keeps them."""

from pathlib import Path

from hayweather.cli.write import Destinations
from hayweather.learning.keep import Json, files_to_keep


def keep_outlook(form: Json, folder: Path) -> list[Path]:
    """The files written."""
    files = [(str(folder / name), text) for name, text in files_to_keep(form)]
    Destinations(kind="outlook", keep=folder).write([], files)
    return [Path(place) for place, _ in files]
