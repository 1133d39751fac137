"""The ``[tuning]`` table: as text to paste, or written into the farm file, comments kept."""

from __future__ import annotations

import itertools
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hayweather.errors import HayweatherError, OutputError
from hayweather.farm.read import read_farm
from hayweather.farm.records import UnitSystem
from hayweather.learning.tune import Fit, Fitted
from hayweather.units import to_shown
from hayweather.whole_file import whole_file

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

DECIMALS = 3
BACKUP = ".bak"
QUANTITIES = {"dew_point_offset": "temperature_difference"}


def shown(name: str, value: float, units: UnitSystem) -> float:
    """A number of the ``[tuning]`` table in the farm's units, rounded.

    Parameters
    ----------
    name
        Key of the table.
    value
        Inside: a factor, or K.
    units
        Of the farm file.
    """
    quantity = QUANTITIES.get(name)
    number = value if quantity is None else float(to_shown(value, quantity, units))
    return round(number, DECIMALS) + 0.0


def tuning_values(fit: Fit, units: UnitSystem) -> dict[str, tuple[float, str]]:
    """Value and comment of every fitted number, by key of the ``[tuning]`` table."""
    return {item.knob.name: _line(item, units) for item in fit.told}


def _line(item: Fitted, units: UnitSystem) -> tuple[float, str]:
    """Value and comment of one number."""
    value, low, high = (
        shown(item.knob.name, number, units) for number in (item.value, item.low, item.high)
    )
    return value, f"{low:g} .. {high:g}"


def tuning_table(fit: Fit, units: UnitSystem) -> str:
    """The ``[tuning]`` table to paste; empty where readings told nothing.

    Parameters
    ----------
    fit
        What readings told.
    units
        Of the farm file.
    """
    lines = [
        f"{name} = {value:g}  # {bar}" for name, (value, bar) in tuning_values(fit, units).items()
    ]
    return "\n".join(["[tuning]", *lines]) + "\n" if lines else ""


def write_tuning(path: Path, fit: Fit, units: UnitSystem) -> Path:
    """Write the ``[tuning]`` table into a farm file; everything else in it stays as it is.

    Numbers that were not fitted are taken out of the table. The file as it was
    is kept beside it, named ``….bak``, and ``….bak2`` and so on where there are
    copies already: none of them is replaced. The new one takes its place whole,
    and only after it could be read as a farm file.

    Parameters
    ----------
    path
        The farm file.
    fit
        What was fitted.
    units
        Of bare numbers in the file.

    Returns
    -------
    Path
        The copy.

    Raises
    ------
    OutputError
        If it cannot be written; then nothing has changed.
    """
    target = path.resolve()
    try:
        before = target.read_bytes()
        with _beside(target, _with_table(before, tuning_values(fit, units))) as tuned:
            read_farm(tuned)
            backup = _copied(before, target)
            shutil.copystat(target, backup)
            shutil.copymode(target, tuned)
            os.replace(tuned, target)
    except (OSError, ValueError, HayweatherError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise OutputError("tune_not_written", str(path), reason=reason) from None
    return backup


def _copied(content: bytes, path: Path) -> Path:
    """A copy beside a file, under the first number that no copy has."""
    for number in itertools.count(1):
        copy = path.with_name(path.name + BACKUP + (str(number) if number > 1 else ""))
        if os.path.lexists(copy):
            continue
        with suppress(FileExistsError), whole_file(copy, never_over=True) as file:
            file.write(content)
            return copy
    raise AssertionError("numbers do not end")


def _with_table(content: bytes, values: Mapping[str, tuple[float, str]]) -> bytes:
    """A farm file with these numbers in its ``[tuning]`` table."""
    import tomlkit

    mark = "\ufeff" if content.startswith(b"\xef\xbb\xbf") else ""
    document = tomlkit.parse(content.decode("utf-8-sig"))
    table = _table_of(document)
    for name in [key for key in table if key not in values]:
        table.remove(name)
    for name, (value, bar) in values.items():
        table[name] = value
        if not isinstance(table, tomlkit.items.InlineTable):  # one line has no room for them
            table[name].comment(bar)
    return (mark + tomlkit.dumps(document)).encode("utf-8")


def _table_of(document: TOMLDocument) -> Any:
    """The ``[tuning]`` table, new at the end where there is none."""
    import tomlkit

    if "tuning" not in document:
        if not tomlkit.dumps(document).endswith("\n\n"):
            document.add(tomlkit.nl())
        document.add("tuning", tomlkit.table())
    return document["tuning"]


@contextmanager
def _beside(path: Path, content: bytes) -> Iterator[Path]:
    """A file with this content beside another, ending like it; gone afterwards if not moved."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}.", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        yield Path(name)
    finally:
        Path(name).unlink(missing_ok=True)
