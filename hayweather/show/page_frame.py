"""The frame of every page: one HTML file that needs no network and no script."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from hayweather.baling.calls import Call
from hayweather.show.page_colors import CURVES, class_of, variables
from hayweather.show.page_table import heading_text
from hayweather.show.safety import safety_texts
from hayweather.show.voice import Voice, sentence


@dataclass(frozen=True)
class Frame:
    """What stands around the contents of a page.

    Attributes
    ----------
    voice
        Language of the page.
    title
        Heading.
    made
        When it was made, of which forecast, until when it serves.
    mark
        The line that an invented sample begins with; empty for a real farm.
    cautions
        Finished sentences that hold for this page; the safety cautions follow in
        full.
    behind
        What stands behind it: weather, attribution, assumptions.
    """

    voice: Voice
    title: str
    made: Sequence[str]
    mark: str
    cautions: Sequence[str] = ()
    behind: Sequence[str] = ()

    @property
    def safety(self) -> list[str]:
        """The cautions that always show."""
        return safety_texts(self.voice)


def render(template: str, frame: Frame, **values: object) -> str:
    """A page as HTML text.

    Parameters
    ----------
    template
        Name of a file of `templates` that extends ``frame.html``.
    frame
        What stands around it.
    **values
        What the template shows; every text in it is made harmless.
    """
    found = _environment().get_template(template)
    return found.render(frame=frame, say=frame.voice.say, **values)


@cache
def _environment() -> Environment:
    """The templates; a name that is not given is an error."""
    environment = Environment(
        loader=PackageLoader("hayweather.show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "sentence": sentence,
        "class_of": class_of,
        "breakable": breakable,
        "heading": heading_text,
    }
    environment.globals |= {
        "day": variables(night=False),
        "night": variables(night=True),
        "calls": [class_of(call) for call in Call],
        "curves": CURVES,
    }
    return environment


def breakable(text: str) -> Markup:
    """A heading that may go on in the next line after a stroke, its signs made harmless.

    Examples
    --------
    >>> str(breakable("<gal/ton>"))
    '&lt;gal/<wbr>ton&gt;'
    """
    return escape(text).replace("/", Markup("/<wbr>"))
