"""Every layout of a plan's set is drawn equally often, and a forbidden one never.

The sets are small enough to be listed; draws are held against them by a chi-square test. More are
drawn in ``.ci/long``.
"""

from __future__ import annotations

from collections import Counter
from itertools import product

import numpy as np
import pytest
from scipy import stats

from tests.sizes import examples
from trials.design.chain import Kept
from trials.design.shuffle import make_shuffler
from trials.design.units import Units
from trials.design.values import Balance, PlanFactor, PlanGroup

pytestmark = pytest.mark.long

DRAWS = examples(2400, 6000)


def factor(name: str, levels: int, applied_to: str | None = None) -> PlanFactor:
    return PlanFactor(
        name=name, levels=tuple("abcd"[:levels]), unit="", kind="category", scale="linear",
        applied_to=applied_to,
    )  # fmt: skip


def group(name: str, members: int) -> PlanGroup:
    return PlanGroup(
        name=name, path=name, within=None, step=None, role=None,
        members=tuple(f"{name}{n}" for n in range(members)), random=None,
    )  # fmt: skip


def units_of(n: int, **codes: list[int]) -> Units:
    groups = tuple(group(name, max(member) + 1) for name, member in codes.items())
    return Units(n, groups, {name: np.array(member) for name, member in codes.items()})


def allowed(n: int, sizes: tuple[int, ...], ok: object) -> set[tuple[tuple[int, ...], ...]]:
    """List all columns of so many levels of which ``ok`` says that they may be drawn."""
    each = [list(product(range(size), repeat=n)) for size in sizes]
    assert callable(ok)
    return {columns for columns in product(*each) if ok(*map(np.array, columns))}


def drawn_evenly(drawn: Counter[tuple[tuple[int, ...], ...]], every: set[object]) -> None:
    assert set(drawn) <= every  # nothing that may not be
    assert len(every) <= 1000
    assert len(drawn) == len(every)
    # draws of a chain follow each other, so a little more than chance is granted
    assert stats.chisquare(list(drawn.values())).pvalue > 1e-4


