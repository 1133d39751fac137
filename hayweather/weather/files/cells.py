"""Lines to a table of cells, and cells to numbers, by pandas."""

from __future__ import annotations

import csv
import io
import math
import re
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import compress
from typing import TYPE_CHECKING, Any, overload

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.files.text import BLOCK, FileText, Letters, Lines, Places, blocks_of
from hayweather.weather.record import Floats

if TYPE_CHECKING:
    import pandas as pd

    Texts = Sequence[str] | pd.Series[str]
    Column = Texts | Floats

DELIMITERS = (",", ";", "\t", "|")
_PLAIN_BLANKS = re.compile("[\\t\\n -~]*")
MANY_ROWS, SHORTEST_ROW = 100_000, 12
"""So many rows of so few letters on average hold no time and three values."""
BLANK = "blank"
"""Delimiter of files with columns set apart by blanks."""


@dataclass(frozen=True)
class CutTexts(Sequence[str]):
    """A column of a plain table, cut out of its text when asked for.

    Attributes
    ----------
    raw
        The table, ASCII.
    begins, ends
        Where the cells begin and end in it, (rows,).
    """

    raw: bytes
    begins: Places
    ends: Places

    def __len__(self) -> int:
        return self.begins.size

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> CutTexts: ...
    def __getitem__(self, index: int | slice) -> str | CutTexts:
        if isinstance(index, slice):
            return CutTexts(self.raw, self.begins[index], self.ends[index])
        return self.raw[self.begins[index] : self.ends[index]].decode("ascii")

    def __iter__(self) -> Iterator[str]:
        text = self.raw.decode("ascii")
        for begin, end in zip(self.begins.tolist(), self.ends.tolist(), strict=True):
            yield text[begin:end]


@dataclass(frozen=True)
class JoinedTexts(Sequence[str]):
    """Columns as one text a row, a blank between what each holds."""

    columns: tuple[Texts, ...]

    def __len__(self) -> int:
        return len(self.columns[0])

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> JoinedTexts: ...
    def __getitem__(self, index: int | slice) -> str | JoinedTexts:
        if isinstance(index, slice):
            return JoinedTexts(tuple(column[index] for column in self.columns))
        return " ".join(column[index].strip() for column in self.columns)

    def __iter__(self) -> Iterator[str]:
        for row in zip(*self.columns, strict=True):
            yield " ".join(part.strip() for part in row)


MOST_LETTERS = 64
"""Of a cell that is read letter by letter; no time and no number is longer."""
_ROWS = 1024


def letters_of(texts: Texts) -> Letters | None:
    """The letters of short ASCII texts, zeros behind shorter ones, (letters, rows).

    None where a text is longer than `MOST_LETTERS`, or is not ASCII.
    """
    if isinstance(texts, JoinedTexts):
        parts = [letters_of(column) for column in texts.columns]
        found = [part for part in parts if part is not None]
        blank = np.full((1, len(texts)), ord(" "), np.uint8)
        apart = [each for part in found for each in (blank, part)][1:]
        joined = len(found) == len(parts) and sum(len(each) for each in apart) <= MOST_LETTERS
        return np.vstack(apart) if joined else None
    if not isinstance(texts, CutTexts):
        lines = "\n".join(texts)
        if not lines.isascii() or "\x00" in lines or lines.count("\n") != len(texts) - 1:
            return None
        raw = lines.encode("ascii")
        stops = np.flatnonzero(np.frombuffer(raw, np.uint8) == ord("\n"))
        texts = CutTexts(raw, np.append(0, stops + 1), np.append(stops, len(raw)))
    lengths = texts.ends - texts.begins
    width = int(lengths.max(initial=0))
    if not 0 < width <= MOST_LETTERS:
        return None
    whole, begins = np.frombuffer(texts.raw, np.uint8), texts.begins
    windows, last = np.lib.stride_tricks.sliding_window_view(whole, width), whole.size - width
    letters = np.empty((width, len(texts)), np.uint8)
    for row in range(0, len(texts), _ROWS):
        rows = slice(row, row + _ROWS)
        letters[:, rows] = windows[np.minimum(begins[rows], last)].T
    for row in np.flatnonzero(begins > last).tolist():
        letters[: lengths[row], row] = whole[begins[row] : texts.ends[row]]
    for place in range(int(lengths.min()), width):
        letters[place][lengths <= place] = 0
    return letters


