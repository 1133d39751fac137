"""A score of past outlooks: text, JSON (schema ``hayweather/score/1``) and CSV."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from hayweather.learning.keep import LAYER_KINDS
from hayweather.learning.score import (
    Bin,
    DepthSample,
    LayerError,
    MoistureError,
    RuleScore,
    Score,
)
from hayweather.show.layout import (
    WIDEST_PROSE,
    bulleted_sentences,
    bullets,
    columns_under,
    paragraphs,
    table_lines,
    wrapped,
)
from hayweather.show.outlook_data import LAYER_NAMES as LAYERS
from hayweather.show.table import Column, Document, Json, Table, csv_text
from hayweather.show.voice import Voice, safety_texts, shown_safety


@dataclass(frozen=True)
class Scored:
    """A score and for whom it is shown."""

    score: Score
    farm: str
    invented: bool = False


def _counted(name: str) -> Callable[[RuleScore], int | None]:
    """A count of hours; None where the rule had no answer."""
    return lambda rule: getattr(rule.counts, name, None)


def _errors(group: str, which: str) -> tuple[Column, ...]:
    """Errors of starts or of ends."""
    return (
        Column("count", "Times set beside each other", f"{which}.count", kind="count",
               group=group),
        Column("bias", "Mean of said less happened", f"{which}.bias_min", group=group, unit="min"),
        Column("mean_absolute", "Mean size of it", f"{which}.mean_min", group=group, unit="min"),
    )  # fmt: skip


RULES = Table(
    (
        Column("rule", "Which way of saying it; the outlook first", "name", kind="text"),
        Column("hits", "Hours said and baled", _counted("hits"), kind="count", null=True),
        Column("misses", "Hours baled and not said", _counted("misses"), kind="count", null=True),
        Column("false_alarms", "Hours said and not fit", _counted("false_alarms"), kind="count",
               null=True),
        Column("false_alarms_too_wet", "Of these, too wet", kind="count", null=True,
               value=lambda rule: None if rule.counts is None else rule.too_wet),
        Column("quiet", "Hours not said and not fit", _counted("quiet"), kind="count", null=True),
        Column("wrong", "Hours said wrongly", _counted("wrong"), kind="count", null=True),
        Column("brier", "Brier score", unit="1"),
        *_errors("start_minutes", "start"),
        *_errors("end_minutes", "end"),
    ),
    "One way of saying which hours bale on dew; null where it had no answer.",
)  # fmt: skip
MOISTURE = Table(
    (
        Column("hour", "Clock hour; null for all", kind="count", null=True),
        Column("readings", "Readings in it", "count", kind="count"),
        Column("bias_wb", "Mean of said less read, wet basis", unit="%"),
        Column("rms_wb", "Root mean square of it, wet basis", unit="%"),
    ),
    "Errors of moisture in one clock hour.",
)
RELIABILITY = Table(
    (
        Column("from", "Chances from this", "low", unit="1"),
        Column("to", "to below this", "high", unit="1"),
        Column("hours", "Hours of which that was said", kind="count"),
        Column("said", "Mean chance said", unit="1"),
        Column("happened", "How often it came true", unit="1"),
    ),
    "Hours of which the same chance of natural dew was said.",
)


def _in_layer(which: str, number: int, sample: DepthSample) -> float:
    """What was read or said of a layer, or the difference."""
    return float(getattr(sample, which)[number])


SAMPLES = Table(
    (
        Column("field", "Name of the field", kind="text"),
        Column("time", "When the first of it was read", kind="time", index=True),
        Column("kind", "What was read: whole, leaf or stem", kind="text",
               value=lambda sample: LAYER_KINDS[sample.kind],
               choices=tuple(LAYER_KINDS.values())),
        *(
            Column(f"{word}_wb", f"{help_} of the {layer}, wet basis",
                   partial(_in_layer, which, number), unit="%", group=layer)
            for number, layer in enumerate(LAYERS)
            for which, word, help_ in (
                ("read", "read", "Moisture read"),
                ("said", "said", "What the outlook had said"),
                ("off", "difference", "Said less read"),
            )
        ),
        Column("without", 'Empty, or why nothing stands beside it: no "outlook" was made before, '
               'or it held no "layers"', kind="text", choices=("", "outlook", "layers")),
    ),
    "What was read by layer at one time, beside the last outlook made before.",
    own_voice=lambda sample, voice: replace(voice, timezone=sample.timezone),
)  # fmt: skip
BY_LAYER = Table(
    (
        Column("layer", "Third of the depth", kind="text", choices=LAYERS),
        Column("kind", "What was read: whole, leaf or stem", kind="text",
               value=lambda error: LAYER_KINDS[error.kind],
               choices=tuple(LAYER_KINDS.values())),
        Column("samples", "Samples beside which an outlook stands", "count", kind="count"),
        Column("bias_wb", "Mean of said less read, wet basis", unit="%"),
        Column("rms_wb", "Root mean square of it, wet basis", unit="%"),
    ),
    "Errors of moisture in one layer.",
)  # fmt: skip
SCORE = Document(
    "hayweather/score/1",
    Table(
        (
            Column("farm", "Name of the farm", kind="text"),
            Column("invented", "True for a made-up sample", kind="truth"),
            Column("outlooks", "Outlooks kept", "score.outlooks", kind="count"),
            Column("hours", "Logged hours that they spoke of", "score.hours", kind="count"),
            Column("hours_without_outlook", "Logged hours that none spoke of", "score.unspoken",
                   kind="count"),
            Column("nights", "Nights with an hour scored", "score.nights", kind="count"),
            Column("times_baled", "Times that hay was baled on dew", "score.bouts", kind="count"),
            Column("lead_hours", "Mean time from outlook to hour", "score.lead_h", unit="h"),
            Column("rules", "The outlook beside simpler rules", "score.rules", kind="rows",
                   of=RULES),
            Column("moisture", "Errors of moisture by clock hour", "score.moisture", kind="rows",
                   of=MOISTURE),
            Column("reliability", "Chances beside what came true", "score.reliability",
                   kind="rows", of=RELIABILITY),
            Column("samples", "What was read by layer, beside what was said", "score.samples",
                   kind="rows", of=SAMPLES),
            Column("layers", "Errors of moisture by layer", "score.layers", kind="rows",
                   of=BY_LAYER),
            Column("held", "Starts of baling within the range shown", "score.starts_held",
                   kind="count", group="starts_in_range"),
            Column("shown", "Starts that had a range", "score.starts_timed", kind="count",
                   group="starts_in_range"),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: safety_texts(voice)),
        ),
        "Past outlooks against what happened (hayweather score).",
    ),
)  # fmt: skip
COLUMNS = ("table", "row", "measure", "value")


def score_json(score: Score, voice: Voice, farm: str, *, invented: bool = False) -> str:
    """The score as JSON text; null where a number is not known."""
    return SCORE.text(Scored(score, farm, invented), voice)


def score_form(score: Score, voice: Voice, farm: str, *, invented: bool = False) -> Json:
    """The score as plain dictionaries and lists."""
    return SCORE.form(Scored(score, farm, invented), voice)


def score_csv(score: Score, voice: Voice, farm: str, *, raw: bool = False) -> str:
    """All numbers, one a row: table, row, measure, value; empty where not known."""
    return csv_text(COLUMNS, _numbers(score_form(score, voice, farm)), raw=raw)


def _numbers(form: Json) -> Iterator[tuple[str, str, str, object]]:
    """The numbers of a form, tables one after another."""
    for name in ("outlooks", "hours", "hours_without_outlook", "nights", "times_baled"):
        yield "all", "", name, form[name]
    yield "all", "", "lead_hours", form["lead_hours"]
    names = {"rules": "rule", "moisture": "hour", "reliability": "from"}
    for table, key in names.items():
        for row in form[table]:
            label = "all" if row[key] is None else str(row[key])
            for measure, value in _flat({k: v for k, v in row.items() if k != key}):
                yield table, label, measure, value
    for row in form["samples"]:
        label = f"{row['field']} {row['time']} {row['kind']}"
        for measure, value in _flat({layer: row[layer] for layer in LAYERS}):
            yield "samples", label, measure, value
    for row in form["layers"]:
        for measure in ("samples", "bias_wb", "rms_wb"):
            yield "layers", f"{row['layer']} {row['kind']}", measure, row[measure]
    for measure, value in form["starts_in_range"].items():
        yield "starts_in_range", "", measure, value


def _flat(row: Json) -> Iterator[tuple[str, object]]:
    """The numbers of one row; those of a group with its name before them."""
    for name, value in row.items():
        if isinstance(value, dict):
            yield from ((f"{name}_{part}", number_) for part, number_ in value.items())
        else:
            yield name, value


UNKNOWN = "-"
FEW_HOURS = 100  # fewer in a row of chances tell little
CALLS = ("rule", "hits", "misses", "false", "wet", "wrong", "brier")
TIMES = ("rule", "bouts", "start_bias", "start_error", "end_bias", "end_error")
MOISTURES = ("hour", "readings", "bias", "error")
CHANCES = ("chance", "hours", "said", "happened")
DEPTHS = ("time", *LAYERS)
LAYER_ERRORS = ("layer", "samples", "bias", "error")

Rows = Sequence[tuple[str, ...]]


def score_text(
    score: Score,
    voice: Voice,
    farm: str,
    width: int = 80,
    *,
    invented: bool = False,
    all_cautions: bool = False,
) -> str:
    """The score for a person, no line wider than `width` where that can be kept."""
    prose = min(width, WIDEST_PROSE)
    rules = score.rules
    blocks = [
        _head(score, voice, farm, prose, invented),
        _table("calls", CALLS, _rule_rows(rules, voice), voice, width),
        _table("times", TIMES, _time_rows(score, voice), voice, width),
        _table("moistures", MOISTURES, _moisture_rows(score.moisture, voice), voice, width),
        *_depth_tables(score.samples, voice, width),
        _table("layers", LAYER_ERRORS, _layer_rows(score.layers, voice), voice, width),
        _table("chances", CHANCES, _bin_rows(score.reliability), voice, width),
        bulleted_sentences(_notes(score, voice), prose),
        bullets(shown_safety(voice, all_cautions), prose),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _head(score: Score, voice: Voice, farm: str, width: int, invented: bool) -> list[str]:
    """What was scored; an invented sample says so first."""
    texts = [voice.say("outlook_invented")] if invented else []
    if score.hours:
        values = {"hours": score.hours, "nights": score.nights, "farm": farm}
        texts.append(voice.say("score_hours", lead=f"{score.lead_h:.0f}", **values))
    else:
        texts.append(voice.say("score_readings_only", farm=farm))
    if score.unspoken:
        texts.append(voice.say("score_unspoken", count=score.unspoken))
    return paragraphs(texts, width)


def _table(name: str, columns: Sequence[str], rows: Rows, voice: Voice, width: int) -> list[str]:
    """A small table between its title and what its columns mean; nothing without rows."""
    if not rows:
        return []
    prose = min(width, WIDEST_PROSE)
    headings = [voice.say(f"score_column_{column}") for column in columns]
    return [
        *wrapped(voice.say(f"score_title_{name}"), prose),
        *table_lines(columns_under(headings, rows), width),
        *wrapped(voice.say(f"score_legend_{name}"), prose),
    ]


def _rule_rows(rules: Sequence[RuleScore], voice: Voice) -> Rows:
    """Hours right and wrong; rules without an answer are left out."""
    rows = []
    for rule in rules:
        counts = rule.counts
        if counts is not None:
            numbers = (counts.hits, counts.misses, counts.false_alarms, rule.too_wet, counts.wrong)
            cells = (*(str(number) for number in numbers), _number(rule.brier, 3))
            rows.append((voice.say(f"score_rule_{rule.name}"), *cells))
    return rows


def _time_rows(score: Score, voice: Voice) -> Rows:
    """Errors of starts and ends; rules without any are left out."""
    rows = []
    for rule in score.rules:
        if rule.start.count:
            errors = [
                _number(value, 0, sign)
                for each in (rule.start, rule.end)
                for value, sign in ((each.bias_min, "+"), (each.mean_min, ""))
            ]
            count = voice.say("score_of", count=rule.start.count, all=score.bouts)
            rows.append((voice.say(f"score_rule_{rule.name}"), count, *errors))
    return rows


def _moisture_errors(bias_wb: float, rms_wb: float, voice: Voice) -> tuple[str, str]:
    """Mean and size of errors of moisture."""
    return voice.signed(f"{bias_wb:+.1f}"), voice.signed(f"{rms_wb:.1f}")


def _moisture_rows(errors: Sequence[MoistureError], voice: Voice) -> Rows:
    """Errors of moisture by clock hour."""
    rows = []
    for each in errors:
        clock = voice.say("score_all") if each.hour is None else hour_text(each.hour, voice)
        rows.append((clock, str(each.count), *_moisture_errors(each.bias_wb, each.rms_wb, voice)))
    return rows


def hour_text(hour: int, voice: Voice) -> str:
    """A clock hour without a date.

    Examples
    --------
    >>> hour_text(0, Voice("en", "us", "UTC")), hour_text(13, Voice("es", "metric", "UTC"))
    ('12 am', '13:00')
    """
    if voice.units == "metric":
        return f"{hour:02d}:00"
    return f"{(hour - 1) % 12 + 1} {'am' if hour < 12 else 'pm'}"


def _depth_tables(samples: Sequence[DepthSample], voice: Voice, width: int) -> list[list[str]]:
    """A table for each field and what was read of it; what was said only where it was."""
    tables = []
    prose = min(width, WIDEST_PROSE)
    for field, kind in dict.fromkeys((sample.field, sample.kind) for sample in samples):
        here = [each for each in samples if (each.field, each.kind) == (field, kind)]
        what = voice.say(f"score_kind_{LAYER_KINDS[kind]}")
        headings = [voice.say(f"score_column_{name}") for name in DEPTHS]
        rows = [_depth_row(sample, voice) for sample in here]
        title = voice.say("score_title_depths", field=field, what=what)
        lines = [*wrapped(title, prose), *table_lines(columns_under(headings, rows), width)]
        tables.append([*lines, *wrapped(voice.say("score_legend_depths"), prose)])
    return tables


def _depth_row(sample: DepthSample, voice: Voice) -> tuple[str, ...]:
    """One time: of each layer what was read, what was said, and the difference."""
    there = replace(voice, timezone=sample.timezone)
    cells = (
        f"{_number(read, 1):>4} {_number(said, 1):>5} {_number(off, 1, '+'):>5}"
        for read, said, off in zip(sample.read, sample.said, sample.off, strict=True)
    )
    return f"{there.local(sample.time):%Y-%m-%d} {there.clock(sample.time)}", *cells


def _layer_rows(errors: Sequence[LayerError], voice: Voice) -> Rows:
    """Errors by layer."""
    rows = []
    for each in errors:
        layer = voice.say(f"score_layer_{each.layer}")
        what = voice.say(f"score_kind_{LAYER_KINDS[each.kind]}")
        numbers = (str(each.count), *_moisture_errors(each.bias_wb, each.rms_wb, voice))
        rows.append((voice.say("score_layer_of", layer=layer, what=what), *numbers))
    return rows


def _bin_rows(bins: Sequence[Bin]) -> Rows:
    """Chances beside how often they came true; a star where there are few hours."""
    rows = []
    for each in bins:
        if each.hours:
            few = "*" if each.hours < FEW_HOURS else ""
            name = f"{100 * each.low:.0f}-{100 * each.high:.0f} %{few}"
            shares = (f"{100 * each.said:.0f} %", f"{100 * each.happened:.0f} %")
            rows.append((name, str(each.hours), *shares))
    return rows


def _notes(score: Score, voice: Voice) -> list[str]:
    """What should be known before these numbers are believed."""
    notes = [
        voice.say(f"score_note_no_{why}", count=score.unsaid(why))
        for why in ("outlook", "layers")
        if score.unsaid(why)
    ]
    if not score.hours:
        return notes
    notes.append(voice.say("score_note_logged"))
    if score.starts_timed:
        values = {"held": score.starts_held, "shown": score.starts_timed}
        notes.append(voice.say("score_note_ranges", **values))
    told = any(rule.name == "humidity" and rule.counts is not None for rule in score.rules)
    notes.append(voice.say("score_note_humidity" if told else "score_note_one_month"))
    return notes


def _number(value: float, decimals: int, sign: str = "") -> str:
    """A number, or a dash where it is not known."""
    return f"{value:{sign}.{decimals}f}" if math.isfinite(value) else UNKNOWN
