"""JSON Schemas of every answer, as they ship with the package beside this file.

They are generated from the tables that make the answers:
``python -m hayweather.show.schema_files`` writes them anew.
"""

from __future__ import annotations

from pathlib import Path

from hayweather.show.evening import EVENING
from hayweather.show.fetch import FETCH
from hayweather.show.grid import GRID
from hayweather.show.inspect import FARM_FILE, WEATHER_FILE
from hayweather.show.inspect_sites import SITES_FILE
from hayweather.show.inspect_station import STATION_FILE
from hayweather.show.learn import LEARN
from hayweather.show.outlook_data import OUTLOOK
from hayweather.show.plan_data import PLAN
from hayweather.show.runsheet_data import RUNSHEET
from hayweather.show.score import SCORE
from hayweather.show.seasons_data import SEASONS
from hayweather.show.table import DIALECT, Json, json_text
from hayweather.show.trial import TRIAL
from hayweather.show.tune import TUNE

FOLDER = Path(__file__).parent / "schemas"
DOCUMENTS = (OUTLOOK, RUNSHEET, PLAN, EVENING, FETCH, TUNE, SCORE, LEARN, SEASONS, GRID, TRIAL)


def all_schemas() -> dict[str, Json]:
    """Every schema by the name of its file."""
    found = {file_name(item.schema_name): item.schema() for item in DOCUMENTS}
    name = WEATHER_FILE.schema_name
    files = (WEATHER_FILE, FARM_FILE, SITES_FILE, STATION_FILE)
    kinds = [file.schema() for file in files]
    for kind in kinds:
        del kind["$schema"], kind["$id"]
    found[file_name(name)] = {
        "$schema": DIALECT,
        "$id": f"urn:{name.replace('/', ':')}",
        "oneOf": kinds,
    }
    return found


def file_name(schema_name: str) -> str:
    """Name of a schema's file.

    Examples
    --------
    >>> file_name("hayweather/outlook/2")
    'outlook-2.json'
    """
    return "-".join(schema_name.split("/")[1:]) + ".json"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, schema in all_schemas().items():
        (FOLDER / name).write_text(json_text(schema), encoding="utf-8")
