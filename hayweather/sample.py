"""The sample farm: where it lies in an installed package or a working tree, and a copy of it."""

from __future__ import annotations

import sysconfig
from pathlib import Path

from hayweather.errors import OutputError
from hayweather.whole_file import whole_file

FOLDERS = ("", "seasons")
FIRST = {"en": "sagebeck.toml", "es": "vallumbria.toml"}
"""The farm that a reader of each language starts with."""


def sample_folder() -> Path:
    """Where the sample lies: beside the package in a working tree, else where it was installed.

    Raises
    ------
    OutputError
        If neither has it: the installation is broken.
    """
    package = Path(__file__).parent
    installed = (
        Path(sysconfig.get_path("data", scheme)) / "share" / "hayweather"
        for scheme in (sysconfig.get_default_scheme(), sysconfig.get_preferred_scheme("user"))
    )
    for place in (package.parent, *installed):
        if (place / "sample_forecasts" / FIRST["en"]).is_file():
            return place / "sample_forecasts"
    raise OutputError("sample_lost", str(package))


def write_sample(folder: Path) -> dict[str, Path]:
    """Write the sample farm into `folder`, which is made when it is missing.

    Returns
    -------
    dict
        The farm file to start with, by language.

    Raises
    ------
    OutputError
        If one of its files is there already, or the place cannot be written; nothing is
        written over.
    """
    source = sample_folder()
    names = [
        item.relative_to(source)
        for part in FOLDERS
        for item in sorted((source / part).iterdir())
        if item.is_file() and not item.name.startswith(".")
    ]
    for name in names:
        if (folder / name).exists():
            raise OutputError("sample_exists", str(folder / name))
    for name in names:
        place = folder / name
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            with whole_file(place, for_others=True, never_over=True) as file:
                file.write((source / name).read_bytes())
        except FileExistsError:
            key = "sample_exists" if place.exists() else "farm_starter_folder"
            raise OutputError(key, str(place)) from None
        except OSError as problem:
            raise OutputError("farm_starter_place", str(place), value=problem.strerror) from None
    return {language: folder / name for language, name in FIRST.items()}
