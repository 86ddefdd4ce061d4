"""Words that a reader stumbled over, and what stands there now."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from trials.design.values import SkeletonRow
from trials.render.blocks import walk
from trials.render.drawing import scale_named
from trials.report import Document
from trials.service.findings_text import findings_lines
from trials.words.methods import DIAGNOSTICS, note_text
from trials.words.naming import version_name
from trials.words.numbers import NBSP

from .made import Made, make
from .telling import section, text_of, without_pictures


@cache
def report() -> Document:
    with without_pictures():
        return make("ratio").document()


def with_plan(**changes: object) -> Document:
    whole = make("difference")
    plan = whole.plan.model_copy(update=changes)
    findings = whole.findings.model_copy(update={"plan_digest": plan.digest()})
    with without_pictures():
        return Made(whole.study, plan, whole.measured, findings).document()


@pytest.mark.parametrize(
    ("level", "label", "told"),
    [
        ("1", "coating passes", "1 coating pass"),
        ("2", "coating passes", "2 coating passes"),
        ("1", "coats", "1 coat"),
        ("3", "dishes", "3 dishes"),
        ("2", "lamp series", "lamp series 2"),
        ("2", "thickness", "thickness 2"),
        ("4", "pH", "pH 4"),
    ],
)
def test_a_count_reads_as_one(level: str, label: str, told: str) -> None:
    assert version_name(level, "", label).replace(NBSP, " ") == told


def test_the_prediction_stands_beside_the_answer() -> None:
    answer = text_of(section(report(), "answer"))
    assert "Your prediction was" in answer
    assert "“Hibiscus gives the most power.” Compare this with the answer" in answer
    whole = make("ratio")
    silent = replace(whole, study=whole.study.model_copy(update={"prediction": ""}))
    with without_pictures():
        assert "prediction" not in text_of(section(silent.document(), "answer"))


def test_every_pair_is_told_in_words() -> None:
    part = text_of(section(report(), "power-dye-part")).split("\n")
    rows = part[part.index("in words") + 1 :]
    pairs = {(rows[i], rows[i + 1]): rows[i + 5] for i in range(0, 18, 6)}
    assert pairs["hibiscus", "beetroot"] == "big enough to care about"
    assert pairs["hibiscus", "red cabbage"] == "a difference, perhaps too small to care about"


def test_without_a_margin_no_pair_is_called_big() -> None:
    with without_pictures():
        document = make("difference", worthwhile=0).document()
    assert "in words" not in text_of(section(document, "power-dye-part"))


@pytest.mark.parametrize(
    ("size", "told"),
    [
        (70.0, "70 layouts"),
        (1.0, "1 layout"),
        (1820.0, "1820 layouts"),
        (995000.0, "995 000 layouts"),
        (999999.0, "1 million layouts"),
        (9953280.0, "9.95 million layouts"),
        (3.628e12, "3.63 × 10¹² layouts"),
        (1e300, "1.00 × 10³⁰⁰ layouts"),
    ],
)
def test_layouts_are_counted_whole_or_rounded_so_that_they_can_be_read(
    size: float, told: str
) -> None:
    """Groups of three digits from five on, parted by a space: SI Brochure, 9th edition, 5.4.4."""
    shuffle = make("difference").plan.shuffle.model_copy(update={"size": size})
    method = text_of(section(with_plan(shuffle=shuffle), "method"))
    assert f"{told} with equal chance" in method.replace(NBSP, " ")


def test_a_line_without_a_test_says_why() -> None:
    rows = (
        SkeletonRow(source="dye", stratum="team", df=2, tested_by=None, den_df=None),
        SkeletonRow(source="team", stratum="team", df=3, tested_by=None, den_df=None),
        SkeletonRow(source="residual", stratum="residual", df=9, tested_by=None, den_df=None),
    )
    text = text_of(section(with_plan(skeleton=rows), "skeleton"))
    assert "nothing\n" not in text
    assert "can't be tested here (nothing of this stratum is left to judge by)" in text
    assert "not tested (a group, no variable)" in text
    assert "not tested (the others are judged by it)" in text


def test_a_multiplying_axis_is_named() -> None:
    assert scale_named("power (mW)", log=True) == "power (mW), log scale"


def test_the_terminal_names_the_method_in_words() -> None:
    told = "\n".join(findings_lines(make("difference").findings))
    assert "Tests (restricted maximum likelihood; df: Kenward and Roger)" in told
    assert "(reml" not in told


def test_no_raw_key_of_a_check_is_left() -> None:
    assert all("_" not in label for label in DIAGNOSTICS.values())
    assert "with all terms and groups taken off" in note_text("nothing_left_over")


def test_the_words_stand_before_the_long_tables() -> None:
    keys = [found.key for found in walk(report().parts[1].sections)]
    assert keys.index("technical-words") < keys.index("tables")


def test_the_foot_fits_on_one_line() -> None:
    # the demo's note of 66 letters goes with a code and a day; about 115 fit at 7.3 pt on A4
    assert 66 + len(" · ".join(("", *report().foot))) < 110
    assert report().foot[1] == "2030-05-17"
