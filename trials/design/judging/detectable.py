"""The smallest difference that a plan would find, by inverting the power of its F tests."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from trials.design.differences import Term, unit_noncentrality
from trials.design.looks import confidence_of
from trials.design.outlook import TIMES, How, assume
from trials.design.power import f_test_power
from trials.design.values import Detectable
from trials.errors import AnalysisError
from trials.model import RESIDUAL, Precision, Prepared
from trials.model.terms import term_name, treatment_terms

if TYPE_CHECKING:
    from trials.study import Response, Study

WANTED = (0.8, 0.9)  # share of repeats in which the difference is to be found
FARTHEST = 1e9  # noncentrality beyond which a test is called blind


def find_detectable(study: Study, ready: Prepared) -> tuple[Detectable, ...]:
    """Return what each term's test would find, for every response whose spread is given.

    At the given spread, and with the spread between groups halved and doubled.
    """
    out: list[Detectable] = []
    terms = treatment_terms(tuple(ready.layout.factors), study.analysis.interactions)
    for response in study.responses:
        for how, times in TIMES.items():
            assumed = assume(study, response, times)
            if assumed is None or assumed.components[RESIDUAL] <= 0:
                continue
            if how != "given" and not study.groups:
                continue
            try:
                known = ready.at(assumed.components)
            except AnalysisError:
                out += [_nothing(response, term, how) for term in terms]
                continue
            out += [_of_term(study, response, known, term, how) for term in terms]
    return tuple(out)


def _nothing(response: Response, term: Term, how: How) -> Detectable:
    return Detectable(
        response=response.name, term=term_name(term), spread=how, num_df=0, den_df=None,
        at_80=None, at_90=None, note="nothing would be left over to judge chance by",
    )  # fmt: skip


def _of_term(
    study: Study, response: Response, known: Precision, term: Term, how: How
) -> Detectable:
    test = known.term(term_name(term))
    alpha = 1 - confidence_of(study)
    at_80, at_90 = (
        smallest_difference(known, term, wanted=wanted, alpha=alpha) for wanted in WANTED
    )
    note = ""
    if test.num_df == 0:
        note = "can't be told from something else"
    elif test.den_df is None:
        note = "no test: too few units"
    elif at_80 is None:
        note = "no complete set of combinations to compare"
    return Detectable(
        response=response.name,
        term=term_name(term),
        spread=how,
        num_df=test.num_df,
        den_df=test.den_df,
        at_80=as_given(response, at_80),
        at_90=as_given(response, at_90),
        note=note,
    )


def as_given(response: Response, difference: float | None) -> float | None:
    """Return a difference on the model's scale as a person gives it: itself, or a ratio."""
    if difference is None or response.compare != "ratio":
        return difference
    return math.exp(difference) if difference < 700 else None


def smallest_difference(
    known: Precision, term: Term, *, wanted: float = 0.8, alpha: float = 0.05
) -> float | None:
    """Return the true difference that a term's F test finds in so many repeats.

    Of two levels, the others half-way; of an interaction the difference of differences of two
    levels of each factor. The two that are told apart worst count. On the scale of the model.

    Returns
    -------
    None where the term has no test, or none that any difference would show in.
    """
    test = known.term(term_name(term))
    if test.den_df is None:
        return None
    size = unit_noncentrality(known, term)
    needed = needed_noncentrality(test.num_df, test.den_df, wanted, alpha)
    if size is None or needed is None or size <= 0:
        return None
    return math.sqrt(needed / size)


@lru_cache(maxsize=1024)
def needed_noncentrality(
    num_df: float, den_df: float, wanted: float, alpha: float = 0.05
) -> float | None:
    """Return the noncentrality at which an F test is beyond its critical value so often.

    None where not even a huge one is.

    Examples
    --------
    >>> round(needed_noncentrality(1, 62, 0.8), 3)  # two groups of 32: 16 d^2, d = 0.7115
    8.099
    """
    from scipy.optimize import brentq

    high = 10.0
    while f_test_power(num_df, den_df, high, alpha) < wanted:
        high *= 4
        if high > FARTHEST:
            return None
    return float(
        brentq(
            lambda size: f_test_power(num_df, den_df, size, alpha) - wanted, 0.0, high, xtol=1e-10
        )
    )
