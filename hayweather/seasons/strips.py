"""TRIAL.csv: strips with and without added moisture, read with one line for each slip."""

from __future__ import annotations

import csv
import math
import statistics
from pathlib import Path

from hayweather.errors import InputError
from hayweather.seasons.record.trial import Strip, StripFile
from hayweather.units import ACRE_M2, HECTARE_M2, POUND_KG, SHORT_TON_KG
from hayweather.words import Remark

LARGEST_BYTES = 2_000_000
REQUIRED = ("strip", "treatment", "bales")
EITHER = {"area": {"area_acre": ACRE_M2, "area_ha": HECTARE_M2},
          "bale_weight": {"bale_weight_lb": POUND_KG, "bale_weight_kg": 1.0}}  # fmt: skip
OPTIONAL = ("block", "bale_moisture_wb", "crude_protein", "adf", "ndf")
COLUMNS = (*REQUIRED, *EITHER["area"], *EITHER["bale_weight"], *OPTIONAL)
# Bounds of the believable, assumed, to catch slips and wrong units.
BOUNDS = {
    "area_acre": (0.005, 500.0),
    "area_ha": (0.002, 200.0),
    "bales": (0.1, 5000.0),
    "bale_weight_lb": (20.0, 3000.0),
    "bale_weight_kg": (9.0, 1400.0),
    "bale_moisture_wb": (2.0, 40.0),
    "crude_protein": (2.0, 40.0),
    "adf": (10.0, 60.0),
    "ndf": (15.0, 80.0),
}

Row = dict[str, str]


def read_strips(path: Path) -> StripFile:
    """Read the strips of a trial.

    Lines that begin with ``#`` are notes; one that begins with ``# invented``
    says that the strips are made up.

    Parameters
    ----------
    path
        A CSV file with a row a strip.

    Raises
    ------
    InputError
        If the file or a value in it is wrong: one line with its place.
    """
    lines = list(enumerate(_text(path).splitlines(), start=1))
    notes = [line for _, line in lines if line.startswith("#")]
    rows = [(number, line) for number, line in lines if line.strip() and line[0] != "#"]
    if len(rows) < 2:
        raise InputError("trial_empty", path.name)
    first = rows[0][1]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    header = [name.strip().lower() for name in _cells(first, delimiter)]
    _check_header(header, path.name)
    strips = [
        _strip(
            _row(header, _cells(line, delimiter), where := _line(path.name, number)),
            where,
            decimal_comma=delimiter == ";",
        )
        for number, line in rows[1:]
    ]
    _check_strips(strips, path.name)
    _check_yields(strips, header, path.name)
    return StripFile(tuple(strips), any(_says_invented(note) for note in notes))


def _says_invented(note: str) -> bool:
    """Whether a note marks the file as made up."""
    return note.lstrip("# ").lower().startswith("invented")


def _cells(line: str, delimiter: str) -> list[str]:
    """The cells of one line."""
    return next(csv.reader([line], delimiter=delimiter))


def _line(file: str, number: int) -> Remark:
    """A line of the file, as a message names it."""
    return Remark("where_line", {"file": file, "line": number})


def _row(header: list[str], cells: list[str], where: Remark) -> Row:
    """Cells by the names of their columns; cells that are not there are blank."""
    if len(cells) > len(header):
        raise InputError("trial_cells", where, count=len(cells), expected=len(header))
    named = {name: cell.strip() for name, cell in zip(header, cells, strict=False)}
    return {name: named.get(name, "") for name in header}


