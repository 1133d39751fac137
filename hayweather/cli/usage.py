"""What the parser of options says itself, in the user's language: errors, the frame of help."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from hayweather.words import say

SAID = {
    "usage_extra": r"Got unexpected extra arguments?(?:\(s\))? \((?P<value>.+)\)",
    "usage_command": r"No such command '?(?P<value>.+?)'?\.(?: Did you mean (?P<near>.+)\?)?",
    "usage_option": (
        r"No such option:? '?(?P<value>-[^\s.']*)'?\.?"
        r"(?: (?:\(Possible options: (?P<near>.+)\)|Did you mean (?P<one>.+)\?))?"
    ),
    "usage_no_value": r"Option '(?P<value>.+)' requires an argument\.",
    "usage_missing": r"Missing (?:argument|option|parameter) '(?P<value>.+)'\.",
    "usage_choice": (
        r"Invalid value for '(?P<at>.+?)': '?(?P<value>.*?)'? is not one of (?P<near>.+)\."
    ),
    "usage_number": (
        r"Invalid value for '(?P<at>.+?)': (?:Input should be a valid (?:number|integer).*|"
        r"'?.*?'? is not a valid (?:int|integer|float|number)(?: range)?\.)"
    ),
}
"""The parser's sentences, which it has in English alone, by the key of ours."""

FRAME = (
    "frame_usage", "frame_options", "frame_arguments", "frame_commands", "frame_of_options",
    "frame_of_command", "frame_required", "frame_default", "frame_help",
    "frame_install_completion", "frame_show_completion",
)  # fmt: skip
"""Its words around our texts of help; what it writes is their English."""


def frame_in(language: str, command: Any) -> None:
    """Let a command, and all below it, write the frame of its help in a language."""
    command.context_class = _framed(command.context_class, language)
    for each in getattr(command, "commands", {}).values():
        frame_in(language, each)


def _framed(context_class: Any, language: str) -> Any:
    """A context of the parser whose formatter knows the language."""
    words = {say(key): say(key, language) for key in FRAME}

    def spoken(text: str) -> str:
        for english, word in words.items():
            text = text.replace(english, word)
        return text

    class Formatter(context_class.formatter_class):  # type: ignore[misc]
        """The parser's own, its words exchanged."""

        def write_usage(self, prog: str, args: str = "", prefix: str | None = None) -> None:
            super().write_usage(prog, spoken(args), prefix or f"{words[say('frame_usage')]} ")

        def write_heading(self, heading: str) -> None:
            super().write_heading(words.get(heading, heading))

        def write_dl(self, rows: Any, *widths: Any, **named: Any) -> None:
            super().write_dl([(name, spoken(text)) for name, text in rows], *widths, **named)

    class Context(context_class):  # type: ignore[misc]
        """The parser's own with this formatter."""

        formatter_class = Formatter

    return Context


def usage_line(problem: Any, language: str) -> str:
    """The one line of a command that was written wrongly.

    Parameters
    ----------
    problem
        What the parser raised: has ``format_message()``, and ``ctx`` where a command was found.
    language
        Of `hayweather.words.LANGUAGES`.

    Returns
    -------
    line
        In the language where the parser's sentence is known, else that sentence.
    """
    context = getattr(problem, "ctx", None)
    command = context.command_path if context is not None else "hayweather"
    if context is not None and type(problem).__name__ == "NoSuchOption":
        option, program = str(problem.option_name), context.find_root()
        values = {
            "command": command.removeprefix(f"{program.command_path} "),
            "option": option.removeprefix("--"),
            "commands": ", ".join(_commands_with(option, program.command)),
        }
        if values["commands"]:
            return say("error_option_elsewhere", language, **values)
    # Some versions of the parser begin a wrong value with words of their own.
    message = " ".join(str(problem.format_message()).split()).replace("Value error, ", "")
    for key, pattern in SAID.items():
        found = re.fullmatch(pattern, message)
        if found is not None:
            message = _ours(key, found.groupdict(), context, command, language)
            break
    ends = message if message.endswith((".", ")", "?")) else f"{message}."
    return say("usage_wrong", language, message=ends, command=command)


def _ours(
    key: str, parts: Mapping[str, str | None], context: Any, command: str, language: str
) -> str:
    """The sentence in the words of the package."""
    values: dict[str, str] = {name: part for name, part in parts.items() if part}
    near = values.pop("near", None) or values.pop("one", None)
    if key == "usage_extra":
        arguments = [each for each in context.command.params if each.param_type_name == "argument"]
        names = " ".join(each.metavar or str(each.name).upper() for each in arguments)
        key = key if names else "usage_extra_none"
        return say(key, language, command=command, takes=names, **values)
    if key == "usage_choice":
        return say(key, language, near=str(near).replace("'", ""), **values)
    said = say(key, language, **values)
    if near is None:
        return said
    likely = ", ".join(sorted(each.strip(" '") for each in re.split(r", | or ", near)))
    return f"{said}; {say('usage_near', language, near=likely)}"


def _commands_with(option: str, group: Any, before: str = "") -> list[str]:
    """The commands that have an option, those of a group with its name before them."""
    found = []
    for name, each in group.commands.items():
        if hasattr(each, "commands"):
            found += _commands_with(option, each, f"{before}{name} ")
        elif not each.hidden and any(option in parameter.opts for parameter in each.params):
            found.append(f"{before}{name}")
    return found
