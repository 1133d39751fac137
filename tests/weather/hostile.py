"""Eight MiB of anything, as weather files and as answers of services, and who reads them.

Made when asked for: together they are half a gigabyte. The tasks run in a child process.
"""

import json
import resource
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pandas as pd
from weather import server_answers as answers

from hayweather.errors import HayweatherError
from hayweather.weather.files import read_weather_file
from hayweather.weather.services.body import parse_body
from hayweather.weather.services.open_meteo_hours import read_hours
from hayweather.weather.services.us_nws_layers import read_grid

SIZE = 8 * 2**20
HEAD = "time_utc,temp_c,rh_pct,wind_ms\n"
ROW = "2025-07-01T00:00Z,1,2,3\n"
FILES: dict[str, Callable[[], str]] = {
    "three million columns": lambda: "time_utc," + ",".join(["a"] * (SIZE // 3)),
    "a thousand columns sixty times": lambda: ("a," * 990 + "\n") * 60 + ROW,
    "many columns of one name": lambda: (
        "time_utc," + ",".join(["temp_c"] * (SIZE // 8)) + "\n" + ROW
    ),
    "a name of letters": lambda: "time_utc,temp_c," + "aB" * (SIZE // 2) + "\n" + ROW,
    "brackets": lambda: "time_utc,temp_c," + "(" * SIZE + "\n" + ROW,
    "brackets in names": lambda: "time_utc,temp_c," + "wind (" * (SIZE // 6) + "\n" + ROW,
    "digits": lambda: HEAD + "2025-07-01T00:00Z," + "1" * SIZE + ",2,3\n",
    "digits of a height": lambda: "time_utc,temp_c,rh_pct,wind_" + "1" * SIZE + "m\n" + ROW,
    "digits of a fact": lambda: "# elevation_m: " + "9" * SIZE + "\n" + HEAD + ROW,
    "facts": lambda: "# a: b\n" * (SIZE // 7) + HEAD + ROW,
    "quotes": lambda: '"' * SIZE,
    "quoted rows": lambda: HEAD + '2025-07-01T00:00Z,"1",2,3\n' * (SIZE // 27),
    "newlines": lambda: "\n" * SIZE,
    "blanks": lambda: "time_utc temp_c\n" + " " * SIZE,
    "numbers": lambda: "1 " * (SIZE // 2),
    "short numbers": lambda: "1 1 1 1\n" * (SIZE // 8),
    "rows of one time": lambda: HEAD + ROW * (SIZE // len(ROW)),
    "blank rows": lambda: HEAD + ",,,\n" * (SIZE // 4),
    "a zone": lambda: "# DEBUG: Time Zone -> " + "x" * SIZE + "\nvalid,tmpf\n",
    "a place": lambda: "LOCATION," + ",".join(["aaaaa"] * (SIZE // 6)),
}  # fmt: skip


def week(**parts: object) -> dict:
    names = ["temperature_2m", "dew_point_2m", "wind_speed_10m", "precipitation"]
    return {**answers.open_meteo(names), **parts}


def nested(depth: int) -> str:
    return "[" * depth + "]" * depth


def interval(length: str) -> dict:
    return {"validTime": f"2025-07-01T00:00:00+00:00/P{length}", "value": 1}


def layers(values: list[dict]) -> str:
    return json.dumps({"properties": {"temperature": {"uom": "wmoUnit:degC", "values": values}}})


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


ANSWERS: dict[str, Callable[[], str]] = {
    "5,000 brackets": lambda: nested(5_000),
    "brackets": lambda: nested(SIZE // 2),
    "brackets in a part": lambda: json.dumps(week())[:-1] + ', "x": ' + nested(5_000) + "}",
    "a number of 5,000 digits": lambda: json.dumps(week(latitude=0)).replace(
        '"latitude": 0', '"latitude": ' + "9" * 5_000
    ),
    "digits": lambda: "9" * SIZE,
    "9,000 hours": lambda: long_answer(9_000),
    "100,000 hours": lambda: long_answer(100_000),
    "columns": many_columns,
    "names": lambda: json.dumps({**week(), **{f"a{i}": 0 for i in range(SIZE // 14)}}),
    "a text": lambda: json.dumps(week(latitude="x" * SIZE)),
    "a text for a value": lambda: json.dumps(week()).replace("23.0", '"' + "y" * SIZE + '"', 1),
    "an unclosed text": lambda: '{"' + "z" * SIZE,
    "a sentence": lambda: "A" + "b" * SIZE + " c d e",
    "words": lambda: "Ab cd " * (SIZE // 6),
    "an error": lambda: json.dumps({"error": True, "reason": "q" * SIZE}),
    "intervals": lambda: layers([interval("T1H")] * (SIZE // 66)),
    "a duration": lambda: layers([interval("1" * SIZE)]),
}  # fmt: skip


def file_of(path: Path) -> object:
    """Read as a weather file."""
    return read_weather_file(path)


def hours_of(path: Path) -> object:
    """Read as an answer that is a table of hours."""
    return read_hours(parse_body(path.read_bytes(), "service"))


def grid_of(path: Path) -> object:
    """Read as an answer that is layers of intervals."""
    return read_grid(parse_body(path.read_bytes(), "service"))


def told(read: Callable[[Path], object], path: Path) -> None:
    """In the child: memory that reading took [MB], and what was said."""
    before = peak_mb()
    try:
        read(path)
        line = "read"
    except HayweatherError as error:
        line = error.line()
    print(f"{peak_mb() - before:.0f}|{line[:2000]}")


def timed(read: Callable[[Path], object], path: Path, plain: Path) -> None:
    """In the child: seconds of this process for reading, and for a plain table by pandas."""
    begun = time.process_time()
    with suppress(HayweatherError):
        read(path)
    took = time.process_time() - begun
    tables = []
    for _ in range(3):
        begun = time.process_time()
        pd.read_csv(plain)
        tables.append(time.process_time() - begun)
    print(f"{took}|{min(tables)}")


def peak_mb() -> float:
    """The most memory that this process ever held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
