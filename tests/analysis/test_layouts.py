"""F of a plan's other layouts: the same F as elsewhere, and a p that keeps its promise."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np
import pytest
from scipy.stats import f as f_distribution

from trials.analysis.layouts import Replayed, replay
from trials.analysis.permutation import permute
from trials.model import Structure, fit_rows, make_layout
from trials.model.layout import Codes, Floats


def all_layouts_of_blocks(blocks: int, levels: int) -> Codes:
    """Every way of dealing each level once to the units of every block, (m, blocks * levels)."""
    orders = list(itertools.permutations(range(levels)))
    return np.array([sum(way, ()) for way in itertools.product(orders, repeat=blocks)], np.intp)


def test_one_factor_in_blocks_equals_the_enumeration() -> None:
    """Counting every layout through ``replay`` gives what the enumerating test gives."""
    rng = np.random.default_rng(8)
    y = np.round(rng.normal(size=9), 2)
    layouts = all_layouts_of_blocks(3, 3)
    block = np.repeat(np.arange(3), 3)
    walls = np.eye(3)[block]
    units = Replayed(y, {"a": layouts[5]}, {"a": layouts}, {"a": 3}, walls, complete=True)
    found = replay(units, [("a",)])["a",]
    expected = permute(y, layouts[5], block, 0, rng)
    assert (found.count, found.size, found.p) == (expected.count, expected.size, expected.p)


def test_f_equals_the_model_where_nothing_is_moved() -> None:
    """With the observed layout as the only other one, p is 1; with none better, the least."""
    rng = np.random.default_rng(3)
    a = np.tile([0, 1], 8).astype(np.intp)
    b = np.repeat([0, 1, 2, 1], 4).astype(np.intp)
    y = 30.0 * a + rng.normal(size=16)
    same = Replayed(y, {"a": a, "b": b}, {"a": a[None], "b": b[None]}, {"a": 2, "b": 3})
    terms = [("a",), ("b",), ("a", "b")]
    assert all(found.p == 1.0 for found in replay(same, terms).values())
    drawn = np.array([rng.permutation(16) for _ in range(99)])
    moved = Replayed(y, {"a": a, "b": b}, {"a": a[drawn], "b": b[drawn]}, {"a": 2, "b": 3})
    assert replay(moved, terms)["a",].p == pytest.approx(0.01)


def test_the_count_of_larger_f_equals_fits_one_by_one() -> None:
    rng = np.random.default_rng(11)
    block = np.repeat(np.arange(7), 4)
    a = np.tile([0, 0, 1, 1], 7).astype(np.intp)
    b = np.tile([0, 1, 0, 1], 7).astype(np.intp)
    y = np.asarray(rng.normal(size=28) + 0.5 * a + block, dtype=np.float64)
    order = np.array([np.concatenate([4 * k + rng.permutation(4) for k in range(7)])
                      for _ in range(25)])  # fmt: skip

    def f_values(a: Codes, b: Codes) -> list[float]:
        rows = {"a": [f"a{x}" for x in a], "b": [f"b{x}" for x in b]}
        rows["block"] = [f"k{x}" for x in block]
        layout = make_layout(Structure(["a", "b"], ["block"]), rows)
        return [test.result.f or 0.0 for test in fit_rows(layout, y).tests]

    here = f_values(a, b)
    others = np.array([f_values(a[o], b[o]) for o in order])
    units = Replayed(
        y, {"a": a, "b": b}, {"a": a[order], "b": b[order]}, {"a": 2, "b": 2}, np.eye(7)[block]
    )
    found = replay(units, [("a",), ("b",), ("a", "b")])
    for place, result in enumerate(found.values()):
        assert result.count - 1 == int((others[:, place] >= here[place] * (1 - 1e-9)).sum())


def left_over(y: Floats, X: Floats) -> tuple[float, int]:
    """Return the residual sum of squares and its df, by LAPACK's least squares by rank (gelsd)."""
    beta, _, rank, _ = np.linalg.lstsq(X, y, rcond=1e-10)
    return float(np.sum((y - X @ beta) ** 2)), len(y) - int(rank)


