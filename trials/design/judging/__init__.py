"""Judging a plan before anything is built.

What it can't tell apart, what is tied to what, the smallest difference it would find, and what the
loss of an item or of a whole member of a group would do.
"""

from trials.design.columns import layout_of
from trials.design.judging.aliases import find_aliases
from trials.design.judging.detectable import (
    find_detectable,
    needed_noncentrality,
    smallest_difference,
)
from trials.design.judging.judge import judge, judged, judgement_of
from trials.design.judging.losses import cost_of, costs_from, find_losses
from trials.design.judging.ties import cramers_v, find_ties

__all__ = [
    "cost_of",
    "costs_from",
    "cramers_v",
    "find_aliases",
    "find_detectable",
    "find_losses",
    "find_ties",
    "judge",
    "judged",
    "judgement_of",
    "layout_of",
    "needed_noncentrality",
    "smallest_difference",
]
