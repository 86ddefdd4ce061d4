"""Everything a report is told from, with the names that people use."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from trials.analysis.findings import (
    Comparison,
    Crossing,
    Effect,
    Findings,
    Mean,
    ResponseFindings,
    Verdict,
)
from trials.design.looks import confidence_of
from trials.design.values import Plan
from trials.errors import RequestError
from trials.record.clock import moment
from trials.record.values import ItemValue, Measured
from trials.report.told import names_in
from trials.study.values import Study, StudyFactor
from trials.words.checks import Names
from trials.words.comparing import Pair, Scale
from trials.words.crossing import CrossFacts
from trials.words.language import say, say_as
from trials.words.naming import version_name
from trials.words.numbers import listing, with_unit
from trials.words.sentences import MATTERED, VerdictFacts, verdict_text

_SHORT_CODE = 8  # letters of a check code that are printed


@dataclass(frozen=True)
class Story:
    """The four values that a report is built from, the day it is told, and by which version."""

    study: Study
    plan: Plan
    measured: Measured
    findings: Findings
    today: datetime.date
    version: str
    folder: str = ""  # name of the study folder

    @property
    def item(self) -> str:
        """What one made thing is called."""
        return self.study.item_name

    @property
    def responses(self) -> tuple[ResponseFindings, ...]:
        """The findings, the primary response first."""
        return tuple(sorted(self.findings.responses, key=lambda found: not found.primary))

    @property
    def main_response(self) -> str:
        """The name of the response that is told of first: the primary one if it gave values."""
        if self.responses:
            return self.responses[0].name
        own = self.study.responses
        return next((one.name for one in own if one.primary), own[0].name)

    @property
    def factor_names(self) -> frozenset[str]:
        """The names of all variables."""
        return frozenset(factor.name for factor in self.study.factors)

    @property
    def confidence(self) -> float:
        """The confidence of all intervals."""
        return confidence_of(self.study)

    @property
    def locked_first(self) -> bool:
        """Whether the dates of all readings show that the plan was locked on a day before them."""
        if self.plan.locked is None or not self.measured.readings:
            return False
        locked = datetime.date.fromisoformat(self.plan.locked[:10])
        days = (moment(row.time).date for row in self.measured.readings)
        return all(day is not None and day > locked for day in days)

    def factor(self, name: str) -> StudyFactor:
        """Return a variable as the study declares it."""
        return self.study.factor(name)

    def factor_label(self, name: str) -> str:
        """Return what people call a variable."""
        return self.study.factor(name).label or name

    def group_label(self, path: str) -> str:
        """Return what people call a group, by its name or its path; the item for the residual."""
        name = path.rsplit("/", maxsplit=1)[-1]
        if name in ("residual", "item"):
            return self.item
        for group in self.study.groups:
            if group.name == name:
                return group.label or name
        return name

    def labels(self) -> Mapping[str, str]:
        """Return the labels of all groups by name."""
        return {group.name: group.label or group.name for group in self.study.groups}

    def response_label(self, name: str) -> str:
        """Return what people call a response."""
        return self.study.response(name).label or name

    def term_label(self, term: str) -> str:
        """Return what people call a term: "dye", or "dye with heat"."""
        return say(" with ").join(self._part_label(part) for part in term.split(":"))

    def _part_label(self, part: str) -> str:
        if part in self.factor_names:
            return self.factor_label(part)
        return self.item if part == "residual" else self.group_label(part)

    def short_level(self, factor: str, level: str) -> str:
        """Return a version beside its variable's name: "40 min", "2"."""
        unit = self.factor(factor).unit
        return with_unit(level, "" if unit == "1" else unit)

    def level(self, factor: str, level: str) -> str:
        """Return a version as a sentence names it: "40 min", "coating passes 2"."""
        return version_name(level, self.factor(factor).unit, self.factor_label(factor))

    def levels(self, levels: Mapping[str, str]) -> str:
        """Return a version of each of some variables, in words."""
        return ", ".join(self.level(factor, level) for factor, level in levels.items())

    def unit_group(self, factor: str) -> str:
        """Return what a variable is applied to, as people call it; "" for the item itself."""
        applied = self.factor(factor).applied_to
        return "" if applied is None else self.group_label(applied)

    def unit_path(self, factor: str) -> str | None:
        """Return the full path of the group that a variable is applied to; None: the item."""
        applied = self.factor(factor).applied_to
        return None if applied is None else self.study.path(applied)

    def statuses(self, response: str) -> Mapping[str, ItemValue]:
        """Return each item's value of one response, by item code."""
        return {value.item: value for value in self.measured.of(response)}

    def margin(self, found: ResponseFindings) -> float | None:
        """Return the difference worth caring about in what the findings tell; None for ranks."""
        return None if found.ranked is not None else self.study.response(found.name).worthwhile

    def remarks(self, response: str) -> tuple[tuple[str, ...], dict[str, str]]:
        """Return what there is to know of all values of a response, and of single ones by item."""
        told = {v.item: v.notes for v in self.measured.of(response) if v.readings or v.notes}
        first = next(iter(told.values()), ())
        shared = tuple(
            note for note in first if len(told) > 1 and all(note in own for own in told.values())
        )
        single = {
            item: "; ".join(note for note in notes if note not in shared)
            for item, notes in told.items()
        }
        return shared, {item: text for item, text in single.items() if text}


