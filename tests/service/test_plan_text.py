"""A plan on a terminal: shares that add up, numbers of groups as people say them."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.design.unchecked import draw as unchecked
from trials.design.draw import draw
from trials.design.judging import judge
from trials.design.values import VerdictChance
from trials.render.blocks import texts
from trials.report.plan_page import plan_document
from trials.service.examples import example_folder
from trials.service.judging_text import lines
from trials.service.plan_text import material_lines, outlook_lines, size_lines, unused_lines
from trials.study import (
    Equipment,
    Limits,
    Response,
    Spread,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
    read_study,
)
from trials.study.values import Material
from trials.words.numbers import whole_percents

DYE = StudyFactor(name="dye", levels=("hibiscus", "beetroot", "spinach"), shared=False)
VOLTAGE = Response(name="voltage", unit="mV", worthwhile=30, expected=100, spread=Spread(items=40))


def one_burner() -> Study:
    return Study(
        title="t",
        question="q",
        item_name="slide",
        factors=(DYE,),
        groups=(StudyGroup(name="burner", count=1),),
        responses=(VOLTAGE,),
        limits=Limits(items=12),
    )


@given(st.lists(st.integers(0, 10_000), min_size=2, max_size=4).filter(any))
@settings(derandomize=True, max_examples=200, deadline=None)
def test_shares_of_a_whole_add_to_a_hundred_and_none_moves_by_a_whole_one(parts: list[int]) -> None:
    shares = [part / sum(parts) for part in parts]
    told = whole_percents(shares)
    assert sum(round(100 * share) for share in told) == 100
    assert all(abs(a - b) < 0.01 + 1e-9 for a, b in zip(shares, told, strict=True))


def test_a_row_of_verdicts_adds_to_a_hundred() -> None:
    study = one_burner()
    plan = draw(study, seed=1)
    uneven = VerdictChance(
        response="voltage",
        factor="dye",
        truth="expected",
        difference=100,
        mattered=0.485,
        no_practical_difference=0.004,
        not_settled=0.511,
    )
    text = outlook_lines(study, plan.model_copy(update={"verdict_chances": (uneven,)}))
    row = next(line for line in text if "hoped for" in line)
    assert [int(word) for word in row.split()[-3:]] == [49, 0, 51]


def test_one_burner_is_not_burners() -> None:
    study = one_burner()
    assert size_lines(study, draw(study, seed=1))[0] == "12 slides of 3 recipes, in 1 burner."


def test_a_plan_with_nothing_left_over_says_that_it_can_tell_nothing() -> None:
    # every team has its own dye and one firing has each heat: 6 values, 6 recipes, no error df
    study = Study(
        title="t",
        question="q",
        item_name="cell",
        factors=(
            DYE.model_copy(update={"applied_to": "team", "shared": None}),
            StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing"),
        ),
        groups=(
            StudyGroup(name="team", count=6, role="maker"),
            StudyGroup(name="firing", count=2, capacity=6),
        ),
        responses=(VOLTAGE, VOLTAGE.model_copy(update={"name": "current", "worthwhile": None})),
        limits=Limits(items=6),
    )
    plan = unchecked(study, seed=1)
    assert {row.power for row in plan.power} == {None}
    assert plan.untested == ("dye", "heat")
    voltage, current = (line for line in outlook_lines(study, plan) if line)
    assert voltage.startswith("This plan can tell nothing about voltage: too few cells or groups")
    assert "gives no 'worthwhile'" in current
    told = "\n".join(lines(study, plan, judge(study, plan)))
    (part, *_) = plan_document(study, plan).parts
    page = "\n".join(text for text in texts(part.sections))
    for text in (told, page):
        assert "Nothing sure can be said of dye and heat" in text
        assert "can be told from every other" not in text
        assert "hidden wholly" not in text


def test_how_many_things_a_plan_needs_stands_beside_it() -> None:
    """12 slides of 2 glasses: 20 enough for 12 that work if a quarter fails (binomial, 0.959)."""
    glass = Material(name="glass slide", amount=2)
    step = Step(name="coat", materials=(glass, Material(name="paste", amount=5, unit="mL")))
    study = one_burner().model_copy(update={"steps": (step,)})
    (line,) = material_lines(study, draw(study, seed=1))
    assert line == (
        "It needs 24 glass slides, or 40 with spares for slides that fail. The list of materials, "
        "printed with the sheets, has the rest."
    )
    assert material_lines(one_burner(), draw(one_burner(), seed=1)) == []


def test_equipment_that_no_step_uses_is_told() -> None:
    study = read_study(example_folder("lessons") / "study.toml")
    assert unused_lines(study) == []
    burner = study.model_copy(
        update={"equipment": (*study.equipment, Equipment(name="burner", label="gas burner"))}
    )
    (line,) = unused_lines(burner)
    assert line.startswith("Note: study.toml names equipment that no step uses: gas burner.")
