"""``hayweather log``, as people run it."""

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from cli.commands import SAGEBECK, done, refused, twice
from support.children import begin, done_by, program
from support.outlooks import FOLDER

from hayweather.cli.main import run
from hayweather.farm import read_farm
from hayweather.learning.past import read_log
from hayweather.log import database, keep_issued, open_log

LOG, READINGS = FOLDER / "sagebeck_log.csv", FOLDER / "sagebeck_readings.csv"
NOW = "2025-07-08T23:30"
HEAD = "time,field,moisture_wb\n"


@pytest.fixture(autouse=True)
def farm(monkeypatch, tmp_path):
    """Sagebeck in a folder of its own, which is the current one; its now is 5 pm of 8 July."""
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("HAYWEATHER_LANGUAGE", raising=False)
    monkeypatch.chdir(tmp_path)
    shutil.copy(FOLDER / "sagebeck.csv", tmp_path)
    return Path(shutil.copy(SAGEBECK, tmp_path / "farm.toml"))


def in_spanish(farm):
    """The farm file says so."""
    text = farm.read_text(encoding="utf-8").replace('language = "en"', 'language = "es"')
    farm.write_text(text, encoding="utf-8")


def shown(capsys, *more):
    """Entries as data."""
    return json.loads(done(capsys, "log", "show", "--format", "json", *more))["entries"]


def test_a_reading_is_added_shown_and_removed(capsys):
    text = done(
        capsys, "log", "add", "Bench", "10,5 %", "--at", "23:10", "--now", NOW, "--by", "Ana"
    )
    assert text.startswith("INVENTED SAMPLE")
    assert "Logged as 1: bench, 2025-07-08 11:10 pm: whole windrow, 10.5 %." in text
    assert "hayweather log remove 1" in " ".join(text.split())
    assert "check the hay" in text
    (entry,) = shown(capsys)
    assert (entry["time"], entry["moisture_wb"], entry["by"]) == (
        "2025-07-08T23:10:00-07:00", 10.5, "Ana",
    )  # fmt: skip
    assert "Removed entry 1" in done(capsys, "log", "remove", "1")
    assert shown(capsys) == []
    text = done(capsys, "log", "show")
    assert "Removed entries not shown: 1" in text
    text = done(capsys, "log", "show", "--removed")
    assert "(removed) whole windrow" in text
    assert max(map(len, text.splitlines())) <= 80
    assert "removed before" in refused(capsys, "log", "remove", "1")


def test_a_reading_far_from_the_last_is_asked_back(capsys):
    done(capsys, "log", "add", "bench", "11.6", "--at", "22:00", "--now", NOW)
    near = done(capsys, "log", "add", "bench", "13.1", "--at", "22:20", "--now", NOW)
    assert "far from" not in near
    slip = done(capsys, "log", "add", "bench", "31", "--at", "22:40", "--now", NOW)
    assert "far from" in slip
    assert "13.1 %" in slip
    assert "log remove 3" in " ".join(slip.split())
    other = done(capsys, "log", "add", "bench", "31", "--part", "leaf", "--now", NOW)
    assert "far from" not in other


def test_part_layer_method_and_error(capsys):
    options = ("--part", "leaf", "--layer", "top", "--method", "oven", "--bias", "0.5")
    done(capsys, "log", "add", "bench", "19.4", *options)
    (entry,) = shown(capsys)
    named = {name: entry[name] for name in ("kind", "layer", "method", "meter_error", "bias")}
    assert named == {
        "kind": "leaf", "layer": "top", "method": "oven", "meter_error": 0.5, "bias": 0.5,
    }  # fmt: skip
    assert "leaf, top, oven" in done(capsys, "log", "show")


