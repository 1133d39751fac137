"""Plain dictionaries and lists as JSON, written the same way by every command."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from hayweather.units import to_shown

Json = dict[str, Any]
DECIMALS = 4


def json_text(form: Any) -> str:
    """JSON in which letters stay as they are.

    Parameters
    ----------
    form
        Dictionaries, lists, texts, numbers, None.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: what is missing is null.

    Examples
    --------
    >>> json_text({"rocío": None})
    '{\\n "rocío": null\\n}\\n'
    """
    return json.dumps(form, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def number(value: float | None) -> float | None:
    """A number for data: rounded, null where it is not known.

    Examples
    --------
    >>> number(float("nan")) is None, number(12.345678)
    (True, 12.3457)
    """
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), DECIMALS)


def twins(metric: str, us: str, value: float | None, quantity: str) -> Json:
    """A number under its SI key and its US key, each in the unit that is shown there.

    Examples
    --------
    >>> twins("rain_mm", "rain_in", 25.4, "rain")
    {'rain_mm': 25.4, 'rain_in': 1.0}
    """
    if value is None:
        return {metric: None, us: None}
    return {
        metric: number(to_shown(value, quantity, "metric")),
        us: number(to_shown(value, quantity, "us")),
    }


SEPARATOR = "; "
"""Between the texts of one cell."""


def csv_text(
    columns: Iterable[str], rows: Iterable[Sequence[object]], notes: Iterable[str] = ()
) -> str:
    """Rows as CSV; what is not known is blank.

    Parameters
    ----------
    columns
        Names of the columns.
    rows
        Cells of each row, in their order.
    notes
        Lines that stand first, each behind a ``#``.

    Examples
    --------
    >>> csv_text(["hour", "call"], [[1, None]], ["made up"])
    '# made up\\nhour,call\\n1,\\n'
    """
    text = io.StringIO()
    text.write(_note_lines(notes))
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()


def records_csv(records: Sequence[Mapping[str, object]], notes: Iterable[str] = ()) -> str:
    """Records of equal keys as CSV, their keys above; notes alone where there is none.

    Parameters
    ----------
    records
        One a row.
    notes
        Lines before them, each begun with ``#``.

    Examples
    --------
    >>> records_csv([{"hour": 1, "call": None}])
    'hour,call\\n1,\\n'
    """
    if not records:
        return _note_lines(notes)
    columns = list(records[0])
    return csv_text(columns, ([record[name] for name in columns] for record in records), notes)


def _note_lines(notes: Iterable[str]) -> str:
    """Each note in one line behind its sign."""
    return "".join(f"# {' '.join(note.split())}\n" for note in notes)
