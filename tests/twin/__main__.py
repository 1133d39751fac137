"""Print the twin tables in Markdown: ``cd tests && python -m twin``.

``--every N`` takes every N-th night only, ``--advice`` prints what the advice is
worth instead, ``--stations`` what a station is, ``--learn`` what
learned errors are, ``--tune SEEDS`` the tables on tuning.
"""

import argparse
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from twin.advice import advice_report, collect_advice  # noqa: E402
from twin.collect import collect  # noqa: E402
from twin.learned import learned_report  # noqa: E402
from twin.stations import collect_stations, stations_report  # noqa: E402
from twin.tables import report  # noqa: E402
from twin.tuned_tables import tuning_report  # noqa: E402
from twin.world import SAME, STEADY, WORLDS, nights  # noqa: E402


def main(arguments: list[str]) -> int:
    """Print."""
    parser = argparse.ArgumentParser(prog="python -m twin", description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--advice", action="store_true")
    parser.add_argument("--stations", action="store_true")
    parser.add_argument("--learn", action="store_true")
    parser.add_argument("--tune", type=int, metavar="SEEDS")
    chosen = parser.parse_args(arguments)
    command = " ".join(["cd tests && python -m twin", *arguments])
    if chosen.tune:
        sys.stdout.write(tuning_report(chosen.tune, command))
    elif chosen.learn:
        sys.stdout.write(learned_report(command, chosen.every))
    elif chosen.stations:
        sys.stdout.write(stations_report(collect_stations(chosen.every), command))
    elif chosen.advice:
        sys.stdout.write(advice_report(collect_advice(nights(chosen.every, (SAME,))), command))
    else:
        named = [world for world in WORLDS if world != STEADY]
        sys.stdout.write(report(*collect(nights(chosen.every), named, STEADY), command))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
