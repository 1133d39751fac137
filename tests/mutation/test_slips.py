"""Every slip still fits the sources, so that the table of `python -m mutation slips` is whole."""

import pytest
from mutation.slips import OUTSIDE, OWN, TABLE, Seen, Slip, slips, table
from mutation.sources import TOP, source_of

KINDS = {"sun", "rain", "wind", "air", "sky", "skin", "soil", "start", "layers", "mixing", "hay"}


def test_every_slip_changes_its_source_and_compiles():
    for slip in slips():
        assert slip.source != source_of(slip.module), slip.what
        compile(slip.source, slip.module, "exec")


def test_the_tests_named_are_there():
    assert all((TOP / each).exists() for each in (*OUTSIDE, *OWN))


def test_slips_cover_what_the_weather_goes_through():
    assert {slip.of for slip in slips()} == KINDS
    named = [(slip.of, slip.what) for slip in slips()]
    assert len(named) == len(set(named)) >= 45


def test_a_slip_that_no_longer_fits_is_said(monkeypatch, tmp_path):
    text = TABLE.read_text(encoding="utf-8").replace('wraps = "prepare"', 'wraps = "gone"', 1)
    changed = tmp_path / "slips.toml"
    changed.write_text(text, encoding="utf-8")
    monkeypatch.setattr("mutation.slips.TABLE", changed)
    with pytest.raises(ValueError, match="no function gone"):
        slips()


def test_table_scores_outside_and_all():
    slip = Slip("sun", "an hour late", "windrow.forcing", "")
    text = table([Seen(slip, True, True), Seen(slip, False, True), Seen(slip, False, False)])
    assert text.splitlines()[-1] == "| all 3 | 1 killed | 2 killed |"
    assert "**survives**" in text
