"""What people carry: pages, calendars and a text message, written by the commands."""

import subprocess
import sys

import pytest
from cli.commands import SAGEBECK, done, refused
from icalendar import Calendar
from support.outlooks import FOLDER
from support.pages import Page

pytestmark = pytest.mark.usefixtures("few_members")

ONE = ("--field", "bench")
COMMANDS = ("outlook", "runsheet")
METRIC = FOLDER / "vallumbria.toml"


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_page_and_calendar_are_written_whole_and_later_replaced(command, tmp_path, capsys):
    page, calendar = tmp_path / "night.html", tmp_path / "night.ics"
    options = (*ONE, "--page", page, "--calendar", calendar)
    text = done(capsys, command, SAGEBECK, *options)
    assert text.startswith("INVENTED SAMPLE")
    shown = Page(page.read_text(encoding="utf-8"))
    assert shown.text().startswith("INVENTED SAMPLE")
    assert shown.from_outside() == []
    events = Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    assert len(events) >= 3
    assert sorted(path.name for path in tmp_path.iterdir()) == ["night.html", "night.ics"]

    page.unlink()
    calendar.write_bytes(with_another_event(calendar.read_bytes()))
    done(capsys, command, SAGEBECK, *ONE, "--calendar", calendar)
    again = Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    gone = [str(item["uid"]) for item in again if str(item["status"]) == "CANCELLED"]
    assert len(gone) == 1
    assert gone[0].startswith("1999")
    assert len(again) == len(events) + 1


def with_another_event(data: bytes) -> bytes:
    """A calendar whose first event has a name that no later file knows."""
    return data.replace(b"UID:2025", b"UID:1999", 1)


def test_the_farms_language_and_the_asked_units_are_used(tmp_path, capsys):
    page = tmp_path / "noche.html"
    done(capsys, "runsheet", METRIC, "--field", "soto", "--units", "us", "--page", page)
    shown = Page(page.read_text(encoding="utf-8"))
    assert shown.all("html")[0][0]["lang"] == "es"
    assert "gal/ton" in shown.text()
    assert "L/t" not in shown.text()


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    ("option", "name", "ending"),
    [("--page", "night.pdf", ".html"), ("--calendar", "night.txt", ".ics"), ("--page", "x", "")],
)
def test_other_endings_are_refused_before_any_work(
    command, option, name, ending, tmp_path, capsys, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    line = refused(capsys, command, SAGEBECK, option, name)
    assert option in line
    assert name in line
    assert ending in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", COMMANDS)
def test_places_that_cannot_be_meant_are_refused(command, tmp_path, capsys):
    nowhere = tmp_path / "nowhere" / "a.html"
    assert "nowhere" in refused(capsys, command, SAGEBECK, "--page", nowhere)
    same = tmp_path / "same.html"
    assert "same.html" in refused(capsys, command, SAGEBECK, "--page", same, "--out", same)
    (tmp_path / "folder.ics").mkdir()
    folder = tmp_path / "folder.ics"
    assert "folder.ics" in refused(capsys, command, SAGEBECK, "--calendar", folder)


def test_a_text_message_comes_in_parts(capsys, tmp_path):
    place = tmp_path / "message.txt"
    assert done(capsys, "runsheet", SAGEBECK, *ONE, "--text", "--out", place) == ""
    text = place.read_text(encoding="utf-8")
    parts = text.splitlines()
    assert len(parts) > 2
    assert all(len(part) <= 160 for part in parts)
    assert [part.split()[0] for part in parts] == [
        f"({number}/{len(parts)})" for number in range(1, len(parts) + 1)
    ]


def test_a_text_message_has_no_other_format(capsys):
    line = refused(capsys, "runsheet", SAGEBECK, "--text", "--format", "json")
    assert line == "--text: a text message has no format json; leave --text or --format out"


def test_help_loads_neither_templates_nor_calendars():
    code = (
        "import sys\nfrom hayweather.cli.main import run\nrun(['outlook', '--help'])\n"
        "sys.exit(sorted(set(sys.modules) & {'jinja2', 'icalendar', 'matplotlib', 'numpy'}))"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert "--page" in ended.stdout
    assert ended.stderr.strip() in ("", "[]")


def test_a_page_needs_no_pictures_library():
    code = (
        "import sys, hayweather.show.page, hayweather.show.calendar\n"
        "assert 'matplotlib' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
