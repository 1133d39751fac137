"""The JSON Schema that ships for an answer."""

import json

from hayweather.show.schema_files import FOLDER, file_name


def schema_of(schema_name: str) -> dict:
    """A shipped schema by what stands under "schema" in an answer."""
    return json.loads((FOLDER / file_name(schema_name)).read_text(encoding="utf-8"))
