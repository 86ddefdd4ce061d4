"""Moving the response instead of the layout gives the same F, and the same p."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from trials.analysis.exchanges import FixedModel
from trials.analysis.layouts import Replayed, moved, replay, unit_moves
from trials.model.layout import Codes, Floats

TERMS = [("a",), ("b",), ("a", "b")]
LEVELS = {"a": 3, "b": 2}
RECIPES = np.array(list(itertools.product(range(3), range(2))) * 4, dtype=np.intp)
BLOCK = np.repeat([0, 1], 12)
WALLS: Floats = np.eye(2)[BLOCK]


def within_blocks(rng: np.random.Generator, count: int) -> Codes:
    """Return orders of 24 units that stay in their block, (count, 24)."""
    half = rng.permuted(np.tile(np.arange(12), (count, 1)), axis=1)
    other = rng.permuted(np.tile(np.arange(12, 24), (count, 1)), axis=1)
    return np.hstack([half, other]).astype(np.intp)


def response(rng: np.random.Generator) -> Floats:
    return np.asarray(rng.normal(size=24) + 2.0 * BLOCK + 1.5 * RECIPES[:, 0], dtype=np.float64)


@pytest.mark.parametrize("adjusted", [[], [("a", "b")], TERMS])
def test_moving_the_response_equals_moving_the_layout(adjusted: list[tuple[str, ...]]) -> None:
    rng = np.random.default_rng(21)
    y, moves = response(rng), within_blocks(rng, 400)
    back = np.argsort(moves, axis=1)
    own = {"a": RECIPES[:, 0], "b": RECIPES[:, 1]}
    units = Replayed(y, own, {f: c[back] for f, c in own.items()}, LEVELS, WALLS)
    slow, fast = replay(units, TERMS, adjusted), moved(units, moves, TERMS, adjusted)
    assert [(one.count, one.df) for one in slow.values()] == [
        (one.count, one.df) for one in fast.values()
    ]
    assert len({one.count for one in fast.values()}) > 1


def columns(term: tuple[int, ...]) -> Floats:
    """Return indicator columns of a term's combinations, (24, cells)."""
    code = np.zeros(24, dtype=np.intp)
    for place in term:
        code = code * 4 + RECIPES[:, place]
    return np.asarray(code[:, None] == np.unique(code), dtype=np.float64)


def rss(y: Floats, *blocks: Floats) -> float:
    X = np.hstack(blocks)
    return float(np.sum((y - X @ np.linalg.lstsq(X, y, rcond=1e-10)[0]) ** 2))


def test_an_interaction_meets_the_residuals_of_the_model_without_it() -> None:
    """Freedman and Lane (1983), step by step with LAPACK's least squares.

    Fit the main effects, shuffle their residuals, add the fit again, compare F of the interaction.
    """
    rng = np.random.default_rng(5)
    y, moves = response(rng), within_blocks(rng, 150)
    mains = np.hstack([WALLS, columns((0,)), columns((1,))])
    fitted = mains @ np.linalg.lstsq(mains, y, rcond=1e-10)[0]
    both = columns((0, 1))

    def f(values: Floats) -> float:
        whole = rss(values, WALLS, both)
        return (rss(values, mains) - whole) / 2 / (whole / (24 - 7))

    expected = 1 + sum(f(fitted + (y - fitted)[move]) >= f(y) * (1 - 1e-9) for move in moves)
    own = {"a": RECIPES[:, 0], "b": RECIPES[:, 1]}
    units = Replayed(y, own, {n: c[None] for n, c in own.items()}, LEVELS, WALLS)
    found = moved(units, moves, TERMS, [("a", "b")])["a", "b"]
    assert (found.count, found.df) == (expected, 2)
    assert 1 < expected < 151
    assert found.mc_error == pytest.approx(np.sqrt(expected / 151 * (1 - expected / 151) / 150))


def test_what_others_do_does_not_change_an_interactions_p() -> None:
    rng = np.random.default_rng(9)
    y, moves = response(rng), within_blocks(rng, 300)
    own = {"a": RECIPES[:, 0], "b": RECIPES[:, 1]}
    counts = []
    for effect in (0.0, 5.0, -80.0):
        units = Replayed(
            y + effect * RECIPES[:, 0], own, {n: c[None] for n, c in own.items()}, LEVELS, WALLS
        )
        counts.append(moved(units, moves, TERMS, [("a", "b")])["a", "b"].count)
    assert len(set(counts)) == 1


def test_units_move_as_wholes_or_not_at_all() -> None:
    unit = np.array([5, 5, 2, 2])
    places = np.arange(4)
    whole = np.array([[2, 3, 0, 1], [1, 0, 2, 3]])
    assert unit_moves(whole, places, unit) is not None
    moves = unit_moves(whole, places, unit)
    assert moves is not None
    assert moves.tolist() == [[1, 0], [0, 1]]
    assert unit_moves(np.array([[0, 2, 1, 3], [0, 1, 3, 2], [2, 0, 3, 1]]), places, unit) is None


def test_nothing_left_over_gives_no_f() -> None:
    X = np.eye(4)
    model = FixedModel.of(np.ones((4, 1)), [X[:, :2], X[:, 2:3]])
    y = np.array([1.0, 2.0, 3.0, 5.0])
    assert model.left == 0
    assert np.isnan(model.f([y, y], np.arange(4)[None, :])).all()
    exact = FixedModel.of(np.ones((4, 1)), [np.array([[0.0], [0.0], [1.0], [1.0]])])
    left = exact.residual(0, np.full(4, 7.0))
    assert not left.any()
    assert np.isnan(exact.f([left], np.arange(4)[None, :])).all()
