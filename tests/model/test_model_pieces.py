"""Nested, crossed and block by block: three ways to the same sums, and the textbook's n x n one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.errors import AnalysisError
from trials.model import FitOptions, Group, Layout, Structure, fit_rows, make_layout
from trials.model import reduced as reducing
from trials.model.layout import Floats
from trials.model.nested import chain
from trials.model.reduced import reduce_rows
from trials.model.reml import evaluate, fit, informed
from trials.model.sums import Piece, Sums
from trials.model.terms import make_design
from trials.model.variances import Variances, variances


def nested(seed: int, *, sessions: int = 8, firings: int = 4, items: int = 6) -> Layout:
    """Items in firings in sessions, a tenth of them lost; rows in random order."""
    rng = np.random.default_rng(seed)
    size = sessions * firings * items
    kept = rng.permutation(size)[: size - size // 10]
    firing = kept // items
    session = firing // firings
    rows = {
        "session": [f"s{i}" for i in session],
        "firing": [f"f{i}" for i in firing],
        "day": ["pq"[i % 2] for i in session],
        "heat": ["ab"[i % 2] for i in firing],
        "dye": ["xyz"[i] for i in rng.integers(3, size=len(kept))],
    }
    groups = [Group("session", random=True), Group("session/firing", random=True)]
    applied = {"day": "session", "heat": "session/firing"}
    return make_layout(Structure(["day", "heat", "dye"], groups, applied), rows)


def table(layout: Layout, seed: int) -> Floats:
    y = np.random.default_rng(seed).normal(size=layout.n)
    for group in layout.random:
        y = y + np.random.default_rng(seed + 1).normal(size=group.members)[group.coded.codes]
    return np.column_stack([make_design(layout).XK, y])


def textbook(parts: Variances, T: Floats, theta: Floats) -> Sums:
    """Return all sums from n x n matrices."""
    n, c = len(T), len(parts.components)
    M = np.zeros((c, n, n))
    M[parts.rows, np.arange(n), np.arange(n)] = 1.0
    for group in parts.groups:
        own = group.component[group.codes]
        same = (group.codes[:, None] == group.codes[None]) & (own >= 0)[:, None]
        for i in set(own[own >= 0].tolist()):
            M[i] += same & (own == i)[:, None]
    V = np.tensordot(theta, M, 1)
    Vi = np.linalg.inv(V)
    K = Vi @ M
    N = np.array([T.T @ A @ Vi @ T for A in K])
    Q = np.array([[T.T @ A @ B @ Vi @ T for B in K] for A in K])
    pairs = np.array([[np.trace(A @ B) for B in K] for A in K])
    trace = np.trace(K, axis1=1, axis2=2)
    logdet = float(np.linalg.slogdet(V)[1])
    return Sums(T.T @ Vi @ T, logdet, N, (Q + Q.swapaxes(0, 1)) / 2, trace, pairs)


def assert_same(found: Sums, expected: Sums) -> None:
    for name in ("W", "logdet", "N", "Q", "trace", "pairs"):
        own, other = np.asarray(getattr(found, name)), np.asarray(getattr(expected, name))
        np.testing.assert_allclose(own, other, rtol=0, atol=1e-10 * np.abs(other).max())


def added(pieces: tuple[Piece, ...], theta: Floats) -> Sums:
    first, *rest = (piece.sums(theta) for piece in pieces)
    for more in rest:
        first += more
    return first


@settings(derandomize=True, max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([None, "dye", "heat"]))
def test_three_ways_give_the_sums_of_the_textbook(seed: int, spread_by: str | None) -> None:
    layout = nested(seed, firings=3, items=4)
    parts, T = variances(layout, spread_by), table(layout, seed)
    rng = np.random.default_rng(seed)
    theta = rng.uniform(0.5, 2.0, len(parts.components))
    theta[-1] = rng.uniform(-0.1, 0.1)  # of the firings: may be below zero
    ways = (
        (chain(parts, T),),
        (reducing._dense(parts, T[None], np.arange(len(T))),),
        reducing._by_block(parts, T),
    )
    expected = textbook(parts, T, theta)
    for pieces in ways:
        assert_same(added(pieces, theta), expected)
        assert all(piece.is_positive(theta) for piece in pieces)
        W, logdet = (
            sum(x[0] for x in part)
            for part in zip(*(p.heights(theta[None]) for p in pieces), strict=True)
        )
        np.testing.assert_allclose(W, expected.W, rtol=0, atol=1e-10 * np.abs(expected.W).max())
        assert logdet == pytest.approx(expected.logdet, rel=1e-10)


def test_what_is_not_positive_is_so_by_every_way() -> None:
    layout = nested(1)
    parts, T = variances(layout), table(layout, 1)
    for firing in (-0.15, -0.166, -0.1667, -0.2, -1.0):
        theta = np.array([1.0, 0.0, firing])  # six in a firing: V is positive above -1/6
        ways = (chain(parts, T), reducing._dense(parts, T[None], np.arange(len(T))))
        assert [way.is_positive(theta) for way in ways] == [firing > -1 / 6] * 2


@pytest.mark.parametrize("spread_by", [None, "dye", "heat"])
def test_nested_and_crossed_fits_agree(
    spread_by: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = nested(3, sessions=12, firings=6)
    y = table(layout, 3)[:, -1]
    options = FitOptions(df="kenward-roger", spread_by=spread_by)
    small_to_large = fit_rows(layout, y, options)
    monkeypatch.setattr(reducing, "SMALL", 10_000)
    at_once = fit_rows(layout, y, options)
    monkeypatch.setattr(reducing, "SMALL", 0)
    monkeypatch.setattr(reducing, "is_chain", lambda _: False)
    by_block = fit_rows(layout, y, options)
    for other in (at_once, by_block):
        for a, b in zip(small_to_large.components, other.components, strict=True):
            assert a.unbounded == pytest.approx(b.unbounded, rel=1e-9)
        for one, two in zip(small_to_large.tests, other.tests, strict=True):
            assert one.result.f == pytest.approx(two.result.f, rel=1e-9)
            assert one.result.den_df == pytest.approx(two.result.den_df, rel=1e-9)


def crossed(schools: int) -> Layout:
    """Six schools, in each of them teams cross sessions."""
    rows: dict[str, list[str]] = {name: [] for name in ("school", "team", "session", "dye")}
    for school in range(schools):
        for team in range(4):
            for session in range(3):
                for copy in range(2):
                    rows["school"].append(f"h{school}")
                    rows["team"].append(f"t{school}-{team}")
                    rows["session"].append(f"s{school}-{session}")
                    rows["dye"].append("xyz"[(team + session + copy) % 3])
    groups = [Group(path, random=True) for path in ("school/team", "school/session")]
    return make_layout(Structure(["dye"], groups), rows)


def test_blocks_of_one_make_share_their_matrix() -> None:
    layout = crossed(9)
    parts, T = variances(layout), table(layout, 5)
    pieces = reducing._by_block(parts, T)
    assert len(pieces) < 9
    theta = np.array([1.0, 0.3, 0.8, 0.2])
    assert_same(added(pieces, theta), textbook(parts, T, theta))


def test_too_many_crossing_members_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reducing, "SMALL", 10)
    monkeypatch.setattr(reducing, "LARGEST", 10)
    layout = crossed(9)
    with pytest.raises(AnalysisError) as caught:
        reduce_rows(make_design(layout), np.arange(float(layout.n)))
    assert caught.value.code == "model.too_many_members"


def test_the_score_is_the_slope_of_the_likelihood() -> None:
    layout = nested(7)
    data = reduce_rows(make_design(layout), table(layout, 7)[:, -1], "heat")
    theta = np.linspace(0.5, 1.5, len(data.components))
    at = evaluate(data, theta)
    for i, slope in enumerate(at.score):
        step = 1e-5 * (np.arange(len(theta)) == i)
        rise = evaluate(data, theta + step).loglik - evaluate(data, theta - step).loglik
        assert slope == pytest.approx(rise / 2e-5, rel=1e-6)


def test_a_hundred_thousand_items_are_fitted() -> None:
    """Ten in a firing, ten firings in a session: more groups than any matrix could hold."""
    firing = np.arange(100_000) // 10
    heat = firing % 2
    rng = np.random.default_rng(1)
    y = rng.normal(size=100_000) + rng.normal(size=10_000)[firing]
    y += rng.normal(size=1000)[firing // 10]
    rows = {
        "session": [str(i) for i in firing // 10],
        "firing": [str(i) for i in firing],
        "heat": ["ab"[i] for i in heat],
    }
    groups = ["session", "session/firing"]
    layout = make_layout(Structure(["heat"], groups, {"heat": "session/firing"}), rows)
    data = reduce_rows(make_design(layout), y)
    at, trace = fit(data, informed(data))
    assert trace.converged
    # Balanced: the answer is that of the analysis of variance (Searle and others 1992, chapter 4)
    means = y.reshape(1000, 10, 10).mean(axis=2)
    within = float(y.reshape(10_000, 10).var(axis=1, ddof=1).mean())
    own = np.arange(10) % 2
    effect = np.array([means[:, own == k].mean() for k in (0, 1)])
    rest = means - effect[own][None]
    inside = rest - rest.mean(axis=1, keepdims=True)
    between = 10 * float((inside**2).sum()) / (1000 * 9 - 1)
    above = 100 * float(rest.mean(axis=1).var(ddof=1))
    expected = [within, (above - between) / 100, (between - within) / 10]
    np.testing.assert_allclose(at.theta, expected, rtol=1e-8)


@pytest.mark.parametrize("layout", [nested(3), crossed(3)], ids=["nested", "crossed"])
def test_columns_picked_are_those_of_a_product_with_a_matrix_of_noughts_and_ones(
    layout: Layout,
) -> None:
    responses = np.random.default_rng(1).normal(size=(layout.n, 9))
    reduced = reduce_rows(make_design(layout), responses)
    columns = np.array([*range(reduced.k), reduced.k + 7])
    picked = reduced.pick(columns)
    product = reduced.times(np.eye(reduced.k + 9)[:, columns])
    theta = np.linspace(0.5, 1.5, len(reduced.components))
    assert_same(added(picked.pieces, theta), added(product.pieces, theta))
    alone = reduce_rows(make_design(layout), responses[:, 7])
    assert_same(added(picked.pieces, theta), added(alone.pieces, theta))
