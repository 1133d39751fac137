"""Mutation check: ``python -m mutation [MODULE ...]`` in ``tests``, e.g. ``windrow.skin``.

``python -m mutation slips`` runs the slips of ``slips.toml`` instead, scored by the values
from outside alone and by all tests of the windrow; ``slips sun wind`` only those kinds.
``--keep FOLDER`` writes the survivors of each module as JSON; ``--again`` runs only those of
the last time. Exit 1 when a mutant survives that ``explained.toml`` does not explain.
"""

import argparse
import json
import sys
import tomllib
from pathlib import Path

from .mutants import Mutant
from .run import TESTS, Outcome, all_mutants, outcomes
from .slips import seen, slips, table

EXPLAINED = Path(__file__).with_name("explained.toml")


def explained(module: str) -> set[tuple[str, str]]:
    """Line and change of the survivors that make no difference, each with its why."""
    table = tomllib.loads(EXPLAINED.read_text(encoding="utf-8"))
    for part in module.split("."):
        table = table.get(part, {})
    return {(row["line"], row["change"]) for row in table if row["why"]}


def main(arguments: list[str]) -> int:
    """Run, print a line a module and the survivors without an explanation."""
    if arguments[:1] == ["slips"]:
        return _slipped(arguments[1:])
    asked = _asked(arguments)
    sys.stdout.write("| module | mutants | killed | explained | survived |\n")
    sys.stdout.write("| --- | ---: | ---: | ---: | ---: |\n")
    return max([_checked(module, asked) for module in asked.modules or TESTS])


def _slipped(kinds: list[str]) -> int:
    """Print the table of slips; 1 when one survives all tests."""
    found = list(seen([slip for slip in slips() if not kinds or slip.of in kinds]))
    sys.stdout.write(table(found))
    return int(not all(each.any for each in found))


def _asked(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m mutation")
    parser.add_argument("modules", nargs="*", metavar="MODULE", help=", ".join(TESTS))
    parser.add_argument("--keep", type=Path, help="folder for the survivors as JSON")
    parser.add_argument("--again", action="store_true", help="only the survivors kept last time")
    parser.add_argument("--jobs", type=int, default=2)
    return parser.parse_args(arguments)


def _checked(module: str, asked: argparse.Namespace) -> int:
    """Print one module's line; 1 when an unexplained mutant survives."""
    mutants = all_mutants(module)
    if asked.again:
        mutants = [each for each in mutants if _key(each) in _kept(module, asked.keep)]
    alive = [each for each in outcomes(module, mutants, asked.jobs) if not each.killed]
    known = explained(module)
    open_ones = [each for each in alive if _key(each.mutant) not in known]
    numbers = len(mutants), len(mutants) - len(alive), len(alive) - len(open_ones), len(open_ones)
    sys.stdout.write(f"| {module} | " + " | ".join(map(str, numbers)) + " |\n")
    for each in open_ones:
        place = f"{module}:{each.mutant.line_number}"
        sys.stdout.write(f"  {place}: {each.mutant.line}  ->  {each.mutant.change}\n")
    sys.stdout.flush()
    if asked.keep:
        _keep(module, alive, asked.keep)
    return int(bool(open_ones))


def _key(mutant: Mutant) -> tuple[str, str]:
    return mutant.line, mutant.change


def _keep(module: str, alive: list[Outcome], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    rows = [
        {
            "line_number": each.mutant.line_number,
            "line": each.mutant.line,
            "change": each.mutant.change,
            "seconds": round(each.seconds, 1),
        }
        for each in alive
    ]
    (folder / f"{module}.json").write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


def _kept(module: str, folder: Path | None) -> set[tuple[str, str]]:
    if folder is None:
        raise SystemExit("--again needs --keep FOLDER, where the last survivors lie")
    rows = json.loads((folder / f"{module}.json").read_text(encoding="utf-8"))
    return {(row["line"], row["change"]) for row in rows}


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
