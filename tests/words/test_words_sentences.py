"""Verdict sentences for every verdict, reason, direction, scale and unit."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest

from trials.words.answering import answer_sentences
from trials.words.comparing import Pair, fits, gap
from trials.words.forbidden import find_causal, find_forbidden
from trials.words.numbers import MINUS, NBSP
from trials.words.sentences import (
    MATTERED,
    NO_DIFFERENCE,
    NOT_SETTLED,
    VerdictFacts,
    settle_sentence,
    verdict_sentence,
)

REASONS = {
    "beyond": MATTERED,
    "inside": NO_DIFFERENCE,
    "clear_but_small": NO_DIFFERENCE,
    "inside_on_average": NOT_SETTLED,
    "clear_not_surely_big": NOT_SETTLED,
    "wide": NOT_SETTLED,
    "no_replication": NOT_SETTLED,
    "error_unsure": NOT_SETTLED,
    "failures_disagree": NOT_SETTLED,
}

# estimate and interval of oven against burner, both directions, per scale
CASES = {
    ("difference", 1): (0.2137, (0.1042, 0.3232)),
    ("difference", -1): (-0.2137, (-0.3232, -0.1042)),
    ("ratio", 1): (1.4249, (1.12, 1.81)),
    ("ratio", -1): (1 / 1.4249, (1 / 1.81, 1 / 1.12)),
}


def facts(reason: str, scale: str = "difference", sign: int = 1, **more: object) -> VerdictFacts:
    estimate, interval = CASES[scale, sign]
    made = VerdictFacts(
        factor="heat",
        verdict=REASONS[reason],
        reason=reason,
        response="power",
        scale=scale,  # type: ignore[arg-type]  # one of the two words
        worthwhile=1.1 if scale == "ratio" else 0.05,
        a="oven",
        b="burner",
        estimate=estimate,
        interval=interval,
        unit="mW",
        item="cell",
        unit_group="firing",
        to_settle=6 if REASONS[reason] == NOT_SETTLED else None,
        settle_group="firing",
    )
    return replace(made, **more)  # type: ignore[arg-type]  # fields of many kinds


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


@pytest.mark.parametrize(
    ("reason", "scale", "sign"), list(itertools.product(REASONS, ("difference", "ratio"), (1, -1)))
)
def test_every_sentence_names_the_winner_first(reason: str, scale: str, sign: int) -> None:
    text = plain(verdict_sentence(facts(reason, scale, sign)))
    first, second = ("oven", "burner") if sign == 1 else ("burner", "oven")
    size = "1.42 times as much as" if scale == "ratio" else "0.21 mW more than"
    assert re.search(rf"{first} gave {size} {second}", text, re.IGNORECASE)
    assert find_forbidden(text) == ()
    assert text.endswith(".")
    assert ".." not in text
    assert "None" not in text
    assert text[0].isupper()
    if REASONS[reason] == NOT_SETTLED:
        assert text.startswith("Not settled.")
    else:
        assert "settle" not in text


@pytest.mark.parametrize(
    ("reason", "scale"), list(itertools.product(REASONS, ("difference", "ratio")))
)
def test_without_chance_nothing_is_called_a_cause(reason: str, scale: str) -> None:
    assert find_causal(verdict_sentence(facts(reason, scale, randomised=False))) == ()


def test_mattered_word_for_word() -> None:
    assert plain(verdict_sentence(facts("beyond"))) == (
        "Heat mattered for power: oven gave 0.21 mW more than burner. The data fit anything from "
        "0.10 to 0.32 mW more, and 0.05 mW is enough to care about."
    )
    assert plain(verdict_sentence(facts("beyond", "ratio", -1, failed=2))) == (
        "Of the cells that worked, heat mattered for power: burner gave 1.42 times as much as "
        "oven. The data fit anything from 1.12 to 1.81 times as much, and 1.1 times is enough to "
        "care about."
    )
    assert plain(verdict_sentence(facts("beyond", randomised=False))) == (
        "Heat went with a difference in power big enough to care about: oven gave 0.21 mW more "
        "than burner. The data fit anything from 0.10 to 0.32 mW more, and 0.05 mW is enough to "
        "care about. Chance is not known to have given out the versions of heat, so something else "
        "may be the reason."
    )


def test_open_word_for_word() -> None:
    wide = facts("wide", estimate=0.06, interval=(-0.08, 0.2))
    assert plain(verdict_sentence(wide)) == (
        "Not settled. The data can't tell yet whether heat matters for power. Oven gave 0.06 mW "
        "more than burner, but the data fit anything from 0.08 mW less to 0.20 mW more. That is "
        "not the same as 'no difference'. About 6 more firings of each kind would probably settle "
        "it."
    )
    one = verdict_sentence(replace(wide, to_settle=1))
    assert "About 1 more firing of each kind" in one
    never = verdict_sentence(replace(wide, to_settle=None))
    assert "Even ten times as many firings might not settle it" in never
    item = verdict_sentence(replace(wide, unit_group="", settle_group="", to_settle=12))
    assert "About 12 more cells of each kind" in item


def test_no_repeats_and_failures() -> None:
    assert plain(
        verdict_sentence(facts("no_replication", estimate=None, interval=(None, None)))
    ) == (
        "Not settled. There were no repeats of the firing for each version of heat, so the luck of "
        "one firing can't be told from heat. Use each version on at least two firings next time."
    )
    text = plain(verdict_sentence(facts("failures_disagree", failed=3)))
    assert "changes with how the failed cells are counted" in text
    assert "Of the cells that worked, oven gave" in text


def test_depending_on_another() -> None:
    text = verdict_sentence(facts("inside_on_average", depends_on=("dye", "soak time")))
    assert "we can't rule out that it matters with some versions of dye and soak time" in text


def test_why_a_clear_difference_would_hardly_be_settled_by_more() -> None:
    """1.21 is below 1.3, so that it is so must show in each context; 1.43 lies beyond it."""
    near = facts("clear_not_surely_big", "ratio", to_settle=None, worthwhile=1.3, estimate=1.21)
    within = replace(near, also_within=True)
    beyond = replace(within, estimate=1 / 1.43)
    alone = " The best guess is so near 1.3 times that to tell on which side the truth lies would "
    for one in (near, beyond):
        assert plain(settle_sentence(one)).startswith(alone)
        assert "the best guess is so near 1.3 times" in plain(answer_sentences((one,))[2][1])
    told = "But to be sure of that, with each version of the other variables too, would likely take"
    assert told in settle_sentence(within)
    assert "more than ten times as many firings" in settle_sentence(within)
    assert "likely less than 1.3 times" in plain(answer_sentences((within,))[2][1])
    in_mw = replace(within, scale="difference", worthwhile=0.05, unit="mW")
    assert told in settle_sentence(replace(in_mw, estimate=-0.04))
    assert told not in settle_sentence(replace(in_mw, estimate=-0.06))


def test_an_exact_tie_and_a_missing_estimate() -> None:
    tie = Pair("oven", "burner", 0.0, (-0.1, 0.1), "difference", "mW")
    assert gap(tie) == "oven gave about as much as burner"
    assert plain(fits(tie)) == "anything from 0.10 mW less to 0.10 mW more"
    gone = facts("wide", estimate=None, interval=(None, None))
    assert "could not be worked out" in verdict_sentence(gone)
    assert "None" not in verdict_sentence(gone)
    assert fits(Pair("a", "b", 1.0, (None, None), "ratio")) == "no range could be worked out"
    assert plain(fits(Pair("a", "b", 1.2, (0.9, None), "ratio"))) == "0.90 times as much or more"
    assert plain(fits(Pair("a", "b", 3.0, (None, 5.0), "difference", "m"))) == "up to 5.0 m more"


def test_turning_a_pair_keeps_what_it_says() -> None:
    pair = Pair("a", "b", 0.5, (0.25, 1.0), "ratio")
    turned = pair.larger_first()
    assert (turned.a, turned.b, turned.estimate, turned.interval) == ("b", "a", 2.0, (1.0, 4.0))
    down = Pair("a", "b", -3.0, (-5.0, -1.0), "difference").larger_first()
    assert (down.estimate, down.interval) == (3.0, (1.0, 5.0))
    assert MINUS not in fits(down)


def test_the_answer_is_three_sentences() -> None:
    told = answer_sentences(
        (
            facts("beyond"),
            replace(facts("inside"), factor="soak time"),
            replace(facts("inside"), factor="coats"),
            replace(facts("wide"), factor="dye", unit_group="", settle_group=""),
            replace(facts("no_replication"), factor="lamp"),
            replace(facts("failures_disagree"), factor="paste"),
            replace(facts("wide"), factor="glass", to_settle=None),
        )
    )
    assert [plain(text) for _, text in told] == [
        "Heat: oven gave 0.21 mW more than burner (0.10 to 0.32 mW more fits the data).",
        "Soak time and coats: any difference stays short of the 0.05 mW you would care about.",
        "Dye (about 6 more cells of each kind would probably settle it); lamp (use each version "
        "on at least two firings); paste (it depends on how the failed cells are counted); glass "
        "(first make firings more alike; more of them would hardly help).",
    ]
    assert [lead for lead, _ in told] == [
        "What mattered",
        "What made no practical difference",
        "What is not settled",
    ]


def test_the_answer_when_nothing_is_settled() -> None:
    told = answer_sentences((facts("wide"),))
    assert told[0][1] == (
        "So far no variable is sure to make a difference that you would care about."
    )
    assert told[1][1].startswith("So far no variable is sure to make too little difference")
    by_hand = answer_sentences((facts("beyond", randomised=False),))
    assert by_hand[0][0] == "What went with a difference"
    assert find_causal(" ".join(lead + " " + text for lead, text in by_hand)) == ()


def test_versions_of_which_none_is_clearly_better_are_told_at_once_with_the_difference() -> None:
    near = replace(facts("beyond"), factor="dye", too_close=("hibiscus", "red cabbage"))
    (_, text), *_ = answer_sentences((near,))
    assert plain(text).endswith(
        "fits the data); it is not clear which of hibiscus and red cabbage is better."
    )


def test_groups_that_would_settle_it_are_told_in_items_too() -> None:
    """27 firings of each of 2 kinds, 6 cells each: 27 x 2 x 6 = 324."""
    more = replace(facts("wide"), to_settle=27, settle_group="firing", to_settle_items=324)
    told = "about 27 more firings of each kind (about 324 more cells) would probably settle it"
    assert told in settle_sentence(more).lower()
    assert told in answer_sentences((more,))[2][1].lower()
