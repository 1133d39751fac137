"""The checker of `agree` over figures: moisture, water, tons, speeds, chances, wherever told.

It reads what was written as anybody would, in English and US units, and says where one
output differs from another or from itself. It uses none of the package's code.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar
from support.agree import moment
from support.agree_work import (
    ROW,
    WAYS,
    balers_work,
    clock,
    joined,
    outside,
    plain,
    sheet_steps,
    spans_of,
)

INCH_MM, MILE_H_M_S = 25.4, 0.44704  # exact by definition (NIST Handbook 44)

HOUR_FIGURES = {
    "windrow_moisture_percent_wb": "windrow_moisture_wb",
    "leaf_moisture_percent_wb": "leaf_moisture_wb",
    "stem_moisture_percent_wb": "stem_moisture_wb",
    "soft_share": "soft_share",
    "wet_share": "wet_share",
    "relative_humidity_percent": "relative_humidity",
    "skin_humidity_percent": "skin_humidity",
    "water_gal_per_ton": "water_gal_per_ton",
    "moisture_after_percent_wb": "moisture_after_wb",
}
"""Column of the outlook's CSV to key of its JSON, of one unit."""
TURNED = {
    "free_water_in": ("free_water_mm", 1 / INCH_MM, 0.0),
    "rain_in": ("rain_mm", 1 / INCH_MM, 0.0),
    "wind_2m_mph": ("wind_2m_m_s", 1 / MILE_H_M_S, 0.0),
    "air_temperature_f": ("air_temperature_c", 1.8, 32.0),
    "dew_point_f": ("dew_point_c", 1.8, 32.0),
    "skin_temperature_f": ("skin_temperature_c", 1.8, 32.0),
}
"""The same where the JSON is in SI: key, times, plus."""
STEP_FIGURES = {
    "row%": ("windrow_moisture_wb", 1),
    "thenhas%": ("moisture_after_wb", 1),
    "rategal/ton": ("water_gal_per_ton", 1),
    "flowgal/min": ("flow_gpm", 1),
    "speedmph": ("speed_mph", 1),
    "hayton": ("tons", 1),
    "areaacre": ("acres", 1),
    "bales": ("bales", 0),
    "watergal": ("water_gal", 0),
    "fuelgal": ("burner_fuel_gal", 1),
}
"""Heading of a run sheet's table, without spaces, to key of its JSON, and decimals shown."""
SETTING_FIGURES = {
    "meter%": ("reads_wb", 1),
    "then%": ("moisture_after_wb", 1),
    **{head: STEP_FIGURES[head] for head in ("rategal/ton", "flowgal/min", "speedmph")},
}


def figure_disagreements(written: dict[str, str]) -> list[str]:
    """What does not agree, in words; empty where all does.

    Parameters
    ----------
    written
        As for `agree_work.work_disagreements`, and the outlook's "csv" and "calendar".
    """
    outlook, sheet, plan = (
        json.loads(written[name]) for name in ("json", "sheet json", "plan json")
    )
    zone = ZoneInfo(outlook["fields"][0]["site"]["timezone"])
    told = {
        "message": written["message"],
        **{name: text for name, text in written.items() if name.endswith(".txt")},
        "sheet calendar": descriptions(written["sheet calendar"]),
    }
    return [
        *_hours(outlook, written["csv"]),
        *_same_cells("sheet csv", written["sheet csv"], sheet_steps(sheet)),
        *_same_cells("plan csv", written["plan csv"], plan["blocks"]),
        *_sheet_text(sheet, written["sheet text"], zone),
        *_water(sheet, plan, outlook),
        *(found for name, text in told.items() for found in _rates(name, text, sheet, zone)),
        *_all_rates(written["message"], sheet, zone),
        *_stopped(sheet, plan, outlook),
        *_sure(written["screen"], outlook, zone),
        *_areas(written["screen"], sheet),
        *_accounted(written, outlook, sheet, plan),
    ]


