"""Simulated studies: judged one by one as the analysis judges, and as often as calculated."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd
import pytest

from tests.design.unchecked import draw
from tests.unmoved import analyse_table
from trials import Options
from trials.design import simulation
from trials.design.columns import plan_structure
from trials.design.judging import layout_of
from trials.design.simulation import reach, simulate
from trials.design.values import Plan
from trials.errors import RequestError
from trials.model import Precision, make_layout, precision
from trials.model.precision import on_groups
from trials.model.structure import Structure
from trials.study import Limits, Response, Spread, Study, StudyFactor, StudyGroup

SPREAD = Spread(items=1.0, groups={"firing": 0.5})


def split_plot(*, sizes: tuple[int, ...] = ()) -> Study:
    """Heat for a whole firing, dye for each item; with ``sizes`` firings of unequal size."""
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing")
    dye = StudyFactor(name="dye", levels=("a", "b", "c"), shared=False)
    firing = StudyGroup(name="firing", count=8, sizes=sizes)
    response = Response(name="y", worthwhile=1.5, expected=3.0, spread=SPREAD)
    return Study(title="t", question="q", factors=(heat, dye), groups=(firing,),
                 responses=(response,), limits=Limits(items=24))  # fmt: skip


@pytest.mark.parametrize(
    ("sizes", "truth"),
    [((), "zero"), ((2, 3, 4, 3), "worthwhile"), ((), "expected")],
)
def test_each_study_gets_the_verdicts_and_p_of_the_analysis(
    sizes: tuple[int, ...],
    truth: Literal["zero", "worthwhile", "expected"],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ten simulated studies, by strata or REML, against ``trials analyse`` on the same numbers."""
    study = split_plot(sizes=sizes)
    plan = draw(study, seed=3)
    layout = layout_of(study, plan)
    made: list[np.ndarray] = []
    plain = simulation._responses

    def kept(*given: object) -> object:
        for Y in plain(*given):  # type: ignore[arg-type]  # handed through as they came
            made.append(Y)
            yield Y

    monkeypatch.setattr(simulation, "_responses", kept)
    found = simulate(study, layout, studies=10, seed=2)
    for factor, size in (("heat", 2), ("dye", 3)):
        shift = {"zero": 0.0, "worthwhile": 1.5, "expected": 3.0}[truth]
        effects = {level: shift * (0.5 - place / (size - 1))
                   for place, level in enumerate(study.factor(factor).levels)}  # fmt: skip
        added = np.array([effects[row.factors[factor]] for row in plan.rows])
        counted = [_analysed(plan, y + added, factor) for y in made[0]]
        told = next(v for v in found.verdicts if (v.factor, v.truth) == (factor, truth))
        words = [verdict for verdict, _ in counted]
        assert told.mattered.simulated == pytest.approx(words.count("mattered") / 10)
        none = words.count("made no practical difference") / 10
        assert told.no_practical_difference.simulated == pytest.approx(none)
        if factor == "heat":  # of two levels, the pair of the test is that of the verdict
            test = next(t for t in found.tests if (t.term, t.truth) == (factor, truth))
            hits = sum(p < 0.05 for _, p in counted)
            assert test.found.simulated == pytest.approx(hits / 10)


def _analysed(plan: Plan, y: np.ndarray, factor: str) -> tuple[str, float]:
    columns = {"firing": [row.groups["firing"] for row in plan.rows]}
    columns |= {f.name: [row.factors[f.name] for row in plan.rows] for f in plan.factors}
    frame = pd.DataFrame({**columns, "y": y})
    options = Options(response="y", worthwhile=1.5, resamples=0)
    found = analyse_table(frame, plan_structure(plan.factors, plan.groups), options).responses[0]
    verdict = next(v for v in found.verdicts if v.factor == factor)
    effect = next(e for e in found.effects if e.term == factor)
    assert effect.p is not None
    return verdict.verdict, effect.p


def test_the_same_seed_gives_the_same_studies() -> None:
    study = split_plot()
    layout = layout_of(study, draw(study, seed=1))
    first, again = (simulate(study, layout, studies=50, seed=9) for _ in range(2))
    assert first == again
    assert simulate(study, layout, studies=50, seed=10) != first


def test_progress_is_told_to_the_end() -> None:
    study = split_plot(sizes=(2, 3, 4, 3))
    heard: list[tuple[int, int]] = []
    layout = layout_of(study, draw(study, seed=1))
    simulate(study, layout, studies=120, tell=lambda done, total: heard.append((done, total)))
    assert heard == [(100, 120), (120, 120)]


@pytest.mark.parametrize("studies", [-1, 0, 9, 10_000_000])
def test_a_senseless_number_of_studies_is_refused(studies: int) -> None:
    study = split_plot()
    with pytest.raises(RequestError) as caught:
        simulate(study, layout_of(study, draw(study, seed=1)), studies=studies)
    assert caught.value.code == "power.studies"


def _se(known: Precision) -> float | None:
    return known.pair("feed", 0, 1).se


def test_the_spread_of_a_group_of_one_item_each_counts_as_that_of_items() -> None:
    """Pots of one item: 'applied to a pot' is 'applied to an item', and both spreads add up."""
    columns = {"feed": list("xxxyyy"), "pot": list("123456"), "tray": list("112233")}
    layout = make_layout(Structure(["feed"], ["pot"], {"feed": "pot"}), columns)
    told = _se(precision(layout, {"pot": 3.0, "residual": 1.0}))
    assert told == pytest.approx(np.sqrt(4.0 * 2 / 3))
    nested = make_layout(Structure(["feed"], ["tray", "tray/pot"], {"feed": "tray/pot"}), columns)
    assert on_groups(nested, {"tray/pot": 3.0, "tray": 2.0, "residual": 1.0}) == {
        "tray": 2.0,
        "residual": 4.0,
    }


def test_no_practical_difference_is_never_promised_where_a_combination_is_never_made() -> None:
    """The verdict needs every pair within every version of the other factor; one can't be seen."""
    factors = (
        StudyFactor(name="a", levels=("x", "y", "z"), shared=False),
        StudyFactor(name="b", levels=("p", "q"), shared=False),
    )
    response = Response(name="y", worthwhile=1.0, expected=2.0, spread=Spread(items=0.3))
    limits = Limits(items=40, forbidden=({"a": "z", "b": "q"},))
    study = Study(title="t", question="q", factors=factors, responses=(response,), limits=limits)
    plan = draw(study, seed=1)
    assert {c.no_practical_difference for c in plan.verdict_chances} == {0.0}
    for one in simulate(study, layout_of(study, plan), studies=200).verdicts:
        assert one.no_practical_difference.simulated == 0.0
        assert one.mattered.calculated == pytest.approx(one.mattered.simulated, abs=0.05)


def test_lines_with_hardly_any_degrees_of_freedom_have_no_interval() -> None:
    df = np.array([[1e-9, 1e-4, 0.19], [0.2, 8.0, np.nan]])
    found = reach(0.95, 3, df)
    assert np.isnan(found[0]).all()
    assert np.isnan(found[1, 2])
    # upper 5 % point of the studentised range for 3 and 8 df, 4.04 (E. S. Pearson and
    # H. O. Hartley, Biometrika Tables for Statisticians, from memory), over the root of 2
    assert found[1, 1] == pytest.approx(4.04 / np.sqrt(2), abs=0.004)
    assert np.isnan(reach(0.95, 3, df[:1])).all()
