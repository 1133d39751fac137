"""Files of the store that are not as they were written: never believed, and said."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from weather.server import WeatherServer, reply
from weather.services_common import REQUEST, answer, note_keys

from hayweather.weather.services.failures import ServiceError
from hayweather.weather.store import AnswerStore, Lookup


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.99])
def test_a_file_cut_short_counts_as_absent_and_is_said(
    server: WeatherServer, tmp_path: Path, share: float
) -> None:
    note_keys(server, tmp_path)
    [path] = tmp_path.iterdir()
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    server.always = reply(503, "")
    with pytest.raises(ServiceError) as caught:
        note_keys(server, tmp_path)
    assert caught.value.stored == "damaged"
    assert caught.value.exit_code == 3
    assert caught.value.line().endswith("the stored forecast of this place is damaged")
    server.always = None
    assert "store_damaged" in note_keys(server, tmp_path)
    assert note_keys(server, tmp_path) == set()


@given(data=st.data())
@hypothesis_settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None
)
def test_a_file_with_any_other_byte_is_never_believed(tmp_path: Path, data: st.DataObject) -> None:
    store = AnswerStore(tmp_path / "bytes")
    wanted = answer(b'{"temperature": [1.0, 2.0]}')
    store.save(wanted)
    [path] = store.folder.iterdir()
    content = bytearray(path.read_bytes())
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= data.draw(st.integers(1, 255))
    path.write_bytes(content)
    assert store.load(REQUEST).answer in (None, wanted)


@pytest.mark.parametrize(("old", "new"), [(b"2017-07", b"2018-07"), (b"false", b"true ")])
def test_an_age_that_was_changed_is_never_believed(
    store: AnswerStore, old: bytes, new: bytes
) -> None:
    store.save(answer())
    [path] = store.folder.iterdir()
    content = path.read_bytes()
    assert old in content
    path.write_bytes(content.replace(old, new))
    found = store.load(REQUEST)
    assert found.answer is None
    assert found.damaged


def digested(content: bytes) -> bytes:
    """The content with its true digest in front, as the store writes it."""
    return hashlib.sha256(content).hexdigest().encode() + b"\n" + content


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'{"schema"', b'"schema"'),
        (b'"fetched"', b'"taken"'),
        (b"answer/1", b"answer/9"),
        (b"2017-07", b"July"),
        (b"\x1f\x8b", b"PK"),
    ],
)
def test_a_file_of_another_making_is_never_believed(
    store: AnswerStore, old: bytes, new: bytes
) -> None:
    store.save(answer())
    [path] = store.folder.iterdir()
    content = path.read_bytes().partition(b"\n")[2]
    assert old in content
    path.write_bytes(digested(content.replace(old, new)))
    assert store.load(REQUEST) == Lookup(None, damaged=True)
    path.write_bytes(digested(content))
    assert store.load(REQUEST).answer == answer()


def test_an_answer_under_the_name_of_another_is_never_believed(store: AnswerStore) -> None:
    store.save(answer())
    [path] = store.folder.iterdir()
    store.save(answer(request="another"))
    [other] = set(store.folder.iterdir()) - {path}
    other.write_bytes(path.read_bytes())
    assert store.load("another") == Lookup(None, damaged=True)


def test_a_link_to_nowhere_is_damaged_and_goes(store: AnswerStore) -> None:
    store.save(answer())
    gone = store.folder / "passing-gone.answer"
    gone.symlink_to(store.folder / "nowhere")
    assert [entry.request for entry in store.entries()] == [REQUEST, None]
    store.prune()
    assert [entry.request for entry in store.entries()] == [REQUEST]
    assert not gone.is_symlink()
