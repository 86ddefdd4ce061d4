"""How much a layout can tell, worked out again from what a plan records.

The shuffle of a plan may keep to layouts that tell nearly as much as the best one that was found.
What that needs is in the plan itself: groups, factors, bans, and the variances that the search
assumed. So the set that an analysis draws from is the one that the plan was drawn from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from trials.design.factorials import Codes
from trials.design.search import Barred, Criterion, Problem, SearchFactor, SearchGroup
from trials.design.search.layouts import CONDITION, Ready, as_value, make_ready
from trials.design.units import Units
from trials.design.values import PlanFactor, PlanGrouping, WorthRule

# Two in a hundred is what one item in fifty is worth. In a class of 45 with one ban, balanced
# layouts go up to 1.2 times the best found, half of them above 1.1; one in 250 is within 1.02.
# These are still far too many to list (thousands in 9,999 draws), and half of all moves are taken:
# after 40 draws nothing is left of where a run began.
TIMES = 1.02
WIDER = (1.05, 1.1, 1.2, 1.5, None)  # tried in turn where a set would be too small for a test
DIGITS = 6  # of a recorded value: the last ones of a computed value differ between machines
NEAR = 1e-9  # relative: values this near to the largest allowed count as equal to it
NUDGE = 1e-12  # relative: above rounding, so that what lies half-way is always rounded up


@dataclass(frozen=True)
class Worth:
    """The criterion of layouts of some units, and the largest value that is allowed."""

    ready: Ready
    most: float  # infinite: any layout that leaves nothing open

    def value(self, columns: Mapping[str, Codes]) -> float:
        """Return the criterion of a layout without bans; infinite where it leaves something open.

        The same as ``search.layout_value`` up to rounding, in a fraction of the time.
        """
        ready = self.ready
        codes = np.stack([columns[f.name] for f in ready.problem.factors], axis=1)
        X = ready.coding.X[ready.find(codes)]
        M = X.T @ (ready.W @ X)
        try:
            inverse = np.linalg.inv(M)
        except np.linalg.LinAlgError:
            return np.inf
        # no less than the ratio of the eigenvalues but for the number of columns; a singular
        # matrix, inverted by rounding alone, is far beyond
        if float(np.abs(M).max() * np.abs(inverse).max()) * CONDITION > 1:
            return np.inf
        if ready.volume:
            return as_value(ready, -float(np.linalg.slogdet(M)[1]))
        return float(np.sum(ready.coding.weights * inverse))

    def holds(self, columns: Mapping[str, Codes]) -> bool:
        """Return whether a layout tells enough. Rounding decides nothing."""
        value = self.value(columns)
        return bool(np.isfinite(value) and value <= self.most * (1 + NEAR))


def make_worth(
    units: Units,
    factors: Sequence[PlanFactor],
    forbidden: Sequence[Mapping[str, str]],
    rule: WorthRule,
) -> Worth:
    """Return a rule made ready for some units; ``forbidden``: what no layout makes."""
    problem = assumed_problem(units, factors, forbidden, rule.interactions, rule.groups)
    most = np.inf if rule.times is None else rule.found * rule.times
    return Worth(make_ready(problem, Criterion(rule.criterion)), most)


def assumed_problem(
    units: Units,
    factors: Sequence[PlanFactor],
    forbidden: Sequence[Mapping[str, str]],
    interactions: int,
    groups: Sequence[PlanGrouping],
) -> Problem:
    """Return what the search is about: which items, groups, variances, recipes and terms."""
    of_path = {group.path: group.name for group in units.groups}
    bans = [
        Barred(
            units.having(ban),
            {at: f.levels.index(ban[f.name]) for at, f in enumerate(factors) if f.name in ban},
        )
        for ban in forbidden
    ]
    never = [ban.levels for ban in bans if ban.rows.all()]
    recipes = [
        recipe
        for recipe in product(*(range(len(f.levels)) for f in factors))
        if not any(all(recipe[f] == level for f, level in ban.items()) for ban in never)
    ]
    return Problem(
        n=units.n,
        factors=tuple(
            SearchFactor(
                f.name,
                len(f.levels),
                None if f.applied_to is None else of_path[f.applied_to],
                control=None if f.control is None else f.levels.index(f.control),
            )
            for f in factors
        ),
        groups=tuple(
            SearchGroup(":".join(one.groups), joint_members(units, one.groups), one.variance)
            for one in groups
        ),
        recipes=np.array(recipes, dtype=np.intp),
        barred=tuple(ban for ban in bans if ban.rows.any() and not ban.rows.all()),
        interactions=interactions,
    )


def joint_members(units: Units, names: Sequence[str]) -> Codes:
    """Return the member of a group, or of what several have in common, of every position.

    Members are numbered in the order of their first positions.
    """
    table = np.stack([units.codes[name] for name in names], axis=1)
    _, first, inverse = np.unique(table, axis=0, return_index=True, return_inverse=True)
    number: Codes = np.argsort(np.argsort(first))
    return number[inverse.reshape(-1)]


def recorded(value: float) -> float:
    """Return a number as a plan records it: the same on any machine.

    Examples
    --------
    >>> recorded(1 / 12), recorded(1 / 64 + 1e-17) == recorded(1 / 64 - 1e-17)
    (0.0833333, True)
    """
    return float(f"{value * (1 + NUDGE):.{DIGITS}g}")
