"""Where two ways of asking give two answers about a pair: why, and which the advice rests on."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from trials.analysis.findings import Comparison, Interval, ResponseFindings
from trials.report.story import Story, best_of, clear_of_zero, comparisons_of, judged_of, verdict_on
from trials.words.language import marked, say
from trials.words.numbers import listing
from trials.words.sentences import MATTERED

_WHY: Mapping[str, str] = MappingProxyType(
    {
        "all_pairs": marked(
            "For {pairs} the range here leaves out 'no difference', and the one that the answer "
            "and the advice rest on does not. The shuffle is not the reason: the fitted model's "
            "range for this pair alone leaves it out as well. The answer's range is wider because "
            "it allows for all pairs of a variable at once."
        ),
        "shuffle_clear": marked(
            "For {pairs} the range here leaves out 'no difference', and the one that the answer "
            "and the advice rest on does not. The one here is by the shuffle and for one pair "
            "alone; the answer's is by the fitted model, and wide enough for all pairs where a "
            "variable has more than two versions."
        ),
        "answer_clear": marked(
            "For {pairs} the range that the answer and the advice rest on leaves out 'no "
            "difference', and the one here does not. The one here is by the shuffle; the answer's "
            "is by the fitted model, and wide enough for all pairs where a variable has more than "
            "two versions."
        ),
    }
)


def shuffle_notes(story: Story, found: ResponseFindings) -> tuple[str, ...]:
    """Return why the shuffle's interval of a pair and that of the answer differ, where they do."""
    told: dict[str, list[str]] = {}
    for factor in story.study.factors:
        judged = {_pair(one, factor.name): one for one in judged_of(found, factor.name)}
        for one in comparisons_of(found, factor.name):
            other = judged.get(_pair(one, factor.name))
            drawn = one.interval_randomisation
            if other is None or drawn is None:
                continue
            ends = other.interval_adjusted
            if None in (*drawn, *ends):
                continue
            if bool(clear_of_zero(drawn, found.scale)) != bool(clear_of_zero(ends, found.scale)):
                a, b = (story.level(factor.name, side[factor.name]) for side in (one.a, one.b))
                why = _why(drawn, other, found)
                told.setdefault(why, []).append(say("{a} over {b}", a=a, b=b))
    return tuple(say(_WHY[why], pairs=listing(pairs)) for why, pairs in told.items())


def _why(drawn: Interval, answer: Comparison, found: ResponseFindings) -> str:
    """Return why the shuffle's interval and that of the answer differ, as a key of ``_WHY``."""
    if not clear_of_zero(drawn, found.scale):
        return "answer_clear"
    alone = clear_of_zero(answer.interval, found.scale)
    return "all_pairs" if alone else "shuffle_clear"


def contender_notes(story: Story, found: ResponseFindings) -> tuple[str, ...]:
    """Return why a version can't be the best here, and may be in the advice."""
    notes = []
    for factor in story.study.factors:
        verdict = verdict_on(found, factor.name)
        best, rivals, _ = best_of(story, found, factor.name)
        if verdict is None or verdict.verdict != MATTERED or best is None:
            continue
        out = {
            story.levels(one.levels)
            for one in found.contenders
            if one.term == factor.name and one.may_be_best is False
        }
        if out & {*rivals}:
            text = say(
                "For the advice it is still not clear which of {versions} is better. This table "
                "asks only which version is best; the advice rests on the ranges of all pairs at "
                "once, the more careful way.",
                versions=listing([best, *(name for name in rivals if name in out)]),
            )
            notes.append(text)
    return tuple(notes)


def _pair(one: Comparison, factor: str) -> frozenset[str]:
    return frozenset((one.a[factor], one.b[factor]))
