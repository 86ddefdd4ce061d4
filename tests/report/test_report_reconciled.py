"""Two numbers on one thing: each page says what they are, and what the answer rests on.

The hand-made findings are those of :mod:`.made`; the words are checked, and the numbers by hand.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from trials.analysis.findings import BestRecipe, Contender, FailedAlike, Recipe, ResponseFindings
from trials.render.blocks import Paragraph
from trials.report import judge_document, story_of
from trials.words.forbidden import find_forbidden
from trials.words.numbers import NBSP
from trials.words.sentences import MATTERED, NOT_SETTLED

from ..words.reading_grade import flesch_kincaid
from .made import TODAY, Made, make
from .telling import section, tables_in, text_of, without_pictures

ALIKE = FailedAlike(
    levels={"dye": "beetroot", "coats": "2"}, made=8, failed=3, of_made=47, of_failed=3, p=0.079
)
BEST = {"dye": "hibiscus", "heat": "oven", "coats": "2"}


def pages(made: Made, key: str) -> str:
    with without_pictures():
        return text_of(section(made.document(), key))


def notes(made: Made, table: str) -> str:
    with without_pictures():
        document = made.document()
    key = next(s.key for part in document.parts for s in _deep(part.sections) if _has(s, table))
    return " ".join(tables_in(document, key)[table].notes).replace(NBSP, " ")


def _deep(sections: Any) -> Any:
    for one in sections:
        yield one
        yield from _deep(one.sections)


def _has(one: Any, table: str) -> bool:
    return any(getattr(block, "name", "") == table for block in one.blocks)


# ---- what failed items share ---------------------------------------------------------------------


def test_what_all_failed_items_share_is_one_sentence_with_its_luck() -> None:
    text = pages(make("difference", failed=3, failed_alike=ALIKE), "trouble")
    assert (
        "All 3 cells that failed had beetroot and 2 coating passes; 8 of the 47 "
        "cells tested had these. If nothing that was changed made cells fail, the failed ones "
        "would be this much alike in about 8 of 100 repeats. So it may be luck."
    ) in text.replace("\n", " ")
    assert find_forbidden(text) == ()
    told = text[text.index("What they share") :]
    assert flesch_kincaid(told[: told.index("be luck.") + 8]) <= 9.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"p": 0.004}, "in about 4 of 1000 repeats. So it is hardly luck: find out why before"),
        ({"p": None}, "8 of the 47 cells tested had these. How easily luck does that can't be"),
        ({"of_failed": 5, "failed": 4}, "4 of the 5 cells that failed had beetroot and 2 coating"),
    ],
)
def test_few_many_and_nearly_all(changes: dict[str, Any], words: str) -> None:
    alike = ALIKE.model_copy(update=changes)
    assert words in pages(make("difference", failed=3, failed_alike=alike), "trouble")


@pytest.mark.parametrize(
    ("coats", "changes", "words"),
    [
        ("2", {}, "This recipe has 2 coating passes, like all 3 cells that failed. That may be"),
        ("2", {"of_failed": 5, "p": 0.004}, "like 3 of the 5 cells that failed. So watch whether"),
        ("1", {}, ""),
    ],
)
def test_what_the_best_recipe_shares_with_failed_items_is_told_where_it_is(
    coats: str, changes: dict[str, Any], words: str
) -> None:
    best = BestRecipe(
        levels={**BEST, "coats": coats}, mean=0.7, interval=(0.6, 0.8), gap=0.1,
        gap_interval=(-0.1, 0.3), runner_up={**BEST, "dye": "beetroot"}, fresh=12, fresh_for=0.1,
    )  # fmt: skip
    alike = ALIKE.model_copy(update=changes)
    told = pages(make("difference", failed=3, failed_alike=alike, best_recipe=best), "power-best")
    assert words in told
    assert ("Failures" in told) == bool(words)


def test_where_failed_items_share_nothing_nothing_is_said() -> None:
    made = make("difference", failed=3)
    assert "What they share" not in pages(made, "trouble")
    assert "at once" not in notes(made, "power-failures")


def test_the_method_tells_how_that_was_found() -> None:
    made = make("difference", failed=3, failed_alike=ALIKE)
    assert "searched in the same way: p 0.079." in notes(made, "power-failures")


# ---- one pair, two ranges ------------------------------------------------------------------------


def shuffled(made: Made, ends: tuple[float, float]) -> Made:
    """Give hibiscus over red cabbage an interval by the shuffle."""
    changed = tuple(
        one.model_copy(update={"interval_randomisation": ends})
        if (one.a, one.b) == ({"dye": "hibiscus"}, {"dye": "red cabbage"})
        else one
        for one in made.found.comparisons
    )
    return made.with_found(made.found.model_copy(update={"comparisons": changed}))


def with_ends(made: Made, alone: tuple[float, float], answer: tuple[float, float]) -> Made:
    """Give hibiscus over red cabbage the fitted model's interval, alone and for all pairs."""
    changed = tuple(
        one.model_copy(update={"interval": alone, "interval_adjusted": answer})
        if (one.a, one.b) == ({"dye": "hibiscus"}, {"dye": "red cabbage"})
        else one
        for one in made.found.comparisons
    )
    return made.with_found(made.found.model_copy(update={"comparisons": changed}))


