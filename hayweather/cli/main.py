"""The entry of every command: one line and an exit code for whatever goes wrong.

Exit 0 done; 2 the input is wrong; 3 the weather could not be had, or a message could not
be sent. Each command imports what it needs when it runs, so that ``--help`` stays light.
"""

from __future__ import annotations

import codecs
import errno
import os
import sys
import warnings
from collections.abc import Sequence
from functools import cache
from typing import Annotated, Any

import typer

from hayweather.cli.evening import evening
from hayweather.cli.farm import farm, sample
from hayweather.cli.fetch import fetch
from hayweather.cli.guide import guide
from hayweather.cli.inspect import inspect
from hayweather.cli.language import Stopped, language_of
from hayweather.cli.learning import learn, score, tune
from hayweather.cli.listen import listen
from hayweather.cli.log import log
from hayweather.cli.nights import outlook, plan, runsheet
from hayweather.cli.options import DEFAULT_FARM, help_parts, help_text
from hayweather.cli.seasons import seasons
from hayweather.cli.serve import serve
from hayweather.cli.trial import trial
from hayweather.cli.usage import frame_in, usage_line
from hayweather.errors import DEFECT, HayweatherError, OutputError
from hayweather.version import __version__
from hayweather.words import default_language, say

INTERRUPTED = 130
TRACEBACK_VARIABLE = "HAYWEATHER_TRACEBACK"

WIDEST_HELP = 100
app = typer.Typer(
    name="hayweather",
    help=help_parts("program")[1],
    context_settings={"max_content_width": WIDEST_HELP, "help_option_names": ["-h", "--help"]},
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for command in (
    outlook, runsheet, plan, evening, serve, fetch, inspect, listen, tune, score, learn,
    seasons, trial, farm, sample, guide,
):  # fmt: skip
    purpose, with_example = help_parts(command.__name__)
    app.command(help=with_example, short_help=purpose)(command)
app.command("fields", help=help_parts("plan")[1], hidden=True)(plan)  # its name of old
app.add_typer(log, name="log", help=help_parts("log")[1], short_help=help_parts("log")[0])


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


@cache
def _program() -> Any:
    """All commands with their options, made ready once in a process."""
    program = typer.main.get_command(app)
    frame_in(default_language(), program)
    return program


def main() -> int:
    """Run the command of this process; its exit code."""
    warnings.simplefilter("ignore")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="nearest")
    return run(sys.argv[1:])


def _nearest(problem: UnicodeError) -> tuple[str, int]:
    """The nearest letters that a screen has: "rocio" for "rocío", "?" where there is none."""
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    from unicodedata import combining, normalize

    found = []
    for letter in problem.object[problem.start : problem.end]:
        apart = [sign for sign in normalize("NFKD", letter) if not combining(sign)]
        plain = "".join(sign for sign in apart if sign.isascii())
        found.append(plain or NEAREST.get(letter, "?"))
    return "".join(found), problem.end


NEAREST = {"°": "", "–": "-", "—": "-", "’": "'", "¿": "", "¡": "", "€": "EUR"}
codecs.register_error("nearest", _nearest)


def run(arguments: Sequence[str]) -> int:
    """Run a command; the exit code.

    Parameters
    ----------
    arguments
        What stands after ``hayweather``.
    """
    if not arguments and DEFAULT_FARM.exists():
        arguments = ["outlook"]  # the name alone, where a farm is: tonight
    try:
        code = _program()(list(arguments), prog_name="hayweather", standalone_mode=False)
        sys.stdout.flush()
    except HayweatherError as problem:
        together = (problem, *problem.others)
        lines = dict.fromkeys(each.line(language_of(problem)) for each in together)
        return _refused("\n".join(lines), max(each.exit_code for each in together))
    except BrokenPipeError:
        return _reader_left()
    except SystemExit as leaving:
        # The parser of options turns a reader that left into an exit of its own.
        if not isinstance(leaving.__context__, BrokenPipeError):
            raise
        return _reader_left()
    except (KeyboardInterrupt, Stopped) as stop:
        return _stopped(stop)
    except OSError as problem:
        return _not_printed(problem)
    except Exception as problem:
        return _other(problem)
    if code == INTERRUPTED:  # some versions of the parser swallow the stop itself
        return _stopped(KeyboardInterrupt())
    return code if isinstance(code, int) else 0


def _refused(line: str, code: int) -> int:
    """Say in one line what is wrong."""
    print(line, file=sys.stderr)
    return code


def _reader_left() -> int:
    """Whoever read the output has left: nothing more to say, nothing broken."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _stopped(stop: BaseException) -> int:
    """Say once that the user stopped it; a command that said what it kept has said so."""
    if not stop.args:
        print(say("interrupted", language_of(stop)), file=sys.stderr)
    return INTERRUPTED


def _not_printed(problem: OSError) -> int:
    """A full disk behind standard output; any other is a defect like the rest."""
    if problem.filename is not None or problem.errno not in (errno.ENOSPC, errno.EIO, errno.EFBIG):
        return _other(problem)
    _reader_left()
    line = say("error_screen_failed", language_of(problem), reason=problem.strerror)
    return _refused(f"-: {line}", OutputError.exit_code)


def _other(problem: Exception) -> int:
    """A wrong option, an interruption that the parser caught, or a defect of the program."""
    if type(problem).__name__ == "Abort":
        return _stopped(problem)
    if hasattr(problem, "format_message"):
        return _usage(problem)
    if os.environ.get(TRACEBACK_VARIABLE):
        raise problem
    reason = " ".join(f"{type(problem).__name__}: {problem}".split())
    return _refused(say("error_defect", language_of(problem), reason=reason), DEFECT)


def _usage(problem: Exception) -> int:
    """A command that was written wrongly, in one line; the help where nothing was asked."""
    if type(problem).__name__ == "NoArgsIsHelpError":
        print(problem.format_message(), file=sys.stderr)  # type: ignore[attr-defined]
        return 2
    return _refused(usage_line(problem, language_of(problem)), 2)
