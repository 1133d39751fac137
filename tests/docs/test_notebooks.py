"""Every notebook runs from top to bottom, offline, and is kept without its outputs."""

import os
import re
import socket
from pathlib import Path

import nbformat
import pytest

FOLDER = Path(__file__).parents[2] / "notebooks"
BOOKS = sorted(FOLDER.glob("*.ipynb"))
LONGEST_CELL_S = 120
# The kernel and its sockets warn of things that are not this project's.
pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]
NO_NETWORK = """
import socket as _socket, warnings as _warnings
_warnings.filterwarnings("error", module="__main__|hayweather")
_plain = _socket.socket.connect
def _connect(self, address):
    host = address[0] if isinstance(address, tuple) else ""
    if host not in ("", "127.0.0.1", "::1", "localhost"):
        raise OSError(f"notebooks run offline: {address}")
    return _plain(self, address)
_socket.socket.connect = _connect
import hayweather.windrow.run as _run  # as in the other tests
_run._worth_compiling = lambda weather: _run.has_compiled_loop()
"""


def run(path: Path) -> nbformat.NotebookNode:
    """A notebook run in a fresh kernel in its own folder, without network, warnings as errors."""
    from nbclient import NotebookClient

    book = nbformat.read(path, as_version=4)
    book.cells.insert(0, nbformat.v4.new_code_cell(NO_NETWORK))
    client = NotebookClient(
        book,
        timeout=LONGEST_CELL_S,
        kernel_name="python3",
        resources={"metadata": {"path": str(FOLDER)}},
    )
    return client.execute()


def printed(book: nbformat.NotebookNode) -> str:
    """Everything that the cells printed."""
    outputs = [output for cell in book.cells for output in cell.get("outputs", [])]
    return "".join(output.text for output in outputs if output.output_type == "stream")


def pictures(book: nbformat.NotebookNode) -> int:
    """How many pictures the cells show."""
    outputs = [output for cell in book.cells for output in cell.get("outputs", [])]
    return sum("image/png" in output.get("data", {}) for output in outputs)


EXPECTED = {
    "tomorrows_outlook": (["invented: true", "natural dew", "planning aid only"], 1),
    "why_wet_when_air_is_not": (["the air's highest: 82 %", "planning aid only"], 1),
    "three_sites": (["usable dew on", "planning aid only", "coast"], 1),
}


@pytest.mark.slow
@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_it_runs_and_shows_what_it_asks(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(
        "PYTHONPATH", os.pathsep.join(p for p in [os.environ.get("PYTHONPATH")] if p)
    )
    words, shown = EXPECTED[path.stem]
    book = run(path)
    said = printed(book)
    assert [word for word in words if word not in said.lower()] == []
    assert pictures(book) >= shown
    assert "Warning" not in said


def test_all_notebooks_are_expected() -> None:
    assert {path.stem for path in BOOKS} == set(EXPECTED)


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_it_comes_in_by_the_public_door_alone(path: Path) -> None:
    book = nbformat.read(path, as_version=4)
    code = "\n".join(cell.source for cell in book.cells if cell.cell_type == "code")
    asked = set(re.findall(r"^(?:from|import) (hayweather\S*)", code, flags=re.MULTILINE))
    assert asked == {"hayweather"}


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_it_is_kept_without_outputs_and_asks_one_question(path: Path) -> None:
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    code = [cell for cell in book.cells if cell.cell_type == "code"]
    assert all(not cell.outputs and cell.execution_count is None for cell in code)
    first = book.cells[0].source
    assert first.startswith("# ")
    assert sum(cell.source.startswith("# ") for cell in book.cells) >= 1
    assert "Planning aid only" in first
    assert not any(
        cell.source.startswith("# ") for cell in book.cells[1:] if cell.cell_type == "markdown"
    )


def test_the_network_is_closed_to_them() -> None:
    plain = socket.socket.connect
    try:
        import warnings

        with warnings.catch_warnings():
            exec(NO_NETWORK, {})
        with pytest.raises(OSError, match="offline"):
            socket.create_connection(("192.0.2.1", 80), timeout=1)
    finally:
        socket.socket.connect = plain
