"""Nobody's file is lost: what a run reads, and what it did not write, stays as it is."""

import os
import shutil
from pathlib import Path

import matplotlib.figure
import pytest
from cli.commands import SAGEBECK, done, farm_with, refused
from support.outlooks import FOLDER

from hayweather.cli.guard import check_places, kind_at, kind_of, marked
from hayweather.errors import OutputError

LOG, READINGS = FOLDER / "sagebeck_log.csv", FOLDER / "sagebeck_readings.csv"
STRIPS, SITES = FOLDER / "seasons" / "strips.csv", FOLDER / "seasons" / "sites.toml"
FAMILY = """BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//family//calendar//EN\r
BEGIN:VEVENT\r
UID:birthday@home\r
DTSTAMP:20250101T000000Z\r
DTSTART:20250712T180000Z\r
SUMMARY:Birthday\r
END:VEVENT\r
END:VCALENDAR\r
"""


def own_files(folder: Path) -> dict[str, Path]:
    """Files of a user, by the option that would write over them."""
    figure = matplotlib.figure.Figure()
    for ending in ("png", "svg"):
        figure.savefig(folder / f"own.{ending}")
    texts = {
        "own.ics": FAMILY,
        "own.html": "<!doctype html><title>hayweather</title>",
        "notes.txt": "hayweather: call Ana\n",
        "own.csv": "field,start,end\nbench,,\n",
        "own.json": '{"schema": "mine/1"}',
        "other.toml": SAGEBECK.read_text(encoding="utf-8"),
        "station.csv": (FOLDER / "sagebeck.csv").read_text(encoding="utf-8"),
        "hours.csv": "# hayweather: weather 1\n# timezone: UTC\ntime_utc,air_temperature_c\n",
        "bench_20250709T0000Z.json": '{\n "schema": "hayweather/outlook/1"\n}\n',
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return {path.name: path for path in folder.iterdir()}


BESIDE = {".ics": "--calendar", ".html": "--page", ".png": "--chart", ".svg": "--chart"}


@pytest.mark.usefixtures("no_work")
def test_nothing_of_the_users_own_is_written_over(tmp_path, capsys):
    for path in own_files(tmp_path).values():
        before = path.read_bytes()
        line = refused(capsys, "outlook", SAGEBECK, BESIDE.get(path.suffix, "--out"), path)
        assert line.startswith(f"{path}: ")
        assert line.endswith("write to another name, or add --replace")
        assert path.read_bytes() == before


@pytest.mark.usefixtures("few_members")
def test_replace_writes_over_them_but_never_over_what_is_read(tmp_path, capsys):
    place = tmp_path / "notes.txt"
    place.write_text("mine")
    farm = farm_with(tmp_path)
    done(capsys, "outlook", farm, "--field", "bench", "--out", place, "--replace")
    assert "mine" not in place.read_text(encoding="utf-8")
    before = farm.read_bytes()
    assert "is made from" in refused(capsys, "outlook", farm, "--out", farm, "--replace")
    assert farm.read_bytes() == before


PLACES = ("out.txt", "out.csv", "out.json")
WRITTEN = {
    "outlook": (SAGEBECK, "--field", "bench"),
    "runsheet": (SAGEBECK, "--field", "bench"),
    "plan": (SAGEBECK, "--time-limit", "1"),
    "inspect": (SAGEBECK,),
    "inspect weather": (FOLDER / "sagebeck.csv",),
    "trial": (STRIPS,),
    "seasons": (SITES, "--months", "7", "--years", "2023"),
    "tune": (SAGEBECK, READINGS),
}


@pytest.mark.slow
@pytest.mark.usefixtures("few_members", "few_draws")
@pytest.mark.parametrize("name", WRITTEN)
def test_a_result_knows_itself_again_and_is_replaced(name, tmp_path, capsys):
    command = name.partition(" ")[0]
    most = 1 if name == "tune" else len(PLACES)  # a fit takes seconds
    for place in (tmp_path / each for each in PLACES[:most]):
        done(capsys, command, *WRITTEN[name], "--out", place)
        assert kind_at(place) is not None
        check_places([str(place)], [], command)  # which refuses what is not its own
    written = place.stat().st_ino
    done(capsys, command, *WRITTEN[name], "--out", place)
    assert place.stat().st_ino != written


@pytest.mark.slow
@pytest.mark.usefixtures("few_members")
def test_pictures_pages_calendars_and_messages_know_themselves_again(tmp_path, capsys):
    places = {"--chart": "a.png", "--page": "a.html", "--calendar": "a.ics", "--out": "a.txt"}
    bench = ("--field", "bench")
    options = [word for option, name in places.items() for word in (option, tmp_path / name)]
    for _ in range(2):
        done(capsys, "runsheet", SAGEBECK, *bench, "--text", *options)
        done(capsys, "outlook", SAGEBECK, *bench, "--chart", tmp_path / "b.svg")
    kinds = {path.name: kind_at(path) for path in tmp_path.iterdir()}
    assert kinds == {
        "a.png": "chart", "a.html": "page", "a.ics": "calendar", "a.txt": "runsheet",
        "b.svg": "chart",
    }  # fmt: skip
    message = (tmp_path / "a.txt").read_text(encoding="utf-8")
    assert message == done(capsys, "runsheet", SAGEBECK, *bench, "--text")  # no letter more than it


@pytest.mark.usefixtures("few_members")
def test_an_event_put_into_our_calendar_keeps_it(tmp_path, capsys):
    place = tmp_path / "hay.ics"
    done(capsys, "outlook", SAGEBECK, "--calendar", place)
    event = FAMILY[FAMILY.index("BEGIN:VEVENT") : FAMILY.index("END:VCALENDAR")]
    own = place.read_bytes().replace(b"END:VCALENDAR", event.encode() + b"END:VCALENDAR")
    place.write_bytes(own)
    assert "add --replace" in refused(capsys, "outlook", SAGEBECK, "--calendar", place)
    assert place.read_bytes() == own


@pytest.mark.usefixtures("no_work")
def test_links_of_both_kinds_and_letters_in_another_case_are_the_same_file(tmp_path, capsys):
    farm = farm_with(tmp_path)
    weather = tmp_path / "sagebeck.csv"
    os.link(weather, tmp_path / "hard.csv")
    (tmp_path / "soft.csv").symlink_to("sagebeck.csv")
    (tmp_path / "sub").mkdir()
    places = ("hard.csv", "soft.csv", "SAGEBECK.csv", "Sagebeck.CSV", "sub/../sagebeck.csv",
              "farm.toml.bak", "farm.toml.bak7", "FARM.toml")  # fmt: skip
    before = {path: path.read_bytes() for path in (farm, weather)}
    for place in places:
        line = refused(capsys, "outlook", farm, "--out", tmp_path / place)
        assert "is made from that file" in line, place
    assert {path: path.read_bytes() for path in before} == before
    assert not (tmp_path / "farm.toml.bak").exists()


@pytest.mark.usefixtures("no_work")
def test_two_results_in_one_file_are_refused_through_links_and_case_too(tmp_path, capsys):
    (tmp_path / "a.csv").symlink_to("b.html")
    places = ("--out", tmp_path / "a.csv", "--page", tmp_path / "b.html")
    assert "give each its own" in refused(capsys, "outlook", SAGEBECK, *places)
    assert not (tmp_path / "b.html").exists()
    with pytest.raises(OutputError, match="give each its own"):
        check_places([str(tmp_path / "c.csv"), str(tmp_path / "C.csv")], [], "outlook")


@pytest.mark.usefixtures("no_work")
def test_a_name_in_the_folder_of_kept_outlooks_is_no_place_for_the_score(tmp_path, capsys):
    kept = tmp_path / "kept"
    kept.mkdir()
    new = ("--kept", kept, "--out", kept / "new.json")
    assert "is made from that file" in refused(capsys, "score", SAGEBECK, LOG, *new)
    own = ("--keep", kept, "--out", kept / "new.json")
    assert "is made from that file" in refused(capsys, "outlook", SAGEBECK, *own)


@pytest.mark.usefixtures("few_members")
def test_what_is_kept_replaces_nothing_but_what_was_kept(tmp_path, capsys):
    keep = (
        "outlook",
        SAGEBECK,
        "--field",
        "bench",
        "--keep",
        tmp_path,
        "--out",
        tmp_path / "a.txt",
    )
    done(capsys, *keep)
    done(capsys, *keep)
    (kept,) = tmp_path.glob("*.json")
    kept.write_text("my notes")
    assert "add --replace" in refused(capsys, *keep)
    assert kept.read_text() == "my notes"


@pytest.mark.slow
@pytest.mark.usefixtures("few_draws")
def test_tuning_twice_keeps_the_file_as_it_was_at_first(tmp_path, capsys):
    shutil.copy(FOLDER / "sagebeck.csv", tmp_path)
    farm = Path(shutil.copy(SAGEBECK, tmp_path / "farm.toml"))
    copies, befores = (tmp_path / "farm.toml.bak", tmp_path / "farm.toml.bak2"), []
    for _ in copies:
        befores.append(farm.read_bytes())
        done(capsys, "tune", farm, READINGS, "--weather-at-field", "--write")
    assert befores[0] != befores[1]
    assert [copy.read_bytes() for copy in copies] == befores


@pytest.mark.usefixtures("no_work")
def test_tuning_a_file_that_must_not_be_written_is_refused_before_the_work(tmp_path, capsys):
    shutil.copy(FOLDER / "sagebeck.csv", tmp_path)
    farm = Path(shutil.copy(SAGEBECK, tmp_path / "farm.toml"))
    farm.chmod(0o444)
    assert "must not be written" in refused(capsys, "tune", farm, READINGS, "--write")


def logged(folder: Path, capsys) -> Path:
    """A farm with a log of one reading."""
    farm = farm_with(folder)
    done(capsys, "log", "add", "bench", "10.5", "--at", "2025-07-08T16:00", "--farm", farm)
    return farm


def test_a_sheet_with_a_row_written_in_by_hand_is_not_exported_over(tmp_path, capsys):
    farm = logged(tmp_path, capsys)
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    export = ("log", "export", sheets, "--farm", farm)
    done(capsys, *export)
    done(capsys, *export)  # our own is replaced
    readings = sheets / "READINGS.csv"
    own = readings.read_text(encoding="utf-8") + "2025-07-08T20:00,bench,11,,,,,,,,,,,,\n"
    readings.write_text(own, encoding="utf-8")
    assert "add --replace" in refused(capsys, *export)
    assert "add --replace" in refused(capsys, "outlook", SAGEBECK, "--out", readings)
    assert readings.read_text(encoding="utf-8") == own
    done(capsys, *export, "--replace")


def test_a_formula_in_a_note_of_the_log_is_held_back_unless_raw_is_asked_for(tmp_path, capsys):
    farm, sheet = logged(tmp_path, capsys), tmp_path / "a.csv"
    done(capsys, "log", "add", "bench", "11", "--at", "2025-07-08T16:30", "--note", "=1+1",
         "--farm", farm)  # fmt: skip
    for options, cell in (((), ",'=1+1,"), (("--csv", "raw"), ",=1+1,")):
        done(capsys, "log", "export", sheet, "--farm", farm, *options)
        assert cell in sheet.read_text(encoding="utf-8")
        assert cell in done(capsys, "log", "show", "--farm", farm, "--format", "csv", *options)


def test_the_log_and_what_stands_beside_it_are_no_places(tmp_path, capsys):
    farm = logged(tmp_path, capsys)
    for ending in ("", "-wal", "-shm", "-journal"):
        place = tmp_path / f"hayweather.sqlite{ending}"
        for command in (("outlook", farm), ("log", "show", "--farm", farm)):
            assert "is made from that file" in refused(capsys, *command, "--out", place)
        export = ("log", "export", place, "--farm", farm)
        assert "is made from that file" in refused(capsys, *export, "--replace")
    copy = tmp_path / "copy.sqlite"
    done(capsys, "log", "export", copy, "--farm", farm)
    before = copy.read_bytes()
    assert "add --replace" in refused(capsys, "log", "export", copy, "--farm", farm)
    assert copy.read_bytes() == before


@pytest.mark.usefixtures("few_members")
def test_a_link_is_written_through_and_rights_stay(tmp_path, capsys):
    real, link = tmp_path / "real.txt", tmp_path / "link.txt"
    link.symlink_to(real)
    done(capsys, "outlook", SAGEBECK, "--field", "bench", "--out", link)
    real.chmod(0o600)
    done(capsys, "outlook", SAGEBECK, "--field", "bench", "--out", link)
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o600
    assert kind_at(real) == "outlook"


def test_an_empty_file_may_be_filled(tmp_path, capsys):
    (tmp_path / "a.txt").touch()
    done(capsys, "inspect", SAGEBECK, "--out", tmp_path / "a.txt")


@pytest.mark.parametrize("text", ["a", "a\n", "# a\nb,c\n", "# a\nb,c", "\n", "", "# a"])
def test_every_text_gets_a_mark_that_is_found_again(text):
    once = marked(text, "outlook")
    assert kind_of(once.encode()) == "outlook"
    assert marked(once, "plan") == once


@pytest.mark.parametrize(
    "content",
    [
        b"", b"hayweather", b"# hayweather outlook", b"x\n# hayweather outlook\nmine\n",
        b'{"name": "hayweather/outlook/1"}', b"\x89PNG\r\n\x1a\nhayweather",
        b"BEGIN:VCALENDAR\nX:PRODID:-//hayweather//\n", b"\xff\xfe# hayweather outlook\n",
    ],
)  # fmt: skip
def test_what_only_speaks_of_hayweather_is_not_ours(content):
    assert kind_of(content) is None
