"""Eight MiB of anything: read or refused in one line, in two seconds and 300 MB."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from weather import server_answers as answers

SECONDS, MEGABYTES = 2.0, 300.0
SIZE = 8 * 2**20
HEAD = "time_utc,temp_c,rh_pct,wind_ms\n"
ROW = "2025-07-01T00:00Z,1,2,3\n"
FILES = {
    "three million columns": "time_utc," + ",".join(["a"] * (SIZE // 3)),
    "a thousand columns sixty times": ("a," * 990 + "\n") * 60 + ROW,
    "many columns of one name": "time_utc," + ",".join(["temp_c"] * (SIZE // 8)) + "\n" + ROW,
    "a name of letters": "time_utc,temp_c," + "aB" * (SIZE // 2) + "\n" + ROW,
    "brackets": "time_utc,temp_c," + "(" * SIZE + "\n" + ROW,
    "brackets in names": "time_utc,temp_c," + "wind (" * (SIZE // 6) + "\n" + ROW,
    "digits": HEAD + "2025-07-01T00:00Z," + "1" * SIZE + ",2,3\n",
    "digits of a height": "time_utc,temp_c,rh_pct,wind_" + "1" * SIZE + "m\n" + ROW,
    "digits of a fact": "# elevation_m: " + "9" * SIZE + "\n" + HEAD + ROW,
    "facts": "# a: b\n" * (SIZE // 7) + HEAD + ROW,
    "quotes": '"' * SIZE,
    "quoted rows": HEAD + '2025-07-01T00:00Z,"1",2,3\n' * (SIZE // 27),
    "newlines": "\n" * SIZE,
    "blanks": "time_utc temp_c\n" + " " * SIZE,
    "numbers": "1 " * (SIZE // 2),
    "short numbers": "1 1 1 1\n" * (SIZE // 8),
    "rows of one time": HEAD + ROW * (SIZE // len(ROW)),
    "blank rows": HEAD + ",,,\n" * (SIZE // 4),
    "a zone": "# DEBUG: Time Zone -> " + "x" * SIZE + "\nvalid,tmpf\n",
    "a place": "LOCATION," + ",".join(["aaaaa"] * (SIZE // 6)),
}  # fmt: skip

CHILD = """
import resource, sys, time
import pandas
from hayweather.errors import HayweatherError
{imports}
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
begin = time.process_time()
try:
    {task}
    line = "read"
except HayweatherError as error:
    line = error.line()
seconds = time.process_time() - begin
grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
print(f"{{seconds:.3f}}|{{grown:.0f}}|{{line[:2000]}}")
"""


def measured(path: Path, imports: str, task: str) -> str:
    """What was said of a file; the time and memory of it are within bounds."""
    child = CHILD.format(imports=imports, task=task)
    run = [sys.executable, "-c", child, str(path)]
    found = subprocess.run(run, capture_output=True, text=True, timeout=60, check=False)
    assert found.returncode == 0, found.stderr[-500:]
    seconds, grown, line = found.stdout.strip().split("|", 2)
    assert float(seconds) < SECONDS, (seconds, line)
    assert float(grown) < MEGABYTES, (grown, line)
    assert len(line) < 1000
    assert "\n" not in line
    return line


@pytest.mark.parametrize("name", FILES)
def test_weather_files(name: str, tmp_path: Path) -> None:
    path = tmp_path / "hostile.csv"
    path.write_text(FILES[name], encoding="utf-8")
    measured(
        path,
        "from pathlib import Path; from hayweather.weather.files import read_weather_file",
        "read_weather_file(Path(sys.argv[1]))",
    )


def week(**parts: object) -> dict:
    names = ["temperature_2m", "dew_point_2m", "wind_speed_10m", "precipitation"]
    return {**answers.open_meteo(names), **parts}


def nested(depth: int) -> str:
    return "[" * depth + "]" * depth


def many_columns() -> str:
    content = week()
    blank = [None] * answers.HOURS
    content["hourly"] |= {f"temperature_2m_member{i:05d}": blank for i in range(11_000)}
    content["hourly_units"] |= {f"temperature_2m_member{i:05d}": "°C" for i in range(11_000)}
    return json.dumps(content)


def long_answer(hours: int) -> str:
    content = week()
    stamps = [f"20{25 + i // 8760:02d}-01-01T00:00" for i in range(hours)]
    content["hourly"] = {
        name: stamps if name == "time" else [1.0] * hours for name in content["hourly"]
    }
    return json.dumps(content)


ANSWERS = {
    "5,000 brackets": nested(5_000),
    "brackets": nested(SIZE // 2),
    "brackets in a part": json.dumps(week())[:-1] + ', "x": ' + nested(5_000) + "}",
    "a number of 5,000 digits": json.dumps(week(latitude=0)).replace(
        '"latitude": 0', '"latitude": ' + "9" * 5_000
    ),
    "digits": "9" * SIZE,
    "9,000 hours": long_answer(9_000),
    "100,000 hours": long_answer(100_000),
    "columns": many_columns(),
    "names": json.dumps({**week(), **{f"a{i}": 0 for i in range(SIZE // 14)}}),
    "a text": json.dumps(week(latitude="x" * SIZE)),
    "a text for a value": json.dumps(week()).replace("23.0", '"' + "y" * SIZE + '"', 1),
    "an unclosed text": '{"' + "z" * SIZE,
    "a sentence": "A" + "b" * SIZE + " c d e",
    "words": "Ab cd " * (SIZE // 6),
    "an error": json.dumps({"error": True, "reason": "q" * SIZE}),
    "intervals": json.dumps({"properties": {"temperature": {"uom": "wmoUnit:degC", "values": [
        {"validTime": "2025-07-01T00:00:00+00:00/PT1H", "value": 1}] * (SIZE // 66)}}}),
    "a duration": json.dumps({"properties": {"temperature": {"uom": "wmoUnit:degC", "values": [
        {"validTime": "2025-07-01T00:00:00+00:00/P" + "1" * SIZE, "value": 1}]}}}),
}  # fmt: skip


@pytest.mark.parametrize("name", ANSWERS)
@pytest.mark.parametrize("reader", ["open_meteo_hours.read_hours", "us_nws_layers.read_grid"])
def test_answers_of_services(name: str, reader: str, tmp_path: Path) -> None:
    path = tmp_path / "hostile.json"
    path.write_text(ANSWERS[name], encoding="utf-8")
    module, _, function = reader.partition(".")
    measured(
        path,
        f"from hayweather.weather.services.body import parse_body\n"
        f"from hayweather.weather.services.{module} import {function} as read",
        "read(parse_body(open(sys.argv[1], 'rb').read(), 'service'))",
    )