@pytest.mark.parametrize(
    ("drawn", "alone", "answer", "told_so"),
    [
        ((0.02, 0.3), (0.01, 0.3), (-0.02, 0.33), "The shuffle is not the reason: the fitted"),
        ((0.02, 0.3), (-0.01, 0.3), (-0.02, 0.33), "is by the shuffle and for one pair alone;"),
        ((-0.02, 0.3), (0.03, 0.3), (0.01, 0.33), "the one here does not. The one here is by the"),
        ((0.02, 0.3), (0.03, 0.3), (0.01, 0.33), ""),
    ],
)
def test_why_two_ranges_of_a_pair_differ_is_told_as_it_is(
    drawn: tuple[float, float],
    alone: tuple[float, float],
    answer: tuple[float, float],
    told_so: str,
) -> None:
    """It is the allowing for all pairs if the fitted model's range for the pair alone agrees."""
    made = shuffled(with_ends(make("difference"), alone, answer), drawn)
    told = notes(made, "power-shuffle-intervals")
    assert told_so in told
    assert told.count("For hibiscus over red cabbage") == bool(told_so)


@pytest.mark.parametrize(("ends", "differ"), [((0.03, 0.3), False), ((-0.02, 0.3), True)])
def test_a_range_by_the_shuffle_that_says_otherwise_is_explained(
    ends: tuple[float, float], *, differ: bool
) -> None:
    made = make("difference")
    pair = next(one for one in made.found.comparisons if one.a == {"dye": "hibiscus"})
    assert (pair.interval_adjusted[0] or 0) > 0  # clear of no difference, by the fitted model
    told = notes(shuffled(made, ends), "power-shuffle-intervals")
    words = (
        "For hibiscus over red cabbage the range that the answer and the advice rest on leaves out "
        "'no difference', and the one here does not. The one here is by the shuffle; the answer's "
        "is by the fitted model, and wide enough for all pairs where a variable has more than "
        "two versions."
    )
    assert (words in told) == differ


def wide(found: ResponseFindings) -> ResponseFindings:
    """Return findings in which it is not clear which of hibiscus and red cabbage is better."""
    pair = ({"dye": "hibiscus"}, {"dye": "red cabbage"})
    changed = tuple(
        one.model_copy(update={"interval_adjusted": (-0.01, 0.4)})
        if (one.a, one.b) == pair
        else one
        for one in found.comparisons
    )
    return found.model_copy(update={"comparisons": changed})


@pytest.mark.parametrize(("may_be", "differ"), [(False, True), (True, False), (None, False)])
def test_a_version_out_of_the_running_yet_too_close_to_call(
    *, may_be: bool | None, differ: bool
) -> None:
    out = Contender(
        term="dye", levels={"dye": "red cabbage"}, difference=-0.1, ratio=None,
        interval=(-0.2, 0.0), may_be_best=may_be,
    )  # fmt: skip
    verdicts = {"dye": (MATTERED, "beyond"), "heat": (NOT_SETTLED, "wide")}
    made = make("difference", verdicts=verdicts, contenders=(out,))
    told = notes(made.with_found(wide(made.found)), "power-contenders")
    words = "For the advice it is still not clear which of hibiscus and red cabbage is better."
    assert (words in told) == differ
    assert words not in notes(made, "power-contenders")  # there is nothing to reconcile


