"""With a control declared, advice rests on the same pairs as the verdict."""

from __future__ import annotations

from trials.design.values import PlanRow

from .whole import Whole, whole

WITH_CONTROL = """
format_version = 1
title = "Seedlings"
question = "Which feed?"
item_name = "tray"

[factors.feed]
levels = ["none", "old", "new"]
control = "none"

[responses.height]
unit = "cm"
worthwhile = 2
expected = 5
spread = { items = 1, source = "own guess" }

[limits]
copies = 6
"""
NOISE = (-0.9, 0.4, 0.7, -0.5, 0.2, 0.1)


def grown(old: float, new: float) -> Whole:
    def value(row: PlanRow, place: int) -> float:
        return 20 + {"none": 0.0, "old": old, "new": new}[row.factors["feed"]] + NOISE[place]

    return whole(WITH_CONTROL, value)


def test_versions_compared_for_the_verdict_are_not_called_too_close() -> None:
    told = grown(4, 12)
    found = told.findings.responses[0]
    # against the control only, as always; the verdict's own pairs stand beside them
    assert {one.adjustment for one in found.comparisons} == {"dunnett"}
    assert len(found.judged_pairs) == 3
    assert {one.adjustment for one in found.judged_pairs} == {"tukey"}
    part = told.text("height-feed-part")
    assert "choose new." in part
    assert "not clear which" not in part


def test_versions_that_are_close_are_called_so() -> None:
    part = grown(12, 12.2).text("height-feed-part")
    assert "choose among new and old: it is not clear which of them is better." in part


def test_a_pair_that_was_never_compared_is_said_to_be_so() -> None:
    told = grown(4, 12)
    found = told.findings.responses[0]
    pairs = tuple(one for one in found.judged_pairs if "old" not in one.a.values())
    pairs = tuple(one for one in pairs if "old" not in one.b.values())
    findings = told.findings.model_copy(
        update={"responses": (found.model_copy(update={"judged_pairs": pairs}),)}
    )
    part = Whole(told.study, told.plan, told.measured, findings).text("height-feed-part")
    assert "not clear which" not in part
    assert "How old would stand against new is not known: they were not compared." in part


def test_the_full_tables_hold_the_pairs_of_the_verdict() -> None:
    text = grown(4, 12).text("height-tables")
    assert "Pairs that the verdict on feed rests on" in text
