"""README and guide: every example does what is said, every option and link is there."""

from __future__ import annotations

import re
import shlex
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from docs.pages import (
    GUIDE,
    LONG_TABLES,
    README,
    TABLE,
    TABLES,
    TOP,
    Example,
    Room,
    documents,
    examples,
)
from docs.tables import differing

from hayweather.cli.main import app, run
from hayweather.guide import FIRST, PAGES, summary_of, text_of
from hayweather.weather.files.maps import KEYS
from hayweather.words import table as texts

DOCUMENTS = documents()
SAMPLES = TOP / "sample_forecasts" / "README.md"
FENCE = re.compile(r"^```(\w*)\n(.*?)^```", re.DOTALL | re.MULTILINE)
SPAN = re.compile(r"`([^`\n]+)`")
LINK = re.compile(r"\[[^\]]+\]\(([^)\s]+)\)")
README_BYTES = 8192


def prose(path: Path) -> str:
    """A page without its blocks."""
    return FENCE.sub("", path.read_text(encoding="utf-8"))


def blocks(path: Path, kind: str) -> list[str]:
    """What stands in the blocks of one kind."""
    text = path.read_text(encoding="utf-8")
    return [match[2] for match in FENCE.finditer(text) if match[1] == kind]


# One test a page, not an example: an example stands on those before it, whoever runs it.


@pytest.mark.slow
@pytest.mark.parametrize(
    "path", [path for path in DOCUMENTS if examples(path)], ids=lambda path: path.name
)
def test_examples(path: Path, tmp_path) -> None:
    room, page = Room(tmp_path), examples(path)
    printed = [(example.command, example.shortened(room.run(example))) for example in page]
    assert printed == [(example.command, list(example.printed)) for example in page]


@pytest.mark.slow
def test_the_first_example_as_a_process_of_its_own(tmp_path) -> None:
    first = examples(README)[0]
    through_a_shell = Example(f"{first.command} | cat", first.printed, page=first.page)
    assert first.shortened(Room(tmp_path).run(through_a_shell)) == list(first.printed)


def test_a_gap_hides_only_the_middle() -> None:
    example = Example("x", ("one", "...", "five"))
    assert example.shortened(["one", "two", "five"]) == ["one", "...", "five"]
    assert example.shortened(["one", "two", "six"]) != ["one", "...", "five"]


def test_a_gap_beside_an_empty_line_hides_paragraphs() -> None:
    example = Example("x", ("one", "", "...", "", "five"))
    lines = ["one", "more", "", "two", "", "five", "six"]
    assert example.shortened(lines) == ["one", "more", "", "...", "", "five", "six"]
    assert example.shortened(["one"]) == ["one", "...", "one"]


# Commands that are named but not run: they must have the options that are written.


def commands_named(path: Path) -> list[str]:
    """Lines of plain blocks and spans of code that begin with the program's name."""
    lines = [line for block in blocks(path, "") for line in block.splitlines()]
    spans = [span for span in SPAN.findall(prose(path)) if "..." not in span]
    named = [text for text in [*lines, *spans] if text.startswith("hayweather ")]
    return [re.sub(r"[\[\]]", "", text) for text in named]


@pytest.mark.parametrize(
    ("page", "command"),
    sorted(
        {(path.name, command) for path in [*DOCUMENTS, SAMPLES] for command in commands_named(path)}
    ),
)
def test_every_command_named_has_these_options(page: str, command: str, capsys) -> None:
    code = run([*shlex.split(command)[1:], "--help"])
    assert code == 0, capsys.readouterr().err


def test_an_option_that_is_not_there_is_seen(capsys) -> None:
    assert run(["outlook", "farm.toml", "--moon", "--help"]) == 2
    assert "--moon" in capsys.readouterr().err


def known_options() -> set[str]:
    """Every option of every command."""
    import typer

    program = typer.main.get_command(app)
    commands = [program, *program.commands.values()]
    commands += [one for group in commands[1:] for one in getattr(group, "commands", {}).values()]
    return {"--help", *(name for one in commands for option in one.params for name in option.opts)}


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_options_named_alone_are_there(path: Path) -> None:
    named = {span.split()[0] for span in SPAN.findall(prose(path)) if re.match(r"--\w", span)}
    assert named <= known_options()


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_every_variable_named_is_read(path: Path) -> None:
    source = "".join(
        file.read_text(encoding="utf-8")
        for folder in ("hayweather", "tests/support", "tests/real")
        for file in (TOP / folder).rglob("*.py")
    )
    named = set(re.findall(r"HAYWEATHER_[A-Z_]+[A-Z]", path.read_text(encoding="utf-8")))
    suffixes = {name for name in named if f'"{name}"' not in source and name not in source}
    assert suffixes == set()


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_settings_shown_are_known(path: Path) -> None:
    """Every key of a TOML block, those behind a comment sign too, has its text."""
    for block in blocks(path, "toml"):
        shown = re.sub(r"^# (?=\w+ = )", "", block, flags=re.MULTILINE)
        for name, rows in tomllib.loads(shown).items():
            kind = name
            first = next(iter(rows.values()))
            for key in first if isinstance(first, dict) else rows:
                assert known_setting(kind, key), f"[{kind}] {key}"


