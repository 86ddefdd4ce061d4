"""What plan and findings hold as an English sentence, told in the language of the study."""

from __future__ import annotations

from collections.abc import Callable

from trials.analysis.findings import MovedVerdict, OtherVerdict, ResponseFindings, Verdict
from trials.design.values import AuditFinding
from trials.report.story import Story, verdict_facts
from trials.words.fairness import fairness_words
from trials.words.language import ENGLISH, language, say
from trials.words.numbers import capital
from trials.words.otherwise import (
    answer_decision,
    exchange_decision,
    moved_sentence,
    promised_sentence,
)
from trials.words.sentences import verdict_sentence, verdict_text


def finding_told(finding: AuditFinding) -> str:
    """Return what the fair-test check found, and why it matters."""
    if language() == ENGLISH:
        return finding.message
    return fairness_words(finding.code, finding.facts)[0]


def promised_told(story: Story, found: ResponseFindings, other: OtherVerdict) -> str:
    """Return the verdict by what study.toml says since the plan was made."""
    label = story.factor_label(other.factor)
    return promised_sentence(label, _whose(story, found), other.verdict, other.changes)


def moved_told(story: Story, found: ResponseFindings, moved: MovedVerdict) -> str:
    """Return the verdict without one decision about what was measured."""
    items = moved.decision.split(" ")[1:]
    if items:
        decision = exchange_decision(*items)
    else:
        answers = {question.id: question.answer for question in story.measured.answered}
        decision = answer_decision(moved.decision, answers[moved.decision] or "")
    label = story.factor_label(moved.factor)
    return moved_sentence(label, _whose(story, found), moved.verdict, decision)


def made_told(story: Story, found: ResponseFindings) -> Callable[[Verdict], str]:
    """Return what tells a verdict on the items as they were really made."""
    return lambda verdict: _told(story, found, verdict)


def new_part_told(story: Story, found: ResponseFindings) -> str:
    """Return the verdicts by the last part alone; "" where it is too small to tell."""
    items = {row.item for row in story.plan.rows[-story.plan.parts[-1].items :]}
    statuses = story.statuses(found.name)
    update = {
        "points": tuple(point for point in found.points if point.item in items),
        "n_failed": sum(
            value.status == "failed" for item, value in statuses.items() if item in items
        ),
    }
    alone = found.model_copy(update=update)
    return " ".join(_told(story, alone, verdict) for verdict in found.new_part)


def _told(story: Story, found: ResponseFindings, verdict: Verdict) -> str:
    """Return a verdict that the findings hold without what else it rests on."""
    if language() == ENGLISH:
        return verdict.sentence
    if verdict.reason in ("depends", "inside_on_average"):  # on what isn't in the findings
        return say(
            "{factor}: {verdict}.",
            factor=capital(story.factor_label(verdict.factor)),
            verdict=verdict_text(verdict.verdict),
        )
    bare = found.model_copy(update={"crossings": ()})
    return verdict_sentence(verdict_facts(story, bare, verdict))


def _whose(story: Story, found: ResponseFindings) -> str:
    return story.response_label(found.name) if len(story.study.responses) > 1 else ""
