"""Bad input of every kind: one line that says what, where, which value, what to do; exit 2."""

import re
from pathlib import Path
from shutil import copy

import pytest
from cli.commands import SAGEBECK, done, farm_with, refused, sample_weather, with_row, without_hours
from support.outlooks import FOLDER

from hayweather.cli.guard import check_places
from hayweather.cli.main import run
from hayweather.errors import InputError

ROW = "2025-07-08T06:00Z"


def cell(place, value):
    """A change of one cell of a row."""
    return lambda cells: [*cells[:place], value, *cells[place + 1 :]]


HEADER = sample_weather().splitlines()[0]


def often_above_air() -> str:
    """The sample with every tenth dew point above the air: one alone would be left out."""
    head, *rows = sample_weather().splitlines()
    wrong = cell(3, "39.0")
    for at in range(0, len(rows), 10):
        rows[at] = ",".join(wrong(rows[at].split(",")))
    return "\n".join([head, *rows]) + "\n"


WEATHER = {
    "empty": ("", "sagebeck.csv: the file is empty"),
    "binary": (b"\x00\x01\x02PK\x03\x04" * 50, "this is not text"),
    "no rows": (HEADER + "\n", "no row of weather"),
    "no temperature": (sample_weather().replace("temp_c", "soil", 1), "air temperature"),
    "no wind": (sample_weather().replace("wind_ms", "note", 1), "wind"),
    "unknown unit": (sample_weather().replace("wind_ms", "wind (furlong)", 1), "furlong"),
    "no unit": (sample_weather().replace("temp_c", "temp", 1), "does not say its unit"),
    "Celsius reaching 104": (
        re.sub(r"(?m)^([^,]+Z),([\d.]+)", lambda m: f"{m[1]},{float(m[2]) * 1.8 + 40:.1f}",
               sample_weather()),
        "looks like °F",
    ),
    "humidity of 140": (
        with_row(ROW, cell(2, "140")).replace("dewpoint_c", "note", 1), "humidity 140",
    ),
    "dew points above the air": (often_above_air(), "dew point above the air in"),
    "text in numbers": (with_row(ROW, cell(1, "warm")), '"warm" in "temp_c" is not a number'),
    "impossible wind": (with_row(ROW, cell(4, "400")), "400 m/s in"),
    "unsorted": (
        "\n".join([HEADER, *reversed(sample_weather().splitlines()[1:])]) + "\n", "comes after",
    ),
    "doubled": (with_row(ROW, cell(0, "2025-07-08T05:00Z")), "stands twice"),
    "half a row": (with_row(ROW, lambda cells: cells[:4]), "values where the column names are"),
    "no time": (with_row(ROW, cell(0, "yesterday")), "is not understood"),
    "ends before tomorrow": (
        without_hours("2025-07-09T04:00", "2030"), "but tonight needs it to 2025-07-09 00:00",
    ),
    "ended long ago": (without_hours("2025-07-08T04:00", "2030"), "does not hold now"),
}  # fmt: skip


@pytest.mark.parametrize("case", WEATHER)
def test_weather(case, tmp_path, capsys):
    content, expected = WEATHER[case]
    farm = farm_with(tmp_path, weather=content)
    line = refused(capsys, "outlook", farm, "--field", "bench")
    assert line.startswith("sagebeck.csv: ")
    assert expected in line


def test_weather_without_a_zone_names_the_zone_to_write(tmp_path, capsys):
    content = sample_weather().replace("time_utc", "time").replace("Z,", ",")
    farm = farm_with(tmp_path, ('timezone = "UTC"', "# no zone"), weather=content)
    assert "has no time zone" in refused(capsys, "outlook", farm)


def test_missing_weather_file(tmp_path, capsys):
    farm = farm_with(tmp_path)
    (tmp_path / "sagebeck.csv").unlink()
    assert "there is no such file" in refused(capsys, "outlook", farm)


