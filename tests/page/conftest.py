"""The browser that looks at the pages."""

from collections.abc import Iterator

import pytest
from page.browser import Browser, chromium


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    program = chromium()
    if program is None:
        pytest.skip("no Chromium is installed")
    opened = Browser(program, tmp_path_factory.mktemp("browser"))
    yield opened
    opened.close()
