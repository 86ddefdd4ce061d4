"""Combinations that can't or must be made, and groups of different sizes."""

from __future__ import annotations

import pytest

from trials.errors import StudyError
from trials.study import parse_study
from trials.study.recipes import allowed_recipes, recipes

TOP = """\
title = "Cells"
question = "Which is stronger?"
[factors.dye]
levels = ["red", "blue", "none"]
[factors.soak]
levels = [2, 10]
kind = "quantity"
unit = "min"
[groups.firing]
count = 4
capacity = 6
"""
RESPONSE = '[responses.power]\nunit = "mW"\n'


def study_text(limits: str, firing: str = "") -> str:
    return f"{TOP}{firing}\n{RESPONSE}\n[limits]\n{limits}\n"


def test_what_is_forbidden_is_no_recipe() -> None:
    study = parse_study(study_text('items = 20\nforbidden = [{ dye = "none", soak = 10 }]'))
    assert study.limits.forbidden == ({"dye": "none", "soak": "10"},)
    assert recipes(study) == 5
    assert (2, 1) not in set(allowed_recipes(study))


def test_a_fraction_may_leave_recipes_out() -> None:
    with pytest.raises(StudyError, match="more recipes"):
        parse_study(study_text("items = 5"))
    assert parse_study(study_text("items = 5\nfraction = true")).limits.fraction


@pytest.mark.parametrize(
    ("limits", "firing", "code", "found", "line"),
    [
        ('forbidden = [{ day = "red", soak = 2 }]', "", "unknown_factor", "day", 17),
        ('forbidden = [{ dye = "green", soak = 2 }]', "", "unknown_level", "green", 17),
        ('forbidden = [{ dye = "red", soak = 3 }]', "", "unknown_level", "3", 17),
        ('forbidden = [{ dye = "red" }]', "", "short_combination", "dye red", 17),
        (
            'forbidden = [\n{ dye = "blue", soak = 2 },\n{ dye = "red", soak = 2 },\n'
            '{ dye = "red", soak = 10 }]',
            "",
            "level_without_recipe",
            "forbidden together: dye red with soak 2; dye red with soak 10",
            19,
        ),
        (
            'forbidden = [{ dye = "red", soak = 2 }]\nrequired = [{ dye = "red", soak = 2 }]',
            "",
            "required_forbidden",
            "required: dye red with soak 2; forbidden: dye red with soak 2",
            18,
        ),
        ("", "sizes = [6, 6]", "sizes_count", "6, 6", 12),
        ("", "sizes = [6, 6, 6, 7]", "sizes_room", "6, 6, 6, 7", 12),
        ("", "sizes = [6, 6, 6, 0]", "bad_number", "6, 6, 6, 0", 12),
        ("items = 20", "sizes = [6, 6, 6, 6]", "sizes_sum", "24 items; [limits] items: 20", 12),
    ],
)
def test_contradictions_are_named(
    limits: str, firing: str, code: str, found: str, line: int
) -> None:
    with pytest.raises(StudyError) as caught:
        parse_study(study_text(limits, firing))
    assert caught.value.code == f"study.{code}"
    assert caught.value.found == found
    assert f"line {line}," in caught.value.where


def test_too_many_recipes_to_look_at_are_refused() -> None:
    many = "".join(
        f"[factors.f{number}]\nlevels = [{', '.join(str(n) for n in range(20))}]\n"
        for number in range(5)
    )
    text = f'title = "t"\nquestion = "q"\n{many}{RESPONSE}[limits]\nfraction = true\n'
    with pytest.raises(StudyError) as caught:
        parse_study(text)
    assert caught.value.code == "study.too_many_recipes"
