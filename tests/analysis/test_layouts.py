"""F of a plan's other layouts: the same F as elsewhere, and a p that keeps its promise."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from trials.analysis.layouts import Replayed, replay
from trials.analysis.permutation import permute
from trials.model import Structure, fit_rows, make_layout
from trials.model.layout import Codes


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
