"""The plan as files: plan.json, which is the authority, and plan.csv, a copy for people."""

from __future__ import annotations

import json
from typing import Any

from pydantic import ValidationError

from trials.design.values import RESERVED, Plan
from trials.errors import PlanError
from trials.files import csv_text

FORMAT_VERSION = 1


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """Return a plan as plain values with its digest, as plan.json and ``--json`` hold it."""
    return {**plan.model_dump(mode="json"), "digest": plan.digest()}


def plan_to_json(plan: Plan) -> str:
    """Return the text of plan.json."""
    return json.dumps(plan_to_dict(plan), ensure_ascii=False, indent=1) + "\n"


def plan_from_json(text: str, where: str = "plan.json") -> Plan:
    """Read a plan and recheck it: format, digest, orders, codes, members and levels.

    Raises
    ------
    PlanError : it is no plan, of another format, or was changed by hand.
    """
    value = _parse(text, where)
    found = value.pop("digest", None)
    if value.get("format_version") != FORMAT_VERSION:
        raise PlanError(
            "The plan is in a form that this version of the program doesn't know.",
            code="plan.format",
            where=f"{where}, format_version",
            found=str(value.get("format_version")),
            allowed=str(FORMAT_VERSION),
            do="Use the version of the program that made it, or draw a new plan.",
        )
    try:
        plan = Plan.model_validate(value)
    except ValidationError as problem:
        first = problem.errors()[0]
        raise _changed(
            where, f"{'.'.join(str(part) for part in first['loc'])}: {first['msg']}"
        ) from None
    if found != plan.digest():
        raise _changed(where, "the contents don't fit the check code at the end of the file")
    fault = _fault(plan)
    if fault:
        raise _changed(where, fault)
    return plan


def plan_to_csv(plan: Plan) -> str:
    """Return the text of plan.csv: one row an item, in the order of making."""
    header = [*RESERVED[:3], *(g.name for g in plan.groups), *(f.name for f in plan.factors)]
    return csv_text(header, _table(plan))


def csv_matches(plan: Plan, text: str) -> bool:
    """Return whether a plan.csv still says what the plan says, whatever its line ends."""
    return _lines(text) == _lines(plan_to_csv(plan))


def _lines(text: str) -> list[str]:
    return text.removeprefix("\ufeff").rstrip().splitlines()


def _table(plan: Plan) -> list[list[str]]:
    return [
        [
            str(row.run),
            str(row.measure),
            row.item,
            *(row.groups[group.name] for group in plan.groups),
            *(row.factors[factor.name] for factor in plan.factors),
        ]
        for row in plan.rows
    ]


def _parse(text: str, where: str) -> dict[str, Any]:
    try:
        value = json.loads(text)
    except json.JSONDecodeError as problem:
        raise _changed(where, f"line {problem.lineno}: {problem.msg}") from None
    except RecursionError:
        raise _changed(where, "brackets inside brackets without end") from None
    if not isinstance(value, dict):
        raise _changed(where, "something other than a plan")
    return value


def _changed(where: str, found: str) -> PlanError:
    return PlanError(
        "The plan was changed or damaged after it was drawn, so it can't be trusted.",
        code="plan.changed",
        where=where,
        found=found,
        allowed="the file exactly as the program wrote it",
        do="Put back the file from a copy or from history/, or draw a new plan with trials plan.",
    )


def _fault(plan: Plan) -> str:
    """Return what is inconsistent in a plan, or nothing."""
    n = len(plan.rows)
    numbers = list(range(1, n + 1))
    if [row.run for row in plan.rows] != numbers:
        return "the order of making is not 1, 2, 3 ..."
    if sorted(row.measure for row in plan.rows) != numbers:
        return "the order of measuring has gaps or repeats"
    if len({row.item for row in plan.rows}) != n:
        return "an item code that comes twice"
    for row in plan.rows:
        for group in plan.groups:
            if row.groups.get(group.name) not in group.members:
                return f"item {row.item}: {group.name} = {row.groups.get(group.name)}"
        for factor in plan.factors:
            if row.factors.get(factor.name) not in factor.levels:
                return f"item {row.item}: {factor.name} = {row.factors.get(factor.name)}"
    return ""