def _text(path: Path) -> str:
    """The file as text."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise InputError("trial_too_large", str(path))
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError("trial_missing", str(path)) from None
    except UnicodeDecodeError:
        raise InputError("trial_not_text", str(path)) from None
    except OSError as problem:
        raise InputError("trial_unreadable", str(path), reason=problem.strerror) from None


def _check_header(header: list[str], file: str) -> None:
    """All columns known and none missing or twice."""
    for name in header:
        if name not in COLUMNS:
            raise InputError("trial_column", file, value=name, known=", ".join(COLUMNS))
    twice = next((name for name in header if header.count(name) > 1), None)
    if twice is not None:
        raise InputError("trial_column_twice", file, value=twice)
    for name in REQUIRED:
        if name not in header:
            raise InputError("trial_column_missing", file, value=name)
    for names in EITHER.values():
        if sum(name in header for name in names) != 1:
            raise InputError("trial_column_either", file, names=" / ".join(names))


def _strip(row: Row, where: Remark, *, decimal_comma: bool) -> Strip:
    """One row as a strip."""
    treatment = row["treatment"].lower()
    if treatment not in ("water", "none"):
        raise InputError("trial_treatment", where, value=row["treatment"])
    numbers = {
        name: _number(row, name, where, decimal_comma=decimal_comma)
        for name in BOUNDS
        if name in row
    }
    sized = {quantity: _needed(numbers, names, where) for quantity, names in EITHER.items()}
    return Strip(
        block=row.get("block", ""),
        name=row["strip"],
        treatment=treatment,  # type: ignore[arg-type]
        area_m2=sized["area"],
        bales=_needed(numbers, {"bales": 1.0}, where),
        bale_kg=sized["bale_weight"],
        **{name: numbers.get(name) for name in OPTIONAL if name != "block"},
    )


def _needed(numbers: dict[str, float | None], names: dict[str, float], where: Remark) -> float:
    """A number that every strip must have, in SI units."""
    for name, factor in names.items():
        value = numbers.get(name)
        if value is not None:
            return value * factor
    raise InputError("trial_blank", where, value=" / ".join(names))


def _number(row: Row, name: str, where: Remark, *, decimal_comma: bool) -> float | None:
    """A cell as a number within its bounds; None where blank."""
    text = row[name]
    if not text:
        return None
    try:
        value = float(text.replace(",", ".") if decimal_comma else text)
    except ValueError:
        raise InputError("trial_number", where, column=name, value=text) from None
    low, high = BOUNDS[name]
    if not (math.isfinite(value) and low <= value <= high):
        raise InputError(
            "trial_bounds", where, column=name, value=text, low=f"{low:g}", high=f"{high:g}"
        )
    return value


YIELDS_KG_M2 = (0.02, 1.5)
"""Hay of one cutting that may be believed, assumed: 0.1 to 7 tons an acre, wet or dry."""
UNLIKE = 3.0
"""Times the middle strip of a file beyond which a strip is asked about (assumed)."""


def _check_yields(strips: list[Strip], header: list[str], file: str) -> None:
    """Every strip gives a yield that can be, and one like its neighbors'."""
    us = "area_acre" in header
    unit = "ton/acre" if us else "t/ha"
    factor = ACRE_M2 / SHORT_TON_KG if us else HECTARE_M2 / 1000
    middle = statistics.median(strip.weight_kg_m2 for strip in strips)
    for strip in strips:
        weight = strip.weight_kg_m2
        name = "/".join(filter(None, (strip.block, strip.name)))
        where = Remark("where_strip", {"file": file, "strip": name})
        low, high = YIELDS_KG_M2
        shown = {"value": f"{weight * factor:.3g} {unit}"}
        if not low <= weight <= high:
            raise InputError(
                "trial_yield", where, **shown,
                low=f"{low * factor:.2g}", high=f"{high * factor:.2g} {unit}",
            )  # fmt: skip
        if not middle / UNLIKE <= weight <= middle * UNLIKE:
            raise InputError("trial_unlike", where, **shown, middle=f"{middle * factor:.3g} {unit}")


def _check_strips(strips: list[Strip], file: str) -> None:
    """Every strip has its own name within its block, and both kinds are there."""
    seen: set[tuple[str, str]] = set()
    for strip in strips:
        key = (strip.block, strip.name)
        if key in seen:
            raise InputError("trial_strip_twice", file, value=strip.name)
        seen.add(key)
    for kind in ("water", "none"):
        if not any(strip.treatment == kind for strip in strips):
            raise InputError("trial_one_kind", file, value=kind)
