"""``hayweather learn`` from files: written with enough nights, used, shown, forgotten."""

import gzip
import json
from pathlib import Path

import pandas as pd
import pytest
from cli.commands import done, refused
from support.colorado import colorado

SUMMER = Path(__file__).parents[1] / "data" / "nw_colorado_2017_may_september.csv.gz"
FARM = colorado('file = "measured.csv"\nwind_height = "2 m"')
EVENING = ["--now", "2017-07-12T20:00"]


def made(folder, nights):
    """A farm with measured weather, and forecasts: the day before, as issued each evening."""
    with gzip.open(SUMMER) as file:
        table = pd.read_csv(file, parse_dates=["time_utc"], index_col=0)
    table = table.loc["2017-05-20":"2017-07-14"]
    form = "%Y-%m-%dT%H:%MZ"
    table.to_csv(folder / "measured.csv", date_format=form)
    (folder / "issued").mkdir()
    before = table.shift(24)[["temp_c", "dewpoint_c", "wind_ms"]]
    for day in pd.date_range("2017-06-01", periods=nights, tz="UTC"):
        part = before.loc[day : day + pd.Timedelta(hours=47)]
        text = f"# issued: {day.strftime(form)}\n" + part.to_csv(date_format=form)
        (folder / "issued" / f"{day:%Y%m%d}.csv").write_text(text)
    farm = folder / "farm.toml"
    farm.write_text(FARM)
    files = ["--measured", str(folder / "measured.csv"), "--forecasts", str(folder / "issued")]
    return farm, ["learn", str(farm), *files]


def test_learned_shown_used_and_forgotten(tmp_path, capsys):
    farm, command = made(tmp_path, 21)
    kept = tmp_path / "farm.learned.json"
    numbers = json.loads(done(capsys, *command, "--format", "json"))["numbers"]
    air = [each for each in numbers if each["column"] == "air_temperature_c"]
    assert {each["nights"] for each in air if each["what"] == "size" and each["lead_h"] < 48} == {
        21
    }
    assert kept.exists()
    assert "21 nights to 2017-06-21" in done(capsys, "inspect", farm)
    rows = json.loads(done(capsys, "inspect", farm, "--format", "json"))["learned"]
    (site,) = json.loads(kept.read_text())["sites"].values()
    assert {(row["nights"], row["until"]) for row in rows} == {(21, "2017-06-21")}
    for what in ("bias", "size"):
        given = [row for row in rows if (row["what"], row["column"]) == (what, "air_temperature_c")]
        own = site["columns"]["air_temperature_c"]
        counts = [count for count in own["nights"] if count]
        assert [row["behind"] for row in given] == counts
        named = own["biases" if what == "bias" else "sizes"][: len(counts)]
        assert [row["used"] for row in given] == [pytest.approx(each, abs=1e-4) for each in named]
    sheet = done(capsys, "inspect", farm, "--format", "csv").splitlines()
    learned = [line.split(",") for line in sheet if line.startswith("learned.home,")]
    assert len(learned) == len(rows)
    (first,) = [row for row in learned if row[1] == "air_temperature_c size 3 h"]
    assert (first[3], first[5]) == ("°F", "learned")
    assert float(first[2]) == pytest.approx(1.8 * float(first[4]), rel=1e-4)
    outlook = " ".join(done(capsys, "outlook", farm, *EVENING).split())
    assert "Errors: fitted on 21 nights to 2017-06-21" in outlook
    done(capsys, "learn", farm, "--forget")
    assert not kept.exists()
    assert "assumed errors" in " ".join(done(capsys, "outlook", farm, *EVENING).split())


def test_few_nights_write_nothing_and_files_without_a_time_are_named(tmp_path, capsys):
    _, command = made(tmp_path, 4)
    late = tmp_path / "issued" / "untimed.csv"
    late.write_text((tmp_path / "issued" / "20170601.csv").read_text().partition("\n")[2])
    said = done(capsys, *command)
    assert "Left out: untimed.csv" in said
    assert "all errors stay assumed" in " ".join(said.split())
    assert not (tmp_path / "farm.learned.json").exists()


def test_nothing_measured_is_one_line(tmp_path, capsys):
    farm, _ = made(tmp_path, 1)
    assert "nothing was measured at site 'home'" in refused(capsys, "learn", farm)
