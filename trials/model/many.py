"""Many responses of one layout: the tests and intervals that each would get, fitted together.

In an orthogonal layout, and where no group is random, all responses are worked out at once by
matrix products. Elsewhere each is fitted on its own, by the same search as a single response.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from trials.model.contrasts import contrasts
from trials.model.fit import FitOptions, search_components
from trials.model.hypotheses import Hypothesis, hypotheses
from trials.model.inference import LEAST_DF, StrataInference, strata_inference
from trials.model.layout import Floats, Layout
from trials.model.reduced import reduce_rows
from trials.model.reml import informed
from trials.model.strata import Orthogonal, orthogonal
from trials.model.terms import Design, make_design

_TINY = 1e-12


@dataclass(frozen=True)
class ManyTests:
    """One hypothesis L b = 0 in N fits.

    ``estimate`` (N, r) is L b, ``inverse`` (N, r, r) what makes F of it, and ``den_df`` (N,) the
    denominator's degrees of freedom, NaN where there is no test.
    """

    hypothesis: Hypothesis
    estimate: Floats
    inverse: Floats
    den_df: Floats

    def f(self, shift: Floats) -> Floats:
        """Return F, shape (N,), had the true coefficients been larger by ``shift`` (k,)."""
        moved = self.estimate + self.hypothesis.L @ shift
        out: Floats = np.einsum("ni,nij,nj->n", moved, self.inverse, moved) / max(
            self.hypothesis.df, 1
        )
        return out


@dataclass(frozen=True)
class ManyLines:
    """m linear functions in N fits: estimates, standard errors and df, each (N, m).

    SE and df are NaN where there is none.
    """

    estimate: Floats
    se: Floats
    df: Floats


@dataclass(frozen=True)
class Many:
    """A layout ready to be fitted to many responses, as ``fit_rows`` would fit each."""

    layout: Layout
    options: FitOptions = field(default_factory=FitOptions)

    @cached_property
    def design(self) -> Design:
        """The fixed part of the model."""
        return make_design(self.layout, self.options.interactions)

    @cached_property
    def tests(self) -> tuple[Hypothesis, ...]:
        """What is tested."""
        return hypotheses(self.design, self.options.sums)

    @cached_property
    def _plan(self) -> Orthogonal | None:
        wanted = self.options.df in ("auto", "strata") and not self.options.bounded
        return orthogonal(self.design, self.tests) if wanted and self.layout.random else None

    @property
    def at_once(self) -> bool:
        """Whether all responses are worked out together, which takes hardly any time."""
        return self._plan is not None or not self.layout.random

    def fit(self, Y: Floats, rows: Floats) -> tuple[tuple[ManyTests, ...], ManyLines]:
        """Return tests and linear functions for responses ``Y`` (N, n).

        Parameters
        ----------
        rows : the linear functions, over the kept coefficients, shape (m, k).

        Examples
        --------
        >>> from trials.model import Structure, make_layout
        >>> layout = make_layout(Structure(["feed"]), {"feed": list("xxyy")})
        >>> tests, lines = Many(layout).fit(np.array([[1.0, 2.0, 3.0, 4.0]]), np.eye(2))
        >>> float(tests[0].f(np.zeros(2))[0].round(6)), tests[0].den_df.tolist()
        (8.0, [2.0])
        """
        if self.at_once:
            return self._together(Y, rows)
        return self._one_by_one(Y, rows)

    def _together(self, Y: Floats, rows: Floats) -> tuple[tuple[ManyTests, ...], ManyLines]:
        XK = self.design.XK
        gram: Floats = np.asarray(np.linalg.inv(XK.T @ XK), dtype=np.float64)
        beta = Y @ XK @ gram
        xi, told = self._mean_squares(Y - beta @ XK.T, gram)
        homes = self._plan.home if self._plan else (0,) * len(self.tests)
        tests = tuple(
            _tests(h, beta, None if home is None else home, xi, told)
            for h, home in zip(self.tests, homes, strict=True)
        )
        return tests, _lines(rows, beta, xi, told)

    def _mean_squares(self, rest: Floats, gram: Floats) -> tuple[Floats, StrataInference]:
        """Return the mean square of each stratum in each fit, (N, s), and what to do with them."""
        n, k = self.design.XK.shape
        total = (rest**2).sum(axis=1)
        if self._plan is None:
            told = StrataInference(
                np.zeros(k), np.ones(1), np.array([float(n - k)]), (gram,), np.eye(1),
                np.array([n > k]),
            )  # fmt: skip
            squares = total[:, None]
        else:
            told = strata_inference(np.zeros(k), np.ones(len(self._plan.left_df)), self._plan)
            parts = [((rest @ s.basis) ** 2).sum(axis=1) for s in self._plan.strata]
            squares = np.stack([*parts, total - sum(parts)], axis=1)
        some = told.df > 0
        return np.where(some, squares / np.where(some, told.df, 1.0), 0.0), told

    def _one_by_one(self, Y: Floats, rows: Floats) -> tuple[tuple[ManyTests, ...], ManyLines]:
        reduced = reduce_rows(self.design, Y.T, self.options.spread_by)
        N, m, k = len(Y), len(rows), reduced.k
        first = reduced.pick(np.arange(k + 1))
        told, made = informed(first), contrasts(first)
        lines = ManyLines(np.zeros((N, m)), np.full((N, m), np.nan), np.full((N, m), np.nan))
        tests = tuple(
            ManyTests(h, np.zeros((N, h.df)), np.zeros((N, h.df, h.df)), np.full(N, np.nan))
            for h in self.tests
        )
        for place in range(N):
            data = reduced.pick(np.array([*range(k), k + place]))
            found = search_components(
                self.layout, data, told, self.tests, self.options, free_of_fixed=made
            )
            for test, result in zip(tests, found.results, strict=True):
                if result.f is None or result.den_df is None:
                    continue
                L = test.hypothesis.L
                own, inverse = L @ found.at.beta, np.linalg.inv(found.inference.cov(L))
                raw = float(own @ inverse @ own) / result.num_df
                test.estimate[place] = own
                test.inverse[place] = inverse * (result.f / raw)  # with the scale of the test
                test.den_df[place] = result.den_df
            for column, row in enumerate(rows):
                line = found.inference.line(row)
                lines.estimate[place, column] = line.estimate
                if line.se is not None and line.df is not None:
                    lines.se[place, column], lines.df[place, column] = line.se, line.df
        return tests, lines


def _tests(
    hypothesis: Hypothesis, beta: Floats, home: int | None, xi: Floats, told: StrataInference
) -> ManyTests:
    L, N = hypothesis.L, len(beta)
    if home is None or told.df[home] <= 0 or not hypothesis.df:
        return ManyTests(hypothesis, beta @ L.T, np.zeros((N, len(L), len(L))), np.full(N, np.nan))
    inverse = np.linalg.inv(L @ told.parts[home] @ L.T)
    own = inverse[None] / xi[:, home, None, None]
    return ManyTests(hypothesis, beta @ L.T, own, np.full(N, told.df[home]))


def _lines(rows: Floats, beta: Floats, xi: Floats, told: StrataInference) -> ManyLines:
    """Return lines whose variances are sums of mean squares (Satterthwaite)."""
    share = np.stack([np.einsum("ij,jk,ik->i", rows, B, rows) for B in told.parts], axis=1)
    share[share < _TINY * np.maximum(share.max(axis=1, keepdims=True), 1e-300)] = 0.0
    unknown = ((share > 0) & ~told.known).any(axis=1)
    pieces = (share @ told.recipe)[None] * np.where(told.df > 0, xi, 0.0)[:, None, :]
    used = told.df > 0
    variance = pieces.sum(axis=2)
    noise = (pieces[:, :, used] ** 2 / told.df[used]).sum(axis=2)
    good = (variance > 0) & ~unknown[None]
    df = np.where(good, variance**2 / np.where(noise > 0, noise, np.nan), np.nan)
    told_of = df >= LEAST_DF
    se = np.sqrt(np.where(told_of, variance, np.nan))
    return ManyLines(beta @ rows.T, se, np.where(told_of, df, np.nan))
