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

from hayweather.baling.advice import Advice, Risk, advise, odds_as_it_lies
from hayweather.baling.calls import AS_IT_LIES, DANGER
from hayweather.baling.course import Course
from hayweather.nights.drive import weighed_by
from hayweather.weather.record import HOUR, Booleans, Floats
from hayweather.windrow.readings import Reading, moisture_at
from hayweather.windrow.trajectory import QUARTERS

MIDNIGHT = 34  # hour of the run
LEAST_READING_WB = 1.0
RISKS = [(ready, wet) for wet in (0.1, 0.15, 0.2, 0.3) for ready in (0.3, 0.4, 0.5)]


@dataclass
class Advised:
    """Chances and outcomes, a night at a time; (quarters, 1 or truths) and (quarters, truths)."""

    chances: list[Floats] = field(default_factory=list)
    stopped: list[Booleans] = field(default_factory=list)
    ready: list[Booleans] = field(default_factory=list)
    wet: list[Booleans] = field(default_factory=list)

    def add(self, courses: list[Course], truth: Truth, first: int = 0) -> None:
        """One night as one course for all truths, or one for each of them."""
        self.chances.append(np.stack([course.chances[:, first:] for course in courses], axis=2))
        self.stopped.append(np.stack([course.stopped[first:, 0] for course in courses], axis=1))
        self.ready.append((np.isin(truth.call, AS_IT_LIES) & ~truth.stopped)[first:])
        self.wet.append(np.isin(truth.call, DANGER)[first:])

    def told(self, risk: Risk) -> list[Booleans]:
        """Where go would be said at some limits of risk, night by night, (quarters, truths)."""
        go = [
            advise(odds_as_it_lies(chances), risk, stopped) == Advice.GO
            for chances, stopped in zip(self.chances, self.stopped, strict=True)
        ]
        return [
            np.broadcast_to(told, ready.shape) for told, ready in zip(go, self.ready, strict=True)
        ]


@dataclass(frozen=True)
class Worth:
    """Shares of go that were too wet, of go that were ready, and of ready that were told go."""

    wet_among_go: Figure
    ready_among_go: Figure
    told_of_ready: Figure
    go_h_a_night: float


def worth_of(advised: Advised, risk: Risk) -> Worth:
    """What the advice is worth at some limits of risk."""
    told = advised.told(risk)
    sums = np.array(
        [
            [go.sum(), (go & wet).sum(), (go & ready).sum(), ready.sum()]
            for go, wet, ready in zip(told, advised.wet, advised.ready, strict=True)
        ],
        dtype=float,
    )

    def share(part: int, whole: int) -> Figure:
        return bootstrap(
            sums, lambda total: float(total[part] / total[whole]) if total[whole] else np.nan
        )

    hours = float(sums[:, 0].sum()) / QUARTERS / TRUTHS / len(told)
    return Worth(share(1, 0), share(2, 0), share(2, 3), hours)


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
    head = ["go when ready in at least", "and too wet in at most", "go, h a night",
            "wet among go", "ready among go", "told go of ready"]  # fmt: skip
    parts = [
        f"### {HEADING}: the advice",
        f"{len(found['no reading'].ready)} nights, {TRUTHS} truths each, as the hay lies. "
        f"The limits in use are {100 * usual.ready:.0f} % and {100 * usual.wet:.0f} %. "
        f"Made by `{command}`.",
    ]
    for name, advised in found.items():
        rows = []
        for ready, wet in RISKS:
            worth = worth_of(advised, Risk(ready, wet))
            rows.append(
                [f"{100 * ready:.0f} %", f"{100 * wet:.0f} %", f"{worth.go_h_a_night:.1f}",
                 *(percent(each) for each in (worth.wet_among_go, worth.ready_among_go,
                                              worth.told_of_ready))]
            )  # fmt: skip
        parts += [f"With {name}:", markdown(head, rows)]
    return "\n\n".join(parts) + "\n"
