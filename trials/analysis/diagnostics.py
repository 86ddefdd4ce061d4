"""What is left over after the fit, as plain numbers: shown beside it, never used as a gate.

A method chosen by a first test of the same data is no longer the method its p-values are for
(D. W. Zimmerman, 2004, Brit. J. Math. Statist. Psychol. 57, 173-181). Below 10 degrees of freedom
the tests of shape and spread say next to nothing, and only the numbers behind the plot are given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from trials.analysis.data import Data
from trials.analysis.permutation import unit_means
from trials.digest import finite_or_none
from trials.model import Fit, tukey
from trials.model.layout import Codes, Layout, is_constant_within
from trials.model.strata import indicator, orthonormal

Floats = NDArray[np.float64]

LEAST_DF = 10
MOST_COLUMNS = 1000
MOST_SHAPIRO = 5000
SHOWN = 3
MOST_DRAWN = 60  # members of a group that are told one by one


@dataclass(frozen=True)
class Leftovers:
    """What one response left over, one value an item.

    ``residual`` (n,) with ``leverage`` (n,), the diagonal of the hat matrix, and ``df`` degrees of
    freedom. ``levels`` gives for each factor the label of each item.
    """

    items: tuple[str, ...]
    residual: Floats
    leverage: Floats
    df: int
    levels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def diagnose(
    data: Data, fit: Fit, found: tuple[Leftovers, tuple[str, ...]] | None = None
) -> dict[str, Any]:
    """Return the diagnostics of a fit, ready for JSON; None stands for what can't be computed.

    ``found`` is what :func:`leftovers` returned, if that is known already.

    Keys: ``residual_df``; ``largest`` residuals, studentised, each with p adjusted for having
    looked at all of them; ``spread`` per level; ``groups``, what each group's members left over;
    ``equal_spread`` and ``normal_shape``, tests shown from 10 degrees of freedom on; ``welch`` and
    ``games_howell`` beside a layout of one factor and no groups; ``notes``.
    """
    left, notes = leftovers(data, fit) if found is None else found
    out: dict[str, Any] = {
        "residual_df": left.df,
        "largest": largest(left),
        "spread": spread(left),
        "groups": by_group(data, fit),
        "equal_spread": equal_spread(left),
        "normal_shape": normal_shape(left),
    }
    layout = data.layout
    inside = [g for g in layout.groupings if g.path != layout.item]
    if len(layout.factors) == 1 and not inside and not layout.covariates:
        (factor,) = layout.factors
        y, first = _by_item(layout, data.y)
        labels = _labels(layout, factor, first)
        out |= unequal_spread(y, labels, data.options.confidence)
    if left.df < LEAST_DF:
        notes = (*notes, "few_df_no_tests")
    return out | {"notes": list(notes)}


def leftovers(data: Data, fit: Fit) -> tuple[Leftovers, tuple[str, ...]]:
    """Return what is left over within the random groups, and notes.

    The groups are taken off as if they were fixed, so that what remains is the variation between
    items of one group. Several readings of an item count as their mean.
    """
    layout = data.layout
    y, first = _by_item(layout, data.y)
    basis, notes = taken_off(layout, fit.design.XK, first)
    residual = y - basis @ (basis.T @ y)
    residual -= basis @ (basis.T @ residual)  # once more, for the digits
    left = Leftovers(
        items=tuple(data.items[row] for row in first),
        residual=residual,
        leverage=np.sum(basis**2, axis=1),
        df=len(y) - basis.shape[1],
        levels={factor: _labels(layout, factor, first) for factor in layout.factors},
    )
    if _is_nothing(left, float(np.ptp(y))):
        return Leftovers(left.items, np.zeros(len(y)), left.leverage, left.df, left.levels), (
            *notes,
            "nothing_left_over",
        )
    return left, notes


def taken_off(layout: Layout, XK: Floats, first: Codes) -> tuple[Floats, tuple[str, ...]]:
    """Return an orthonormal basis (n, r) of what is taken off: the terms and the random groups.

    Parameters
    ----------
    XK : columns of the terms, a row for each row of the layout.
    first : one row of each item.
    """
    X = np.column_stack([_by_item(layout, column)[0] for column in XK.T])
    around = [g for g in layout.random if g.path != layout.item]
    notes: tuple[str, ...] = ()
    if X.shape[1] + sum(g.members for g in around) > MOST_COLUMNS:
        around, notes = [], ("groups_left_in",)
    return orthonormal(np.hstack([X, *(indicator(g.coded)[first] for g in around)])), notes


def by_group(data: Data, fit: Fit) -> dict[str, Any]:
    """Return what the members of each random group left over, besides what their items did.

    The residuals of the fixed part are averaged within the members of every group in turn, from
    large groups to small, and each average is taken off before the next: what is left over in the
    group's own layer (exactly so where the plan is balanced). ``largest`` are the members furthest
    off, and ``members`` all of them where they are few.
    """
    layout = data.layout
    rest, first = _by_item(layout, fit.residuals)
    out: dict[str, Any] = {}
    items = None if layout.item is None else layout.grouping(layout.item).coded.codes
    for grouping in layout.groupings:
        if items is not None and not is_constant_within(grouping.coded.codes, items):
            continue  # a group of readings, inside the items
        codes, names = grouping.coded.codes[first], grouping.coded.levels
        own = np.bincount(codes, rest, len(names)) / np.bincount(codes, minlength=len(names))
        rest = rest - own[codes]
        if not grouping.random or grouping.path == layout.item:
            continue
        order = np.argsort(-np.abs(own), kind="stable")[:SHOWN]
        members = dict(zip(names, own.tolist(), strict=True))
        out[grouping.path] = {
            "n": len(names),
            "sd": _sd(own),
            "largest": [
                {"member": names[code], "leftover": float(own[code])} for code in order.tolist()
            ],
            "members": members if len(names) <= MOST_DRAWN else {},
        }
    return out


def _is_nothing(left: Leftovers, reach: float) -> bool:
    return left.df <= 0 or float(np.abs(left.residual).max(initial=0.0)) < 1e-10 * reach


def _by_item(layout: Layout, values: Floats) -> tuple[Floats, Codes]:
    if layout.item is None:
        return np.asarray(values, dtype=np.float64), np.arange(layout.n, dtype=np.intp)
    means, first, _ = unit_means(values, layout.grouping(layout.item).coded.codes)
    return means, first


def _labels(layout: Layout, factor: str, rows: Codes) -> tuple[str, ...]:
    coded = layout.factors[factor]
    return tuple(coded.levels[code] for code in coded.codes[rows])


def largest(left: Leftovers) -> list[dict[str, Any]]:
    """Return the items with the largest residuals, studentised without the item itself.

    ``p_adjusted`` is Bonferroni's: how often the largest of all would be as large by chance
    (R. D. Cook and S. Weisberg, 1982, Residuals and Influence in Regression, section 2.2.2). An
    item that the fit passes through by its own (leverage 1) has no residual to judge.
    """
    t, told = studentised(left)
    if not told.any():
        return []
    order = np.argsort(-np.abs(np.nan_to_num(t, posinf=np.inf)), kind="stable")[:SHOWN]
    count = int(told.sum())
    return [
        {
            "item": left.items[row],
            "residual": float(left.residual[row]),
            "studentised": finite_or_none(float(t[row])),
            "p_adjusted": finite_or_none(
                min(1.0, count * 2 * float(stdtr(left.df - 1, -abs(t[row]))))
            ),
        }
        for row in order.tolist()
        if told[row]
    ]


def studentised(left: Leftovers) -> tuple[Floats, NDArray[np.bool_]]:
    """Return each residual over its standard error without the item itself, (n,), and which can be.

    An item that differs from all others, which agree wholly, is infinitely far off.
    """
    square = float(left.residual @ left.residual)
    if left.df < 2 or square == 0:
        return np.zeros(len(left.items)), np.zeros(len(left.items), dtype=np.bool_)
    room = 1 - left.leverage
    told = room > 1e-9
    rest = square - np.where(told, left.residual**2 / np.where(told, room, 1.0), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = np.maximum(rest, 0.0) / (left.df - 1)
        t: Floats = np.where(told, left.residual / np.sqrt(variance * room), 0.0)
    return t, told


def spread(left: Leftovers) -> dict[str, Any]:
    """Return for each factor the SD of the residuals at each level, and largest over smallest."""
    out: dict[str, Any] = {}
    for factor, labels in left.levels.items():
        sds = {
            level: _sd(left.residual[np.array(labels) == level]) for level in dict.fromkeys(labels)
        }
        known = [sd for sd in sds.values() if sd is not None]
        ratio = max(known) / min(known) if len(known) > 1 and min(known) > 0 else None
        out[factor] = {"levels": sds, "ratio": ratio}
    return out


def _sd(values: Floats) -> float | None:
    return float(np.std(values, ddof=1)) if len(values) > 1 else None


def equal_spread(left: Leftovers) -> dict[str, Any]:
    """Return for each factor Levene's test of equal spread of the residuals, about the medians."""
    from trials.analysis.pingouin_adapter import levene

    out: dict[str, Any] = {}
    for factor, labels in left.levels.items():
        count = Counter(labels)
        usable = len(count) > 1 and min(count.values()) > 2 and np.ptp(left.residual) > 0
        if left.df < LEAST_DF or not usable:
            out[factor] = None
            continue
        found = levene(left.residual, labels)
        out[factor] = {
            "f": finite_or_none(found.f),
            "num_df": found.num_df,
            "den_df": found.den_df,
            "p": finite_or_none(found.p),
        }
    return out