def rows_of(text: str) -> list[dict[str, str]]:
    """The rows of a CSV file below its remarks."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.DictReader(io.StringIO("\n".join(lines))))


def differs(cell: str, value: float | None, decimals: int | None = None) -> bool:
    """Whether a number that was written is not the value, as closely as it was written."""
    if value is None or cell in ("", "-"):
        return (value is None) != (cell in ("", "-"))
    digits = len(cell.partition(".")[2]) if decimals is None else decimals
    return abs(float(cell.replace(",", "")) - value) > 0.5 * 10.0**-digits + 1e-4


def _hours(outlook: dict, text: str) -> Iterator[str]:
    """Every figure of the outlook's rows is the JSON's, in the units of its heading."""
    hours = [(f["field"], hour) for f in outlook["fields"] for hour in f["hours"]]
    for row, (name, hour) in zip(rows_of(text), hours, strict=False):
        known = {column: hour[key] for column, key in HOUR_FIGURES.items()}
        for column, (key, times, plus) in TURNED.items():
            known[column] = None if hour[key] is None else hour[key] * times + plus
        for call, chance in (hour["chance"] or {}).items():
            known[f"chance_{call.replace(' ', '_')}"] = chance
        for part, moistures in (hour["layers"] or {}).items():
            for key, value in moistures.items():
                known[f"{part}_{key.replace('_wb', '_percent_wb')}"] = value
        if (row["field"], moment(row["start"])) != (name, moment(hour["start"])):
            yield f"csv: {row['field']} {row['start']} for {name} {hour['start']}"
        for column, value in known.items():
            if differs(row[column], value):
                yield f"csv: {column} of {name} at {hour['start']} is {row[column]}, not {value}"


def _same_cells(kind: str, text: str, items: list[dict]) -> Iterator[str]:
    """Every cell of a row is what its item has under that name."""
    for row, item in zip(rows_of(text), items, strict=False):
        for column, cell in row.items():
            key = column.replace("_percent_wb", "_wb")
            if key not in item:
                continue
            value = item[key]
            if isinstance(value, list):
                wrong = cell != "; ".join(value)
            elif isinstance(value, bool):
                wrong = cell != str(value).lower()
            elif isinstance(value, str):
                wrong = cell != value
            else:
                wrong = differs(cell, value)
            if wrong:
                yield f"{kind}: {column} at {item['start']} is {cell!r}, not {value!r}"


# The run sheet on the screen.

MARKED = re.compile(r"^(?!--)\S\S ")


def tables_of(text: str, above: str, fields: list[str]) -> Iterator[list[dict[str, str]]]:
    """The tables below a line, cut at the right edges of their headings; names stand left."""
    for part in text.split(f"\n{above}\n")[1:]:
        lines = part.split("\n")
        first = next(n for n, line in enumerate(lines) if line.startswith("-- "))
        heads = [[(m.end(), m[0]) for m in re.finditer(r"\S+", line)] for line in lines[:first]]
        edges = sorted({edge for line in heads for edge, _ in line})
        names = {edge: "".join(dict(line).get(edge, "") for line in heads) for edge in edges}
        body = lines[first : lines.index("", first)]
        inside = [each for each in fields if any(f" {each} " in line for line in body)]
        wide = max(map(len, inside), default=0)
        rows = [_cells(line, names, wide) for line in body if MARKED.match(line)]
        yield rows


def _cells(line: str, names: dict[int, str], wide: int) -> dict[str, str]:
    """The cells of a row below headings that end at these places; the widest name of a field."""
    cells, at = {}, 2
    for edge, name in names.items():
        past = max(edge, edge - len(name) + wide) if name == "field" else edge
        cells[name] = line[at:past].strip()
        at = past
    return cells


def _sheet_text(sheet: dict, text: str, zone: ZoneInfo) -> Iterator[str]:
    """Every step and every setting of a machine stands on the screen with its figures."""
    for above, figures, items_of in (
        ("What to do, in driving order:", STEP_FIGURES, _work_steps),
        ("Settings by the quarter hour, expected reading of the meter first:",
         SETTING_FIGURES, _settings),
    ):  # fmt: skip
        machines = [machine for machine in sheet["machines"] if items_of(machine)]
        fields = [field["field"] for field in sheet["fields"]]
        tables = [rows for rows in tables_of(text, above, fields) if rows]
        if len(tables) != len(machines):
            yield f"sheet text: {len(tables)} tables of {above!r} for {len(machines)} machines"
            continue
        for machine, rows in zip(machines, tables, strict=True):
            items, name = items_of(machine), machine["machine"]
            if len(rows) != len(items):
                yield f"sheet text: {len(rows)} rows for {len(items)} of {name}, {above!r}"
                continue
            for row, item in zip(rows, items, strict=True):
                for told in _row_differs(row, item, figures, zone):
                    yield f"sheet text: {name} at {item['start']}: {told}"


def _work_steps(machine: dict) -> list[dict]:
    return [step for step in machine["steps"] if step["kind"] == "work"]


def _settings(machine: dict) -> list[dict]:
    return [setting for step in _work_steps(machine) for setting in step["settings"]]


def _row_differs(row: dict[str, str], item: dict, figures: dict, zone: ZoneInfo) -> Iterator[str]:
    """What a row says otherwise than its item."""
    for head, key in (("from", "start"), ("to", "end")):
        if head in row and not re.fullmatch(clock(moment(item[key]), zone), row[head]):
            yield f"{head} {row[head]}, not {item[key]}"
    if "way" in row and not re.fullmatch(WAYS[item["how"]], row["way"]):
        yield f"way {row['way']}, not {item['how']}"
    if row.get("field", item.get("field")) != item.get("field"):
        yield f"field {row['field']}, not {item['field']}"
    for head, (key, decimals) in figures.items():
        cell = row.get(head, "")
        if cell and differs(cell, item[key], decimals):
            yield f"{head} {cell}, not {item[key]}"


# Water, from the baler's row to the rig's tank, to the plan, to what is dialed in the cab.


def _water(sheet: dict, plan: dict, outlook: dict) -> Iterator[str]:
    """A rig goes where balers work behind it, at their rate; its water is rate by hay."""
    behind = [step for _, step in balers_work(sheet) if step["how"] == "rig"]
    ahead = []
    for machine in sheet["machines"]:
        if machine["kind"] != "rig":
            continue
        steps, name = _work_steps(machine), machine["machine"]
        ahead += steps
        water = [step["water_gal"] for step in steps]
        if None not in water and abs(sum(water) - (machine["totals"]["water_gal"] or 0)) > 0.02 * (
            1 + len(water)
        ):
            yield f"sheet: {name} puts on {sum(water)} gal, its total is {machine['totals']}"
        for step in steps:
            if None not in (step["tons"], step["water_gal"]):
                worked = step["tons"] * step["water_gal_per_ton"]
                if abs(worked - step["water_gal"]) > 0.01 * worked + 0.1:
                    yield f"sheet: {name} at {step['start']}: {worked} gal, not {step['water_gal']}"
    for one, others, who in ((behind, ahead, "baler"), (ahead, behind, "rig")):
        for step in one:
            same = [o for o in others if o["field"] == step["field"]]
            if outside((moment(step["start"]), moment(step["end"])), spans_of(same)):
                yield f"sheet: the {who} is alone in {step['field']} at {step['start']}"
            for setting in step["settings"]:
                rates = {
                    each["water_gal_per_ton"]
                    for other in same
                    for each in other["settings"]
                    if each["start"] == setting["start"]
                }
                if rates and rates != {setting["water_gal_per_ton"]}:
                    yield f"sheet: {step['field']} at {setting['start']}: rates {rates}"
    turn = min(moment(hours["end"]) for hours in _nights(outlook))
    for block in plan["blocks"]:
        if block["how"] != "rig" or block["water_gal"] is None or moment(block["end"]) > turn:
            continue
        start, end = moment(block["start"]), moment(block["end"])
        own = [
            step
            for baler, step in balers_work(sheet)
            if (baler, step["field"], step["how"]) == (block["baler"], block["field"], "rig")
            and start <= moment(step["start"]) < end
        ]
        if not own or any(step["tons"] is None for step in own):
            continue
        put = sum(step["tons"] * step["water_gal_per_ton"] for step in own)
        if abs(put - block["water_gal"]) > 0.01 * put + 0.2:
            yield f"plan: {block['water_gal']} gal in {block['field']} at {start}, sheet {put}"


def _nights(outlook: dict) -> Iterator[dict]:
    """The first night of every field: until two in the afternoon, local."""
    for field in outlook["fields"]:
        now = moment(outlook["now"]).astimezone(ZoneInfo(field["site"]["timezone"]))
        ends = now.replace(hour=14, minute=0, second=0, microsecond=0)
        yield {"end": (ends if ends > now else ends + timedelta(days=1)).isoformat()}


TOLD_TIME = r"(?:\w{3} )?(?:noon|midnight|\d{1,2}(?::\d\d)? [ap]m)(?: (?:[A-Z]{3,4}))?"
TOLD_RATES = re.compile(rf"(?:rate|dial:) ((?:{TOLD_TIME} [\d.]+(?:, )?)+) gal(?:/| per )ton")
TOLD_RATE = re.compile(rf"({TOLD_TIME}) ([\d.]+)")


def unfolded(text: str) -> str:
    """A message whose parts are put together; anything else as it is."""
    return plain(re.sub(r"^\(\d+/\d+\) ", "", text, flags=re.MULTILINE))


def descriptions(text: str) -> str:
    """What the events of a calendar say below their names."""
    events = Calendar.from_ical(text).walk("VEVENT")
    return "\n".join(str(event.get("description", "")) for event in events)


def _rig_settings(sheet: dict) -> list[dict]:
    """Settings of the rigs, in order of time."""
    return [
        setting
        for machine in sheet["machines"]
        if machine["kind"] == "rig"
        for setting in _settings(machine)
    ]


def _rates(kind: str, text: str, sheet: dict, zone: ZoneInfo) -> Iterator[str]:
    """Every rate that is told is dialed then."""
    known = _rig_settings(sheet)
    for found in TOLD_RATES.finditer(unfolded(text)):
        for time, rate in TOLD_RATE.findall(found[1]):
            if not any(
                re.fullmatch(clock(moment(each["start"]), zone), time)
                and not differs(rate, each["water_gal_per_ton"], 1)
                for each in known
            ):
                yield f"{kind}: {rate} gal/ton at {time}, which no rig dials"


def _all_rates(text: str, sheet: dict, zone: ZoneInfo) -> Iterator[str]:
    """The message tells every change of a rate."""
    told = [
        pair
        for found in TOLD_RATES.finditer(unfolded(text))
        for pair in TOLD_RATE.findall(found[1])
    ]
    for machine in sheet["machines"]:
        if machine["kind"] != "rig":
            continue
        before: tuple[str, float] | None = None
        for step in _work_steps(machine):
            for each in step["settings"]:
                now = (step["field"], each["water_gal_per_ton"])
                if now != before and not any(
                    re.fullmatch(clock(moment(each["start"]), zone), time)
                    and not differs(rate, now[1], 1)
                    for time, rate in told
                ):
                    yield f"message: does not tell to dial {now} at {each['start']}"
                before = now


# What nobody may do, and how sure one may sound.


def _stopped(sheet: dict, plan: dict, outlook: dict) -> Iterator[str]:
    """No machine works in an hour of a stop, dry or not."""
    work = [("sheet", step) for step in sheet_steps(sheet) if step["kind"] == "work"]
    work += [("plan", block) for block in plan["blocks"]]
    for field in outlook["fields"]:
        for hour in field["hours"]:
            if not hour["stop"]:
                continue
            begin = moment(hour["start"])
            for kind, item in work:
                start, end = moment(item["start"]), moment(item["end"])
                shared = start < begin + timedelta(hours=1) and end > begin
                if item["field"] == field["field"] and shared:
                    yield f"{kind}: work in {field['field']} at {start}, a stop at {begin}"


def _sure(screen: str, outlook: dict, zone: ZoneInfo) -> Iterator[str]:
    """Tenths beside the work of a whole window are that window's chances.

    Not where a baler is named: another one has other chances than the field's own.
    """
    windows = [window for field in outlook["fields"] for window in field["windows"]]
    now = moment(outlook["now"])
    for row in ROW.finditer(screen):
        if re.search(r"\w: ", row[0]):
            continue
        told = int(row[3]) / 10, int(row[4]) / 10
        same = [
            (window["good_throughout"], window["half_good"])
            for window in windows
            if _is_row(moment(window["start"]), moment(window["end"]), now, row, zone)
        ]
        if same and not any(_in_tenths(told, chances) for chances in same):
            yield f"screen: {row[0].strip()!r}, the window's chances are {same}"


def _in_tenths(told: tuple[float, float], chances: tuple[float | None, float | None]) -> bool:
    """Whether chances were told in the tenths next to them."""
    pairs = zip(told, chances, strict=True)
    return all(chance is not None and abs(tenths - chance) < 0.0501 for tenths, chance in pairs)


DONE_TONIGHT = re.compile(r"^(\S+), ([\d,]+) of [\d,]+ acres\b", re.MULTILINE)


def _areas(screen: str, sheet: dict) -> Iterator[str]:
    """As much of a field is done tonight on the screen as on the sheets of its balers."""
    for found in DONE_TONIGHT.finditer(screen):
        steps = [step for _, step in balers_work(sheet) if step["field"] == found[1]]
        acres = [step["acres"] for step in steps]
        if None not in acres and abs(sum(acres) - float(found[2].replace(",", ""))) > 0.6:
            yield f"screen: {found[0]!r}, on the sheets {sum(acres):.1f} acres"


def _is_row(
    start: datetime, end: datetime, now: datetime, row: re.Match[str], zone: ZoneInfo
) -> bool:
    """Whether a row of the screen is from and to these times."""
    begins = start <= now if row[1] == "now" else re.fullmatch(clock(start, zone), row[1])
    return bool(begins) and bool(re.fullmatch(clock(end, zone), row[2]))


PLANNED_EVENT = re.compile(r"(?:INVENTED SAMPLE: )?(?:On dew|With the rig|Dry)\b")
UNKNOWN_EVENT = re.compile(r"(?:INVENTED SAMPLE: )?Unknown: ")


def _accounted(written: dict[str, str], outlook: dict, sheet: dict, plan: dict) -> Iterator[str]:
    """An event is a window, a maybe or work of its own field, in the time of that."""
    maybe = {field["field"]: spans_of(field["maybe"]) for field in outlook["fields"]}
    go = {field["field"]: spans_of(field["windows"]) for field in outlook["fields"]}
    unknown = {field["field"]: spans_of(field["unknown"]) for field in outlook["fields"]}
    planned = _by_field(plan["blocks"])
    driven = _by_field(step for step in sheet_steps(sheet) if step["kind"] != "wait")
    for name in ("calendar", "plan calendar", "sheet calendar", "evening/night.ics"):
        for event in Calendar.from_ical(written[name]).walk("VEVENT"):
            span = (event.decoded("dtstart"), event.decoded("dtend"))
            place = str(event["location"]).rsplit(", ", 1)[-1]
            summary = str(event["summary"])
            if "probe first" in summary:
                allowed = maybe
            elif UNKNOWN_EVENT.match(summary):
                allowed = unknown
            elif name == "sheet calendar":
                allowed = driven
            else:
                allowed = planned if PLANNED_EVENT.match(summary) else go
            if outside(span, allowed.get(place, [])):
                yield f"{name}: {summary!r} from {span[0]} to {span[1]}, which nobody else tells"
            if place not in summary:
                yield f"{name}: {summary!r} lies in {place}"


def _by_field(items: Iterable[dict]) -> dict[str, list[tuple[datetime, datetime]]]:
    """When there is work in every field."""
    found: dict[str, list[tuple[datetime, datetime]]] = {}
    for item in items:
        found.setdefault(item["field"], []).append((moment(item["start"]), moment(item["end"])))
    return {name: joined(spans) for name, spans in found.items()}
