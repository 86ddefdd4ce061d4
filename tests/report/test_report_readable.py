"""Words of a report on hand-made findings: plain, of use to a fifteen-year-old, no false cause."""

from __future__ import annotations

import re

import pytest

from tests.words.reading_grade import flesch_kincaid, readability_index
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
