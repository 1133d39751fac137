"""The entry of every command: one line and an exit code for whatever goes wrong.

Exit 0 done; 2 the input is wrong; 3 the weather could not be had. Each command
imports what it needs when it runs, so that ``--help`` stays light.
"""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Sequence
from typing import Annotated

import typer

from hayweather import __version__
from hayweather.cli.farm import farm
from hayweather.cli.fetch import fetch
from hayweather.cli.fields import fields
from hayweather.cli.guide import guide
from hayweather.cli.inspect import inspect
from hayweather.cli.language import language_of
from hayweather.cli.options import help_parts, help_text
from hayweather.cli.outlook import outlook
from hayweather.cli.runsheet import runsheet
from hayweather.cli.score import score
from hayweather.cli.seasons import seasons
from hayweather.cli.trial import trial
from hayweather.cli.tune import tune
from hayweather.errors import HayweatherError
from hayweather.words import say

INTERRUPTED = 130
DEFECT = 1
TRACEBACK_VARIABLE = "HAYWEATHER_TRACEBACK"

WIDEST_HELP = 100

app = typer.Typer(
    name="hayweather",
    help=help_parts("program")[1],
    context_settings={"max_content_width": WIDEST_HELP, "help_option_names": ["-h", "--help"]},
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for command in (
    outlook, runsheet, fields, fetch, inspect, tune, score, seasons, trial, farm, guide,
):  # fmt: skip
    purpose, with_example = help_parts(command.__name__)
    app.command(help=with_example, short_help=purpose)(command)


def _show_version(wanted: bool) -> None:
    """Print the version and stop."""
    if wanted:
        typer.echo(f"hayweather {__version__}")
        raise typer.Exit


@app.callback()
def program(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help=help_text("version")),
    ] = False,
) -> None:
    """All commands."""


def main() -> None:
    """Run the command of this process and leave with its exit code."""
    warnings.simplefilter("ignore")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run a command; the exit code.

    Parameters
    ----------
    arguments
        What stands after ``hayweather``.
    """
    try:
        code = app(list(arguments), prog_name="hayweather", standalone_mode=False)
        sys.stdout.flush()
    except HayweatherError as problem:
        return _refused(problem.line(language_of(problem)), problem.exit_code)
    except BrokenPipeError:
        return _reader_left()
    except SystemExit as leaving:
        # The parser of options turns a reader that left into an exit of its own.
        if not isinstance(leaving.__context__, BrokenPipeError):
            raise
        return _reader_left()
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as problem:
        return _other(problem)
    return code if isinstance(code, int) else 0


def _refused(line: str, code: int) -> int:
    """Say in one line what is wrong."""
    print(line, file=sys.stderr)
    return code


def _reader_left() -> int:
    """Whoever read the output has left: nothing more to say, nothing broken."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _other(problem: Exception) -> int:
    """A wrong option, an interruption that the parser caught, or a defect of the program."""
    if type(problem).__name__ == "Abort":
        return INTERRUPTED
    if hasattr(problem, "format_message"):
        return _usage(problem)
    if os.environ.get(TRACEBACK_VARIABLE):
        raise problem
    reason = " ".join(f"{type(problem).__name__}: {problem}".split())
    return _refused(say("error_defect", language_of(problem), reason=reason), DEFECT)


def _usage(problem: Exception) -> int:
    """What the parser of options found wrong, in one line; the help where nothing was asked."""
    message = " ".join(str(problem.format_message()).split())  # type: ignore[attr-defined]
    message = message.replace("Value error, ", "")  # as some versions of the parser begin it
    context = getattr(problem, "ctx", None)
    if type(problem).__name__ == "NoArgsIsHelpError":
        print(problem.format_message(), file=sys.stderr)  # type: ignore[attr-defined]
        return 2
    message = message if message.endswith((".", ")")) else f"{message}."
    command = context.command_path if context is not None else "hayweather"
    return _refused(say("usage_wrong", language_of(problem), message=message, command=command), 2)
