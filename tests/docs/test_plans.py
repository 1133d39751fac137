"""The table of plans beside rules: a row is made as the page's, and what is promised is held."""

import pytest
from docs import plans

from hayweather.plan.solve import Solved
from hayweather.plan.task import nothing


def test_a_row_names_both_rules_the_plan_and_what_cannot_be_passed():
    cells = [cell.strip() for cell in plans.row(3, 1, 1, 0.5).strip("|").split("|")]
    assert len(cells) == plans.HEAD.splitlines()[0].count("|") - 1
    longest, rain, plan = (float(cell.replace(",", "")) for cell in cells[3:6])
    assert plan >= max(longest, rain) > 0
    assert float(cells[7].rstrip(" %")) >= 0
    assert int(cells[8]) <= 3 + plans.NIGHTS


def test_a_plan_below_a_rule_stops_the_table(monkeypatch):
    def poor(task, seconds, starts):
        return Solved(nothing(task), 0.0, 1.0, 0.0, False)

    monkeypatch.setattr(plans, "solve", poor)
    with pytest.raises(SystemExit, match="below a rule"):
        plans.row(3, 1, 1, 0.5)
