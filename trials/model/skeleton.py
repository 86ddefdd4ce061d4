"""What a plan can tell before anything is made: which term is tested where, with how many df."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trials.errors import AnalysisError
from trials.model.hypotheses import Hypothesis, hypotheses
from trials.model.layout import Layout
from trials.model.precision import precision
from trials.model.strata import Stratum, parts, split
from trials.model.terms import Design, make_design
from trials.model.variances import RESIDUAL

NOTHING = 1e-6  # efficiency below which a stratum tells nothing of a term


@dataclass(frozen=True)
class Share:
    """Information on a term in one stratum; ``efficiencies`` are canonical, in 0..1, each > 0."""

    path: str
    efficiencies: tuple[float, ...]

    @property
    def df(self) -> int:
        """Number of directions of the term that the stratum tells of."""
        return len(self.efficiencies)

    @property
    def efficiency(self) -> float:
        """Harmonic mean of the canonical efficiency factors."""
        return float(len(self.efficiencies) / np.sum(1 / np.array(self.efficiencies)))


@dataclass(frozen=True)
class SkeletonTerm:
    """A line of the skeleton: a term in one stratum, or what a stratum has left ('group')."""

    source: str
    stratum: str
    df: int
    tested_by: str | None
    den_df: float | None
    efficiency: float | None  # None for a group's own line


def information(design: Design, tests: tuple[Hypothesis, ...]) -> tuple[tuple[Share, ...], ...]:
    """Return for each test the strata that tell of it, from large groups to small.

    The estimate of L b is a set of contrasts between rows; each stratum holds a share of them, and
    the shares of a direction add up to one.
    """
    strata = split(design.layout)
    return tuple(_shares(design, strata, test) for test in tests)


def _shares(design: Design, strata: tuple[Stratum, ...], test: Hypothesis) -> tuple[Share, ...]:
    if not test.df:
        return ()
    gram = np.linalg.inv(design.XK.T @ design.XK)
    A = design.XK @ gram @ test.L.T
    root = np.linalg.cholesky(A.T @ A)
    A = np.linalg.solve(root, A.T).T  # orthonormal columns
    out = []
    paths = [*(s.path for s in strata), RESIDUAL]
    for path, piece in zip(paths, parts(strata, A), strict=True):
        values = np.linalg.eigvalsh(piece.T @ piece)
        factors = tuple(
            1.0 if v > 1 - 1e-9 else float(v) for v in sorted(values, reverse=True) if v > NOTHING
        )
        if factors:
            out.append(Share(path, factors))
    return tuple(out)


def skeleton(layout: Layout, interactions: int = 2) -> tuple[SkeletonTerm, ...]:
    """Return the skeleton analysis of variance, from large groups to small.

    A term with information in several strata has a line in each; it is tested in the one that holds
    most of it. Lines of groups and of the residual hold what is left. In an orthogonal plan the
    denominator df are exact; elsewhere they are Kenward-Roger's if all variances were equal.

    Efficiency is held against the same items without any group, so that what lies between the
    members of a fixed group is counted as lost too.

    Examples
    --------
    >>> from trials.model import Structure, make_layout
    >>> rows = {"block": list("aaabbbcccdddeeefff"), "feed": list("xyz" * 6)}
    >>> lines = skeleton(make_layout(Structure(["feed"], ["block"]), rows))
    >>> [(t.source, t.stratum, t.df, t.den_df) for t in lines]
    [('block', 'block', 5, None), ('feed', 'residual', 2, 10.0), ('residual', 'residual', 10, None)]
    """
    tests = hypotheses(make_design(layout, interactions))
    strata = split(layout)
    free = make_design(ungrouped(layout), interactions)
    shares = [_shares(free, strata, test) for test in hypotheses(free)]
    random = {g.path for g in layout.random} | {RESIDUAL}
    homes = [_home(found, random) for found in shares]
    sizes = {s.path: s.basis.shape[1] for s in strata[1:]}
    sizes[RESIDUAL] = layout.n - 1 - sum(sizes.values())
    left = dict(sizes)
    for test, found, home in zip(tests, shares, homes, strict=True):
        if home is not None:
            left[home] -= test.df
        elif len(found) == 1:  # given away to the members of a fixed group
            left[found[0].path] -= found[0].df
    den = _denominators(layout, interactions)
    lines: list[SkeletonTerm] = []
    for path in sizes:
        for test, found, home in zip(tests, shares, homes, strict=True):
            for share in found:
                if share.path == path:
                    df = den.get(test.term.name) if path == home and left[path] > 0 else None
                    by = None if df is None else path
                    lines.append(
                        SkeletonTerm(test.term.name, path, share.df, by, df, share.efficiency)
                    )
        if path == RESIDUAL or left[path] > 0:
            lines.append(SkeletonTerm(path, path, max(left[path], 0), None, None, None))
    return tuple(lines)


def ungrouped(layout: Layout) -> Layout:
    """Return the layout with no group among the fixed columns."""
    groups = tuple(replace(grouping, random=True) for grouping in layout.groupings)
    return replace(layout, groupings=groups)


def _home(found: tuple[Share, ...], random: set[str]) -> str | None:
    """Return the random stratum that holds most of a term."""
    usable = [s for s in found if s.path in random]
    return max(usable, key=lambda s: sum(s.efficiencies)).path if usable else None


def _denominators(layout: Layout, interactions: int) -> dict[str, float]:
    """Return each tested term's denominator df if all variances were equal."""
    equal = {g.path: 1.0 for g in layout.random} | {RESIDUAL: 1.0}
    try:
        known = precision(layout, equal, interactions)
    except AnalysisError:
        return {}
    terms = {test.term.name: known.term(test.term.name).den_df for test in known.tests}
    return {name: df for name, df in terms.items() if df is not None}
