"""What a layout can't tell apart, in names: terms from terms, terms from groups.

Each term is taken as the columns it adds to its own margins (for ``a:b`` those beyond the mean, a
and b). The share that one term's columns have in another's is the mean of their squared canonical
correlations: 1 means the same columns, so that nothing tells the two apart.

Source of the alias matrix: G. E. P. Box and K. B. Wilson (1951), J. R. Statist. Soc. B 13, 1-45.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from trials.design.values import Alias
from trials.model import Layout
from trials.model.layout import Floats, is_constant_within
from trials.model.skeleton import ungrouped
from trials.model.strata import orthonormal, split
from trials.model.terms import Design, make_design, rows_of, term_name, treatment_terms

LEAST = 0.01  # a smaller share is left out: it widens an interval by less than 1 %
WHOLE = 1 - 1e-8
MOST_COLUMNS = 3_000  # of terms beyond the model's own; above this they are not looked at

Factors = tuple[str, ...]


@dataclass(frozen=True)
class _Space:
    """The columns a term adds to its margins, orthonormal, shape (n, df)."""

    factors: Factors
    basis: Floats

    @property
    def df(self) -> int:
        return int(self.basis.shape[1])


def find_aliases(layout: Layout, interactions: int = 2) -> tuple[Alias, ...]:
    """Return what can't be told apart, wholly first, then by share.

    Terms of the model (interactions of up to ``interactions`` factors) are held against each
    other, against those of one factor more, and against every group that a term's factors aren't
    applied to, crossings of groups included. A share below :data:`LEAST` is left out.

    Examples
    --------
    >>> from trials.model import Structure, make_layout
    >>> half = {"a": list("1122"), "b": list("1212"), "c": list("2112")}
    >>> found = find_aliases(make_layout(Structure(["a", "b", "c"]), half))
    >>> [(alias.term, *alias.mixed_with) for alias in found]
    [('a', 'b:c'), ('b', 'a:c'), ('c', 'a:b')]
    """
    if not layout.factors:
        return ()
    spaces = _spaces(layout, interactions)
    design = make_design(ungrouped(layout), interactions)
    pairs = list(_pairs(layout, design, spaces, interactions))
    own = [space for space in spaces if len(space.factors) <= interactions]
    found = [*pairs, *_with_groups(layout, own)]
    wholly = {alias.term for alias in found if alias.whole}
    wholly |= {name for alias in pairs if alias.whole for name in alias.mixed_with}
    found += [alias for alias in _together(design) if alias.term not in wholly]
    return tuple(sorted(found, key=lambda alias: (not alias.whole, -round(alias.share, 9))))


def _spaces(layout: Layout, interactions: int) -> list[_Space]:
    names = tuple(layout.factors)
    terms = treatment_terms(names, interactions + 1)
    sizes = {name: len(layout.factors[name].levels) - 1 for name in names}
    beyond = [t for t in terms if len(t) > interactions]
    if sum(int(np.prod([sizes[f] for f in t])) for t in beyond) > MOST_COLUMNS:
        terms = treatment_terms(names, interactions)
    codes = {name: coded.codes for name, coded in layout.factors.items()}
    return [_Space(t, _beyond_margins(layout, t, codes)) for t in terms if all(sizes[f] for f in t)]


def _beyond_margins(layout: Layout, term: Factors, codes: Mapping[str, np.ndarray]) -> Floats:
    margins = [np.ones((layout.n, 1))]
    margins += [
        rows_of(layout, part, codes)
        for size in range(1, len(term))
        for part in combinations(term, size)
    ]
    base = orthonormal(np.hstack(margins) / np.sqrt(layout.n))
    own = rows_of(layout, term, codes) / np.sqrt(layout.n)
    rest = own - base @ (base.T @ own)
    return orthonormal(rest - base @ (base.T @ rest))


def _pairs(
    layout: Layout, design: Design, spaces: Sequence[_Space], interactions: int
) -> Iterator[Alias]:
    """Yield the pairs of terms that share columns, the simpler one first."""
    shared = _overlaps(spaces)
    entries = _Entries(layout, design)
    for i, j in combinations(range(len(spaces)), 2):
        one, other = spaces[i], spaces[j]
        if len(one.factors) > interactions:
            break
        if not one.df or not other.df or set(one.factors) < set(other.factors):
            continue
        if len(one.factors) == len(other.factors) and other.df < one.df:
            one, other = other, one
        share = _tidy(float(shared[i, j]) / one.df)
        if share >= LEAST:
            yield Alias(
                term=term_name(one.factors),
                mixed_with=(term_name(other.factors),),
                share=share,
                whole=share == 1.0,
                entry=entries.of(one, other),
            )


def _overlaps(spaces: Sequence[_Space]) -> Floats:
    """Return the summed squared canonical correlations of every two terms, (terms, terms)."""
    filled = [s for s in spaces if s.df]
    out = np.zeros((len(spaces), len(spaces)))
    if not filled:
        return out
    columns = np.hstack([s.basis for s in filled])
    starts = np.cumsum([0, *(s.df for s in filled)])[:-1]
    squares = (columns.T @ columns) ** 2
    sums = np.add.reduceat(np.add.reduceat(squares, starts, axis=0), starts, axis=1)
    places = [place for place, s in enumerate(spaces) if s.df]
    out[np.ix_(places, places)] = sums
    return out


class _Entries:
    """The alias matrix of the model: what each coefficient takes up of a term left out."""

    def __init__(self, layout: Layout, design: Design) -> None:
        self.layout = layout
        self.design = design
        self.codes = {name: coded.codes for name, coded in layout.factors.items()}
        self.inverse = np.linalg.pinv(design.XK)

    def of(self, term: _Space, other: _Space) -> float | None:
        """Return the entry of two terms of two-level factors; None where there is none."""
        names = {*term.factors, *other.factors}
        if any(len(self.layout.factors[name].levels) != 2 for name in names):
            return None
        place = self._place(term)
        if place is None or self._place(other) is not None:
            return None
        column = rows_of(self.layout, other.factors, self.codes)[:, 0]
        entry = float(self.inverse[place] @ column)
        return 0.0 if abs(entry) < 1e-12 else entry

    def _place(self, space: _Space) -> int | None:
        """Return a term's place among the columns that the model keeps."""
        name = term_name(space.factors)
        for term in self.design.terms:
            if term.name == name and term.role == "treatment":
                where = np.flatnonzero(self.design.kept == term.columns.start)
                return int(where[0]) if len(where) else None
        return None


