"""A board whose words were begun in one language and are told in another, and Spanish words.

Which words of size, of cause and of the making are looked for: common practice, no source. That no
verdict is a "significant" one: R. L. Wasserstein, A. L. Schirm and N. A. Lazar, "Moving to a world
beyond p < 0.05", The American Statistician 73 (2019), S1, 1-19.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from trials.errors import TextError
from trials.render.pictures import PICTURES
from trials.report import Story, edited_texts
from trials.report.abstracts import LIMITS
from trials.words.edited import CODES_NOTE
from trials.words.forbidden import find_causal, find_forbidden
from trials.words.language import LANGUAGES, said_in_all, say, speaking
from trials.words.pictures import ANY, picture_of

from .made import make
from .test_report_board import draft, story, story_of

BOTH_WAYS = [(one, other) for one in LANGUAGES for other in LANGUAGES if one != other]


def celdas() -> Story:
    made = make("difference")
    return story_of(replace(made, study=made.study.model_copy(update={"item_name": "celda"})))


@pytest.mark.parametrize(("before", "now"), BOTH_WAYS)
def test_a_draft_that_nobody_changed_is_told_anew_in_the_language_of_the_study(
    before: str, now: str
) -> None:
    with speaking(before):
        old = draft(story())
    with speaking(now):
        assert edited_texts(story(), old.board, old.abstract) == draft(story())


@pytest.mark.parametrize(("before", "now"), BOTH_WAYS)
def test_words_of_a_person_stay_and_results_are_told_in_the_new_language(
    before: str, now: str
) -> None:
    with speaking(before):
        old = draft(story())
        board = old.board.replace("{{steps}}", "{{steps}}\n\nHola.")
        short, long = (say(title) for title in LIMITS)
        abstract = old.abstract.replace(f"## {long}", f"Hola.\n\n## {long}")
    assert board != old.board
    assert abstract != old.abstract
    with speaking(now):
        texts = edited_texts(story(), board, abstract)
        assert f"<!-- {say(CODES_NOTE)} " in texts.board
    assert texts.notes == ()
    assert "Hola." in texts.board
    assert "Hola." in texts.abstract
    assert f"## {short}" in texts.abstract
    for text in (texts.board, texts.abstract):
        assert sum(text.count(f"<!-- {note} ") for note in said_in_all(CODES_NOTE)) == 1


@pytest.mark.parametrize(("before", "now"), BOTH_WAYS)
def test_an_abstract_keeps_its_limit_under_a_heading_of_the_other_language(
    before: str, now: str
) -> None:
    with speaking(before):
        _, long = (say(title) for title in LIMITS)
        text = draft(story()).abstract.replace(f"## {long}", "so " * 90 + f"\n\n## {long}")
    with speaking(now), pytest.raises(TextError) as problem:
        edited_texts(story(), None, text)
    assert problem.value.code == "report.words"


@pytest.mark.parametrize(
    "said",
    [
        "dio el doble", "dos veces más", "diez veces y media más", "una vez y media", "duplicó",
        "la mitad que antes", "un tercio menos", "dos coma cinco", "veinte por ciento",
    ],
)  # fmt: skip
def test_a_size_in_spanish_words_is_refused(said: str) -> None:
    text = draft(story()).board.replace("{{steps}}", f"{{{{steps}}}}\n\nEl horno: {said}.")
    with pytest.raises(TextError) as problem:
        edited_texts(story(), text, None)
    assert problem.value.what.endswith("says in words how big a difference is.")


@pytest.mark.parametrize(
    "said",
    ["48 celdas", "48 pequeñas celdas", "dobla por la mitad, cinta de doble cara", "una sola vez"],
)
def test_spanish_words_that_tell_no_size_of_a_difference_are_let_through(said: str) -> None:
    with speaking("es"):
        text = draft(celdas()).board.replace("{{steps}}", f"{{{{steps}}}}\n\nSon {said}.")
        assert said in edited_texts(celdas(), text, None).board


@pytest.mark.parametrize("said", ["49 celdas", "48 pequeñas lecturas", "48 celdas, 47 celdas"])
def test_a_number_of_nobody_is_refused_in_spanish(said: str) -> None:
    with speaking("es"):
        text = draft(celdas()).board.replace("{{steps}}", f"{{{{steps}}}}\n\nSon {said}.")
        with pytest.raises(TextError):
            edited_texts(celdas(), text, None)


def test_spanish_words_that_tell_more_than_the_findings_are_found() -> None:
    with speaking("es"):
        told = "Esto demuestra una mejora significativa (p < 0.05): el factor calor importó."
        assert [one.word for one in find_forbidden(told)] == [
            "demuestra", "significativa", "p <", "factor",
        ]  # fmt: skip
        assert find_causal("Debido a la cocción aumentó la potencia.") == ("Debido a", "aumentó")
        assert find_causal("Se dio junto con más potencia.") == ()
        assert find_forbidden("Comprueba que la celda está cerrada.") == ()
    assert find_forbidden("Esto demuestra una mejora significativa.") == ()


def test_a_spanish_step_has_its_picture() -> None:
    with speaking("es"):
        for name, label, tools, wanted in (
            ("limpiar", "Lava el vidrio", ("fregadero",), "wash"),
            ("calor", "Calienta las placas", ("horno", "mechero"), "oven"),
            ("medir", "Mide la planta", ("regla",), "ruler"),
            ("medir", "Lanza y mide", ("cinta métrica",), "throw"),
            ("medir", "Lee la potencia", ("multímetro",), "meter"),
            ("secar", "Deja secar la pasta", (), "clock"),
            ("cerrar", "Cierra la celda", ("pinzas",), "clip"),
            ("tinte", "Remoja en el tinte", ("cronómetro",), "dish"),
            ("doblar", "Dobla el avión", ("regla",), "fold"),
            ("x", "", ("cronómetro",), "clock"),
            ("x", "", (), ANY),
        ):
            assert picture_of(name, label, tools) == wanted
            assert wanted in PICTURES
    assert picture_of("limpiar", "Lava el vidrio", ()) == ANY
