"""The checker of `agree` over work: run sheets, plan, evening folder, messages, live pages.

It reads what was written as anybody would, in English and US units, and says where one
output differs from another or from itself. It uses none of the package's code.
"""

from __future__ import annotations

import csv
import html
import io
import json
import re
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from icalendar import Calendar
from support.agree import disagreements, moment

WORK = {"dew", "rig", "dry"}
MESSAGE_WAY = {"dew": "dew", "rig": "rig", "dry": "dry"}
PAGE_WAY = {"dew": "on dew", "rig": "with the rig", "dry": "dry"}
TENTHS = re.compile(r"good throughout (\d+) in 10, half of it (\d+) in 10")
PART = 160
TON_T = 0.90718474  # a short ton (NIST Handbook 44)

Span = tuple[datetime, datetime]


def work_disagreements(written: dict[str, str]) -> list[str]:
    """What does not agree, in words; empty where all does.

    Parameters
    ----------
    written
        "json", "screen" and "page" of the outlook; "sheet json", "sheet csv", "sheet text",
        "sheet calendar", "sheet page", "plan json", "plan csv", "plan text",
        "plan calendar", "plan page"; "message"; every file of the evening as "evening/NAME".
    """
    outlook, sheet, plan = (
        json.loads(written[name]) for name in ("json", "sheet json", "plan json")
    )
    zone = ZoneInfo(next(iter(outlook["fields"]))["site"]["timezone"])
    return [
        *_steps(outlook, sheet),
        *_allowed(outlook, sheet),
        *_sums(sheet),
        *_plan_within(plan, outlook),
        *_sheet_of_plan(sheet, plan, outlook),
        *_amounts(sheet, plan, json.loads(written["evening/night.json"])),
        *_rows("sheet csv", written["sheet csv"], sheet_steps(sheet)),
        *_rows("plan csv", written["plan csv"], plan["blocks"]),
        *_events("sheet calendar", written["sheet calendar"], work_of(sheet), outlook),
        *_events("plan calendar", written["plan calendar"], spans_of(plan["blocks"]), outlook),
        *_said("plan", plan["headline"], written["plan text"], written["plan page"]),
        *_plan_page(plan["blocks"], written["plan page"], zone),
        *_sheet_page(sheet["machines"], written["sheet page"], zone),
        *_messages(written["message"], sheet, zone),
        *_evening(written, outlook, sheet, zone),
        *_screen(written["screen"], plan, zone),
        *_tonight(written["screen"], written["page"]),
    ]


MAIN = '<main id="page">'
STAND = re.compile(r'<p class="pale">(.*?)</p>\s*</div>\s*</div>\s*<main', re.DOTALL)


def served_disagreements(pages: dict[str, str], written: dict[str, str]) -> list[str]:
    """What the pages of a running server say otherwise than all that is written of its night.

    Parameters
    ----------
    pages
        As they were served, by name.
    written
        As for `work_disagreements` and `agree.disagreements` together.
    """
    sheet = json.loads(written["sheet json"])
    zone = ZoneInfo(json.loads(written["json"])["fields"][0]["site"]["timezone"])
    now = clock(moment(sheet["now"]), zone)
    # What changed is told above and has figures of its own, also those of before.
    main = {name: page[page.index(MAIN) :] for name, page in pages.items()}
    served = {**written, "page": main[""], "plan page": main["plan.html"]}
    found = [*disagreements(served), *work_disagreements(served)]
    for number, machine in enumerate(sheet["machines"], 1):
        found += _sheet_page([machine], main[f"sheet-{number}.html"], zone)
    found += [
        f"{name or 'night'}: does not say that it stands at {sheet['now']}"
        for name, page in pages.items()
        if not re.search(now, page_words(STAND.search(page)[1]))
    ]
    return found


