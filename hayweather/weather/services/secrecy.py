"""Keeping the key out of everything that is shown, logged or stored."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TypeVar
from urllib.parse import quote, quote_plus

Text = TypeVar("Text", str, bytes)

SHORTEST_KEY = 6
"""In the body of an answer a shorter key would also match numbers of the weather."""
TALKATIVE = ("urllib3.connectionpool", "urllib3.connection", "urllib3.util.retry", "requests")


def without_key(text: Text, key: str | None) -> Text:
    """`text` with the key, plain or as written in an address, blotted out.

    Examples
    --------
    >>> without_key("apikey=abcd+efgh&x", "abcd+efgh")
    'apikey=***&x'
    """
    if not key:
        return text
    for form in (key, quote(key, safe=""), quote_plus(key)):
        if isinstance(text, str):
            text = text.replace(form, "***")
        elif len(form) >= SHORTEST_KEY:
            text = text.replace(form.encode(), b"***")
    return text


class _Blot(logging.Filter):
    """Blots the key out of what a library logs."""

    def __init__(self, key: str) -> None:
        super().__init__()
        self._key = key

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = without_key(record.getMessage(), self._key)
        record.args = ()
        return True


@contextmanager
def quiet_logs(key: str | None) -> Iterator[None]:
    """While this lasts, the libraries underneath log no key."""
    if key is None:
        yield
        return
    blot = _Blot(key)
    loggers = [logging.getLogger(name) for name in TALKATIVE]
    for logger in loggers:
        logger.addFilter(blot)
    try:
        yield
    finally:
        for logger in loggers:
            logger.removeFilter(blot)