def _with_groups(layout: Layout, spaces: Sequence[_Space]) -> Iterator[Alias]:
    """Yield what of each term lies between the members of groups it isn't applied to."""
    strata = split(layout)[1:]
    for space in spaces:
        if not space.df:
            continue
        shares = {
            stratum.path: float(((stratum.basis.T @ space.basis) ** 2).sum()) / space.df
            for stratum in strata
            if not _is_applied(layout, space.factors, stratum.path)
        }
        shares = {path: _tidy(share) for path, share in shares.items() if share >= LEAST}
        name = term_name(space.factors)
        if len(shares) > 1 and sum(shares.values()) > WHOLE:
            yield Alias(term=name, mixed_with=tuple(shares), share=1.0, whole=True)
            continue
        for path, share in shares.items():
            yield Alias(term=name, mixed_with=(path,), share=share, whole=share == 1.0)


def _is_applied(layout: Layout, term: Factors, path: str) -> bool:
    """Return whether all factors of a term are applied to this group or to what holds it."""
    inner = layout.grouping(path).coded.codes
    units = {grouping.path: grouping.coded.codes for grouping in layout.groupings}
    for factor in term:
        unit = layout.structure.unit_of(factor)
        if unit is None or unit not in units or not is_constant_within(units[unit], inner):
            return False
    return True


def _together(design: Design) -> Iterator[Alias]:
    """Yield terms that lose directions only to several others taken together."""
    kept = set(design.kept.tolist())
    of_column = [""] * design.X.shape[1]
    for term in design.terms:
        of_column[term.columns] = [term.name] * (term.columns.stop - term.columns.start)
    for term in design.treatments:
        columns = range(term.columns.start, term.columns.stop)
        lost = [column for column in columns if column not in kept]
        inside = {term_name(t) for t in treatment_terms(term.factors, len(term.factors))}
        used = np.abs(design.spread[:, lost]).max(axis=1, initial=0.0) > 1e-9
        names = dict.fromkeys(of_column[column] for column in design.kept[used])
        others = tuple(name for name in names if name not in inside and name != "mean")
        if len(others) > 1:  # one alone is among the pairs
            share = len(lost) / len(columns)
            yield Alias(term=term.name, mixed_with=others, share=share, whole=share == 1.0)


def _tidy(share: float) -> float:
    return 1.0 if share > WHOLE else share
