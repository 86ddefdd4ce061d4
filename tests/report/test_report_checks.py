"""The checks of the model in a report: diagnostics, and what an answer hangs on."""

from __future__ import annotations

from typing import Any

import pytest

from trials.render.blocks import Figure
from trials.render.html import html_page
from trials.words.forbidden import find_forbidden

from ..render.test_render_document import check_page
from .made import DYES, make
from .telling import (
    Scale,
    section,
    student_text,
    text_of,
    without_pictures,
)


def test_diagnostics_are_shown_in_the_technical_part_only() -> None:
    diagnostics = {
        "residual_df": 34,
        "largest": [{"item": "K10", "residual": 0.3, "studentised": 2.9, "p_adjusted": 0.21}],
        "spread": {"dye": {"levels": dict.fromkeys(DYES, 0.1), "ratio": 1.4}},
        "equal_spread": {"dye": {"f": 0.3, "num_df": 2, "den_df": 42, "p": 0.74}},
        "normal_shape": {"w": 0.98, "p": 0.51},
        "groups": {
            "team": {
                "n": 6,
                "sd": 0.04,
                "largest": [{"member": "t3", "leftover": 0.07}],
                "members": {f"t{i}": 0.07 - 0.02 * i for i in range(6)},
            }
        },
        "drift": {
            "making": {"n": 45, "rho": 0.41, "p": 0.005, "taken_off": True, "moves": []},
            "clock": {"n": 45, "rho": 0.2, "p": 0.2, "taken_off": False, "moves": []},
        },
        "notes": ["few_df_no_tests"],
    }
    with without_pictures():
        document = make("difference", diagnostics=diagnostics).document()
    text = text_of(section(document, "checks"))
    for piece in (
        "K10", "2.90", "0.74", "normal shape (Shapiro and Wilk), W", "fewer than 10",
        "degrees of freedom of the residuals", "order of making", "0.41", "not taken off",
        "t3 0.0700", "When each cell was finished is not in the record",
    ):  # fmt: skip
        assert piece.casefold() in text.casefold()
    assert "normal shape, w" not in text
    assert "residual df" not in text
    assert "studentised" not in student_text(document)


def sensitive(moves: list[dict[str, Any]], drifting: list[dict[str, Any]]) -> dict[str, Any]:
    """Return made diagnostics: one thing left out in turn, and the order of measuring taken off."""
    ends = {"lowest": {"member": "1", "estimate": 1.2}, "highest": {"member": "2", "estimate": 2.3}}
    ranges = [
        {"kind": kind, "left_out": n, **ends}
        for kind, n in (("team", 6), ("session/firing", 8), ("item", 45))
    ]
    told = {"a": "oven", "b": "burner", "estimate": 1.6, "ranges": ranges}
    return {
        "influence": {"factors": {"heat": told}, "moves": moves, "notes": []},
        "drift": {
            "measuring": {"n": 45, "rho": 0.4, "p": 0.01, "taken_off": True, "moves": drifting}
        },
    }


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_what_an_answer_hangs_on_stands_beside_it(scale: Scale) -> None:
    def move(kind: str, member: str, factor: str = "heat") -> dict[str, Any]:
        gone = {"kind": kind, "member": member}
        return {"left_out": gone, "factor": factor, "verdict": "mattered",
                "reason": "beyond", "largest_difference": 2.1}  # fmt: skip

    moves = [move("session/firing", "1/3"), *(move("item", f"K{i}", "coats") for i in range(5))]
    drifting = [{"factor": "dye", "verdict": "not settled", "reason": "wide",
                 "largest_difference": 1.3}]  # fmt: skip
    document = make(scale, diagnostics=sensitive(moves, drifting)).document()
    answer = text_of(section(document, "answer"))
    assert "Without firing 3 the answer about heat would be 'mattered'." in answer
    assert (
        "Without any one of 5 of the 45 cells the answer about coating passes would be 'mattered'."
        in answer
    )
    assert "the order of measuring is taken off first, the answer about dye would be" in answer
    assert "That is no reason to leave anything out" in answer
    assert find_forbidden(student_text(document)) == ()
    checks = section(document, "checks")
    assert "cell\ncoating passes\nmattered\nK0, K1, K2, K3, K4\n2.10" in text_of(checks)
    names = [block.name for block in checks.blocks if isinstance(block, Figure)]
    assert names == ["power-check", "power-influence"]
    check_page(html_page(document))


def test_an_answer_that_hangs_on_nothing_says_so() -> None:
    with without_pictures():
        document = make("difference", diagnostics=sensitive([], [])).document()
        silent = make("difference").document()
    told = "Leaving out any single cell, firing or team would change no variable's verdict."
    assert told in text_of(section(document, "answer"))
    assert "Leaving out" not in text_of(section(silent, "answer"))


@pytest.mark.parametrize("known", [False, True])
def test_what_is_not_known_of_the_age_is_told_only_where_it_is_not_known(known: bool) -> None:
    told = sensitive([], [])
    if known:
        told["drift"]["column:age"] = {**told["drift"]["measuring"], "taken_off": False}
    with without_pictures():
        document = make("difference", diagnostics=told).document()
    checks = text_of(section(document, "checks"))
    assert ("nothing is said of how old it was" in checks) == (not known)
    assert ("\nage\n" in checks) == known
