"""Eight MiB of anything beside pandas reading eight MiB of plain rows, in one process."""

from collections.abc import Callable
from pathlib import Path

import pytest
from support.children import done_by
from weather.hostile import ANSWERS, FILES, HEAD, SIZE, file_of, grid_of, hours_of, timed

pytestmark = pytest.mark.speed

MOST = 40.0  # two seconds on two cores of 2025
PLAIN_ROW = "2025-07-01T00:00Z,21.5,33,2.5\n"
# Those that cost most of the files and answers of tests/weather/hostile.py.
COSTLY = [
    *((file_of, FILES, name) for name in (
        "three million columns", "a thousand columns sixty times", "facts", "quoted rows",
        "blank rows", "rows of one time", "numbers",
    )),
    *((hours_of, ANSWERS, name) for name in ("names", "columns", "100,000 hours")),
    (grid_of, ANSWERS, "intervals"),
]  # fmt: skip


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("plain") / "plain.csv"
    path.write_text(HEAD + PLAIN_ROW * (SIZE // len(PLAIN_ROW)), encoding="utf-8")
    return path


def named(given: object) -> str:
    return given if isinstance(given, str) else ""


@pytest.mark.parametrize(("read", "kinds", "name"), COSTLY, ids=named)
def test_nothing_takes_long(
    read: Callable[[Path], object],
    kinds: dict[str, Callable[[], str]],
    name: str,
    plain: Path,
    tmp_path: Path,
) -> None:
    path = tmp_path / "hostile"
    path.write_text(kinds[name](), encoding="utf-8")
    ended = done_by(timed, read, path, plain)
    assert ended.code == 0, ended.err
    took, yardstick = map(float, ended.out.split("|"))
    print(f"{name}: {took:.2f} s, {took / yardstick:.1f} times a plain table")
    assert took < MOST * yardstick
