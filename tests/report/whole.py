"""Small studies from question to report: drawn by the program, measured by a made-up rule."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Literal
from unittest.mock import patch

from trials.analysis import Findings, analyse_study
from trials.design.draw import draw
from trials.design.values import Plan, PlanRow
from trials.record.values import ItemValue, Measured, Question
from trials.render.blocks import Document, Section, texts, walk
from trials.report import report_document, story_of
from trials.study import Study
from trials.study.reading import parse_study
from trials.words.numbers import NBSP

Status = Literal["measured", "failed", "lost"]

TWO_BY_TWO = """
format_version = 1
title = "Cups of tea"
question = "Does the water or the bag matter?"
item_name = "cup"

[factors.water]
levels = ["soft", "hard"]

[factors.bag]
levels = ["round", "square"]

[responses.strength]
unit = "µS/cm"
worthwhile = 20
expected = 50
readings = 1
spread = { items = 10, source = "own guess" }

[limits]
items = 24
"""


@dataclass(frozen=True)
class Whole:
    """A study with everything that came of it."""

    study: Study
    plan: Plan
    measured: Measured
    findings: Findings

    def document(self) -> Document:
        """Return the report without its pictures."""
        day = datetime.date(2030, 5, 17)
        with (
            patch("trials.render.drawing.finished", return_value=b"<svg/>"),
            patch("trials.render.dots._drawn"),
        ):
            return report_document(
                story_of(
                    self.study, self.plan, self.measured, self.findings, today=day, version="9.9"
                )
            )

    def text(self, key: str) -> str:
        """Return the words of one section."""
        parts = self.document().parts
        found: Section = next(s for part in parts for s in walk(part.sections) if s.key == key)
        return "\n".join(texts((found,))).replace(NBSP, " ")


@cache
def _drawn(toml: str) -> tuple[Study, Plan]:
    study = parse_study(toml, "study.toml")
    return study, draw(study, seed=5)


def whole(
    toml: str,
    value: Callable[[PlanRow, int], float],
    *,
    failed: Collection[tuple[str, str]] = (),
    lost: Collection[tuple[str, str]] = (),
    questions: tuple[Question, ...] = (),
) -> Whole:
    """Draw, measure and analyse; items of the versions in ``failed`` and ``lost`` gave nothing.

    ``value`` gets the line of the plan and its place among the items of its recipe.
    """
    study, plan = _drawn(toml)
    seen: dict[tuple[str, ...], int] = {}
    values = []
    for row in plan.rows:
        recipe = tuple(row.factors.values())
        place = seen[recipe] = seen.get(recipe, -1) + 1
        versions = set(row.factors.items())
        status: Status = "measured"
        if versions & {*failed, *lost}:
            status = "failed" if versions & set(failed) else "lost"
        read = None if status != "measured" else round(value(row, place), 6)
        values.append(
            ItemValue(
                item=row.item, response=study.responses[0].name, status=status,
                value=read, exact=None if read is None else Decimal(str(read)), uncertainty=None,
                readings=0 if status == "lost" else 1,
            )
        )  # fmt: skip
    measured = Measured("ab" * 32, tuple(values), questions)
    return Whole(study, plan, measured, analyse_study(study, plan, measured))
