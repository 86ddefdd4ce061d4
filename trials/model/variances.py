"""What varies: which variance each row, and each member of a random group, takes its part from.

As a rule one variance belongs to the rows (the residual) and one to each random group. Where a
factor's levels may spread differently, the smallest thing that a level is given to (the row, or the
item where rows are readings) has a variance for each level.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from trials.model.layout import Codes, Layout, is_constant_within

RESIDUAL = "residual"


@dataclass(frozen=True)
class Component:
    """A variance: of a group by its path, or of the residual; ``level`` of the factor it is for."""

    path: str
    level: str | None = None


@dataclass(frozen=True)
class Members:
    """A random group: the member of each row (n,), and the component of each member.

    A member without a variance of its own has component -1.
    """

    codes: Codes
    component: Codes


@dataclass(frozen=True)
class Variances:
    """All components, those of the residual first; then the groups from large to small.

    ``rows`` (n,) gives the residual's component of each row.
    """

    components: tuple[Component, ...]
    rows: Codes
    groups: tuple[Members, ...]

    @property
    def residuals(self) -> int:
        """How many components belong to the residual."""
        return len(set(self.rows.tolist()))


def variances(layout: Layout, spread_by: str | None = None) -> Variances:
    """Return the components of a layout.

    Parameters
    ----------
    spread_by : factor whose levels each have a variance between the items alike. A group that holds
        single items only at a level has no component there: it and the items are one.

    Examples
    --------
    >>> from trials.model import Structure, make_layout
    >>> layout = make_layout(Structure(["feed"]), {"feed": list("xxyy")})
    >>> [c.level for c in variances(layout, "feed").components]
    ['x', 'y']
    """
    if spread_by is None:
        return _one_each(layout)
    split = layout.item if any(g.path == layout.item for g in layout.random) else None
    factor = layout.factors[spread_by]
    levels = factor.levels
    components = [Component(RESIDUAL, level) for level in levels if split is None]
    components = components or [Component(RESIDUAL)]
    rows = factor.codes if split is None else np.zeros(layout.n, dtype=np.intp)
    groups: list[Members] = []
    things = np.arange(layout.n) if split is None else layout.grouping(split).coded.codes
    for grouping in layout.random:
        codes, size = grouping.coded.codes, grouping.members
        first = len(components)
        if grouping.path == split:
            components += [Component(grouping.path, level) for level in levels]
            own = np.zeros(size, dtype=np.intp)
            own[codes] = first + factor.codes
        else:
            components.append(Component(grouping.path))
            own = np.full(size, first, dtype=np.intp)
            own[_holds_single_things(codes, size, things, factor.codes)] = -1
        groups.append(Members(codes, own))
    return Variances(tuple(components), rows, tuple(groups))


def _one_each(layout: Layout) -> Variances:
    groups = layout.random
    components = (Component(RESIDUAL), *(Component(g.path) for g in groups))
    own = (np.full(g.members, 1 + i, dtype=np.intp) for i, g in enumerate(groups))
    return Variances(
        components,
        np.zeros(layout.n, dtype=np.intp),
        tuple(Members(g.coded.codes, c) for g, c in zip(groups, own, strict=True)),
    )


def _holds_single_things(codes: Codes, size: int, things: Codes, levels: Codes) -> np.ndarray:
    """Return which members stand at a level of which every member holds one thing, (size,)."""
    pairs = np.unique(np.stack([codes, things], axis=1), axis=0)
    held = np.bincount(pairs[:, 0], minlength=size)
    several = np.zeros(int(levels.max(initial=0)) + 1, dtype=bool)
    several[levels[held[codes] > 1]] = True
    single = np.ones(size, dtype=bool)
    single[codes[several[levels]]] = False
    return single


def is_chain(groups: tuple[Members, ...]) -> bool:
    """Return whether every group lies in the one before: nested, none crossing another."""
    return all(is_constant_within(outer.codes, inner.codes) for outer, inner in pairwise(groups))
