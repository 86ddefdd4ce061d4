"""Two items whose labels may have been exchanged, by what their numbers say.

The logarithms of all items are laid out by what was done to them and by the groups they belong to:
each version and each group member moves the middle of its items. For every pair of items it is
worked out how much less is left over if the two exchange their numbers. All columns count together
(the ratio of the determinants of what is left over, S. S. Wilks, 1932, Biometrika 24, 471-494).

A pair is asked about only if each of the two is far from its own place, in opposite directions, and
both move into place when their labels are exchanged. What is usual for a place is worked out
without the two. One odd result alone is never asked about here, nor where another item of the same
versions is odd in the same way: what was done to an item may have done that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from trials.design.values import Plan, PlanRow
from trials.files import word_as_typed
from trials.ingest.asking import KEEP_OR_ASIDE
from trials.record.values import Question, Row, worded
from trials.reduction import Column
from trials.words.keeping import Kept, kept, kept_list
from trials.words.quantity_names import kept_quantity

Name = Callable[[str, str], str]  # a factor or a group, its level or member -> as a sentence has it
Floats = NDArray[np.float64]

# how much better an exchange has to fit (twice the logarithm of the likelihoods). Measured on 600
# invented clean classes of 48: asked in 2 of 1000 at 20, in 20 of 1000 at 15; two labels exchanged
# that are 6 spreads apart are found in 85 of 100, and in 92 of 100
_EVIDENCE = 20.0
_CLOSE = 4.0  # another partner whose evidence is nearly that of the best is told of
_FAR = 2.5  # spreads that either has to be away from its own place
_NEAR = 2.5  # and may be away from the other's
_FEWEST = 8  # items that may differ freely once everything is laid out
_MOST = 500  # items: labels of more aren't written by hand
_MOST_PAIRS = 5
_FEWEST_MATES = 4  # items of a group member that tell where it lies
_LEAST_SPREAD = 0.01  # powers of ten: 2 %, what a reading may vary by anyway
_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Laid:
    """All items laid out: ``x`` what was done to each, ``y`` the logarithms, a column a quantity.

    ``names``: what each column of ``x`` but the first stands for, as (factor or group, its level).
    """

    rows: tuple[PlanRow, ...]
    columns: tuple[Column, ...]
    names: tuple[tuple[str, str], ...]
    x: Floats
    y: Floats

    def exchanged(self, i: int, j: int) -> Laid:
        """Return the same with the numbers of two items exchanged."""
        y = self.y.copy()
        y[[i, j]] = y[[j, i]]
        return Laid(self.rows, self.columns, self.names, self.x, y)


@dataclass(frozen=True)
class Beside:
    """One column of two items beside the others, in spreads: as labelled, and exchanged.

    ``moves``: (factor or group, its level or member) -> by how much it moves the middle.
    """

    column: Column
    away: tuple[float, float]
    exchanged: tuple[float, float]
    moves: Mapping[tuple[str, str], float]

    @property
    def gain(self) -> float:
        """Squared spreads that the exchange settles."""
        return sum(a * a for a in self.away) - sum(e * e for e in self.exchanged)


def exchanged_labels(
    columns: Sequence[Column], rows: Sequence[Row], plan: Plan, name: Name
) -> list[Question]:
    """Return the questions about pairs of items whose numbers fit each other's place.

    Parameters
    ----------
    rows : the readings of items that worked, without the numbers that other questions are about.
    name : how a sentence names a version of a factor, or a member of a group.
    """
    questions: list[Question] = []
    laid = laid_out(columns, rows, plan)
    used: set[int] = set()
    while laid is not None and len(questions) < _MOST_PAIRS:
        found = [pair for pair in _pairs(laid) if not used & {*pair[0]}]
        if not found:
            break
        (i, j), beside, evidence = found[0]
        others = [
            laid.rows[next(iter({*pair} - {i, j}))].item
            for pair, _, close in found
            if len({*pair} & {i, j}) == 1 and close > evidence - _CLOSE
        ]
        used |= {i, j}
        questions.append(_asked((laid.rows[i], laid.rows[j]), beside, rows, name, others[:3]))
        laid = laid.exchanged(i, j)
    return questions


def laid_out(columns: Sequence[Column], rows: Sequence[Row], plan: Plan) -> Laid | None:
    """Return all measured items laid out; None where they are too few to say anything.

    A column takes part that nearly all items have, and an item that has all these columns.
    """
    found: dict[str, dict[str, list[float]]] = {}
    floats: dict[Decimal, float] = {}  # the same numbers come again and again
    for row in rows:
        for cell in row.cells:
            if (value := cell.value) is not None:
                if value not in floats:
                    floats[value] = float(value)
                items = found.setdefault(cell.column, {})
                items.setdefault(row.item, []).append(floats[value])
    middles = {
        column.name: {
            item: float(np.mean(np.log10(values)))
            for item, values in found.get(column.name, {}).items()
            if min(values) > 0
        }
        for column in columns
        if not (column.surroundings or column.spans or column.per == "item")
    }
    most = max(map(len, middles.values()), default=0)
    taking = [c for c in columns if len(middles.get(c.name, ())) >= max(1, 0.9 * most)]
    mine = tuple(r for r in plan.rows if taking and all(r.item in middles[c.name] for c in taking))
    if not 2 * _FEWEST <= len(mine) <= _MOST:
        return None
    names, x = _indicators(mine, plan)
    y = np.array([[middles[c.name][row.item] for c in taking] for row in mine])
    return Laid(mine, tuple(taking), tuple(names), x, y)


def _indicators(rows: Sequence[PlanRow], plan: Plan) -> tuple[list[tuple[str, str]], Floats]:
    """Return one column for each version of each factor and each member of a group, and a 1."""
    names: list[tuple[str, str]] = []
    columns = [np.ones(len(rows))]
    parts = [(factor.name, [row.factors[factor.name] for row in rows]) for factor in plan.factors]
    for group in plan.groups:
        mine = [row.groups[group.name] for row in rows]
        if len(set(mine)) * _FEWEST_MATES <= len(mine):
            parts.append((group.name, mine))
    for part, mine in parts:
        for one in dict.fromkeys(mine):
            names.append((part, one))
            columns.append(np.array([float(own == one) for own in mine]))
    return names, np.column_stack(columns)


def _evidence(laid: Laid) -> Floats:
    """Return for each pair of items how much better their exchange fits (items x items)."""
    basis, sizes, _ = np.linalg.svd(laid.x, full_matrices=False)
    basis = basis[:, sizes > sizes[0] * _TOLERANCE]
    free = len(laid.x) - basis.shape[1]
    if free < _FEWEST:
        return np.zeros((len(laid.x), len(laid.x)))
    keep = np.eye(len(laid.x)) - basis @ basis.T
    left = keep @ laid.y
    own = np.diagonal(keep)
    weight = own[:, None] + own[None, :] - 2 * keep
    gap = laid.y[None, :, :] - laid.y[:, None, :]
    turned = left[:, None, :] - left[None, :, :]
    cross = turned[..., :, None] * gap[..., None, :]
    floor = free * _LEAST_SPREAD**2 * np.eye(laid.y.shape[1])
    before = left.T @ left + floor
    after = before + cross + np.swapaxes(cross, -1, -2)
    after += weight[..., None, None] * gap[..., :, None] * gap[..., None, :]
    ratio = np.linalg.det(before) / np.maximum(np.linalg.det(after), 1e-300)
    return np.asarray(free * np.log(ratio), dtype=np.float64)


def _pairs(laid: Laid) -> list[tuple[tuple[int, int], Beside, float]]:
    """Return the pairs whose exchange puts both in place, best first, with the telling column."""
    evidence = np.triu(_evidence(laid), 1)
    found = []
    for i, j in zip(*np.nonzero(evidence >= _EVIDENCE), strict=True):
        pair = (int(i), int(j))
        if laid.rows[i].factors == laid.rows[j].factors:
            continue
        beside = max(_beside(laid, pair), key=lambda one: round(one.gain, 6), default=None)
        if beside is not None and _fits(beside):
            found.append((pair, beside, float(evidence[i, j])))
    return sorted(found, key=lambda one: (-round(one[2], 6), one[0]))


def _fits(beside: Beside) -> bool:
    first, second = beside.away
    return (
        first * second < 0
        and min(abs(first), abs(second)) >= _FAR
        and max(map(abs, beside.exchanged)) <= _NEAR
    )


def _beside(laid: Laid, pair: tuple[int, int]) -> Iterator[Beside]:
    """Yield each column of two items beside a fit of all others.

    Nothing where the others don't say what is usual at the place of one of them, or another item
    of the same versions is odd in the same way.
    """
    kept = np.ones(len(laid.rows), dtype=bool)
    kept[list(pair)] = False
    x = laid.x[kept]
    fit, _, rank, _ = np.linalg.lstsq(x, laid.y[kept], rcond=_TOLERANCE)
    inverse = np.linalg.pinv(x.T @ x, rcond=_TOLERANCE, hermitian=True)
    here = laid.x[list(pair)]
    if np.abs(here @ inverse @ (x.T @ x) - here).max() > 1e-6:
        return
    left = laid.y - laid.x @ fit
    wide = np.sqrt(1 + np.einsum("ij,jk,ik->i", here, inverse, here))
    free = len(x) - int(rank)
    mates = [
        [k for k, row in enumerate(laid.rows) if row.factors == laid.rows[one].factors
         and k not in pair] for one in pair
    ]  # fmt: skip
    i, j = pair
    for c, column in enumerate(laid.columns):
        spread = max(float(np.sqrt(left[kept, c] @ left[kept, c] / free)), _LEAST_SPREAD)
        if any(
            left[k, c] / left[one, c] > 0.5
            for one, own in zip(pair, mates, strict=True)
            for k in own
        ):
            continue
        shift = laid.y[j, c] - laid.y[i, c]
        away = (left[i, c] / wide[0] / spread, left[j, c] / wide[1] / spread)
        new = ((left[i, c] + shift) / wide[0] / spread, (left[j, c] - shift) / wide[1] / spread)
        moves = dict(zip(laid.names, map(float, fit[1:, c]), strict=True))
        yield Beside(column, (float(away[0]), float(away[1])), (float(new[0]), float(new[1])),
                     moves)  # fmt: skip


def _asked(
    pair: tuple[PlanRow, PlanRow],
    beside: Beside,
    rows: Sequence[Row],
    name: Name,
    others: Sequence[str],
) -> Question:
    own, other = pair
    mine = [row for row in rows if row.item in (own.item, other.item)]
    mine.sort(key=lambda row: row.item != own.item)
    parts = _telling(beside, own, other)
    here, there = (
        kept_list([name(part, (row.factors | row.groups)[part]) for part in parts]) for row in pair
    )
    why = kept(
        "The {column} of {item} looks like {there}, that of {other} like {here}. As labelled they "
        "are {away} away from what is usual for their kind; exchanged, {exchanged}. (One spread is "
        "how much like items differ.)",
        column=kept_quantity(beside.column.name),
        item=own.item,
        there=there,
        other=other.item,
        here=here,
        away=_spreads(beside.away),
        exchanged=_spreads(beside.exchanged),
    )
    if others:
        why += kept("{items} would fit nearly as well.", items=kept_list(others, "or"))
    place = mine[0].place
    found = kept(
        "{item} and {other} fit each other's place better than their own",
        item=own.item,
        other=other.item,
    )
    return Question(
        id="",
        code="labels_exchanged",
        file=place.file,
        sheet=place.sheet,
        row=place.row,
        item=own.item,
        column=None,
        **worded(found, why),
        do=f"correct {word_as_typed(other.item)}, if somebody knows that the labels were "
        f"exchanged; {KEEP_OR_ASIDE} Numbers alone don't settle it: look for a note or a photo, "
        "or ask who labelled them.",
        acts_on="swap",
        places=tuple(row.place for row in mine),
        proposal=other.item,
        partner=other.item,
    )


def _telling(beside: Beside, own: PlanRow, other: PlanRow) -> list[str]:
    """Return the factors and groups that account for most of what parts the two, at most three."""
    mine, theirs = own.factors | own.groups, other.factors | other.groups
    gaps = {
        part: abs(beside.moves[part, mine[part]] - beside.moves[part, theirs[part]])
        for part in mine
        if mine[part] != theirs[part] and (part, mine[part]) in beside.moves
    }
    ranked = sorted(gaps, key=lambda part: -round(gaps[part], 9))
    return [part for part in ranked if gaps[part] >= gaps[ranked[0]] / 3][:3]


def _spreads(two: tuple[float, float]) -> Kept:
    low, high = sorted(round(abs(one)) for one in two)
    if low != high:
        return kept("{low} and {high} spreads", low=low, high=high)
    return kept("{n} spread" if low == 1 else "{n} spreads", n=low)
