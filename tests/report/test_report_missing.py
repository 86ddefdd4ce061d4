"""A whole version that gave nothing, one version left, questions still open: said at the top."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trials.design.values import PlanRow
from trials.render.blocks import texts, walk
from trials.render.table import Table
from trials.report import judge_document, story_of, teacher_document
from trials.service.findings_text import findings_lines
from trials.words.forbidden import find_forbidden
from trials.words.numbers import NBSP

from .made import TODAY, a_question, make
from .whole import TWO_BY_TWO, Whole, whole

NOISE = (-9.0, 4.0, 7.0, -5.0, 2.0, 1.0)
THREE = TWO_BY_TWO.replace('levels = ["soft", "hard"]', 'levels = ["soft", "hard", "salt"]')


def value(row: PlanRow, place: int) -> float:
    return 200.0 + (60 if row.factors["water"] == "soft" else 0) + NOISE[place]


def terminal(told: Whole) -> str:
    return "\n".join(findings_lines(told.findings)).replace(NBSP, " ")


def test_a_version_that_failed_wholly_stands_in_the_answer() -> None:
    told = whole(THREE, value, failed=[("water", "salt")])
    words = (
        "with salt failed. So the answer says nothing of how well it works against other versions "
        "of water. That none worked is a result of its own."
    )
    answer = told.text("answer")
    assert f"All 8 cups {words}" in answer
    assert f"All 8 items {words}" in terminal(told)
    assert "Find out why no cup with salt gave a value" in told.text("next")
    assert find_forbidden(answer) == ()
    (missing,) = told.findings.responses[0].missing_levels
    assert (missing.factor, missing.level, missing.planned, missing.failed) == (
        "water", "salt", 8, 8,
    )  # fmt: skip


def test_a_version_that_was_lost_wholly_is_no_failure() -> None:
    answer = whole(THREE, value, lost=[("water", "salt")]).text("answer")
    assert "All 8 cups with salt were lost." in answer
    assert "result of its own" not in answer


def test_what_was_lost_and_what_was_never_made_are_told_apart_everywhere() -> None:
    """Of 48 cells 1 was dropped, 2 cracked, 4 were never made, and 2 failed: 39 worked."""
    made = make("difference")
    gone = [v.item for v in made.measured.values if v.status == "measured"][:6]
    values = tuple(
        replace(
            v, status="lost", value=None, exact=None, reason="ill", never_made=v.item in gone[2:]
        )
        if v.item in gone
        else v
        for v in made.measured.values
    )
    found = made.found.model_copy(update={"n_items": 39, "n_lost": 7, "n_never_made": 4})
    made = replace(made, measured=replace(made.measured, values=values)).with_found(found)
    story = story_of(made.study, made.plan, made.measured, made.findings, today=TODAY, version="9")
    told = "2 failed, 3 were lost and 4 were never made"
    report = "\n".join(texts(made.document().parts[0].sections)).replace(NBSP, " ")
    assert f"39 cells that worked, of 48 planned ({told})" in report
    judge = "\n".join(texts(judge_document(story).parts[0].sections)).replace(NBSP, " ")
    assert f"39 gave a value: {told}." in judge
    terminal_says = "39 items compared, 2 failed, 3 were lost, 4 were never made"
    assert terminal_says in "\n".join(findings_lines(made.findings))
    teacher = teacher_document(story)
    assert teacher is not None
    who = next(
        block
        for section in walk(teacher.parts[0].sections)
        for block in section.blocks
        if isinstance(block, Table) and block.name == "who"
    )
    heads = [column.name for column in who.columns]
    sums = {head: sum(int(str(row[at])) for row in who.rows) for at, head in enumerate(heads) if at}
    assert (sums["planned"], sums["lost"], sums["never made"], sums["failed"]) == (48, 3, 4, 2)


def test_one_version_left_is_a_reason_and_not_a_gap() -> None:
    told = whole(TWO_BY_TWO, value, failed=[("bag", "square")])
    verdict = next(v for v in told.findings.responses[0].verdicts if v.factor == "bag")
    assert (verdict.verdict, verdict.reason, verdict.a) == (
        "not settled", "one_level", {"bag": "round"},
    )  # fmt: skip
    answer = told.text("answer")
    assert "Bag (only round gave values, so there is nothing to compare it with)." in answer
    assert "Every question is settled" not in answer
    reason = "Of bag only one version gave values (round), so there is nothing to compare it with."
    assert reason in terminal(told)
    assert reason in told.text("strength-bag-part")
    assert "bag" not in told.text("strength-which-part").split("Share of variation")[0]


def test_failed_ones_counted_as_the_worst_are_told() -> None:
    """Where the rank test says another thing than the test among working items, in words too."""
    told = whole(TWO_BY_TWO, value, failed=[("bag", "square")])
    p = told.findings.responses[0].failures[0].p_as_worst
    assert p is not None
    assert "p, failed as worst" in repr(told.document())


@pytest.mark.parametrize(("n", "words"), [(1, "1 question is still open"), (3, "3 questions are")])
def test_open_questions_stand_above_the_answer(n: int, words: str) -> None:
    told = whole(TWO_BY_TWO, value, questions=(a_question(),) * n)
    answer = told.text("answer")
    assert answer.index(words) < answer.index("In short")
    assert "The answer may change" in answer
    assert f"open_questions:{n}" in told.findings.responses[0].method.notes
    assert f"still open: {n}; the answer may change" in told.text("method")
    assert "still open" not in whole(TWO_BY_TWO, value).text("answer")