def test_work_is_added_too(capsys):
    done(
        capsys, "log", "add", "bench", "baled", "--from", "02:45", "--at", "04:15",
        "--moisture", "12.9", "--machine", "baler 1", "--now", "2025-07-09T08:00",
    )  # fmt: skip
    done(capsys, "log", "add", "creek", "too wet", "--from", "12:00", "--at", "13:00",
         "--now", "2025-07-09T13:30")  # fmt: skip
    done(capsys, "log", "add", "bench", "note", "--note", "dust, much of it " * 8)
    text = done(capsys, "log", "show")
    assert "baled, to 4:15 am, baler 1" in text
    assert "dust, mu" in text
    assert max(map(len, text.splitlines())) <= 80
    assert [entry["event"] for entry in shown(capsys)] == ["note", "baled", "too_wet"]


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["bensh", "10.5"], 'did you mean "bench"? Fields: bench, creek, saddle'),
        (["bench", "130"], "between 0 and 100"),
        (["bench", "0.105"], "write 10.5"),
        (["bench", "82"], "add --sure"),
        (["bench", "10.5.1"], "is no moisture"),
        (["bench", "bailed"], 'did you mean "baled"'),
        (["bench", "10.5", "--at", "23:10"], "lies after now (2025-07-08T17:00:00-07:00)"),
        (["bench", "10.5", "--at", "eleven"], "write it like 23:10"),
        (["bench", "10.5", "--at", "2025-03-09T02:30"], "clocks went forward"),
        (["bench", "baled"], "--from 02:45 --at 04:15"),
        (["bench", "filled", "--from", "15:00"], "is a moment"),
        (["bench", "10.5", "--from", "15:00"], "leave it out"),
        (["bench", "10.5", "--id", "x"], "no uuid"),
        (["bench", "10.5", "--error", "99"], "between 0.1 and 20"),
        (["bench", "10.5", "--layer", "side"], "--layer: side"),
        (["bench", "10.5", "--out", "hayweather.sqlite"], "write to another name"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_cannot_be_is_asked_back_in_one_line(capsys, arguments, part):
    line = refused(capsys, "log", "add", *arguments)
    assert part in line
    assert shown(capsys) == []


def test_the_lines_are_in_the_farms_language(farm, capsys):
    in_spanish(farm)
    assert "¿quiso decir" in refused(capsys, "log", "add", "bensh", "10.5")
    text = done(capsys, "log", "add", "bench", "10.5", "--part", "stem", "--units", "metric")
    assert text.startswith("EJEMPLO INVENTADO")
    assert "Anotado con el número 1: bench, 2025-07-08 17:00: tallo, 10,5 %." in text
    text = done(capsys, "log", "show")
    assert "cuándo" in text
    assert "revise el heno mismo" in text


def test_an_hour_that_comes_twice_says_which(farm, capsys):
    text = done(capsys, "log", "add", "bench", "10.5", "--at", "2024-11-03T01:30")
    assert "the first was taken (2024-11-03T01:30:00-07:00)" in " ".join(text.split())
    done(capsys, "log", "add", "bench", "11.5", "--at", "2024-11-03T01:30-08:00")
    first, second = shown(capsys)
    assert (first["time"][-6:], second["time"][-6:]) == ("-07:00", "-08:00")
    assert "1:30 am PDT" in done(capsys, "log", "show")


def test_sent_twice_is_written_once(capsys):
    name = "123e4567-e89b-12d3-a456-426614174000"
    for _ in range(2):
        assert "Logged as 1" in done(capsys, "log", "add", "bench", "10.5", "--id", name)
    assert len(shown(capsys)) == 1


def test_nothing_logged_yet_makes_no_file(farm, capsys):
    assert "hayweather log add bench 10.5" in done(capsys, "log", "show")
    assert "nothing" in refused(capsys, "log", "export", "readings.csv")
    assert "no entry 3" in refused(capsys, "log", "remove", "3")
    assert sorted(os.listdir()) == ["farm.toml", "sagebeck.csv"]


def test_show_by_field_and_time(capsys):
    done(capsys, "log", "import", READINGS, "--now", "2025-07-12T12:00")
    every = shown(capsys)
    fields = {entry["field"] for entry in every}
    assert len(every) == 13
    for field in fields:
        some = shown(capsys, "--field", field)
        assert some == [entry for entry in every if entry["field"] == field]
    since = shown(capsys, "--since", "2025-07-08", "--until", "2025-07-08T12:00")
    assert since == [e for e in every if "2025-07-08T00" <= e["time"] <= "2025-07-08T12:01"]
    assert 0 < len(since) < 13
    lines = done(capsys, "log", "show", "--format", "csv").splitlines()
    assert lines[0].startswith("# INVENTED")
    assert sum(not line.startswith("#") for line in lines) == 14


def test_import_twice_adds_nothing_twice_and_says_so(capsys):
    later = ("--now", "2025-07-12T12:00")
    for new, known in ((13, 0), (0, 13)):
        told = f"entries added: {new}; in the log already: {known}."
        assert told in done(capsys, "log", "import", READINGS, *later)
    before = len(shown(capsys))
    assert "in the log already: 0" in done(capsys, "log", "import", LOG, *later)
    assert len(shown(capsys)) > before
    done(capsys, "log", "remove", "2")
    text = " ".join(done(capsys, "log", "import", READINGS, *later).split())
    assert "removed before stay removed: 1." in text


def test_a_future_row_keeps_the_whole_sheet_out(capsys):
    line = refused(capsys, "log", "import", READINGS, "--now", "2025-07-08T03:00")
    assert "sagebeck_readings.csv: line" in line
    assert "lies after now" in line
    assert shown(capsys) == []


def test_exported_and_imported_again(farm, capsys):
    later = ("--now", "2025-07-12T12:00")
    done(capsys, "log", "import", READINGS, *later)
    done(capsys, "log", "import", LOG, *later)
    done(capsys, "log", "add", "bench", "90", "--sure", "--note", "=1+1", *later)
    done(capsys, "log", "remove", "1")
    before = shown(capsys)
    assert before[-1]["note"] == "=1+1"
    assert "'=1+1" in done(capsys, "log", "show", "--format", "csv")
    Path("sheets").mkdir()
    assert run(["log", "export", "sheets"]) == 0
    assert sorted(os.listdir("sheets")) == ["LOG.csv", "READINGS.csv"]
    assert "'=1+1" in Path("sheets/READINGS.csv").read_text(encoding="utf-8")
    assert run(["log", "export", "copy.sqlite"]) == 0
    done(capsys, "log", "export", "readings.csv")
    assert Path("readings.csv").read_bytes() == Path("sheets/READINGS.csv").read_bytes()
    text = farm.read_text(encoding="utf-8")
    for name in ("other.sqlite", "copy.sqlite"):
        farm.write_text(text.replace("[farm]\n", f'[farm]\nlog = "{name}"\n'), encoding="utf-8")
        done(capsys, "log", "import", "sheets", *later)
        after = shown(capsys)
        assert all(entry.pop("id") for entry in after)
        assert sorted(map(str, after)) == sorted(
            str({name: value for name, value in entry.items() if name != "id"}) for entry in before
        )


def test_the_screen_is_a_place_too(capsys):
    done(capsys, "log", "add", "bench", "10.5")
    lines = done(capsys, "log", "export", "-").splitlines()
    assert lines[0].startswith("# INVENTED SAMPLE")
    assert lines[-1].startswith("2025-07-08T17:00:00-07:00,bench,10.5,windrow,")


def test_tune_and_score_read_what_was_exported(capsys):
    later = ("--now", "2025-07-12T12:00")
    done(capsys, "log", "import", LOG, *later)
    done(capsys, "log", "add", "bench", "started", "--machine", "baler", *later)
    done(capsys, "log", "export", "log.csv", "--what", "work")
    farm = read_farm(Path("farm.toml"))
    zones = {name: site.timezone for name, site in farm.sites.items()}
    assert read_log(Path("log.csv"), farm, zones) == read_log(LOG, farm, zones)


def test_samples_of_a_night_at_three_depths(capsys):
    rows = "".join(
        f"2025-07-08T{hour}:00,{9 + k},{8.5 + k / 2},{8 + k / 4}\n"
        for k, hour in enumerate(("20", "21", "22", "23"))
    )
    Path("night.csv").write_text("time,top,middle,bottom\n" + rows, encoding="utf-8")
    assert "no field" in refused(capsys, "log", "import", "night.csv", "--now", NOW)
    text = done(capsys, "log", "import", "night.csv", "--field", "bench", "--now", NOW)
    assert "night.csv: entries added: 12" in text
    assert [entry["layer"] for entry in shown(capsys)][:3] == ["top", "middle", "bottom"]


@pytest.mark.parametrize("place", ["hayweather.sqlite", "hayweather.sqlite-wal", "farm.toml"])
def test_nothing_is_exported_over_the_farms_own_files(place, capsys):
    done(capsys, "log", "add", "bench", "10.5")
    before = Path("farm.toml").read_bytes(), Path("hayweather.sqlite").read_bytes()
    refused(capsys, "log", "export", place)
    refused(capsys, "log", "export", f"./{place}")
    refused(capsys, "log", "show", "--out", place)
    refused(capsys, "outlook", "farm.toml", "--out", place)
    assert (Path("farm.toml").read_bytes(), Path("hayweather.sqlite").read_bytes()) == before
    assert len(shown(capsys)) == 1


def test_a_sheet_is_not_written_over_while_it_is_imported(capsys):
    sheet = Path("r.csv")
    sheet.write_text(HEAD + "2025-07-08T16:00,bench,10.5\n", encoding="utf-8")
    refused(capsys, "log", "import", "r.csv", "--out", "r.csv")
    assert sheet.read_text(encoding="utf-8").startswith(HEAD)


@pytest.mark.parametrize(
    ("content", "part"),
    [
        ("", "no row to read"),
        (HEAD, "no row to read"),
        (HEAD + "2025-07-08T16:00,attic,10\n", 'line 2, field: there is no field "attic"'),
        (HEAD + "2025-07-08T16:00,bench,250\n", "line 2, moisture_wb"),
        ("time,field,moisture\n2025-07-08T16:00,bench,10\n", 'did you mean "moisture_wb"'),
        ("time,field,moisture_wb,uuid\n2025-07-08T16:00,bench,10,7\n", "no uuid"),
        ("start,end,field,event\n2025-07-08T16:00,,bench,baled\n", "line 2, end"),
    ],
)
def test_a_bad_sheet_is_one_line_and_nothing_comes_in(content, part, capsys):
    Path("sheet.csv").write_text(content, encoding="utf-8")
    assert part in refused(capsys, "log", "import", "sheet.csv")
    assert shown(capsys) == []


def test_a_folder_without_sheets(capsys):
    Path("empty").mkdir()
    assert "READINGS.csv" in refused(capsys, "log", "import", "empty")
    assert "no such file" in refused(capsys, "log", "import", "none.csv")


def test_a_damaged_log_is_one_line_for_every_command(capsys):
    done(capsys, "log", "add", "bench", "10.5")
    Path("hayweather.sqlite").write_bytes(b"half a file")
    for arguments in (
        ["add", "bench", "10.5"], ["remove", "1"], ["show"], ["export", "-"], ["import", READINGS],
    ):  # fmt: skip
        line = refused(capsys, "log", *arguments, *(["--now", "2025-07-12T12:00"]
                       if arguments[0] in ("add", "import") else []))  # fmt: skip
        assert line.startswith("hayweather.sqlite: ")
        assert "damaged" in line
    assert Path("hayweather.sqlite").read_bytes() == b"half a file"


def test_a_reader_that_leaves_is_no_fault(capsys):
    rows = "".join(f"2025-07-0{1 + k % 7}T0{k % 10}:{k % 60:02d},bench,10\n" for k in range(3000))
    Path("many.csv").write_text(HEAD + rows, encoding="utf-8")
    done(capsys, "log", "import", "many.csv")
    command = f"{sys.executable} -m hayweather log show | head -2"
    ended = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, check=False
    )
    assert ended.returncode in (0, 128 + signal.SIGPIPE)
    assert ended.stderr == ""
    assert len(ended.stdout.splitlines()) == 2