def test_huge_weather_file(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("hayweather.weather.files.text.LARGEST_BYTES", 1000)
    assert "cut it into years" in refused(capsys, "outlook", farm_with(tmp_path))


FARM = {
    "unknown key": (("area = 118", "aria = 118"), ["[field.bench]", "aria", "area"]),
    "unknown table": (("[baler]", "[bailer]"), ["bailer", "baler"]),
    "latitude": (("latitude = 43.2", "latitude = 143"), ["latitude", "143"]),
    "negative area": (("area = 118", "area = -118"), ["[field.bench] area", "-118"]),
    "unknown zone": (("America/Los_Angeles", "America/Los_Angelos"), ["America/Los_Angeles"]),
    "band reversed": (("bale_size =", "band = [16, 12]\nbale_size ="), ["band", "16", "12"]),
    "band too high": (("bale_size =", "band = [12, 25]\nbale_size ="), ["band", "17"]),
    "rates reversed": (("rate_min = 4", "rate_min = 40"), ["rate_min", "rate_max"]),
    "unit of another quantity": (("area = 118", 'area = "118 gal"'), ["area", "gal"]),
    "words without quotes": (('crop = "alfalfa"', "crop = alfalfa"), ["quotes"]),
    "unknown crop": (('crop = "alfalfa"', 'crop = "clover"'), ["clover", "alfalfa"]),
    "now without invented": (("invented = true", "invented = false"), ["now"]),
    "service and file": (("[weather]", '[weather]\nservice = "us-nws"'), ["[weather]"]),
    "no weather": (('file = "sagebeck.csv"', ""), ["[weather]"]),
}


@pytest.mark.parametrize("case", FARM)
def test_farm(case, tmp_path, capsys):
    change, expected = FARM[case]
    line = refused(capsys, "outlook", farm_with(tmp_path, change))
    assert line.startswith("farm.toml: ")
    assert all(part in line for part in expected)


def test_no_farm_file_here_names_the_sample_and_the_starter(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    line = refused(capsys, "outlook")
    assert "sample_forecasts/sagebeck.toml" in line
    assert "hayweather farm" in line


def test_a_farm_file_that_is_not_there(capsys):
    assert refused(capsys, "outlook", "nowhere.toml").startswith("nowhere.toml: there is no")


@pytest.mark.parametrize(
    ("option", "value", "expected"),
    [
        ("--now", "noon", '--now: time "noon" is not understood'),
        ("--now", "2025-07-08", "write it like 2026-07-08T18:00"),
        ("--now", "2025-13-40T10:00", "is not understood"),
        ("--now", "2026-07-08T18:00", "does not hold now (2026-07-08 18:00)"),
        ("--now", "2025-07-10T15:00", "needs it to 2025-07-11 00:00"),
        ("--field", "bensh", 'no field "bensh"; choose one of: bench, creek, saddle'),
        ("--chart", "night.gif", 'change the name "night.gif"'),
        ("--out", "nowhere/outlook.txt", "there is no folder for it"),
        ("--out", ".", "this is a folder"),
        ("--units", "imperial", "--units"),
        ("--format", "xml", "--format: xml is none of table, csv, json"),
        ("--moon", "full", "--moon"),
    ],
)
def test_options(option, value, expected, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert expected in refused(capsys, "outlook", SAGEBECK, option, value)


def test_range_of_the_weather_is_said_on_the_farm_s_clock(capsys):
    line = refused(capsys, "outlook", SAGEBECK, "--now", "2026-07-08T18:00")
    assert "from 2025-07-06 13:00 to 2025-07-10 17:00" in line  # 20:00 UTC is 13:00 there
    assert "pass --now" in line


@pytest.mark.parametrize(
    ("line", "english", "spanish"),
    [
        ("log add north pivot 10", "takes FIELD VALUE and no more, not 10", "nada más, no 10"),
        ("log show now then", "log show takes no now then", "log show no lleva now then"),
        ("log add bench", "VALUE is missing", "falta VALUE"),
        ("log add bench 9 --error z", "--error: a number is", "--error: aquí se pide un número"),
        ("log add bench 9 --part ear", "ear is none of whole, leaf,", "ear no es ninguno de whole"),
        (
            "outlook --chrt x.png",
            "no option --chrt; perhaps --chart",
            "opción --chrt; quizá --char",
        ),
        ("outlook --now", "--now needs a value", "--now necesita un valor"),
        ("otlook", "there is no command otlook", "no hay un comando otlook"),
    ],
)
def test_a_command_written_wrongly(capsys, monkeypatch, line, english, spanish):
    for language, said in (("en", english), ("es", spanish)):
        monkeypatch.setenv("HAYWEATHER_LANGUAGE", language)
        assert said in refused(capsys, *line.split())


def test_an_error_after_the_farm_was_read_is_in_its_language(tmp_path, capsys):
    farm = farm_with(tmp_path, ('language = "en"', 'language = "es"'))
    assert "no hay un campo" in refused(capsys, "outlook", farm, "--field", "x")


@pytest.mark.parametrize(
    ("name", "line", "command"),
    [
        ("readings.csv", "readings.csv: línea 2, time: ", ("log", "import", "readings.csv")),
        ("trial.csv", "trial.csv: línea 2: ", ("trial", "trial.csv")),
    ],
)
def test_a_row_that_is_wrong_is_named_in_the_language(
    tmp_path, capsys, monkeypatch, name, line, command
):
    farm = farm_with(tmp_path, ('language = "en"', 'language = "es"'))
    monkeypatch.setenv("HAYWEATHER_LANGUAGE", "es")
    monkeypatch.chdir(tmp_path)
    heads = {"readings.csv": "time,field,moisture_wb", "trial.csv": "strip,treatment,bales"}
    more = "" if name == "readings.csv" else ",area_acre,bale_weight_lb"
    rows = {"readings.csv": "soon,bench,10", "trial.csv": "a,salt,3,1,900"}
    (tmp_path / name).write_text(f"{heads[name]}{more}\n{rows[name]}\n")
    more = ("--farm", str(farm)) if command[0] == "log" else ()
    assert refused(capsys, *command, *more).startswith(line)


def test_the_environment_chooses_the_language_before(capsys, monkeypatch):
    monkeypatch.setenv("HAYWEATHER_LANGUAGE", "es")
    assert "no existe ese archivo" in refused(capsys, "outlook", "nowhere.toml")


def test_an_old_forecast_needs_a_word(tmp_path, capsys):
    change = ('invented = true\nnow = "2025-07-08T17:00"', "")
    content = "# issued: 2025-07-07T20:00Z\n" + sample_weather()
    farm = farm_with(tmp_path, change, weather=content)
    now = ("--field", "bench", "--now", "2025-07-08T17:00")
    assert "the forecast is 28 hours old" in refused(capsys, "outlook", farm, *now)
    text = " ".join(done(capsys, "outlook", farm, *now, "--old").split())
    assert "The forecast is 28 hours old: get a new one before you go out." in text
    assert "INVENTED" not in text
    assert "weather 28 h old" in text


def test_nothing_is_half_written(tmp_path, capsys):
    """A chart whose place is wrong keeps the table from being written, too."""
    out = tmp_path / "outlook.txt"
    line = refused(
        capsys, "outlook", SAGEBECK, "--field", "bench", "--out", out,
        "--chart", tmp_path / "no" / "chart.svg",
    )  # fmt: skip
    assert "there is no folder" in line
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_nothing_behind(tmp_path, capsys, monkeypatch):
    def full(self, data):
        raise OSError(28, "No space left on device")

    class Full:
        def __init__(self, handle, mode):
            self.handle = handle

        def __enter__(self):
            return self

        def __exit__(self, *problem):
            return None

        write = full

    monkeypatch.setattr("hayweather.whole_file.os.fdopen", Full)
    line = refused(capsys, "inspect", SAGEBECK.with_suffix(".csv"), "--out", tmp_path / "a.json")
    assert "No space left on device" in line
    assert list(tmp_path.iterdir()) == []


def test_two_results_may_not_go_to_one_place(tmp_path, capsys):
    place = tmp_path / "same.svg"
    line = refused(
        capsys, "outlook", SAGEBECK, "--field", "bench", "--out", place, "--chart", place
    )
    assert line.endswith("write it with --chart")
    assert not place.exists()
    with pytest.raises(InputError, match="give each its own"):
        check_places([str(place), str(place)], [], "outlook")


def test_inspect_refuses_what_it_cannot_read(tmp_path, capsys):
    assert "no such file" in refused(capsys, "inspect", tmp_path / "none.csv")
    csv = SAGEBECK.with_suffix(".csv")
    assert "--wind-height" in refused(capsys, "inspect", csv, "--wind-height", "tall")
    without_zone = FOLDER / "vallumbria.csv"
    assert "has no time zone" in refused(capsys, "inspect", without_zone)
    line = refused(capsys, "inspect", without_zone, "--timezone", "Mars/Base")
    assert "there is no time zone" in line


def test_a_farm_whose_weather_is_broken_is_still_shown(tmp_path, capsys):
    farm = farm_with(tmp_path, weather=with_row(ROW, cell(1, "warm")))
    code = run(["inspect", str(farm)])
    said = capsys.readouterr()
    assert code == 2
    assert "[field.bench]" in said.out
    assert '"warm" in "temp_c" is not a number' in said.err
    assert len(said.err.splitlines()) == 1


def test_a_starter_is_never_written_over(tmp_path, capsys):
    path = tmp_path / "farm.toml"
    path.write_text("mine", encoding="utf-8")
    assert "is there already" in refused(capsys, "farm", tmp_path)
    assert path.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("command", ["outlook", "runsheet", "fields", "inspect"])
@pytest.mark.parametrize("name", ["farm.toml", "sagebeck.csv"])
def test_no_file_that_was_read_is_written_over(command, name, tmp_path, capsys):
    farm = farm_with(tmp_path)
    place = tmp_path / name
    before = place.read_bytes()
    line = refused(capsys, command, place if command == "inspect" else farm, "--out", place)
    assert line.startswith(f"{place}: this result is made from that file, which is left as it is")
    assert place.read_bytes() == before


@pytest.mark.parametrize("ending", [".csv", ".json"])
def test_an_older_result_is_replaced(ending, tmp_path, capsys):
    place, farm = tmp_path / f"tonight{ending}", farm_with(tmp_path)
    done(capsys, "inspect", farm, "--out", place)
    today = place.read_text(encoding="utf-8")
    place.write_text(today + "yesterday's")
    done(capsys, "inspect", farm, "--out", place)
    assert place.read_text(encoding="utf-8") == today


TABLES = {
    "tune": ("sagebeck.toml", "sagebeck_readings.csv"),
    "score": ("sagebeck.toml", "sagebeck_log.csv"),
    "trial": ("seasons/strips.csv",),
    "seasons": ("seasons/sites.toml",),
}


@pytest.mark.parametrize("command", TABLES)
def test_no_table_of_ones_own_is_written_over(command, tmp_path, capsys):
    given = [Path(copy(FOLDER / name, tmp_path)) for name in TABLES[command]]
    before = given[-1].read_bytes()
    line = refused(capsys, command, *given, "--out", given[-1])
    assert "this result is made from that file, which is left as it is" in line
    assert given[-1].read_bytes() == before
