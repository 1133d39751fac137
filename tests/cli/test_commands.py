"""Commands as people run them: on the samples, into files, in both languages."""

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from datetime import datetime

import pytest
import typer
from cli.commands import SAGEBECK, done, farm_with, refused, sample_weather, without_hours
from support.outlooks import EACH_SAMPLE, FOLDER

import hayweather
from hayweather.cli import main
from hayweather.cli.main import app
from hayweather.cli.usage import FRAME, frame_in
from hayweather.errors import WeatherUnavailableError
from hayweather.words import say

pytestmark = pytest.mark.usefixtures("few_members")  # processes below run with all of them


@pytest.fixture(autouse=True)
def _plain_surroundings(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("HAYWEATHER_LANGUAGE", raising=False)


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_every_sample_runs(name, capsys):
    screen, text = (done(capsys, "outlook", FOLDER / f"{name}.toml", *more)
                    for more in ((), ("--all",)))  # fmt: skip
    assert len(screen.splitlines()) <= 30
    assert text.startswith(("INVENTED SAMPLE", "EJEMPLO INVENTADO"))
    assert len(text.splitlines()) > 60
    # A command goes on beyond the edge rather than in a second line: it is to be copied.
    lines = [line for line in text.splitlines() if not line.startswith("  hayweather log add")]
    assert max(map(len, lines)) <= 80
    assert "nan" not in text.lower().replace("ventana", "")


def test_the_table_uses_a_wide_screen(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    text = done(capsys, "outlook", SAGEBECK, "--field", "bench", "--hours")
    lines = [line for line in text.splitlines() if "hayweather log add" not in line]
    assert 100 < max(map(len, lines)) <= 120
    assert re.search(r"leaf  stem  gal/", text), "two spaces between columns, not one"


def test_table_and_json_agree(capsys):
    arguments = ("outlook", SAGEBECK, "--field", "bench", "--units", "metric")
    text = done(capsys, *arguments, "--hours")
    form = json.loads(done(capsys, *arguments, "--format", "json"))
    (field,) = form["fields"]
    rows = [line for line in text.splitlines() if re.match(r"\S\S \d\d:\d\d (?!to )", line)]
    assert len(rows) == len(field["hours"])
    for row, hour in zip(rows, field["hours"], strict=True):
        assert row[3:8] == hour["start"][11:16]
        assert hour["call"] in row
        assert f"{hour['windrow_moisture_wb']:.1f} " in row
    for window in field["windows"]:
        if window["start"] < "2025-07-09T14":
            assert window["start"][11:16] in field["headline"] + "17:00"


def test_units_change_what_is_shown_and_not_what_is_said_to_be(capsys):
    arguments = ("outlook", SAGEBECK, "--field", "creek", "--format", "json")
    us, metric = (json.loads(done(capsys, *arguments, "--units", u)) for u in ("us", "metric"))
    drop = {"reasons", "cautions"}
    for a, b in zip(us["fields"][0]["hours"], metric["fields"][0]["hours"], strict=True):
        assert {k: v for k, v in a.items() if k not in drop} == {
            k: v for k, v in b.items() if k not in drop
        }
    assert us["fields"][0]["headline"] != metric["fields"][0]["headline"]


def test_a_spanish_farm_speaks_spanish(capsys):
    text = done(capsys, "outlook", FOLDER / "vallumbria.toml", "--field", "soto", "--cautions",
                "--all")  # fmt: skip
    for word in ("Rocío natural", "agregar humedad", "hora por hora", "Por qué", "Advertencias"):
        assert word in text
    assert "L por t" in text
    assert not re.search(r"\b(the|dew|windrow|below|Cautions)\b", text)


def test_results_go_into_files_by_their_endings(tmp_path, capsys):
    table, rows, form = (tmp_path / f"o.{ending}" for ending in ("txt", "csv", "json"))
    for place in (table, rows, form):
        assert done(capsys, "outlook", SAGEBECK, "--field", "bench", "--out", place) == ""
    assert table.read_text(encoding="utf-8").startswith("INVENTED SAMPLE")
    lines = [line for line in rows.read_text(encoding="utf-8").splitlines() if line[0] != "#"]
    assert next(csv.DictReader(io.StringIO("\n".join(lines))))["field"] == "bench"
    assert json.loads(form.read_text(encoding="utf-8"))["farm"] == "Sagebeck"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["o.csv", "o.json", "o.txt"]


@pytest.mark.slow
def test_a_chart_beside_the_table(tmp_path, capsys):
    chart = tmp_path / "night.svg"
    text = done(capsys, "outlook", SAGEBECK, "--field", "bench", "--chart", chart, "--out", "-")
    assert text.startswith("INVENTED SAMPLE")
    assert "<svg" in chart.read_text(encoding="utf-8")
    assert [path.name for path in tmp_path.iterdir()] == ["night.svg"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "column"),
    [
        (("fields", SAGEBECK, "--days", 1, "--time-limit", 0.1), "gain_per_ton"),
        (("trial", FOLDER / "seasons" / "strips.csv", "--price", 200, "--cost", 5), "with_water"),
        (("runsheet", SAGEBECK, "--field", "bench"), "water_gal_per_ton"),
    ],
)
def test_data_of_the_other_commands(arguments, column, capsys):
    form = json.loads(done(capsys, *arguments, "--format", "json"))
    assert form["schema"].startswith(f"hayweather/{arguments[0]}/")
    text = done(capsys, *arguments, "--format", "csv")
    rows = [line for line in text.splitlines() if not line.startswith("#")]
    assert text.startswith("# INVENTED SAMPLE")
    assert len(rows) > 1
    assert column in rows[0].split(",")


@pytest.mark.parametrize(
    ("command", "option"),
    [("fields", "--days"), ("fields", "--time-limit"), ("seasons", "--cores")],
)
def test_what_is_no_number_is_refused_in_plain_words(command, option, capsys):
    line = refused(capsys, command, SAGEBECK, option, "some")
    assert line.startswith(f"{option}: some ")
    assert "integer" not in line
    assert "valid" not in line


def test_a_preservative_is_shown_with_its_ceiling(tmp_path, capsys):
    label = 'preservative = { rate = "6 lb/ton", ceiling = 20 }'
    farm = farm_with(tmp_path, ("[baler]", f"[baler]\n{label}"))
    assert "6 lb/ton" in done(capsys, "inspect", farm)
    settings = json.loads(done(capsys, "inspect", farm, "--format", "json"))["settings"]
    (found,) = (item for item in settings if item["key"] == "preservative")
    assert found["value"] == {"rate": "6 lb/ton", "ceiling": 20.0}


def test_a_scheduler_is_for_grids(capsys):
    sites = FOLDER / "seasons" / "sites.toml"
    line = refused(capsys, "seasons", sites, "--scheduler", "tcp://127.0.0.1:1")
    assert line.startswith("--scheduler: ")


@pytest.mark.parametrize("price", ["much", "-1", "nan"])
def test_a_price_that_is_none_is_refused(price, capsys):
    strips = FOLDER / "seasons" / "strips.csv"
    line = refused(capsys, "trial", strips, f"--price={price}")
    assert line.startswith("--price: ")
    assert price in line


def test_where_a_file_went_is_said_beside_the_data(tmp_path, capsys):
    main.run(["outlook", str(SAGEBECK), "--field", "bench", "--out", str(tmp_path / "o.json")])
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.strip() == f"written: {tmp_path / 'o.json'}"


def test_now_may_carry_an_offset(capsys):
    arguments = ("outlook", SAGEBECK, "--field", "bench", "--format", "json", "--now")
    local = json.loads(done(capsys, *arguments, "2025-07-08T20:15"))
    offset = json.loads(done(capsys, *arguments, "2025-07-09T05:15+02:00"))
    assert local == offset
    assert local["now"] == "2025-07-08T20:15:00-07:00"
    assert local["fields"][0]["hours"][0]["start"] == "2025-07-08T20:00:00-07:00"


def test_a_gap_of_six_hours_tonight_gives_no_data_until_the_next_start(tmp_path, capsys):
    weather = without_hours("2025-07-09T05:00", "2025-07-09T10:00")  # 22:00 to 03:00 local
    farm = farm_with(tmp_path, weather=weather)
    form = json.loads(done(capsys, "outlook", farm, "--field", "bench", "--format", "json"))
    assert form["weather"]["hours_missing"] == 6
    (field,) = form["fields"]
    calls = {hour["start"][:13]: hour["call"] for hour in field["hours"]}
    gap = [call for start, call in calls.items() if "2025-07-08T22" <= start < "2025-07-09T14"]
    assert set(gap) == {"no data"}
    assert calls["2025-07-08T20"] != "no data"
    assert calls["2025-07-09T14"] != "no data"
    assert not [
        w for w in field["windows"]
        if w["end"] > "2025-07-08T22:00" and w["start"] < "2025-07-09T14:00"
    ]  # fmt: skip
    text = done(capsys, "outlook", farm, "--field", "bench")
    assert "air temperature missing" in text
    assert "????" in text


def test_no_rain_column_is_a_caution_on_the_first_screen_and_on_every_hour(tmp_path, capsys):
    farm = farm_with(tmp_path, weather=sample_weather().replace("rain_mm", "note", 1))
    text = done(capsys, "outlook", farm, "--field", "bench", "--all")
    assert text.count("ain unknown, taken as none") >= 2
    form = json.loads(done(capsys, "outlook", farm, "--field", "bench", "--format", "json"))
    assert all("rain unknown" in " ".join(h["cautions"]) for h in form["fields"][0]["hours"])


def test_a_field_without_a_rig_gets_no_water(tmp_path, capsys):
    text = SAGEBECK.read_text(encoding="utf-8")
    farm = farm_with(tmp_path)
    farm.write_text(text[: text.index("# Round figures")] + text[text.index("[[shift]]") :])
    shown = done(capsys, "outlook", farm, "--field", "bench", "--all")
    assert "With the rig" not in shown
    assert "no rig to add water" in " ".join(shown.split())
    assert "gal/" not in shown


def test_no_argument_reads_the_farm_of_this_folder(tmp_path, capsys, monkeypatch):
    farm_with(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert "Sagebeck" in done(capsys, "outlook", "--field", "bench")


def test_weather_that_cannot_be_had_ends_with_three(capsys, monkeypatch, tmp_path):
    def fail(*_arguments, **_options):
        raise WeatherUnavailableError("service_down", "us-nws", said="503")

    monkeypatch.setattr("hayweather.weather.asked.weather_for", fail)
    assert main.run(["outlook", str(SAGEBECK)]) == 3
    said = capsys.readouterr()
    assert said.err.startswith("us-nws: ")
    assert said.out == ""


def test_a_defect_is_one_line_and_no_traceback(capsys, monkeypatch):
    def fail(*_arguments, **_options):
        raise ZeroDivisionError("by\nzero")

    monkeypatch.setattr("hayweather.weather.asked.weather_for", fail)
    assert main.run(["outlook", str(SAGEBECK)]) == 1
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert "ZeroDivisionError: by zero" in said


def test_an_interruption_is_one_line(capsys, monkeypatch):
    def interrupt(*_arguments, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr("hayweather.weather.asked.weather_for", interrupt)
    assert main.run(["outlook", str(SAGEBECK)]) == 130
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", "stopped; no file is left half-written\n")


COMMANDS = (
    *("outlook", "runsheet", "plan", "fetch", "inspect"),
    *("tune", "score", "seasons", "trial", "farm"),
)


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_fits_and_cuts_nothing(command, width, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    text = done(capsys, *command.split(), "--help")
    assert max(map(len, text.splitlines())) <= width
    assert "..." not in text.partition("\n")[2]
    assert "<str>" not in text


@pytest.mark.parametrize("command", ["", "log", "log add", "outlook", "seasons"])
def test_the_frame_of_help_speaks_spanish_too(capsys, command):
    """Every word that the parser writes around our texts: headings, defaults, its own options."""
    program = typer.main.get_command(app)
    frame_in("es", program)
    program([*command.split(), "--help"], standalone_mode=False)
    text = " ".join(capsys.readouterr().out.split())
    assert text.startswith("Uso: ")
    assert "Opciones: " in text
    assert "Muestra esta ayuda y termina." in text
    for english in (say(key) for key in FRAME):
        assert english not in text


def test_help_is_had_by_one_letter_too(capsys):
    assert done(capsys, "outlook", "-h") == done(capsys, "outlook", "--help")


EXAMPLE_FILES = {
    "farm.toml": "sagebeck.toml",
    "sagebeck.csv": "sagebeck.csv",
    "weather.csv": "sagebeck.csv",
    "log.csv": "sagebeck_log.csv",
    "trial.csv": "seasons/strips.csv",
}


def example_of(command, capsys):
    """The example of a command's help, which stands in one line."""
    begin = "Example: hayweather "
    (line,) = (x for x in done(capsys, command, "--help").splitlines() if begin in x)
    return line.partition(begin)[2].split()


@pytest.mark.slow
@pytest.mark.parametrize("command", [c for c in COMMANDS if c not in ("tune", "seasons", "fetch")])
def test_the_example_of_every_help_runs(command, tmp_path, capsys, monkeypatch):
    for name, sample in EXAMPLE_FILES.items():
        shutil.copy(FOLDER / sample, tmp_path / name)
    (tmp_path / "outlooks").mkdir()
    monkeypatch.chdir(tmp_path)
    arguments = example_of(command, capsys)
    assert arguments[0] == command
    if command == "score":  # it needs an outlook that was kept
        done(capsys, "outlook", "farm.toml", "--keep", "outlooks")
    done(capsys, *arguments)


@pytest.mark.parametrize("command", ["tune", "seasons", "fetch"])
def test_every_other_help_has_its_example(command, capsys):
    assert example_of(command, capsys)[0] == command


def test_without_a_command_the_help_is_shown(capsys):
    assert main.run([]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert all(f"  {command} " in said.err for command in COMMANDS)


def test_a_defect_may_be_looked_into(capsys, monkeypatch):
    def fail(*_arguments, **_options):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr("hayweather.weather.asked.weather_for", fail)
    monkeypatch.setenv(main.TRACEBACK_VARIABLE, "1")
    with pytest.raises(ZeroDivisionError):
        main.run(["outlook", str(SAGEBECK)])


def test_the_program_leaves_with_its_exit_code(capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["hayweather", "outlook", "--nonsense"])
    assert main.main() == 2
    assert "--nonsense" in capsys.readouterr().err


def test_version(capsys):
    assert done(capsys, "--version") == f"hayweather {hayweather.__version__}\n"


@pytest.mark.parametrize(("units", "language"), [("us", "en"), ("us", "es"), ("metric", "en")])
def test_the_starter_is_read_by_inspect(units, language, tmp_path, capsys):
    at = ["--at", "43.2,-120.6", "--offline"]
    main.run(["farm", str(tmp_path), *at, "--units", units, "--language", language])
    said = capsys.readouterr().err
    assert f"hayweather outlook {tmp_path / 'farm.toml'}" in said
    assert tomllib.loads((tmp_path / "farm.toml").read_text(encoding="utf-8"))
    text = done(capsys, "inspect", tmp_path / "farm.toml")
    assert ("(default)" if language == "en" else "(valor usual)") in text
    assert "open-meteo.com" in text  # what is set for the services


def test_inspect_tells_what_was_understood_of_a_weather_file(capsys):
    path = FOLDER / "vallumbria.csv"
    text = done(capsys, "inspect", path, "--timezone", "Europe/Madrid", "--units", "metric")
    for part in (
        '";" between values', 'decimal mark ","', "Europe/Madrid (as you gave it)",
        "2025-07-08 12:00 to 2025-07-12 16:00 UTC, 100 hours", "wind, in km/h", "2 m (assumed)",
        "humidity, in %",
    ):  # fmt: skip
        assert part in text
    arguments = ("inspect", path, "--timezone", "Europe/Madrid", "--format", "json")
    form = json.loads(done(capsys, *arguments))
    assert form["schema"] == "hayweather/inspect/1"
    assert form["hours_missing"] == 0
    served = {column["served_as"]: column["unit"] for column in form["columns"]}
    assert served["wind_speed_m_s"] == "km/h"
    assert datetime.fromisoformat(form["first"]).hour == 12


def test_inspect_names_repairs_and_gaps(tmp_path, capsys):
    weather = without_hours("2025-07-09T05:00", "2025-07-09T10:00").splitlines()
    del weather[10:12]  # a gap of two hours, filled in
    path = tmp_path / "station.csv"
    path.write_text("\n".join(weather) + "\n", encoding="utf-8")
    text = done(capsys, "inspect", path)
    assert "hours of a gap of up to three filled in" in " ".join(text.split())
    # Rain is never filled: its two blank hours count beside the six.
    assert "Hours without a needed value: 8" in " ".join(text.split())
    form = json.loads(done(capsys, "inspect", path, "--format", "json"))
    assert {repair["name"] for repair in form["repairs"]} == {"gap_filled"}
    assert form["hours_missing"] == 8


def test_inspect_tells_what_a_farm_file_puts_in_force(capsys):
    text = done(capsys, "inspect", SAGEBECK)
    for part in (
        "4330 ft", "conditioned         yes (default)", "12 % to 16 % (by the kind of bale)",
        "(worked out)", "leaf at least 12 %", "cut_at", "sagebeck.csv: weather",
    ):  # fmt: skip
        assert part in text or part in " ".join(text.split())
    form = json.loads(done(capsys, "inspect", SAGEBECK, "--format", "json"))
    settings = {(s["table"], s["key"]): s for s in form["settings"]}
    tank = settings["[rig]", "tank"]
    assert (tank["value"], tank["unit"], tank["from"]) == (800, "gal", "file")
    assert tank["si_value"] == pytest.approx(800 * 3.785412, rel=1e-6)
    assert settings["[field.bench]", "conditioned"]["from"] == "default"
    assert form["weather"]["rows"] == 100
    rows = list(csv.DictReader(io.StringIO(done(capsys, "inspect", SAGEBECK, "--format", "csv"))))
    assert len(rows) == len(form["settings"])


# True processes: what cannot be seen from inside. Five in all.
PROGRAM = [sys.executable, "-m", "hayweather"]


def process(*arguments, **options):
    """A command in a process of its own."""
    environment = {**os.environ, "COLUMNS": "80", **options.pop("environment", {})}
    return subprocess.run(
        [*PROGRAM, *map(str, arguments)],
        env=environment, capture_output=True, text=True, timeout=60, check=False, **options,
    )  # fmt: skip


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from hayweather.cli.main import run; run(['--help']);"
        "print(sorted(m for m in sys.modules if m in "
        "('numpy', 'pandas', 'metpy', 'scipy', 'matplotlib', 'requests', 'rich')))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines()[-1] == "[]"
    assert "outlook" in ran.stdout


@pytest.mark.slow
def test_the_program_from_another_folder(tmp_path):
    ran = process("outlook", SAGEBECK, "--field", "bench", cwd=tmp_path)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.startswith("INVENTED SAMPLE")
    assert list(tmp_path.iterdir()) == []


def test_a_refusal_of_the_program():
    ran = process("outlook", SAGEBECK, "--field", "none")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert len(ran.stderr.splitlines()) == 1


@pytest.mark.slow
def test_a_reader_that_leaves_early_breaks_nothing():
    shell = f"'{sys.executable}' -m hayweather outlook '{SAGEBECK}' --format csv | head -n 1"
    ran = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {shell}"], capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.startswith("# INVENTED SAMPLE")


@pytest.mark.slow
def test_a_screen_of_plain_letters_gets_no_traceback():
    ran = process(
        "outlook", FOLDER / "vallumbria.toml", "--field", "soto", "--why",
        environment={"PYTHONIOENCODING": "ascii"},
    )  # fmt: skip
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "Rocio natural" in ran.stdout
