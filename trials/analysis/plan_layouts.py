"""The other layouts of a plan: drawn or listed once for all that is tested by them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trials.design.shuffle import MOST_LISTED, all_layouts, plan_layout, plan_shuffler, shuffles
from trials.design.values import Plan
from trials.model.layout import Codes
from trials.randomness import stream
from trials.study.options import Options

MOST_NUMBERS = 60_000_000  # rows times shuffles held at once


@dataclass(frozen=True)
class PlanLayouts:
    """The layouts that tests of a plan take: its own, and ``resamples`` others."""

    plan: Plan
    seed: int
    resamples: int

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
        grid = plan_shuffler(self.plan).grid
        return None if grid is None else grid.exchanges(self.resamples, self._chance())

    @cached_property
    def names(self) -> Mapping[str, Codes]:
        """The new names that go with ``exchanges``: of each level of a factor, (resamples, levels).

        Only of factors whose levels trade names. No F of a whole term depends on them.
        """
        rng = stream(self.seed, "new names in the plan's own shuffle")
        out = {}
        for name, free in plan_shuffler(self.plan).renamed.items():
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
        out = {
            name: np.empty((self.resamples, len(codes)), np.intp)
            for name, codes in self.own.items()
        }
        for number, layout in enumerate(shuffles(self.plan, self._chance(), self.resamples)):
            for name, codes in layout.items():
                out[name][number] = codes
        return out

    def _chance(self) -> np.random.Generator:
        return stream(self.seed, "the plan's own shuffle")

    @cached_property
    def _listed(self) -> dict[tuple[str, ...], Mapping[str, Codes] | None]:
        return {}

    def every(self, names: Sequence[str]) -> Mapping[str, Codes] | None:
        """Return all layouts of some factors, where they are few enough to be listed."""
        key = tuple(names)
        if key not in self._listed:
            size = self.plan.shuffle.size
            many = size is not None and size > MOST_LISTED and set(key) == set(self.own)
            self._listed[key] = None if many else all_layouts(self.plan, key)
        return self._listed[key]


def layouts_of(plan: Plan, options: Options) -> PlanLayouts:
    """Return the layouts that tests take, drawn as many times as the options ask for."""
    most = MOST_NUMBERS // max(len(plan.rows), 1)
    return PlanLayouts(plan, options.seed, min(options.resamples, most))
