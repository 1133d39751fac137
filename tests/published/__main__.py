"""Print the validation table: ``cd tests && python -m published``.

With ``--all`` every check on a line of its own.
"""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from published.checks import outcomes  # noqa: E402
from published.collect import all_checks  # noqa: E402
from published.summary import markdown_table  # noqa: E402


def main(arguments: list[str]) -> int:
    """Print, and say by the exit code whether everything agrees."""
    found = outcomes(all_checks())
    text = markdown_table(found)
    if "--all" in arguments:
        text = "\n".join(each.line() for each in found) + "\n"
    sys.stdout.write(text)
    return 0 if all(each.agrees and each.holds_record for each in found) else 1


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
