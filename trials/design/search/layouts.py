"""A problem made ready for searching, and one layout with all that is needed to change it.

Changes are told as rows (c, m) and recipes (c, m): c changes, each of m positions that then have
these recipes. Where changes differ in length, a row that comes again with the recipe it has fills
up: it adds nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.coding import Coding, make_coding
from trials.design.search.information import information
from trials.design.search.rules import Rules
from trials.design.search.values import Bools, Criterion, Floats, Problem

KEYS_LISTED = 1_000_000  # most combinations of levels of which a table is made
RENEW = 20  # changes between two fresh computations
CONDITION = 1e-10  # smallest relative eigenvalue of an information matrix that counts as regular


@dataclass(frozen=True)
class Stage:
    """The factors applied to one kind of unit, and the positions of each unit.

    ``rows``: shape (units, longest), filled up with the unit's first position. ``free``: units of
    which no position is kept as it is. ``inner``: factors of this stage and of units inside it.
    ``partial``: combinations of the stage's factors in recipes that may be given, (P, factors).
    """

    group: str | None
    factors: tuple[int, ...]
    rows: Codes
    lengths: Codes
    free: Codes
    inner: tuple[int, ...]
    partial: Codes

    @cached_property
    def one_size(self) -> bool:
        """Whether all units have as many positions, so that no entry of ``rows`` fills up."""
        return not self.filling.any()

    @cached_property
    def filling(self) -> Bools:
        """Which entries of ``rows`` only fill up, shape (units, longest)."""
        filling: Bools = np.arange(self.rows.shape[1])[None, :] >= self.lengths[:, None]
        return filling


@dataclass(frozen=True)
class Ready:
    """A problem and a criterion as arrays.

    ``recipes``: shape (R, factors), those of kept items included; ``open`` (R,) tells which may be
    given. ``keys`` (R,) numbers all combinations of levels, in rising order: level codes times
    ``radix``.
    """

    problem: Problem
    criterion: Criterion
    recipes: Codes
    open: Bools
    keys: Codes
    radix: Codes
    coding: Coding
    W: Floats
    stages: tuple[Stage, ...]
    rules: Rules

    @property
    def volume(self) -> bool:
        """Whether the criterion is D."""
        return self.criterion.kind == "D"

    @cached_property
    def all_open(self) -> bool:
        """Whether every recipe may be given."""
        return bool(self.open.all())

    def find(self, codes: Codes) -> Codes:
        """Return the number of each recipe, -1 where it may not be given; (..., factors) to (...).

        Kept recipes that are not allowed elsewhere are not found.
        """
        return self.with_key(codes @ self.radix)

    def with_key(self, key: Codes) -> Codes:
        """Return the number of the recipe of each key, -1 where it may not be given."""
        if self.numbers is not None:
            number: Codes = self.numbers[key]
            return number
        at = np.minimum(np.searchsorted(self.keys, key), len(self.keys) - 1)
        out: Codes = np.where((self.keys[at] == key) & self.open[at], at, -1)
        return out

    @cached_property
    def numbers(self) -> Codes | None:
        """What :meth:`with_key` returns for every key; None where there are very many."""
        every = self.radix[0] * self.problem.factors[0].levels
        if every > KEYS_LISTED:
            return None
        out = np.full(every, -1, dtype=np.intp)
        given = np.flatnonzero(self.open)
        out[self.keys[given]] = given
        return out


def make_ready(problem: Problem, criterion: Criterion) -> Ready:
    """Return the arrays of a problem."""
    levels = np.array([f.levels for f in problem.factors], dtype=np.intp)
    radix = np.append(np.cumprod(levels[::-1])[::-1][1:], 1).astype(np.intp)
    kept = np.array(list(problem.fixed.values()), dtype=np.intp).reshape(-1, len(levels))
    recipes = np.unique(np.vstack([problem.allowed, kept]), axis=0)
    keys = recipes @ radix
    allowed = np.isin(keys, problem.allowed @ radix)
    return Ready(
        problem=problem,
        criterion=criterion,
        recipes=recipes,
        open=allowed,
        keys=keys,
        radix=radix,
        coding=make_coding(problem, criterion, recipes),
        W=information(problem),
        stages=_stages(problem, recipes[allowed]),
        rules=Rules(problem),
    )


def _stages(problem: Problem, recipes: Codes) -> tuple[Stage, ...]:
    """Return the stages, largest units first; ``recipes`` may be given, shape (R, factors)."""
    kinds: dict[str | None, list[int]] = {}
    for place, factor in enumerate(problem.factors):
        kinds.setdefault(factor.group, []).append(place)
    kept = np.zeros(problem.n, dtype=bool)
    kept[list(problem.fixed)] = True
    out = []
    for group, factors in kinds.items():
        codes = problem.unit(group)
        members = [np.flatnonzero(codes == unit) for unit in np.unique(codes)]
        longest = max(len(m) for m in members)
        rows = np.array([np.append(m, [m[0]] * (longest - len(m))) for m in members], dtype=np.intp)
        inner = tuple(
            place
            for place, factor in enumerate(problem.factors)
            if _inside(problem.unit(factor.group), codes)
        )
        out.append(
            Stage(
                group,
                tuple(factors),
                rows,
                np.array([len(m) for m in members], dtype=np.intp),
                np.flatnonzero([not kept[m].any() for m in members]).astype(np.intp),
                inner,
                np.unique(recipes[:, factors], axis=0),
            )
        )
    return tuple(sorted(out, key=lambda stage: (stage.group is None, len(stage.rows))))


def _inside(inner: Codes, outer: Codes) -> bool:
    """Return whether each unit of ``inner`` lies in one of ``outer``."""
    return len(np.unique(np.stack([outer, inner]), axis=1).T) == len(np.unique(inner))


class Recipes:
    """One layout: the recipe of every position, shape (n,), and level codes (n, factors)."""

    def __init__(self, ready: Ready, recipe: Codes) -> None:
        self.ready = ready
        self.recipe = recipe.copy()
        self.codes: Codes = ready.recipes[recipe]

    def take(self, rows: Codes, recipes: Codes) -> None:
        """Make one change: rows (m,), recipes (m,)."""
        real = recipes != self.recipe[rows]
        rows, recipes = rows[real], recipes[real]
        self.recipe[rows] = recipes
        self.codes[rows] = self.ready.recipes[recipes]

    def columns(self) -> Mapping[str, Codes]:
        """Return level codes per factor."""
        codes = self.codes
        return {
            f.name: codes[:, place].copy() for place, f in enumerate(self.ready.problem.factors)
        }


class State(Recipes):
    """One layout with its information matrix and the inverse of that.

    ``ridge`` is added to the diagonal of M, to climb out of layouts that leave something open.
    ``score``: the criterion, for D minus log det M; infinite where M is singular.
    """

    def __init__(self, ready: Ready, recipe: Codes, ridge: float = 0.0) -> None:
        super().__init__(ready, recipe)
        self.ridge = ridge
        self.inverse: Floats = np.zeros((0, 0))
        self._renew()

    def take(self, rows: Codes, recipes: Codes) -> None:
        """Make one change and update everything; now and then all is worked out anew."""
        real = np.flatnonzero(recipes != self.recipe[rows])
        rows, recipes = rows[real], recipes[real]
        D = self._differences(rows[None], recipes[None])
        U = self.G[rows] + self._weights(rows[None]) @ D / 2
        super().take(rows, recipes)
        if self.age < RENEW and self.regular and 2 * len(rows) < self.X.shape[1]:
            self._update(rows, D, U)
        else:
            self._renew()

    def _update(self, rows: Codes, D: Floats, U: Floats) -> None:
        """Add D'U + U'D to M, in the inverse by Woodbury's identity; D and U (1, m, q)."""
        Z, Q = self._small(D, U)
        size = float(np.linalg.slogdet(Q[0])[1])
        if size < np.log(CONDITION):
            self._renew()
            return
        DU = D[0].T @ U[0]
        self.M += DU + DU.T
        self.X[rows] += D[0]
        self.G += self.ready.W[:, rows] @ D[0]
        ZI = Z[0] @ self.inverse
        inverse = self.inverse - ZI.T @ np.linalg.solve(Q[0], ZI)
        self.inverse = (inverse + inverse.T) / 2
        self.age += 1
        self._judge(self.score - size)

    def _renew(self) -> None:
        ready = self.ready
        self.age = 0
        self.X = ready.coding.X[self.recipe]
        self.G = ready.W @ self.X
        M = self.X.T @ self.G
        self.M = (M + M.T) / 2 + self.ridge * np.eye(len(M))
        values, vectors = np.linalg.eigh(self.M)
        self.regular = bool(values[0] > CONDITION * values[-1])
        if not self.regular:
            self.score = np.inf
            return
        self.inverse = (vectors / values) @ vectors.T
        self._judge(-float(np.log(values).sum()))

    def _judge(self, volume: float) -> None:
        """Work out the score and its gradient from the inverse; ``volume`` is -log det M."""
        weights = self.ready.coding.weights
        if self.ready.volume:
            self.B = self.inverse
            self.score = volume
        else:
            self.B = self.inverse @ weights @ self.inverse
            self.score = float(np.sum(weights * self.inverse))
        self.GB: Floats = self.G @ self.B

    def at_most(self, rows: Codes, recipes: Codes) -> Floats:
        """Return a lower bound of the change in score, shape (c,).

        The criterion is convex in M, so it lies above its tangent: what the tangent doesn't
        promise is no gain.
        """
        D = self._differences(rows, recipes)
        slope = 2 * self.GB[rows] + self._weights(rows) @ _times(D, self.B)
        out: Floats = -np.vecdot(slope.reshape(len(D), -1), D.reshape(len(D), -1))
        return out

    def scores(self, rows: Codes, recipes: Codes) -> Floats:
        """Return the score after each change, shape (c,); infinite where M becomes singular."""
        D = self._differences(rows, recipes)
        U = self.G[rows] + self._weights(rows) @ D / 2
        if 2 * rows.shape[1] < self.X.shape[1]:
            return self._updated(D, U)
        return self._afresh(D, U)

    def _differences(self, rows: Codes, recipes: Codes) -> Floats:
        own: Floats = self.ready.coding.X[recipes] - self.X[rows]
        return own

    def _weights(self, rows: Codes) -> Floats:
        block: Floats = self.ready.W[rows[:, :, None], rows[:, None, :]]
        return block

    def _updated(self, D: Floats, U: Floats) -> Floats:
        """Woodbury's identity: M + D'U + U'D needs the inverse of a (2m, 2m) matrix only."""
        m = D.shape[1]
        Z, Q = self._small(D, U)
        signs, sizes = np.linalg.slogdet(Q)
        fine = (signs * (-1) ** m > 0) & (sizes > np.log(CONDITION))
        out = np.full(len(D), np.inf)
        if self.ready.volume:
            out[fine] = self.score - sizes[fine]
            return out
        Q, Z = Q[fine], Z[fine]
        R = _times(Z, self.B) @ Z.swapaxes(1, 2)
        change = np.einsum("cii->c", np.linalg.solve(Q, R))
        out[fine] = np.where(self.score - change > 0, self.score - change, np.inf)
        return out

    def _small(self, D: Floats, U: Floats) -> tuple[Floats, Floats]:
        """Return Z = [D; U] of shape (c, 2m, q) and K + Z M^-1 Z' of shape (c, 2m, 2m)."""
        m = D.shape[1]
        Z = np.concatenate([D, U], axis=1)
        K = np.zeros((2 * m, 2 * m))
        K[:m, m:] = K[m:, :m] = np.eye(m)
        return Z, K + _times(Z, self.inverse) @ Z.swapaxes(1, 2)

    def _afresh(self, D: Floats, U: Floats) -> Floats:
        DU = D.swapaxes(1, 2) @ U
        return scores_of(self.ready, self.M + DU + DU.swapaxes(1, 2))


def _times(rows: Floats, matrix: Floats) -> Floats:
    """Return rows (..., q) times a matrix (q, q): one product rather than many small ones."""
    out: Floats = (rows.reshape(-1, rows.shape[-1]) @ matrix).reshape(rows.shape)
    return out


def scores_of(ready: Ready, M: Floats) -> Floats:
    """Return the scores of information matrices (c, q, q), infinite for singular ones, (c,)."""
    values, vectors = np.linalg.eigh(M)
    fine = values[:, 0] > CONDITION * values[:, -1]
    out = np.full(len(M), np.inf)
    values, vectors = values[fine], vectors[fine]
    if ready.volume:
        out[fine] = -np.log(values).sum(axis=1)
    else:
        turned = np.sum(vectors * (ready.coding.weights @ vectors), axis=1)
        out[fine] = (turned / values).sum(axis=1)
    return out


def as_value(ready: Ready, score: float) -> float:
    """Return the value of the criterion from a score: for D det(M)^(-1/p), else the score."""
    if not ready.volume or not np.isfinite(score):
        return score
    return float(np.exp(score / ready.coding.X.shape[1]))