def slug(text: str) -> str:
    """Return a name as a file name and an anchor: lower case, letters and digits and hyphens.

    Examples
    --------
    >>> slug("Open-circuit voltage (V)"), slug("µ")
    ('open-circuit-voltage-v', 'x')
    """
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-") or "x"


def short_code(digest: str | None) -> str:
    """Return the letters of a check code that are printed."""
    return digest[:_SHORT_CODE] if digest else say_as("check code", "none")


def foot(story: Story) -> tuple[str, str]:
    """Return what stands at the foot of every page: the plan's check code and the day."""
    return (
        say("check code {code}", code=short_code(story.plan.digest())),
        story.today.isoformat(),
    )


def story_of(
    study: Study,
    plan: Plan,
    measured: Measured,
    findings: Findings,
    *,
    today: datetime.date,
    version: str,
    folder: str = "practice",
) -> Story:
    """Return the story of a study, whose findings are those of its plan.

    Parameters
    ----------
    study, plan, measured, findings : the values of the four stages before it.
    today : printed as the day on which the report was made.
    version : version of the program that makes the report.
    folder : name of the study folder; a practice run says how another study refers to it.

    Raises
    ------
    RequestError : the findings are those of another plan, or of a table without a plan.
    """
    if findings.plan_digest != plan.digest():
        raise RequestError(
            say("These findings belong to another plan."),
            code="report.other_plan",
            found=say("findings of plan {code}", code=short_code(findings.plan_digest)),
            allowed=say("findings of plan {code}", code=short_code(plan.digest())),
            do=say("Run 'trials analyse' for this study, then make the report again."),
        )
    return Story(study, plan, measured, _with_ranks_told(findings), today, version, folder)


def _with_ranks_told(findings: Findings) -> Findings:
    """Return findings in which what was ranked has its unit in the language of the report."""
    told = {
        found.name: found.model_copy(update={"unit": say("rank")})
        for found in findings.responses
        if found.ranked is not None
    }
    if not told:
        return findings
    responses = tuple(told.get(found.name, found) for found in findings.responses)
    return findings.model_copy(update={"responses": responses})


def main_effects(story: Story, found: ResponseFindings) -> tuple[Effect, ...]:
    """Return the effects of single variables, the largest share of variation first."""
    own = [effect for effect in found.effects if effect.term in story.factor_names]
    return tuple(sorted(own, key=lambda e: -(e.share_of_variance or 0.0)))


def pair_effects(story: Story, found: ResponseFindings) -> tuple[Effect, ...]:
    """Return the effects of two variables together."""
    return tuple(
        effect
        for effect in found.effects
        if len(parts := effect.term.split(":")) == 2 and set(parts) <= story.factor_names
    )


def means_of(found: ResponseFindings, term: str) -> tuple[Mean, ...]:
    """Return the averages of a term."""
    return tuple(mean for mean in found.means if mean.term == term)


def comparisons_of(found: ResponseFindings, factor: str) -> tuple[Comparison, ...]:
    """Return the comparisons of a variable's versions, averaged over the others."""
    return tuple(one for one in found.comparisons if one.term == factor)


