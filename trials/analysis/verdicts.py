"""The three-way verdict on a factor, and how many units would settle it.

A verdict compares the simultaneous intervals of all pairs of a factor's levels with a margin that
was declared beforehand. 'Made no practical difference' is an equivalence claim and needs every
interval inside the margin, within each level of the factors it interacts with as well: failing to
find a difference is never evidence of none (D. J. Schuirmann, 1987, J. Pharmacokinetics and
Biopharmaceutics 15, 657-680, for one interval).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from trials.model import tukey
from trials.model.margins import is_beyond, is_inside
from trials.model.studentised import scaled_chi

Array = NDArray[np.float64]
Scale = Literal["difference", "ratio"]
VerdictWord = Literal["mattered", "made no practical difference", "not settled"]
Reason = Literal[
    "beyond",
    "inside",
    "inside_on_average",
    "clear_but_small",
    "clear_not_surely_big",
    "wide",
    "no_replication",
    "no_variation",
    "error_unsure",
    "no_residual_df",
    "not_compared",
    "depends",
    "one_level",
    "tied",
    "failures_disagree",
]

MOST_TIMES_MORE = 10
WANTED_CHANCE = 0.8


@dataclass(frozen=True)
class PairInterval:
    """Two levels compared, with the simultaneous interval.

    On the ratio scale ``estimate``, ``low`` and ``high`` are ratios. A limit that couldn't be
    computed is None. ``within`` names the levels of other factors a simple effect holds for.
    """

    a: Mapping[str, str]
    b: Mapping[str, str]
    estimate: float
    low: float | None
    high: float | None
    within: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Judgement:
    """A verdict with its reason and the pair that shows it.

    ``pair`` is the pair with the largest difference: of those beyond the margin, if there are any,
    else of all. ``simple`` are the simple effects that stand in the way of 'no practical
    difference', if that is the reason.
    """

    verdict: VerdictWord
    reason: Reason
    pair: PairInterval
    simple: tuple[PairInterval, ...] = ()


def judge(
    pairs: Sequence[PairInterval],
    margin: float | None,
    scale: Scale = "difference",
    simple: Sequence[PairInterval] = (),
) -> Judgement | None:
    """Return the verdict on one factor; None where no margin was declared or nothing compared.

    Parameters
    ----------
    pairs : all pairs of the factor's levels, averaged over the other factors.
    margin : smallest difference (above 0) or ratio (not 1) that would change what one does.
    scale : the ratio margin r stands for [1/r, r], compared on the log scale.
    simple : the factor's pairs within each level of every factor it interacts with.

    Raises
    ------
    ValueError : a margin that can't be one: a difference not above 0, a ratio of 1 or not above 0.

    Examples
    --------
    >>> pair = PairInterval({"heat": "oven"}, {"heat": "burner"}, 3.0, 1.2, 4.8)
    >>> judge([pair], margin=1.0).verdict, judge([pair], margin=2.0).reason
    ('mattered', 'clear_not_surely_big')
    """
    if margin is None or not pairs:
        return None
    d = margin_width(margin, scale)
    seen = [(pair, *_on_scale(pair, scale)) for pair in pairs]
    largest = max(seen, key=lambda one: one[1])[0]
    beyond = [(pair, size) for pair, size, low, high in seen if is_beyond(low, high, d)]
    if beyond:
        return Judgement("mattered", "beyond", max(beyond, key=lambda one: one[1])[0])
    if all(math.isinf(low) and math.isinf(high) for _, _, low, high in seen):
        return Judgement("not settled", "no_replication", largest)
    if all(is_inside(low, high, d) for _, _, low, high in seen):
        outside = tuple(
            pair
            for pair, (_, low, high) in ((pair, _on_scale(pair, scale)) for pair in simple)
            if not is_inside(low, high, d)
        )
        if outside:
            return Judgement("not settled", "inside_on_average", largest, outside)
        clear = any(low > 0 or high < 0 for _, _, low, high in seen)
        return Judgement(
            "made no practical difference", "clear_but_small" if clear else "inside", largest
        )
    reaching = any(0 < low <= d <= high or low <= -d <= high < 0 for _, _, low, high in seen)
    return Judgement("not settled", "clear_not_surely_big" if reaching else "wide", largest)


def margin_width(margin: float, scale: Scale) -> float:
    """Return the margin as a distance from 'no difference': log for a ratio.

    Raises
    ------
    ValueError : a difference not above 0, a ratio of 1 or not above 0.

    Examples
    --------
    >>> margin_width(0.5, "difference"), margin_width(2.0, "ratio") == margin_width(0.5, "ratio")
    (0.5, True)
    """
    width = margin if scale == "difference" else abs(math.log(margin)) if margin > 0 else 0.0
    if not (math.isfinite(width) and width > 0):
        raise ValueError(f"{margin} can't be a margin on the {scale} scale")
    return width


def _on_scale(pair: PairInterval, scale: Scale) -> tuple[float, float, float]:
    """Return the size of the difference, low and high: logs for ratios, no limit as infinite."""
    low = -math.inf if pair.low is None or math.isnan(pair.low) else pair.low
    high = math.inf if pair.high is None or math.isnan(pair.high) else pair.high
    if scale == "difference":
        return abs(pair.estimate), low, high
    return abs(math.log(pair.estimate)), _log(low), _log(high)


def _log(value: float) -> float:
    return math.log(value) if value > 0 else -math.inf


@dataclass(frozen=True)
class Present:
    """What one factor's comparison rests on now.

    Attributes
    ----------
    se : standard error of the difference of two levels' means (of the log, for ratios).
    df : its degrees of freedom.
    units : number of the factor's own units, all levels together.
    levels : number of levels.
    confidence : of the simultaneous intervals.
    simple_se : standard error of the same difference within one level of another factor, if the
        factor has interactions; 'no practical difference' must hold there too.
    contexts : in how many such levels it must hold, all interacting factors together.
    """

    se: float
    df: float
    units: int
    levels: int
    confidence: float = 0.95
    simple_se: float | None = None
    contexts: int = 0


@dataclass(frozen=True)
class Settled:
    """How many units in all, and for which truth they suffice: "none" or "as_estimated"."""

    count: int
    assumption: Literal["none", "as_estimated"]


def to_settle(
    present: Present,
    margin: float,
    estimate: float,
    scale: Scale = "difference",
    df_at: Callable[[int], float] | None = None,
    *,
    none_is_possible: bool = True,
) -> Settled | None:
    """Return how many of the factor's own units give an 80 % chance of a verdict.

    The truth is taken to be no difference at all, or the estimate; whichever needs fewer units
    counts. At least one more for each level; None if it takes more than ten times the present
    number.

    Parameters
    ----------
    margin : as in :func:`judge`.
    estimate : largest difference (or ratio) between two levels; the others lie half-way.
    df_at : degrees of freedom with a given number of units; without it they grow in proportion.
    none_is_possible : False where the data rule out that there is no difference.

    The standard errors shrink with the square root of the number of units.

    Examples
    --------
    >>> to_settle(Present(se=1.0, df=6, units=8, levels=2), margin=1.5, estimate=0.2)
    Settled(count=40, assumption='none')
    """
    if not (present.se > 0 and math.isfinite(present.se) and present.df > 0):
        return None
    d = margin_width(margin, scale)
    truth = abs(estimate) if scale == "difference" else abs(math.log(estimate))
    proportional = present.df / present.units
    degrees = df_at or (lambda units: proportional * units)

    def enough(units: int, true_difference: float) -> bool:
        df = degrees(units)
        if not df > 0:
            return False
        then = _with_units(present, units, df)
        return chance_of_verdict(then, d, true_difference) >= WANTED_CHANCE

    more = present.units + present.levels  # with those there are, it isn't settled
    steps = range(more, MOST_TIMES_MORE * present.units + 1, present.levels)
    truths: tuple[tuple[float, Literal["none", "as_estimated"]], ...] = (
        (0.0, "none"),
        (truth, "as_estimated"),
    )
    found = [
        Settled(count, assumption)
        for difference, assumption in truths[0 if none_is_possible else 1 :]
        if (count := _first(steps, partial(enough, true_difference=difference))) is not None
    ]
    return min(found, key=lambda one: one.count, default=None)


def _with_units(present: Present, units: int, df: float) -> Present:
    """Return the comparison with more units; standard errors shrink as in :func:`to_settle`."""
    shrink = math.sqrt(present.units / units)
    simple = None if present.simple_se is None else present.simple_se * shrink
    return replace(present, se=present.se * shrink, df=df, units=units, simple_se=simple)


def _first(steps: range, enough: Callable[[int], bool]) -> int | None:
    """Return the first step from which it is enough, taking it that more is never worse."""
    low, high = 0, len(steps) - 1
    if high < 0 or not enough(steps[high]):
        return None
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(steps[middle]) else (middle + 1, high)
    return steps[low]


def chance_of_verdict(present: Present, margin: float, true_difference: float) -> float:
    """Return the chance that the next such experiment ends in a verdict of either kind."""
    chances = verdict_chances(present, margin, true_difference)
    return chances.mattered + chances.no_practical_difference


@dataclass(frozen=True)
class VerdictChances:
    """Chances of two of the three verdicts; 'not settled' has the rest."""

    mattered: float
    no_practical_difference: float


def verdict_chances(present: Present, margin: float, true_difference: float) -> VerdictChances:
    """Return the chances of the verdicts if two levels truly differ and the others lie half-way.

    ``margin`` and ``true_difference`` are distances (logs for ratios). Exact for equal numbers of
    units a level and one error: a verdict depends on the largest difference of two means, which has
    the distribution of the range of independent normal values, and on the estimated spread; both
    are integrated; ``design.chances`` draws instead, for plans with several errors, and says why
    both stay. With ``contexts`` the chance of 'no practical difference' counts only the
    intervals within contexts, as if these were independent, which makes it a little too low.

    Examples
    --------
    >>> chances = verdict_chances(Present(se=0.3, df=20, units=24, levels=2), 1.0, 0.0)
    >>> round(chances.mattered, 3), round(chances.no_practical_difference, 3)
    (0.0, 0.774)
    """
    s, weight = scaled_chi(present.df)
    reach = tukey.critical(present.confidence, present.levels, present.df)
    beyond = 1 - _range_cdf(margin + reach * present.se * s, present, true_difference, present.se)
    if present.contexts and present.simple_se is not None:
        room = margin - reach * present.simple_se * s
        inside = _range_cdf(room, present, true_difference, present.simple_se) ** present.contexts
    else:
        inside = _range_cdf(margin - reach * present.se * s, present, true_difference, present.se)
    return VerdictChances(float(weight @ beyond), float(weight @ inside))


def _range_cdf(width: Array, present: Present, true_difference: float, se: float) -> Array:
    """Return the chance that the means of all levels lie within ``width`` (m,) of each other."""
    unit = se / math.sqrt(2)  # standard error of one mean
    shift = true_difference / unit / 2
    means = np.zeros(present.levels)
    means[0], means[-1] = -shift, shift
    inside = np.zeros(len(width))
    some = width > 0
    inside[some] = _range_of_normals(width[some] / unit, tuple(means.tolist()))
    return inside


def _range_of_normals(width: Array, means: tuple[float, ...]) -> Array:
    """Return the chance that normal values with these means and SD 1 spread by at most ``width``.

    The sum over which value is the smallest, each an integral over where it lies.
    """
    z, weight = _normal_nodes(len(means))
    total = np.zeros(len(width))
    different = sorted(set(means))
    for smallest in different:
        at = smallest + z
        others = list(means)
        others.remove(smallest)
        product = np.ones((len(width), len(z)))
        for mean in others:
            product *= ndtr(at + width[:, None] - mean) - ndtr(at - mean)
        total += means.count(smallest) * (product @ weight)
    return np.clip(total, 0.0, 1.0)


@lru_cache(maxsize=64)
def _normal_nodes(levels: int) -> tuple[Array, Array]:
    step = min(0.25, math.pi * math.sqrt(2 / (30 * levels)))
    nodes = math.ceil(8 / step)
    z: Array = np.linspace(-nodes * step, nodes * step, 2 * nodes + 1)
    weight: Array = step * np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    return z, weight
