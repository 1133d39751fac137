"""Few members: these tests look at what is served, not at how sure it is."""

import pytest
from support.live import FEW

from hayweather.nights import drive


@pytest.fixture(autouse=True, scope="module")
def few_members():
    with pytest.MonkeyPatch.context() as here:
        here.setattr(drive, "MOST_MEMBERS", FEW)
        yield
