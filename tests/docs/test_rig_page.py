"""The guide's example of a rig: its arithmetic done again, beside what the command printed."""

import re

import pytest
from docs.pages import GUIDE, examples

PAGE = GUIDE / "rig.md"
ROW = re.compile(r"^\| [^|]+ \| `(?P<sum>[-+*/() .\d]+)` \| (?P<printed>[^|]+?) \|$", re.MULTILINE)
ROWS = ROW.findall(PAGE.read_text(encoding="utf-8"))


@pytest.mark.parametrize(("by_hand", "printed"), ROWS)
def test_what_is_worked_by_hand_is_what_the_command_prints(by_hand, printed):
    """Within the rounding of the figures that go in; the command's own print is held elsewhere."""
    shown = "\n".join(line for example in examples(PAGE) for line in example.printed)
    number = float(re.sub(r"[^-.\d]", "", printed))
    # Only digits and signs of arithmetic stand in the pattern above.
    assert eval(by_hand) == pytest.approx(number, rel=0.01)
    figure = re.match(r"[-$.,\d]+", printed)[0]
    assert re.search(rf"(?<![\d,.]){re.escape(figure)}(?![\d,]|\.\d)", shown)


def test_every_row_of_the_table_is_worked_by_hand():
    table = PAGE.read_text(encoding="utf-8").split("| --- | --- | --- |\n")[1].split("\n\n")[0]
    assert len(ROWS) == len(table.splitlines()) >= 8
