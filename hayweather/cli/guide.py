"""``hayweather guide``: the pages of the guide in the terminal."""

from __future__ import annotations

import difflib
import re
import sys
from textwrap import shorten
from typing import Annotated, ClassVar

import typer

from hayweather.cli.options import as_given, command, help_text, text_width
from hayweather.errors import OptionError
from hayweather.words import default_language, say

OTHER_PAGE = re.compile(r"\[([^\]]+)\]\((?:\.\./)*(?:hayweather/guide/)?([\w-]+)\.md(?:#[\w-]+)?\)")
NEAR = 3
LIKE = 0.6
"""Likeness from which a name is offered instead of all names (assumed)."""


@command
def guide(
    page: Annotated[
        str | None, typer.Argument(metavar="PAGE", help=help_text("guide_page"), show_default=False)
    ] = None,
) -> None:
    """Show a page of the guide, or the list of pages."""
    from hayweather.guide import PAGES, text_of

    if page is None:
        sys.stdout.write(_listed())
        return
    name = page.lower().removesuffix(".md").replace("_", "-")
    if name not in PAGES:
        near = difflib.get_close_matches(name, PAGES, n=NEAR, cutoff=LIKE) or PAGES
        raise OptionError("no_page", as_given(page), near=", ".join(near))
    sys.stdout.write(_rendered(text_of(name)))


def _listed() -> str:
    """Names and subjects of all pages, and how to read one."""
    from hayweather.guide import PAGES, summary_of

    column = max(map(len, PAGES)) + 2
    room = text_width() - column
    lines = [
        f"{name:{column}}{shorten(summary_of(name), room, placeholder=' ..')}" for name in PAGES
    ]
    return "\n".join([*lines, "", say("guide_how", default_language()), ""])


def _rendered(markdown: str) -> str:
    """A page at the width of the screen, with styles on a terminal only."""
    from rich.console import Console, ConsoleOptions, RenderResult
    from rich.markdown import CodeBlock, Markdown, MarkdownElement
    from rich.padding import Padding
    from rich.text import Text

    class Block(CodeBlock):
        """What is typed and printed, without a frame, its lines whole: they are copied."""

        def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
            text = str(self.text).rstrip()
            longest = max(map(len, text.splitlines()), default=0)
            wide = options.update(width=max(longest, options.max_width), no_wrap=True)
            yield from console.render(Padding(Text(text, style="dim"), (1, 0)), wide)

    class Page(Markdown):
        """Markdown with such blocks."""

        elements: ClassVar[dict[str, type[MarkdownElement]]] = {
            **Markdown.elements,
            "fence": Block,
            "code_block": Block,
        }

    named = OTHER_PAGE.sub(lambda link: f"{link[1]} (`hayweather guide {link[2]}`)", markdown)
    console = Console(width=text_width())
    with console.capture() as printed:
        console.print(Page(named, hyperlinks=False), crop=False)
    return "".join(f"{line.rstrip()}\n" for line in printed.get().splitlines())
