"""The table of texts: complete in both languages, and nothing said that has no text."""

import ast
import re
import string
from functools import cache
from pathlib import Path

import pytest
from support.source import nodes_of

import hayweather
from hayweather.baling.calls import Call
from hayweather.words import LANGUAGES, Remark, say, table

SOURCE = Path(hayweather.__file__).parent
REMARKS = ("Remark", "_against")
ERRORS = re.compile(r"\w*Error|error")
# Fields of an f-string key in the source, and what they may be.
ANY = "[a-z0-9_-]+"

# Words that are English and no Spanish, as whole words.
ENGLISH = frozenset(
    re.findall(
        r"\w+",
        """the and of with from than then there this that is are was not but will have has for
        when where while look check below above dew leaf stem windrow bale wind rain field
        file write hours night morning water dry wet""",
    )
)


def fields(text: str) -> list[str]:
    """Names of the fields of a text."""
    return sorted({name for _, name, _, _ in string.Formatter().parse(text) if name})


def test_both_languages_say_it_with_the_same_fields() -> None:
    assert len(table()) > 500
    for key, entry in table().items():
        assert set(entry) == set(LANGUAGES), key
        assert all(text.strip() for text in entry.values()), key
        assert fields(entry["en"]) == fields(entry["es"]), key


NEVER_ONE = {
    "error_log_text_long",
    "error_weather_old",
    "error_farm_too_large", "error_farm_name_long", "error_old_stored_unreachable",
    "error_old_stored_refused", "error_old_stored_down", "error_old_stored_unreadable",
    "error_old_stored_offline", "error_fields_days", "error_fields_time_limit",
    "error_seasons_cores", "error_service_serves_not", "error_service_too_large",
    "error_weather_line_long", "error_weather_too_coarse", "grid_cells", "grid_missing",
    "judge_humidity_apart", "judge_humidity_constant", "judge_gust", "learn_not_written",
    "tune_misfit", "tune_scatter", "reading_places", "page_printed", "sheet_water",
    "seasons_trend", "seasons_pair", "seasons_first_doubt", "seasons_decides_change",
    "seasons_wait_time", "seasons_wait", "seasons_sure_model", "trial_leaf_loss",
    "trial_leaf_loss_wide", "trial_meter", "assumed_stuck_air_temperature_c",
    "assumed_stuck_dew_point_c", "assumed_stuck_relative_humidity_percent",
    "assumed_stuck_wind_speed_m_s",
}  # fmt: skip
"""Texts whose count is a limit, a decimal number, or more than one for another reason."""
COUNTED = (
    "hours|nights|minutes|seconds|readings|outlooks|entries|rows|values|cells|acres|tons|bales|"
    "seasons|years|days|months|blocks|strips|files|requests|draws|balers|starts|letters|"
    "forecast runs"
)


def test_a_count_of_one_is_told_in_the_singular() -> None:
    """``{count:hour|hours}`` in both languages, wherever a count may be one."""
    plain_plural = re.compile(rf"\{{\w+\}} (?:[a-z]+ )?(?:{COUNTED})\b")
    found = {key for key, entry in table().items() if plain_plural.search(entry["en"])}
    assert found - NEVER_ONE == set()
    for key, entry in table().items():
        two = {lang: set(re.findall(r"\{(\w+):", text)) for lang, text in entry.items()}
        assert two["en"] == two["es"], key
    assert say("amount_tons_us", "es", number="1") == "1 tonelada corta"
    assert say("amount_tons_us", "es", number="1,5") == "1,5 toneladas cortas"
    assert say("sheet_bales", number="1") == "1 bale"


def plain(text: str) -> str:
    """A text without what must stay as it is typed: fields, quoted words, names, code."""
    text = re.sub(r"\{[^}]*\}|\"[^\"]*\"|'[^']*'|\[+[^\]]*\]+|`[^`]*`|https?://\S+", " ", text)
    text = re.sub(
        r"\bhayweather( (outlook|farm|inspect))?\b|--[a-z-]+|\b\w+\.(toml|csv)\b", " ", text
    )
    return re.sub(r"\b\w+ = \S+|\b\w*_\w*\b|#.*?:", " ", text)


