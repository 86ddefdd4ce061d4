"""Leaving out one thing at a time, against refits by statsmodels and the closed form."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trials.analysis.centring import numbers
from trials.analysis.data import Data
from trials.analysis.influence import MOST_ITEMS, MOST_ROWS, SUSPECTS, influence
from trials.analysis.run import analyse
from trials.model import FitOptions, Structure, fit_rows, make_layout
from trials.model.layout import part_of, partition_key
from trials.study.options import Options

BLOCKS = [f"b{i // 6}" for i in range(18)]
FEEDS = list("xyzzxyyzxxyzxxyyzz")


def some_data(
    columns: dict[str, list[str]], y: list[float], structure: Structure, **more: Any
) -> Data:
    layout = make_layout(structure, columns, item=more.pop("item", None))
    options = Options(worthwhile=more.pop("worthwhile", None))
    centred = numbers(y, "y")
    items = tuple(columns.get("plant", [f"p{i}" for i in range(len(y))]))
    return Data("y", "g", layout, centred.values, centred, items, options, **more)


def found_in(data: Data) -> dict[str, Any]:
    found = analyse(data, {}).diagnostics["influence"]
    json.dumps(found, allow_nan=False)
    return dict(found)


def blocked(seed: int = 8) -> tuple[Data, np.ndarray]:
    y = (np.random.default_rng(seed).normal(size=18) + np.repeat([0.0, 3.0, 1.0], 6)).round(4)
    y += np.array([{"x": 0.0, "y": 1.0, "z": 2.5}[feed] for feed in FEEDS])
    data = some_data({"block": BLOCKS, "feed": FEEDS}, y.tolist(), Structure(["feed"], ["block"]))
    return data, y


def dummies() -> np.ndarray:
    columns = [[float(b == name) for b in BLOCKS] for name in ("b0", "b1", "b2")]
    columns += [[float(f == name) for f in FEEDS] for name in ("y", "z")]
    return np.array(columns).T


def test_differences_without_one_equal_refits_by_statsmodels() -> None:
    import statsmodels.api as sm  # type: ignore[import-untyped]  # it ships no types

    data, y = blocked()
    told = found_in(data)["factors"]["feed"]
    X, contrast = dummies(), np.array([0, 0, 0, 0, 1.0])
    assert (told["a"], told["b"]) == ("z", "x")
    assert told["estimate"] == pytest.approx(sm.OLS(y, X).fit().params @ contrast, rel=1e-10)
    blocks = np.array([[b == name for b in BLOCKS] for name in ("b0", "b1", "b2")])
    for one, gone in zip(told["ranges"], (blocks, np.eye(18, dtype=bool)), strict=True):
        names = ["b0", "b1", "b2"] if one["kind"] == "block" else list(data.items)
        refits = []
        for out in gone:
            used = X[~out][:, X[~out].any(axis=0)]
            refits.append(float(sm.OLS(y[~out], used).fit().params[-1]))
        assert one["left_out"] == len(names)
        for end, place in (("lowest", np.argmin(refits)), ("highest", np.argmax(refits))):
            assert one[end]["member"] == names[place]
            assert one[end]["estimate"] == pytest.approx(refits[place], rel=1e-9)


def test_differences_without_one_item_equal_the_closed_form() -> None:
    """b - b(i) = (X'X)^-1 x_i e_i / (1 - h_i).

    R. D. Cook and S. Weisberg (1982), Residuals and Influence in Regression, section 3.4 (the
    formula from memory); statsmodels gives the same as DFBETA before scaling.
    """
    data, y = blocked()
    X = dummies()
    inverse = np.linalg.inv(X.T @ X)
    rest = y - X @ inverse @ X.T @ y
    leverage = np.einsum("ij,jk,ik->i", X, inverse, X)
    change = (X @ inverse)[:, -1] * rest / (1 - leverage)
    told = found_in(data)["factors"]["feed"]
    assert (told["a"], told["b"]) == ("z", "x")
    items = next(one for one in told["ranges"] if one["kind"] == "item")
    without = told["estimate"] - change
    assert items["lowest"]["estimate"] == pytest.approx(without.min(), rel=1e-9)
    assert items["highest"]["estimate"] == pytest.approx(without.max(), rel=1e-9)
    assert items["highest"]["member"] == f"p{int(np.argmax(without))}"


def test_moves_are_those_of_separate_judgements_by_t() -> None:
    """Two levels, no groups: the interval is Student's, by scipy."""
    rng = np.random.default_rng(12)
    y = np.concatenate([rng.normal(0, 1, 7), rng.normal(2.2, 1, 7)]).round(3)
    feed = ["a"] * 7 + ["b"] * 7
    data = some_data({"feed": feed}, y.tolist(), Structure(["feed"]), worthwhile=0.8)
    found = analyse(data, {})

    def verdict(kept: np.ndarray) -> str:
        a, b = y[:7][kept[:7]], y[7:][kept[7:]]
        low, high = stats.ttest_ind(b, a).confidence_interval(0.95)
        if low > 0.8 or high < -0.8:
            return "mattered"
        return "made no practical difference" if low > -0.8 and high < 0.8 else "not settled"

    before = verdict(np.ones(14, dtype=bool))
    assert found.verdicts[0].verdict == before
    known = {f"p{i}": after for i in range(14) if (after := verdict(np.arange(14) != i)) != before}
    moves = found.diagnostics["influence"]["moves"]
    assert {m["left_out"]["member"]: m["verdict"] for m in moves} == known
    assert known  # the seed was picked so that some do
    assert {m["left_out"]["kind"] for m in moves} == {"item"}


def split(seed: int = 4) -> Data:
    rng = np.random.default_rng(seed)
    team = [f"t{i % 6}" for i in range(36)]
    pot = [f"k{i // 6}" for i in range(36)]
    heat = [str(i // 6 % 2) for i in range(36)]
    feed = [str((i + i // 6) % 2) for i in range(36)]
    y = rng.normal(size=36) + np.repeat(rng.normal(0, 2, 6), 6) + np.array(heat, dtype=float) * 3
    columns = {"team": team, "pot": pot, "heat": heat, "feed": feed}
    structure = Structure(["heat", "feed"], ["team", "pot"], {"heat": "pot"})
    return some_data(columns, y.round(3).tolist(), structure, worthwhile=1.0)


def test_a_group_left_out_equals_a_fit_of_the_rest_with_the_same_groups_random() -> None:
    data = split()
    found = found_in(data)
    told = found["factors"]["heat"]
    assert [one["kind"] for one in told["ranges"]] == ["team", "pot", "item"]
    assert [one["left_out"] for one in told["ranges"]] == [6, 6, 36]
    layout = data.layout
    teams = layout.grouping("team").coded
    estimates = []
    for code in range(6):
        keep = teams.codes != code
        columns = {
            name: [coded.levels[c] for c in coded.codes[keep]]
            for name, coded in (*layout.factors.items(), *((g.path, g.coded)
                                for g in layout.groupings if not g.implied))
        }  # fmt: skip
        part = make_layout(layout.structure, columns, random=["team", "pot"])
        beta = fit_rows(part, data.y[keep], FitOptions()).inference.beta
        # coded to sum to zero: the first level is minus the second
        estimates.append(abs(2 * float(beta[1])))
    ends = told["ranges"][0]
    assert ends["lowest"]["estimate"] == pytest.approx(min(estimates), rel=1e-6)
    assert ends["highest"]["estimate"] == pytest.approx(max(estimates), rel=1e-6)


def test_what_takes_a_level_with_it_tells_nothing_of_that_factor() -> None:
    pot = [f"k{i // 4}" for i in range(12)]
    heat = [str(i // 4) for i in range(12)]
    feed = [str(i % 2) for i in range(12)]
    y = np.random.default_rng(2).normal(size=12).round(3).tolist()
    structure = Structure(["heat", "feed"], ["pot"], {"heat": "pot"})
    columns = {"pot": pot, "heat": heat, "feed": feed}
    found = found_in(some_data(columns, y, structure, worthwhile=1.0))
    assert [one["kind"] for one in found["factors"]["heat"]["ranges"]] == ["item"]
    assert [one["kind"] for one in found["factors"]["feed"]["ranges"]] == ["pot", "item"]


def test_where_nothing_would_be_left_over_the_answer_is_not_settled() -> None:
    """Four pots, two of each heat: without one pot no heat has two, and nothing is left over."""
    pot = [f"k{i // 2}" for i in range(8)]
    heat = [str(i // 2 % 2) for i in range(8)]
    feed = [str(i % 2) for i in range(8)]
    y = [1.0, 1.2, 9.0, 9.1, 1.1, 1.4, 9.3, 9.2]
    structure = Structure(["heat", "feed"], ["pot"], {"heat": "pot"})
    data = some_data({"pot": pot, "heat": heat, "feed": feed}, y, structure, worthwhile=1.0)
    found = analyse(data, {})
    assert found.verdicts[0].verdict == "mattered"
    moves = found.diagnostics["influence"]["moves"]
    gone = [m["left_out"]["member"] for m in moves if m["left_out"]["kind"] == "pot"]
    assert len(gone) <= 4
    assert {m["verdict"] for m in moves} <= {"not settled"}


def test_readings_leave_with_their_item_and_halves_stay() -> None:
    plant = [f"k{i // 2}" for i in range(16)]
    feed = [str(i // 2 % 2) for i in range(16)]
    day = [str(i // 8) for i in range(16)]
    y = np.random.default_rng(6).normal(size=16).round(3).tolist()
    columns = {"plant": plant, "feed": feed, "day": day}
    data = some_data(columns, y, Structure(["feed"], ["day"]), item="plant")
    ranges = found_in(data)["factors"]["feed"]["ranges"]
    assert [(one["kind"], one["left_out"]) for one in ranges] == [("item", 8)]
    means = np.array(y).reshape(8, 2).mean(axis=1)
    told = found_in(data)["factors"]["feed"]
    sign = 1 if told["a"] == "1" else -1

    def difference(kept: np.ndarray) -> float:  # days are fixed: least squares on the means
        X = np.column_stack([np.ones(8), np.repeat([0, 1.0], 4), np.arange(8) % 2])[kept]
        return sign * float(np.linalg.lstsq(X, means[kept], rcond=None)[0][2])

    refits = [difference(np.arange(8) != i) for i in range(8)]
    assert ranges[0]["lowest"]["estimate"] == pytest.approx(min(refits), rel=1e-6)


def test_nothing_to_compare_many_items_and_too_many_rows() -> None:
    y = np.random.default_rng(1).normal(size=MOST_ROWS + 2).round(4)
    n = MOST_ITEMS + 50
    feed = [str(i % 2) for i in range(n)]
    y[17] += 30
    many = some_data({"feed": feed}, y[:n].tolist(), Structure(["feed"]))
    found = found_in(many)
    (ranges,) = found["factors"]["feed"]["ranges"]
    assert ranges["left_out"] == SUSPECTS
    assert found["notes"] == [f"only_suspects:{SUSPECTS}"]
    assert found["factors"]["feed"]["largest_change"]["member"] == "p17"
    feed = [str(i % 2) for i in range(len(y))]
    huge = some_data({"feed": feed}, y.tolist(), Structure(["feed"]))
    assert found_in(huge)["notes"] == ["too_many_to_leave_out"]
    none = some_data({"pot": list("aabbcc")}, y[:6].tolist(), Structure([], ["pot"]))
    assert influence(none, fit_rows(none.layout, none.y), {}, {}) is None


@given(st.sets(st.integers(0, 35), min_size=20, max_size=35))
@settings(max_examples=60, deadline=None)
def test_a_part_of_a_layout_equals_the_layout_of_the_part(kept: set[int]) -> None:
    layout = split().layout
    rows = np.array(sorted(kept), dtype=np.intp)
    part = part_of(layout, rows)
    columns = {name: [c.levels[i] for i in c.codes[rows]] for name, c in layout.factors.items()}
    for g in layout.groupings:
        if not g.implied:
            columns[g.path] = [g.coded.levels[i] for i in g.coded.codes[rows]]
    anew = make_layout(layout.structure, columns, random=["team", "pot"])
    assert part.n == anew.n
    assert [g.path for g in part.groupings] == [g.path for g in anew.groupings]
    assert part.units == anew.units
    for one, other in zip(part.groupings, anew.groupings, strict=True):
        assert one.random == other.random
        assert partition_key(one.coded.codes) == partition_key(other.coded.codes)
    assert {f: c.levels for f, c in part.factors.items()} == {
        f: c.levels for f, c in anew.factors.items()
    }
