"""A file takes its place whole, or what stood there stays and nothing is left beside it."""

import os
import stat

import pytest

from hayweather.whole_file import whole_file


def test_the_new_takes_the_place_of_the_old(tmp_path):
    path = tmp_path / "kept.json"
    path.write_text("old")
    with whole_file(path, lasting=True, for_others=True) as file:
        file.write(b"new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    assert os.listdir(tmp_path) == ["kept.json"]


def stopped_by(trouble, path):
    with whole_file(path) as file:
        file.write(b"ne")
        raise trouble


@pytest.mark.parametrize("trouble", [OSError("disk full"), KeyboardInterrupt()])
def test_trouble_leaves_the_old_and_nothing_else(tmp_path, trouble):
    path = tmp_path / "kept.json"
    path.write_text("old")
    with pytest.raises(type(trouble)):
        stopped_by(trouble, path)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["kept.json"]


def test_where_nothing_stood_nothing_stands_after_trouble(tmp_path):
    with pytest.raises(ValueError, match="no"):
        stopped_by(ValueError("no"), tmp_path / "kept.json")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_is_there_is_left_where_it_must_not_be_replaced(tmp_path, monkeypatch, links):
    def no_links(source, place):
        raise PermissionError(1, "no links here")

    if not links:
        monkeypatch.setattr("hayweather.whole_file.os.link", no_links)
    path = tmp_path / "farm.toml"
    with whole_file(path, never_over=True) as file:
        file.write(b"first")
    with pytest.raises(FileExistsError), whole_file(path, never_over=True) as file:
        file.write(b"second")
    assert path.read_bytes() == b"first"
    assert os.listdir(tmp_path) == ["farm.toml"]
