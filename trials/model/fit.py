"""From rows and a response to a fit: choose the estimator, estimate, hand over the inference."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from trials.errors import AnalysisError
from trials.model.contrasts import Contrasts
from trials.model.hypotheses import Hypothesis, hypotheses
from trials.model.inference import (
    FTest,
    Inference,
    StrataInference,
    mixed_inference,
    strata_inference,
)
from trials.model.layout import Floats, Layout
from trials.model.reduced import Reduced, reduce_rows
from trials.model.reml import At, FitTrace, fit, informed
from trials.model.skeleton import information
from trials.model.strata import Orthogonal, is_small_enough, orthogonal, parts
from trials.model.terms import Design, make_design
from trials.model.variances import RESIDUAL

LARGEST = 1e100  # of a value: its square has to stay a number
Estimator = Literal["strata", "reml", "ols"]
DfChoice = Literal["auto", "strata", "kenward-roger", "satterthwaite"]


@dataclass(frozen=True)
class ComponentEstimate:
    """A variance of a group or of the residual; None where the data tell nothing of it."""

    path: str
    unbounded: float | None
    level: str | None = None  # of the factor whose levels have a variance each

    @property
    def variance(self) -> float | None:
        """The estimate cut at zero."""
        return None if self.unbounded is None else max(self.unbounded, 0.0)


@dataclass(frozen=True)
class TermTest:
    """One hypothesis with its test and the stratum or strata that its information lies in."""

    hypothesis: Hypothesis
    stratum: str | tuple[str, ...] | None
    result: FTest


@dataclass(frozen=True)
class Fit:
    """A fitted model. ``residuals`` (n,) are marginal: response minus fixed part."""

    design: Design
    estimator: Estimator
    df_method: str
    inference: Inference
    tests: tuple[TermTest, ...]
    components: tuple[ComponentEstimate, ...]  # random groups from large to small, residual last
    residuals: Floats
    trace: FitTrace | None
    notes: tuple[str, ...]

    def component(self, path: str, level: str | None = None) -> ComponentEstimate:
        """Return the component of a group or of the residual; KeyError if there is none."""
        for component in self.components:
            if (component.path, component.level) == (path, level):
                return component
        raise KeyError(path)


@dataclass(frozen=True)
class FitOptions:
    """The part of an analysis' options that the model needs.

    ``spread_by`` names a factor each level of which has a spread of its own: a variance for each
    level, between the rows, or between the items where rows are readings. ``locate``: tell in which
    strata each term has its information, where that takes time.
    """

    interactions: int = 2
    sums: Literal["III", "II", "I"] = "III"
    df: DfChoice = "auto"
    bounded: bool = False
    spread_by: str | None = None
    locate: bool = True


def fit_rows(layout: Layout, y: Floats, options: FitOptions | None = None) -> Fit:
    """Fit the rows of a layout to a response of shape (n,).

    Raises
    ------
    AnalysisError : the response is constant or not finite, no degree of freedom is left, or
        ``df="strata"`` is asked of a plan that isn't orthogonal.
    """
    options = options or FitOptions()
    _check(layout, y)
    design = make_design(layout, options.interactions)
    tests = hypotheses(design, options.sums)
    beta, residuals = least_squares(design.XK, y)
    if not layout.random and options.spread_by is None:
        return _ordinary(design, tests, beta, residuals)
    by_strata = options.df in ("auto", "strata") and options.spread_by is None
    plan = orthogonal(design, tests) if by_strata else None
    if plan is None and options.df == "strata":
        raise AnalysisError(
            "The rows are not orthogonal, so an analysis by strata does not exist.",
            code="model.not_orthogonal",
            do="Use --df kenward-roger, which is right for any layout.",
        )
    if plan is not None and not options.bounded:
        return _by_strata(design, tests, plan, beta, y)
    if layout.n > len(beta) and _is_nothing(beta, residuals):
        return _without_spread(design, tests, beta, residuals, options)
    return _mixed(design, tests, y, options)


def _check(layout: Layout, y: Floats) -> None:
    if not np.isfinite(y).all():
        raise AnalysisError(
            "A measured value is not a finite number.",
            code="table.not_finite",
            where=f"row {int(np.flatnonzero(~np.isfinite(y))[0]) + 1} of the data",
            do="Correct the value or take the row out and say why.",
        )
    if layout.n and np.abs(y).max() > LARGEST:
        raise AnalysisError(
            "A measured value is larger than can be reckoned with.",
            code="table.too_large",
            where=f"row {int(np.argmax(np.abs(y))) + 1} of the data",
            found=f"{float(np.abs(y).max()):g}",
            allowed=f"at most {LARGEST:g} in size",
            do="Correct the value, or give it in a larger unit.",
        )
    if layout.n < 2 or np.ptp(y) == 0.0:
        raise AnalysisError(
            "All measured values are the same, so nothing can be compared.",
            code="model.constant",
            found=f"{layout.n} rows",
            do="Check that the right column was named and that the meter shows enough digits.",
        )


def least_squares(X: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return coefficients (k,) and residuals (n,), refined once to keep all digits."""
    gram = X.T @ X
    columns = np.ascontiguousarray(X.T)
    beta = np.linalg.solve(gram, (columns * y).sum(axis=1))
    for _ in range(2):
        rest = y - X @ beta
        beta = beta + np.linalg.solve(gram, (columns * rest).sum(axis=1))
    return beta, y - X @ beta