def known_setting(kind: str, key: str) -> bool:
    """Whether the farm file's table, or that of a grid, knows a key."""
    if kind == "columns":
        return key in KEYS
    if kind == "grid":
        from hayweather.seasons.grid.axes import GRID

        return key in {known.name for known in GRID.keys}
    return f"farm_key_{kind}_{key}" in texts()


@pytest.mark.parametrize("path", [*DOCUMENTS, TOP / "DEVELOPERS.md"], ids=lambda path: path.name)
def test_links_lead_somewhere(path: Path) -> None:
    for link in LINK.findall(prose(path)):
        target, _, anchor = link.partition("#")
        if "://" in target:
            continue
        place = path.parent / target if target else path
        assert place.is_file(), link
        if anchor:
            headings = re.findall(r"^#+ (.+)$", place.read_text(encoding="utf-8"), re.MULTILINE)
            plain = [re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings]
            assert anchor in plain, link


# What the pages hold.


def test_the_readme_is_short_and_begins_with_the_job() -> None:
    text = README.read_text(encoding="utf-8")
    assert len(text.encode()) <= README_BYTES
    first = re.split(r"\n\s*\n", text)[1]
    assert first.startswith("In dry country")
    for word in ("hay", "dew", "bale", "water"):
        assert word in first


def test_the_readme_says_what_is_not_known_and_what_is_dangerous() -> None:
    text = README.read_text(encoding="utf-8")
    for said in (
        "No measured overnight series", "believe the meter", "planning aid only", "start fires",
        "flashes to steam", "exhaust gas", "while driving", "manuals", "licensed practice",
    ):  # fmt: skip
        assert said in text, said
    assert len(re.findall(r"^python3 -m venv .*pytest$", text, re.MULTILINE)) == 1


def test_every_page_is_listed_linked_and_says_what_it_is_about() -> None:
    assert {path.stem for path in GUIDE.glob("*.md")} == set(PAGES)
    assert len(set(PAGES)) == len(PAGES)
    readme = README.read_text(encoding="utf-8")
    for page in PAGES:
        assert f"(hayweather/guide/{page}.md)" in readme or page not in FIRST, page
        assert text_of(page).startswith("# "), page
        summary = summary_of(page)
        assert summary.endswith("."), page
        assert len(summary) <= 80 - 2 - max(map(len, PAGES)), page


def test_every_table_has_its_command() -> None:
    found = [m["name"] for path in DOCUMENTS for m in TABLE.finditer(path.read_text("utf-8"))]
    assert sorted(found) == sorted([*TABLES, *LONG_TABLES])


def test_every_command_stands_in_the_readme() -> None:
    import typer

    text = README.read_text(encoding="utf-8")
    commands = typer.main.get_command(app).commands
    names = [name for name, one in commands.items() if not one.hidden]
    assert [name for name in names if f"| `hayweather {name} " not in text] == []


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_long_tables_carry_their_day(path: Path) -> None:
    for match in TABLE.finditer(path.read_text(encoding="utf-8")):
        if match["name"] in LONG_TABLES:
            assert re.search(r"\nRun on \d{1,2} [A-Z][a-z]+ 20\d\d\.\n", match["rows"])


def test_a_table_that_is_not_fresh_is_seen() -> None:
    old = "| Air | metpy 1.7.1 | 4 | -0.12 % of value | 0.15 % of value |"
    assert differing(old, old.replace("1.7.1", "1.8.0")) == []
    assert differing(old, old.replace("-0.12", "-0.121")) == []
    for change in (("-0.12", "-0.14"), ("| 4", "| 5"), ("Air", "Hay"), ("0.15", "0.2")):
        assert differing(old, old.replace(*change)) != []
    assert differing(f"{old}\n{old}", old) != []


def test_headings_go_down_one_step_at_a_time() -> None:
    for path in DOCUMENTS:
        steps = [len(mark) for mark in re.findall(r"^(#+) ", prose(path), re.MULTILINE)]
        assert steps[0] == 1, path.name
        assert all(after - before <= 1 for before, after in pairwise(steps)), path.name


def test_measured_figures_in_short_stand_in_the_tables_below() -> None:
    short, rest = (GUIDE / "checked.md").read_text(encoding="utf-8").split("## In short")[1].split(
        "\n## ", 1
    )  # fmt: skip
    rows = [row for row in short.splitlines() if re.search(r"RMSE|kappa|points", row)]
    figures = [each for row in rows for each in re.findall(r"-?\d+\.\d+|\d{3,}", row)]
    assert len(figures) > 5
    cells = set(re.findall(r"-?\d[\d.]*", rest))
    assert [each for each in figures if each not in cells] == []
