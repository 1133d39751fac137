"""The [tuning] table in a farm file: comments stay, the file is whole at every moment."""

import os
import shutil
import signal
from multiprocessing import get_context
from pathlib import Path

import pytest
from support.fits import fit_of

from hayweather.errors import OutputError
from hayweather.farm import read_farm
from hayweather.farm.records import Tuning
from hayweather.learning.tuning_file import tuning_table, write_tuning

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
VALUES = {"windrow_mass": 1.25, "dew_point_offset": -0.5}


@pytest.fixture
def farm_file(tmp_path):
    return Path(shutil.copy(SAMPLES / "sagebeck.toml", tmp_path / "farm.toml"))


def test_the_file_reads_back_with_what_was_fitted(farm_file):
    backup = write_tuning(farm_file, fit_of(**VALUES), "us")
    tuning = read_farm(farm_file).tuning
    assert tuning.windrow_mass == 1.25
    assert tuning.dew_point_offset_k == pytest.approx(-0.5, abs=0.001)  # written as -0.9 F
    assert (tuning.sky_view, tuning.leaf_moisture) == (None, 1.0)
    assert backup == farm_file.with_name("farm.toml.bak")
    assert backup.read_bytes() == (SAMPLES / "sagebeck.toml").read_bytes()


def test_everything_else_stays_comments_too(farm_file):
    before = farm_file.read_text(encoding="utf-8")
    write_tuning(farm_file, fit_of(**VALUES), "us")
    after = farm_file.read_text(encoding="utf-8")
    assert after.startswith(before)
    assert after.removeprefix(before).strip() == (
        "[tuning]\nwindrow_mass = 1.25 # 0 .. 2\ndew_point_offset = -0.9 # 0 .. 3.6"
    )


def test_a_file_that_ends_in_an_empty_line_gets_no_other(farm_file):
    with farm_file.open("a", encoding="utf-8") as file:
        file.write("\n")
    before = farm_file.read_text(encoding="utf-8")
    write_tuning(farm_file, fit_of(windrow_mass=1.25), "us")
    table = "[tuning]\nwindrow_mass = 1.25 # 0 .. 2\n"
    assert farm_file.read_text(encoding="utf-8") == before + table


def test_no_file_is_refused_and_none_is_made(tmp_path):
    with pytest.raises(OutputError) as caught:
        write_tuning(tmp_path / "none.toml", fit_of(**VALUES), "us")
    assert "No such file" in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_a_table_that_is_there_is_replaced_and_its_comments_stay(farm_file):
    old = "[tuning]\n# mine, of last year\nsky_view = 0.95\nwindrow_mass = 2.0 # heavy\n\n[money]\n"
    text = farm_file.read_text(encoding="utf-8").replace("[money]\n", old)
    farm_file.write_text(text, encoding="utf-8")
    write_tuning(farm_file, fit_of(windrow_mass=1.25), "us")
    after = farm_file.read_text(encoding="utf-8")
    assert "# mine, of last year" in after
    assert "windrow_mass = 1.25" in after
    assert "sky_view" not in after
    assert after.count("[tuning]") == 1
    assert after.index("[tuning]") < after.index("[money]")
    again = write_tuning(farm_file, fit_of(windrow_mass=1.3), "us")
    assert again.read_text(encoding="utf-8") == after


@pytest.mark.parametrize("start", ["tuning = { sky_view = 0.95 }\n", "tuning.sky_view = 0.95\n"])
def test_a_table_in_one_line_is_replaced_as_well(farm_file, start):
    farm_file.write_text(start + farm_file.read_text(encoding="utf-8"), encoding="utf-8")
    write_tuning(farm_file, fit_of(**VALUES), "us")
    tuning = read_farm(farm_file).tuning
    assert (tuning.windrow_mass, tuning.sky_view) == (1.25, None)


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_endings_and_mark_of_the_file_stay(farm_file, ending, mark):
    lines = farm_file.read_text(encoding="utf-8").splitlines()
    content = mark + ending.join([*lines, ""]).encode()
    farm_file.write_bytes(content)
    write_tuning(farm_file, fit_of(**VALUES), "us")
    after = farm_file.read_bytes()
    assert after.startswith(content)
    assert read_farm(farm_file).tuning.windrow_mass == 1.25


def test_a_metric_file_gets_kelvin():
    table = tuning_table(fit_of(**VALUES), "metric")
    assert table == "[tuning]\nwindrow_mass = 1.25  # 0 .. 2\ndew_point_offset = -0.5  # 0 .. 2\n"
    assert tuning_table(fit_of(), "us") == ""


def test_the_pasted_table_reads_as_the_written_one(farm_file, tmp_path):
    other = Path(shutil.copy(farm_file, tmp_path / "other.toml"))
    write_tuning(farm_file, fit_of(**VALUES), "us")
    with other.open("a", encoding="utf-8") as file:
        file.write("\n" + tuning_table(fit_of(**VALUES), "us"))
    assert read_farm(other).tuning == read_farm(farm_file).tuning != Tuning()


def test_a_link_stays_a_link(farm_file, tmp_path):
    link = tmp_path / "link.toml"
    link.symlink_to(farm_file)
    write_tuning(link, fit_of(**VALUES), "us")
    assert link.is_symlink()
    assert read_farm(farm_file).tuning.windrow_mass == 1.25


@pytest.mark.parametrize("name", ["replace", "fdopen"])
def test_a_write_that_fails_changes_nothing(farm_file, monkeypatch, name):
    before = farm_file.read_bytes()
    monkeypatch.setattr(os, name, _full)
    with pytest.raises(OutputError) as caught:
        write_tuning(farm_file, fit_of(**VALUES), "us")
    monkeypatch.undo()
    assert "No space left" in str(caught.value)
    assert farm_file.read_bytes() == before
    assert {path.name for path in farm_file.parent.iterdir()} <= {"farm.toml", "farm.toml.bak"}


def _full(*_, **__):
    raise OSError(28, "No space left on device")


def test_a_file_that_would_not_read_again_is_not_written(farm_file):
    before = farm_file.read_bytes()
    with pytest.raises(OutputError) as caught:
        write_tuning(farm_file, fit_of(windrow_mass=-3.0), "us")
    assert "\n" not in str(caught.value)
    assert farm_file.read_bytes() == before
    assert [path.name for path in farm_file.parent.iterdir()] == ["farm.toml"]


def _write_and_die(path, before):
    """Tuning in a process of its own, killed before a file of this name takes its place."""

    def dying(move):
        def move_or_die(source, target):
            if Path(target).name == before:
                os.kill(os.getpid(), signal.SIGKILL)
            move(source, target)

        return move_or_die

    os.replace, os.link = dying(os.replace), dying(os.link)
    write_tuning(path, fit_of(**VALUES), "us")


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
@pytest.mark.parametrize("step", ["farm.toml.bak", "farm.toml"])
def test_killed_before_a_step_the_file_is_as_it_was(farm_file, step):
    before = farm_file.read_bytes()
    process = get_context("fork").Process(target=_write_and_die, args=(farm_file, step))
    process.start()
    process.join()
    assert process.exitcode == -signal.SIGKILL
    assert farm_file.read_bytes() == before
    write_tuning(farm_file, fit_of(**VALUES), "us")
    assert read_farm(farm_file).tuning.windrow_mass == 1.25
    assert farm_file.with_name("farm.toml.bak").read_bytes() == before
