"""The command runsheet as people run it, and bad input in one line each."""

import json

import pytest
from cli.commands import SAGEBECK, done, farm_with, refused
from support.outlooks import FOLDER


@pytest.fixture(autouse=True)
def _plain_surroundings(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("HAYWEATHER_LANGUAGE", raising=False)


@pytest.mark.slow
def test_a_sample_runs_as_table_json_and_csv(capsys, tmp_path, few_members):
    text = done(capsys, "runsheet", SAGEBECK, "--field", "bench")
    assert text.startswith("INVENTED SAMPLE")
    assert max(map(len, text.splitlines())) <= 80
    target = tmp_path / "sheet.json"
    done(capsys, "runsheet", SAGEBECK, "--field", "bench", "--out", target)
    form = json.loads(target.read_text(encoding="utf-8"))
    assert form["schema"] == "hayweather/runsheet/2"
    assert [machine["machine"] for machine in form["machines"]] == ["baler", "rig"]
    assert [field["field"] for field in form["fields"]] == ["bench"]
    rows = done(capsys, "runsheet", SAGEBECK, "--field", "bench", "--format", "csv").splitlines()
    assert any(row.startswith("baler,work,2025-07-0") for row in rows)


def test_one_machine(capsys, few_members):
    text = done(capsys, "runsheet", SAGEBECK, "--machine", "rig")
    assert "\nRIG\n" in text
    assert "\nBALER\n" not in text
    line = refused(capsys, "runsheet", SAGEBECK, "--machine", "moon")
    assert '"moon"' in line
    assert "baler, rig" in line


def test_a_tank_that_holds_less_than_is_in_it_is_refused(capsys, tmp_path):
    path = farm_with(tmp_path, ("tank = 800", "in_tank = 900\ntank = 800"))
    assert "in_tank 900" in refused(capsys, "runsheet", path)


def test_now_and_units(capsys):
    text = done(
        capsys, "runsheet", SAGEBECK, "--units", "metric",
        "--now", "2025-07-08T22:20", "--format", "json",
    )  # fmt: skip
    form = json.loads(text)
    assert form["units"] == "metric"
    assert form["machines"][0]["steps"][0]["start"] >= "2025-07-08T22:20"


def test_spanish(capsys, few_members):
    text = done(capsys, "runsheet", FOLDER / "vallumbria.toml", "--field", "soto")
    assert text.startswith("EJEMPLO INVENTADO")
    assert "Ajustes por cuarto de hora" in text
    assert "Pare cuando:" in text


def test_without_a_rig_it_says_so_in_one_line(capsys, tmp_path, few_members):
    text = SAGEBECK.read_text(encoding="utf-8")
    rig = text[text.index("[rig]") : text.index("[[shift]]")]
    path = farm_with(tmp_path, (rig, ""))
    said = done(capsys, "runsheet", path, "--field", "bench")
    assert "- No rig to add water: hours on natural dew only." in said.splitlines()
    assert "\nRIG\n" not in said


CHANGES = {
    "windrow beyond the pickup": (
        ("useful_hours = 2", "windrow_limit = 0.2"),
        "field bench: a windrow of",
    ),
    "windrow too much at the slowest speed": (
        ("useful_hours = 2", 'speed_min = "7 mph"'),
        "field bench: at its slowest, 7 mph",
    ),
    "zero throughput": (("capacity = 21", "capacity = 0"), "[baler] capacity"),
    "a field of no area": (("area = 118", "area = 0"), "[field.bench] area"),
    "shifts that overlap": (('end = "03:00"', 'end = "04:00"'), "shift"),
}


@pytest.mark.parametrize("case", CHANGES)
def test_bad_input(case, capsys, tmp_path, middle_alone):
    change, expected = CHANGES[case]
    line = refused(capsys, "runsheet", farm_with(tmp_path, change), "--field", "bench")
    assert "farm.toml" in line
    assert expected in line


def test_a_field_that_is_not_there(capsys):
    assert '"moon"' in refused(capsys, "runsheet", SAGEBECK, "--field", "moon")
