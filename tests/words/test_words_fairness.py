"""Every sentence of the fair-test check, as a student of 15 reads it."""

from __future__ import annotations

import re
from typing import Any

import pytest

from trials.words import spanish
from trials.words.fairness import FAIRNESS_CODES, change_words, fairness_words
from trials.words.forbidden import find_forbidden
from trials.words.language import speaking

from .pseudo import speaking_made_up

PLAIN = re.compile(r"[A-Za-z][a-z]{2,}")
HEAT = {"factor": "heat", "unit": "firing", "members": 4, "df": 0.0, "also": []}
WEAK = {"response": "power", "factors": {"heat": 0.42, "soak": 0.01}, "units": ["firing", "cell"]}

# For each code the facts of one or more findings.
FACTS: dict[str, list[dict[str, Any]]] = {
    "tied": [
        {"factor": "heat", "group": "team", "maker": maker, "levels": ["hot", "cold"]}
        for maker in (True, False)
    ],
    "changed_together": [{"factors": ["heat", "soak"], "always": yes} for yes in (True, False)],
    "alias.group": [
        {"term": ["heat"], "groups": ["team"]},
        {"term": ["heat", "soak"], "groups": ["team", "lesson"], "needed": 12},
    ],
    "alias.part": [{"term": ["heat", "soak"], "groups": ["team", "lesson"], "told": 0.22}],
    "alias.factors": [{"terms": [["heat"], ["soak", "coats"]]}, {"terms": [["heat", "soak"]]}],
    "no_replication": [
        HEAT,
        HEAT | {"needed": 8, "also": ["soak"]},
        HEAT | {"unit": None, "df": 1.0},
        HEAT | {"unit": None, "needed": 8},
    ],
    "one_for_level": [
        {"factor": "heat", "group": "team", "levels": ["hot"], "unit": False},
        {"factor": "heat", "group": "tray", "levels": ["hot", "cold"], "unit": True, "needed": 6},
    ],
    "unseen": [
        {"factor": "heat", "group": "team", "missing": {name: ["hot"] for name in "abcd"[:many]}}
        for many in (1, 4)
    ],
    "barred": [
        {"factor": "heat", "group": "team", "missing": {"T3": ["hot"]}, "single": single}
        for single in ({}, {"T3": "cold"})
    ],
    "uneven": [{"factor": "heat", "group": "team", "member": "a", "fewest": 1, "most": 5}],
    "time_order": [{"factor": "heat", "order": order} for order in ("making", "measuring")],
    "carry_over": [{"factor": "heat"}],
    "same_order": [{"backwards": backwards} for backwards in (True, False)],
    "lesson_tied": [
        {"factor": "heat", "alone": alone, "unit": unit, "lessons": lessons, "step": "Coat"}
        for alone, unit, lessons in ((["hot"], "", [2]), (["10", "40"], "min", [1, 2]))
    ],
    "lesson_split": [
        {"group": "session", "member": "1", "lessons": [2, 3]},
        {"group": None, "lessons": [1, 2, 3], "step": "measure"},
    ],
    "few_layouts": [
        {"factor": "heat", "unit": None, "layouts": layouts, "smallest_p": 1 / layouts, **more}
        for layouts in (1, 18)
        for more in ({}, {"needed": 12})
    ],
    "loss_fatal": [HEAT | {"fatal": fatal, "needed": 8} for fatal in (4, 2)]
    + [HEAT | {"fatal": 1}],
    "shared_pot": [{"factor": "heat", "name": "heat"}],
    "unequal": [
        {"fewest": fewest, "most": 2, "items": 11, "below": below, "above": 12}
        for fewest, below in ((1, 6), (0, 0))
    ],
    "untested": [
        {"terms": [["heat", "soak"], ["heat", "coats"]], "unit": None},
        {"terms": [["heat", "soak"]], "unit": "firing", "needed": 8},
    ],
    "usual_missing": [{"factors": ["heat", "soak"]}],
    "levels_close": [{"factor": "heat", "low": "200", "high": "210", "unit": "°C"}],
    "best_of_many": [
        {"response": "power", "readings": 3, "told": False},
        {"response": "", "readings": 0, "told": True},
    ],
    "expected_small": [
        {
            "response": "power",
            "unit": "mW",
            "ratio": ratio,
            "worthwhile": 1.3,
            "expected": 1.5,
            "half": 1.2,
            "double": 1.7,
        }
        for ratio in (True, False)
    ],
    "no_verdict": [WEAK, WEAK | {"needed": 12}],
    "margin_unreachable": [WEAK | {"times": 10}],
    "no_primary": [{"responses": ["power"]}, {"responses": ["power", "voltage"]}],
    "several_primary": [{"responses": ["power", "voltage"]}],
    "no_group_spread": [
        {"response": "power", "name": "power", "groups": ["firing"], "group_names": ["firing"]}
    ],
    "counts": [{"factor": "heat", "unit": "firing", "members": 8, "items": 48}],
    "shared_unknown": [{"factors": ["heat", "soak"], "names": ["heat", "soak"]}],
    "group_of_one": [{"group": "room"}],
    "sizes_short": [{"group": "room", "name": "room", "items": 10, "wanted": 12}],
    "no_control": [{"factor": "feed", "level": "none"}],
    "rough_readings": [
        {"response": "power", "readings": 1, "needed": needed} for needed in (4, None)
    ],
    "no_failed_rule": [{"responses": ["power"], "names": ["power"]}],
    "no_worthwhile": [{"responses": ["power"], "names": ["power"]}],
    "no_spread": [{"responses": ["power"], "names": ["power"]}],
    "no_prediction": [{}],
    "nothing_same": [{}],
    "several_draws": [{"draws": 3}],
}