def english_in(key: str, spanish: str) -> set[str]:
    """English words in a Spanish text; names of keys of the farm file may stand in its texts."""
    left = set(re.findall(r"[a-záéíóúñü]+", plain(spanish).lower())) & ENGLISH
    if key.startswith(("farm_", "error_farm_", "error_no_weather", "help_")):
        left &= {"the", "and", "with", "this", "there", "from", "of"}
    return left


def test_no_english_is_left_in_spanish() -> None:
    left = {key: found for key, e in table().items() if (found := english_in(key, e["es"]))}
    assert left == {}
    same = {
        key
        for key, entry in table().items()
        if entry["en"] == entry["es"] and len(plain(entry["en"]).split()) > 2
    }
    assert same == set()


def test_english_would_be_seen() -> None:
    assert english_in("outlook_dew", "Rocío natural: bale from {start}") == {"bale", "from"}


def patterns(node: ast.expr) -> str | None:
    """The key an expression makes, as a pattern; None where it is no text."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return re.escape(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(
            re.escape(part.value) if isinstance(part, ast.Constant) else ANY for part in node.values
        )
    if isinstance(node, ast.IfExp):
        both = [patterns(node.body), patterns(node.orelse)]
        return None if None in both else f"({both[0]}|{both[1]})"
    return None


@cache
def trees() -> tuple[tuple[Path, tuple[ast.AST, ...]], ...]:
    """Every file of the source with all its nodes."""
    return tuple((path, nodes_of(path)) for path in sorted(SOURCE.rglob("*.py")))


def calls(folder: str) -> list[tuple[str, str, int, ast.Call]]:
    """Name, file and line of every call in a part of the source."""
    found = []
    for path, nodes in trees():
        if not path.is_relative_to(SOURCE / folder):
            continue
        for node in nodes:
            if isinstance(node, ast.Call) and node.args:
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                found.append((name, path.name, node.lineno, node))
    return found


@cache
def has_text(pattern: str) -> bool:
    """Whether a key of the table fits a pattern."""
    return any(re.fullmatch(pattern, key) for key in table())


def without_text(keys: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Keys given somewhere that have no text."""
    return [(pattern, where) for pattern, where in keys if not has_text(pattern)]


def alternatives(pattern: str) -> list[str]:
    """Both keys of a choice, each to be found."""
    match = re.fullmatch(r"\((.*)\|(.*)\)", pattern)
    return [match[1], match[2]] if match else [pattern]


def keys_given(names: tuple[str, ...], prefix: str, folder: str = "") -> list[tuple[str, str]]:
    """Patterns of the keys given to some calls, and where."""
    found = []
    for name, file, line, node in calls(folder):
        pattern = patterns(node.args[0]) if name in names else None
        found += [(prefix + one, f"{file}:{line}") for one in alternatives(pattern or "") if one]
    return found


@pytest.mark.slow
def test_every_remark_of_the_source_has_a_text() -> None:
    assert without_text(keys_given(REMARKS, "")) == []


@pytest.mark.slow
def test_every_assumption_of_the_source_has_a_text() -> None:
    assert without_text(keys_given(("Assumption",), "assumed_")) == []


def test_everything_said_by_name_has_a_text() -> None:
    assert without_text(keys_given(("say",), "")) == []


def test_the_scan_finds_what_it_should() -> None:
    found = {pattern for pattern, _ in keys_given(REMARKS, "")}
    assert {"reason_in_band", "caution_frost", "stop_thunder", "start_from_cutting"} <= found
    assert len(found) > 35


ERROR_CLASSES = (
    "FarmFileError", "WeatherFileError", "OptionError", "OutputError", "WeatherUnavailableError",
    "InputError",
)  # fmt: skip


def test_every_error_of_the_source_has_a_text() -> None:
    assert without_text(keys_given(ERROR_CLASSES, "error_")) == []


# What makes a line say what to do: a verb to act on, or what would be right.
DO = frozenset(
    re.findall(
        r"\w+",
        """add ask be belongs change check choose copy correct cut drop exchange fill free
        get give has install keep known let leave like make mean move must name needed note pass
        possible put raise read rename replace report save see set sort split take try
        use wait wants
        write""",
    )
)


