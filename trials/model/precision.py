"""How precisely a plan would tell, for assumed variances: standard errors and df before data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trials.errors import AnalysisError
from trials.model.hypotheses import Hypothesis, hypotheses, pair_line
from trials.model.inference import (
    Inference,
    StrataInference,
    mixed_inference,
    strata_inference,
)
from trials.model.layout import Floats, Layout
from trials.model.reduced import Reduced, reduce_rows
from trials.model.reml import evaluate, informed
from trials.model.strata import Orthogonal, orthogonal
from trials.model.terms import Design, make_design
from trials.model.variances import RESIDUAL


@dataclass(frozen=True)
class PairPrecision:
    """Standard error and df of a difference between two levels; None where there is no estimate."""

    se: float | None
    df: float | None


@dataclass(frozen=True)
class TermPrecision:
    """A term's test: L (df, k), covariance of L b, and the denominator df (None: no test)."""

    num_df: int
    den_df: float | None
    L: Floats
    cov: Floats


@dataclass(frozen=True)
class Precision:
    """What a layout would tell if the variances were as assumed."""

    design: Design
    tests: tuple[Hypothesis, ...]
    inference: Inference

    @cached_property
    def _terms(self) -> dict[str, TermPrecision]:
        """What was worked out already, by the term."""
        return {}

    def term(self, name: str) -> TermPrecision:
        """Return the precision of a term's test; KeyError if the model has no such term."""
        if name not in self._terms:
            self._terms[name] = self._term(name)
        return self._terms[name]

    def _term(self, name: str) -> TermPrecision:
        for test in self.tests:
            if test.term.name == name:
                if not test.df:
                    return TermPrecision(0, None, test.L, np.zeros((0, 0)))
                told = self.inference.test(test.L)
                den = None if told.note == "few_df" else told.den_df
                return TermPrecision(test.df, den, test.L, self.inference.cov(test.L))
        raise KeyError(name)

    def pair(self, factor: str, a: int, b: int, at: dict[str, int] | None = None) -> PairPrecision:
        """Return the precision of level a minus level b (indices), the rest averaged or ``at``."""
        row, _ = pair_line(self.design, factor, a, b, at)
        if row is None:
            return PairPrecision(None, None)
        line = self.inference.line(row)
        return PairPrecision(line.se, line.df)


@dataclass(frozen=True)
class Prepared:
    """A layout ready to be judged at several assumed variances."""

    layout: Layout
    interactions: int = 2

    @cached_property
    def design(self) -> Design:
        """The fixed part of the model."""
        return make_design(self.layout, self.interactions)

    @cached_property
    def tests(self) -> tuple[Hypothesis, ...]:
        """What is tested."""
        return hypotheses(self.design)

    @cached_property
    def _strata(self) -> Orthogonal | None:
        return orthogonal(self.design, self.tests) if self.layout.random else None

    @cached_property
    def _rows(self) -> Reduced:
        return reduce_rows(self.design, np.zeros(self.layout.n))

    @cached_property
    def _known(self) -> dict[tuple[tuple[str, float], ...], Precision]:
        """What was worked out already, by the variances."""
        return {}

    def at(self, components: Mapping[str, float]) -> Precision:
        """Return what the layout would tell at these variances; as :func:`precision`.

        Raises
        ------
        AnalysisError : as :func:`precision`.
        """
        key = tuple(sorted(components.items()))
        if key not in self._known:
            self._known[key] = self._at(components)
        return self._known[key]

    def _at(self, components: Mapping[str, float]) -> Precision:
        layout, design = self.layout, self.design
        components = on_groups(layout, components)
        groups = (components.get(g.path, 0.0) for g in layout.random)
        theta = np.array([components[RESIDUAL], *groups])
        strata = self._strata
        if strata is not None:
            xi = strata.weights @ np.append(theta[1:], theta[0])
            known = strata_inference(np.zeros(len(design.kept)), xi, strata)
            return Precision(design, self.tests, known)
        data = self._rows
        if data.n <= data.k or not data.is_positive(theta):
            raise AnalysisError(
                "Nothing would be left over to judge chance by.",
                code="model.saturated",
                found=f"{data.n} items, {data.k} things to estimate",
                do="Make more items, or ask about fewer things at once.",
            )
        if not layout.random:
            return Precision(design, self.tests, _ordinary(design, components[RESIDUAL]))
        told = informed(data)
        at = evaluate(data, theta)
        return Precision(design, self.tests, mixed_inference(at, told, ~told, kenward_roger=True))


def on_groups(layout: Layout, components: Mapping[str, float]) -> dict[str, float]:
    """Return variances moved to the groupings that a layout knows.

    A group with one row a member varies as the rows do; one whose members are those of another
    varies with that. A group of one varies not at all.

    Examples
    --------
    >>> from trials.model import Structure, make_layout
    >>> rows = {"feed": list("xxyy"), "pot": list("1234")}
    >>> layout = make_layout(Structure(["feed"], ["pot"], {"feed": "pot"}), rows)
    >>> on_groups(layout, {"pot": 2.0, "residual": 1.0})
    {'residual': 3.0}
    """
    out = dict(components)
    for note in layout.notes:
        code, _, about = note.partition(":")
        path, _, same = about.partition(":")
        if path not in out:
            continue
        if code == "group_is_row":
            out[RESIDUAL] += out.pop(path)
        elif code == "group_same_as":
            out[same] = out.get(same, 0.0) + out.pop(path)
        elif code == "group_of_one":
            del out[path]
    return out


def covariance(layout: Layout, components: Mapping[str, float]) -> Floats:
    """Return the covariance of the rows, shape (n, n), if variances were as in ``components``."""
    known = on_groups(layout, components)
    V: Floats = known[RESIDUAL] * np.eye(layout.n)
    for group in layout.random:
        codes = group.coded.codes
        V += known.get(group.path, 0.0) * (codes[:, None] == codes[None, :])
    return V


def precision(layout: Layout, components: Mapping[str, float], interactions: int = 2) -> Precision:
    """Return what a layout would tell if each group's variance were as in ``components``.

    Parameters
    ----------
    components : variance per path of a random grouping, and ``"residual"``; a missing path is 0.

    Raises
    ------
    AnalysisError : the variances don't make a covariance, or nothing is left to judge chance.
    """
    return Prepared(layout, interactions).at(components)


def _ordinary(design: Design, variance: float) -> Inference:
    """Return the inference of ordinary least squares: one mean square, exact F tests."""
    n, k = design.XK.shape
    gram = np.linalg.inv(design.XK.T @ design.XK).astype(np.float64)
    return StrataInference(
        np.zeros(k),
        np.array([variance]),
        np.array([float(n - k)]),
        (gram,),
        np.eye(1),
        np.array([True]),
    )