@dataclass(frozen=True)
class Cells:
    """Texts of the wanted columns of a file.

    Attributes
    ----------
    lines
        Line number of each row, (rows,).
    columns
        ``{index of the column: texts (rows,)}``.
    read
        ``{index of the column: numbers (rows,)}`` of those that hold nothing but
        numbers with a decimal point and what is missing, where that was asked.
    """

    lines: NDArray[np.int64]
    columns: dict[int, Texts]
    read: dict[int, Floats] = field(default_factory=dict)

    def __getitem__(self, index: int) -> Column:
        """A column as it was read."""
        return self.read[index] if index in self.read else self.columns[index]


def spoken(delimiter: str) -> str:
    """The delimiter as a report names it."""
    return "tab" if delimiter == "\t" else delimiter


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line, quotes taken away."""
    if delimiter == BLANK:
        return line.split()
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return line.split(delimiter)


def read_cells(
    file: FileText,
    first: int,
    delimiter: str,
    width: int,
    keep: Iterable[int],
    *,
    stop_at_blank: bool = False,
    numeric: Iterable[int] = (),
) -> Cells:
    """The wanted columns of all rows from line index `first` on.

    Blank lines and lines that begin with ``#`` are passed over.

    Parameters
    ----------
    width
        Number of columns that the header names.
    keep
        Indexes of the wanted columns.
    stop_at_blank
        True when a blank line ends the table.
    numeric
        Indexes of columns that may come as numbers.

    Raises
    ------
    WeatherFileError
        If a row has too few or too many cells, or there is no row.
    """
    wanted = sorted(set(keep))
    lines = Lines.of(file.lines)
    raw = lines.raw[lines.place(first) :]
    if stop_at_blank and b"\n\n" in raw:
        raw = raw[: raw.index(b"\n\n") + 1]
    plain = _plain_cells(raw, first, delimiter, width, wanted, sorted(set(numeric)))
    if plain is not None:
        return plain
    numbers_of, rows = _rows(file.lines, first, stop_at_blank=stop_at_blank)
    if not rows:
        raise file.error("weather_no_rows")
    text = "\n".join(rows)
    if _too_short(len(rows), len(text)):
        raise file.error("weather_rows_short", rows=len(rows))
    if '"' in text or (delimiter == BLANK and not _PLAIN_BLANKS.fullmatch(text)):
        columns = _columns_by_line(file, numbers_of, rows, delimiter, width, wanted)
    else:
        rows, longest = _whole_rows(file, numbers_of, rows, delimiter, width, wanted)
        columns = _columns_by_pandas("\n".join(rows), delimiter, longest, wanted)
    return Cells(numbers_of, columns)


def _too_short(rows: int, letters: int) -> bool:
    """Whether so many rows hold so little that there is no weather in them."""
    return rows > MANY_ROWS and letters < SHORTEST_ROW * rows


_Cut = tuple[Callable[[int], Places], Places]
"""Where the cells of a column begin, (rows,), and where all end, (rows, cells)."""


def _plain_cells(
    raw: bytes,
    first: int,
    delimiter: str,
    width: int,
    wanted: list[int],
    numeric: list[int],
) -> Cells | None:
    """The cells of a table in which nothing is odd, its numbers by pandas; None when not.

    Odd are blank lines, notes, letters beyond ASCII, rows of different lengths, and quotes
    that do more than stand around a cell.

    Parameters
    ----------
    raw
        The lines of the table, from the line of index `first` on.
    """
    if not raw.endswith(b"\n") or raw.endswith(b"\n\n"):
        raw = raw.rstrip(b"\n") + b"\n"
    if raw == b"\n" or b"\x00" in raw or not raw.isascii():
        return None
    if b'"' in raw:
        if delimiter == BLANK or not _neatly_quoted(np.frombuffer(raw, np.uint8), ord(delimiter)):
            return None
        raw = raw.translate(None, b'"')
    found = _blank_cells(raw) if delimiter == BLANK else _cut_cells(raw, ord(delimiter))
    if found is None:
        return None
    begins, ends = found
    rows, cells = ends.shape
    if not max(wanted, default=-1) < cells <= width or _too_short(rows, len(raw)):
        return None
    columns: dict[int, Texts] = {i: CutTexts(raw, begins(i), ends[:, i]) for i in wanted}
    read = _numbers_by_pandas(raw, delimiter, cells, numeric)
    return Cells(np.arange(first + 1, first + 1 + rows), columns, read)


def _neatly_quoted(letters: Letters, delimiter: int) -> bool:
    """Whether all quotes stand around whole cells, with nothing in them that would need it."""
    quotes = np.flatnonzero(letters == ord('"'))
    if quotes.size % 2:
        return False
    opens, closes = quotes[::2], quotes[1::2]
    stop = (letters == ord("\n")) | (letters == delimiter)
    count = np.cumsum(stop, dtype=np.int32)
    before = (stop[opens - 1] | (opens == 0)).all()
    return bool(before and stop[closes + 1].all() and (count[opens] == count[closes]).all())


def _cut_cells(raw: bytes, delimiter: int) -> _Cut | None:
    """Where cells begin and end where all rows have as many; None where not."""
    rows, found = 0, []
    for number, block in enumerate(blocks_of(raw)):
        here = block == ord("\n")
        rows += int(np.count_nonzero(here))
        here |= block == delimiter
        found.append((np.flatnonzero(here) + number * BLOCK).astype(np.int32))
    stops, letters = np.concatenate(found), np.frombuffer(raw, np.uint8)
    cells, left = divmod(stops.size, rows)
    if left or (letters[stops[cells - 1 :: cells]] != ord("\n")).any():
        return None
    ends = stops.reshape(rows, cells)
    first = np.append(0, ends[:-1, -1] + 1)
    marks = letters[first]  # of a blank line its own end
    odd = ((marks <= ord(" ")) | (marks == ord("#"))).any()
    return None if odd else (lambda index: ends[:, index - 1] + 1 if index else first, ends)


def _blank_cells(raw: bytes) -> _Cut | None:
    """As `_cut_cells`, of cells set apart by any number of blanks."""
    letters = np.frombuffer(raw, np.uint8)
    edges = np.flatnonzero(np.diff(letters > ord(" "), prepend=False))
    line_ends = np.flatnonzero(letters == ord("\n"))
    rows = line_ends.size
    cells, left = divmod(edges.size // 2, rows)
    if left or not cells:
        return None
    begins, ends = edges.reshape(rows, cells, 2).transpose(2, 0, 1)
    inside = (ends[:, -1] <= line_ends).all() and (begins[1:, 0] > line_ends[:-1]).all()
    odd = (letters[np.append(0, line_ends[:-1] + 1)] == ord("#")).any()
    other = (letters < ord(" ")) & (letters != ord("\n")) & (letters != ord("\t"))
    return None if odd or not inside or other.any() else (lambda index: begins[:, index], ends)


def _numbers_by_pandas(
    raw: bytes, delimiter: str, cells: int, wanted: list[int]
) -> dict[int, Floats]:
    """Those columns of a plain table that hold nothing but numbers and what is missing."""
    import pandas as pd

    if not wanted:
        return {}
    with warnings.catch_warnings():
        # Numbers in one part of a column and words in another: no column of numbers.
        warnings.simplefilter("ignore", pd.errors.DtypeWarning)
        table = _unquoted(
            io.BytesIO(raw),
            delimiter,
            cells,
            wanted,
            keep_default_na=False,
            na_values=_MISSING_SPELT,
            low_memory=True,  # in parts: half the time of the whole at once
            # Exact by itself from pandas 3 on, where the option is no longer wanted.
            float_precision="round_trip" if pd.__version__ < "3" else None,
        )
    read: dict[int, Floats] = {}
    for index in wanted:
        if table[index].dtype.kind in "iuf":
            values = table[index].to_numpy(np.float64)
            if not (np.abs(values) >= _BEYOND_ALL).any():
                read[index] = values
    return read


def _unquoted(
    source: io.BytesIO | io.StringIO, delimiter: str, cells: int, wanted: list[int], **how: Any
) -> pd.DataFrame:
    """Some columns of rows of so many cells, by number; no quotes, no head, no row left out."""
    import pandas as pd

    return pd.read_csv(
        source,
        sep=r"\s+" if delimiter == BLANK else delimiter,
        header=None,
        names=list(range(cells)),
        index_col=False,
        usecols=wanted,
        quoting=csv.QUOTE_NONE,
        skip_blank_lines=False,
        **how,
    )


def _rows(
    lines: Sequence[str], first: int, *, stop_at_blank: bool
) -> tuple[NDArray[np.int64], list[str]]:
    """Line numbers and texts of the rows of a table."""
    below = list(lines[first:])
    if stop_at_blank:
        begin = next((i for i, line in enumerate(below) if line.strip()), len(below))
        end = next((i for i in range(begin, len(below)) if not below[i].strip()), len(below))
        below = below[:end]
    told = (bool(line) and line[0] != "#" and not line.isspace() for line in below)
    kept = np.fromiter(told, bool, len(below))
    rows = below if kept.all() else list(compress(below, kept))
    return np.flatnonzero(kept) + (first + 1), rows


def _whole_rows(
    file: FileText,
    lines: NDArray[np.int64],
    rows: list[str],
    delimiter: str,
    width: int,
    wanted: list[int],
) -> tuple[list[str], int]:
    """The rows, none cut short, no blank cells beyond the last column; cells of the longest."""
    if delimiter == BLANK:
        counts = np.array([len(row.split()) for row in rows])
    else:
        counts = np.fromiter((row.count(delimiter) for row in rows), np.int64, len(rows)) + 1
    odd = np.flatnonzero((counts > width) | (counts <= max(wanted, default=-1)))
    longest = min(int(counts.max()), width)
    if not odd.size:
        return rows, longest
    rows = list(rows)
    for index in odd:
        cells = split(rows[index], delimiter)
        _check_width(file, int(lines[index]), cells, width, wanted)
        rows[index] = (" " if delimiter == BLANK else delimiter).join(cells[:width])
    return rows, longest


def _columns_by_pandas(
    text: str, delimiter: str, width: int, wanted: list[int]
) -> dict[int, Texts]:
    """Columns of a text without quotes."""
    how = {"dtype": object, "na_filter": False, "low_memory": False}
    table = _unquoted(io.StringIO(text), delimiter, width, wanted, **how)
    return {index: table[index] for index in wanted}


def _columns_by_line(
    file: FileText,
    lines: NDArray[np.int64],
    rows: list[str],
    delimiter: str,
    width: int,
    wanted: list[int],
) -> dict[int, Texts]:
    """Columns of rows with quotes: a quote that is never closed must not swallow the next row."""
    import pandas as pd

    table: list[list[str]] = []
    for line, row in zip(lines.tolist(), rows, strict=True):
        cells = split(row, delimiter)
        _check_width(file, line, cells, width, wanted)
        table.append(cells)
    return {i: pd.Series([cells[i] for cells in table], dtype=object) for i in wanted}


def _check_width(
    file: FileText, line: int, cells: Sequence[str], width: int, wanted: Sequence[int]
) -> None:
    """Refuse a row that is cut short, or has cells that no column names."""
    short = bool(wanted) and len(cells) <= max(wanted)
    long = len(cells) > width and any(cell.strip() for cell in cells[width:])
    if short or long:
        raise file.error("weather_row_width", line, found=len(cells), wanted=width)


MISSING_WORDS = frozenset(
    {"", "na", "nan", "n/a", "null", "none", "m", "missing", "-", "--", "---"}
)
"""What stands for "missing" by common convention, in lower case."""
_MISSING_SPELT = sorted(
    {word for text in MISSING_WORDS for word in (text, text.upper(), text.title())} | {"NaN"}
)

_BEYOND_ALL = 1e100
"""No quantity in any unit is so large; up to here no change of unit overflows."""

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_COMMA_NUMBER = re.compile(r"[-+]?\d*,\d+", re.ASCII)


def numbers(
    file: FileText,
    lines: Sequence[int] | NDArray[np.int64],
    cells: Column,
    name: str,
    *,
    decimal: str = ".",
    missing_words: Iterable[str] = MISSING_WORDS,
    missing_values: Sequence[float] = (),
    collected: bool = False,
) -> Floats:
    """The numbers of one column; NaN where the layout says that one is missing.

    Parameters
    ----------
    lines, cells
        Line number and text of each row.
    name
        Name of the column, for messages.
    missing_words, missing_values
        Texts (lower case) and numbers that stand for "missing".
    collected
        True to put wrong cells with the faults of the file, all of them, and go on.

    Raises
    ------
    WeatherFileError
        If a cell is neither a number nor missing.
    """
    if isinstance(cells, np.ndarray):
        values = cells.copy()
    else:
        codes, texts = different(cells)
        values = _numbers_of(texts, decimal, frozenset(missing_words))[codes]
        wrong = np.flatnonzero(np.isinf(values))
        for row in wrong.tolist():
            text = texts[codes[row]].strip()[:40]
            fault = file.error("weather_not_a_number", int(lines[row]), column=name, value=text)
            if not collected:
                raise fault
            file.faults.append(fault)
        values[wrong] = np.nan
    for code in missing_values:
        values[values == code] = np.nan
    return values


def different(cells: Texts) -> tuple[NDArray[np.intp], list[str]]:
    """The different texts of a column as they come, and which of them each row has, (rows,)."""
    import pandas as pd

    if isinstance(cells, CutTexts):
        letters = letters_of(cells)
        if letters is not None and len(letters) <= _WORD:
            words = np.zeros((len(cells), _WORD), np.uint8)
            words[:, : len(letters)] = letters.T
            codes, kinds = pd.factorize(words.view(np.uint64)[:, 0])
            shown = kinds.tobytes().decode("ascii")
            cut = (shown[at : at + _WORD] for at in range(0, len(shown), _WORD))
            return codes, [text.rstrip("\x00") for text in cut]
        cells = list(cells)
    codes, texts = pd.factorize(np.asarray(cells, dtype=object))
    return codes, list(texts)


_WORD = 8
_DIGITS = re.compile(r"[-+0-9.eE\n]*", re.ASCII)


def _numbers_of(texts: list[str], decimal: str, words: frozenset[str]) -> Floats:
    """`_number` of many texts, at once where they hold nothing but digits."""
    if decimal == "." and texts and _DIGITS.fullmatch("\n".join(texts)) and "" not in texts:
        with suppress(ValueError):
            values = np.array(texts, dtype=np.str_).astype(np.float64)
            if (np.abs(values) < _BEYOND_ALL).all():
                return values
    return np.array([_number(text, decimal, words) for text in texts], dtype=np.float64)


def _number(cell: str, decimal: str, words: frozenset[str]) -> float:
    """The number of a cell; NaN when missing, infinity when it is no number."""
    text = cell.strip()
    if text.casefold() in words:
        return math.nan
    if decimal == ",":
        text = text.replace(".", "?").replace(",", ".")
    number = float(text) if _NUMBER.fullmatch(text) else math.inf
    return number if abs(number) < _BEYOND_ALL else math.inf


def decimal_mark(cells: Iterable[str]) -> str:
    """``,`` when a cell holds a number with a decimal comma, else ``.``."""
    return "," if any(_COMMA_NUMBER.fullmatch(cell.strip()) for cell in cells) else "."