def judged_of(found: ResponseFindings, factor: str) -> tuple[Comparison, ...]:
    """Return the pairs that a variable's verdict rests on: all of them, control or not."""
    own = tuple(one for one in found.judged_pairs if one.term == factor)
    return own or comparisons_of(found, factor)


def crossings_of(found: ResponseFindings, factor: str) -> tuple[Crossing, ...]:
    """Return the crossings that a variable takes part in, told from either side."""
    return tuple(one for one in found.crossings if factor in (one.factor, one.within))


def verdict_on(found: ResponseFindings, factor: str) -> Verdict | None:
    """Return the verdict on a variable, or None where no margin was declared."""
    return next((v for v in found.verdicts if v.factor == factor), None)


def pair_of(story: Story, found: ResponseFindings, factor: str, one: Comparison) -> Pair:
    """Return a comparison as a pair in words, with the interval for all pairs at once."""
    return Pair(
        story.level(factor, one.a[factor]),
        story.level(factor, one.b[factor]),
        one.ratio if found.scale == "ratio" else one.difference,
        one.interval_adjusted,
        found.scale,
        found.unit,
    )


def cross_facts(story: Story, found: ResponseFindings, crossing: Crossing) -> CrossFacts:
    """Return what the sentence on two variables together is made of."""
    factor, within = crossing.factor, crossing.within
    return CrossFacts(
        factor=story.factor_label(factor),
        within=story.factor_label(within),
        at_one=story.level(within, crossing.one.a[within]),
        at_other=story.level(within, crossing.other.a[within]),
        one=pair_of(story, found, factor, crossing.one),
        other=pair_of(story, found, factor, crossing.other),
        turns=crossing.turns,
        beyond=crossing.beyond or story.margin(found) is None,
        caused=story.plan.by_lot and not found.n_failed,
        failed=found.n_failed > 0,
        item=story.item,
    )


def verdict_facts(story: Story, found: ResponseFindings, verdict: Verdict) -> VerdictFacts:
    """Return what a verdict's sentence is made of."""
    factor = verdict.factor
    return VerdictFacts(
        factor=story.factor_label(factor),
        verdict=verdict.verdict,
        reason=verdict.reason,
        response=story.response_label(found.name),
        scale=found.scale,
        worthwhile=verdict.worthwhile,
        a=story.level(factor, (verdict.a or {}).get(factor, "")),
        b=story.level(factor, (verdict.b or {}).get(factor, "")),
        estimate=verdict.largest_difference,
        interval=verdict.interval or (None, None),
        unit=found.unit if found.ranked is None else found.ranked.unit,
        randomised=story.plan.by_lot,
        item=story.item,
        unit_group=story.unit_group(factor),
        failed=found.n_failed,
        to_settle=_more_of_each(story, found, verdict),
        settle_if=verdict.to_settle.assumption if verdict.to_settle else "",
        settle_group=story.group_label(verdict.to_settle.group) if verdict.to_settle else "",
        depends_on=_open_with(story, found, verdict),
        crossings=tuple(
            cross_facts(story, found, one) for one in found.crossings if one.factor == factor
        ),
        p_ranks=verdict.p_ranks,
        also_within=any(_held_at(one, factor) for one in found.comparisons),
        too_close=_too_close(story, found, verdict),
        to_settle_items=_items_to_settle(story, found, verdict),
        alpha=1 - story.confidence,
    )


def best_of(
    story: Story, found: ResponseFindings, factor: str
) -> tuple[str | None, list[str], list[str]]:
    """Return the version with the best average, those not clearly worse, those not compared.

    All in words; the first is None where no version has an average.
    """
    means = [mean for mean in means_of(found, factor) if mean.mean is not None]
    if not means:
        return None, [], []
    sign = -1 if found.better == "low" else 1
    best = max(means, key=lambda mean: sign * (mean.mean or 0.0)).levels[factor]
    rivals, unknown = [], []
    for mean in means:
        other = mean.levels[factor]
        if other == best:
            continue
        worse = _clearly_worse(found, factor, best, other)
        if worse is None:
            unknown.append(story.level(factor, other))
        elif not worse:
            rivals.append(story.level(factor, other))
    return story.level(factor, best), rivals, unknown


