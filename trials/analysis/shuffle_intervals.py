"""Which pairs of levels get an interval from shuffles, and from which shuffles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np

from trials.analysis.data import Data
from trials.analysis.inversion import ShuffleInterval, invert, two_level_interval
from trials.analysis.pair_curves import Moves, PairOf, pair_curves
from trials.analysis.plan_layouts import PlanLayouts
from trials.analysis.shuffling import Bench, bench_of, by_unit, fitted_together, other_layouts
from trials.model.layout import Codes
from trials.model.terms import make_design
from trials.randomness import stream

Intervals = Mapping[PairOf, ShuffleInterval]


def planned_intervals(layouts: PlanLayouts, data: Data) -> Intervals:
    """Return the intervals of the pairs of each factor by the plan's own shuffle.

    Exact, if the difference is the same for every item: pairs of levels that trade places while
    the units with other levels, and all other factors, are held where they lie. Where too few
    layouts do that, all factors move, and the pair is held against what the rest of the model
    leaves.
    """
    if data.options.resamples == 0 or not layouts.plan.factors:
        return {}
    layout = data.layout
    design = make_design(layout, data.options.interactions)
    terms = [t for t in design.terms if t.role == "treatment"]
    alpha = 1 - data.options.confidence
    alone = len(layouts.plan.factors) == 1
    out: dict[PairOf, ShuffleInterval] = {}
    for alike in by_unit(layout, [t for t in terms if len(t.factors) == 1]):
        bench = bench_of(data, data.y, alike[0].factors)
        together = fitted_together(layout, terms, bench)
        names = [t.factors[0] for t in alike if t.factors in together]
        pairs = [pair for name in names for pair in _pairs(data, name)]
        if alone and len(pairs) > 1 and layouts.exchanges is not None and len(bench.around) <= 1:
            out |= {pair: _within_blocks(data, bench, pair, alpha) for pair in pairs}
            continue
        if not pairs:
            continue
        for taken, some in _sets(layouts, data, pairs):
            units, places = other_layouts(taken, data, bench, together)
            moves = None if places is None else Moves(places, taken.names)
            held = taken.alone is not None
            for pair, curves in pair_curves(units, moves, together, some, alone=held).items():
                exact = held or (alone and units.levels[pair[0]] == 2)
                out[pair] = ShuffleInterval(invert(curves, alpha), exact)
    return out


def table_intervals(data: Data) -> Intervals:
    """Return the intervals of the pairs of a table's only factor, units shuffled within a block.

    Units that have neither level stay where they are.
    """
    factors = list(data.layout.factors)
    if data.options.resamples == 0 or len(factors) != 1 or data.layout.covariates:
        return {}
    bench = bench_of(data, data.y, (factors[0],))
    if len(bench.around) > 1:
        return {}
    alpha = 1 - data.options.confidence
    return {pair: _within_blocks(data, bench, pair, alpha) for pair in _pairs(data, factors[0])}


def _sets(
    layouts: PlanLayouts, data: Data, pairs: Sequence[PairOf]
) -> list[tuple[PlanLayouts, list[PairOf]]]:
    """Return the layouts that pairs are held against, with the pairs."""
    together: dict[int, tuple[PlanLayouts, list[PairOf]]] = {}
    for pair in pairs:
        factor, a, b = pair
        two = len(data.layout.factors[factor].levels) == 2
        taken = layouts.only(factor, None if two else (a, b)) or layouts
        together.setdefault(id(taken), (taken, []))[1].append(pair)
    return list(together.values())


def _pairs(data: Data, factor: str) -> list[PairOf]:
    if data.layout.structure.factor(factor).trend:
        return []
    levels = len(data.layout.factors[factor].levels)
    return [(factor, a, b) for a, b in combinations(range(levels), 2)]


def _within_blocks(data: Data, bench: Bench, pair: PairOf, alpha: float) -> ShuffleInterval:
    factor, a, b = pair
    codes: Codes = data.layout.factors[factor].codes[bench.first]
    own = (codes == a) | (codes == b)
    blocks = np.zeros(len(codes), dtype=np.intp) if bench.blocks is None else bench.blocks
    ends = two_level_interval(
        bench.y[own],
        (codes[own] == a).astype(np.intp),
        blocks[own],
        alpha=alpha,
        resamples=bench.resamples,
        rng=stream(data.options.seed, f"interval {factor} {a} {b}"),
    )
    return ShuffleInterval(ends, exact=True)