def _plan_page(blocks: list[dict], page: str, zone: ZoneInfo) -> Iterator[str]:
    """Every block is a row of the page: from, to, where."""
    rows = [page_words(" | ".join(CELL.findall(row))) for row in ROW_OF_TABLE.findall(page)]
    for block in blocks:
        start, end = (clock(moment(block[key]), zone) for key in ("start", "end"))
        wanted = rf"{start} to {end} \|.*\b{re.escape(block['field'])}\b.*"
        if not any(re.fullmatch(wanted, row) for row in rows):
            yield f"plan page: no row of {block['field']} from {block['start']} to {block['end']}"


WAYS = {"dew": "on dew|dew", "rig": "with the rig|rig", "dry": "dry"}
WORK_TABLE = re.compile(r'<table class="work">.*?</table>', re.DOTALL)
ROW_OF_TABLE = re.compile(r"<tr>(.*?)</tr>", re.DOTALL)
CELL = re.compile(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", re.DOTALL)


def _sheet_page(machines: list[dict], page: str, zone: ZoneInfo) -> Iterator[str]:
    """Every step of a machine is a row of its page: when, where, how, how many tons."""
    tables = WORK_TABLE.findall(page)
    if len(tables) != len(machines):
        yield f"sheet page: {len(tables)} tables for {len(machines)} machines"
        return
    for machine, table in zip(machines, tables, strict=True):
        heads, *rows = [[page_words(cell) for cell in CELL.findall(row)] for row in
                        ROW_OF_TABLE.findall(table.split("<tfoot>")[0])]  # fmt: skip
        rows = [row for row in rows if len(row) > 1]
        steps, name = machine["steps"], machine["machine"]
        if len(rows) != len(steps):
            yield f"sheet page: {len(rows)} rows for {len(steps)} steps of {name}"
            continue
        for row, step in zip(rows, steps, strict=True):
            start, end = (clock(moment(step[key]), zone) for key in ("start", "end"))
            if not re.fullmatch(rf"{start}(?: to {end})?", row[0]):
                yield f"sheet page: {name} at {row[0]}, not from {step['start']} to {step['end']}"
            if step["kind"] != "work":
                continue
            # A column in which every row would be the same is left out.
            said = dict(zip(heads, row, strict=True))
            if said.get("field", step["field"]) != step["field"] or not re.fullmatch(
                WAYS[step["how"]], said.get("way", step["how"])
            ):
                yield f"sheet page: {name} {row[1:3]} at {step['start']}"
            if "hay ton" in said and abs(float(said["hay ton"]) - step["tons"]) > 0.051:
                yield f"sheet page: {name} at {row[0]} has {said}, not {step['tons']} tons"


def spans_of(items: Iterable[dict]) -> list[Span]:
    """Start and end of each."""
    return [(moment(item["start"]), moment(item["end"])) for item in items]


def sheet_steps(sheet: dict) -> list[dict]:
    """Every step of every machine."""
    return [step for machine in sheet["machines"] for step in machine["steps"]]


def work_of(sheet: dict) -> list[Span]:
    """The work of all machines."""
    return spans_of(step for step in sheet_steps(sheet) if step["kind"] == "work")


def balers_work(sheet: dict) -> list[tuple[str, dict]]:
    """The work of the balers, each with the machine's name."""
    return [
        (machine["machine"], step)
        for machine in sheet["machines"]
        if machine["kind"] == "baler"
        for step in machine["steps"]
        if step["kind"] == "work"
    ]


def joined(spans: Iterable[Span]) -> list[Span]:
    """Spans in order, those that touch put together."""
    found: list[Span] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def outside(span: Span, allowed: list[Span]) -> bool:
    """Whether a part of a span lies outside all of these."""
    return not any(start <= span[0] and span[1] <= end for start, end in joined(allowed))


def _steps(outlook: dict, sheet: dict) -> Iterator[str]:
    """Steps of a machine come one after the other, none before now."""
    now = moment(sheet["now"])
    if now != moment(outlook["now"]):
        yield "sheet: another now"
    for machine in sheet["machines"]:
        name = machine["machine"]
        busy = [s for s in machine["steps"] if s["kind"] in ("work", "drive", "set_up")]
        spans = spans_of(busy)
        for start, end in spans_of(machine["steps"]):
            if not now <= start <= end:
                yield f"sheet: {name} has a step from {start} to {end}, now is {now}"
        for (_, end), (start, _) in pairwise(sorted(spans)):
            if start < end:
                yield f"sheet: {name} is in two places at {start}"


def _allowed(outlook: dict, sheet: dict) -> Iterator[str]:
    """Balers work where the hay allows it, never in a stop or in what nobody knows."""
    fields = {field["field"]: field for field in outlook["fields"]}
    for name, step in balers_work(sheet):
        field, span = fields[step["field"]], (moment(step["start"]), moment(step["end"]))
        for run in field["unknown"]:
            if max(span[0], moment(run["start"])) < min(span[1], moment(run["end"])):
                yield f"sheet: {name} works in {step['field']} at {span[0]}, which nobody knows"
        for hour in field["hours"]:
            begin = moment(hour["start"])
            shared = min(span[1], begin + timedelta(hours=1)) - max(span[0], begin)
            if hour["call"] in ("no data", "not cured") and shared >= timedelta(minutes=45):
                yield f"sheet: {name} works in {step['field']} at {span[0]}: {hour['call']}"
        if step["how"] != "dry" and outside(span, spans_of(field["windows"])):
            yield f"sheet: {name} works in {step['field']} from {span[0]} to {span[1]}, no window"


def _sums(sheet: dict) -> Iterator[str]:
    """Totals are the sums of their steps; hours are their lengths."""
    for machine in sheet["machines"]:
        work = [step for step in machine["steps"] if step["kind"] == "work"]
        total, name = machine["totals"], machine["machine"]
        hours = sum(((b - a) / timedelta(hours=1) for a, b in spans_of(work)), 0.0)
        if abs(hours - total["hours"]) > 0.01:
            yield f"sheet: {name} works {hours} h, its total is {total['hours']}"
        parts = total["dew_hours"] + total["rig_hours"] + total["dry_hours"]
        if abs(parts - total["hours"]) > 0.01:
            yield f"sheet: hours of {name} by way do not add up"
        for key in ("tons", "acres"):
            known = [step[key] for step in work]
            if (
                work
                and None not in known
                and abs(sum(known) - (total[key] or 0)) > 0.02 * len(work)
            ):
                yield f"sheet: {key} of {name} are {sum(known)}, its total is {total[key]}"
    by_field: dict[str, float] = {}
    for _, step in balers_work(sheet):
        by_field[step["field"]] = by_field.get(step["field"], 0.0) + (step["tons"] or 0.0)
    for field in sheet["fields"]:
        known = field["totals"]["tons"]
        if known is not None and abs(by_field.get(field["field"], 0.0) - known) > 0.2:
            yield f"sheet: {field['field']} has {known} tons, its balers {by_field}"


def _plan_within(plan: dict, outlook: dict) -> Iterator[str]:
    """The plan's blocks: after now, within windows and visits, hay no more than there is."""
    now = moment(plan["now"])
    fields = {field["field"]: field for field in outlook["fields"]}
    for block in plan["blocks"]:
        span = (moment(block["start"]), moment(block["end"]))
        if not now <= span[0] < span[1] <= moment(plan["end"]):
            yield f"plan: work from {span[0]} to {span[1]}, now is {now}"
        if block["how"] != "dry" and outside(span, spans_of(fields[block["field"]]["windows"])):
            yield f"plan: {block['baler']} in {block['field']} at {span[0]}, no window"
    by_machine: dict[str, list[Span]] = {}
    for block, span in zip(plan["blocks"], spans_of(plan["blocks"]), strict=True):
        by_machine.setdefault(f"baler {block['baler']}", []).append(span)
    clashes = plan["source"] == "windows"  # the hours of go, where much is not known; it says so
    for name, spans in by_machine.items() if not clashes else ():
        for (_, end), (start, _) in pairwise(sorted(spans)):
            if start < end:
                yield f"plan: {name} is in two places at {start}"
    for field in plan["fields"]:
        if field["hay_t"] is None:
            continue
        baled = sum(b["hay_t"] or 0 for b in plan["blocks"] if b["field"] == field["field"])
        if baled > field["hay_t"] * (1 + 1e-6) + 1e-3:
            yield f"plan: {baled} t baled of {field['field']}, which has {field['hay_t']}"
        if field["baled_t"] is not None and abs(baled - field["baled_t"]) > 0.01:
            yield f"plan: {field['field']} {field['baled_t']} t, its blocks {baled}"
        if field["left_t"] is not None and abs(field["hay_t"] - baled - field["left_t"]) > 0.01:
            yield f"plan: {field['field']} has {field['left_t']} t left of {field['hay_t']}"


def _sheet_of_plan(sheet: dict, plan: dict, outlook: dict) -> Iterator[str]:
    """The balers work in the plan's blocks and nowhere else."""
    for name, step in balers_work(sheet):
        blocks = [b for b in plan["blocks"] if (b["baler"], b["field"]) == (name, step["field"])]
        if outside((moment(step["start"]), moment(step["end"])), spans_of(blocks)):
            yield f"sheet: {name} in {step['field']} at {step['start']}, the plan has no such work"


def _amounts(sheet: dict, plan: dict, form: dict) -> Iterator[str]:
    """Tons and acres of the plan's blocks are those of the balers' steps in them."""
    turn = max(moment(field["turn"]) for field in form["fields"])
    for block in plan["blocks"]:
        start, end = moment(block["start"]), moment(block["end"])
        if end > turn or block["hay_t"] is None:
            continue
        steps = [
            step
            for name, step in balers_work(sheet)
            if (name, step["field"], step["how"]) == (block["baler"], block["field"], block["how"])
            and start <= moment(step["start"]) < end
        ]
        if not steps:
            yield f"plan: {block['baler']} in {block['field']} at {start}, on no sheet"
            continue
        ends = (moment(steps[0]["start"]), max(moment(step["end"]) for step in steps))
        if ends != (start, end):
            yield f"plan: {block['field']} from {start} to {end}, on the sheet {ends}"
        for key, ours in (("tons", block["hay_t"] / TON_T), ("acres", block["area_acres"])):
            theirs = sum(step[key] or 0.0 for step in steps)
            if ours is not None and abs(theirs - ours) > 0.02 * len(steps) + 0.01:
                yield f"plan: {ours} {key} in {block['field']} at {start}, on the sheet {theirs}"


def _rows(kind: str, text: str, items: list[dict]) -> Iterator[str]:
    """Rows are the items, in order."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    if len(rows) != len(items):
        yield f"{kind}: {len(rows)} rows for {len(items)} items"
        return
    for row, item in zip(rows, items, strict=True):
        for key in ("start", "end", "field", "how"):
            if row[key] != (item[key] or ""):
                yield f"{kind}: {key} {row[key]} of {item['start']}"


def _events(kind: str, text: str, spans: list[Span], outlook: dict) -> Iterator[str]:
    """Every piece of work lies in an event; nothing that is over has one."""
    events = [
        (event.decoded("dtstart"), event.decoded("dtend"))
        for event in Calendar.from_ical(text).walk("VEVENT")
    ]
    for span in spans:
        if not any(start <= span[0] and span[1] <= end for start, end in events):
            yield f"{kind}: no event from {span[0]} to {span[1]}"
    now = moment(outlook["now"])
    yield from (f"{kind}: an event that is over, {start}" for start, end in events if end <= now)


def plain(text: str) -> str:
    """Words with single spaces."""
    return " ".join(re.sub(r"^- ", "", text, flags=re.MULTILINE).replace("\xa0", " ").split())


def page_words(page: str) -> str:
    """What a page says."""
    bare = re.sub(r"<(style|script)\b.*?</\1>|<[^>]+>", " ", page, flags=re.DOTALL)
    return plain(html.unescape(bare)).replace(" ,", ",").replace(" .", ".")


def _said(kind: str, headline: str, text: str, page: str) -> Iterator[str]:
    """Text and page say the headline's numbers."""
    for sentence in re.split(r"(?<=\.) ", plain(headline)):
        wanted = sentence.split(": ", 1)[-1].rstrip(".")
        if not re.search(r"\d", wanted):
            continue
        for where, found in (("text", plain(text)), ("page", page_words(page))):
            if wanted.lower() not in found.lower():
                yield f"{kind} {where}: does not say {wanted!r}"


def clock(time: datetime, zone: ZoneInfo) -> str:
    """A pattern of the time of day as people say it, whatever stands around it."""
    local = time.astimezone(zone)
    if (local.hour, local.minute) == (0, 0):
        return r"(?:\w{3} )?(?:midnight|12 am)(?: [A-Z]{3,4})?"
    if (local.hour, local.minute) == (12, 0):
        return r"(?:\w{3} )?(?:noon|12 pm)(?: [A-Z]{3,4})?"
    minutes = f":{local.minute:02d}" if local.minute else ""
    hour = f"{(local.hour - 1) % 12 + 1}{minutes} {'am' if local.hour < 12 else 'pm'}"
    return rf"(?:\w{{3}} )?{hour}(?: [A-Z]{{3,4}})?"


def stretches(sheet: dict) -> list[tuple[str, str, str, datetime, datetime]]:
    """Baler, field, way, start and end of work without a pause but for a fill."""
    return [
        (name, step["field"], step["how"], moment(step["start"]), moment(step["end"]))
        for name, step in balers_work(sheet)
    ]


def _messages(text: str, sheet: dict, zone: ZoneInfo) -> Iterator[str]:
    """Parts are numbered and short; what they tell to do is what the sheets say."""
    lines = text.strip().splitlines()
    for number, line in enumerate(lines, 1):
        if not line.startswith(f"({number}/{len(lines)}) ") or len(line) > PART:
            yield f"message: part {number} of {len(lines)} is {line[:20]!r}, {len(line)} letters"
    whole = " ".join(re.sub(r"^\(\d+/\d+\) ", "", line) for line in lines)
    told = re.findall(r" (dew|rig|dry)(?=[;.])", whole)
    work = stretches(sheet)
    for baler, field, way, start, end in work:
        begins = rf"{re.escape(field)} {clock(start, zone)} to [^;]*? {MESSAGE_WAY[way]}[;.]"
        ends = rf"{re.escape(field)} [^;]*? to {clock(end, zone)} {MESSAGE_WAY[way]}[;.]"
        if not re.search(begins, whole) and not any(
            other[:3] == (baler, field, way) and other[4] <= start for other in work
        ):
            yield f"message: does not say that {baler} begins in {field} at {start}"
        if not re.search(ends, whole) and not any(
            other[:3] == (baler, field, way) and other[3] >= end for other in work
        ):
            yield f"message: does not say that {baler} ends in {field} at {end}"
    if told and not work:
        yield "message: tells of work that no sheet has"
    if not work and re.search(r": \w+ [^;.]*? to [^;.]*? (?:dew|rig|dry)[;.]", whole):
        yield "message: work without a sheet"


def _evening(written: dict[str, str], outlook: dict, sheet: dict, zone: ZoneInfo) -> Iterator[str]:
    """The folder says what outlook and sheets say."""
    form = json.loads(written["evening/night.json"])
    if form["now"] != outlook["now"] or form["state"] != "planned":
        yield "evening: another now or state"
    balers = balers_work(sheet)
    for told, field in zip(form["fields"], outlook["fields"], strict=True):
        name, turn = field["field"], moment(told["turn"])
        for kind, mine in (("go", "windows"), ("maybe", "maybe")):
            spans = joined(s for s in spans_of(field[mine]) if s[0] < turn)
            clipped = [(start, min(end, turn)) for start, end in spans]
            if [(s, min(e, turn)) for s, e in spans_of(told[kind])] != clipped:
                yield f"evening: {kind} of {name} {told[kind]} is not {clipped}"
        own = joined(spans_of(step for _, step in balers if step["field"] == name))
        pieces = spans_of(step for _, step in balers if step["field"] == name)
        for start, end in spans_of(told["work"]):
            if start not in {s for s, _ in pieces} or end not in {e for _, e in pieces}:
                yield f"evening: work in {name} at {start} that no sheet has"
        for span in own:
            if not any(s <= span[0] < e for s, e in spans_of(told["work"])):
                yield f"evening: no work in {name} at {span[0]}"
    home = page_words(written["evening/index.html"])
    for field in form["fields"]:
        for each in field["work"]:
            start, end = (clock(moment(each[key]), zone) for key in ("start", "end"))
            if not re.search(rf"{start} to {end} {PAGE_WAY[each['way']]}", home, re.IGNORECASE):
                yield f"evening: the page does not say {each}"
    behind = form["outlook"]
    for one, other in zip(behind["fields"], outlook["fields"], strict=True):
        words = [[(h["start"], h["call"], h["advice"]) for h in f["hours"]] for f in (one, other)]
        if words[0] != words[1]:
            yield f"evening: other hours of {one['field']}"
    if written["evening/message.txt"].strip() != written["message"].strip():
        yield "evening: another message"
    yield from _sure(written["screen"], form, written["evening/index.html"], zone)


TIME = r"(now|(?:\w{3} )?(?:noon|midnight|\d{1,2}(?::\d\d)? [ap]m)(?: (?:[A-Z]{3,4}|[+-]\d{2,4}))?)"
ROW = re.compile(rf"^  {TIME} +{TIME} .*?(\d+) in 10 +(\d+) in 10$", re.MULTILINE)


def _tonight(screen: str, page: str) -> Iterator[str]:
    """The page's first table has every row of the screen: from, to, how sure."""
    table = ROW_OF_TABLE.findall(page[: page.index("</table>")])
    cells = [[page_words(cell) for cell in CELL.findall(row)] for row in table]
    # Work that goes on the next night stops "on" there, which the screen says as well.
    rows = {(row[0], row[1].removesuffix(" on"), *row[-2:]) for row in cells if len(row) > 3}
    for found in ROW.finditer(screen):
        row = (found[1], found[2], f"{found[3]} in 10", f"{found[4]} in 10")
        if row not in rows:
            yield f"page: tonight's work has no {row}"


def _sure(screen: str, form: dict, page: str, zone: ZoneInfo) -> Iterator[str]:
    """Work from and to the same minutes is as sure on the first screen as on the evening's page."""
    rows = [(m[1], m[2], m[3], m[4]) for m in ROW.finditer(screen)]
    home = page_words(page)
    for field in form["fields"]:
        for each in field["work"]:
            start, end = (clock(moment(each[key]), zone) for key in ("start", "end"))
            of_screen = {
                row[2:]
                for row in rows
                if re.fullmatch("now" if each["start"] == form["now"] else start, row[0])
                and re.fullmatch(end, row[1])
            }
            said = re.findall(
                rf"{start} to {end} {PAGE_WAY[each['way']]}[^;]*; {TENTHS.pattern}",
                home,
                re.IGNORECASE,
            )
            if of_screen and said and not set(said) & of_screen:
                yield f"evening: {each} is {said} sure, on the screen {of_screen}"


def _screen(screen: str, plan: dict, zone: ZoneInfo) -> Iterator[str]:
    """The work on the screen is the plan's, where the screen speaks of a plan."""
    if "The plan, as the machines cannot" not in screen:
        return
    rows = [(m[1], m[2]) for m in ROW.finditer(screen)]
    for start, end in rows:
        if (
            not any(
                (start == "now" or re.fullmatch(clock(s, zone), start))
                and re.fullmatch(clock(e, zone), end)
                for s, e in spans_of(plan["blocks"])
            )
            and "pm" in end + start
        ):
            yield f"screen: work from {start} to {end} that the plan has not"
