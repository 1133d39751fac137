"""Rooms above the windrow, tested with the compiled loop where there is one.

Both loops give the same to 1e-9 (`test_compiled_agrees`), the compiled one in a
fiftieth of the time for the single nights that these tests look at.
"""

from collections.abc import Iterator

import pytest

from hayweather.windrow import run

THE_WINDROW = ("windrow", "compiled")


@pytest.fixture(autouse=True, scope="module")
def quick_windrow(request: pytest.FixtureRequest) -> Iterator[None]:
    name = request.module.__name__.rpartition(".")[2].removeprefix("test_")
    if name.startswith(THE_WINDROW):
        yield
        return
    with pytest.MonkeyPatch.context() as here:
        here.setattr(run, "LARGE_RUN", 0)
        yield
