"""Sentences that are kept and said later, and the names of what the program itself reads."""

from __future__ import annotations

import json

from hypothesis import given
from hypothesis import strategies as st

from trials.record.forms import KEPT, body_of, question_of
from trials.record.values import Question
from trials.reduction.electrical.columns import ALIASES
from trials.reduction.electrical.iv_sweep import CURRENT, RESISTANCE, VOLTAGE
from trials.words.keeping import Kept, kept, kept_form, kept_list
from trials.words.language import speaking
from trials.words.quantity_names import kept_quantity, quantity_name

texts = st.text(max_size=12)


@given(texts, texts, st.lists(texts, max_size=4))
def test_what_is_kept_comes_back_from_its_file(one: str, other: str, words: list[str]) -> None:
    said = kept(
        "This is far above {beside}.", beside=kept("the other readings of {item}", item=one)
    )
    said += Kept("age", (), "quantity") + kept("{time}, and {n} more", time=other, n=3)
    said += kept("{items} would fit nearly as well.", items=kept_list(words, "or"))
    assert kept_form(json.loads(json.dumps(said.form()))) == said
    assert f"above the other readings of {one}. age {other}, and 3 more" in str(said)


def test_a_kept_sentence_is_said_in_the_language_of_the_page() -> None:
    said = kept("Usual is {range}.", range=kept("{low} to {high}", low="0", high="0.8 V"))
    with speaking("es"):
        assert said.said() == "Lo habitual: 0 a 0.8 V."
        assert str(said) == "Usual is 0 to 0.8 V."


def test_a_question_of_an_older_record_is_told_as_it_was_asked() -> None:
    asked = Question("Q1", "negative", "a.csv", 2, "K7", "light", "-3", "Is the sign right?", "")
    body = {name: value for name, value in body_of(asked).items() if name not in KEPT}
    old = question_of(json.loads(json.dumps(body)))
    with speaking("es"):
        assert (old.found_told, old.why_told) == ("-3", "Is the sign right?")


def test_every_electrical_reading_has_a_name_in_spanish() -> None:
    with speaking("es"):
        for name in (*ALIASES, VOLTAGE.name, CURRENT.name, RESISTANCE.name):
            told = quantity_name(name)
            assert told != name
            assert isinstance(kept := kept_quantity(name), Kept)
            assert kept.said() == told
        assert quantity_name("altura") == kept_quantity("altura") == "altura"
    assert quantity_name("light") == "light"
