"""Plans beside both rules of growers on farms of three sizes: ``cd tests && python -m docs.plans``.

The farms are invented (`support.tasks.summer_task`): three nights, one to three sites, dew
at a different time on each, rain or a date on some. Times are of the machine at hand. A
row that breaks what is promised (below a rule, more visits than fields and nights, no
bound) stops it.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from support.tasks import rules_of, summer_task  # noqa: E402

from hayweather.plan.solve import solve  # noqa: E402

NIGHTS = 3
SIZES = [(f, b, r) for f in (3, 8, 12) for b in (1, 2, 3) for r in (1, 2)]
SEED = 1
HEAD = (
    "| fields | balers | rigs | longest cured | rain first | plan | moves paid | bound above it | "
    "most visits a baler | seconds |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
)


def row(fields: int, balers: int, rigs: int, seconds: float) -> str:
    """One farm."""
    task = summer_task(SEED, fields, balers, rigs, NIGHTS)
    rules = rules_of(task, SEED)
    solved = solve(task, seconds, list(rules.values()))
    values = {name: rule.value(task) for name, rule in rules.items()}
    stays = solved.schedule.stays()
    most = max(sum(stay.baler == b for stay in stays) for b in range(balers))
    if solved.value < max(values.values()) - 1e-6:
        raise SystemExit(f"{fields} fields, {balers} balers: below a rule")
    if most > fields + NIGHTS:
        raise SystemExit(f"{fields} fields, {balers} balers: {most} visits")
    if not solved.bound < float("inf"):
        raise SystemExit(f"{fields} fields, {balers} balers: no bound")
    parts = [
        *(str(number) for number in (fields, balers, rigs)),
        *(f"{values[name]:,.0f}" for name in ("longest_cured", "rain_first")),
        f"{solved.value:,.0f}",
        f"{solved.schedule.charges(task):,.0f}",
        f"{100 * solved.gap:.1f} %",
        str(most),
        f"{solved.seconds:.1f}",
    ]
    return f"| {' | '.join(parts)} |"


def main(arguments: list[str]) -> int:
    """Print the table; a number is the time for each plan [s]."""
    seconds = float(arguments[0]) if arguments else 10.0
    print(HEAD)
    for size in SIZES:
        print(row(*size, seconds), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
