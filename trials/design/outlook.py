"""What a plan can tell before anything is made: skeleton, power, chances of a verdict."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from trials.design.chances import Margin, chances_of_truths
from trials.design.differences import coefficients, pattern, unit_noncentrality
from trials.design.looks import confidence_of
from trials.design.power import f_test_power
from trials.design.values import PowerRow, SkeletonRow, VerdictChance
from trials.errors import AnalysisError
from trials.model import RESIDUAL, Precision, Prepared, SkeletonTerm
from trials.model.terms import term_name, treatment_terms

if TYPE_CHECKING:
    from trials.study import Response, Study, StudyFactor

How = Literal["half", "given", "twice"]

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
    study: Study, ready: Prepared, spreads: Sequence[How] = ("half", "given", "twice")
) -> tuple[tuple[PowerRow, ...], tuple[VerdictChance, ...]]:
    """Return the power of every term, and the chances of the three verdicts, for every response.

    A response without a spread has none. ``spreads`` names those between groups that power is
    wanted for; chances are for the given one.
    """
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
                power.extend(_no_power(study, response, how))
                continue
            power.extend(_power_rows(study, response, assumed, known, how))
            if how == "given":
                chances.extend(_chances(study, response, assumed, known))
    return tuple(power), tuple(chances)


def power_given(study: Study, ready: Prepared, response: Response) -> tuple[PowerRow, ...]:
    """Return the power of every term at the spread that a response gives, and no other.

    None without a spread, or where nothing would be left to judge chance by.
    """
    assumed = assume(study, response)
    if assumed is None or assumed.components[RESIDUAL] <= 0:
        return ()
    try:
        known = ready.at(assumed.components)
    except AnalysisError:
        return ()
    return tuple(_power_rows(study, response, assumed, known, "given"))


def main_response(study: Study) -> Response:
    """Return the response that decides, the first of several; where none is said to, the first."""
    return next((r for r in study.responses if r.primary), study.responses[0])


def truths(response: Response) -> dict[Literal["zero", "worthwhile", "expected"], float]:
    """Return the true differences that chances are given for, as a person would write them."""
    out: dict[Literal["zero", "worthwhile", "expected"], float] = {
        "zero": 1.0 if response.compare == "ratio" else 0.0
    }
    if response.worthwhile is not None:
        out["worthwhile"] = response.worthwhile
    if response.expected is not None:
        out["expected"] = response.expected
    return out


def _terms(study: Study) -> tuple[tuple[str, ...], ...]:
    names = tuple(factor.name for factor in study.factors)
    return treatment_terms(names, study.analysis.interactions)


def _no_power(study: Study, response: Response, how: How) -> Iterator[PowerRow]:
    for term in _terms(study):
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
    study: Study, response: Response, assumed: Assumed, known: Precision, how: How
) -> Iterator[PowerRow]:
    note = "; ".join(f"no spread given for {name}: taken as 0" for name in assumed.missing)
    for term in _terms(study):
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


def clear_chance(
    study: Study, ready: Prepared, response: Response, factor: str, times: float = 1.0
) -> float:
    """Return the best chance of a clear answer on a factor if all variances were so much smaller.

    ``times`` as many units would do that; what they add in degrees of freedom is left out.
    """
    assumed = assume(study, response)
    if assumed is None or response.worthwhile is None:
        return 0.0
    smaller = {path: variance / times for path, variance in assumed.components.items()}
    try:
        known = ready.at(smaller)
    except AnalysisError:
        return 0.0
    chances = _chances_of(study, response, assumed, known, study.factor(factor))
    return max(
        (chance.clear for chance in chances),
        default=0.0,
    )


def _chances(
    study: Study, response: Response, assumed: Assumed, known: Precision
) -> Iterator[VerdictChance]:
    if response.worthwhile is not None:
        for factor in study.factors:
            yield from _chances_of(study, response, assumed, known, factor)


def _chances_of(
    study: Study, response: Response, assumed: Assumed, known: Precision, factor: StudyFactor
) -> Iterator[VerdictChance]:
    size = abs(assumed.on_scale(response.worthwhile or 0.0))
    levels = len(factor.levels)
    margin = Margin(size, confidence_of(study))
    pair = verdict_pair(factor)
    sizes = truths(response)
    shifts = [
        coefficients(
            known.design,
            (factor.name,),
            pattern([levels], [pair], assumed.on_scale(difference)),
        )
        for difference in sizes.values()
    ]
    found = chances_of_truths(known, factor.name, shifts, margin)
    for (truth, difference), (mattered, none) in zip(sizes.items(), found or (), strict=False):
        yield VerdictChance(
            response=response.name,
            factor=factor.name,
            truth=truth,
            difference=difference,
            mattered=mattered,
            no_practical_difference=none,
            not_settled=1.0 - mattered - none,
        )


def verdict_pair(factor: StudyFactor) -> tuple[int, int]:
    """Return the two levels that differ where the chances of a verdict are worked out.

    The first, or the control, and the last, or another if that is the control.
    """
    last = len(factor.levels) - 1
    first = 0 if factor.control is None else factor.levels.index(factor.control)
    return first, last if first < last else 0