def _ordinary(design: Design, tests: tuple[Hypothesis, ...], beta: Floats, rest: Floats) -> Fit:
    """Fit without random groups: one stratum."""
    left = design.layout.n - len(beta)
    spread = 0.0 if not left or _is_nothing(beta, rest) else float(np.sum(rest * rest)) / left
    inference = _one_stratum(design, beta, spread)
    done = tuple(TermTest(h, RESIDUAL if h.df else None, _run(inference, h)) for h in tests)
    component = ComponentEstimate(RESIDUAL, spread if left else None)
    notes = () if left else ("no_residual_df",)
    return Fit(design, "ols", "residual", inference, done, (component,), rest, None, notes)


def _is_nothing(beta: Floats, rest: Floats) -> bool:
    """Return whether residuals (n,) are rounding only."""
    size = max(float(np.abs(beta).max()) ** 2, 1e-300)
    return bool(float(np.sum(rest * rest)) <= 1e-26 * size * len(rest))


def _one_stratum(design: Design, beta: Floats, spread: float) -> Inference:
    """Return the inference of ordinary least squares with the mean square ``spread``."""
    left = design.layout.n - len(beta)
    return StrataInference(
        beta=beta,
        xi=np.array([spread]),
        df=np.array([float(left)]),
        parts=(np.asarray(np.linalg.inv(design.XK.T @ design.XK), dtype=np.float64),),
        recipe=np.eye(1),
        known=np.array([left > 0]),
    )


def _without_spread(
    design: Design,
    tests: tuple[Hypothesis, ...],
    beta: Floats,
    rest: Floats,
    options: FitOptions,
) -> Fit:
    """Return the fit where nothing varies among rows treated alike: there is no test at all."""
    inference = _one_stratum(design, beta, 0.0)
    done = tuple(
        TermTest(h, where, replace(_run(inference, h), den_df=None))
        for h, where in zip(tests, _where(design, tests, options), strict=True)
    )
    names = (*(g.path for g in design.layout.random), RESIDUAL)
    components = tuple(ComponentEstimate(name, 0.0) for name in names)
    method = "satterthwaite" if options.df == "satterthwaite" else "kenward-roger"
    return Fit(design, "reml", method, inference, done, components, rest, None, ())


def _run(inference: Inference, hypothesis: Hypothesis) -> FTest:
    if not hypothesis.df:
        return FTest(0, None, None, note="not_estimable")
    return inference.test(hypothesis.L)


def _by_strata(
    design: Design, tests: tuple[Hypothesis, ...], plan: Orthogonal, beta: Floats, y: Floats
) -> Fit:
    rest = y - design.XK @ beta
    squares = np.array([float(np.sum(piece**2)) for piece in parts(plan.strata, rest[:, None])])
    df = np.array(plan.left_df, dtype=float)
    xi = np.where(df > 0, squares / np.where(df > 0, df, 1.0), 0.0)
    tiny = 1e-24 * float(np.abs(y).max()) ** 2
    xi = np.where(xi > tiny, xi, 0.0)
    inference = strata_inference(beta, xi, plan)
    done = tuple(
        TermTest(h, None if home is None else plan.path(home), _run(inference, h))
        for h, home in zip(tests, plan.home, strict=True)
    )
    components = _solve_components(design.layout, plan, xi)
    return Fit(design, "strata", "strata", inference, done, components, rest, None, ())


def _solve_components(
    layout: Layout, plan: Orthogonal, xi: Floats
) -> tuple[ComponentEstimate, ...]:
    told = np.flatnonzero(np.array(plan.left_df) > 0)
    names = (*(g.path for g in layout.random), RESIDUAL)
    if not len(told):
        return tuple(ComponentEstimate(name, None) for name in names)
    M = plan.weights[told]
    values, *_ = np.linalg.lstsq(M, xi[told], rcond=None)
    _, s, Vt = np.linalg.svd(M)
    null = Vt[int((s > 1e-9 * s[0]).sum()) :]
    open_ = np.abs(null).max(axis=0, initial=0.0) > 1e-9
    return tuple(
        ComponentEstimate(name, None if unknown else float(value))
        for name, value, unknown in zip(names, values, open_, strict=True)
    )


