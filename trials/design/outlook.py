"""What a plan can tell before anything is made: skeleton, power, chances of a verdict."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from trials.design.chances import prospect_of
from trials.design.differences import Term, coefficients, pattern, unit_noncentrality
from trials.design.looks import confidence_of
from trials.design.power import f_test_power
from trials.design.values import PowerRow, SkeletonRow, VerdictChance
from trials.errors import AnalysisError
from trials.model import RESIDUAL, Precision, Prepared, SkeletonTerm
from trials.model.layout import Floats
from trials.model.terms import term_name, treatment_terms

if TYPE_CHECKING:
    from trials.study import Response, Study, StudyFactor

How = Literal["half", "given", "twice"]
Truth = Literal["zero", "worthwhile", "expected"]

TIMES: Mapping[How, float] = MappingProxyType({"half": 0.5, "given": 1.0, "twice": 2.0})


def skeleton_rows(terms: Sequence[SkeletonTerm]) -> tuple[SkeletonRow, ...]:
    """Return the skeleton as the plan records it."""
    return tuple(
        SkeletonRow(
            source=t.source,
            stratum=t.stratum,
            df=t.df,
            tested_by=t.tested_by,
            den_df=t.den_df,
            efficiency=t.efficiency,
        )
        for t in terms
    )


def efficiencies(terms: Sequence[SkeletonTerm]) -> dict[str, float]:
    """Return each term's efficiency, 0 to 1, in the stratum that tests it; 0 where none does."""
    out: dict[str, float] = {}
    for term in terms:
        if term.efficiency is not None:
            tested = term.efficiency if term.tested_by == term.stratum else 0.0
            out[term.source] = max(out.get(term.source, 0.0), tested)
    return out


@dataclass(frozen=True)
class Assumed:
    """A response's assumed spread as variances, and its differences, on the scale of the model."""

    response: str
    ratio: bool
    components: Mapping[str, float]
    missing: tuple[str, ...]  # groups whose spread was not said and counts as none

    def on_scale(self, difference: float) -> float:
        """Return a difference as given, or the logarithm of a ratio."""
        return math.log(difference) if self.ratio else difference


def assume(study: Study, response: Response, times: float = 1.0) -> Assumed | None:
    """Return the variances a response is assumed to have; None where no spread is given.

    ``times`` multiplies the SD of every group. The CV of a ratio becomes the SD of the logarithm of
    a lognormal, sqrt(ln(1 + CV^2)). Readings of one item are averaged.
    """
    spread = response.spread
    if spread is None:
        return None
    ratio = response.compare == "ratio"

    def variance(sd: float) -> float:
        return math.log1p(sd * sd) if ratio else sd * sd

    residual = variance(spread.items)
    if spread.readings is not None:
        residual += variance(spread.readings) / response.readings
    components = {RESIDUAL: residual}
    for name, sd in spread.groups.items():
        components[study.path(name)] = variance(sd * times)
    applied = {factor.applied_to for factor in study.factors}
    missing = tuple(
        g.name for g in study.groups if g.name in applied and g.name not in spread.groups
    )
    return Assumed(response.name, ratio, components, missing)


def outlook(
    study: Study,
    ready: Prepared,
    spreads: Sequence[How] = ("half", "given", "twice"),
    *,
    mains: bool = False,
) -> tuple[tuple[PowerRow, ...], tuple[VerdictChance, ...]]:
    """Return the power of every term, and the chances of the three verdicts, for every response.

    A response without a spread has none. ``spreads`` names those between groups that power is
    wanted for; chances are for the given one. ``mains`` True: power of single factors only.
    """
    terms = _terms(study, 1 if mains else study.analysis.interactions)
    power: list[PowerRow] = []
    chances: list[VerdictChance] = []
    for response in study.responses:
        for how in spreads:
            assumed = assume(study, response, TIMES[how])
            if assumed is None or assumed.components[RESIDUAL] <= 0:
                continue
            if how != "given" and not study.groups:
                continue
            try:
                known = ready.at(assumed.components)
            except AnalysisError:
                power.extend(_no_power(response, terms, how))
                continue
            power.extend(_power_rows(study, response, assumed, known, how=how, terms=terms))
            if how == "given":
                chances.extend(_chances(study, response, assumed, known))
    return tuple(power), tuple(chances)


def power_given(study: Study, ready: Prepared, response: Response) -> tuple[PowerRow, ...]:
    """Return the power of every term at the spread that a response gives, and no other.

    None without a spread, or where nothing would be left to judge chance by.
    """
    assumed = assume(study, response)
    known = _known(ready, assumed)
    if assumed is None or known is None:
        return ()
    terms = _terms(study, study.analysis.interactions)
    return tuple(_power_rows(study, response, assumed, known, how="given", terms=terms))


def main_response(study: Study) -> Response:
    """Return the response that decides, the first of several; where none is said to, the first."""
    return next((r for r in study.responses if r.primary), study.responses[0])