def refitted(
    y: Floats, codes: Mapping[str, Codes], terms: list[tuple[str, ...]], walls: Floats
) -> list[tuple[float, int, int]]:
    """Return F, its df and the residual df of every term, by a fit with and one without it.

    Each factor is coded over its levels that occur.
    """
    blocks = []
    for term in terms:
        columns = np.ones((len(y), 1))
        for factor in term:
            seen = np.unique(codes[factor])
            last = codes[factor][:, None] == seen[-1]
            own = (codes[factor][:, None] == seen[:-1]).astype(float) - last
            columns = np.einsum("up,uq->upq", columns, own).reshape(len(y), -1)
        blocks.append(columns)
    out = []
    whole, left = left_over(y, np.hstack([walls, *blocks]))
    for place in range(len(terms)):
        others = [block for number, block in enumerate(blocks) if number != place]
        less, fewer = left_over(y, np.hstack([walls, *others]))
        df = fewer - left
        out.append(((less - whole) / df / (whole / left) if df and left else np.nan, df, left))
    return out


def counted(units: Replayed, terms: list[tuple[str, ...]]) -> list[int]:
    """Return in how many drawn layouts each term shows as much, layout by layout."""
    assert units.walls is not None
    here = refitted(units.y, units.observed, terms, units.walls)
    counts = [0] * len(terms)
    for number in range(len(next(iter(units.drawn.values())))):
        codes = {factor: drawn[number] for factor, drawn in units.drawn.items()}
        for place, there in enumerate(refitted(units.y, codes, terms, units.walls)):
            tails = [f_distribution.sf(f, df, left) for f, df, left in (there, here[place])]
            counts[place] += not tails[0] > tails[1] * (1 + 1e-9)
    return counts


TERMS = [("a",), ("b",), ("c",), ("a", "b"), ("a", "c"), ("b", "c")]
LEVELS = {"a": 3, "b": 2, "c": 2}


def test_a_combination_that_is_never_made_agrees_with_refits() -> None:
    """Every layout lacks the same combination of a and b: 1 df of a:b is left, and 1 of a."""
    rng = np.random.default_rng(4)
    cells = [(a, b, c) for a in range(3) for b in range(2) for c in range(2) if (a, b) != (2, 1)]
    recipes = np.array(cells * 2, dtype=np.intp)
    block = np.repeat([0, 1], 10)
    y = np.asarray(rng.normal(size=20) + block + 0.6 * recipes[:, 2], dtype=np.float64)
    order = np.array(
        [np.concatenate([10 * k + rng.permutation(10) for k in (0, 1)]) for _ in range(60)]
    )
    own = {factor: recipes[:, place] for place, factor in enumerate("abc")}
    drawn = {factor: codes[order] for factor, codes in own.items()}
    units = Replayed(y, own, drawn, LEVELS, np.eye(2)[block])
    found = replay(units, TERMS)
    expected = dict(zip(TERMS, counted(units, TERMS), strict=True))
    assert all(found[term].count - 1 == expected[term] for term in TERMS if term != ("b",))
    assert [found[term].df for term in TERMS] == [1, 0, 1, 1, 2, 1]
    assert [found[term].p is None for term in TERMS] == [False, True, *[False] * 4]
    for codes in [own, *({f: c[number] for f, c in drawn.items()} for number in range(5))]:
        rows = {f: [f"{f}{x}" for x in one] for f, one in codes.items()}
        rows["block"] = [f"k{x}" for x in block]
        fit = fit_rows(make_layout(Structure(["a", "b", "c"], ["block"]), rows), y)
        ours = {test.hypothesis.term.factors: test for test in fit.tests}
        for term, (f, df, _) in zip(
            TERMS, refitted(y, codes, TERMS, np.eye(2)[block]), strict=True
        ):
            if term not in [("a",), ("b",)]:  # these the fit averages over shared combinations
                assert ours[term].result.f == pytest.approx(f)
                assert ours[term].hypothesis.df == df


