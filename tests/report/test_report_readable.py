"""Words of a report on hand-made findings: plain, of use to a fifteen-year-old, no false cause."""

from __future__ import annotations

import re

import pytest

from trials.render.blocks import Figure, Section, texts, walk
from trials.render.table import Table
from trials.words.forbidden import find_causal, find_forbidden

from .telling import (
    Scale,
    student_text,
    told,
    worded,
)


def test_the_student_never_meets_a_forbidden_word() -> None:
    for scale in ("difference", "ratio"):
        assert find_forbidden(student_text(worded(scale))) == ()
        assert find_forbidden(student_text(worded(scale, p_pair=0.004))) == ()


def test_causes_are_claimed_only_where_chance_gave_out_the_versions() -> None:
    # with failed cells even a randomised comparison is one among those that worked
    among = student_text(told("difference"))
    assert "so the difference comes from them" not in among
    assert "caused" not in among
    whole = student_text(worded("difference", failed=0))
    assert "given out by chance, so the difference comes from them" in whole
    # groups such as teams and sessions are nowhere given as a cause
    for sentence in re.split(r"(?<=[.:;])\s", whole):
        if re.search(r"\b(teams?|sessions?|people|day)\b", sentence):
            claims = [word for word in find_causal(sentence) if word != "comes from"]
            assert claims == [], sentence


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_a_fifteen_year_old_can_read_it(scale: Scale) -> None:
    document = worded(scale, p_pair=0.004)
    keep = (
        "question", "answer", "variables", "limits", "trouble", "next", "power-together", "words",
    )  # fmt: skip
    running = []
    for part in document.parts[0].sections:
        if part.key in keep:
            running += [t for t in _running(part) if len(t.split()) > 3]
    text = " ".join(t if t.endswith((".", "?")) else f"{t}." for t in running)
    assert flesch_kincaid(text) <= 9.0
    assert readability_index(text) <= 9.0


def _running(part: Section) -> list[str]:
    out = []
    for found in walk((part,)):
        for block in found.blocks:
            if not isinstance(block, Table | Figure):
                out += list(texts((Section("", "", (block,)),)))
            else:
                out.append(block.caption)
    return [text for text in out if text]


def _sentences(text: str) -> tuple[list[str], int]:
    words = re.findall(r"[A-Za-z][A-Za-z'-]*|\d[\d.]*", text)
    return words, max(len(re.findall(r"[.?!](?=\s|$)", text)), 1)


def flesch_kincaid(text: str) -> float:
    """Grade of J. P. Kincaid and others (1975), Report 8-75; syllables by vowels."""
    words, sentences = _sentences(text)
    syllables = sum(
        max(len(re.findall(r"[aeiouy]+", re.sub(r"e\b|es\b|ed\b", "", w.lower()))), 1)
        for w in words
    )
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59


def readability_index(text: str) -> float:
    """Automated Readability Index of R. J. Senter and E. A. Smith (1967), AMRL-TR-66-220."""
    words, sentences = _sentences(text)
    letters = sum(len(w) for w in words)
    return 4.71 * letters / len(words) + 0.5 * len(words) / sentences - 21.43


def test_the_measures_of_reading_agree_with_a_published_text() -> None:
    # The Gettysburg Address (Lincoln 1863): about grade 11 by Flesch and Kincaid (common knowledge,
    # from memory), here its first three sentences, which are harder than the rest.
    lincoln = (
        "Four score and seven years ago our fathers brought forth on this continent, a new nation, "
        "conceived in Liberty, and dedicated to the proposition that all men are created equal. "
        "Now we are engaged in a great civil war, testing whether that nation, or any nation so "
        "conceived and so dedicated, can long endure. We are met on a great battle-field of that "
        "war."
    )
    assert 9 < flesch_kincaid(lincoln) < 14
    assert flesch_kincaid("The cat sat on the mat. The dog ran.") < 1
