"""What can go wrong, as one tree.

::

    HayweatherError                 every error that a person should read
    ├── InputError                  exit 2: something given is wrong
    │   ├── FarmFileError           the farm or sites file
    │   ├── WeatherFileError        a weather file, or what stands in it
    │   ├── OptionError             an option or argument of a command
    │   └── OutputError             a place to write to
    ├── WeatherUnavailableError     exit 3: no weather, and nothing stored serves
    └── DeliveryError               exit 3: a message could not be sent

An error is one line that says what is wrong, where, with which value, and what
to do. Its text stands in `hayweather.words` under ``error_<key>``, in English
and Spanish; the error itself carries the key and the values.
"""

from __future__ import annotations

from hayweather.words import Remark, say

DEFECT = 1
"""Exit code of a fault of our own, which is no `HayweatherError`."""


class HayweatherError(Exception):
    """An error with one line for a person.

    Parameters
    ----------
    key
        Name of the text, without the leading ``error_``.
    where
        File, line, table, option: where the person should look. May be empty; a
        `Remark` where a word of it belongs to a language.
    **values
        What the text's fields show, already formatted; or a `Remark`.

    Examples
    --------
    >>> str(OptionError("now_without_zone", "--now", value="noon"))
    '--now: time "noon" is not understood; write it like 2026-07-08T18:00'
    """

    exit_code = 2
    rows: tuple[HayweatherError, ...]
    """Every row that is wrong, where one line tells of the first alone."""
    others: tuple[HayweatherError, ...]
    """What else is wrong in the same run, a line each."""

    def __init__(self, key: str, where: str | Remark = "", **values: object) -> None:
        super().__init__(key, where, values)
        self.key = key
        self.where = where
        self.values = values
        self.rows: tuple[HayweatherError, ...] = ()
        self.others: tuple[HayweatherError, ...] = ()

    def line(self, language: str = "en") -> str:
        """The one line, in `language`, with line breaks in values made visible."""

        def said(value: object) -> object:
            if isinstance(value, Remark):
                return say(value.key, language, **value.values)
            return value

        values = {name: said(value) for name, value in self.values.items()}
        text = say(f"error_{self.key}", language, **values)
        line = f"{said(self.where)}: {text}" if self.where else text
        if len(self.rows) > 1 and "count" not in self.values:
            line += " " + say("more_rows", language, count=len(self.rows) - 1)
        return " ".join(line.split())

    def __str__(self) -> str:
        return self.line()


class InputError(HayweatherError):
    """Something that was given is wrong; exit 2."""


class FarmFileError(InputError):
    """The farm or sites file is wrong."""


class WeatherFileError(InputError):
    """A weather file, or a value in it, is wrong."""


class OptionError(InputError):
    """An option or argument of a command is wrong."""


class OutputError(InputError):
    """An output cannot be written."""


class WeatherUnavailableError(HayweatherError):
    """The weather could not be had and nothing stored serves; exit 3."""

    exit_code = 3


class DeliveryError(HayweatherError):
    """A message could not be handed to its service; exit 3."""

    exit_code = 3
