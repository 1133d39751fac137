"""Eight MiB of anything: read or refused in one line, in 300 MB; how long: tests/speed."""

from collections.abc import Callable
from pathlib import Path

import pytest
from support.children import done_by
from weather.hostile import ANSWERS, FILES, file_of, grid_of, hours_of, told

MEGABYTES = 300.0


def held(read: Callable[[Path], object], path: Path) -> None:
    """A file is read or refused, within bounds of memory, letters and lines."""
    ended = done_by(told, read, path)
    assert (ended.code, ended.err) == (0, "")
    grown, line = ended.out.removesuffix("\n").split("|", 1)
    assert float(grown) < MEGABYTES, (grown, line)
    assert len(line) < 1000
    assert "\n" not in line


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_weather_files(name: str, tmp_path: Path) -> None:
    path = tmp_path / "hostile.csv"
    path.write_text(FILES[name](), encoding="utf-8")
    held(file_of, path)


@pytest.mark.slow
@pytest.mark.parametrize("name", ANSWERS)
@pytest.mark.parametrize("read", [hours_of, grid_of])
def test_answers_of_services(name: str, read: Callable[[Path], object], tmp_path: Path) -> None:
    path = tmp_path / "hostile.json"
    path.write_text(ANSWERS[name](), encoding="utf-8")
    held(read, path)
