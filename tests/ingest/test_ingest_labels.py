"""Labels exchanged, by what the numbers say: found where they are, not asked where nothing is.

The classes are invented from the truth behind the demo: effects of the recipes, luck of sessions,
teams and firings, and of each cell (study_demo/cells/truth.toml).
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.ingest.bench import plan_of, plants, table
from tests.ingest.raised import MANY, heights
from trials.design.values import Plan
from trials.ingest import read_file
from trials.ingest.labels import exchanged_labels
from trials.record import Question
from trials.record.values import Cell, Place, Row
from trials.reduction import Column
from trials.workspace import load_plan, open_workspace

TRUTH = tomllib.loads(Path("study_demo/cells/truth.toml").read_text(encoding="utf-8"))
COLUMNS = (Column("load voltage", "V"), Column("open-circuit voltage", "V"),
           Column("short-circuit current", "mA"))  # fmt: skip


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the demo's plan: 48 cells, 24 recipes, 8 firings, 6 teams."""
    return load_plan(open_workspace(Path("reports/cells")))[0]


class Class:
    """One invented class: log power as it should be and as it came out, and the voltages."""

    def __init__(self, plan: Plan, seed: int, *, effects: bool) -> None:
        rng = np.random.default_rng(seed)
        power: dict[str, Any] = TRUTH["power"]
        spread = power["spread"]
        luck = {(g.name, m): rng.normal() for g in plan.groups for m in g.members}
        self.plan = plan
        self.middle: dict[str, float] = {}
        self.out: dict[str, tuple[float, float]] = {}
        for row in plan.rows:
            x = math.log(power["typical"])
            volts = TRUTH["voltage"]["typical"]
            if effects:
                x += sum(math.log(power["effects"][f][one]) for f, one in row.factors.items())
                volts += sum(TRUTH["voltage"]["effects"][f][one] for f, one in row.factors.items())
            x += sum(spread[g] * luck[g, m] for g, m in row.groups.items())
            self.middle[row.item] = x
            self.out[row.item] = (
                x + spread["item"] * rng.normal(),
                volts + TRUTH["voltage"]["spread"]["item"] * rng.normal(),
            )
        self.rng = rng

    def exchange(self, apart: float) -> set[str] | None:
        """Exchange two cells that lie so many standard deviations of cells apart."""
        sd = TRUTH["power"]["spread"]["item"]
        items = list(self.middle)
        pairs = [
            (a, b) for a in items for b in items
            if a < b and abs(abs(self.middle[a] - self.middle[b]) / sd - apart) < 0.35
        ]  # fmt: skip
        if not pairs:
            return None
        a, b = pairs[int(self.rng.integers(len(pairs)))]
        self.out[a], self.out[b] = self.out[b], self.out[a]
        return {a, b}

    def asked(self) -> list[Question]:
        rows = []
        for n, (item, (x, volts)) in enumerate(self.out.items()):
            load = math.sqrt(math.exp(x) * 1e-6 * 4 * 330)
            numbers = (load, volts, 1000 * load / 330 / 0.8)
            cells = tuple(
                Cell(c.name, "", c.unit, value, value)
                for c, value in zip(COLUMNS, (Decimal(f"{v:.4f}") for v in numbers), strict=True)
            )
            rows.append(Row(Place("a", "", n + 2), item, 1, cells))
        return exchanged_labels(COLUMNS, rows, self.plan, lambda part, one: f"{part} {one}")


@pytest.mark.long
@pytest.mark.parametrize("effects", [False, True])
def test_clean_classes_are_hardly_ever_asked(
    plan: Plan, effects: bool, effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """Fewer than 1 in 100 classes without a wrong label get a question, with effects or none."""
    many = effort(4000)
    asked = sum(bool(Class(plan, k, effects=effects).asked()) for k in range(many))
    evidence(f"labels_clean_{'effects' if effects else 'null'}", {"classes": many, "asked": asked})
    assert asked <= max(1, 0.01 * many)


@pytest.mark.long
def test_labels_six_spreads_apart_are_found(
    plan: Plan, effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """At least 8 of 10 pairs whose places are 6 standard deviations of cells apart."""
    tried = found = other = 0
    for k in range(effort(4000)):
        one = Class(plan, 10_000 + k, effects=True)
        pair = one.exchange(6.0)
        if pair is not None:
            tried += 1
            asked = [{q.item, q.partner} for q in one.asked()]
            found += pair in asked
            other += any(q != pair for q in asked)
    evidence("labels_exchanged", {"classes": tried, "found": found, "another_pair": other})
    assert found >= 0.8 * tried
    assert other <= 0.1 * tried


HEADINGS = ["pot", "height (mm)", "leaves"]


def _pots(rows: list[list[str]]) -> tuple[Question, ...]:
    plan = plan_of(plants(), MANY)
    return read_file(table(rows, HEADINGS).encode(), "a.csv", plants(), plan).questions


def test_the_evidence_is_told_and_nothing_is_changed() -> None:
    (asked,) = _pots(heights(("X09", "X15")))
    assert (asked.code, asked.item, asked.partner, asked.must) == (
        "labels_exchanged", "X09", "X15", False,
    )  # fmt: skip
    assert asked.why.startswith("The height of X09 looks like full, that of X15 like none. As ")
    assert "spreads away from what is usual for their kind; exchanged, " in asked.why
    assert asked.do.startswith("correct X15, if somebody knows that the labels were exchanged;")
    assert len(asked.places) == 2
    assert _pots(heights()) == ()


def test_one_odd_item_is_never_called_a_wrong_label() -> None:
    """A pot of the weaker recipe that grows as tall as the others, and nobody the other way."""
    rows = heights()
    rows[MANY.index("X09")][1] = rows[MANY.index("X15")][1]
    assert "labels_exchanged" not in [q.code for q in _pots(rows)]


@pytest.mark.parametrize("times", [1.0, 1.3, 2.0, 6.0])
def test_a_recipe_that_works_differently_is_a_result(plan: Plan, times: float) -> None:
    """Two recipes that come out the other way round, all of their cells, are no wrong labels.

    One recipe is stronger and another weaker by the same share than their parts say.
    """
    asked = 0
    for k in range(20):
        one = Class(plan, 500 + k, effects=True)
        recipes = sorted({tuple(sorted(row.factors.items())) for row in plan.rows})
        up, down = recipes[k % 24], recipes[(k * 7 + 5) % 24]
        for row in plan.rows:
            own = tuple(sorted(row.factors.items()))
            x, volts = one.out[row.item]
            one.out[row.item] = (x + math.log(times) * ((own == up) - (own == down)), volts)
        asked += bool(one.asked())
    assert asked == 0


def test_two_pairs_are_two_questions(plan: Plan) -> None:
    """In a class whose cells hardly differ for other reasons."""
    one = Class(plan, 3, effects=True)
    for item, middle in one.middle.items():
        one.out[item] = (middle + 0.1 * (one.out[item][0] - middle), one.out[item][1])
    first, second = one.exchange(4.0), one.exchange(5.0)
    assert first is not None
    assert second is not None
    assert not first & second
    assert {frozenset((q.item, q.partner)) for q in one.asked()} == {
        frozenset(first), frozenset(second),
    }  # fmt: skip
