"""A plan as lines to read on a terminal: is it fair, and what can it tell."""

from __future__ import annotations

from typing import Any

from trials.classroom.agenda import counted_on, counted_on_by_team
from trials.classroom.materials import needs, pieces
from trials.classroom.stock import Stock, stocks
from trials.classroom.work import team_size
from trials.design.values import AuditFinding, Plan, VerdictChance
from trials.render.table import Column, Table, to_text
from trials.sheets.stock import stock_sentence
from trials.study import Response, Study, lines_of, unused_equipment
from trials.study.writing import toml_key
from trials.words.alternatives import search_sentence
from trials.words.fairness import change_words
from trials.words.language import say
from trials.words.lessons import counted_on_words, too_few_hands, unused_words
from trials.words.materials import needs_sentence, stock_remedy
from trials.words.naming import spread_name
from trials.words.numbers import count, plural, times, whole_percents, with_unit
from trials.words.practice import TELLS_LATER

_THINGS = 3  # how many of the things to get out are told beside the plan
_SEVERITY = {"stop": "Stop", "warn": "Take care", "note": "Note"}


def fairness_lines(plan: Plan) -> list[str]:
    """Return the findings of the fair-test check, the worst first."""
    if not plan.audit:
        return ["Fair-test check: nothing to object to."]
    lines = ["Fair-test check:"]
    for severity, word in _SEVERITY.items():
        for finding in plan.audit:
            if finding.severity == severity:
                lines.append(f"  {word}: {_told(finding)}")
                if finding.change:
                    lines.append(f"    {_change(finding)}.")
    return lines


def _change(finding: AuditFinding) -> str:
    """Return the lines to write into study.toml, tried beforehand, that settle a finding."""
    lines = lines_of((change.keys, change.value) for change in finding.change)
    return change_words(lines, together=finding.facts.get("together", False))


def outlook_lines(study: Study, plan: Plan) -> list[str]:
    """Return what the plan can tell, response by response."""
    lines: list[str] = []
    if study.practice:
        return ["", say(TELLS_LATER, items=plural(study.item_name))]
    for response in study.responses:
        chances = [c for c in plan.verdict_chances if c.response == response.name]
        if chances:
            lines += ["", *to_text(_chances(study, plan, response, chances))]
        else:
            lines += ["", _no_chances(study, response)]
    return lines


def unused_lines(study: Study) -> list[str]:
    """Return a notice of equipment that no step uses: it may have been forgotten there."""
    names = unused_equipment(study)
    return [unused_words(names)] if names else []


