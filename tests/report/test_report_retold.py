"""Verdicts beside the answer: in English as the findings hold them, in another language anew."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.words.pseudo import speaking_made_up
from trials.analysis.findings import MadeFindings, MovedVerdict, OtherVerdict, Verdict
from trials.design.values import PlanPart
from trials.render.blocks import Paragraph
from trials.report import story_of
from trials.report.answer import beside_the_answer
from trials.report.story import Story

from .made import TODAY, Made, a_question, make

PLAIN = re.compile(r"[A-Za-z][a-z]{2,}")
STUDY = {"dye", "heat", "coating", "passes", "hibiscus", "beetroot", "oven", "burner", "power",
         "cell", "firing", "celles", "firinges"}  # fmt: skip
REASONS = ("wide", "inside_on_average", "clear_not_surely_big", "depends", "no_replication")


def story(made: Made) -> Story:
    return story_of(made.study, made.plan, made.measured, made.findings, today=TODAY, version="9.9")


def told(made: Made) -> list[Paragraph]:
    return list(beside_the_answer(story(made), made.found))


def moved(decision: str) -> Made:
    made = make()
    answered = replace(a_question(), answer="set-aside")
    found = made.found.model_copy(
        update={
            "moved_verdicts": (MovedVerdict(factor="heat", decision=decision, verdict="mattered"),)
        }
    )
    made = replace(made, measured=replace(made.measured, answered=(answered,)))
    return made.with_found(found)


def with_verdicts(reason: str) -> Made:
    """All verdicts of the new part, and all as made, are of this reason."""
    made = make(failed=0)
    verdicts = tuple(
        Verdict.model_validate(
            {**dict(one), "verdict": "not settled", "reason": reason, "sentence": f"{one.factor}!"}
        )
        for one in made.found.verdicts
    )
    as_made = MadeFindings(
        items=("K10",), n_items=48, comparisons=made.found.comparisons, verdicts=verdicts
    )
    method = made.found.method.model_copy(update={"notes": ("after_looking",)})
    update = {"new_part": verdicts, "as_made": as_made, "method": method}
    shuffle = made.plan.shuffle
    parts = tuple(PlanPart(items=24, seed=n, shuffle=shuffle, looked=n > 1) for n in (1, 2))
    plan = made.plan.model_copy(update={"parts": parts})
    digests = made.findings.model_copy(update={"plan_digest": plan.digest()})
    return replace(made, plan=plan, findings=digests).with_found(
        made.found.model_copy(update=update)
    )


@pytest.mark.parametrize(
    ("decision", "called"),
    [("Q7", "the answer to Q7 (set-aside)"), ("swapped K10 K11", "the exchange of K10 and K11")],
)
def test_a_verdict_without_one_decision(decision: str, called: str) -> None:
    (one,) = told(moved(decision))
    assert one.text == (
        f"Without {called} the verdict on heat would be: mattered. So look again at how sure that "
        "decision is."
    )
    with speaking_made_up():
        (other,) = told(moved(decision))
    assert set(PLAIN.findall(other.text)) <= {"heat", "set", "aside"}


def test_a_verdict_by_changed_promises() -> None:
    made = make()
    other = OtherVerdict(factor="dye", changes=("worthwhile = 3",), verdict="not settled")
    made = made.with_found(made.found.model_copy(update={"other_verdicts": (other,)}))
    (one,) = told(made)
    assert one.text.endswith("With worthwhile = 3 the verdict on dye would be: not settled.")
    with speaking_made_up():
        (one,) = told(made)
    assert set(PLAIN.findall(one.text)) == {"worthwhile", "dye"}


@pytest.mark.parametrize("reason", REASONS)
def test_verdicts_of_the_new_part_and_as_made(reason: str) -> None:
    made = with_verdicts(reason)
    looked, as_made = told(made)
    assert looked.text.endswith(" By itself it says: dye! heat! coats!")
    assert "another verdict would stand: dye! coats!" in as_made.text  # heat has no other verdict
    with speaking_made_up():
        for one in told(made):
            assert {word.lower() for word in PLAIN.findall(one.text)} <= STUDY
