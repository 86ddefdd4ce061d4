"""Shuffle tests of each term: the plan's own shuffle, or a permutation where there is no plan.

A term is tested on the units it is applied to. With one factor the test is exact under 'no effect
at all'. With several, a factor of a plan is shuffled with all others held where they lie, which is
exact under 'no effect, whatever the others are'. Where too few layouts do that, all factors move at
once and the p is marked approximate; for interactions, and in a table without a plan, the shuffle
is met by what the other terms leave (D. Freedman and D. Lane, 1983, J. Business and Economic
Statistics 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trials.analysis.data import Data
from trials.analysis.layouts import Replayed, moved, replay, unit_moves
from trials.analysis.permutation import (
    PermutationResult,
    permute,
    residual_permutation,
    unit_means,
)
from trials.analysis.plan_layouts import MOST_NUMBERS, PlanLayouts
from trials.design.shuffle import Alone
from trials.model import Layout
from trials.model.layout import Codes, Floats, Grouping, is_constant_within
from trials.model.strata import indicator
from trials.model.terms import Design, Term, combined, make_design, unit_codes
from trials.randomness import stream


@dataclass(frozen=True)
class ShuffleTest:
    """The p of one term: of the plan's own shuffle (``planned``) or of a permutation.

    ``df`` is what of the term was tested, where that is known. ``mc_error``: the standard error of
    p from drawing; None where every arrangement was counted. ``alone``: the layouts in which only
    the tested factor moves, where these were taken.
    """

    p: float | None
    exact: bool
    planned: bool
    notes: tuple[str, ...] = ()
    df: int | None = None
    mc_error: float | None = None
    alone: Alone | None = None


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
    for alike in by_unit(data.layout, terms):
        bench = bench_of(data, data.y, alike[0].factors)
        rng = stream(data.options.seed, f"permutation {alike[0].name}")
        if alone and len(bench.around) <= 1:
            codes = data.layout.factors[alike[0].factors[0]].codes[bench.first]
            found = {alike[0].name: permute(bench.y, codes, bench.blocks, bench.resamples, rng)}
        else:
            found = _by_residuals(design, alike, bench, rng)
        for name, result in found.items():
            out[name] = _told(result, planned=False, exact=not result.approximate, bench=bench)
    return out


def replay_shuffle(
    layouts: PlanLayouts, data: Data, only: Sequence[str] | None = None
) -> dict[str, ShuffleTest]:
    """Return the test of each term against layouts drawn as the plan's own was.

    All layouts are looked at where they are few. Each term is tested on its own units, adjusted for
    the other terms on units as large and for the groups around them. Items that were lost or failed
    keep their place: the other layouts are read off at the places that were measured.

    A main effect is tested on the response itself, against the layouts in which only its factor
    moves. Given where the others lie these are equally likely, so its p is exact if the factor did
    nothing to any item, whatever the others did. Where they are too few for a p of 0.05, all
    factors move, and p is exact only if none of them did anything. An interaction is tested on what
    the other terms leave, so that their effects are no part of the chance it is held against; with
    empty combinations on what of it can be estimated. A factor that can't be compared over all its
    levels then has no p.

    Parameters
    ----------
    only : names of the terms to test; None: all.
    """
    plan = layouts.plan
    if data.options.resamples == 0 or not plan.factors:
        return {}
    design = make_design(data.layout, data.options.interactions)
    terms = [t for t in design.terms if t.role == "treatment"]
    wanted = terms if only is None else [t for t in terms if t.name in only]
    out = {}
    for alike in by_unit(data.layout, wanted):
        bench = bench_of(data, data.y, alike[0].factors)
        together = fitted_together(data.layout, terms, bench)
        sets = {term.factors: _set_of(layouts, term) for term in alike}
        found: dict[Factors, PermutationResult] = {}
        for one in {id(one): one for one in sets.values()}.values():
            results = _replayed(one, data, bench, together) if together else {}
            found |= {f: r for f, r in results.items() if sets.get(f) is one}
        for term in alike:
            result = found.get(term.factors)
            if result is None:
                out[term.name] = ShuffleTest(None, False, True, ("no_shuffle",))
            elif _is_partial(data.layout, term, result):
                out[term.name] = ShuffleTest(None, False, True, ("shuffle_asks_otherwise",))
            else:
                out[term.name] = _told_of(sets[term.factors], layouts, result, bench)
    return out


def _told_of(
    taken: PlanLayouts, layouts: PlanLayouts, result: PermutationResult, bench: Bench
) -> ShuffleTest:
    """Return the test of a term against the layouts ``taken``, of a plan with ``layouts``."""
    exact = taken.alone is not None or len(layouts.plan.factors) == 1
    told = _told(result, planned=True, exact=exact, bench=bench)
    if taken.alone is None or told.p is None:
        return told
    fewer = taken.resamples < layouts.resamples and told.mc_error is not None
    notes = (*told.notes, *((f"resamples:{taken.resamples}",) if fewer else ()))
    return replace(told, alone=taken.alone, notes=notes)


def _set_of(layouts: PlanLayouts, term: Term) -> PlanLayouts:
    """Return the layouts that a term is held against."""
    alone = layouts.only(term.factors[0]) if len(term.factors) == 1 else None
    return layouts if alone is None else alone


def by_unit(layout: Layout, terms: Sequence[Term]) -> list[list[Term]]:
    """Return the terms in parts that are tested on the same units."""
    out: dict[bytes, list[Term]] = {}
    for term in terms:
        out.setdefault(unit_codes(layout, term.factors).tobytes(), []).append(term)
    return list(out.values())


Factors = tuple[str, ...]  # of a term


def fitted_together(layout: Layout, terms: Sequence[Term], bench: Bench) -> list[Factors]:
    """Return the terms that are fitted on some units: applied to units as large, inside walls."""
    units = len(bench.first)
    return [
        t.factors
        for t in terms
        if _is_as_large(layout, t, units) and not _is_in_walls(layout, t, bench)
    ]


def _replayed(
    layouts: PlanLayouts, data: Data, bench: Bench, together: Sequence[Factors]
) -> dict[Factors, PermutationResult]:
    """Return the results of all terms that are fitted on some units."""
    units, moves = other_layouts(layouts, data, bench, together)
    alone = layouts.moving is not None  # only the main effect's p will be asked for
    crossed = [] if alone else [factors for factors in together if len(factors) > 1]
    if moves is None:
        return replay(units, together, crossed)
    return moved(units, moves, together, crossed)


def other_layouts(
    layouts: PlanLayouts, data: Data, bench: Bench, together: Sequence[Factors]
) -> tuple[Replayed, Codes | None]:
    """Return some units with the other layouts of the factors of some terms.

    Where these are drawn and every row was measured, they are exchanges of places, (m, u), if the
    plan's set is made of such; the units then hold no drawn layout but their own.
    """
    plan = layouts.plan
    place = {row.item: number for number, row in enumerate(plan.rows)}
    places = np.array([place[item] for item in data.items], dtype=np.intp)
    at_units = places[bench.first]
    names = sorted({factor for factors in together for factor in factors})
    levels = {f.name: len(f.levels) for f in plan.factors}
    moves = None
    drawn = every = layouts.every(names)
    if every is None and len(data.items) == len(plan.rows) and layouts.exchanges is not None:
        moves = unit_moves(layouts.exchanges, places, bench.unit)
    if moves is not None:
        drawn = {f: codes[None, :] for f, codes in layouts.own.items()}
    elif drawn is None:
        drawn = layouts.drawn
    units = Replayed(
        bench.y,
        {f: layouts.own[f][at_units] for f in names},
        {f: drawn[f][:, at_units] for f in names},
        {f: levels[f] for f in names},
        bench.walls,
        complete=every is not None,
    )
    return units, moves


def _is_partial(layout: Layout, term: Term, found: PermutationResult) -> bool:
    """Return whether a main effect was tested on less than a comparison of all its levels."""
    if len(term.factors) > 1 or found.df is None:
        return False
    return found.df < len(np.unique(layout.factors[term.factors[0]].codes)) - 1


def _told(result: PermutationResult, *, planned: bool, exact: bool, bench: Bench) -> ShuffleTest:
    notes = list(bench.notes)
    if result.p is None:
        return ShuffleTest(None, False, planned, (*notes, "no_shuffle"))
    if not exact:
        notes.append("approximate_shuffle")
    return ShuffleTest(result.p, exact, planned, tuple(notes), result.df, result.mc_error)


def bench_of(data: Data, y: Floats, factors: Sequence[str]) -> Bench:
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
    design: Design, terms: Sequence[Term], bench: Bench, rng: np.random.Generator
) -> dict[str, PermutationResult]:
    """Shuffle residuals over the units, with larger groupings and coarser terms held."""
    layout = design.layout
    units = len(bench.first)
    names = [t for t in design.terms if t.role in ("mean", "covariate", "treatment")]
    held = [t for t in names if not t.factors or _is_as_large(layout, t, units)]
    columns = np.concatenate([np.arange(t.columns.start, t.columns.stop) for t in held])
    X = np.column_stack([unit_means(design.X[:, c], bench.unit)[0] for c in columns])
    own = {
        term.name: np.flatnonzero(
            (term.columns.start <= columns) & (columns < term.columns.stop)
        ).tolist()
        for term in terms
    }
    y = bench.y
    if bench.blocks is not None:  # exchanged within blocks only: taking off their means is enough
        y, X = _within(y[:, None], bench.blocks)[:, 0], _within(X, bench.blocks)
    elif bench.walls is not None:
        X = np.hstack([X, bench.walls])
    return residual_permutation(y, X, own, blocks=bench.blocks, resamples=bench.resamples, rng=rng)


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
