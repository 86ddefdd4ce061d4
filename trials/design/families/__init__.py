"""Textbook families of designs: tables that keep their promise, and what a plan is called.

Each maker returns whole-number level codes whose defining property is checked on the way out, and
says in factor names what it gives up. Which family a drawn plan is, is seen from the plan alone.
"""

from trials.design.families.confounded import Confounded, confounded
from trials.design.families.control import (
    average_variance,
    control_counts,
)
from trials.design.families.fractions import Fraction, fraction
from trials.design.families.generators import fraction_sizes
from trials.design.families.incomplete import Blocks, fewest_blocks, incomplete_blocks
from trials.design.families.offers import Wanted, offer
from trials.design.families.recognise import name_family, plan_family
from trials.design.families.screening import Screening, screening
from trials.design.families.squares import Squares, latin_squares
from trials.design.families.values import Family, Offer

__all__ = [
    "Blocks",
    "Confounded",
    "Family",
    "Fraction",
    "Offer",
    "Screening",
    "Squares",
    "Wanted",
    "average_variance",
    "confounded",
    "control_counts",
    "fewest_blocks",
    "fraction",
    "fraction_sizes",
    "incomplete_blocks",
    "latin_squares",
    "name_family",
    "offer",
    "plan_family",
    "screening",
]
