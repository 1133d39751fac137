"""Where results go: checked before any work, whole or not at all, never over what was read."""

import json
import os
from pathlib import Path

import pytest
from cli.commands import SAGEBECK, done, farm_with, refused
from jsonschema import Draft202012Validator
from support.outlooks import FOLDER
from support.schemas import schema_of

from hayweather.cli.main import run
from hayweather.cli.options import Output
from hayweather.cli.write import checked
from hayweather.errors import InputError

SITES = FOLDER / "seasons" / "sites.toml"
STRIPS = FOLDER / "seasons" / "strips.csv"
READINGS, LOG = FOLDER / "sagebeck_readings.csv", FOLDER / "sagebeck_log.csv"
COMMANDS = {
    "outlook": (SAGEBECK,),
    "runsheet": (SAGEBECK,),
    "plan": (SAGEBECK,),
    "fields": (SAGEBECK,),
    "inspect": (SAGEBECK,),
    "seasons": (SITES,),
    "score": (SAGEBECK, LOG),
    "tune": (SAGEBECK, READINGS),
    "trial": (STRIPS,),
    "fetch": (SAGEBECK, "--service", "us-nws"),
}


def test_seasons_refuses_a_chart_without_its_folder_at_once(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    line = refused(capsys, "seasons", SITES, "--out", "s.csv", "--chart", "nofolder/x.png")
    assert line.startswith("nofolder/x.png: there is no folder")
    assert list(tmp_path.iterdir()) == []


def places(folder: Path) -> dict[str, Path]:
    """Places that no result may go to, by what is said of them."""
    (folder / "locked.csv").write_text("mine")
    (folder / "locked.csv").chmod(0o444)
    (folder / "shut").mkdir()
    (folder / "shut").chmod(0o555)
    os.mkfifo(folder / "pipe.csv")
    return {
        "there is no folder": folder / "none" / "a.csv",
        "this is a folder": folder,
        "this is no plain file": folder / "pipe.csv",
        "this must not be written": folder / "locked.csv",
        "must not be written": folder / "shut" / "a.csv",
    }


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_checks_its_places_before_any_work(command, tmp_path, capsys):
    for words, place in places(tmp_path).items():
        line = refused(capsys, command, *COMMANDS[command], "--out", place)
        assert words in line, line
        assert line.startswith(str(place))
    assert (tmp_path / "locked.csv").read_text() == "mine"


@pytest.mark.usefixtures("no_work")
def test_a_device_is_no_place(capsys):
    assert "no plain file" in refused(capsys, "outlook", SAGEBECK, "--out", "/dev/null")


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize(
    ("command", "read"),
    [
        ("outlook", SAGEBECK), ("outlook", FOLDER / "sagebeck.csv"),
        ("runsheet", FOLDER / "sagebeck.csv"), ("plan", FOLDER / "sagebeck.csv"),
        ("inspect", SAGEBECK), ("inspect", FOLDER / "sagebeck.csv"), ("score", LOG),
        ("tune", READINGS), ("tune", FOLDER / "sagebeck.csv"), ("trial", STRIPS),
        ("seasons", SITES), ("seasons", FOLDER / "seasons" / "bench_2023.csv"),
        ("fetch", SAGEBECK),
    ],
)  # fmt: skip
def test_nothing_that_is_read_is_written_over(command, read, tmp_path, capsys):
    before = read.read_bytes()
    link = tmp_path / "link.csv"
    link.symlink_to(read)
    for place in (read, link):
        line = refused(capsys, command, *COMMANDS[command], "--out", place)
        assert "this result is made from that file" in line
    assert read.read_bytes() == before


@pytest.mark.usefixtures("no_work")
def test_score_does_not_write_over_an_outlook_it_scores(tmp_path, capsys):
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "bench.json").write_text("{}")
    where = ("--kept", kept, "--out", kept / "bench.json")
    assert "is made from that file" in refused(capsys, "score", SAGEBECK, LOG, *where)
    assert (kept / "bench.json").read_text() == "{}"