def draws(
    units: Units, factors: tuple[PlanFactor, ...], start: dict[str, list[int]], kept: Kept,
    renamed: dict[str, tuple[int, ...]] | None = None,
) -> Counter[tuple[tuple[int, ...], ...]]:  # fmt: skip
    shuffler = make_shuffler(units, factors, renamed or {}, kept)
    first = {name: np.array(codes) for name, codes in start.items()}
    rng = np.random.default_rng(8)
    layouts = [first]
    if shuffler.chain is not None:  # far apart, so that they are nearly independent
        layouts = list(shuffler.chain.draws(first, DRAWS // 3, rng, 60))
    else:
        layouts = list(shuffler.draws(first, DRAWS, rng))
    names = [f.name for f in factors]
    return Counter(tuple(tuple(one[name].tolist()) for name in names) for one in layouts)


def test_a_grid_gives_every_layout_of_its_blocks() -> None:
    units = units_of(6, block=[0, 0, 0, 1, 1, 1])
    every = allowed(6, (3,), lambda x: sorted(x[:3]) == sorted(x[3:]) == [0, 1, 2])
    drawn = draws(units, (factor("x", 3),), {"x": [0, 1, 2, 2, 0, 1]}, Kept())
    assert len(every) == 36
    drawn_evenly(drawn, set(every))


def test_a_grid_keeps_what_recipes_are_made() -> None:
    # in three blocks, recipes aa, ab, ba and never bb: each block's recipes change places
    units = units_of(9, block=[0, 0, 0, 1, 1, 1, 2, 2, 2])
    kept = Kept(forbidden=({"x": "b", "y": "b"},))
    start = {"x": [0, 0, 1] * 3, "y": [0, 1, 0] * 3}
    drawn = draws(units, (factor("x", 2), factor("y", 2)), start, kept)
    assert len(drawn) == 6**3
    for x, y in drawn:
        assert not any(a == b == 1 for a, b in zip(x, y, strict=True))
    assert stats.chisquare(list(drawn.values())).pvalue > 1e-4


@pytest.mark.parametrize("sizes", [(3, 2), (4, 1, 1)])
def test_a_chain_over_groups_of_different_sizes(sizes: tuple[int, ...]) -> None:
    member = [number for number, size in enumerate(sizes) for _ in range(size)]
    n = len(member)
    units = units_of(n, oven=member)
    rules = (Balance(factors=("x",)), Balance(factors=("x",), within=("oven",)))
    start = [0, 1, 0, 1, 0] if n == 5 else [0, 1, 0, 1, 0, 1]

    def ok(x: np.ndarray) -> bool:
        inside = [x[np.array(member) == oven] for oven in range(len(sizes))]
        return all(abs(int((part == 0).sum()) * 2 - len(part)) <= 1 for part in (x, *inside))

    every = allowed(n, (2,), ok)
    drawn = draws(units, (factor("x", 2),), {"x": start}, Kept(balance=rules), {"x": (0, 1)})
    drawn_evenly(drawn, set(every))


def test_a_chain_never_makes_what_is_forbidden_and_always_what_is_required() -> None:
    units = units_of(5, oven=[0, 0, 0, 1, 1])
    kept = Kept(
        balance=(Balance(factors=("x",)), Balance(factors=("y",))),
        forbidden=({"x": "b", "y": "b"},),
        required=({"x": "a", "y": "b"},),
    )

    def ok(x: np.ndarray, y: np.ndarray) -> bool:
        even = abs(int(x.sum()) * 2 - 5) <= 1 and abs(int(y.sum()) * 2 - 5) <= 1
        return even and not ((x == 1) & (y == 1)).any() and bool(((x == 0) & (y == 1)).any())

    start = {"x": [1, 0, 0, 1, 0], "y": [0, 1, 0, 0, 1]}
    drawn = draws(units, (factor("x", 2), factor("y", 2)), start, kept)
    every = {c for c in allowed(5, (2, 2), ok) if sum(c[0]) == 2 and sum(c[1]) == 2}
    drawn_evenly(drawn, set(every))


def test_a_chain_never_gives_a_team_what_is_forbidden_to_it() -> None:
    # three teams of three, of which the last has no b: the other two have as many more
    team = [0, 0, 0, 1, 1, 1, 2, 2, 2]
    units = units_of(9, team=team)
    kept = Kept(
        balance=(
            Balance(factors=("x",), shares=(5 / 9, 4 / 9)),
            Balance(
                factors=("x",),
                within=("team",),
                shares=(1 / 3, 2 / 3, 1 / 3, 2 / 3, 1, 0),
                each=True,
            ),
        ),
        forbidden=({"team": "team2", "x": "b"},),
    )
    every = allowed(9, (2,), lambda x: x[:3].sum() == x[3:6].sum() == 2 and x[6:].sum() == 0)
    drawn = draws(units, (factor("x", 2),), {"x": [0, 1, 1, 0, 1, 1, 0, 0, 0]}, kept)
    assert len(every) == 9
    drawn_evenly(drawn, set(every))


def test_a_chain_keeps_a_ban_of_a_team_where_no_rule_does() -> None:
    # nothing but the numbers of each version is kept, over teams of different sizes
    team = [0, 0, 1, 1, 1]
    units = units_of(5, team=team)
    kept = Kept(
        balance=(Balance(factors=("x",)), Balance(factors=("y",))),
        forbidden=({"team": "team0", "x": "b"}, {"team": "team1", "x": "a", "y": "b"}),
    )

    def ok(x: np.ndarray, y: np.ndarray) -> bool:
        mine = np.array(team)
        counts = x.sum() == 2 and y.sum() == 2
        return counts and not (
            ((mine == 0) & (x == 1)).any() or ((mine == 1) & (x == 0) & (y == 1)).any()
        )

    start = {"x": [0, 0, 1, 1, 0], "y": [1, 0, 1, 0, 0]}
    drawn = draws(units, (factor("x", 2), factor("y", 2)), start, kept)
    drawn_evenly(drawn, set(allowed(5, (2, 2), ok)))


def test_a_chain_keeps_a_ban_of_a_team_for_versions_of_whole_firings() -> None:
    # firings within teams; the second team's may not be b
    units = Units(
        8,
        (
            group("team", 2),
            PlanGroup(
                name="firing", path="team/firing", within="team", step=None, role=None,
                members=("f0", "f1", "f2", "f3"), random=None,
            ),
        ),
        {"team": np.array([0, 0, 0, 0, 1, 1, 1, 1]), "firing": np.array([0, 0, 1, 1, 2, 2, 3, 3])},
    )  # fmt: skip
    kept = Kept(
        balance=(Balance(factors=("x",), counted="firing", shares=(0.75, 0.25)),),
        forbidden=({"team": "team1", "x": "b"},),
    )
    drawn = draws(units, (factor("x", 2, "team/firing"),), {"x": [1, 1, 0, 0, 0, 0, 0, 0]}, kept)
    every = {((1, 1, 0, 0, 0, 0, 0, 0),), ((0, 0, 1, 1, 0, 0, 0, 0),)}
    drawn_evenly(drawn, set(every))
