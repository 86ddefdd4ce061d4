"""The glossary, the words that students must not meet, and the sentences on method."""

from __future__ import annotations

import re

import pytest

from trials.words.forbidden import (
    CAUSAL,
    FORBIDDEN,
    FORBIDDEN_ES,
    find_causal,
    find_forbidden,
)
from trials.words.glossary import GLOSSARY, terms_in
from trials.words.language import say, say_as, speaking
from trials.words.methods import MethodFacts, method_sentences, note_text
from trials.words.teaching import Done, mistakes


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("The stratum of the firing", "stratum"),
        ("a digest of the plan", "digest"),
        ("two queries are open", "queries"),
        ("it proves the point", "proves"),
        ("the result is significant", "significant"),
        ("p = 0.03", "p ="),
        ("a heteroscedastic fit", "heteroscedastic"),
        ("the null hypothesis", "null hypothesis"),
        ("the efficiency factor", "efficiency factor"),
        ("the plan is sealed", "sealed"),
        ("the skeleton says", "skeleton"),
    ],
)
def test_forbidden_words_are_found(text: str, word: str) -> None:
    found = find_forbidden(text)
    assert word in [one.word for one in found]
    assert all(one.instead and one.around for one in found)


@pytest.mark.parametrize("text", ["improved", "a jquery", "blindfold", "approve", "graph = 3"])
def test_harmless_words_are_not(text: str) -> None:
    assert find_forbidden(text) == ()


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("esto prueba que el horno es mejor", "prueba que"),
        ("queda probado que el horno es mejor", "probado que"),
        ("es la prueba de que funciona", "prueba de que"),
        ("los datos demuestran algo", "demuestran"),
        ("quedó demostrado", "demostrado"),
        ("una mejora significativa", "significativa"),
        ("es significativamente mejor", "significativamente"),
        ("con p = 0.03", "p ="),
        ("el valor p es pequeño", "valor p"),
        ("la hipótesis nula", "hipótesis nula"),
        ("el factor tinte", "factor"),
        ("no tuvo ningún efecto", "ningún efecto"),
        ("el esqueleto del plan", "esqueleto"),
        ("la dispersión residual", "residual"),
        ("intervalos simultáneos", "simultáneos"),
        ("el intervalo de confianza", "intervalo de confianza"),
    ],
)
def test_forbidden_words_are_found_in_spanish(text: str, word: str) -> None:
    with speaking("es"):
        found = find_forbidden(text)
    assert word in [one.word for one in found]
    assert all(one.instead and one.around for one in found)


@pytest.mark.parametrize(
    "text",
    [
        "una prueba justa", "la prueba de confirmación", "probamos cuatro versiones",
        "compruébala", "el factor de forma", "los residuos van a su cubo", "sin decidir",
        "un valor para cada celda",
    ],
)  # fmt: skip
def test_harmless_words_are_not_in_spanish(text: str) -> None:
    with speaking("es"):
        assert find_forbidden(text) == ()


def test_what_to_say_instead_is_itself_allowed() -> None:
    for language, entries in (("en", FORBIDDEN), ("es", FORBIDDEN_ES)):
        with speaking(language):
            for entry in entries:
                assert find_forbidden(entry.instead) == (), entry


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("El horno causa más potencia.", "causa"),
        ("A causa de eso subió la potencia.", "A causa de"),
        ("Se debe a la cocción.", "Se debe a"),
        ("El horno provocó una subida.", "provocó"),
        ("El horno hace que suba.", "hace que"),
        ("El efecto del horno se ve.", "El efecto del"),
        ("El tinte cambió la potencia.", "cambió la"),
        ("El tinte hizo una diferencia.", "hizo una diferencia"),
        ("El horno se dio junto con más potencia.", ""),
        ("Por esa causa no se midió.", "causa"),
    ],
)
def test_causal_words_of_spanish(text: str, word: str) -> None:
    with speaking("es"):
        assert find_causal(text) == ((word,) if word else ())


def test_causal_words() -> None:
    assert find_causal("It caused more, because of heat") == ("caused", "because of")
    assert find_causal("Team 3 went with more power.") == ()
    assert CAUSAL.flags & re.IGNORECASE


def test_glosses_for_students_are_plain() -> None:
    for term in GLOSSARY:
        assert re.search(term.pattern, term.word, re.IGNORECASE), term.word
        if not term.technical:
            assert find_forbidden(f"{term.word}. {term.gloss}") == ()


def test_only_words_in_use_are_explained_with_the_studys_own() -> None:
    told = dict(terms_in(["Two pots failed. The average is 3."], "pot", technical=False))
    assert sorted(told) == ["average", "failed"]
    assert told["failed"] == "The pot was made but does not work, by a rule set beforehand."
    technical = dict(terms_in(["F and p by REML"], "pot", technical=True))
    assert sorted(technical) == ["F", "REML", "p"]


def test_words_are_found_and_explained_in_the_language_of_the_page() -> None:
    with speaking("es"):
        for term in GLOSSARY:
            word, pattern = say_as("glossary", term.word), say_as("pattern", term.pattern)
            assert re.search(pattern, word, re.IGNORECASE), word
            told = terms_in([f"({word})"], "celda", technical=term.technical)
            assert word in dict(told)
            assert "{" not in dict(told)[word]


def test_a_lesson_is_known_by_the_words_of_the_language() -> None:
    coating, weighing = Done("Coat it with paste.", False), Done("Weigh the tea.", False)
    english = mistakes([coating, weighing])
    assert english[0].startswith("Coats get thick")
    assert english[1].startswith("The scales aren't set to zero")
    with speaking("es"):
        capa, pesada = Done("Pon una capa de pasta.", False), Done("Pesa las hojas.", False)
        assert mistakes([capa, pesada]) == tuple(say(text) for text in english)
        assert mistakes([coating, weighing]) != mistakes([capa, pesada])


def test_every_method_can_be_told() -> None:
    for estimator, df in (
        ("strata", "strata"),
        ("reml", "kenward-roger"),
        ("reml", "satterthwaite"),
        ("ols", "residual"),
    ):
        for sums in ("I", "II", "III"):
            for bounded in (True, False):
                facts = MethodFacts(
                    estimator,
                    df,
                    sums,
                    bounded,
                    "ratio",
                    0.95,
                    ("tukey", "multivariate_t"),
                    (),
                    "cell",
                )
                text = " ".join(method_sentences(facts))
                assert f"type {sums}" in text
                assert "95\u00a0%" in text
                assert ("kept at zero" in text) == (bounded and estimator == "reml")


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("fixed_group:session", "the session has fewer"),
        ("implied_group:team/session", "session within team"),
        ("group_same_as:a:b", "a groups the items exactly as b does"),
        ("averaged_over:hibiscus, oven;beetroot, oven", "hibiscus, oven; beetroot, oven"),
        ("few_df", "too few units"),
        ("never_heard_of", "never heard of"),
    ],
)
def test_notes_in_words(code: str, told: str) -> None:
    assert told in note_text(code, {"session": "the session" if "fixed" in code else "session"})