def test_folders_and_patterns_are_known_with_all_their_files(tmp_path):
    (tmp_path / "a_2020.csv").write_text("")
    (tmp_path / "other.txt").write_text("")
    output = Output(out=str(tmp_path / "a_2020.csv"))
    for read in (tmp_path, tmp_path / "a_*.csv", tmp_path / "a_2020.csv"):
        with pytest.raises(InputError, match="is made from that file"):
            checked("outlook", output, [read])
    checked("outlook", output, [tmp_path / "b_*.csv", None, tmp_path / "other.txt"])
    os.link(tmp_path / "a_2020.csv", tmp_path / "same.csv")
    for read in (tmp_path / "same.csv", tmp_path / "s*.csv"):
        with pytest.raises(InputError, match="is made from that file"):
            checked("outlook", output, [read])


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize(
    ("command", "option"),
    [
        ("inspect", "--chart"), ("score", "--page"), ("tune", "--calendar"),
        ("seasons", "--calendar"), ("score", "--reading"), ("fetch", "--cautions"),
    ],
)  # fmt: skip
def test_an_option_of_other_commands_says_where_it_belongs(command, option, capsys):
    line = refused(capsys, command, *COMMANDS[command], option, "x")
    begin, _, named = line.partition("; use it with ")
    assert begin == f"{command} has no {option}"
    for other in named.strip().split(", "):
        assert run([*other.split(), "--help"]) == 0
        assert option in capsys.readouterr().out


def test_every_command_of_an_option_is_named(capsys):
    line = refused(capsys, "log", "show", "--page", "x")
    assert line.strip() == "log show has no --page; use it with outlook, runsheet, plan, seasons"


@pytest.mark.usefixtures("no_work")
def test_a_name_that_promises_a_picture_is_no_place_for_text(tmp_path, capsys):
    for name, option in (("a.png", "chart"), ("a.html", "page"), ("a.ics", "calendar")):
        line = refused(capsys, "outlook", SAGEBECK, "--out", tmp_path / name)
        assert line.endswith(f"write it with --{option}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("few_members")
def test_a_full_disk_behind_the_screen_is_one_line(capfd):
    with open("/dev/full", "w") as full:
        kept = os.dup(1)
        os.dup2(full.fileno(), 1)
        try:
            code = run(["inspect", str(SAGEBECK)])
        finally:
            os.dup2(kept, 1)
            os.close(kept)
    said = capfd.readouterr().err.splitlines()
    assert code in (0, 2)
    assert len(said) <= 1


@pytest.mark.usefixtures("few_members")
def test_a_formula_in_a_name_is_held_back_in_csv(tmp_path, capsys):
    farm = farm_with(tmp_path, ("[field.bench]", '[field."=1+1"]'))
    asked = ("outlook", farm, "--field", "=1+1", "--format", "csv")
    assert "\n'=1+1," in done(capsys, *asked)
    assert "\n=1+1," in done(capsys, *asked, "--csv", "raw")


ANSWERS = {
    "outlook": ("outlook", SAGEBECK),
    "runsheet": ("runsheet", SAGEBECK),
    "plan": ("plan", SAGEBECK, "--time-limit", "1"),
    "fields": ("fields", SAGEBECK, "--time-limit", "1"),
    "inspect": ("inspect", SAGEBECK),
    "inspect weather": ("inspect", FOLDER / "sagebeck.csv"),
    "trial": ("trial", STRIPS, "--price", "210", "--cost", "7"),
    "trial without a price": ("trial", STRIPS),
    "seasons": ("seasons", SITES, "--months", "7", "--years", "2023"),
    "tune": ("tune", SAGEBECK, READINGS),
}


@pytest.mark.slow
@pytest.mark.usefixtures("few_members", "few_draws")
@pytest.mark.parametrize("name", ANSWERS)
def test_every_answer_fits_its_schema(name, capsys):
    form = json.loads(done(capsys, *ANSWERS[name], "--format", "json"))
    Draft202012Validator(schema_of(form["schema"])).validate(form)


@pytest.mark.usefixtures("few_members")
def test_a_score_of_outlooks_kept_fits_its_schema(tmp_path, capsys):
    kept = tmp_path / "kept"
    done(capsys, "outlook", SAGEBECK, "--keep", kept)
    asked = ("score", SAGEBECK, LOG, "--kept", kept, "--format", "json")
    form = json.loads(done(capsys, *asked))
    Draft202012Validator(schema_of(form["schema"])).validate(form)


@pytest.mark.slow
@pytest.mark.usefixtures("few_members")
def test_the_run_sheet_draws_the_chart_too(tmp_path, capsys):
    chart = tmp_path / "sheet.svg"
    done(capsys, "runsheet", SAGEBECK, "--field", "bench", "--chart", chart, "--cautions")
    assert chart.read_text(encoding="utf-8").startswith("<?xml")
