"""Shuffle tests of each term: the plan's own shuffle, or a permutation where there is no plan.

A term is tested on the units it is applied to. With one factor the test is exact under 'no effect
at all'. With several it is marked approximate: a plan's shuffle moves all factors at once; a
permutation shuffles what the other terms leave (D. Freedman and D. Lane, 1983, J. Business and
Economic Statistics 1).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trials.analysis.data import Data
from trials.analysis.layouts import Replayed, replay
from trials.analysis.permutation import (
    PermutationResult,
    permute,
    residual_permutation,
    unit_means,
)
from trials.design.shuffle import all_layouts, plan_layout, shuffles
from trials.design.values import Plan
from trials.model import Layout
from trials.model.layout import Codes, Floats, Grouping, is_constant_within
from trials.model.strata import indicator
from trials.model.terms import Design, Term, combined, make_design, unit_codes
from trials.randomness import stream
from trials.study.options import Options

MOST_NUMBERS = 60_000_000  # rows times shuffles held at once


@dataclass(frozen=True)
class ShuffleTest:
    """The p of one term: of the plan's own shuffle (``planned``) or of a permutation.

    ``df`` is what of the term was tested, where that is known.
    """

    p: float | None
    exact: bool
    planned: bool
    notes: tuple[str, ...] = ()
    df: int | None = None


@dataclass(frozen=True)
class Bench:
    """The units a term is tested on: one value and one row of columns for each.

    ``first`` (u,) is a row of each unit; ``around`` the groupings larger than the unit, without
    those that hold whole members of another: with firings in sessions, the firings only.
    """

    y: Floats
    first: Codes
    unit: Codes
    around: tuple[Grouping, ...]
    resamples: int
    notes: tuple[str, ...]

    @property
    def blocks(self) -> Codes | None:
        """Code of the one grouping within which units may be exchanged, (u,); None: all may be."""
        return self.around[0].coded.codes[self.first] if len(self.around) == 1 else None

    @property
    def walls(self) -> Floats | None:
        """Indicator columns of the groupings around the units, (u, q)."""
        if not self.around:
            return None
        return np.hstack([indicator(g.coded)[self.first] for g in self.around])


def permute_terms(data: Data) -> dict[str, ShuffleTest]:
    """Return the permutation test of each term of a table that has no plan."""
    if data.options.resamples == 0 or not data.layout.factors:
        return {}
    design = make_design(data.layout, data.options.interactions)
    terms = [t for t in design.terms if t.role == "treatment"]
    alone = len(data.layout.factors) == 1 and not data.layout.covariates
    out = {}
    for term in terms:
        bench = _bench(data, data.y, term.factors)
        rng = stream(data.options.seed, f"permutation {term.name}")
        if alone and len(bench.around) <= 1:
            codes = data.layout.factors[term.factors[0]].codes[bench.first]
            result = permute(bench.y, codes, bench.blocks, bench.resamples, rng)
        else:
            result = _by_residuals(design, term, bench, rng)
        out[term.name] = _told(result, planned=False, exact=not result.approximate, bench=bench)
    return out


@dataclass(frozen=True)
class PlanLayouts:
    """The other layouts of a plan, drawn or listed once for all that is tested by them."""

    plan: Plan
    seed: int
    resamples: int

    @cached_property
    def own(self) -> Mapping[str, Codes]:
        """The level codes of the plan itself, (rows,) each."""
        return plan_layout(self.plan)

    @cached_property
    def drawn(self) -> Mapping[str, Codes]:
        """The level codes in layouts drawn from the plan's set, (resamples, rows) each."""
        rng = stream(self.seed, "the plan's own shuffle")
        out = {
            name: np.empty((self.resamples, len(codes)), np.intp)
            for name, codes in self.own.items()
        }
        for number, layout in enumerate(shuffles(self.plan, rng, self.resamples)):
            for name, codes in layout.items():
                out[name][number] = codes
        return out

    @cached_property
    def _listed(self) -> dict[tuple[str, ...], Mapping[str, Codes] | None]:
        return {}

    def every(self, names: Sequence[str]) -> Mapping[str, Codes] | None:
        """Return all layouts of some factors, where they are few enough to be listed."""
        key = tuple(names)
        if key not in self._listed:
            self._listed[key] = all_layouts(self.plan, key)
        return self._listed[key]


def layouts_of(plan: Plan, options: Options) -> PlanLayouts:
    """Return the layouts that tests take, drawn as many times as the options ask for."""
    most = MOST_NUMBERS // max(len(plan.rows), 1)
    return PlanLayouts(plan, options.seed, min(options.resamples, most))


