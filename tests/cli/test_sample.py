"""The sample farm from anywhere: written, never over, and inside what is built."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from cli.commands import refused
from support.outlooks import FOLDER

from hayweather.cli.main import run

TOP = FOLDER.parent


def files_in(folder: Path) -> dict[str, bytes]:
    """Contents by path."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_sample_is_written_whole_and_never_over(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HAYWEATHER_LANGUAGE", raising=False)
    assert run(["sample"]) == 0
    said = capsys.readouterr()
    first = Path("sample_forecasts") / "sagebeck.toml"
    assert f"hayweather outlook {first}" in said.err
    assert files_in(tmp_path / "sample_forecasts") == files_in(FOLDER)
    first.write_text("mine")
    assert "is there already" in refused(capsys, "sample")
    assert first.read_text() == "mine"
    assert run(["sample", "other"]) == 0
    assert files_in(tmp_path / "other") == files_in(FOLDER)


@pytest.mark.slow
def test_the_name_alone_shows_the_farm_that_is_here(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run([]) == 2  # the help, where there is none
    assert "hayweather sample" in capsys.readouterr().err
    for name in ("sagebeck.csv", "sagebeck.toml"):
        target = "farm.toml" if name.endswith("toml") else name
        (tmp_path / target).write_bytes((FOLDER / name).read_bytes())
    assert run([]) == 0
    text = capsys.readouterr().out
    assert text.startswith("INVENTED SAMPLE")
    assert len(text.splitlines()) <= 30
    assert "--farm" not in text  # it is found here


def test_completion_is_offered():
    ran = subprocess.run(
        [sys.executable, "-m", "hayweather"], capture_output=True, text=True, check=False, cwd=TOP,
        env={**os.environ, "_HAYWEATHER_COMPLETE": "complete_bash",
             "COMP_WORDS": "hayweather out", "COMP_CWORD": "1"},
    )  # fmt: skip
    assert ran.stdout.split() == ["outlook"]
