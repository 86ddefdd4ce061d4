"""The other layouts of a plan: drawn or listed once for all that is tested by them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from trials.design.shuffle import (
    MOST_LISTED,
    Alone,
    Moving,
    Shuffler,
    all_layouts,
    moving_alone,
    plan_layout,
    plan_shuffler,
    shuffles,
)
from trials.design.values import Plan
from trials.model.layout import Codes
from trials.randomness import stream
from trials.study.options import Options

MOST_NUMBERS = 60_000_000  # rows times shuffles held at once
MOST_CHAINED = 1_999  # draws of one factor by a chain, which takes a millisecond for each


@dataclass(frozen=True)
class PlanLayouts:
    """The layouts that tests of a plan take: its own, and ``resamples`` others.

    ``moving`` and ``alone``: what moves while all else is held, and how many such layouts there
    are; None: all factors move.
    """

    plan: Plan
    seed: int
    resamples: int
    moving: Moving | None = None
    alone: Alone | None = None

    def only(self, factor: str, pair: tuple[int, int] | None = None) -> PlanLayouts | None:
        """Return the layouts in which one factor moves and the others lie as in the plan.

        ``pair``: only units with one of these two levels trade, the others stay. None where it is
        the plan's only factor (its tests need no such set), or there are too few of these layouts
        for a p of 0.05.
        """
        moving = Moving(factor, pair)
        if moving not in self._only:
            several = len(self.plan.factors) > 1
            self._only[moving] = self._moving(moving) if several else None
        return self._only[moving]

    def _moving(self, moving: Moving) -> PlanLayouts | None:
        alone = moving_alone(self.plan, moving)
        if not alone.enough:
            return None
        draws = min(self.resamples, MOST_CHAINED) if alone.chained else self.resamples
        return replace(self, resamples=draws, moving=moving, alone=alone)

    @cached_property
    def _only(self) -> dict[Moving, PlanLayouts | None]:
        return {}

    @cached_property
    def own(self) -> Mapping[str, Codes]:
        """The level codes of the plan itself, (rows,) each."""
        return plan_layout(self.plan)

    @cached_property
    def exchanges(self) -> Codes | None:
        """Exchanges of places drawn from the plan's set, (resamples, rows): where each row takes.

        None where the plan's set isn't made by them, and by new names of levels.
        """
        if self.plan.parts:
            return None
        grid = self._shuffler.grid
        return None if grid is None else grid.exchanges(self.resamples, self._chance())

    @cached_property
    def names(self) -> Mapping[str, Codes]:
        """The new names that go with ``exchanges``: of each level of a factor, (resamples, levels).

        Only of factors whose levels trade names. No F of a whole term depends on them.
        """
        rng = stream(self.seed, "new names in the plan's own shuffle")
        out = {}
        for name, free in self._shuffler.renamed.items():
            levels = int(self.own[name].max()) + 1
            out[name] = np.tile(np.arange(levels, dtype=np.intp), (self.resamples, 1))
            places = np.array(free, dtype=np.intp)
            mixed = rng.permuted(np.tile(places, (self.resamples, 1)), axis=1)
            out[name][:, places] = mixed
        return out

    @cached_property
    def drawn(self) -> Mapping[str, Codes]:
        """The level codes in layouts drawn from the plan's set, (resamples, rows) each.

        With ``exchanges`` these are the layouts that undo them: moving the response by an exchange
        gives the F of the layout moved the other way.
        """
        if self.exchanges is not None:
            back = np.argsort(self.exchanges, axis=1)
            moved = {name: codes[back] for name, codes in self.own.items()}
            for name, new in self.names.items():
                moved[name] = np.take_along_axis(new, moved[name], axis=1)
            return moved
        shape = (self.resamples, len(self.plan.rows))
        held = {f: self.moving is not None and self.moving.factor != f for f in self.own}
        out = {
            name: np.broadcast_to(codes, shape) if held[name] else np.empty(shape, np.intp)
            for name, codes in self.own.items()
        }
        for number, layout in enumerate(self._draws()):
            for name, codes in layout.items():
                if not held[name]:
                    out[name][number] = codes
        return out

    def _draws(self) -> Iterator[dict[str, Codes]]:
        return shuffles(self.plan, self._chance(), self.resamples, self.moving)

    @cached_property
    def _shuffler(self) -> Shuffler:
        return plan_shuffler(self.plan, self.moving)

    def _chance(self) -> np.random.Generator:
        if self.moving is None:
            return stream(self.seed, "the plan's own shuffle")
        levels = "" if self.moving.pair is None else " {} {}".format(*self.moving.pair)
        return stream(self.seed, f"the shuffle of {self.moving.factor}{levels}")

    @cached_property
    def _listed(self) -> dict[tuple[str, ...], Mapping[str, Codes] | None]:
        return {}

    def every(self, names: Sequence[str]) -> Mapping[str, Codes] | None:
        """Return all layouts of some factors, where they are few enough to be listed."""
        key = tuple(names)
        if key not in self._listed:
            if self.alone is not None:
                many = self.alone.size > MOST_LISTED
            else:
                size = self.plan.shuffle.size
                many = size is not None and size > MOST_LISTED and set(key) == set(self.own)
            listed = None if many else all_layouts(self.plan, key, moving=self.moving)
            self._listed[key] = listed
        return self._listed[key]


def layouts_of(plan: Plan, options: Options) -> PlanLayouts:
    """Return the layouts that tests take, drawn as many times as the options ask for."""
    most = MOST_NUMBERS // max(len(plan.rows), 1)
    return PlanLayouts(plan, options.seed, min(options.resamples, most))
