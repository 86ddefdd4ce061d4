"""The page of a plan: all that was judged stands on it, in words a student meets."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from trials.design.draw import draw
from trials.design.judging import judged
from trials.design.values import Alias, Plan
from trials.render.blocks import Document, figures, texts
from trials.render.html import html_page
from trials.render.table import Table
from trials.report.plan_page import plan_document
from trials.report.plan_plots import layout_figure, seat_plot
from trials.study import Study, read_study
from trials.words.forbidden import find_forbidden
from trials.words.judging import STRATA_OVERLAP

DEMO = Path(__file__).parents[2] / "study_demo"


@cache
def example(name: str) -> tuple[Study, Plan, Document]:
    study = read_study(DEMO / name / "study.toml")
    plan = judged(study, draw(study, seed=7))
    return study, plan, plan_document(study, plan)


@pytest.mark.parametrize("name", ["planes", "tea", "greenhouse"])
def test_a_student_meets_no_hard_word_and_both_pictures(name: str) -> None:
    _, _, document = example(name)
    student = "\n".join(texts(document.parts[0].sections))
    assert find_forbidden(student) == ()
    assert [figure.name for figure in figures(document)] == ["plan-layout", "plan-ties"]
    assert "<h1" in html_page(document)


def test_the_page_has_every_size_every_loss_and_the_technical_tables() -> None:
    _, plan, document = example("tea")
    tables = {
        block.name: block
        for part in document.parts
        for section in part.sections
        for block in section.blocks
        if isinstance(block, Table)
    }
    assert len(tables["shows-strength"].rows) == 3
    assert len(tables["losses"].rows) == len(plan.worst_loss) == 6
    assert len(tables["skeleton"].rows) == len(plan.skeleton)


@pytest.mark.parametrize("name", ["planes", "tea", "greenhouse"])
def test_every_item_has_one_seat_with_its_own_versions(name: str) -> None:
    study, plan, _ = example(name)
    plot = seat_plot(study, plan)
    assert {seat.item for seat in plot.seats} == {row.item for row in plan.rows}
    assert len({(seat.row, seat.column, seat.place) for seat in plot.seats}) == len(plan.rows)
    for panel, factor in zip(plot.panels, plan.factors, strict=True):
        for seat, version in zip(plot.seats, panel.of_seat, strict=True):
            assert plan.row(seat.item).factors[factor.name] == factor.levels[version]


def test_pots_are_lines_and_lessons_blocks() -> None:
    study, plan, _ = example("tea")
    plot = seat_plot(study, plan)
    assert (plot.row_name, plot.block_name, plot.column_name) == ("pot", "lesson", "")
    for seat in plot.seats:
        groups = plan.row(seat.item).groups
        assert (plot.rows[seat.row].label, plot.rows[seat.row].block) == (
            groups["pot"],
            groups["lesson"],
        )


def test_a_practice_run_has_no_pictures() -> None:
    study, plan, _ = example("planes")
    bare = plan.model_copy(update={"factors": ()})
    assert layout_figure(study, bare) is None


def test_a_part_with_nothing_in_it_says_so() -> None:
    _, _, document = example("planes")  # one factor, no groups: nothing to be mixed up with
    assert "No term is mixed up with another one or with a group." in html_page(document)


def test_what_is_mixed_up_in_part_is_told_beside_nothing_hidden_wholly() -> None:
    study, plan, _ = example("tea")
    names = [factor.name for factor in plan.factors]
    third = Alias(term=names[0], mixed_with=("team",), share=1 / 3, whole=False)
    little = third.model_copy(update={"share": 0.09, "mixed_with": ("lesson",)})
    document = plan_document(study, plan.model_copy(update={"aliases": (third, little)}))
    section = next(s for s in document.parts[0].sections if s.title == "What can't be told apart")
    told = list(texts((section,)))
    assert any("hidden wholly" in text for text in told)
    partly = [text for text in told if text.startswith("Partly mixed up: ")]
    assert len(partly) == 1
    assert "a third of what the plan tells of" in partly[0]
    assert partly[0].endswith("(see Aliases).")
    assert "9" not in partly[0]


def test_the_skeleton_says_that_rows_of_one_term_overlap() -> None:
    _, _, document = example("planes")
    assert STRATA_OVERLAP in html_page(document)