def _clearly_worse(found: ResponseFindings, factor: str, best: str, other: str) -> bool | None:
    """Return whether two versions differ, by what the verdict rests on; None: not compared."""
    for one in judged_of(found, factor):
        ends = one.interval_adjusted
        if {one.a[factor], one.b[factor]} == {best, other} and ends != (None, None):
            return clear_of_zero(ends, found.scale) != 0
    return None


def names_of(story: Story, found: ResponseFindings) -> Names:
    """Return how people call what the checks of a response name by code."""
    return names_in(found, story.factor_label, story.group_label)


def verdict_told(story: Story, found: ResponseFindings, verdict: Verdict) -> str:
    """Return a verdict as it stands beside a bar or in a table."""
    if verdict.reason == "depends":
        others = dict.fromkeys(c.within for c in found.crossings if c.factor == verdict.factor)
        return say(
            "depends on {others}", others=listing([story.factor_label(name) for name in others])
        )
    if verdict.reason == "inside_on_average":
        return say("{verdict} (little on average)", verdict=verdict_text(verdict.verdict))
    return verdict_text(verdict.verdict)


def _more_of_each(story: Story, found: ResponseFindings, verdict: Verdict) -> int | None:
    """Return how many more units each version needs; the findings count all there would be."""
    if verdict.to_settle is None:
        return None
    path = story.unit_path(verdict.factor)
    present = {point.item if path is None else point.groups.get(path) for point in found.points}
    levels = {point.factors.get(verdict.factor) for point in found.points}
    return max(-(-(verdict.to_settle.count - len(present)) // max(len(levels), 1)), 1)


def _items_to_settle(story: Story, found: ResponseFindings, verdict: Verdict) -> int | None:
    """Return how many items those units hold, if they are as full as in the plan; None: the same.

    A variable that is given to single items needs no such number.
    """
    more, applied = _more_of_each(story, found, verdict), story.factor(verdict.factor).applied_to
    if more is None or applied is None:
        return None
    planned = len(story.plan.rows)
    units = len({row.groups[applied] for row in story.plan.rows})
    levels = {point.factors.get(verdict.factor) for point in found.points}
    return round(more * len(levels) * planned / units)


def _too_close(story: Story, found: ResponseFindings, verdict: Verdict) -> tuple[str, ...]:
    """Return the best version of a variable that mattered and those not clearly worse than it."""
    if verdict.verdict != MATTERED or any(c.turns for c in crossings_of(found, verdict.factor)):
        return ()
    best, rivals, _ = best_of(story, found, verdict.factor)
    return (best, *rivals) if best is not None and rivals else ()


def _open_with(story: Story, found: ResponseFindings, verdict: Verdict) -> tuple[str, ...]:
    """Return the other variables within whose versions the difference may be big enough."""
    if verdict.reason != "inside_on_average":
        return ()
    enough = _reach((verdict.worthwhile, verdict.worthwhile), found.scale)
    open_ = {
        _held_at(one, verdict.factor)
        for one in found.comparisons
        if _reach(one.interval_adjusted, found.scale) >= enough
    }
    return tuple(story.factor_label(f.name) for f in story.study.factors if f.name in open_)


def _held_at(one: Comparison, factor: str) -> str:
    """Return the other variable within a version of which a variable's pair is compared, or ""."""
    others = [name for name in one.a if name != factor]
    held = len(others) == 1 and factor in one.a and one.a[others[0]] == one.b.get(others[0])
    return others[0] if held else ""


def _reach(interval: tuple[float | None, float | None], scale: Scale) -> float:
    """Return how far an interval reaches from no difference; ratios as their log."""
    low, high = interval
    if low is None or high is None or (scale == "ratio" and low <= 0):
        return math.inf
    return max(math.log(high), -math.log(low)) if scale == "ratio" else max(high, -low)


def clear_of_zero(interval: tuple[float | None, float | None], scale: Scale) -> int:
    """Return 1 or -1 where an interval lies wholly above or below no difference, else 0.

    Examples
    --------
    >>> clear_of_zero((1.1, 2.0), "ratio"), clear_of_zero((-0.2, 0.3), "difference")
    (1, 0)
    """
    low, high = interval
    zero = 1.0 if scale == "ratio" else 0.0
    if low is not None and low > zero:
        return 1
    if high is not None and high < zero:
        return -1
    return 0