@pytest.mark.parametrize("lost", ["recipe", "level"])
def test_what_is_lost_from_the_plan_alone_agrees_with_refits(lost: str) -> None:
    """The other layouts have other ranks: their F are compared by the tails of F."""
    rng = np.random.default_rng(9)
    recipes = np.array(list(itertools.product(range(3), range(2), range(2))) * 2, dtype=np.intp)
    order = np.array([rng.permutation(24) for _ in range(80)])
    gone = (recipes[:, 0] == 2) & ((recipes[:, 1] == 1) | (lost == "level"))
    y = np.asarray(rng.normal(size=24)[~gone], dtype=np.float64)
    own = {factor: recipes[~gone, place] for place, factor in enumerate("abc")}
    drawn = {f: recipes[order][:, ~gone, place] for place, f in enumerate("abc")}
    units = Replayed(y, own, drawn, LEVELS, np.ones((len(y), 1)))
    found = replay(units, TERMS)
    tested = [term for term in TERMS if found[term].df]
    expected = counted(units, TERMS)
    for place, term in enumerate(TERMS):
        if term in tested:
            assert found[term].count - 1 == expected[place]
            assert 0.0 < (found[term].p or 0.0) < 1.0
    assert [found[term].df for term in TERMS] == (
        [1, 0, 1, 1, 2, 1] if lost == "recipe" else [1] * 6
    )


def test_a_lost_recipe_keeps_the_promise_of_the_p_value() -> None:
    rng = np.random.default_rng(23)
    recipes = np.array(list(itertools.product(range(2), range(2))) * 3, dtype=np.intp)
    hits, repeats = np.zeros(3), 300
    for _ in range(repeats):
        y = np.asarray(rng.exponential(size=9) ** 2, dtype=np.float64)
        here, *others = (recipes[rng.permutation(12)][3:] for _ in range(100))
        drawn = np.array(others)
        units = Replayed(
            y,
            {"a": here[:, 0], "b": here[:, 1]},
            {"a": drawn[..., 0], "b": drawn[..., 1]},
            {"a": 2, "b": 2},
        )
        found = replay(units, [("a",), ("b",), ("a", "b")]).values()
        hits += [one.p is not None and one.p <= 0.05 for one in found]
    assert (hits <= repeats * 0.05 + 3.5 * np.sqrt(repeats * 0.05 * 0.95)).all()


def test_nothing_left_to_judge_by_gives_no_p() -> None:
    y = np.array([1.0, 2.0, 3.0])
    codes = np.array([0, 1, 2], dtype=np.intp)
    assert replay(Replayed(y, {"a": codes}, {"a": codes[None]}, {"a": 3}), [("a",)])["a",].p is None


def test_no_effect_at_all_is_found_as_often_as_promised() -> None:
    """Under the sharp null the p-value is at most 5 % in at most 5 % of data sets."""
    rng = np.random.default_rng(17)
    layouts = all_layouts_of_blocks(4, 3)
    walls = np.eye(4)[np.repeat(np.arange(4), 3)]
    hits = 0
    for _ in range(400):
        y = rng.exponential(size=12) ** 2 + 3 * walls @ rng.normal(size=4)
        here = layouts[rng.integers(len(layouts))]
        drawn = layouts[rng.integers(len(layouts), size=199)]
        found = replay(Replayed(y, {"a": here}, {"a": drawn}, {"a": 3}, walls), [("a",)])["a",]
        hits += found.p is not None and found.p <= 0.05
    assert hits <= 400 * 0.05 + 3.5 * np.sqrt(400 * 0.05 * 0.95)
