"""What makes a computer do the evening by itself: cron, a systemd timer, or Windows' tasks.

A schedule starts a program with next to nothing around it, so each line carries the whole
path of Python, the store, and every setting of hayweather's that holds now. Secrets are
never printed: they are read from a file of the user's own (Windows: from the user's
environment).
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from hayweather.delivery.send import PASSWORD
from hayweather.errors import OptionError
from hayweather.words import say

Kind = Literal["cron", "systemd", "tasks"]
SECRET_ENDS = ("_PASSWORD", "_TOKEN", "_KEY")
SECRETS_FILE = ".config/hayweather/secrets"
USUAL_PATH = "/usr/local/bin:/usr/bin:/bin"
_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_DOLLARS = str.maketrans({"%": "%%", "$": "$$"})


@dataclass(frozen=True)
class Schedule:
    """What is to be done, and when.

    Attributes
    ----------
    name
        Of the farm or farms, plain letters.
    arguments
        After ``hayweather evening``.
    settings
        Variables that hold now.
    at, again
        Hour and minute on the computer's clock.
    language
        Of the notes beside the lines.
    """

    name: str
    arguments: tuple[str, ...]
    settings: Mapping[str, str]
    at: tuple[int, int]
    again: tuple[tuple[int, int], ...]
    language: str = "en"

    def command(self, *more: str) -> list[str]:
        """The program with its arguments."""
        return [sys.executable, "-m", "hayweather", "evening", *self.arguments, *more]

    def files(self, kind: Kind) -> dict[str, str]:
        """What is to be written, by the name of the file."""
        return {"cron": self._cron, "systemd": self._systemd, "tasks": self._tasks}[kind]()

    def _cron(self) -> dict[str, str]:
        """Lines for ``crontab -e``; times with the same minute share a line."""
        secret = f"{PASSWORD}='...'"
        lines = [
            "# " + say("schedule_cron", self.language, name=self.name),
            "# " + say("schedule_secrets", self.language, file=SECRETS_FILE, example=secret),
            f"{self.at[1]} {self.at[0]} * * * {self._shell()}",
        ]
        for minute in sorted({minute for _, minute in self.again}):
            hours = ",".join(str(hour) for hour, each in self.again if each == minute)
            lines.append(f"{minute} {hours} * * * {self._shell('--again')}")
        return {f"hayweather-{self.name}.cron": "\n".join(lines) + "\n"}

    def _shell(self, *more: str) -> str:
        """The command for a shell that knows nothing; cron reads a bare % as a new line."""
        named = [f"{name}={value}" for name, value in self.settings.items()]
        line = shlex.join(["env", f"PATH={USUAL_PATH}", *named, *self.command(*more)])
        secrets = f'"$HOME/{SECRETS_FILE}"'
        whole = f"set -a; test -f {secrets} && . {secrets}; set +a; {line}"
        return whole.replace("%", "\\%")

    def _systemd(self) -> dict[str, str]:
        """Two services and their timers, for ``~/.config/systemd/user``."""
        found = {}
        for tail, more, times in (("", (), (self.at,)), ("-again", ("--again",), self.again)):
            unit = f"hayweather-{self.name}{tail}"
            line = " ".join(map(_held, self.command(*more)))
            settings = [f"Environment={_held(f'{k}={v}')}" for k, v in self.settings.items()]
            found[f"{unit}.service"] = _unit(
                "[Unit]",
                f"Description=hayweather {self.name}{tail.replace('-', ' ')}",
                "[Service]",
                "Type=oneshot",
                f"Environment=PATH={USUAL_PATH}",
                *settings,
                f"EnvironmentFile=-%h/{SECRETS_FILE}",
                f"ExecStart={line}",
            )
            found[f"{unit}.timer"] = _unit(
                f"# systemctl --user enable --now {unit}.timer; loginctl enable-linger",
                "[Unit]",
                f"Description=hayweather {self.name}{tail.replace('-', ' ')}, when",
                "[Timer]",
                *(f"OnCalendar=*-*-* {hour:02d}:{minute:02d}:00" for hour, minute in times),
                f"Persistent={'false' if tail else 'true'}",
                "[Install]",
                "WantedBy=timers.target",
            )
        return found

    def _tasks(self) -> dict[str, str]:
        """A script for PowerShell that registers two tasks."""
        lines = [
            "# " + say("schedule_tasks", self.language),
            *(f"[Environment]::SetEnvironmentVariable({_told(name)}, {_told(value)}, 'User')"
              for name, value in self.settings.items()),
        ]  # fmt: skip
        for tail, more, times in (("", (), (self.at,)), (" again", ("--again",), self.again)):
            program, *rest = self.command(*more)
            arguments = _told(subprocess.list2cmdline(rest))
            when = ", ".join(
                f"(New-ScheduledTaskTrigger -Daily -At {hour:02d}:{minute:02d})"
                for hour, minute in times
            )
            lines += [
                f"$do = New-ScheduledTaskAction -Execute {_told(program)} -Argument {arguments}",
                f"$when = @({when})",
                "$how = New-ScheduledTaskSettingsSet -StartWhenAvailable",
                f"Register-ScheduledTask -TaskName {_told(f'hayweather {self.name}{tail}')} "
                "-Action $do -Trigger $when -Settings $how -Force",
            ]
        return {f"hayweather-{self.name}.ps1": "\n".join(lines) + "\n"}


def times_of(text: str, option: str) -> tuple[tuple[int, int], ...]:
    """Times of day, commas between them.

    Raises
    ------
    OptionError
        If one of them is none.

    Examples
    --------
    >>> times_of("21:00, 1:30", "--again-at")
    ((21, 0), (1, 30))
    """
    found = []
    for part in text.split(","):
        match = _TIME.fullmatch(part.strip())
        if match is None:
            raise OptionError("schedule_time", option, value=part.strip()[:40])
        found.append((int(match[1]), int(match[2])))
    return tuple(found)


def settings_now(environ: Mapping[str, str], store: Path) -> dict[str, str]:
    """The settings of hayweather's that hold now, secrets left out; the store always."""
    kept = {
        name: value
        for name, value in environ.items()
        if name.startswith("HAYWEATHER_") and not name.endswith(SECRET_ENDS) and value.strip()
    }
    return {**kept, "HAYWEATHER_STORE": str(store)}


def _unit(*lines: str) -> str:
    """A file of systemd's."""
    return "\n".join(lines) + "\n"


def _held(text: str) -> str:
    """A word for systemd, its signs made harmless (systemd.syntax, systemd.service)."""
    inside = text.replace("\\", "\\\\").replace('"', '\\"').translate(_DOLLARS)
    return f'"{inside}"'


def _told(text: str) -> str:
    """A word for PowerShell."""
    return "'" + text.replace("'", "''") + "'"


def joined(files: Mapping[str, str]) -> str:
    """All files one below the other, each under its name where there are several."""
    if len(files) == 1:
        return next(iter(files.values()))
    return "\n".join(f"# --- {name}\n{text}" for name, text in files.items())


def arguments_of(farms: Sequence[Path], to: Path, send: Sequence[str]) -> tuple[str, ...]:
    """What stands after ``hayweather evening``, in whole paths."""
    sent = [part for each in send for part in ("--send", each)]
    return (*(str(path.resolve()) for path in farms), "--to", str(to.resolve()), *sent)
