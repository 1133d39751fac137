"""What is shown, defined once: columns and tables from which every form of data is made.

A `Column` says what a shown quantity is called, in which unit, how it is found
in a record and what it means. A `Table` of them makes rows of JSON and their
schema, rows of CSV, a pandas DataFrame and columns of text, so that no form has
a list of its own. A document is a table with one row whose columns may be
tables in turn.

Missing numbers are null or blank, never NaN; times are local with their offset;
a key in US units has its twin in SI units. A key is never renamed without a new
schema number.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.show.layout import TextColumn, unit_lines
from hayweather.show.voice import Voice, phrases
from hayweather.spreadsheet import held_back, note_held_back
from hayweather.units import symbol_of, to_shown

if TYPE_CHECKING:
    import pandas as pd

Json = dict[str, Any]
Kind = Literal[
    "number", "count", "text", "truth", "time", "utc", "texts", "remarks", "chances",
    "numbers", "times", "any", "row", "rows", "rows by name",
]  # fmt: skip
"""Those of the second line stand in JSON alone."""
DECIMALS = 4
SEPARATOR = "; "
"""Between the texts of one cell of CSV."""
DIALECT = "https://json-schema.org/draft/2020-12/schema"


@dataclass(frozen=True)
class Screen:
    """How a column stands in a table of text.

    Attributes
    ----------
    heading
        Key of its words.
    drop
        Order in which columns go where there is no room; 0 stays.
    blank, dull
        A cell that is not known; a cell that says nothing: a column of both is left out.
    extra, extra_metric
        Decimals beyond those of its quantity; in metric units, where they differ.
    quantity
        Where it is shown in another unit than in the data.
    zero
        What an exact zero is written as; empty for a number as any other.
    for_rig
        True where it stands for the rig alone.
    """

    heading: str
    drop: int = 0
    blank: str = "?"
    dull: str = ""
    extra: int = 0
    extra_metric: int | None = None
    quantity: str = ""
    zero: str = ""
    for_rig: bool = False


@dataclass(frozen=True)
class Column:
    """One shown quantity.

    Attributes
    ----------
    name, us
        Its name in SI units, and that of its twin in US units where there is one.
    help
        What it is, in English, for schemas and documentation.
    value
        Attribute of a row (dots for one of another), or a function of a row; the
        name where empty. Numbers are in the inside unit; None and NaN: not known.
    said
        The same from a row and a voice, where words are needed.
    quantity
        Of `hayweather.units`; empty for a plain number.
    kind
        Of its values.
    csv, csv_us
        Its names in CSV and frames where they differ from those in JSON.
    decimals
        In CSV; None for up to four.
    null
        Whether it may be missing; numbers always may.
    of
        The table of a "row", "rows" or "rows by name".
    choices
        The texts it may be.
    screen
        How it stands in text; None for nowhere.
    only
        "json" or "csv" where it stands in one of them alone.
    twin
        False where JSON has the SI name alone.
    group
        The object in JSON that it stands in; in CSV its name stands before.
    index
        True for the time that a frame is indexed by.
    unit
        Of a number without a quantity, for schemas and frames.
    fits
        The schema of a value of the kind "any", which then stands in JSON alone.
    """

    name: str
    help: str
    value: str | Callable[[Any], Any] = ""
    quantity: str = ""
    us: str = ""
    kind: Kind = "number"
    said: Callable[[Any, Voice], Any] | None = None
    csv: str = ""
    csv_us: str = ""
    decimals: int | None = None
    null: bool = False
    of: Table | None = None
    choices: tuple[str, ...] = ()
    screen: Screen | None = None
    only: Literal["", "json", "csv"] = ""
    twin: bool = True
    group: str = ""
    index: bool = False
    unit: str = ""
    fits: Json | None = None

    def get(self, row: object, voice: Voice) -> Any:
        """The value in a row, in the inside unit; None where the row has no such thing."""
        if self.said is not None:
            return self.said(row, voice)
        if callable(self.value):
            return self.value(row)
        found: Any = row
        for part in (self.value or self.name).split("."):
            found = getattr(found, part, None)
        return found

    def named(self, units: UnitSystem) -> str:
        """Its name in CSV and frames."""
        si, us = self.csv or self.name, self.csv_us or self.us
        name = us if units == "us" and us else si
        return f"{self.group}_{name}" if self.group else name

    def symbol(self, units: UnitSystem) -> str:
        """Its unit, empty for none."""
        return symbol_of(self.quantity, units) if self.quantity else self.unit

    def form(self, row: object, voice: Voice, *, exact: bool = False) -> Json:
        """Its keys in JSON with their values, numbers with all digits where `exact`."""
        value = self.get(row, voice)
        found = {self.name: self._data(value, "metric", voice, exact)}
        if self.us and self.twin:
            found[self.us] = self._data(value, "us", voice, exact)
        return found

    def _data(self, value: Any, units: UnitSystem, voice: Voice, exact: bool = False) -> Any:
        """A value as JSON knows it."""
        if self.kind == "remarks":
            return phrases(value, voice)
        if self.kind == "texts":
            return [str(text) for text in value]
        if value is None:
            return None
        if self.of is not None:
            return _nested(self.of, self.kind, value, voice, exact)
        if self.kind == "time":
            return voice.iso(value)
        if self.kind == "utc":
            return f"{value.astype('datetime64[s]')}Z"
        if self.kind == "times":
            return [voice.iso(time) for time in value]
        if self.kind == "numbers":
            return [number(self._in(one, units), exact=exact) for one in value]
        if self.kind == "chances":
            return {call.word: float(share) for call, share in value.items()}
        if self.kind == "number":
            return number(self._in(value, units), exact=exact)
        return value

    def _in(self, value: float, units: UnitSystem) -> float:
        """An inside value in the unit of its name."""
        return float(to_shown(value, self.quantity, units)) if self.quantity else float(value)

    def cells(self, row: object, voice: Voice) -> list[object]:
        """Its cells in CSV; None where not known."""
        value = self.get(row, voice)
        if self.kind == "chances":
            return [None if value is None else f"{value[call]:.3f}" for call in Call]
        if value is None:
            return [None]
        if self.kind == "truth":
            return ["true" if value else "false"]
        if self.kind != "number":
            found = self._data(value, voice.units, voice)
            return [SEPARATOR.join(map(str, found)) if isinstance(found, list) else found]
        shown = self._in(value, voice.units)
        if self.decimals is None or not math.isfinite(shown):
            return [number(shown)]
        return [f"{shown:.{self.decimals}f}"]

    def headings(self, units: UnitSystem) -> list[str]:
        """Its names in CSV: one, or one a call."""
        if self.kind == "chances":
            return [f"{self.name}_{call.name.lower()}" for call in Call]
        return [self.named(units)]

    def shown(self, row: object, voice: Voice) -> str:
        """A number as a cell of text."""
        screen, value = self.screen, self.get(row, voice)
        if screen is None:
            return ""
        if value is None or not math.isfinite(value):
            return screen.blank
        if value == 0 and screen.zero:
            return screen.zero
        quantity = screen.quantity or self.quantity
        if not quantity:
            return voice.signed(f"{value:.{screen.extra}f}")
        metric = voice.units == "metric" and screen.extra_metric is not None
        return voice.number(
            value, quantity, extra=(screen.extra_metric or 0) if metric else screen.extra
        )

    def text_column(self, rows: Sequence[object], voice: Voice) -> TextColumn:
        """Numbers as a column of text, its words and unit above."""
        screen = self.screen or Screen("")
        quantity = screen.quantity or self.quantity
        unit = symbol_of(quantity, voice.units) if quantity else self.unit
        cells = tuple(self.shown(row, voice) for row in rows)
        heading = (*voice.say(screen.heading).split(), *unit_lines(unit))
        return TextColumn(heading, cells, screen.drop)

    def schema(self) -> Json:
        """Its keys in a schema."""
        found = {self.name: self._described("metric")}
        return found | {self.us: self._described("us")} if self.us and self.twin else found

    def _described(self, units: UnitSystem) -> Json:
        """Type, meaning and unit of one key."""
        form: Json = {"description": self.help}
        if symbol := self.symbol(units):
            form["unit"] = symbol
        return form | _may_be_null(_TYPES[self.kind](self), self.null or self.kind == "number")


def _nested(table: Table, kind: Kind, value: Any, voice: Voice, exact: bool) -> Any:
    """A table in a table."""
    if kind == "rows":
        return [table.record(row, voice, exact=exact) for row in value]
    if kind == "rows by name":
        return {name: table.record(row, voice, exact=exact) for name, row in value.items()}
    return table.record(value, voice, exact=exact)


def _object_of(column: Column) -> Json:
    """The schema of a table inside another."""
    inside = {} if column.of is None else column.of.schema()
    if column.kind == "rows":
        return {"type": "array", "items": inside}
    if column.kind == "rows by name":
        return {"type": "object", "additionalProperties": inside}
    return inside


def _text(column: Column) -> Json:
    """The schema of a text."""
    return {"type": "string", "enum": list(column.choices)} if column.choices else _TEXT


_TEXT: Json = {"type": "string"}
_TIME: Json = {"type": "string", "format": "date-time"}
_TYPES: dict[str, Callable[[Column], Json]] = {
    "number": lambda column: {"type": "number"},
    "count": lambda column: {"type": "integer"},
    "text": _text,
    "truth": lambda column: {"type": "boolean"},
    "time": lambda column: _TIME,
    "utc": lambda column: _TIME,
    "texts": lambda column: {"type": "array", "items": _TEXT},
    "remarks": lambda column: {"type": "array", "items": _TEXT},
    "chances": lambda column: {
        "type": "object",
        "properties": {call.word: {"type": "number", "minimum": 0, "maximum": 1} for call in Call},
        "required": [call.word for call in Call],
        "additionalProperties": False,
    },
    "numbers": lambda column: {"type": "array", "items": {"type": ["number", "null"]}},
    "times": lambda column: {"type": "array", "items": _TIME},
    "any": lambda column: column.fits or {},
    "row": _object_of,
    "rows": _object_of,
    "rows by name": _object_of,
}


def _may_be_null(form: Json, null: bool) -> Json:
    """A schema that null fits too."""
    if not null or "type" not in form:
        return form
    if "enum" in form:
        return form | {"type": [form["type"], "null"], "enum": [*form["enum"], None]}
    return form | {"type": [form["type"], "null"]}


@dataclass(frozen=True)
class Table:
    """Columns of records of one kind.

    Attributes
    ----------
    columns
        In the order in which they are shown.
    help
        What one row is.
    own_voice
        From a row and a voice to the voice in which that row is said.
    open
        True where rows may hold further keys.
    both_units
        True where CSV has both unit systems side by side.
    """

    columns: tuple[Column, ...]
    help: str = ""
    own_voice: Callable[[Any, Voice], Voice] | None = None
    open: bool = False
    both_units: bool = False

    def __getitem__(self, name: str) -> Column:
        """A column by its name."""
        return next(column for column in self.columns if column.name == name)

    def record(self, row: object, voice: Voice, *, exact: bool = False) -> Json:
        """A row for JSON, numbers with all digits where `exact`."""
        spoken = self.own_voice(row, voice) if self.own_voice else voice
        form: Json = {}
        for column in self._in_json():
            found = column.form(row, spoken, exact=exact)
            if column.group:
                form.setdefault(column.group, {}).update(found)
            else:
                form |= found
        return form

    def records(self, rows: Iterable[object], voice: Voice) -> list[Json]:
        """Rows for JSON."""
        return [self.record(row, voice) for row in rows]

    def names(self, units: UnitSystem) -> list[str]:
        """Names of the columns of CSV in a unit system."""
        return [name for column, system in self._flat(units) for name in column.headings(system)]

    def csv_rows(self, rows: Iterable[object], voice: Voice) -> Iterator[list[object]]:
        """Rows for CSV."""
        for row in rows:
            spoken = self.own_voice(row, voice) if self.own_voice else voice
            yield [
                cell
                for column, units in self._flat(voice.units)
                for cell in column.cells(row, _in_units(spoken, units))
            ]

    def csv(
        self,
        rows: Iterable[object],
        voice: Voice,
        notes: Iterable[str] = (),
        *,
        raw: bool = False,
    ) -> str:
        """Rows as the text of a CSV file; see `csv_text`."""
        return csv_text(self.names(voice.units), self.csv_rows(rows, voice), notes, raw=raw)

    def frame(self, rows: Iterable[object], voice: Voice) -> pd.DataFrame:
        """Rows as a pandas DataFrame, all digits kept.

        Parameters
        ----------
        rows
            Records of this kind.
        voice
            Units of the numbers; times are of its zone.

        Returns
        -------
        pandas.DataFrame
            Columns named as in CSV, ``attrs["units"]`` and ``attrs["help"]`` by
            column; the index is the time that a row starts, where it has one.
        """
        import pandas as pd

        listed = list(rows)
        spoken = [self.own_voice(row, voice) if self.own_voice else voice for row in listed]
        data: dict[str, Any] = {}
        symbols, meanings = {}, {}
        for column, units in self._flat(voice.units):
            values = [column.get(*pair) for pair in zip(listed, spoken, strict=True)]
            if column.kind == "chances":
                for name, call in zip(column.headings(units), Call, strict=True):
                    data[name] = [math.nan if v is None else float(v[call]) for v in values]
                    symbols[name], meanings[name] = "1", column.help
                continue
            name = column.named(units)
            data[name] = column_values(column, values, units, voice)
            symbols[name], meanings[name] = column.symbol(units), column.help
        frame = pd.DataFrame(data)
        index = [column.named(voice.units) for column in self.columns if column.index]
        frame = frame.set_index(index) if index and len(index) > 1 else frame
        frame = frame.set_index(index[0]) if len(index) == 1 else frame
        frame.attrs |= {"units": symbols, "help": meanings}
        return frame

    def schema(self) -> Json:
        """The schema of a row."""
        properties: Json = {}
        for column in self._in_json():
            found = column.schema()
            if column.group:
                group = properties.setdefault(column.group, _object({}))
                group["properties"] |= found
                group["required"] += list(found)
            else:
                properties |= found
        form = _object(properties, self.help)
        if self.open:
            del form["additionalProperties"]
        return form

    def _in_json(self) -> Iterator[Column]:
        return (column for column in self.columns if column.only != "csv")

    def _flat(self, units: UnitSystem) -> Iterator[tuple[Column, UnitSystem]]:
        """Columns of CSV with the units in which they stand there."""
        for column in self.columns:
            nested = column.of is not None or column.kind in ("numbers", "times")
            if nested or column.fits is not None or column.only == "json":
                continue
            if self.both_units and column.us:
                yield column, "metric"
                yield column, "us"
            else:
                yield column, units


def paired(
    owner: Column,
    table: Table,
    help_: str,
    own_voice: Callable[[Any, Voice], Voice] | None = None,
) -> Table:
    """A table whose rows are pairs of a row and its owner, the owner's column first.

    Parameters
    ----------
    owner
        A column of the owner.
    table
        Of the rows.
    help_, own_voice
        Of the new table; the voice is that of a pair.
    """
    first = (through(owner, lambda pair: pair[1]),)
    return Table((*first, *through_all(table.columns, lambda pair: pair[0])), help_, own_voice)


def through(column: Column, pick: Callable[[Any], Any]) -> Column:
    """A column of something that a row leads to."""
    return replace(column, value="", said=lambda row, voice: column.get(pick(row), voice))


def through_all(columns: Iterable[Column], pick: Callable[[Any], Any]) -> tuple[Column, ...]:
    """Columns of something that a row leads to."""
    return tuple(through(column, pick) for column in columns)


def column_values(column: Column, values: list[Any], units: UnitSystem, voice: Voice) -> Any:
    """Values of a column of a frame."""
    import numpy as np
    import pandas as pd

    if column.kind == "number":
        inside = np.array([math.nan if v is None else float(v) for v in values])
        return to_shown(inside, column.quantity, units) if column.quantity else inside
    if column.kind in ("time", "utc"):
        times = pd.to_datetime(np.array(values, dtype="datetime64[s]"))
        return times.tz_localize("UTC").tz_convert(voice.timezone)
    if column.kind == "remarks":
        return [SEPARATOR.join(phrases(value or (), voice)) for value in values]
    if column.kind == "texts":
        return [SEPARATOR.join(value or ()) for value in values]
    return values


def _in_units(voice: Voice, units: UnitSystem) -> Voice:
    """The voice with other units, itself where they are the same."""
    if voice.units == units:
        return voice
    return replace(voice, units=units)


def _object(properties: Json, help_: str = "") -> Json:
    """A schema of an object all of whose keys are there."""
    form: Json = {"description": help_} if help_ else {}
    return form | {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


@dataclass(frozen=True)
class Document:
    """A whole answer of a command as JSON: its schema's name, then the keys of a table.

    Keys may be added to a schema, so readers let unknown ones pass; what is
    written here fits it exactly.
    """

    schema_name: str
    table: Table

    def form(self, made: object, voice: Voice, *, exact: bool = False) -> Json:
        """The answer as plain dictionaries and lists, numbers with all digits where `exact`."""
        return {"schema": self.schema_name, **self.table.record(made, voice, exact=exact)}

    def text(self, made: object, voice: Voice) -> str:
        """The answer as JSON text."""
        return json_text(self.form(made, voice))

    def schema(self) -> Json:
        """The JSON Schema of the answer (draft 2020-12)."""
        inside = self.table.schema()
        inside["properties"] = {"schema": {"const": self.schema_name}} | inside["properties"]
        inside["required"] = ["schema", *inside["required"]]
        return {"$schema": DIALECT, "$id": f"urn:{self.schema_name.replace('/', ':')}"} | inside


def json_text(form: Any) -> str:
    """JSON in which letters stay as they are.

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


def number(value: float | None, *, exact: bool = False) -> float | None:
    """A number for data: rounded unless `exact`, null where it is not known.

    Examples
    --------
    >>> number(float("nan")) is None, number(12.345678)
    (True, 12.3457)
    """
    if value is None or not math.isfinite(value):
        return None
    return float(value) if exact else round(float(value), DECIMALS)


def csv_text(
    columns: Iterable[str],
    rows: Iterable[Sequence[object]],
    notes: Iterable[str] = (),
    *,
    raw: bool = False,
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
    raw
        True to leave alone texts that a spreadsheet would run as a formula;
        otherwise an apostrophe stands before them.

    Examples
    --------
    >>> csv_text(["hour", "call"], [[1, None], [-2, "=1+1"]], ["made up"])
    "# made up\\nhour,call\\n1,\\n-2,'=1+1\\n"
    """
    text = io.StringIO()
    lines = (" ".join(note.split()) for note in notes)
    text.writelines(f"# {line if raw else note_held_back(line)}\n" for line in lines)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([cell if raw else held_back(cell) for cell in row] for row in rows)
    return text.getvalue()