def truths(response: Response) -> dict[Truth, float]:
    """Return the true differences that chances are given for, as a person would write them."""
    out: dict[Truth, float] = {"zero": 1.0 if response.compare == "ratio" else 0.0}
    if response.worthwhile is not None:
        out["worthwhile"] = response.worthwhile
    if response.expected is not None:
        out["expected"] = response.expected
    return out


def _terms(study: Study, most: int) -> tuple[Term, ...]:
    return treatment_terms(tuple(factor.name for factor in study.factors), most)


def _no_power(response: Response, terms: Sequence[Term], how: How) -> Iterator[PowerRow]:
    for term in terms:
        for truth, difference in truths(response).items():
            if truth != "zero":
                yield PowerRow(
                    response=response.name,
                    term=term_name(term),
                    difference=difference,
                    spread=how,
                    power=None,
                    note="nothing would be left over to judge chance by",
                )


def _power_rows(
    study: Study,
    response: Response,
    assumed: Assumed,
    known: Precision,
    *,
    how: How,
    terms: Sequence[Term],
) -> Iterator[PowerRow]:
    note = "; ".join(f"no spread given for {name}: taken as 0" for name in assumed.missing)
    for term in terms:
        test = known.term(term_name(term))
        unit = unit_noncentrality(known, term)
        for truth, difference in truths(response).items():
            if truth == "zero":
                continue
            power = None
            why = note
            if test.den_df is None:
                why = "no test: too few units"
            elif unit is None:
                why = "no complete set of combinations to compare"
            else:
                size = unit * assumed.on_scale(difference) ** 2
                alpha = 1 - confidence_of(study)
                power = f_test_power(test.num_df, test.den_df, size, alpha)
            yield PowerRow(
                response=response.name,
                term=term_name(term),
                difference=difference,
                spread=how,
                power=power,
                note=why,
            )


def clear_chance(study: Study, ready: Prepared, response: Response, factor: str) -> float:
    """Return the best chance of a clear answer on a factor; 0 where there can be none."""
    return clear_chances_by_size(study, ready, response, factor)(1.0)


def clear_chances_by_size(
    study: Study, ready: Prepared, response: Response, factor: str
) -> Callable[[float], float]:
    """Return what tells the best chance of a clear answer if all variances were so much smaller.

    So many times as many units would do that; what they add in degrees of freedom is left out.
    Dividing every variance by a number is the same as multiplying every difference by its root.
    """
    assumed = assume(study, response)
    known = _known(ready, assumed)
    if assumed is None or known is None or response.worthwhile is None:
        return lambda _: 0.0
    prospect = prospect_of(known, factor, confidence_of(study))
    if prospect is None:
        return lambda _: 0.0
    size = abs(assumed.on_scale(response.worthwhile))
    shifts = _shifts(response, assumed, known, study.factor(factor))

    def best(times: float) -> float:
        root = math.sqrt(times)
        return max(sum(prospect.chances(root * shift, root * size)) for shift in shifts.values())

    return best


def _known(ready: Prepared, assumed: Assumed | None) -> Precision | None:
    """Return what a layout would tell; None without a spread, or with nothing left to judge by."""
    if assumed is None or assumed.components[RESIDUAL] <= 0:
        return None
    try:
        return ready.at(assumed.components)
    except AnalysisError:
        return None


def _chances(
    study: Study, response: Response, assumed: Assumed, known: Precision
) -> Iterator[VerdictChance]:
    if response.worthwhile is not None:
        for factor in study.factors:
            yield from _chances_of(study, response, assumed, known, factor)


def _chances_of(
    study: Study, response: Response, assumed: Assumed, known: Precision, factor: StudyFactor
) -> Iterator[VerdictChance]:
    prospect = prospect_of(known, factor.name, confidence_of(study))
    if prospect is None:
        return
    size = abs(assumed.on_scale(response.worthwhile or 0.0))
    sizes = truths(response)
    for truth, shift in _shifts(response, assumed, known, factor).items():
        mattered, none = prospect.chances(shift, size)
        yield VerdictChance(
            response=response.name,
            factor=factor.name,
            truth=truth,
            difference=sizes[truth],
            mattered=mattered,
            no_practical_difference=none,
            not_settled=1.0 - mattered - none,
        )


def _shifts(
    response: Response, assumed: Assumed, known: Precision, factor: StudyFactor
) -> dict[Truth, Floats]:
    """Return the coefficients of the model at each true difference, shape (k,)."""
    levels, pair = len(factor.levels), verdict_pair(factor)
    return {
        truth: coefficients(
            known.design,
            (factor.name,),
            pattern([levels], [pair], assumed.on_scale(difference)),
        )
        for truth, difference in truths(response).items()
    }


def verdict_pair(factor: StudyFactor) -> tuple[int, int]:
    """Return the two levels that differ where the chances of a verdict are worked out.

    The first, or the control, and the last, or another if that is the control.
    """
    last = len(factor.levels) - 1
    first = 0 if factor.control is None else factor.levels.index(factor.control)
    return first, last if first < last else 0