# ---- the best recipe -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scale", "picked", "own"),
    [
        ("ratio", "32.2 mW (20.3 to 50.9 mW fits the data)", "24.4 to 42.4 mW"),
        ("difference", "32 mW (20 to 51 mW fits the data)", "24 to 42 mW"),
    ],
)
def test_the_two_ranges_of_the_best_recipe_have_names(scale: Any, picked: str, own: str) -> None:
    """The numbers are those of the demo, at the digits of its other averages."""
    best = BestRecipe(
        levels=BEST, mean=32.1847, interval=(20.3446, 50.9154), gap=0.1, gap_interval=(0.9, 1.2),
        runner_up={**BEST, "coats": "1"}, fresh=12, fresh_for=1.3,
    )  # fmt: skip
    recipe = Recipe(levels=BEST, n=2, mean=32.1847, se=0.1, df=9.0, interval=(24.4412, 42.3808))
    made = make(scale, best_recipe=best, recipes=(recipe,))
    text = pages(made, "power-best").replace("\n", " ")
    assert picked in text
    assert f"the best of them; for this recipe by itself it would be {own}." in text
    whole = picked.partition("(")[2].partition(" fits")[0]
    table = notes(made, "power-recipes")
    assert f"Allowing for having picked it, its interval is {whole}." in table


# ---- where an answer hangs on one thing ----------------------------------------------------------


@pytest.mark.parametrize("factors", [(), ("heat",), ("heat", "dye")])
def test_a_further_response_says_where_its_answer_hangs_on_one_thing(
    factors: tuple[str, ...],
) -> None:
    moves = [
        {
            "left_out": {"kind": kind, "member": "F1"},
            "factor": factor,
            "verdict": NOT_SETTLED,
            "largest_difference": 0.1,
        }
        for factor in factors
        for kind in ("session/firing", "item")
    ]
    made = make("difference")
    other = made.found.model_copy(
        update={"primary": False, "diagnostics": {"influence": {"factors": {}, "moves": moves}}}
    )
    with without_pictures():
        document = made.with_found(made.found, other).document()
    told = [
        block.text
        for block in section(document, "power-other").blocks
        if isinstance(block, Paragraph) and block.lead == "How firmly it stands"
    ]
    expected = {
        (): [],
        ("heat",): [
            "Leaving out a single cell or firing can change the answer about heat: it stands "
            "close to the line."
        ],
        ("heat", "dye"): [
            "Leaving out a single cell or firing can change the answers about heat and dye: they "
            "stand close to the line."
        ],
    }
    assert told == expected[factors]


# ---- counts of different things ------------------------------------------------------------------


def test_decisions_and_the_cells_they_are_about_are_counted_apart() -> None:
    made = make("difference")
    sentences = ("K10, reading 2: '135' corrected to '0.135'", "L11 and M12 exchanged")
    measured = replace(
        made.measured, corrections=sentences, corrected=("K10", "L11", "M12"),
        departures=("N13 was lost",),
    )  # fmt: skip
    made = replace(made, measured=measured)
    words = "2 decisions to correct or set aside something (on 3 cells)"
    assert f"{words}." in pages(made, "method")
    story = story_of(
        made.study, made.plan, made.measured, made.findings, today=TODAY, version="9.9"
    )
    told = " ".join(text_of(one) for part in judge_document(story).parts for one in part.sections)
    assert f"list what we did: {words} and 1 departure from the plan." in told.replace("\n", " ")
    assert "No number was changed or set aside." in pages(make("difference"), "method")


# ---- the check of the winner ---------------------------------------------------------------------


def test_the_check_of_the_winner_has_the_same_words_everywhere() -> None:
    best = BestRecipe(
        levels=BEST, mean=0.7, interval=(0.6, 0.8), gap=0.1, gap_interval=(-0.1, 0.3),
        runner_up={**BEST, "coats": "1"}, fresh=12, fresh_for=0.1,
    )  # fmt: skip
    made = make("difference", best_recipe=best)
    make_ = (
        "ake fresh cells by the best recipe (hibiscus, oven, 2 coating passes), as many with red "
        "cabbage instead of hibiscus, in an order drawn by chance"
    )
    many = (
        "12 of each show that there is a difference in 8 of 10 such checks, if the true one is "
        "0.1 mW; 3 of each, the least, show only a big one."
    )
    # dye is given to single cells, so every session, firing and team can hold both
    even = "Share out each kind evenly over the sessions, firings and teams."
    done = "Unless the winner is clearly ahead then, the check hasn't confirmed it."
    assert f"M{make_}. {even} {many} {done}" in pages(made, "power-best").replace("\n", " ")
    assert f"M{make_}. {many}" in pages(made, "next").replace("\n", " ")
    story = story_of(
        made.study, made.plan, made.measured, made.findings, today=TODAY, version="9.9"
    )
    told = " ".join(text_of(one) for part in judge_document(story).parts for one in part.sections)
    assert f"m{make_}; {many}" in told.replace("\n", " ")