def normal_shape(left: Leftovers) -> dict[str, Any] | None:
    """Return Shapiro and Wilk's test of the residuals."""
    from trials.analysis.pingouin_adapter import shapiro

    n = len(left.residual)
    if left.df < LEAST_DF or n > MOST_SHAPIRO or not np.ptp(left.residual) > 0:
        return None
    w, p = shapiro(left.residual / float(np.abs(left.residual).max()))  # it has a least size
    return {"w": finite_or_none(w), "p": finite_or_none(p)}


def unequal_spread(y: Floats, labels: tuple[str, ...], confidence: float) -> dict[str, Any]:
    """Return Welch's analysis and Games and Howell's pairs for one factor without groups.

    Both allow a spread for each level. Every level needs two values that differ.
    """
    from trials.analysis.pingouin_adapter import games_howell, welch_anova

    values = {level: y[np.array(labels) == level] for level in dict.fromkeys(labels)}
    levels = len(values)
    if levels < 2 or any(len(v) < 2 or not np.ptp(v) > 0 for v in values.values()):
        return {"welch": None, "games_howell": None}
    whole = welch_anova(y, labels)
    pairs = []
    for pair in games_howell(y, labels):
        reach = tukey.critical(confidence, levels, pair.df) * pair.se
        pairs.append(
            {
                "a": pair.a,
                "b": pair.b,
                "difference": pair.difference,
                "se": pair.se,
                "df": pair.df,
                "p": finite_or_none(pair.p),
                "interval": [pair.difference - reach, pair.difference + reach],
            }
        )
    return {
        "welch": {
            "f": finite_or_none(whole.f),
            "num_df": whole.num_df,
            "den_df": finite_or_none(whole.den_df),
            "p": finite_or_none(whole.p),
        },
        "games_howell": pairs,
    }
