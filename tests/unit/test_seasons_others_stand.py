"""One bad file, site or sensor takes nothing from the other sites, and is named."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hayweather.cli.main import run

SAMPLES = Path(__file__).parents[2] / "sample_forecasts" / "seasons"
HEAD = "time_utc,temp_c,dewpoint_c,wind_ms,cloud_tenths,rain_mm"
TAIL = '[farm]\nname = "Four"\nunits = "metric"\n'


def place(name: str, weather: str, latitude: float = 43.2, longitude: float = -120.6) -> str:
    return (
        f"[site.{name}]\nlatitude = {latitude}\nlongitude = {longitude}\nelevation = 1320\n"
        f'timezone = "America/Los_Angeles"\nweather = "{weather}"\nwind_height = 2\n'
    )


def rows_of(name: str, nights: int = 27) -> list[list[str]]:
    """The rows of some days from 4 July of a sample file, as cells."""
    lines = (SAMPLES / name).read_text().splitlines()
    assert lines[0] == HEAD
    first = next(n for n, line in enumerate(lines) if line.startswith("2023-07-04T00:00"))
    return [line.split(",") for line in lines[first : first + 24 * (nights + 2)]]


def written(path: Path, rows: list[list[str]], head: str = "") -> None:
    path.write_text("\n".join([*([head] if head else []), HEAD, *map(",".join, rows)]) + "\n")


def above_air(row: list[str], by: float) -> list[str]:
    return [*row[:2], f"{float(row[1]) + by:.1f}", *row[3:]]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    rows = rows_of("bench_2023.csv")
    written(tmp_path / "good.csv", rows)
    one = [above_air(row, 0.7) if n == 50 else row for n, row in enumerate(rows)]
    written(tmp_path / "one.csv", one)
    many = [above_air(row, 0.7) if n % 10 == 0 else row for n, row in enumerate(rows)]
    written(tmp_path / "many.csv", many)
    far = "# latitude: 44.1\n# longitude: -120.6"
    written(tmp_path / "far.csv", rows, far)
    wrong = [[*row[:3], "x", *row[4:]] if n in (7, 8) else row for n, row in enumerate(rows)]
    written(tmp_path / "wrong.csv", wrong)
    return tmp_path


@pytest.mark.slow
def test_every_fault_is_told_and_the_other_sites_stand(folder, capsys):
    names = ("good", "one", "many", "far", "wrong")
    Path("sites.toml").write_text(TAIL + "".join(place(name, f"{name}.csv") for name in names))
    assert run(["seasons", "sites.toml", "--cores", "1"]) == 2
    out, err = capsys.readouterr()
    title = " ".join(out.split("\n\n")[0].split())
    assert title == "Four: nights of July. Left out, not readable: many, far, wrong"
    table = out.split("Before you compare")[0]
    assert "\ngood " in table
    assert "\none " in table  # one reading 0.7 K above the air costs no site
    assert "\nmany " not in table
    assert len(err.splitlines()) == 3  # a line each
    assert "many.csv: dew point above the air in 70 rows" in err
    assert "far.csv" in err
    assert 'wrong.csv: line 9: "x" in "wind_ms" is not a number' in err
    assert "?" not in out
    assert run(["seasons", "sites.toml", "--cores", "1", "--format", "json"]) == 2
    form = json.loads(capsys.readouterr().out)
    assert [site["name"] for site in form["sites"]] == ["good", "one"]
    assert [out["site"] for out in form["left_out"]] == ["many", "far", "wrong"]


def test_a_site_goes_on_without_the_year_that_cannot_be_read(folder, capsys):
    rows = [[row[0].replace("2023", "2024"), *row[1:]] for row in rows_of("bench_2023.csv")]
    written(folder / "good_2024.csv", rows)
    Path("sites.toml").write_text(
        TAIL
        + place("here", "*.csv").replace('"*.csv"', '["good.csv", "good_2024.csv", "many.csv"]')
    )
    assert run(["seasons", "sites.toml", "--cores", "1", "--nights", "n.csv"]) == 2
    out, err = capsys.readouterr()
    said = "here goes on without some of its files"
    assert said in " ".join(out.split())
    assert "many.csv" in err
    assert f"# {said}" in Path("n.csv").read_text()
    assert run(["seasons", "sites.toml", "--cores", "1", "--format", "csv"]) == 2
    assert f"# {said}" in capsys.readouterr().out


def test_no_site_left_says_every_fault(folder, capsys):
    Path("sites.toml").write_text(TAIL + place("a", "many.csv") + place("b", "missing.csv"))
    assert run(["seasons", "sites.toml", "--cores", "1"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 2


def test_inspect_lists_every_row(folder, capsys):
    assert run(["inspect", "many.csv", "--rows"]) == 2
    assert len(capsys.readouterr().out.splitlines()) == 70
    assert run(["inspect", "one.csv", "--rows"]) == 0
    assert "line 52: dew point" in capsys.readouterr().out


@pytest.mark.slow
def test_nights_as_rows_say_the_same_in_csv_and_parquet(folder, capsys):
    pandas = pytest.importorskip("pandas")
    parquet = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed")
    Path("sites.toml").write_text(TAIL + place("good", "good.csv") + place("one", "one.csv"))
    for name in ("n.csv", "n.parquet"):
        assert run(["seasons", "sites.toml", "--cores", "1", "--nights", name]) == 0
        assert run(["seasons", "sites.toml", "--cores", "1", "--nights", name]) == 0  # ours
    table = parquet.read_table("n.parquet")
    assert table.schema.field("dew_hours").metadata == {b"unit": b"h"}
    assert table.schema.field("hay_with_rig").metadata == {b"unit": b"t"}
    one, other = pandas.read_csv("n.csv", comment="#"), table.to_pandas()
    assert len(one) == len(other) == 2 * 31
    known = other["known"]
    assert other.loc[~known, "dew_hours"].isna().all()
    assert (other.loc[~known, "missing"] != "").all()
    assert (one["dew_hours [h]"] - other["dew_hours"]).abs().max() < 1e-3
    form = run(["seasons", "sites.toml", "--cores", "1", "--format", "json", "--out", "s.json"])
    assert form == 0
    site = json.loads(Path("s.json").read_text())["sites"][0]["all_years"]
    mine = other[(other.site == "good") & other.known & ~other.after_rain]
    assert site["nights_counted"] == len(mine)
    assert site["dew_hours_mean"] == pytest.approx(mine["dew_hours"].mean(), abs=1e-3)
    assert run(["seasons", "sites.toml", "--nights", "n.xlsx"]) == 2
    Path("mine.csv").write_text("a,b\n1,2\n")
    assert run(["seasons", "sites.toml", "--nights", "mine.csv"]) == 2


def test_a_check_that_the_user_believes_passes_at_its_site_and_is_said(folder, capsys):
    Path("sites.toml").write_text(TAIL + place("far", "far.csv"))
    assert run(["inspect", "sites.toml"]) == 2
    told = " ".join(capsys.readouterr().out.split())
    word = 'believe = ["place"]'  # what the advice says to write
    assert f"say {word} below [weather] of a farm file, below [site.NAME] of a sites file" in told
    Path("sites.toml").write_text(TAIL + place("far", "far.csv") + word + "\n")
    assert run(["inspect", "sites.toml"]) == 0
    assert 'against the check "place", by your word' in " ".join(capsys.readouterr().out.split())
    assert run(["seasons", "sites.toml", "--cores", "1", "--page", "p.html"]) == 0
    said = 'far: weather believed against the check "place", by your word'
    assert said in " ".join(capsys.readouterr().out.split())
    assert "far: weather believed against the check" in Path("p.html").read_text()


def test_a_blank_rain_column_is_rain_not_known_and_takes_no_hours(folder, capsys):
    written(folder / "dry.csv", [[*row[:-1], ""] for row in rows_of("bench_2023.csv")])
    Path("sites.toml").write_text(TAIL + place("dry", "dry.csv"))
    assert run(["inspect", "sites.toml"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "hours 696 known" in told
    assert "rain unknown" in told


def test_two_files_that_clash_are_both_named_with_what_they_say(folder, capsys):
    rows = rows_of("bench_2023.csv")
    clash = [[row[0], f"{float(row[1]) + 1:.1f}", *row[2:]] if n > 99 else row
             for n, row in enumerate(rows)]  # fmt: skip
    written(folder / "clash.csv", clash)
    two = place("a", "x").replace('"x"', '["good.csv", "clash.csv"]')
    Path("sites.toml").write_text(TAIL + two)
    assert run(["inspect", "sites.toml"]) == 2
    air = rows[100][1]
    line = capsys.readouterr().err
    assert line.startswith("clash.csv: air_temperature_c at 2023-07-08T04:00:00Z is ")
    assert f"is {float(air) + 1:g}, and {float(air):g} in good.csv of the same site" in line
    assert f"(hours that differ: {len(rows) - 100})" in line
