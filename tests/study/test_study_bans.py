"""What a team may not use: the refusal names the study's own step, factor and levels."""

from __future__ import annotations

import pytest

from trials.errors import StudyError
from trials.service.examples import example_folder
from trials.study import Study, parse_study, unused_equipment

TEXT = (example_folder("lessons") / "study.toml").read_text(encoding="utf-8")
METERS = '"meter pair" = { count'
BURNER = f"burner = {{ count = 2 }}\n{METERS}"


def _with(*changes: tuple[str, str]) -> str:
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def _refused(text: str) -> StudyError:
    with pytest.raises(StudyError) as problem:
        parse_study(text, "study.toml")
    return problem.value


USES = ('equipment = ["scales", ', 'equipment = ["scales", "burner", ')
BANNED = ("[lessons]", 'forbidden = [{ team = 3, equipment = "burner" }]\n\n[lessons]')


def _study(text: str) -> Study:
    return parse_study(text, "study.toml")


def test_equipment_of_every_version_is_refused_until_it_is_out_of_the_step() -> None:
    first = _refused(_with(USES, BANNED))
    assert first.code == "study.ban_equipment"
    assert "Take 'burner' out of the line equipment of 'brew'" in (first.do or "")
    # the factor of that step and a level of it, and no other study's
    assert "equipment_for = { hibiscus = [\"burner\"] } for 'hibiscus' of dye." in (first.do or "")
    both = (USES[0], f'equipment_for = {{ hibiscus = ["burner"] }}\n{USES[1]}')
    again = _refused(_with(both, BANNED))
    assert again.do != first.do
    assert "equipment_for says already which versions need it" in (again.do or "")
    only = (USES[0], f'equipment_for = {{ hibiscus = ["burner"] }}\n{USES[0]}')
    assert _study(_with(only, BANNED)).limits.forbidden


def test_equipment_that_no_step_uses_is_a_notice_and_a_slip_of_the_pen_is_not() -> None:
    study = _study(_with((METERS, BURNER)))
    assert unused_equipment(study) == ("burner",)
    assert unused_equipment(_study(TEXT)) == ()
    slip = _refused(_with((METERS, METERS.replace("meter", "metre"))))
    assert (slip.code, slip.do) == ("study.unused_equipment", "Did you mean 'meter pair'?")
