"""Every command of the README does what the README says it prints."""

from __future__ import annotations

import re

import pytest
from docs.readme import README, Example, examples, prepared, run, shortened


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return prepared(tmp_path_factory.mktemp("readme"))


@pytest.mark.parametrize("example", examples(), ids=lambda example: example.command)
def test_example(example, folder):
    assert shortened(example, run(example.command, folder)) == list(example.printed)


def test_a_gap_hides_only_the_middle():
    example = Example("x", ("one", "...", "five"))
    assert shortened(example, ["one", "two", "five"]) == ["one", "...", "five"]
    assert shortened(example, ["one", "two", "six"]) != ["one", "...", "five"]


def test_the_job_comes_first():
    text = README.read_text(encoding="utf-8")
    first = re.split(r"\n\s*\n", text)[1]
    for word in ("hay", "dew", "bale", "water"):
        assert word in first


def test_no_measured_night_is_said():
    assert "No measured overnight series" in README.read_text(encoding="utf-8")
