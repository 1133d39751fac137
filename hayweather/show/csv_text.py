"""Rows as CSV, written the same way by every command: notes, names of columns, rows."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

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
