"""Keep outlooks, score them, tune to readings: as people run these commands."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from cli.commands import SAGEBECK, done, refused
from support.outlooks import FOLDER

from hayweather.cli.main import run
from hayweather.farm import read_farm
from hayweather.learning import tune

LOG, READINGS = FOLDER / "sagebeck_log.csv", FOLDER / "sagebeck_readings.csv"
READING_HEAD = "time,field,moisture_wb,kind\n"
LOG_HEAD = "start,end,field,event,moisture_wb\n"
KEPT: dict[str, bytes] = {}


@pytest.fixture(autouse=True)
def _plain_surroundings(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("HAYWEATHER_LANGUAGE", raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def farm(tmp_path):
    """The sample farm in a folder of its own."""
    shutil.copy(FOLDER / "sagebeck.csv", tmp_path)
    return Path(shutil.copy(SAGEBECK, tmp_path / "farm.toml"))


@pytest.fixture
def kept(farm, few_members, capsys):
    """Outlooks of two evenings in the folder that `score` reads; made once, then copied."""
    folder = Path("outlooks")
    if not KEPT:
        for day in ("08", "09"):
            now = f"2025-07-{day}T17:00"
            done(capsys, "outlook", farm, "--field", "bench", "--now", now, "--keep", folder)
        KEPT.update({path.name: path.read_bytes() for path in folder.iterdir()})
    folder.mkdir(exist_ok=True)
    for name, content in KEPT.items():
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture
def few_draws(monkeypatch):
    """Bars from few draws, where what is looked at does not hang on their number."""
    monkeypatch.setattr(tune, "FIRST_DRAWS", 60)
    monkeypatch.setattr(tune, "LATER_DRAWS", 60)
    monkeypatch.setattr(tune, "SCATTER_MEMBERS", 20)


@pytest.fixture
def no_windrow(monkeypatch):
    """In place of the windrow, 10 % at every reading, NaN where its night has no weather."""

    def even(farm, nights, tunings):
        known = np.isfinite(nights.weather.columns["air_temperature_c"]).all(axis=0)
        said = np.where(known[list(nights.lanes)], 10.0, np.nan)
        return np.tile(said, (len(tunings), 1))

    monkeypatch.setattr(tune, "predict", even)


def written(name: str, text: str) -> Path:
    path = Path(name)
    path.write_text(text, encoding="utf-8")
    return path


def test_kept_outlooks_are_named_by_field_and_time_and_scored(kept, farm, capsys):
    names = ["bench_20250709T0000Z.json", "bench_20250710T0000Z.json"]
    assert sorted(path.name for path in kept.iterdir()) == names
    form = json.loads(done(capsys, "score", farm, LOG, "--readings", READINGS, "--format", "json"))
    assert (form["schema"], form["outlooks"], form["invented"]) == ("hayweather/score/1", 2, True)
    assert [rule["rule"] for rule in form["rules"]] == ["outlook", "never", "yesterday", "humidity"]
    assert form["hours"] + form["hours_without_outlook"] == 35
    assert form["times_baled"] == 3
    text = done(capsys, "score", farm, LOG, "--readings", READINGS)
    assert text.startswith("INVENTED SAMPLE")
    assert max(map(len, text.splitlines())) <= 80
    assert done(capsys, "score", farm, LOG, "--format", "csv").startswith("table,row,measure,value")
    earlier = done(capsys, "score", farm, LOG, "--now", "2025-07-09T05:00", "--format", "json")
    assert json.loads(earlier)["hours"] < form["hours"]


def test_score_says_which_files_are_no_outlooks(kept, farm, capsys):
    (kept / "other.json").write_text("{}")
    assert run(["score", str(farm), str(LOG)]) == 0
    assert "other.json" in capsys.readouterr().err


def test_score_in_spanish(kept, farm, capsys):
    text = farm.read_text(encoding="utf-8").replace('language = "en"', 'language = "es"')
    farm.write_text(text, encoding="utf-8")
    said = done(capsys, "score", farm, LOG, "--units", "metric")
    assert said.startswith("EJEMPLO INVENTADO")
    assert "Probabilidad de rocío natural, dicha y cumplida" in said
    assert "no existe esa carpeta" in refused(capsys, "score", farm, LOG, "--kept", "nada")


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "no row to read"),
        (LOG_HEAD, "no row to read"),
        (LOG_HEAD + "2025-07-09T02:00,2025-07-09T03:00,bench,bailed,\n", 'did you mean "baled"'),
        (LOG_HEAD + "2025-07-09T02:00,2025-07-09T03:00,attic,baled,\n", 'no field "attic"'),
        (LOG_HEAD + "2025-07-09T02:00,2025-07-09T03:00,bench,baled,250\n", "between 1 and 80"),
        (
            LOG_HEAD + "2024-07-09T02:00,2024-07-09T03:00,bench,baled,\n",
            "none of the outlooks kept (2)",
        ),
    ],
    ids=["nothing", "empty", "event", "field", "moisture", "year"],
)
def test_a_bad_log_is_one_line(kept, farm, capsys, text, part):
    assert part in refused(capsys, "score", farm, written("log.csv", text))


def test_no_outlooks_are_one_line(farm, capsys):
    assert "--keep" in refused(capsys, "score", farm, LOG)


def test_an_outlook_that_cannot_be_kept_is_one_line_and_nothing_is_shown(farm, few_members, capsys):
    written("taken", "")
    line = refused(capsys, "outlook", farm, "--field", "bench", "--keep", "taken")
    assert "cannot be kept" in line


@pytest.mark.slow
def test_tune_writes_what_it_shows_and_keeps_comments_and_a_copy(farm, few_draws, capsys):
    before = farm.read_text(encoding="utf-8")
    assert run(["tune", str(farm), str(READINGS), "--weather-at-field", "--write"]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("INVENTED SAMPLE")
    assert "share of open sky" in said.out
    assert max(map(len, said.out.splitlines())) <= 80
    assert "farm.toml.bak" in said.err
    after = farm.read_text(encoding="utf-8")
    assert after.startswith(before)
    assert Path("farm.toml.bak").read_text(encoding="utf-8") == before
    table = after.removeprefix(before)
    shown = said.out[said.out.index("[tuning]\n") :].split("\n\n")[0]
    assert " ".join(table.split()) == " ".join(shown.split())
    assert "windrow_mass" in shown
    assert read_farm(farm).tuning.windrow_mass != 1.0


def test_two_readings_tell_nothing_and_nothing_is_written(farm, few_draws, capsys):
    rows = "2025-07-08T22:00,bench,9.0,3\n2025-07-09T02:00,bench,12.0,3\n"
    two = written("two.csv", "time,field,moisture_wb,meter_error\n" + rows)
    before = farm.read_bytes()
    assert run(["tune", str(farm), str(two), "--write", "--format", "json"]) == 0
    said = capsys.readouterr()
    form = json.loads(said.out)
    assert (form["schema"], form["readings_used"], form["tuning"]) == ("hayweather/tune/1", 2, "")
    assert {each["status"] for each in form["numbers"]} == {"unclear", "needs_skin", "needs_rig"}
    assert "nothing to write" in said.err
    assert farm.read_bytes() == before


def test_tune_takes_the_weather_of_past_nights_from_another_file(farm, no_windrow, capsys):
    Path("sagebeck.csv").rename("past.csv")
    Path(shutil.copy(FOLDER / "sagebeck_frost.csv", "sagebeck.csv"))
    assert "reaches none of the readings (13)" in refused(capsys, "tune", farm, READINGS)
    arguments = ("tune", farm, READINGS, "--weather", "past.csv", "--weather-at-field")
    text = done(capsys, *arguments, "--format", "csv")
    assert text.splitlines()[0].startswith("name,unit,status,value")


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "no row to read"),
        (READING_HEAD + "2025-07-08T22:00,bench,250,\n", "between 1 and 80"),
        (READING_HEAD + "2025-07-08T22:00,attic,10,\n", 'no field "attic"'),
        (READING_HEAD + "2025-07-08T22:00,bench,10,root\n", "windrow, leaf, stem, bale"),
        (READING_HEAD + "tonight,bench,10,\n", 'time "tonight" is not understood'),
        ("time,field,wet\n2025-07-08T22:00,bench,10\n", 'column "wet" is not known'),
    ],
    ids=["nothing", "moisture", "field", "kind", "time", "column"],
)
def test_bad_readings_are_one_line(farm, capsys, text, part):
    assert part in refused(capsys, "tune", farm, written("r.csv", text))


def test_readings_without_a_zone_are_one_line(farm, capsys):
    text = farm.read_text(encoding="utf-8")
    farm.write_text(text.replace('timezone = "America/Los_Angeles"\n', ""), encoding="utf-8")
    assert "no time zone" in refused(capsys, "tune", farm, READINGS)


def test_tune_before_a_time_without_readings_is_one_line(farm, capsys):
    line = refused(capsys, "tune", farm, READINGS, "--now", "2025-07-01T12:00")
    assert "none of the entries (13)" in line


def test_a_farm_that_was_tuned_no_longer_says_that_nothing_was_measured(farm, few_members, capsys):
    night = ("outlook", farm, "--field", "bench")
    assert "no measured night" in " ".join(done(capsys, *night).split())
    with farm.open("a", encoding="utf-8") as file:
        file.write("\n[tuning]\nwindrow_mass = 1.1\n")
    assert "no measured night" not in " ".join(done(capsys, *night).split())


@pytest.mark.slow
def test_readings_show_in_text_and_json(farm, capsys, monkeypatch):
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 32)
    night = (
        "outlook", farm, "--field", "bench", "--now", "2025-07-08T18:00",
        "--reading", "17:00=5", "--reading", "18:00=60",
    )  # fmt: skip
    assert "Read: whole windrow 5 % at 5 pm" in done(capsys, *night)
    text = " ".join(done(capsys, *night, "--all").split())
    assert "your readings were weighed in" in text
    assert "your reading of 60 % at 6 pm lies beyond all forecast runs" in text
    (field,) = json.loads(done(capsys, *night, "--format", "json"))["fields"]
    first, second = field["readings"]
    assert (first["time"], first["moisture_wb"]) == ("2025-07-08T17:00:00-07:00", 5.0)
    assert (first["fits"], second["fits"]) == (True, False)
    assert 0 < field["runs"]["effective"] <= field["runs"]["count"]


def test_without_a_file_and_without_a_log_score_and_tune_say_so_in_one_line(farm, capsys):
    assert "nothing that happened is in the farm's log yet" in refused(capsys, "score", farm)
    assert "no reading is in the farm's log yet" in refused(capsys, "tune", farm)
    assert not Path("hayweather.sqlite").exists()


def test_score_reads_the_log_as_it_reads_the_files(kept, farm, capsys):
    """The same outlooks from the folder, the same work and readings from the farm's log."""
    asked = ["score", farm, "--format", "json"]
    files = json.loads(done(capsys, *asked, LOG, "--readings", READINGS))
    for sheet in (LOG, READINGS):
        done(capsys, "log", "import", sheet, "--farm", farm, "--now", "2025-07-12T12:00")
    assert json.loads(done(capsys, *asked)) == files
