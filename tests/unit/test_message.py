"""The text message: short, plain letters, whole words, the most important first.

Letters of a message: 3GPP TS 23.038 (GSM 03.38) basic table, here typed from
memory; a letter outside it makes a telephone send the whole in another code.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from support.outlooks import SAMPLES
from support.sheets import of_field, sheet_of

from hayweather.show.message import (
    MOST_CHARACTERS,
    fitting_texts,
    plain,
    runsheet_message,
    short_name,
)
from hayweather.show.runsheet_words import work_spans

GSM = set(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    "ÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
NO_TIME = np.timedelta64(0, "s")
NASTY = "Núñez & [hijos] {campo} ~largo~ €uro 草 ☂ con un nombre muy muy largo de verdad"


def words(text: str) -> list[str]:
    return re.findall(r"[^\s.,;:()]+", text)


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_is_short_plain_and_says_when_to_work(name, language, units):
    sheet = sheet_of(name, language)
    text = runsheet_message(sheet, units)
    assert len(text) <= MOST_CHARACTERS == 480
    assert set(text) <= GSM
    first, last = {
        "en": ("INVENTED SAMPLE. ", "Never read while driving."),
        "es": ("EJEMPLO INVENTADO. ", "No lea al volante."),
    }[language]
    assert text.startswith(first)
    assert text.endswith(last)
    assert not re.search(r"nan|None|null", text)
    for field in sheet.fields:
        assert f" {field.name}: " in text


def test_windows_come_first_then_where_to_probe_then_rates_then_danger():
    sheet = of_field(sheet_of("sagebeck"), 0)
    headline = sheet.fields[0].outlook.headline
    few = replace(headline, maybe=headline.maybe[:2])  # so that everything fits
    outlook = replace(sheet.fields[0].outlook, headline=few)
    sheet = replace(sheet, fields=(replace(sheet.fields[0], outlook=outlook),))
    text = runsheet_message(sheet, "us")
    parts = ("bench: rig", "bench: probe first, maybe", "bench rate", "Planning")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_fills_come_after_rates():
    sheet = of_field(sheet_of("sagebeck"), 0)
    field = sheet.fields[0]
    quiet = replace(field.outlook, headline=replace(field.outlook.headline, maybe=()))
    text = runsheet_message(replace(sheet, fields=(replace(field, outlook=quiet),)), "us")
    places = [text.index(part) for part in ("bench: rig", "bench rate", "bench fill", "Planning")]
    assert places == sorted(places)
    assert len(field.fills) >= 1
    assert text.count(" min)") == len(field.fills)


def test_a_field_to_probe_first_says_so_and_names_no_work():
    sheet = sheet_of("sagebeck")
    saddle = of_field(sheet, 2)
    text = runsheet_message(saddle, "us")
    assert "saddle: probe the stems first, maybe " in text
    assert not re.search(r"\b(rig|dew|rate|no work)\b", text)


def test_spans_are_the_work_of_the_sheet():
    for name in SAMPLES:
        for field in sheet_of(name).fields:
            spans = work_spans(field)
            assert [piece for span in spans for piece in span.pieces] == list(field.windows)
            for span in spans:
                assert span.start == span.pieces[0].start
                assert span.end == span.pieces[-1].end
                gaps = [b.start - a.end for a, b in zip(span.pieces, span.pieces[1:], strict=False)]
                fills = [f.end - f.start for f in field.fills if span.start < f.start < span.end]
                assert sum(gaps, NO_TIME) <= sum(fills, NO_TIME) or not gaps


def test_stops_are_named_with_their_hours():
    text = runsheet_message(of_field(sheet_of("sagebeck_hot_wind"), 0), "us")
    assert "STOP fire weather 5 pm to 7 pm." in text


@pytest.mark.parametrize("language", ["en", "es"])
def test_many_fields_with_long_names_still_end_in_whole_words_and_the_danger(language):
    sheet = sheet_of("sagebeck", language)
    field = sheet.fields[0]
    fields = []
    for number in range(12):
        record = replace(field.outlook.setting.field, name=f"{number} {NASTY}")
        setting = replace(field.outlook.setting, field=record)
        fields.append(replace(field, outlook=replace(field.outlook, setting=setting)))
    many = replace(sheet, fields=tuple(fields))
    farm = replace(sheet.outlook.farm, name=NASTY * 3)
    many = replace(many, outlook=replace(sheet.outlook, farm=farm))
    text = runsheet_message(many, "us")
    assert len(text) <= 480
    assert set(text) <= GSM
    more = "More in the sheet." if language == "en" else "Mas en la hoja."
    before, _, danger = text.partition(more)
    assert danger.strip().startswith("Planning aid" if language == "en" else "Solo ayuda")
    assert before.rstrip().endswith(".")
    assert "0 Nu" in before


def test_what_does_not_fit_is_left_out_from_the_end_and_said():
    texts = ["first.", "second.", "third is long and does not fit.", "4."]
    assert fitting_texts(texts, 21, "More.") == ["first.", "second.", "More."]
    assert fitting_texts(texts, 1000, "More.") == texts
    assert fitting_texts(texts, 0, "More.") == ["More."]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Rocío", "Rocio"),
        ("mié", "mié"),
        ("Año", "Año"),
        ("a\tb\n c", "a b c"),
        ("{x} [y] ~z^ |", "?x? (y) ?z? ?"),
        ("12\N{NO-BREAK SPACE}°F", "12 ?F"),
    ],
)
def test_plain_letters(text, shown):
    assert plain(text) == shown
    assert set(plain(text)) <= GSM


def test_short_names_are_short():
    for name in ("bench", "x" * 100, NASTY, "a " * 60):
        assert len(short_name(name)) <= 25
    assert short_name("bench") == "bench"


def test_without_work_it_says_so():
    sheet = of_field(sheet_of("sagebeck"), 0)
    night = sheet.fields[0].outlook
    quiet = replace(night, headline=replace(night.headline, maybe=()))
    idle = replace(sheet.fields[0], outlook=quiet, windows=(), fills=())
    text = runsheet_message(replace(sheet, fields=(idle,)), "us")
    assert "bench: no work." in text
    assert "rate" not in words(text)
