"""The guide: one Markdown page a subject, shipped with the package.

``hayweather guide`` shows them in a terminal; beside the source they read as
they are. A page begins with ``# Title``; its first paragraph says in one
sentence what it is about.
"""

from __future__ import annotations

from importlib import resources

FIRST = (
    "install", "tonight", "evening", "cab", "live", "plan", "readings", "learn", "log", "farm-file",
    "weather", "stations",
    "seasons", "trial", "grid", "python", "science", "checked", "safety", "words", "changes",
)  # fmt: skip
"""Pages that the README names, in the order in which they are listed."""
_FILES = sorted(file.name for file in resources.files(__name__).iterdir())
PAGES = (
    *FIRST,
    *(name[:-3] for name in _FILES if name.endswith(".md") and name[:-3] not in FIRST),
)
"""All pages: those, and what further pages lead to."""


def text_of(page: str) -> str:
    """The Markdown of a page.

    Raises
    ------
    FileNotFoundError
        If there is no page of that name.
    """
    return resources.files(__name__).joinpath(f"{page}.md").read_text(encoding="utf-8")


def summary_of(page: str) -> str:
    """What a page is about, in one line: its first paragraph."""
    return " ".join(text_of(page).split("\n\n")[1].split())
