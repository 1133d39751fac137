"""What the advice is worth in the made-up world: ready hours told go, and wet ones among them.

Quarter hours from 18:00 to 14:00, as the hay lies. Without a reading, and with one of
the windrow at midnight (meter error 1 point) for the quarters from then on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from twin.collect import METER_SEED
from twin.measures import Figure, bootstrap
from twin.world import NOW_ROW, SAME, TRUTHS, Night, Truth, farm

from hayweather.baling.advice import Advice, Risk
from hayweather.baling.calls import AS_IT_LIES, BALED, DANGER, Call
from hayweather.baling.course import Course
from hayweather.nights.drive import weighed_by
from hayweather.weather.record import HOUR, Booleans
from hayweather.windrow.readings import Reading, moisture_at
from hayweather.windrow.trajectory import QUARTERS

MIDNIGHT = 34  # hour of the run
LEAST_READING_WB = 1.0
RISKS = [(ready, wet) for wet in (0.1, 0.15, 0.2, 0.25, 0.3) for ready in (0.3, 0.4, 0.5)]


@dataclass
class Advised:
    """Courses and outcomes, a night at a time: one course or one a truth, (quarters, truths)."""

    courses: list[list[Course]] = field(default_factory=list)
    first: list[int] = field(default_factory=list)
    ready: list[Booleans] = field(default_factory=list)
    wet: list[Booleans] = field(default_factory=list)

    def add(self, courses: list[Course], truth: Truth, first: int = 0) -> None:
        """One night as one course for all truths, or one for each of them."""
        self.courses.append(courses)
        self.first.append(first)
        self.ready.append((np.isin(truth.call, AS_IT_LIES) & ~truth.stopped)[first:])
        self.wet.append(np.isin(truth.call, DANGER)[first:])

    def told(self, risk: Risk, ways: tuple[Call, ...]) -> list[Booleans]:
        """Where go is said in some way at some limits of risk, night by night."""
        found = []
        for courses, first, ready in zip(self.courses, self.first, self.ready, strict=True):
            at = [course.at_risk(risk) for course in courses]
            go = [(each.advice == Advice.GO) & np.isin(each.way, ways) for each in at]
            found.append(np.broadcast_to(np.stack(go, axis=1)[first:], ready.shape))
        return found


@dataclass(frozen=True)
class Worth:
    """What go is worth, as the hay lies and with the rig.

    Hours of go a night, as it lies and in all; of go as it lies, the share too wet or
    not cured and the share ready; of all go, the share too wet; of ready hours, the
    share told go as it lies, and told go in any way.
    """

    lies_h: float
    go_h: float
    wet_as_it_lies: Figure
    ready_as_it_lies: Figure
    wet_among_go: Figure
    told_as_it_lies: Figure
    told_go: Figure


def worth_of(advised: Advised, risk: Risk) -> Worth:
    """What the advice is worth at some limits of risk."""
    lies, every = advised.told(risk, AS_IT_LIES), advised.told(risk, BALED)
    sums = np.array(
        [
            [
                *(told.sum() for told in (as_lies, go)),
                *(part.sum() for part in (as_lies & wet, as_lies & ready, go & wet, go & ready)),
                ready.sum(),
            ]
            for as_lies, go, wet, ready in zip(lies, every, advised.wet, advised.ready, strict=True)
        ],
        dtype=float,
    )

    def share(part: int, whole: int) -> Figure:
        return bootstrap(
            sums, lambda total: float(total[part] / total[whole]) if total[whole] else 0.0
        )

    hours = sums.sum(axis=0) / QUARTERS / TRUTHS / len(lies)
    return Worth(
        float(hours[0]), float(hours[1]),
        share(2, 0), share(3, 0), share(4, 1), share(3, 6), share(5, 6),
    )  # fmt: skip


def collect_advice(nights: Iterable[Night], *, read: bool = True) -> dict[str, Advised]:
    """Every night without a reading, and with one at midnight of each truth."""
    found = {"no reading": Advised()}
    if read:
        found |= {"no reading, from midnight on": Advised(), "a reading at midnight": Advised()}
    for night in nights:
        truth = night.truths[SAME]
        found["no reading"].add([night.course], truth)
        if read:
            first = QUARTERS * (MIDNIGHT - NOW_ROW)
            found["no reading, from midnight on"].add([night.course], truth, first)
            found["a reading at midnight"].add(_courses_read(night, truth), truth, first)
    return found


def _courses_read(night: Night, truth: Truth) -> list[Course]:
    """The night as each truth's own reading at midnight makes it."""
    time = night.members.start[0] + MIDNIGHT * HOUR
    there = moisture_at(truth.trajectory, Reading(time, 0.0))
    random = np.random.default_rng(METER_SEED + 100 * night.day.toordinal() + MIDNIGHT)
    shown = np.maximum(there + random.standard_normal(TRUTHS), LEAST_READING_WB)
    risk = Risk.of(farm())
    past = NOW_ROW + night.course.weather.hours
    return [
        weighed_by(night.plan, night.members, [Reading(time, float(value))])
        .course(risk)
        .between(NOW_ROW, past)
        for value in shown
    ]


def advice_report(found: dict[str, Advised], command: str) -> str:
    """The curve of advice in Markdown, with the command that made it."""
    from twin.tables import HEADING, markdown, percent

    usual = Risk()
    head = ["go when ready in", "and too wet in at most", "go as it lies, all: h a night",
            "as it lies: too wet", "ready", "all go: too wet", "of ready hours told go as it lies",
            "in any way"]  # fmt: skip
    parts = [
        f"### {HEADING}: the advice",
        f"{len(found['no reading'].ready)} nights, {TRUTHS} truths each; a quarter hour is ready "
        "or too wet as the hay lies, whatever the rig adds. "
        f"The limits in use are {100 * usual.ready:.0f} % and {100 * usual.wet:.0f} %. "
        f"Made by `{command}`.",
    ]
    for name, advised in found.items():
        rows = []
        for ready, wet in RISKS:
            worth = worth_of(advised, Risk(ready, wet))
            figures = (worth.wet_as_it_lies, worth.ready_as_it_lies, worth.wet_among_go,
                       worth.told_as_it_lies, worth.told_go)  # fmt: skip
            rows.append(
                [f"{100 * ready:.0f} %", f"{100 * wet:.0f} %",
                 f"{worth.lies_h:.1f}, {worth.go_h:.1f}", *map(percent, figures)]
            )  # fmt: skip
        parts += [f"With {name}:", markdown(head, rows)]
    return "\n\n".join(parts) + "\n"
