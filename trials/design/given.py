"""Chances of a clear answer when part of the items is measured and the rest is still to come.

What was measured stays; only the rest is left to chance. For the estimate of old and new items
together, b_all, and that of the old ones, b_old, both by least squares weighted with the covariance
of the whole plan, Cov(b_all, b_old) = Var(b_all): the best estimate goes with any other just as
much as with itself. So, b_old being known and b the truth,

    E(b_all | b_old) = b + Var(b_all) Var(b_old)^-1 (b_old - b)
    Var(b_all | b_old) = Var(b_all) - Var(b_all) Var(b_old)^-1 Var(b_all)

This is a weighted mean of the old estimate, which is fixed, and the new one, which is not; the
plan's own covariance gives the weights, shared teams included. Sources: C. Jennison and
B. W. Turnbull (1997), Group-sequential analysis incorporating covariate information, J. Amer.
Statist. Assoc. 92, 1330-1341 (the covariance of successive estimates); the same (2000), Group
Sequential Methods, Chapman and Hall, chapter 10 (chances given the data so far). From memory.

The intervals are those of the whole plan. Their yardstick is known in part too: its sum of squares
is the old one, what the new items add, and what old and new estimates disagree by. Where items are
all that varies this is exact. Where groups vary as well, the old sum is taken to be as large as the
variances found say, and the disagreement is that on the factor itself; what old and new estimates
of other factors disagree by counts as if it were new.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from trials.design.chances import Family, Margin, family_of, normal_draws, yardstick
from trials.design.looks import confidence_of
from trials.design.outlook import Assumed
from trials.errors import AnalysisError
from trials.model import RESIDUAL, Layout, Precision, Prepared
from trials.model.precision import covariance, on_groups

if TYPE_CHECKING:
    from trials.study import Response, Study

Floats = npt.NDArray[np.float64]

SMALL = 1e-8  # relative size below which a direction can't be told
LEAST_DF = 0.5  # below which degrees of freedom are a matter of rounding


@dataclass(frozen=True)
class Seen:
    """What is measured of a plan: the rows of ``old``, and their numbers, (m,), as analysed.

    ``whole`` has the same rows first, in the same order, and then those that are still to come.
    ``components``: variances as found, by path, on the scale of analysis.
    """

    old: Layout
    whole: Layout
    y: Floats
    components: Mapping[str, float]


@dataclass(frozen=True)
class Clear:
    """Chances of a clear answer, of either kind, once the rest is measured.

    ``as_seen``: if the truth is what was estimated so far; ``none``: if the factor does nothing.
    """

    as_seen: float
    none: float


def clear_chances(
    study: Study, response: Response, seen: Seen, factors: Sequence[str]
) -> dict[str, Clear]:
    """Return the chances of a clear answer on some factors, given what was measured so far.

    A factor whose comparison would have no interval is left out.
    """
    if response.worthwhile is None:
        return {}
    interactions = study.analysis.interactions
    try:
        whole = Prepared(seen.whole, interactions).at(seen.components)
    except AnalysisError:
        return {}
    try:
        before: Precision | None = Prepared(seen.old, interactions).at(seen.components)
    except AnalysisError:  # nothing was left over to judge chance by
        before = None
    scale = Assumed(response.name, response.compare == "ratio", seen.components, ())
    margin = Margin(abs(scale.on_scale(response.worthwhile)), confidence_of(study))
    known = _Known(seen, whole)
    out = {}
    for factor in factors:
        family = family_of(whole, factor)
        if family is not None:
            old = None if before is None else family_of(before, factor)
            sums = [known.plain_sum] * len(family.gaps)
            if not known.plain:
                sums = _seen_df(family, old, seen)
            as_seen, none = (
                _clear(known, family, sums, truth, factor=factor, margin=margin)
                for truth in (known.estimate, known.without(factor))
            )
            out[factor] = Clear(as_seen, none)
    return out


def _clear(
    known: _Known,
    family: Family,
    seen: Sequence[float],
    truth: Floats,
    *,
    factor: str,
    margin: Margin,
) -> float:
    """Return the chance of a clear answer; ``seen``: old sum of squares of each gap's yardstick."""
    estimates, moved = known.draws(family.rows, truth)
    apart, directions = known.disagreement(moved, factor)
    yardsticks = []
    for gap, old in zip(family.gaps, seen, strict=True):
        had = known.plain_df if known.plain else old
        left = gap.df - had - directions
        new = left * yardstick(left) ** 2 if left > LEAST_DF else max(left, 0.0)
        yardsticks.append(np.sqrt((old + new + apart) / gap.df))
    reach = family.reach(yardsticks, margin.confidence)
    beyond, inside = family.verdicts(estimates, reach, margin.size)
    return float((beyond | inside).mean())


