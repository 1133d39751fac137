"""What a key and a table of the farm file are; `hayweather.farm.tables` lists them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any, Literal

Kind = Literal[
    "number",
    "integer",
    "text",
    "boolean",
    "choice",
    "time",
    "clock",
    "band",
    "cured",
    "label",
    "choices",
    "span",
    "points",
    "ladder",
]
Form = Literal["one", "named", "one-or-named", "list"]


@dataclass(frozen=True)
class Key:
    """One key: how it is read, and what the starter file shows for it.

    Attributes
    ----------
    name, attribute
        Name in the file; attribute of the record (the same when left out).
    kind
        What stands there. "number" is a TOML number or a quantity string,
        "clock" a time of day, "label" a preservative, "cured" true or a time,
        "choices" a list of words, "span" two numbers, "points" pairs of numbers
        ``[[x, y], ...]`` with rising x, "ladder" a number for each of `choices`.
    quantity
        Of `hayweather.units`; empty for a bare number.
    low, high
        Range in the inside unit, both ends allowed; the ends of "band" and
        "span" too, and x of "points".
    choices
        Words allowed, for "choice" and "choices", needed, for "ladder"; a mapping
        of the catalog is asked each time.
    required
        Whether the table is refused without it.
    us, metric
        TOML text of the starter's example. Left out: `us` is the record's
        default, `metric` is `us`.
    active
        Whether the starter writes it for use rather than behind a "#".
    """

    name: str
    kind: Kind
    attribute: str = ""
    quantity: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    choices: Collection[str] | Mapping[str, Any] = ()
    required: bool = False
    us: str = ""
    metric: str = ""
    active: bool = False

    @property
    def target(self) -> str:
        """Attribute of the record that the value goes to."""
        return self.attribute or self.name

    def example(self, system: str) -> str:
        """TOML text of the starter's example in `system`, empty when none is given."""
        return (self.metric if system == "metric" else "") or self.us


@dataclass(frozen=True)
class Table:
    """One table of the farm file.

    Attributes
    ----------
    name
        Name in the file.
    form
        "one" is ``[name]``, "named" ``[name.X]``, "list" ``[[name]]``;
        "one-or-named" may be either.
    record
        Record class that its values make; its field defaults are the defaults.
    starter_name
        The X of the starter file, for "named".
    active
        Whether the starter writes the table for use rather than behind "#".
    keys
        Its keys, in the order of the starter file.
    """

    name: str
    form: Form
    record: type[Any]
    keys: tuple[Key, ...]
    starter_name: str = ""
    active: bool = True

    @property
    def key_names(self) -> list[str]:
        """Names of all keys."""
        return [key.name for key in self.keys]

    @property
    def heading(self) -> str:
        """How the table is written, for messages: ``[field.NAME]``."""
        return {
            "one": f"[{self.name}]",
            "named": f"[{self.name}.NAME]",
            "one-or-named": f"[{self.name}]",
            "list": f"[[{self.name}]]",
        }[self.form]

    def default(self, key: Key) -> Any:
        """The record's default for `key`; None when it has none."""
        for item in fields(self.record):
            if item.name == key.target and item.default is not MISSING:
                return item.default
        return None
