"""Pages in another language: nothing is missing, nothing filled in is lost, and nouns agree."""

from __future__ import annotations

import gettext
import io
import re

import pytest

from trials.words import spanish
from trials.words.language import ENGLISH, LANGUAGES, language, marked, say, say_as, speaking
from trials.words.numbers import capital, count, listing, plural

from .catalogue import catalogue, file_of, messages, mo_bytes, places, po_text, renewed

OTHERS = [code for code in LANGUAGES if code != ENGLISH]


@pytest.mark.parametrize("code", OTHERS)
def test_every_text_of_the_code_is_translated_and_nothing_else(code: str) -> None:
    told = {(one.id, one.context or "") for one in catalogue(code) if one.id and one.string}
    said = {(one.text, one.context) for one in messages()}
    assert len(said) > 1000
    assert said - told == set()
    assert told - said == set()


@pytest.mark.parametrize("code", OTHERS)
def test_the_catalogue_is_as_it_would_be_made_now(code: str) -> None:
    anew = renewed(code)
    assert file_of(code).read_bytes() == po_text(anew)
    # what is read is what is compiled: compared as texts, for headers hold the compiler's name
    kept = gettext.GNUTranslations(io.BytesIO(file_of(code).with_suffix(".mo").read_bytes()))
    made = gettext.GNUTranslations(io.BytesIO(mo_bytes(anew)))
    for one in messages():
        if one.context:
            assert kept.pgettext(one.context, one.text) == made.pgettext(one.context, one.text)
        else:
            assert kept.gettext(one.text) == made.gettext(one.text)


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_keeps_the_places_and_the_blanks_around(code: str) -> None:
    for one in catalogue(code):
        text, told = str(one.id), str(one.string)
        if not text:
            continue
        assert places(told) <= places(text), text
        # a place may be missing only if all it holds is said otherwise: an ending, a verb form
        assert len(places(text) - places(told)) <= 1, text
        assert (text[:1] == " ", text[-1:] == " ") == (told[:1] == " ", told[-1:] == " "), text


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_keeps_numbers_and_codes(code: str) -> None:
    for one in catalogue(code):
        codes = re.compile(r"\b[A-Z]+\d+(?:\+[A-Z]\d+)*\b|\b(?:1[89]|20)\d\d\b")
        text, told = str(one.id), str(one.string)
        if not text:
            continue
        assert sorted(codes.findall(text)) == sorted(codes.findall(told)), text


def test_a_page_is_told_in_one_language_and_then_again_in_english() -> None:
    with speaking("es"):
        assert language() == "es"
        assert listing(["calor", "tinte"]) == "calor y tinte"
        assert count(4, "avión") == "4 aviones"
        assert capital("última cocción") == "Última cocción"
    assert language() == ENGLISH
    assert listing(["heat", "dye"]) == "heat and dye"
    assert plural("cell") == "cells"


def test_a_language_that_is_not_spoken_is_a_mistake_of_ours() -> None:
    with pytest.raises(KeyError, match="xx"), speaking("xx"):
        pass


def test_a_text_without_a_translation_stands_as_it_is() -> None:
    unknown = "{a} gave {b} nobody's messages"
    with speaking("es"):
        assert say(unknown, a="oven", b=3) == "oven gave 3 nobody's messages"
        assert say_as("somewhere", "{a} nobody's", a=1) == "1 nobody's"
    assert marked(unknown) is unknown
    assert say("braces {stay}") == "braces {stay}"


# From a school grammar, as in the Real Academia Española's (Nueva gramática, manual, 2010; from
# memory): words that end in every way the plural's rules know.
PLURALS = {
    "celda": "celdas", "café": "cafés", "avión": "aviones", "papel": "papeles", "luz": "luces",
    "mes": "meses", "lunes": "lunes", "crisis": "crisis", "examen": "exámenes",
    "imagen": "imágenes",
    "rey": "reyes", "avión de papel": "aviones de papel", "lápiz": "lápices", "inglés": "ingleses",
    "pie": "pies", "sofá": "sofás", "reloj": "relojes", "joven": "jóvenes", "color": "colores",
}  # fmt: skip


@pytest.mark.parametrize(("one", "many"), PLURALS.items())
def test_plurals(one: str, many: str) -> None:
    assert spanish.plural(one) == many


@pytest.mark.parametrize(
    ("form", "noun", "told"),
    [
        ("el", "celda", "la celda"),
        ("el", "avión de papel", "el avión de papel"),
        ("los", "celdas", "las celdas"),
        ("los", "cocciones", "las cocciones"),
        ("los", "aviones", "los aviones"),
        ("un", "mano", "una mano"),
        ("del", "horno", "del horno"),
        ("al", "clase", "a la clase"),
        ("el", "aula", "el aula"),
        ("los", "aulas", "las aulas"),
        ("el", "día", "el día"),
        ("los", "problemas", "los problemas"),
        ("el", "análisis", "el análisis"),
        ("todos los", "plantas", "todas las plantas"),
        ("-os", "tazas", "as"),
    ],
)
def test_words_that_agree(form: str, noun: str, told: str) -> None:
    assert spanish.agreeing(form, noun) == told


def test_a_place_is_filled_together_with_the_word_that_agrees(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    known = gettext.NullTranslations()
    monkeypatch.setattr(known, "gettext", lambda _: "{n:>3} {items:los} {share:.0f} %")
    monkeypatch.setattr("trials.words.language._catalogue", lambda _: known)
    with speaking("es"):
        assert say("x", n=4, items="tazas", share=33.3) == "  4 las tazas 33 %"


@pytest.mark.parametrize(
    ("last", "word", "told"),
    [
        ("and", "horno", "y"), ("and", "hibisco", "e"), ("and", "índigo", "e"),
        ("and", "hielo", "y"), ("or", "horno", "u"), ("or", "ocho", "u"), ("or", "tinte", "o"),
    ],
)  # fmt: skip
def test_and_and_or_before_the_same_sound(last: str, word: str, told: str) -> None:
    assert spanish.joining(last, word) == told
