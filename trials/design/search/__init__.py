"""Search for the best layout: recipes given to positions in groups, under the covariance of those.

``search`` finds a layout, ``robustness`` scores one at other ratios of the variances.
"""

from trials.design.search.engine import search
from trials.design.search.robust import RATIOS, layout_value, layout_values, robustness
from trials.design.search.values import (
    Barred,
    Criterion,
    Found,
    Problem,
    RatioScore,
    Robustness,
    SearchFactor,
    SearchGroup,
)

__all__ = [
    "RATIOS",
    "Barred",
    "Criterion",
    "Found",
    "Problem",
    "RatioScore",
    "Robustness",
    "SearchFactor",
    "SearchGroup",
    "layout_value",
    "layout_values",
    "robustness",
    "search",
]