@pytest.mark.parametrize("name", ["", "add", "remove", "show", "export", "import"])
@pytest.mark.parametrize("width", [80, 120])
def test_help_fits_and_holds_an_example(name, width, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    text = done(capsys, *["log", *name.split()], "--help")
    assert max(map(len, text.splitlines())) <= width
    assert text.count("Example: hayweather log ") == 1


def test_help_reads_no_heavy_package():
    code = (
        "import sys; from hayweather.cli.main import run; run(['log', 'add', '--help']);"
        "print(sorted({'pandas', 'sqlite3', 'scipy', 'matplotlib'} & set(sys.modules)))"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ended.stdout.splitlines()[-1] == "[]"


def test_what_else_is_kept_is_said(farm, capsys):
    form = {"now": "2025-07-08T17:00:00-07:00", "fields": [{"field": "bench", "headline": "wait"}]}
    with open_log(read_farm(farm)) as log:
        keep_issued(log, form)
    said = " ".join(done(capsys, "log", "show").split())
    assert "values of stations: 0; as issued: outlooks 1, plans 0" in said


def test_the_file_is_a_plain_database_that_others_can_read(capsys):
    done(capsys, "log", "add", "bench", "10.5")
    connection = sqlite3.connect("hayweather.sqlite")
    asked = "SELECT field, time, moisture_wb FROM entries JOIN readings USING (id)"
    assert connection.execute(asked).fetchall() == [("bench", "2025-07-09T00:00:00Z", 10.5)]
    connection.close()


@pytest.mark.slow
@pytest.mark.usefixtures("few_members")
@pytest.mark.parametrize("command", ["outlook", "runsheet", "plan"])
def test_a_logged_reading_reaches_every_command_of_the_night(command, tmp_path, capsys):
    farm = tmp_path / "sagebeck.toml"
    for name in ("sagebeck.toml", "sagebeck.csv"):
        shutil.copy(FOLDER / name, tmp_path / name)
    asked = [command, str(farm), "--format", "json", "--now", "2025-07-08T23:30"]
    asked += ["--time-limit", "1"] if command == "plan" else ["--field", "bench"]

    def answer(*more):
        assert run([*asked, *more]) == 0
        form = json.loads(capsys.readouterr().out)
        return form["blocks"] if command == "plan" else form

    without, said = answer(), answer("--reading", "bench@23:10=15")
    add = ["log", "add", "bench", "15", "--farm", str(farm), "--at", "23:10"]
    assert run([*add, "--now", "2025-07-08T23:20"]) == 0
    capsys.readouterr()
    logged = answer()
    assert logged == said
    assert logged != without
    assert answer("--reading", "bench@23:10=15") == logged


# What was issued


ISSUING = {
    "outlook": ["--field", "bench"],
    "runsheet": ["--field", "bench"],
    "plan": ["--time-limit", "1"],
}


def issued_in(farm):
    """Outlooks and plans that the log of a farm holds."""
    with open_log(read_farm(farm), only_read=True) as log:
        return log.outlooks(), log.plans()


@pytest.mark.parametrize(
    "command",
    ["outlook", *(pytest.param(name, marks=pytest.mark.slow) for name in ("runsheet", "plan"))],
)
def test_without_a_log_none_is_made_for_an_answer(command, farm, few_members, capsys):
    done(capsys, command, farm, *ISSUING[command])
    assert not Path("hayweather.sqlite").exists()


@pytest.mark.slow
def test_every_outlook_and_plan_is_kept_as_issued_once(farm, capsys):
    done(capsys, "log", "add", "bench", "10.5", "--at", "2025-07-08T16:00")
    shown_form = json.loads(done(capsys, "outlook", farm, "--format", "json"))
    outlooks, plans = issued_in(farm)
    assert [item.field for item in outlooks] == ["bench", "creek", "saddle"]
    assert plans == []
    for item, field in zip(outlooks, shown_form["fields"], strict=True):
        (kept,) = item.content["fields"]
        assert item.advice == kept["headline"] == field["headline"]
        assert [h["call"] for h in kept["hours"]] == [h["call"] for h in field["hours"]]
        moistures = [hour["windrow_moisture_wb"] for hour in kept["hours"]]
        exact = next(moisture for moisture in moistures if moisture is not None)
        assert exact != round(exact, 4)
        assert set(kept["hours"][-1]["layers"]) == {"top", "middle", "bottom"}
    done(capsys, "runsheet", farm)
    assert len(issued_in(farm)[0]) == 3
    done(capsys, "plan", farm, *ISSUING["plan"])
    outlooks, (plan,) = issued_in(farm)
    assert len(outlooks) == 3
    assert plan.content["schema"] == "hayweather/fields/1"
    assert plan.advice == plan.content["headline"]


@pytest.mark.slow
def test_a_log_held_by_another_costs_one_caution_and_not_the_answer(
    farm, few_members, capsys, monkeypatch
):
    done(capsys, "log", "add", "bench", "10.5", "--at", "2025-07-08T16:00")
    monkeypatch.setattr(database, "WAIT_S", 0.1)
    holder = sqlite3.connect("hayweather.sqlite", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    said = {}
    for command, more in ISSUING.items():
        assert run([command, str(farm), *more]) == 0
        said[command] = capsys.readouterr()
    holder.execute("ROLLBACK")
    holder.close()
    for told in said.values():
        assert "INVENTED SAMPLE" in told.out
        assert "check the hay" in " ".join(told.out.split()).lower()
        (line,) = told.err.splitlines()
        assert line.startswith("Caution: this answer is not kept in the farm's log")
        assert "hayweather.sqlite: " in line
    assert issued_in(farm) == ([], [])


@pytest.mark.slow
def test_a_folder_that_cannot_be_written_costs_one_caution_and_not_the_answer(
    farm, open_folder, capsys, monkeypatch
):
    for name in ("farm.toml", "sagebeck.csv"):
        shutil.copy(name, open_folder)
    moved = open_folder / "farm.toml"
    done(capsys, "log", "add", "bench", "10.5", "--farm", moved, "--at", "2025-07-08T16:00")
    monkeypatch.chdir(open_folder)
    ended = done_by(twice, "outlook", "farm.toml", "--field", "bench")
    first, second = ended.out.split("=====\n")
    assert ended.code == 0, ended.err
    assert first == second
    (line,) = ended.err.splitlines()
    assert line.startswith("Caution: this answer is not kept in the farm's log")
    assert "cannot be written here" in line
    assert len(issued_in(moved)[0]) == 1


@pytest.mark.slow
def test_two_commands_at_once_are_both_kept(farm, capsys):
    done(capsys, "log", "add", "bench", "10.5", "--at", "2025-07-08T16:00")
    both = [begin(program, "outlook", "farm.toml", "--field", name, "--now", NOW)
            for name in ("bench", "creek")]  # fmt: skip
    assert [(ended.err, ended.code) for ended in (one.wait() for one in both)] == [("", 0)] * 2
    outlooks, _ = issued_in(farm)
    assert sorted(item.field for item in outlooks) == ["bench", "creek"]
    assert {item.made for item in outlooks} == {np.datetime64("2025-07-09T06:30", "s")}