def test_every_code_has_its_facts() -> None:
    assert set(FACTS) == set(FAIRNESS_CODES)


@pytest.mark.parametrize("code", FACTS)
def test_what_why_and_remedy_are_plain(code: str) -> None:
    for facts in FACTS[code]:
        message, remedy = fairness_words(code, {"item": "cell", **facts})
        assert message[0].isupper()
        assert message.endswith((".", "?"))
        assert remedy.endswith(".")
        for text in (message, remedy):
            assert "  " not in text
            assert "{" not in text
            assert not find_forbidden(text), text
            assert max(len(s.split()) for s in text.split(". ")) < 40, text


@pytest.mark.parametrize("code", FACTS)
def test_what_and_why_are_told_in_another_language_too(code: str) -> None:
    for facts in FACTS[code]:
        own = {*PLAIN.findall(str(facts)), "cell", "cells", "study", "toml"}
        own |= {form(word) for word in own for form in (spanish.plural, str.capitalize)}
        with speaking_made_up():
            message, _ = fairness_words(code, {"item": "cell", **facts})
        assert {*PLAIN.findall(message)} <= own, message
        with speaking("es"):
            message, _ = fairness_words(code, {"item": "celda", **facts})
        assert message[0].isupper() or message[0] == "¿"
        assert "{" not in message
        assert not find_forbidden(message), message
        assert max(len(s.split()) for s in message.split(". ")) < 40, message


def test_numbers_of_message_and_remedy_fit_each_other() -> None:
    """A remedy never asks for fewer than there are, and luck is never '1 of 1'."""
    message, remedy = fairness_words("no_replication", {"item": "cell", **HEAT, "needed": 8})
    assert "only 4 firings" in message
    assert remedy.startswith("Plan 8 firings or more")
    crowded = {**HEAT, "members": 8, "also": ["soak"], "needed": 16}
    message, remedy = fairness_words("no_replication", {"item": "cell", **crowded})
    assert "only" not in message
    assert "also decide soak" in message
    for facts in FACTS["few_layouts"]:
        assert "1 of 1 " not in fairness_words("few_layouts", {"item": "cell", **facts})[0]


@pytest.mark.parametrize(("df", "word"), [(0.0, "nothing"), (1.0, "hardly anything")])
def test_nothing_left_is_said_only_of_nothing(df: float, word: str) -> None:
    facts = {"item": "cell", **HEAT, "unit": None, "df": df}
    assert f"{word} would be left over" in fairness_words("no_replication", facts)[0]


def test_lines_under_one_heading_are_told_together() -> None:
    lines = (("", 'question = "?"'), ("[limits]", "copies = 2"), ("[limits]", "items = 8"))
    told = (
        'In study.toml: at the top write question = "?"; in [limits] write copies = 2 and items = 8'
    )
    assert change_words(lines) == told


def test_equal_numbers_are_never_the_number_there_is() -> None:
    facts = {"item": "cell", "items": 42, "fewest": 6, "most": 8, "below": 42, "above": 48}
    _, remedy = fairness_words("unequal", facts)
    assert remedy == "For equal numbers make 48 cells."
    _, remedy = fairness_words("unequal", facts | {"items": 44})
    assert remedy == "For equal numbers make 42 cells or 48 cells."
