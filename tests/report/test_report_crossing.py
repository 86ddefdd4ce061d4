"""Two variables with equal averages that turn each other's order: what is told, and what not."""

from __future__ import annotations

from functools import cache

import pytest

from trials.design.values import PlanRow
from trials.render.blocks import figures
from trials.service.findings_text import findings_lines
from trials.words.forbidden import find_causal, find_forbidden
from trials.words.numbers import NBSP

from .whole import TWO_BY_TWO, Whole, whole

NOISE = (-9.0, 4.0, 7.0, -5.0, 2.0, 1.0)  # of the items of one recipe; adds up to nothing


def crossed(row: PlanRow, place: int) -> float:
    """Soft water is 60 ahead with round bags, and 60 behind with square ones."""
    same = (row.factors["water"] == "soft") == (row.factors["bag"] == "round")
    return 200.0 + (30 if same else -30) + NOISE[place]


@cache
def crossing() -> Whole:
    return whole(TWO_BY_TWO, crossed)


def test_the_answer_says_that_both_matter_together() -> None:
    answer = crossing().text("answer")
    assert (
        "Water and bag matter together: which version of water wins depends on bag. With round, "
        "soft gave 60.0 µS/cm more than hard"
    ) in answer
    assert "with square, hard gave 60.0 µS/cm more than soft" in answer
    assert "no variable is sure to make a difference" not in answer
    assert "would probably settle it" not in answer
    assert answer.count("matter together") == 1


def test_what_it_hangs_on_and_the_words_say_together_as_well() -> None:
    """A made move: without one item the averages of water would matter by themselves."""
    made = crossing()
    gone = {"kind": "item", "member": "K1"}
    moves = [{"left_out": gone, "factor": "water", "verdict": "mattered",
              "reason": "beyond", "largest_difference": 20.0}]  # fmt: skip
    influence = {"factors": {}, "moves": moves, "notes": []}
    response = made.findings.responses[0]
    diagnostics = response.diagnostics | {"influence": influence}
    response = response.model_copy(update={"diagnostics": diagnostics})
    findings = made.findings.model_copy(update={"responses": (response,)})
    told = Whole(made.study, made.plan, made.measured, findings)
    assert (
        "K1 it would not be clear that water and bag have to be looked at together; the answer "
        "about water alone would be 'mattered'."
    ) in told.text("answer")
    assert "Here: water and bag together." in told.text("words")


def test_nobody_is_sent_for_more_items_to_settle_averages() -> None:
    for key in ("next", "limits", "strength-water-part", "strength-bag-part"):
        text = crossing().text(key)
        assert "settle" not in text, key
    next_ = crossing().text("next")
    soft, hard = ("the best recipe (soft, round", "the best recipe (hard, square")
    assert soft in next_ or hard in next_
    for verdict in crossing().findings.responses[0].verdicts:
        assert verdict.reason == "depends"
        assert verdict.to_settle is None


def test_each_variable_says_what_to_choose_when() -> None:
    water = crossing().text("strength-water-part")
    assert (
        "It depends on bag. For more strength: with round, choose soft; with square, choose hard."
    ) in water
    assert "this looks at averages only" in water
    assert "depends on bag" in crossing().text("strength-which-part")


def test_less_is_better_turns_the_choice() -> None:
    toml = TWO_BY_TWO.replace('unit = "µS/cm"', 'unit = "µS/cm"\nbetter = "low"')
    water = whole(toml, crossed).text("strength-water-part")
    assert "with square, choose soft; with round, choose hard." in water


def test_the_pair_is_told_with_its_strength_and_drawn() -> None:
    text = crossing().text("strength-together")
    assert "clear of chance. Water with bag: chance makes it in fewer than 1 of 1000" in text
    assert "had the best average of all" in text
    names = [figure.name for figure in figures(crossing().document())]
    assert any("with-bag" in name or "with-water" in name for name in names)
    assert find_forbidden("\n".join(crossing().text(k) for k in ("answer", "next"))) == ()


def test_the_terminal_says_it_too() -> None:
    told = "\n".join(findings_lines(crossing().findings)).replace(NBSP, " ")
    assert "Water and bag matter together" in told
    assert "settle" not in told


def test_of_those_that_worked_it_only_went_with() -> None:
    found = whole(TWO_BY_TWO, crossed)
    response = found.findings.responses[0].model_copy(update={"n_failed": 2})
    findings = found.findings.model_copy(update={"responses": (response,)})
    told = Whole(found.study, found.plan, found.measured, findings)
    for key in ("answer", "strength-together"):
        text = told.text(key)
        assert "which version of water came out ahead went with bag" in text
        assert "matter together" not in text
    assert find_causal(told.text("strength-together")) == ()


def test_averages_that_are_settled_still_name_what_they_hide() -> None:
    def value(row: PlanRow, place: int) -> float:
        ahead = {("soft", "round"): 160, ("soft", "square"): -60}
        return 200.0 + ahead.get((row.factors["water"], row.factors["bag"]), 0) + NOISE[place]

    told = whole(TWO_BY_TWO, value)
    water = next(v for v in told.findings.responses[0].verdicts if v.factor == "water")
    assert water.verdict == "mattered"
    answer = told.text("answer")
    assert "Water: soft gave 50.0 µS/cm more than hard" in answer
    assert "which version of water wins depends on bag" in answer
    assert "choose soft; with square, choose hard" in told.text("strength-water-part")


@pytest.mark.parametrize("size", [0.0, 4.0])
def test_a_weak_pattern_is_not_made_one(size: float) -> None:
    def value(row: PlanRow, place: int) -> float:
        same = (row.factors["water"] == "soft") == (row.factors["bag"] == "round")
        return 200.0 + (size if same else 0.0) + NOISE[place]

    told = whole(TWO_BY_TWO, value)
    assert told.findings.responses[0].crossings == ()
    assert "together: " not in told.text("answer")
    assert "not clear of chance" in told.text("strength-together")
    assert "water with bag" in told.text("strength-tables")
