"""A p by shuffling stands only beside a test that asks the same; what it takes as given is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

import trials
from tests.design.unchecked import draw
from trials import Options, Structure
from trials.analysis.centring import numbers
from trials.analysis.data import Data
from trials.analysis.findings import Effect, ResponseFindings
from trials.analysis.plan_layouts import layouts_of
from trials.analysis.run import analyse
from trials.analysis.shuffling import replay_shuffle
from trials.design.columns import items_layout
from trials.study import Limits, Response, Study, StudyFactor


def analysed(lost: tuple[int, ...] = (), **options: Any) -> ResponseFindings:
    rng = np.random.default_rng(7)
    rows = [
        {"a": a, "b": b, "y": f"{rng.normal() + 2 * (a == 'x'):.3f}"}
        for a in "xz"
        for b in "pqr"
        for _ in range(4)
    ]
    frame = pd.DataFrame(rows).drop(index=list(lost)).reset_index(drop=True)
    settings = Options.model_validate({"response": "y", "resamples": 199, **options})
    return trials.analyse_table(frame, Structure(["a", "b"]), settings).responses[0]


OTHERWISE = "shuffle_asks_otherwise"


@pytest.mark.parametrize("sums", ["II", "I"])
def test_all_types_ask_the_same_of_a_balanced_table(sums: str) -> None:
    usual, other = analysed(), analysed(sums=sums)
    assert [e.p_permutation for e in usual.effects] == [e.p_permutation for e in other.effects]
    assert None not in [e.p_permutation for e in other.effects]


@pytest.mark.parametrize(("sums", "told"), [("III", 3), ("II", 1), ("I", 1)])
def test_with_unequal_numbers_only_the_same_question_has_a_p(sums: str, told: int) -> None:
    """Main effects of type II and I weigh by numbers; the highest interaction is one for all."""
    found = analysed((0, 1, 5, 9), sums=sums)
    known = [e.term for e in found.effects if e.p_permutation is not None]
    assert len(known) == told
    assert "a:b" in known
    for effect in found.effects:
        assert (OTHERWISE in effect.notes) == (effect.p_permutation is None)
        assert not (effect.p_permutation is None and effect.exact)


def test_empty_combinations_leave_a_shuffle_to_what_can_be_tested_the_same_way() -> None:
    """Main effects are averaged over shared combinations, which no shuffle here asks about."""
    *main, together = analysed((0, 1, 2, 3)).effects
    for effect in main:
        assert effect.p_permutation is None
        assert {OTHERWISE, "no_shuffle"} & set(effect.notes)
    assert together.num_df == 1
    assert "some_combinations_empty" in together.notes
    assert together.p_permutation is not None
    assert OTHERWISE not in together.notes


def shuffled_by_plan(gone: dict[str, str], *, planned: bool) -> dict[str, Effect]:
    """Return the effects of a plan of 24 items that never makes a combination, or loses it."""
    study = Study(
        title="Invented",
        question="Which?",
        factors=(
            StudyFactor(name="a", levels=("x", "y", "z"), shared=False),
            StudyFactor(name="b", levels=("p", "q"), shared=False),
            StudyFactor(name="c", levels=("r", "s"), shared=False),
        ),
        responses=(Response(name="size"),),
        limits=Limits(items=24, forbidden=(gone,) if planned else ()),
    )
    plan = draw(study, seed=5)
    rows = [r for r in plan.rows if any(r.factors[f] != level for f, level in gone.items())]
    items = tuple(row.item for row in rows)
    values = numbers([f"{v:.3f}" for v in np.random.default_rng(2).normal(size=len(items))], "size")
    data = Data(
        name="size",
        unit="",
        layout=items_layout(plan, items),
        y=values.values,
        centred=values,
        items=items,
        options=Options(response="size", resamples=199, seed=1),
        randomised=True,
    )
    found = analyse(data, replay_shuffle(layouts_of(plan, data.options), data))
    return {effect.term: effect for effect in found.effects}


@pytest.mark.parametrize("planned", [True, False], ids=["forbidden", "lost"])
def test_a_plan_without_a_combination_keeps_its_shuffle_for_the_other_terms(planned: bool) -> None:
    effects = shuffled_by_plan({"a": "z", "b": "q"}, planned=planned)
    known = {term for term, effect in effects.items() if effect.p_randomisation is not None}
    assert known == {"c", "a:b", "a:c", "b:c"}
    assert effects["a:b"].num_df == 1
    for term in ("a", "b"):
        assert effects[term].notes.count(OTHERWISE) == 1


def test_a_plan_that_lost_a_whole_level_compares_those_that_are_left() -> None:
    effects = shuffled_by_plan({"a": "z"}, planned=False)
    assert {effect.num_df for effect in effects.values()} == {1}
    assert None not in [effect.p_randomisation for effect in effects.values()]


def test_what_a_permutation_takes_as_given_is_told() -> None:
    assert "permutation_takes_units_as_alike" in analysed().method.notes
    assert "permutation_takes_units_as_alike" not in analysed(resamples=0).method.notes
