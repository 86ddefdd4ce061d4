"""Kinds of plans in words."""

from __future__ import annotations

import re

from trials.words.families import (
    FAMILY_WORDS,
    FamilyFacts,
    loss_sentences,
    textbook_name,
    told_name,
)
from trials.words.forbidden import find_causal, find_forbidden

from .pseudo import speaking_made_up

MADE = ("none", "one_factor", "with_control", "full_factorial", "fractional",
        "plackett_burman", "searched")  # fmt: skip
LAID = ("completely_randomised", "randomised_blocks", "latin_square", "incomplete_blocks",
        "confounded", "split_plot", "criss_cross", "searched")  # fmt: skip


def test_students_meet_no_textbook_word() -> None:
    for code, words in FAMILY_WORDS.items():
        assert find_forbidden(words.plain) == (), code
        assert find_causal(words.plain) == (), code
        assert words.textbook.lower() not in words.plain.lower() or code == "practice_run"


def test_losses_are_told_in_plain_words_and_not_without_end() -> None:
    mixed = [(f"f{n}", f"g{n}:h{n}") for n in range(8)]
    told = loss_sentences([f"a:b{n}" for n in range(9)], ["c:d"], mixed, incomplete=True)
    for sentence in told:
        assert find_forbidden(sentence) == ()
    assert "and 3 more of that kind." in told[0]
    assert told[1] == "It tells less well how c and d work together."
    assert "2 more sets like these are mixed up." in told


def test_a_textbook_name_needs_no_facts() -> None:
    names = {textbook_name(FamilyFacts(a, t)) for a in LAID for t in MADE}
    assert all(name and "  " not in name for name in names)
    assert len(names) > 40


def test_a_textbook_name_is_told_whole_in_another_language() -> None:
    facts = {"levels": "3 x 2", "fraction": "2^(5-1)", "resolution": "V", "runs": "12"}
    names = [
        textbook_name(FamilyFacts(laid, made, groups, known))
        for laid in LAID
        for made in MADE
        for groups, known in (((), {}), (("7", "8"), facts))
    ]
    assert [told_name(name) for name in names] == names
    with speaking_made_up():
        told = [told_name(name) for name in names]
    assert [one for one in told if re.search("[A-Za-z]{2}", one)] == []