def _seen_df(family: Family, old: Family | None, seen: Seen) -> list[float]:
    """Return for each gap the degrees of freedom that the old rows have for it.

    With the variances as found, the old sum of squares over its variance is as large.
    """
    same = all(
        coded.levels == seen.old.factors[name].levels for name, coded in seen.whole.factors.items()
    )
    if old is None or not same:
        return [0.0] * len(family.gaps)
    had = {(gap.pair, tuple(gap.at.items())): gap.df for gap in old.gaps}
    return [min(had.get((gap.pair, tuple(gap.at.items())), 0.0), gap.df) for gap in family.gaps]


class _Known:
    """What the old rows tell, in the coefficients of the whole plan.

    ``T`` (r, k) has the directions of the treatments that they tell, ``told`` (r,) what they say.
    """

    def __init__(self, seen: Seen, whole: Precision) -> None:
        self.seen = seen
        self.design = whole.design
        X, m = self.design.XK, seen.old.n
        V = covariance(seen.whole, seen.components)
        self.all = np.linalg.inv(X.T @ np.linalg.solve(V, X))
        half = np.linalg.solve(V[:m, :m], X[:m])
        M = X[:m].T @ half
        values, vectors = np.linalg.eigh((M + M.T) / 2)
        fine = values > SMALL * values[-1]
        inverse = (vectors[:, fine] / values[fine]) @ vectors[:, fine].T
        self.T = _told_directions(self._treatments(), vectors[:, ~fine])
        old = inverse @ (half.T @ seen.y)
        self.told: Floats = self.T @ old
        self.old: Floats = self.T @ inverse @ self.T.T  # covariance of ``told``
        rest = seen.y - X[:m] @ old
        self.plain_sum = float(rest @ rest) / on_groups(seen.whole, seen.components)[RESIDUAL]
        self.plain_df = m - int(fine.sum())

    @property
    def plain(self) -> bool:
        """Whether items are all that varies."""
        return not self.seen.whole.random

    @property
    def estimate(self) -> Floats:
        """The treatments as estimated so far, (k,); what nobody knows yet counts as nothing."""
        return self.told @ self.T

    def without(self, factor: str) -> Floats:
        """Return the estimate so far if a factor did nothing, alone or with others, (k,)."""
        out = self.estimate.copy()
        for term in self.design.terms:
            if factor in term.factors:
                columns = np.arange(term.columns.start, term.columns.stop)
                out[np.isin(self.design.kept, columns)] = 0.0
        return out

    def draws(self, rows: Floats, truth: Floats) -> tuple[Floats, Floats]:
        """Return estimates from old and new rows together, and how far what was told moved.

        Returns
        -------
        Estimates of shape (draws, m), and the moves of shape (draws, r).
        """
        both = np.vstack([rows, self.T])
        ahead = both @ self.all @ self.T.T
        weights = np.linalg.solve(self.old, ahead.T).T if len(self.T) else ahead
        mean = both @ truth + weights @ (self.told - self.T @ truth)
        drawn = mean + normal_draws(both @ self.all @ both.T - weights @ ahead.T)
        return drawn[:, : len(rows)], drawn[:, len(rows) :] - self.told

    def disagreement(self, moved: Floats, factor: str) -> tuple[Floats, int]:
        """Return how far old and new estimates disagree, (draws,), and in how many directions.

        As a sum of squares over the variances at hand: on everything where items are all that
        varies, else on the factor, for other factors are judged by yardsticks of their own.
        """
        about = np.eye(len(self.T)) if self.plain else self._about(factor)
        gain = about @ (self.old - self.T @ self.all @ self.T.T) @ about.T
        values, vectors = np.linalg.eigh((gain + gain.T) / 2)
        fine = values > SMALL * np.trace(self.old)
        scaled = moved @ about.T @ (vectors[:, fine] / np.sqrt(values[fine]))
        out: Floats = (scaled**2).sum(axis=1)
        return out, int(fine.sum())

    def _about(self, factor: str) -> Floats:
        """Return the combinations of ``T`` that are effects of one factor, (q, r)."""
        columns = self.design.term(factor).columns
        wanted = np.isin(self.design.kept, np.arange(columns.start, columns.stop))
        rows = np.eye(len(wanted))[wanted]
        about: Floats = rows @ self.T.T
        told: Floats = about[np.abs(rows - about @ self.T).max(axis=1, initial=0.0) < SMALL]
        return told

    def _treatments(self) -> Floats:
        """Return the kept coefficients of treatments, one row each, shape (t, k)."""
        columns = [
            np.arange(term.columns.start, term.columns.stop) for term in self.design.treatments
        ]
        wanted = np.isin(self.design.kept, np.concatenate(columns))
        rows: Floats = np.eye(len(wanted))[wanted]
        return rows


def _told_directions(rows: Floats, dark: Floats) -> Floats:
    """Return the combinations of rows, each of length one, that nothing in the dark takes part in.

    ``dark`` (k, q): directions of the coefficients of which nothing is known.
    """
    if not dark.size:
        return rows
    U, sizes, _ = np.linalg.svd(rows @ dark)
    hidden = int((sizes > 1e-6).sum())
    told: Floats = U[:, hidden:].T @ rows
    return told
