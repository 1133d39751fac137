"""Tests of the rooms above the windrow run it by the compiled loop, where there is one.

Both loops give the same to 1e-9 (`test_compiled_agrees`), the compiled one in a
fiftieth of the time for the single nights that these tests look at.
"""

from collections.abc import Iterator

import pytest

from hayweather.windrow import run

ABOVE = ("baling", "fields", "learning", "seasons", "grid", "one_night")


@pytest.fixture(autouse=True, scope="module")
def _quick_windrow(request: pytest.FixtureRequest) -> Iterator[None]:
    name = request.module.__name__.rpartition(".")[2].removeprefix("test_")
    if not name.startswith(ABOVE):
        yield
        return
    with pytest.MonkeyPatch.context() as here:
        here.setattr(run, "LARGE_RUN", 0)
        yield
