"""The browsers that look at the pages."""

from collections.abc import Callable, Iterator

import pytest
from page.browser import Browser, chromium


@pytest.fixture(scope="module")
def open_browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[], Browser]]:
    program = chromium()
    if program is None:
        pytest.skip("no Chromium is installed")
    opened: list[Browser] = []

    def one() -> Browser:
        opened.append(Browser(program, tmp_path_factory.mktemp("browser")))
        return opened[-1]

    yield one
    for each in opened:
        each.close()


@pytest.fixture(scope="module")
def browser(open_browser: Callable[[], Browser]) -> Browser:
    return open_browser()
