"""The measures of reading against published texts, and against another program's counts."""

from __future__ import annotations

from .reading_grade import flesch_kincaid, readability_index, spanish_syllables, szigriszt_pazos


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


def test_the_measure_of_spanish_agrees_with_a_count_by_hand() -> None:
    # The first two sentences of Don Quijote (Cervantes 1605): 66 words, 126 syllables by hand.
    cervantes = (
        "En un lugar de la Mancha, de cuyo nombre no quiero acordarme, no ha mucho tiempo que "
        "vivía un hidalgo de los de lanza en astillero, adarga antigua, rocín flaco y galgo "
        "corredor. Una olla de algo más vaca que carnero, salpicón las más noches, duelos y "
        "quebrantos los sábados, lentejas los viernes, algún palomino de añadidura los "
        "domingos, consumían las tres partes de su hacienda."
    )
    words = cervantes.replace(",", "").replace(".", "").split()
    assert (len(words), sum(map(spanish_syllables, words))) == (66, 126)
    # textstat 0.7.3 with pyphen 0.17.2, run on this text: 62.46 with the 118 syllables that
    # it finds by where a word may be parted
    assert abs(szigriszt_pazos(cervantes) - (62.46 - 62.3 * 8 / 66)) < 0.1