def test_every_error_says_what_to_do_in_one_line() -> None:
    errors = {key: entry for key, entry in table().items() if key.startswith("error_")}
    assert len(errors) > 90
    silent = {k for k, e in errors.items() if not DO & set(re.findall(r"\w+", e["en"].lower()))}
    assert silent == set()
    assert all("\n" not in text.strip() for entry in errors.values() for text in entry.values())


@pytest.mark.parametrize("call", Call)
def test_every_call_has_a_word(call: Call) -> None:
    assert say(f"call_{call.name.lower()}") == call.word


def test_doubts_have_both_sides() -> None:
    from hayweather.baling.headline import ADVERSE

    for words in ADVERSE.values():
        for word in words:
            assert has_text(f"doubt_{word}")


def test_a_remark_without_a_text_is_refused() -> None:
    with pytest.raises(KeyError):
        say(Remark("reason_of_the_moon").key)


# Texts whose keys are put together from a table in the code: what stands before the name.
GROUPS = ("error", "assumed", "repair", "refused", "flag")


def said_in_source() -> tuple[set[str], set[str]]:
    """Whole strings of the source and its templates, and patterns of keys put together."""
    whole, made = set(), set()
    for _, nodes in trees():
        for node in nodes:
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                made.add(patterns(node) or "")
    for path in SOURCE.rglob("*.html"):
        whole |= set(re.findall(r"\"(\w+)\"", path.read_text(encoding="utf-8")))
    fixed = {pattern for pattern in made if len(re.sub(re.escape(ANY), "", pattern)) > 3}
    return whole, fixed - {f"{group}_{ANY}" for group in GROUPS} - {f"{ANY}_hours"}


def unsaid(keys: list[str], whole: set[str], made: set[str]) -> list[str]:
    """Keys that no string of the source gives and no pattern makes."""
    found = []
    for key in keys:
        group, _, name = key.partition("_")
        names = {key, name} if group in GROUPS else {key}
        if names & whole or any(re.fullmatch(pattern, one) for pattern in made for one in names):
            continue
        found.append(key)
    return found


def test_every_text_is_said_somewhere() -> None:
    """A text left behind by a change of the code is found, unless a pattern still fits it."""
    whole, made = said_in_source()
    assert unsaid(list(table()), whole, made) == []
    left = ["outlook_rig_of_old", "assumed_moon", "repair_moon"]
    assert unsaid(left, whole, made) == left


COMMANDS = (
    "outlook", "runsheet", "plan", "seasons", "trial", "tune", "score", "fetch", "inspect",
    "listen", "farm", "guide",
)  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_every_help_holds_one_example(command: str) -> None:
    for language, word in (("en", "Example"), ("es", "Ejemplo")):
        assert say(f"help_{command}", language).count(f"{word}: hayweather {command} ") == 1


# Spanish words that name a thing which has another word here: "medida", "altitud", "clima"
# (of a file or service), "dentro del rango", "consulta", "agregue".
ELSEWHERE = re.compile(
    r"\blecturas?\b|\belevación\b|\b(archivo|datos|servicio) del tiempo\b|\ben su punto\b"
    r"|\bllamadas?\b|\bpase --|\barchivo de (finca|clima)\b|\bpor omisión\b|\bcordón\b|\bfardos?\b",
    re.IGNORECASE,
)


def test_spanish_names_each_thing_with_one_word() -> None:
    found = {key: match[0] for key, e in table().items() if (match := ELSEWHERE.search(e["es"]))}
    assert found == {}
    assert ELSEWHERE.search("una lectura del medidor")


FAMILIAR = re.compile(
    r"\b(tú|tus?|ti|contigo|vosotros|vuestr[oa]s?|haz|pon|escribid|revisad|mirad|debes|puedes"
    r"|tienes|quieres|sabes|estás|eres)\b",
    re.IGNORECASE,
)


def test_spanish_says_usted() -> None:
    found = {key: match[0] for key, e in table().items() if (match := FAMILIAR.search(e["es"]))}
    assert found == {}
    assert FAMILIAR.search("revise tu heno")
