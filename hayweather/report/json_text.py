"""Plain dictionaries and lists as JSON, written the same way by every command."""

from __future__ import annotations

import json
from typing import Any


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
