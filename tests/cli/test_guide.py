"""The guide in the terminal."""

import pytest
from cli.commands import done, refused

from hayweather.guide import PAGES, text_of


@pytest.fixture(autouse=True)
def _at_80_columns(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("HAYWEATHER_LANGUAGE", raising=False)


def test_without_a_name_all_pages_are_listed_on_one_line_each(capsys):
    lines = done(capsys, "guide").splitlines()
    assert [line.split()[0] for line in lines[: len(PAGES)]] == list(PAGES)
    assert all(len(line) <= 80 for line in lines)
    assert lines[-1] == "Read one: hayweather guide tonight"


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_plain_and_fits(page, capsys):
    shown = done(capsys, "guide", page)
    assert text_of(page).splitlines()[0].removeprefix("# ") in shown.splitlines()[0]
    whole = set(text_of(page).splitlines())  # what is copied is never broken
    assert [line for line in shown.splitlines() if len(line) > 80 and line not in whole] == []
    assert "\x1b" not in shown
    assert "<!--" not in shown
    assert ".md)" not in shown


def test_what_is_typed_and_printed_keeps_its_lines(capsys):
    shown = done(capsys, "guide", "tonight").splitlines()
    example = text_of("tonight").split("```console\n")[1].split("```")[0].splitlines()
    place = shown.index(example[1])  # the command itself may be wider than the screen
    assert shown[place : place + len(example) - 1] == example[1:]


def test_links_between_pages_say_the_command(capsys):
    shown = " ".join(done(capsys, "guide", "tonight").split())
    assert "what is checked (hayweather guide checked)" in shown


@pytest.mark.parametrize("name", ["Tonight", "tonight.md", "farm_file"])
def test_a_name_may_be_written_loosely(name, capsys):
    assert done(capsys, "guide", name)


def test_an_unknown_page_is_one_line_with_the_nearest(capsys, monkeypatch):
    line = refused(capsys, "guide", "wether")
    assert "wether" in line
    assert "weather" in line
    assert all(page in refused(capsys, "guide", "zzz") for page in PAGES)
    monkeypatch.setenv("HAYWEATHER_LANGUAGE", "es")
    assert "no tiene esa página" in refused(capsys, "guide", "wether")