def _mixed(design: Design, tests: tuple[Hypothesis, ...], y: Floats, options: FitOptions) -> Fit:
    data = reduce_rows(design, y, options.spread_by)
    if data.n <= data.k:
        raise AnalysisError(
            "No item is left over to judge chance by: all are used up by the differences asked.",
            code="model.saturated",
            found=f"{data.n} rows, {data.k} things to estimate",
            do="Use fewer interactions or make more items.",
        )
    found = search_components(design.layout, data, informed(data), tests, options)
    told, at, trace, results = found.told, found.at, found.trace, found.results
    done = tuple(
        TermTest(h, where, result)
        for h, where, result in zip(tests, _where(design, tests, options), results, strict=True)
    )
    _refuse_still_levels(data, trace, options)
    seen = np.where(np.isin(np.arange(len(told)), trace.still), 0.0, at.theta)
    values = [
        ComponentEstimate(c.path, float(v) if ok else None, c.level)
        for c, ok, v in zip(data.components, told, seen, strict=True)
    ]
    components = (*values[data.residuals :], *values[: data.residuals])
    notes = [] if trace.converged else ["not_converged"]
    notes += ["rows_alike"] if trace.still else []
    notes += [f"held_at_zero:{g.path}" for g in design.layout.random if g.path in found.held]
    rest = y - design.XK @ at.beta
    method = "satterthwaite" if options.df == "satterthwaite" else "kenward-roger"
    return Fit(design, "reml", method, found.inference, done, components, rest, trace, tuple(notes))


def _refuse_still_levels(data: Reduced, trace: FitTrace, options: FitOptions) -> None:
    """Refuse a variance for each level where the rows of one do not vary at all."""
    levels = [level for i in trace.still if (level := data.components[i].level) is not None]
    if levels:
        raise AnalysisError(
            "All values alike at one level are the same, so that level has no spread of its own.",
            code="model.level_constant",
            where=f"factor {options.spread_by}",
            found=", ".join(levels),
            do="Fit one spread for all levels, or measure with more digits.",
        )


@dataclass(frozen=True)
class Searched:
    """A REML fit with its tests; ``told``: components that the data inform, ``held``: at zero."""

    at: At
    trace: FitTrace
    inference: Inference
    results: tuple[FTest, ...]
    told: np.ndarray
    held: frozenset[str]


def search_components(
    layout: Layout,
    data: Reduced,
    told: np.ndarray,
    tests: tuple[Hypothesis, ...],
    options: FitOptions,
    *,
    free_of_fixed: Contrasts | None = None,
) -> Searched:
    """Return the REML fit of reduced rows, with variances held at zero where tests need it.

    ``told`` (c,) are the components that the data inform; ``free_of_fixed`` the contrasts of the
    layout, where they were worked out before.
    """
    kr = options.df != "satterthwaite"
    held: frozenset[str] = frozenset()
    while True:
        at, trace = fit(data, told, bounded=options.bounded, held=held, free_of_fixed=free_of_fixed)
        more = _to_hold(layout, data, at, no_top=not trace.converged)
        if trace.converged or more is None:
            free = told & (at.theta != 0)
            inference = mixed_inference(at, free, ~told, kr)
            results = tuple(_run(inference, h) for h in tests)
            settled = trace.converged and not any(r.note == "few_df" for r in results)
            if settled or more is None:
                break
        held |= {more}
    return Searched(at, trace, inference, results, told, held)


def _to_hold(layout: Layout, data: Reduced, at: At, *, no_top: bool) -> str | None:
    """Return the most negative component of a group that is to be held at zero, if any.

    A variance estimated far below zero makes V nearly singular: some comparison between the
    group's members then seems free of error and takes all weight, and few degrees of freedom are
    left to tests that hardly concern the group. Holding the component at zero mends that. Units of
    a factor are held only where the criterion has ``no_top`` without: their estimate is what the
    factor is tested by, but at the edge it is an estimate of nothing.
    """
    units = {*layout.units.values(), layout.item}
    below = [
        (component.path in units, float(value), component.path)
        for value, component in zip(at.theta, data.components, strict=True)
        if value < 0 and (no_top or component.path not in units)
    ]
    return min(below)[2] if below else None


def _where(
    design: Design, tests: tuple[Hypothesis, ...], options: FitOptions
) -> tuple[str | tuple[str, ...] | None, ...]:
    """Return the stratum or strata in which each term has information."""
    if not options.locate or not is_small_enough(design.layout):
        return tuple(None for _ in tests)
    out: list[str | tuple[str, ...] | None] = []
    for shares in information(design, tests):
        paths = tuple(share.path for share in shares)
        out.append(None if not paths else paths[0] if len(paths) == 1 else paths)
    return tuple(out)
