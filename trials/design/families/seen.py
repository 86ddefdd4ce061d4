"""A layout as the recogniser sees it, and which of its terms can be told apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from trials.model.strata import orthonormal
from trials.model.terms import sum_to_zero

if TYPE_CHECKING:
    from trials.design.factorials import Codes

Floats = npt.NDArray[np.float64]
NEAR = 1e-7
MOST_COLUMNS = 600  # of a table of terms; beyond it only single factors are looked at


@dataclass(frozen=True)
class Seen:
    """What was drawn, without how.

    Parameters
    ----------
    levels : number of levels of each factor.
    codes : level codes of each factor, shape (n,).
    sites : the group each factor is applied to; None: the item.
    groups : member codes of each group, shape (n,).
    above : for each group the groups it is nested in.
    control : the level that is the control, of factors that have one.
    """

    levels: Mapping[str, int]
    codes: Mapping[str, Codes]
    sites: Mapping[str, str | None] = field(default_factory=dict)
    groups: Mapping[str, Codes] = field(default_factory=dict)
    above: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    control: Mapping[str, int] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """The factors, in the order of the study."""
        return tuple(self.levels)

    @property
    def n(self) -> int:
        """How many items."""
        columns = [*self.codes.values(), *self.groups.values()]
        return len(columns[0]) if columns else 0

    def site(self, factor: str) -> str | None:
        """Return the group that a factor is applied to; None for the item."""
        return self.sites.get(factor)

    def holding(self, site: str | None) -> tuple[str, ...]:
        """Return the groups that hold this unit."""
        return tuple(self.groups) if site is None else self.above.get(site, ())

    def table(self, names: Sequence[str]) -> Codes:
        """Return the codes of some factors, shape (n, factors)."""
        if not names:
            return np.zeros((self.n, 0), dtype=np.intp)
        return np.column_stack([self.codes[name] for name in names])

    def at(self, site: str | None, names: Sequence[str]) -> Seen:
        """Return the part that is about some factors of one unit, one row for each such unit."""
        rows = np.arange(self.n)
        if site is not None:
            _, rows = np.unique(self.groups[site], return_index=True)
        return Seen(
            levels={name: self.levels[name] for name in names},
            codes={name: self.codes[name][rows] for name in names},
            sites=dict.fromkeys(names),
            groups={group: self.groups[group][rows] for group in self.holding(site)},
            above={
                group: tuple(g for g in self.above.get(group, ()) if g in self.holding(site))
                for group in self.holding(site)
            },
            control={name: level for name, level in self.control.items() if name in names},
        )


def recipe_codes(table: Codes) -> tuple[Codes, Codes]:
    """Return the recipe of each row (n,), and the different recipes (recipes, factors)."""
    recipes, inverse = np.unique(table, axis=0, return_inverse=True)
    return inverse.reshape(-1).astype(np.intp), recipes


def indicator(codes: Codes) -> Floats:
    """Return one column of 0 and 1 for each member that occurs."""
    table: Floats = (codes[:, None] == np.unique(codes)).astype(float)
    return table


def term_columns(seen: Seen, term: Sequence[str]) -> Floats:
    """Return the columns of one term, each factor coded to sum to zero."""
    out = np.ones((seen.n, 1))
    for name in term:
        own = sum_to_zero(seen.levels[name])[seen.codes[name]]
        out = (out[:, :, None] * own[:, None, :]).reshape(seen.n, -1)
    return out


def terms_up_to(names: Sequence[str], order: int) -> tuple[tuple[str, ...], ...]:
    """Return single factors, pairs, and so on, as tuples of names."""
    return tuple(term for size in range(1, order + 1) for term in combinations(names, size))


def kept_shares(X: Floats, others: Floats) -> Floats:
    """Return what is left of the directions of ``X`` once the space of ``others`` is taken out.

    Returns
    -------
    Canonical efficiency factors, one a direction, smallest first; 0 is lost, 1 untouched.
    """
    own, away = orthonormal(X), orthonormal(others)
    cross = away.T @ own
    shares = 1.0 - np.linalg.eigvalsh(cross.T @ cross)
    return np.sort(np.clip(shares, 0.0, 1.0))


def lost_to(
    seen: Seen, terms: Sequence[tuple[str, ...]], blocks: Sequence[Codes]
) -> tuple[tuple[str, ...], tuple[str, ...], float]:
    """Return terms wholly and partly lost to blocks, and the smallest share that stays of the rest.

    For tables in which terms don't disturb each other, such as whole factorials.
    """
    away = np.hstack([np.ones((seen.n, 1)), *(indicator(block) for block in blocks)])
    gone, partly, least = [], [], 1.0
    for term in terms:
        shares = kept_shares(term_columns(seen, term), away)
        if len(shares) == 0 or shares.max() < NEAR:
            gone.append(":".join(term))
        elif shares.min() < 1 - NEAR:
            partly.append(":".join(term))
            least = min(least, float(shares[shares > NEAR].min()))
    return tuple(gone), tuple(partly), least


def not_told(
    seen: Seen, terms: Sequence[tuple[str, ...]], blocks: Sequence[Codes]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return terms that can't be told at all, or in part only, beside each other and the blocks.

    A single factor is judged beside single factors, a pair beside single factors and pairs.
    """
    away = np.hstack([np.ones((seen.n, 1)), *(indicator(block) for block in blocks)])
    columns = {term: term_columns(seen, term) for term in terms}
    gone, partly = [], []
    for term in terms:
        beside = [columns[t] for t in terms if t != term and len(t) <= len(term)]
        if sum(x.shape[1] for x in beside) > MOST_COLUMNS:
            beside = [columns[t] for t in terms if t != term and len(t) == 1]
        rest = np.hstack([away, *beside])
        left = np.linalg.matrix_rank(np.hstack([rest, columns[term]]), tol=NEAR * seen.n)
        left -= np.linalg.matrix_rank(rest, tol=NEAR * seen.n)
        if left == 0:
            gone.append(":".join(term))
        elif left < columns[term].shape[1]:
            partly.append(":".join(term))
    return tuple(gone), tuple(partly)
