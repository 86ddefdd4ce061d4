"""Why a difference has no yardstick: no repeats, every unit used up, or next to no information."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trials.model import RESIDUAL, Fit, Layout, TermTest
from trials.model.inference import UNSURE
from trials.model.layout import Floats
from trials.model.strata import orthonormal
from trials.model.terms import combined, unit_codes

NO_REPEATS = "no_replication"
USED_UP = "no_residual_df"


def lacks_repeats(fit: Fit, lines: Floats) -> bool:
    """Return whether some line of (c, k) has no standard error for want of units to judge by."""
    return any(fit.inference.line(line).note in (NO_REPEATS, UNSURE) for line in lines)


def reason_for(fit: Fit, factors: Sequence[str], note: str) -> str:
    """Return ``note``, or "no_residual_df" where units were repeated but none is left over.

    A 2 x 2 table of four items has two items of every version; what it lacks is an item that the
    differences asked about leave free.
    """
    if note != NO_REPEATS:
        return note
    own = set(factors)
    blind = [
        test
        for test in fit.tests
        if test.result.note == NO_REPEATS and set(test.hypothesis.term.factors) <= own
    ]
    return USED_UP if blind and all(_is_used_up(fit.design.layout, t) for t in blind) else note


def tied_to(fit: Fit, factor: str) -> tuple[str, ...]:
    """Return the covariates, groups and factors that settle a factor's level by themselves."""
    design = fit.design
    own = design.X[:, design.term(factor).columns]
    return tuple(
        term.name
        for term in design.terms
        if term.role != "mean" and term.name != factor and len(term.factors) < 2
        and _holds(design.X[:, term.columns], own)
    )  # fmt: skip


def _holds(columns: Floats, own: Floats) -> bool:
    """Return whether ``own`` (n, a) is a constant plus a sum of ``columns`` (n, b)."""
    basis = orthonormal(np.hstack([np.ones((len(columns), 1)), columns]))
    rest = own - basis @ (basis.T @ own)
    return bool(np.abs(rest).max(initial=0.0) < 1e-9)


def _is_used_up(layout: Layout, test: TermTest) -> bool:
    """Return whether a term lies among its own units, of which each version has several."""
    factors = test.hypothesis.term.factors
    if not factors:
        return False
    unit = unit_codes(layout, factors)
    if test.stratum != _path(layout, factors, len(np.unique(unit))):
        return False
    level = combined(tuple(layout.factors[factor] for factor in factors))
    pairs = np.unique(np.stack([level, unit], axis=1), axis=0)
    return int(np.bincount(pairs[:, 0]).min()) > 1


def _path(layout: Layout, factors: Sequence[str], units: int) -> str | None:
    """Return the grouping whose members are the units, "residual" for the rows themselves."""
    if units == layout.n:
        return RESIDUAL
    held = [layout.units[factor] or layout.item for factor in factors]
    return next((g.path for g in layout.groupings if g.path in held and g.members == units), None)