def hands_lines(study: Study, plan: Plan) -> list[str]:
    """Return a notice where teams are counted on for more work at a time than half their people.

    Rounded up; common practice, no source.
    """
    lessons, size = study.lessons, team_size(study, plan)
    if lessons is None or size is None:
        return []
    most = max(1, -(-size // 2))
    return [too_few_hands(size, lessons.hands, most)] if lessons.hands > most else []


def counted_lines(study: Study, plan: Plan) -> list[str]:
    """Return how many tools a timetable counts on of which study.toml gives no number."""
    tools = counted_on(study, plan)
    if not tools:
        return []
    most = min(tools, key=lambda name: (-tools[name], name))
    by_team = counted_on_by_team(study, plan)
    told = counted_on_words(tools, by_team, f"equipment.{toml_key(most)}")
    return [told] if told else []


def size_lines(study: Study, plan: Plan) -> list[str]:
    """Return how much is to be made."""
    items = f"{len(plan.rows)} {plural(study.item_name)}"
    recipes = {tuple(sorted(row.factors.items())) for row in plan.rows}
    groups = ", ".join(
        count(len(group.members), _label(study, group.name)) for group in plan.groups
    )
    made = f"{items} of {count(len(recipes), 'recipe')}"
    lines = [made + (f", in {groups}." if groups else ".")]
    if plan.search is not None:
        found = plan.search
        lines.append(search_sentence(found.proved, found.starts, found.efficiency))
    return lines


def material_lines(study: Study, plan: Plan) -> list[str]:
    """Return how many are needed of the first things that every item takes, as in materials.pdf.

    Nothing where the study names none.
    """
    found = needs(study, plan)
    things = pieces(found)
    names = {need.material.name.strip().casefold() for need in found}
    told = things[:_THINGS]
    sentence = needs_sentence(told, study.item_name, more=len(names) > len(told))
    return [*([sentence] if sentence else []), *stock_lines(study, plan)]


def stock_lines(study: Study, plan: Plan) -> list[str]:
    """Return of each material in stock whether it is enough; the plan stops at what is too little.

    Nothing where the study says of none how much there is.
    """
    every = stocks(study, plan)
    return [
        stock_sentence(one, study.item_name) if one.enough else _stop(study, one) for one in every
    ]


def short_lines(study: Study, plan: Plan) -> list[str]:
    """Return of each material of which there is too little that the plan stops at it."""
    return [_stop(study, one) for one in stocks(study, plan) if not one.enough]


def _stop(study: Study, one: Stock) -> str:
    told = stock_sentence(one, study.item_name)
    return f"Stop: {told} {stock_remedy(one.fits, study.item_name)}"


def stock_document(study: Study, plan: Plan) -> list[dict[str, Any]]:
    """Return the same for ``--json``."""
    return [
        {
            "name": one.name,
            "unit": one.unit,
            "there": float(one.there),
            "needed": float(one.needed),
            "with_spares": None if one.spare is None else float(one.spare),
            "items": one.items,
            "enough_for": one.fits,
            "enough_for_with_spares": one.surely,
            "enough": one.enough,
        }
        for one in stocks(study, plan)
    ]


def _told(finding: AuditFinding) -> str:
    return " ".join(part for part in (finding.message or finding.code, finding.remedy) if part)


def _chances(study: Study, plan: Plan, response: Response, chances: list[VerdictChance]) -> Table:
    label = response.label or response.name
    columns = (
        Column("changed"),
        Column("tested between"),
        Column("if the true difference is"),
        Column("a difference shows", kind="percent", decimals=0),
        Column("mattered", kind="percent", decimals=0),
        Column("no practical difference", kind="percent", decimals=0),
        Column("not settled", kind="percent", decimals=0),
    )
    rows = tuple(
        (
            _label(study, chance.factor),
            _tested_between(study, plan, chance.factor),
            _true_difference(response, chance),
            _shows(plan, chance),
            *whole_percents((chance.mattered, chance.no_practical_difference, chance.not_settled)),
        )
        for chance in chances
    )
    return Table(
        f"chances_{response.name}",
        f"What this plan can tell about {label}: in how many of 100 repeats of the whole study a "
        "difference would show at all, and what the answer would be",
        columns,
        rows,
        (f"Spread between things made alike: {_source(response)}.",),
    )


def _shows(plan: Plan, chance: VerdictChance) -> float | None:
    """Return the power of the factor's own test at this difference; None where there is none."""
    for row in plan.power:
        if (row.response, row.term, row.spread, row.difference) == (
            chance.response, chance.factor, "given", chance.difference,
        ):  # fmt: skip
            return row.power
    return None


def _no_chances(study: Study, response: Response) -> str:
    """Return why there are none: study.toml says too little, or there is too little to judge by."""
    label = response.label or response.name
    missing = [name for name in ("spread", "worthwhile") if getattr(response, name) is None]
    if not missing:
        return (
            f"This plan can tell nothing about {label}: too few {plural(study.item_name)} or groups"
            " are left over to judge chance by. Whatever comes out, the answer would be 'not "
            "settled'."
        )
    return (
        f"What this plan can tell about {label} isn't known: study.toml gives no '{missing[0]}' for"
        " it. A practice run gives you one."
    )


def _tested_between(study: Study, plan: Plan, factor: str) -> str:
    found = next((row for row in plan.skeleton if row.source == factor and row.tested_by), None)
    if found is None or found.tested_by is None:
        return "can't be tested"
    group = found.tested_by.split("/")[-1]
    return plural(study.item_name if group == "residual" else _label(study, group))


def _true_difference(response: Response, chance: VerdictChance) -> str:
    if chance.truth == "zero":
        return "none"
    size = (
        times(chance.difference)
        if response.compare == "ratio"
        else with_unit(f"{chance.difference:g}", response.unit)
    )
    return f"{size} ({'worth your while' if chance.truth == 'worthwhile' else 'hoped for'})"


def _source(response: Response) -> str:
    return "" if response.spread is None else spread_name(response.spread.source)


def _label(study: Study, name: str) -> str:
    labels = {factor.name: factor.label for factor in study.factors}
    labels |= {group.name: group.label for group in study.groups}
    return labels.get(name) or name
