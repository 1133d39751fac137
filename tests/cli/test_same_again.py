"""What is said does not hang on the order in which a process happens to keep names."""

import os
import subprocess
import sys

import pytest
from cli.commands import SAGEBECK

COMMANDS = (
    "outlook {} --field bench --now 2025-07-08T23:30 --reading 23:00=9.0",
    "outlook {} --why --all",
    "runsheet {}",
)
ALL = "import sys; from hayweather.cli.main import run; sys.exit(max(run(c.split()) for c in {}))"


@pytest.mark.slow
def test_other_hash_seeds_say_the_same():
    program = ALL.format([command.format(SAGEBECK) for command in COMMANDS])
    said = [
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "3")
    ]
    assert said[0].count(b"\n") > 40
    assert said[1] == said[0]
