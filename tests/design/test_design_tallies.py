"""The chain's counts follow every exchange: held against counting the whole layout anew."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from trials.design.balance import Ledger
from trials.design.chain import Chain, Kept
from trials.design.factorials import Codes
from trials.design.tallies import Run
from trials.design.units import Units
from trials.design.values import Balance, PlanFactor, PlanGroup
from trials.randomness import Chance, stream

N = 14
LESSON = [0] * 7 + [1] * 7
POT = [0, 0, 0, 1, 1, 2, 2, 3, 3, 3, 4, 4, 5, 5]
TEAM = [0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1]


def group(name: str, members: int, within: str | None = None) -> PlanGroup:
    return PlanGroup(
        name=name, path=f"{within}/{name}" if within else name, within=within, step=None,
        role=None, members=tuple(f"{name}{n}" for n in range(members)), random=None,
    )  # fmt: skip


def factor(name: str, levels: int, applied_to: str | None = None) -> PlanFactor:
    return PlanFactor(
        name=name, levels=tuple("abcd"[:levels]), unit="", kind="category", scale="linear",
        applied_to=applied_to,
    )  # fmt: skip


GROUPS = (group("lesson", 2), group("pot", 6, "lesson"), group("team", 3))
UNITS = Units(N, GROUPS, {"lesson": np.array(LESSON), "pot": np.array(POT), "team": np.array(TEAM)})
FACTORS = (factor("a", 3), factor("heat", 2, "lesson/pot"), factor("b", 2), factor("t", 3, "team"))
LEVELS = {"lesson": 2, "pot": 6, "team": 3, "a": 3, "heat": 2, "b": 2, "t": 3}
START = {
    "a": np.arange(N) % 3,
    "heat": np.array(POT) % 2,
    "b": np.arange(N) // 3 % 2,
    "t": np.array(TEAM),
}


def rule(
    *factors: str, within: tuple[str, ...] = (), counted: str | None = None,
    shares: tuple[float, ...] = (), more: int = 0,
) -> Balance:  # fmt: skip
    """Return a rule with the excess that the start has, and some more."""
    own = Balance(factors=factors, within=within, counted=counted, shares=shares, excess=0)
    excess = Ledger({**UNITS.codes, **START}, LEVELS, N).excess(own)
    return own.model_copy(update={"excess": excess + more})


PLAIN = (
    rule("a"), rule("b", within=("lesson",)), rule("a", within=("pot",), more=2),
    rule("heat", within=("lesson",), counted="pot"), rule("a", "b", within=("heat",), more=4),
)  # fmt: skip
UNEVEN = (
    rule("a", shares=(0.5, 0.25, 0.25), more=2),
    rule("b", within=("a",), shares=(0.7, 0.3), more=2),
)
SETS = (
    Kept(PLAIN),
    Kept(UNEVEN),
    Kept((rule("a", more=4),), forbidden=({"a": "c", "b": "b", "heat": "b"},)),
    Kept((rule("a", "b", more=6),), required=({"a": "c", "heat": "a"},)),
)


def keeps(kept: Kept, columns: Mapping[str, Codes]) -> bool:
    """Return whether a layout keeps all rules, counted the slow way."""
    ledger = Ledger({**UNITS.codes, **columns}, LEVELS, N)
    made = [
        any(all("abcd"[columns[f][i]] == level for f, level in one.items()) for i in range(N)) is ok
        for several, ok in ((kept.forbidden, False), (kept.required, True))
        for one in several
    ]
    return all(made) and all(ledger.excess(one) <= one.excess for one in kept.balance)


def counts(run: Run) -> list[tuple[list[int], list[int], int]]:
    return [(t.place, t.counts, getattr(t, "excess", 0)) for t in run.tallies]


def started(kept: Kept) -> dict[str, Codes]:
    start = {name: codes.astype(np.intp) for name, codes in START.items()}
    if kept.forbidden:
        start["b"][(start["a"] == 2) & (start["heat"] == 1)] = 0
    return start


@pytest.mark.parametrize("kept", SETS)
def test_a_proposal_is_taken_exactly_if_every_rule_holds(kept: Kept) -> None:
    free = {f.name: tuple(range(len(f.levels))) for f in FACTORS if f.name not in kept.named()}
    chain, start = Chain(UNITS, FACTORS, kept, free), started(kept)
    assert keeps(kept, start)
    run, chance, taken, refused = chain._run(start), Chance(stream(1, "tallies")), 0, 0
    before = run.layout()
    for _ in range(600):
        chain._propose(run, chance)
        proposed = run.layout()
        run.keep_or_undo()
        after = run.layout()
        holds = keeps(kept, proposed)
        expected = proposed if holds else before
        assert all((after[name] == expected[name]).all() for name in after)
        moved = any((proposed[name] != before[name]).any() for name in after)
        taken, refused, before = taken + (moved and holds), refused + (not holds), after
    assert taken > 20
    assert refused > 5
    stored = {name: np.array(codes, dtype=np.intp) for name, codes in run.codes.items()}
    assert counts(run) == counts(Run(stored, chain.rules, ()))


def test_units_come_in_the_order_of_the_plan() -> None:
    """The same seed gives the same layouts in every process, whatever the order of a set."""
    chain = Chain(UNITS, FACTORS, Kept(), {})
    assert chain.stages == [["heat"], ["t"], ["a", "b"]]


def test_single_numbers_are_those_of_the_generator() -> None:
    """numpy's own generator is the reference, whole numbers and fractions taken by turns."""
    chance, rng = Chance(stream(3, "chance")), stream(3, "chance")
    for count in [*range(1, 60), 3, 1, 2**31 - 1, 3 * 2**30, 2**32 - 2, 7] * 20:
        assert chance.below(count) == rng.integers(count)
        assert chance.random() == rng.random()
