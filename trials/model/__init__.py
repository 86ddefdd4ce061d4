"""The algebra of comparisons: structures, strata, REML, small-sample tests, linear functions.

Takes labels and arrays; knows no response's name, no threshold and no file.
"""

from trials.model.fit import Fit, FitOptions, TermTest, fit_rows
from trials.model.layout import Layout, make_layout
from trials.model.means import (
    LevelMean,
    Pair,
    factor_pairs,
    level_means,
    recipe_means,
    simple_pairs,
)
from trials.model.precision import Precision, Prepared, precision
from trials.model.skeleton import SkeletonTerm, skeleton
from trials.model.structure import Factor, Group, Structure
from trials.model.variances import RESIDUAL

__all__ = [
    "RESIDUAL",
    "Factor",
    "Fit",
    "FitOptions",
    "Group",
    "Layout",
    "LevelMean",
    "Pair",
    "Precision",
    "Prepared",
    "SkeletonTerm",
    "Structure",
    "TermTest",
    "factor_pairs",
    "fit_rows",
    "level_means",
    "make_layout",
    "precision",
    "recipe_means",
    "simple_pairs",
    "skeleton",
]
