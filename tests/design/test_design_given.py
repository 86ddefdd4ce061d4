"""Chances of a clear answer given what is measured, against new parts that are simulated.

The simulation knows nothing of the formula: it draws the new numbers, fits old and new together and
asks the rule of the verdict. Critical values are those of scipy.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest
from scipy import stats

from tests.design.unchecked import draw
from trials.design.chances import DRAWS
from trials.design.columns import items_layout
from trials.design.extend import extend
from trials.design.given import Seen, clear_chances
from trials.design.looks import confidence_of
from trials.design.values import Plan
from trials.model import Factor, Group, Structure, make_layout
from trials.study import Limits, Planning, Response, Study, StudyFactor, StudyGroup

Floats = npt.NDArray[np.float64]

WORTHWHILE = 1.0


def planes(levels: int, *, looks: int = 1, copies: int = 4, teams: int = 0) -> Study:
    return Study(
        title="Planes",
        question="Which flies further?",
        factors=(StudyFactor(name="wing", levels=tuple("abc"[:levels]), shared=False),),
        responses=(Response(name="distance", unit="m", worthwhile=WORTHWHILE),),
        limits=Limits(copies=copies),
        groups=(StudyGroup(name="team", count=teams, role="maker"),) if teams else (),
        plan=Planning(looks=looks),
    )


def columns_of(plan: Plan) -> tuple[Floats, npt.NDArray[np.intp]]:
    """Return indicator columns of every group and of the wing, and the wing of each row."""
    blocks = [np.ones((len(plan.rows), 1))]
    for group in plan.groups:
        codes = np.array([group.members.index(row.groups[group.name]) for row in plan.rows])
        blocks.append(np.eye(len(group.members))[codes][:, 1:])
    levels = plan.factors[0].levels
    wing = np.array([levels.index(row.factors["wing"]) for row in plan.rows])
    return np.hstack([*blocks, np.eye(len(levels))[wing][:, 1:]]), wing


def clear_share(X: Floats, Y: Floats, levels: int, confidence: float) -> float:
    """Return how often least squares with Tukey's intervals gives a clear answer; Y (runs, n)."""
    inverse = np.linalg.inv(X.T @ X)
    b = Y @ X @ inverse
    df = Y.shape[1] - X.shape[1]
    s = np.sqrt(((Y - b @ X.T) ** 2).sum(axis=1) / df)
    reach = stats.studentized_range.ppf(confidence, levels, df) / math.sqrt(2)
    first = X.shape[1] - levels  # of the wing's columns, less one for the level without
    beyond, inside = np.zeros(len(Y), bool), np.ones(len(Y), bool)
    for one, other in combinations(range(levels), 2):
        line = np.zeros(X.shape[1])
        line[first + other] = -1.0
        if one:
            line[first + one] = 1.0
        half = reach * s * math.sqrt(line @ inverse @ line)
        low, high = b @ line - half, b @ line + half
        beyond |= (low > WORTHWHILE) | (high < -WORTHWHILE)
        inside &= (low > -WORTHWHILE) & (high < WORTHWHILE)
    return float((beyond | inside).mean())


def agree(chance: float, share: float, runs: int) -> bool:
    """Return whether both are alike within 3.5 Monte Carlo errors; the chance is drawn as well."""
    spread = max(share * (1 - share), 0.01)
    return abs(chance - share) <= 3.5 * math.sqrt(spread / runs + spread / DRAWS)


@pytest.mark.long
@pytest.mark.parametrize(
    ("levels", "looks", "teams", "effect"),
    [(2, 1, 0, 0.4), (2, 2, 0, 1.9), (3, 1, 0, 1.2), (2, 1, 4, 0.2)],
)
def test_new_parts_come_out_as_often_as_said(
    levels: int, looks: int, teams: int, effect: float, effort: Callable[[int], int]
) -> None:
    runs = max(2_000, effort(40_000))
    study = planes(levels, looks=looks, copies=4 if levels > 2 else 6, teams=teams)
    plan = draw(study, seed=1)
    longer = extend(study, plan, seed=2)
    n, items = len(plan.rows), [row.item for row in longer.rows]
    rng = np.random.default_rng(5)
    X, wing = columns_of(longer)
    y = effect * (wing[:n] == 0) + rng.standard_normal(n)
    there = np.abs(X[:n]).sum(axis=0) > 0
    old = X[:n, there]
    b = np.linalg.lstsq(old, y, rcond=None)[0]
    variance = float(((y - old @ b) ** 2).sum()) / (n - old.shape[1])
    seen = Seen(
        items_layout(longer, items[:n]), items_layout(longer, items), y, {"residual": variance}
    )
    told = clear_chances(study, study.responses[0], seen, ["wing"])["wing"]
    for truth, chance in ((b[1 - levels :], told.as_seen), (0 * b[1 - levels :], told.none)):
        # what the teams add is as uncertain as the old rows leave it, if the wings add ``truth``
        rest, own = old[:, : 1 - levels], old[:, 1 - levels :]
        spread = variance * np.linalg.inv(rest.T @ rest)
        middle = np.linalg.lstsq(rest, y - own @ truth, rcond=None)[0]
        groups = np.zeros((runs, X.shape[1] - levels + 1))
        groups[:, there[: 1 - levels]] = rng.multivariate_normal(middle, spread, runs)
        new = groups @ X[n:, : 1 - levels].T + X[n:, 1 - levels :] @ truth
        new += math.sqrt(variance) * rng.standard_normal(new.shape)
        Y = np.hstack([np.tile(y, (runs, 1)), new])
        share = clear_share(X, Y, levels, confidence_of(study))
        assert agree(chance, share, runs), (chance, share)


