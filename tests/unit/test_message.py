"""The text messages: parts of 160 plain letters, whole words, nothing left out.

Letters of a message: 3GPP TS 23.038 (GSM 03.38) basic table, here typed from
memory; a letter outside it makes a telephone send the whole in another code.
"""

import re
from dataclasses import replace

import pytest
from support.outlooks import EACH_SAMPLE
from support.sheets import idle, of_field, sheet_of

from hayweather.show.message import parts_of, plain, runsheet_message, short_name
from hayweather.show.runsheet_words import sheet_voice, work_spans
from hayweather.words import Remark

GSM = set(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    "ÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
NASTY = "Núñez & [hijos] {campo} ~largo~ €uro 草 ☂ con un nombre muy muy largo de verdad"


def whole(parts):
    """What the parts say one after another, without their numbers."""
    return " ".join(re.sub(r"^\(\d+/\d+\) ", "", part) for part in parts)


@pytest.mark.parametrize("name", EACH_SAMPLE)
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_parts_are_short_plain_and_say_all_work_rates_and_fields(name, language, units):
    sheet = sheet_of(name, language)
    parts = runsheet_message(sheet, units)
    assert all(len(part) <= 160 for part in parts)
    numbers = [re.match(r"\((\d+)/(\d+)\) ", part).groups() for part in parts]
    assert numbers == [(str(n), str(len(parts))) for n in range(1, len(parts) + 1)]
    text = whole(parts)
    assert set(text) <= GSM
    first, last = {
        "en": ("INVENTED SAMPLE. ", "Never read while driving."),
        "es": ("EJEMPLO INVENTADO. ", "No lea al volante."),
    }[language]
    assert text.startswith(first)
    assert text.endswith(last)
    assert not re.search(r"nan|None|null", text)
    voice = sheet_voice(sheet, units)
    for field in sheet.fields:
        assert re.search(rf"\b{field.name}\b", text)
    for machine in sheet.machines:
        for span in work_spans(machine):
            assert plain(voice.span(span.start, span.end)) in text
        for piece in machine.pieces if machine.kind == "rig" else ():
            for dial in piece.dials:
                if dial.water_l_t:
                    assert voice.number(dial.water_l_t, "water_rate") in text
        for fill in machine.fills:
            assert plain(f"{voice.when(fill.start)} (") in text


def test_work_comes_first_then_rates_then_fills_then_where_to_probe_then_danger():
    text = whole(runsheet_message(of_field(sheet_of("sagebeck"), 0), "us"))
    parts = ("BALER: bench", "bench rate", "fill ", "bench: probe first, maybe", "Planning")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_a_missed_date_comes_before_all_work():
    late = replace(sheet_of("sagebeck"), missed=(Remark("caution_dusty"),))
    text = whole(runsheet_message(late, "us"))
    assert text.index("dusty") < text.index("BALER")


def test_a_field_to_probe_first_says_so_and_names_no_work():
    text = whole(runsheet_message(of_field(sheet_of("sagebeck"), 2), "us"))
    assert "saddle: probe the stems first, maybe " in text
    assert not re.search(r"\b(rig|dew|rate|no work)\b", text)


def test_stops_are_named_with_their_hours():
    text = whole(runsheet_message(of_field(sheet_of("sagebeck_hot_wind"), 0), "us"))
    assert "STOP fire weather 5 pm to 7 pm." in text


@pytest.mark.parametrize("language", ["en", "es"])
def test_many_fields_with_long_names_lose_nothing(language):
    sheet = idle(of_field(sheet_of("sagebeck", language), 0))
    field = sheet.fields[0]
    fields = []
    for number in range(30):
        record = replace(field.night.setting.field, name=f"{number} {NASTY}")
        setting = replace(field.night.setting, field=record)
        fields.append(replace(field, night=replace(field.night, setting=setting)))
    farm = replace(sheet.night.farm, name=NASTY * 3)
    many = replace(sheet, fields=tuple(fields), night=replace(sheet.night, farm=farm))
    parts = runsheet_message(many, "us")
    assert all(len(part) <= 160 for part in parts)
    text = whole(parts)
    assert set(text) <= GSM
    for number in range(30):
        assert f" {number} Nu" in text or f" {number} Ñu" in text
    last = "Never read while driving." if language == "en" else "No lea al volante."
    assert text.endswith(last)


def test_a_word_longer_than_a_part_goes_on_in_the_next():
    parts = parts_of(["a", "b" * 400, "c"], "end")
    assert all(len(part) <= 160 for part in parts)
    assert whole(parts).replace(" ", "") == "a" + "b" * 400 + "cend"
    many = parts_of(["a" * 9] * 180, "end")
    assert all(len(part) <= 160 for part in many)
    assert many[-1] == f"({len(many)}/{len(many)}) end"


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
    sheet = idle(of_field(sheet_of("sagebeck"), 0))
    field = sheet.fields[0]
    quiet = replace(field.night, headline=replace(field.night.headline, maybe=()))
    text = whole(runsheet_message(replace(sheet, fields=(replace(field, night=quiet),)), "us"))
    assert "bench: no work." in text
    assert "rate" not in text.split()
