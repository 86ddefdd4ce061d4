"""One response ready for analysis: rows of a layout with their numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from trials.analysis.centring import SMALLEST, Centred
from trials.analysis.findings import SetAside
from trials.errors import AnalysisError
from trials.model import Fit, FitOptions, Layout, fit_rows
from trials.model.layout import Floats
from trials.study.options import Options
from trials.words.naming import version_name


@dataclass(frozen=True)
class Data:
    """The rows that take part, and what is known of those that don't.

    ``y`` (n,) is on the scale of analysis: centred readings for differences, logs for ratios.
    ``items`` (n,) names the item of each row. ``labels`` holds what a person calls a factor, group
    or response where that is not its name. ``randomised``: levels were given out by chance.
    ``beside`` holds what else is known of each row, (n,), NaN where it isn't: the order of
    measuring, the time of day, and the conditions that the readings note.
    """

    name: str
    unit: str
    layout: Layout
    y: Floats
    centred: Centred
    items: tuple[str, ...]
    options: Options
    scale: Literal["difference", "ratio"] = "difference"
    better: Literal["high", "low"] = "high"
    primary: bool = True
    n_readings: int = 0
    n_failed: int = 0
    n_lost: int = 0
    n_never_made: int = 0  # of those lost
    set_aside: tuple[SetAside, ...] = ()
    runs: tuple[int, ...] | None = None
    labels: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)  # factor -> unit of its levels
    item_name: str = "item"
    randomised: bool = False
    beside: Mapping[str, Floats] = field(default_factory=dict)

    def label(self, name: str) -> str:
        """Return what a person calls a factor, group or response."""
        return self.labels.get(name) or name

    @property
    def n_items(self) -> int:
        """How many items took part."""
        return len(set(self.items))

    def version(self, levels: Mapping[str, str]) -> str:
        """Return levels as a person calls them."""
        return ", ".join(
            version_name(level, self.units.get(factor, ""), self.label(factor))
            for factor, level in levels.items()
        )

    def mean(self, value: float) -> float:
        """Return a mean on the scale of analysis as a person measured it."""
        if self.scale == "ratio":
            return _exp(value)
        return self.centred.restore(value)

    def gap(self, value: float) -> float:
        """Return a difference on the scale of analysis: itself, or the ratio it stands for."""
        return _exp(value) if self.scale == "ratio" else value


def fitted(data: Data, *, locate: bool = True) -> Fit:
    """Return the fit of the data by the options of the analysis.

    ``locate``: tell in which strata each term has its information, too.

    Raises
    ------
    AnalysisError : as :func:`trials.model.fit_rows`.
    """
    options = data.options
    return fit_rows(
        data.layout,
        data.y,
        FitOptions(options.interactions, options.sums, options.df, options.bounded, locate=locate),
    )


def _exp(value: float) -> float:
    """Return e to the power of a log; infinity where no float is large enough."""
    return math.exp(value) if value < 700 else math.inf


def on_scale(centred: Centred, scale: str, name: str, places: tuple[str, ...]) -> Floats:
    """Return readings on the scale of analysis, shape (n,).

    Raises
    ------
    AnalysisError : a ratio is asked for and some reading is zero or below; or readings differ by
        less than can be computed with.
    """
    if scale == "difference":
        reach = float(np.abs(centred.values).max(initial=0.0))
        if 0 < reach < SMALLEST:
            raise AnalysisError(
                "The readings differ by less than can be computed with.",
                code="analysis.not_finite",
                where=name,
                found=f"differences up to {reach:g}",
                allowed=f"differences from {SMALLEST} on",
                do="Write the whole column in a unit that suits the size of its differences.",
            )
        return centred.values
    values = centred.plain
    low = np.flatnonzero(values <= 0)
    if len(low):
        raise AnalysisError(
            "Ratios need values above zero.",
            code="table.not_positive",
            where=f"{name}, {places[int(low[0])]}",
            found=f"{values[low[0]]:g}",
            do="Compare by difference, or declare what counts as failed so that it is set aside.",
        )
    logs: Floats = np.log(values)
    return logs
