"""Factors that matter together: which level of one is ahead depends on the level of another.

Averages over the other factor hide such a pattern, so it is told beside the verdicts. It is looked
for only where the interaction is clear of chance among all pairs of factors (S. Holm, 1979, Scand.
J. Statist. 6, 65-70). That the order turns needs both differences clear of zero, in opposite
directions (M. Gail and R. Simon, 1985, Biometrics 41, 361-372, call it a qualitative interaction).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

from trials.analysis.findings import Comparison, Crossing, Effect
from trials.analysis.statsmodels_adapter import holm
from trials.analysis.verdicts import Scale, margin_width
from trials.model.margins import is_beyond, is_inside
from trials.study.options import Options

Within = Mapping[tuple[str, str], Sequence[Comparison]]
Ends = tuple[float, float]


def adjust_pairs(effects: Sequence[Effect], factors: Sequence[str]) -> list[Effect]:
    """Return the effects with Holm's p over the interactions of two factors that have one.

    Examples
    --------
    >>> pair = dict(stratum=None, num_df=1, den_df=9.0)
    >>> told = [Effect(term="a:b", p=0.02, **pair), Effect(term="a:c", p=0.4, **pair)]
    >>> [effect.p_adjusted for effect in adjust_pairs(told, ("a", "b", "c"))]
    [0.04, 0.4]
    """
    pairs = {":".join(two) for two in itertools.permutations(factors, 2)}
    raw = [e.p for e in effects if e.term in pairs and e.p is not None]
    adjusted = iter(holm(raw))
    return [
        e.model_copy(update={"p_adjusted": float(next(adjusted))})
        if e.term in pairs and e.p is not None
        else e
        for e in effects
    ]


def crossings(
    effects: Sequence[Effect], within: Within, options: Options, scale: Scale
) -> tuple[Crossing, ...]:
    """Return each clear interaction from the side of either factor, the turning side first.

    ``within`` holds a factor's pairs within every level of another, by both names.
    """
    clear = [
        e.term
        for e in effects
        if e.p_adjusted is not None and e.p_adjusted < 1 - options.confidence
    ]
    out: list[Crossing] = []
    for term in clear:
        sides = [
            found
            for (factor, other), pairs in within.items()
            if set(term.split(":")) == {factor, other}
            and (found := _widest(term, (factor, other), pairs, (options.worthwhile, scale)))
        ]
        out += sorted(sides, key=lambda side: (not side.turns, not side.beyond))
    return tuple(out)


def _widest(
    term: str,
    names: tuple[str, str],
    pairs: Sequence[Comparison],
    margin: tuple[float | None, Scale],
) -> Crossing | None:
    """Return the two levels whose difference changes most, preferring those that turn."""
    factor, within = names
    worthwhile, scale = margin
    width = None if worthwhile is None else margin_width(worthwhile, scale)
    best: tuple[tuple[bool, float], Crossing] | None = None
    for one, other in itertools.permutations(pairs, 2):
        same = one.a[factor] == other.a[factor] and one.b[factor] == other.b[factor]
        if not same or _size(one, scale) <= _size(other, scale):
            continue
        ends = [_ends(side, scale) for side in (one, other)]
        if width is not None and all(is_inside(low, high, width) for low, high in ends):
            continue
        turns = ends[0][0] > 0 and ends[1][1] < 0
        beyond = width is not None and any(is_beyond(low, high, width) for low, high in ends)
        rank = (turns, _size(one, scale) - _size(other, scale))
        if best is None or rank > best[0]:
            best = rank, Crossing(
                term=term, factor=factor, within=within, one=one, other=other, turns=turns,
                beyond=beyond,
            )  # fmt: skip
    return None if best is None else best[1]


def _size(one: Comparison, scale: Scale) -> float:
    """Return the signed difference on the scale of analysis; nan where there is none."""
    if scale == "difference":
        return math.nan if one.difference is None else one.difference
    return math.nan if one.ratio is None or one.ratio <= 0 else math.log(one.ratio)


def _ends(one: Comparison, scale: Scale) -> Ends:
    low, high = one.interval_adjusted
    if scale == "ratio":
        low = None if low is None or low <= 0 else math.log(low)
        high = None if high is None or high <= 0 else math.log(high)
    return (-math.inf if low is None else low, math.inf if high is None else high)
