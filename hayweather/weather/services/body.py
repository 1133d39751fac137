"""From the bytes of an answer to its parts, strictly: nothing is guessed.

The open weather API is known to send status 200 with ``nan`` in the text, with
a sentence of error behind the numbers, or cut off in the middle.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import NoReturn

from hayweather.weather.services.failures import ServiceError, quote

_SENTENCE = re.compile(r"[A-Z][a-z]+(?: [\w.,:;'()-]+){2,}\W*$")
_NO_PLACE = re.compile(r'"latitude"\s*:\s*nan\b', re.IGNORECASE)


def parse_body(body: bytes, service: str) -> object:
    """The JSON value in `body`.

    Raises
    ------
    ServiceError
        If the body is not one whole JSON text with finite numbers.
    """
    try:
        text = body.decode("utf-8")
        return json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        failure = _why_not(body.decode("utf-8", errors="replace"), service)
    raise failure


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(name)


def _why_not(text: str, service: str) -> ServiceError:
    """The failure that fits a text which is no JSON."""
    stripped = text.strip()
    sentence = _SENTENCE.search(stripped[-300:])
    if _NO_PLACE.search(stripped[:2000]):
        return ServiceError("service_no_data", service)
    if sentence:
        return ServiceError("service_sentence", service, retry=True, reason=quote(sentence[0]))
    if stripped[:1] in ("{", "[") and stripped[-1:] not in ("}", "]"):
        return ServiceError("service_cut", service, retry=True)
    return ServiceError("service_not_json", service, retry=True)


def error_reason(body: bytes) -> str:
    """What the body of a refusal says, in its own words; empty when it is a page."""
    try:
        answer = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(answer, Mapping):
        return ""
    for name in ("reason", "detail", "title"):
        if isinstance(answer.get(name), str):
            return quote(answer[name])
    return ""


def expect_mapping(value: object, part: str, service: str) -> Mapping[str, object]:
    """`value`, if it is a table of named parts.

    Raises
    ------
    ServiceError
        If it is anything else, or says that it is an error.
    """
    if not isinstance(value, Mapping):
        raise ServiceError("service_shape", service, part=part)
    if value.get("error") is True:
        reason = quote(value.get("reason", ""))
        raise ServiceError("service_sentence", service, reason=reason)
    return value


def expect_list(value: object, part: str, service: str) -> list[object]:
    """`value`, if it is a list.

    Raises
    ------
    ServiceError
        If it is anything else.
    """
    if not isinstance(value, list):
        raise ServiceError("service_shape", service, part=part)
    return value


def elevation_or_none(value: object) -> float | None:
    """An elevation [m] that a field can lie at, None for anything else.

    Examples
    --------
    >>> elevation_or_none(2168), elevation_or_none(-9999) is None
    (2168.0, True)
    """
    elevation_m = number_or_none(value)
    return elevation_m if elevation_m is not None and -500 < elevation_m < 9000 else None


def number_or_none(value: object, *, written: bool = False) -> float | None:
    """A finite number as it stands in an answer, None for anything else.

    Parameters
    ----------
    value
        From JSON.
    written
        Whether a number written as text is one, too.

    Examples
    --------
    >>> number_or_none(True) is None, number_or_none(3)
    (True, 3.0)
    >>> number_or_none("3.5") is None, number_or_none("3.5", written=True)
    (True, 3.5)
    """
    if written and isinstance(value, str):
        try:
            value = float(value[:40])
        except ValueError:
            return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if abs(number) < float("inf") else None
