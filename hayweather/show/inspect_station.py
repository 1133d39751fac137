"""What was read from a station's file: what it has, what it lacks, what it can be used for."""

from __future__ import annotations

from hayweather.show.inspect import shown_time
from hayweather.show.layout import WIDEST_PROSE, bullets, named_values, wrapped
from hayweather.show.station_words import last_text
from hayweather.show.table import Column, Document, Table
from hayweather.show.voice import Voice, phrases
from hayweather.weather.files.station import StationFile

USES = ("inspect_station_corrects", "inspect_station_learns", "inspect_station_not_alone")


def _uses(station: StationFile, voice: Voice) -> list[str]:
    """What the file can be used for, and what not."""
    lacks = voice.listed([voice.say(f"record_{name}") for name in station.lacks])
    return [voice.say(use, line=f'file = "{station.name}"', lacks=lacks) for use in USES]


def station_text(station: StationFile, voice: Voice, width: int) -> str:
    """A station's file as text, no line wider than `width` where that can be kept."""
    prose = min(width, WIDEST_PROSE)
    times, last = station.observed.times, last_text(station.observed, voice)
    clock = voice.say(
        "inspect_value_origin", value=station.clock.name,
        origin=voice.say(f"weather_origin_{station.clock.origin}"),
    )  # fmt: skip
    rows = {"rows": times.size, "minutes": f"{station.step_minutes:g}"}
    covers = {"first": shown_time(times[0]), "last": shown_time(times[-1])}
    facts = [
        (voice.say("inspect_clock"), clock),
        (voice.say("inspect_rows"), voice.say("inspect_rows_value", **rows)),
        (voice.say("inspect_covers"), voice.say("inspect_station_covers", **covers)),
        (voice.say("inspect_station_last"), last or ""),
        (
            voice.say("inspect_station_lacks"),
            voice.listed([voice.say(f"record_{name}") for name in station.lacks]),
        ),
    ]
    columns = [
        (name, voice.say("inspect_station_column" if unit else "inspect_station_column_no_unit",
                         name=voice.say(f"record_{holds}"), unit=unit, count=blank))
        for name, holds, unit, blank in station.columns
    ]  # fmt: skip
    lines = [
        *wrapped(voice.say("inspect_station_title", file=station.name), prose),
        *named_values([fact for fact in facts if fact[1]], width),
        voice.say("inspect_columns"),
        *named_values(columns, width),
    ]
    if station.unused:
        text = voice.say("inspect_unused", names=", ".join(station.unused))
        lines += wrapped(text, width, "", "  ")
    if station.observed.notes:
        lines += [voice.say("inspect_refused"), *bullets(phrases(station.observed.notes, voice),
                                                         prose)]  # fmt: skip
    lines += [voice.say("inspect_station_uses"), *bullets(_uses(station, voice), prose)]
    return "\n".join(lines) + "\n"


STATION_COLUMNS = Table(
    (
        Column("column", "Name in the file", lambda row: row[0], kind="text"),
        Column("served_as", "Column of the record that it served", lambda row: row[1],
               kind="text"),
        Column("unit", "In the file", lambda row: row[2], kind="text"),
        Column("rows_missing", "Rows without a value", lambda row: row[3], kind="count"),
    ),
    "A column of the station's file that serves.",
)  # fmt: skip
STATION_FILE = Document(
    "hayweather/inspect/1",
    Table(
        (
            Column("kind", "Which kind of file", lambda _: "station", kind="text",
                   choices=("station",)),
            Column("file", "Name of the file", "name", kind="text"),
            Column("layout", "How it is written", "shape.layout", kind="text"),
            Column("timezone", "Of its clock", "clock.name", kind="text"),
            Column("timezone_from", "Who says so", "clock.origin", kind="text"),
            Column("rows", "Rows read", lambda read: read.observed.times.size, kind="count"),
            Column("step_minutes", "From row to row, usually", unit="min"),
            Column("first", "UTC time of the first row", lambda read: read.observed.times[0],
                   kind="utc"),
            Column("last", "UTC time of the last row", lambda read: read.observed.times[-1],
                   kind="utc"),
            Column("columns", "Columns that serve", kind="rows", of=STATION_COLUMNS),
            Column("unused", "Columns left alone", kind="texts"),
            Column("lacks", "What a night wants and it does not measure",
                   lambda read: list(read.lacks), kind="texts"),
            Column("notes", "What was left out", "observed.notes", kind="remarks"),
            Column("uses", "What it can be used for, and what not", kind="texts", said=_uses),
        ),
        "What was read from a station's file (hayweather inspect yard.csv).",
    ),
)  # fmt: skip
