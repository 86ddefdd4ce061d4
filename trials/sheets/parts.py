"""The parts that several printed pages share, as plain data for the page patterns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from trials.design.values import Plan, PlanRow
from trials.render.typeset import Paper
from trials.sheets.arrange import (
    check_code,
    factor_label,
    heading,
    level_text,
    member_text,
    members_of,
    step_factors,
    step_label,
)
from trials.study.values import Caution, Step, Study
from trials.words.cautions import code_text, sorted_codes
from trials.words.numbers import NBSP, capital, count, listing, plural

_HOUR: Final = 60
_DAY: Final = 24 * _HOUR
_MOST_CODES: Final = 12  # more than these in one line can't be found any more
Line = dict[str, Any]


@dataclass(frozen=True)
class Job:
    """What every page is drawn from."""

    study: Study
    plan: Plan
    paper: Paper

    @property
    def items(self) -> str:
        """The study's word for several items ("cells")."""
        return plural(self.study.item_name)

    def foot(self, *, blind: bool = False) -> list[str]:
        """Return what stands at the foot of every page.

        A ``blind`` page carries no title that names a version of what is compared.
        """
        study = self.study
        title = study.title
        if blind and names_a_level(study, title):
            title = ""
        code = f"plan check code {check_code(self.plan)}"
        return [part for part in (title, study.note, code) if part]


def names_a_level(study: Study, text: str) -> bool:
    """Whether a text holds the name of a version, as a whole word; bare numbers don't count."""
    names = [
        level for factor in study.factors if factor.kind == "category" for level in factor.levels
    ]
    return any(re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) for name in names)


def duration(minutes: float) -> str:
    """Return a time span as people say it.

    Examples
    --------
    >>> duration(8), duration(90), duration(30240), duration(0.5), duration(120)
    ('8\\xa0min', '1\\xa0h 30\\xa0min', '21\\xa0days', '0.5\\xa0min', '2\\xa0h')
    """
    if minutes < 2 * _HOUR - 30 or minutes != int(minutes):
        return f"{minutes:g}{NBSP}min"
    hours, rest = divmod(int(minutes), _HOUR)
    if minutes < 2 * _DAY:
        return f"{hours}{NBSP}h" + (f" {rest}{NBSP}min" if rest else "")
    days, left = divmod(int(minutes), _DAY)
    return f"{days}{NBSP}days" + (f" {left // _HOUR}{NBSP}h" if left >= _HOUR else "")


def step_time(step: Step) -> str:
    """Return what a step takes, in words; empty where the study doesn't say."""
    parts = []
    if step.minutes is not None:
        parts.append(f"about {duration(step.minutes)} of work")
    if step.waiting is not None:
        parts.append(f"about {duration(step.waiting)} of waiting")
    return capital(", then ".join(parts)) + "." if parts else ""


def caution_lines(cautions: Iterable[Caution]) -> list[Line]:
    """Return cautions as text and codes in words."""
    return [
        {
            "text": caution.text,
            "codes": [code_text(code) for code in sorted_codes((*caution.iso7010, *caution.ghs))],
        }
        for caution in cautions
    ]


def setting_lines(job: Job, factors: Sequence[str], rows: Sequence[PlanRow]) -> list[Line]:
    """Return each version of these factors that occurs among the items: which items, and how."""
    lines = []
    for name in factors:
        factor = job.study.factor(name)
        for level in factor.levels:
            mine = [row for row in rows if row.factors[name] == level]
            if mine:
                lines.append(
                    {
                        "setting": f"{heading(factor_label(job.study, name))}: "
                        f"{level_text(factor, level)}",
                        "items": _who(job, mine, factor.applied_to),
                        "how": factor.how.get(level, ""),
                    }
                )
    return lines


def _who(job: Job, rows: Sequence[PlanRow], group: str | None) -> str:
    """Return whom a setting is for: codes, or groups with their codes, or how many in all."""
    many = len(rows) > _MOST_CODES
    if group is None:
        if many:
            return f"{count(len(rows), job.study.item_name)} of the list"
        return ", ".join(row.item for row in rows)
    found = next(g for g in job.plan.groups if g.name == group)
    parts = []
    for member in members_of(rows, found):
        codes = ", ".join(row.item for row in rows if row.groups[group] == member)
        parts.append(member_text(job.study, found, member) + ("" if many else f" ({codes})"))
    return ", ".join(parts)


def step_block(job: Job, number: int, step: Step, rows: Sequence[PlanRow]) -> Line:
    """Return one step with its text, settings and cautions, as the sheets print it."""
    return {
        "number": str(number),
        "label": step_label(step),
        "text": step.text,
        "time": step_time(step),
        "equipment": f"You need: {listing(step.equipment)}." if step.equipment else "",
        "settings": setting_lines(job, step_factors(job.study, step), rows),
        "cautions": caution_lines(step.cautions),
    }