FIRINGS, IN_ONE = 8, 3  # of a part, and items in each


@pytest.mark.long
@pytest.mark.parametrize(("effect", "seed"), [(0.4, 1), (1.5, 3), (0.0, 4)])
def test_new_firings_come_out_as_often_as_said(
    effect: float, seed: int, effort: Callable[[int], int]
) -> None:
    """Two heats on firings of three, in an even plan: judged by the means of the firings."""
    runs = max(2_000, effort(40_000))
    study = Study(
        title="Heat",
        question="Does heat matter?",
        factors=(StudyFactor(name="heat", levels=("a", "b"), applied_to="firing"),),
        responses=(Response(name="power", unit="mW", worthwhile=WORTHWHILE),),
        groups=(StudyGroup(name="firing", count=FIRINGS),),
    )
    structure = Structure(
        [Factor("heat", "category", ("a", "b"))],
        [Group("part"), Group("part/firing")],
        {"heat": "part/firing"},
    )
    firing = np.repeat(np.arange(2 * FIRINGS), IN_ONE)
    columns = {
        "part": [str(f // FIRINGS) for f in firing],
        "firing": [f"F{f}" for f in firing],
        "heat": ["ab"[f % 2] for f in firing],
    }
    n = FIRINGS * IN_ONE
    rng = np.random.default_rng(seed)
    warm = np.arange(FIRINGS) % 2 == 0
    means = effect * warm + 0.5 * rng.standard_normal(FIRINGS)
    y = np.repeat(means, IN_ONE) + 0.6 * rng.standard_normal(n)
    means = y.reshape(FIRINGS, IN_ONE).mean(axis=1)
    within = float(((y - np.repeat(means, IN_ONE)) ** 2).sum()) / (n - FIRINGS)
    sides = [means[warm], means[~warm]]
    between = sum(float(((m - m.mean()) ** 2).sum()) for m in sides) / (FIRINGS - 2)
    firings = between - within / IN_ONE
    assert firings > 0
    seen = Seen(
        make_layout(structure, {name: one[:n] for name, one in columns.items()}),
        make_layout(structure, columns),
        y,
        {"part/firing": firings, "residual": within},
    )
    told = clear_chances(study, study.responses[0], seen, ["heat"])["heat"]
    X = np.column_stack([np.ones(2 * FIRINGS), np.arange(2 * FIRINGS) < FIRINGS, np.tile(~warm, 2)])
    found = float(sides[1].mean() - sides[0].mean())
    for truth, chance in ((found, told.as_seen), (0.0, told.none)):
        new = truth * ~warm + math.sqrt(between) * rng.standard_normal((runs, FIRINGS))
        Y = np.hstack([np.tile(means, (runs, 1)), new])
        share = clear_share(X.astype(float), Y, 2, 0.95)
        assert agree(chance, share, runs), (chance, share)


def test_what_is_known_for_sure_is_not_left_to_chance() -> None:
    """With a new part that hardly adds anything, the old verdict all but stands."""
    study = planes(2, copies=20)
    plan = draw(study, seed=1)
    longer = extend(study, plan, seed=2, items=2)
    n, items = len(plan.rows), [row.item for row in longer.rows]
    old, whole = items_layout(longer, items[:n]), items_layout(longer, items)
    noise = np.random.default_rng(1).standard_normal(n)
    wing = np.array([row.factors["wing"] == "a" for row in plan.rows])
    noise -= np.where(wing, noise[wing].mean(), noise[~wing].mean())
    variance = float(noise @ noise) / (n - 2)
    for effect, clear in ((3.0, True), (1.0, False), (0.0, True)):
        seen = Seen(old, whole, noise + effect * wing, {"residual": variance})
        told = clear_chances(study, study.responses[0], seen, ["wing"])["wing"]
        assert (told.as_seen > 0.9) is clear
        assert told.as_seen > 0.9 or told.as_seen < 0.1


def test_a_second_look_that_was_promised_is_judged_by_wider_intervals() -> None:
    """Pocock (1977), table 1: two looks at 5 % go each by 2.178 standard errors, 97.06 %."""
    once, twice = planes(2, copies=6), planes(2, copies=6, looks=2)
    assert confidence_of(twice) == pytest.approx(1 - 2 * stats.norm.sf(2.178), abs=5e-5)
    plan = draw(once, seed=1)
    longer = extend(once, plan, seed=2)
    n, items = len(plan.rows), [row.item for row in longer.rows]
    wing = np.array([row.factors["wing"] == "a" for row in plan.rows])
    y = 1.8 * wing + np.random.default_rng(3).standard_normal(n)
    seen = Seen(items_layout(longer, items[:n]), items_layout(longer, items), y, {"residual": 1.0})
    chances = [
        clear_chances(study, study.responses[0], seen, ["wing"])["wing"].as_seen
        for study in (once, twice)
    ]
    assert chances[1] < chances[0] - 0.02
