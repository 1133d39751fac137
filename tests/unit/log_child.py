"""What the tests of the log do in a process of their own: a log filled, or looked at."""

import os
from dataclasses import replace
from pathlib import Path

from support.fields import CURED, EVENING, farm_of

from hayweather.errors import HayweatherError
from hayweather.log import open_log
from hayweather.words import table

NOBODY = 65534


def farm_at(path):
    """A farm with one field and its log at `path`."""
    return replace(farm_of(fields={"north": replace(CURED, name="north")}), log=Path(path))


def fill(path):
    """Write until it is refused, and print the line."""
    try:
        with open_log(farm_at(path)) as log:
            while True:
                log.add_reading("north", 10, time=EVENING, note="x" * 400)
    except HayweatherError as problem:
        print(problem.line())


def look(path):
    """Read, then try to write, as a user who owns nothing."""
    table()
    if os.getuid() == 0:
        os.setuid(NOBODY)
    with open_log(farm_at(path), only_read=True) as log:
        print(f"{len(log.readings())} readings")
    try:
        with open_log(farm_at(path)) as log:
            log.add_reading("north", 10, time=EVENING)
    except HayweatherError as problem:
        print(problem.line())
