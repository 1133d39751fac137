"""Running commands in this process, and farm files to run them on."""

import os
import sys
from pathlib import Path

from support.outlooks import FOLDER

from hayweather.cli.main import run

SAGEBECK = FOLDER / "sagebeck.toml"


def refused(capsys, *arguments: object) -> str:
    """The one line with which a command is refused; nothing else is said, exit status 2."""
    code = run([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert code == 2, said.err
    assert said.out == ""
    lines = said.err.splitlines()
    assert len(lines) == 1, said.err
    assert "Traceback" not in said.err
    return lines[0]


def done(capsys, *arguments: object) -> str:
    """What a command prints when all is well."""
    code = run([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert code == 0, said.err
    return said.out


def farm_with(folder: Path, *changes: tuple[str, str], weather: str | bytes | None = None) -> Path:
    """A farm file like Sagebeck's in `folder`, changed, with its weather or another."""
    text = SAGEBECK.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    path = folder / "farm.toml"
    path.write_text(text, encoding="utf-8")
    content = sample_weather() if weather is None else weather
    raw = content if isinstance(content, bytes) else content.encode()
    (folder / "sagebeck.csv").write_bytes(raw)
    return path


def sample_weather() -> str:
    """Sagebeck's weather file."""
    return (FOLDER / "sagebeck.csv").read_text(encoding="utf-8")


def with_row(start: str, change) -> str:
    """The weather with `change` applied to the cells of the row that begins with `start`."""
    lines = sample_weather().splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith(start))
    lines[at] = ",".join(change(lines[at].split(",")))
    return "\n".join(lines) + "\n"


def without_hours(first: str, last: str) -> str:
    """The weather without the rows from `first` to `last`, both left out."""
    head, *rows = sample_weather().splitlines()
    kept = [row for row in rows if not first <= row[:16] <= last]
    assert len(kept) < len(rows)
    return "\n".join([head, *kept]) + "\n"


def twice(*asked):
    """In a child: a command, and again by one who may not write there."""
    run(asked)
    for place, mode in ((Path("hayweather.sqlite"), 0o444), (Path(), 0o555)):
        place.chmod(mode)
    if os.getuid() == 0:
        os.setuid(65534)
    print("=====", flush=True)
    sys.exit(run(asked))
