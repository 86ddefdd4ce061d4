"""Kinds of plans in words."""

from __future__ import annotations

from trials.words.families import FAMILY_WORDS, FamilyFacts, loss_sentences, textbook_name
from trials.words.forbidden import find_causal, find_forbidden


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
    made = ("none", "one_factor", "with_control", "full_factorial", "fractional",
            "plackett_burman", "searched")  # fmt: skip
    laid = ("completely_randomised", "randomised_blocks", "latin_square", "incomplete_blocks",
            "confounded", "split_plot", "criss_cross", "searched")  # fmt: skip
    names = {textbook_name(FamilyFacts(a, t)) for a in laid for t in made}
    assert all(name and "  " not in name for name in names)
    assert len(names) > 40
