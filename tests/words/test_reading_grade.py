"""The measures of reading against published texts, and against another program's counts."""

from __future__ import annotations

from .reading_grade import flesch_kincaid, readability_index


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
    # textstat 0.7.3 with pyphen 0.18.1, run on this text: grade 9.2, ARI 10.8 (it rounds
    # to a tenth, and counts syllables by where a word may be parted, which finds fewer)
    assert abs(flesch_kincaid(lincoln) - 9.2) < 0.5
    assert abs(readability_index(lincoln) - 10.8) < 0.8