def replay_shuffle(
    layouts: PlanLayouts, data: Data, only: Sequence[str] | None = None
) -> dict[str, ShuffleTest]:
    """Return the test of each term against layouts drawn as the plan's own was.

    All layouts are looked at where they are few. Each term is tested on its own units, adjusted for
    the other terms on units as large and for the groups around them. Items that were lost or failed
    keep their place: the other layouts are read off at the places that were measured. An
    interaction with empty combinations is tested on what of it can be estimated; a factor that
    can't be compared over all its levels then has no p.

    Parameters
    ----------
    only : names of the terms to test; None: all.
    """
    plan = layouts.plan
    if data.options.resamples == 0 or not plan.factors:
        return {}
    layout = data.layout
    design = make_design(layout, data.options.interactions)
    terms = [t for t in design.terms if t.role == "treatment"]
    place = {row.item: number for number, row in enumerate(plan.rows)}
    places = np.array([place[item] for item in data.items], dtype=np.intp)
    levels = {f.name: len(f.levels) for f in plan.factors}
    alone = len(plan.factors) == 1
    out = {}
    for term in terms if only is None else [t for t in terms if t.name in only]:
        bench = _bench(data, data.y, term.factors)
        units = len(bench.first)
        together = [
            t.factors
            for t in terms
            if _is_as_large(layout, t, units) and not _is_in_walls(layout, t, bench)
        ]
        names = sorted({factor for factors in together for factor in factors})
        if term.factors not in together:
            out[term.name] = ShuffleTest(None, False, True, ("no_shuffle",))
            continue
        every = layouts.every(names)
        others = layouts.drawn if every is None else every
        at_units = places[bench.first]
        at = Replayed(
            bench.y,
            {f: layouts.own[f][at_units] for f in names},
            {f: others[f][:, at_units] for f in names},
            {f: levels[f] for f in names},
            bench.walls,
            complete=every is not None,
        )
        found = replay(at, together)[term.factors]
        if _is_partial(term, at, found):
            out[term.name] = ShuffleTest(None, False, True, ("shuffle_asks_otherwise",))
            continue
        out[term.name] = _told(found, planned=True, exact=alone, bench=bench)
    return out


def _is_partial(term: Term, at: Replayed, found: PermutationResult) -> bool:
    """Return whether a main effect was tested on less than a comparison of all its levels."""
    if len(term.factors) > 1 or found.df is None:
        return False
    return found.df < len(np.unique(at.observed[term.factors[0]])) - 1


def _told(result: PermutationResult, *, planned: bool, exact: bool, bench: Bench) -> ShuffleTest:
    notes = list(bench.notes)
    if result.p is None:
        return ShuffleTest(None, False, planned, (*notes, "no_shuffle"))
    if not exact:
        notes.append("approximate_shuffle")
    return ShuffleTest(result.p, exact, planned, tuple(notes), result.df)


def _bench(data: Data, y: Floats, factors: Sequence[str]) -> Bench:
    """Return the units of a term: the smallest of its factors' units."""
    layout = data.layout
    unit = unit_codes(layout, factors)
    means, first, _ = unit_means(y, unit)
    members = len(first)
    larger = [
        g
        for g in layout.groupings
        if g.members < members and is_constant_within(g.coded.codes, unit)
    ]
    around = tuple(
        g
        for g in larger
        if not any(h is not g and is_constant_within(g.coded.codes, h.coded.codes) for h in larger)
    )
    most = max(99, MOST_NUMBERS // max(members, 1))
    resamples = min(data.options.resamples, most)
    notes = (f"resamples:{resamples}",) if resamples < data.options.resamples else ()
    return Bench(means, first, unit, around, resamples, notes)


def _by_residuals(
    design: Design, term: Term, bench: Bench, rng: np.random.Generator
) -> PermutationResult:
    """Shuffle residuals over the units, with larger groupings and coarser terms held."""
    layout = design.layout
    units = len(bench.first)
    names = [t for t in design.terms if t.role in ("mean", "covariate", "treatment")]
    held = [t for t in names if not t.factors or _is_as_large(layout, t, units)]
    columns = np.concatenate([np.arange(t.columns.start, t.columns.stop) for t in held])
    X = np.column_stack([unit_means(design.X[:, c], bench.unit)[0] for c in columns])
    own = [
        place
        for place, column in enumerate(columns)
        if term.columns.start <= column < term.columns.stop
    ]
    y = bench.y
    if bench.blocks is not None:  # exchanged within blocks only: taking off their means is enough
        y, X = _within(y[:, None], bench.blocks)[:, 0], _within(X, bench.blocks)
    elif bench.walls is not None:
        X = np.hstack([X, bench.walls])
    done = residual_permutation(
        y, X, {term.name: own}, blocks=bench.blocks, resamples=bench.resamples, rng=rng
    )
    return done[term.name]


def _within(M: Floats, blocks: Codes) -> Floats:
    """Return the columns of M minus their mean in each block, (u, q)."""
    _, block, sizes = np.unique(blocks, return_inverse=True, return_counts=True)
    totals = np.zeros((len(sizes), M.shape[1]))
    np.add.at(totals, block, M)
    out: Floats = M - (totals / sizes[:, None])[block]
    return out


def _is_in_walls(layout: Layout, term: Term, bench: Bench) -> bool:
    """Return whether a term never varies within some grouping around the units."""
    own = combined(tuple(layout.factors[factor] for factor in term.factors))
    return any(is_constant_within(own, g.coded.codes) for g in bench.around)


def _is_as_large(layout: Layout, term: Term, units: int) -> bool:
    return len(np.unique(unit_codes(layout, term.factors))) <= units
