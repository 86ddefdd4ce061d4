"""The making sheets: who makes which item in which order, how, and what can hurt."""

from __future__ import annotations

from typing import Any

from trials.classroom.arrange import (
    Bundle,
    Sitting,
    factor_label,
    group_label,
    heading,
    level_text,
    loose_factors,
    maker_group,
    making_steps,
    member_text,
    session_group,
    sittings,
    step_factors,
    step_label,
)
from trials.classroom.hazards import must_be_apart
from trials.design.values import PlanGroup
from trials.render.typeset import pdf, template
from trials.sheets.class_times import away_lines
from trials.sheets.parts import Job, Line, bundle_time, caution_lines, setting_lines, step_block
from trials.sheets.team_times import team_times
from trials.study.values import Step
from trials.words import cautions, class_times
from trials.words.bans import sheet_sentence
from trials.words.gone import LOST, go_together, nothing_left, which_and_why
from trials.words.hazards import NOTHING_APART
from trials.words.numbers import capital, count, listing


def making_sheets(job: Job) -> bytes:
    """Return making-sheets.pdf."""
    data: dict[str, Any] = {
        "foot": job.foot(),
        "front": front_page(job),
        "none": [] if job.sittings else [_nowhere(job), nothing_left(job.study.item_name)],
        "sheets": [_sheet(job, sitting) for sitting in job.sittings],
        "cards": [_card(job, bundle) for bundle in job.bundles],
    }
    return pdf(
        template("making.typ", "trials.sheets"),
        data,
        title=f"Making sheets: {job.study.title}",
        paper=job.paper,
    )


def front_page(job: Job) -> Line | None:
    """Return the page to sign before anything starts; None where no step names a caution."""
    risky = [step for step in job.study.steps if step.cautions]
    if not risky:
        return None
    untimed = job.agenda is None and must_be_apart(job.study)
    return {
        "fire": NOTHING_APART if untimed else "",
        "title": cautions.DO_NOT_START,
        "why": cautions.WHY_SIGNED,
        "first": cautions.FIRST,
        "lines": list(cautions.SIGN_LINES),
        "no_names": cautions.NO_NAMES,
        "steps": [
            {"label": step_label(step), "cautions": caution_lines(step.cautions)} for step in risky
        ],
    }


def _sheet(job: Job, sitting: Sitting) -> Line:
    study = job.study
    steps = making_steps(study)
    groups = _column_groups(job)
    columns = [
        "Order",
        "Code",
        *(heading(group_label(study, group.name)) for group in groups),
        *(heading(factor_label(study, factor.name)) for factor in study.factors),
    ]
    rows = [
        [
            str(row.run),
            row.item,
            *(row.groups[group.name] for group in groups),
            *(level_text(factor, row.factors[factor.name]) for factor in study.factors),
        ]
        for row in sitting.rows
    ]
    return {
        "title": f"Making sheet: {_title(job, sitting)}",
        "first": _nowhere(job) if sitting == job.sittings[0] else "",
        "intro": _intro(job, sitting),
        "columns": columns,
        "rows": rows,
        "crowded": sum(max(map(len, column)) for column in zip(columns, *rows, strict=True)) > 90,
        "ticks": [str(n) for n in range(1, len(steps) + 1)] or ["done"],
        "steps": [step_block(job, n, step, sitting.rows) for n, step in enumerate(steps, 1)],
        "loose": setting_lines(job, loose_factors(study), sitting.rows),
        "same": list(study.same),
        "times": team_times(job, sitting),
    }


def _nowhere(job: Job) -> str:
    """Return which items are gone together with all others of their sheet, which isn't printed."""
    printed = {(sitting.maker, sitting.session) for sitting in job.sittings}
    return class_times.left_out(
        [
            row.item
            for sitting in sittings(job.study, job.plan)
            if (sitting.maker, sitting.session) not in printed
            for row in sitting.rows
        ],
        job.lost,
        job.unmade,
    )


def _title(job: Job, sitting: Sitting) -> str:
    if not sitting.maker and not sitting.session:
        return f"all {job.items}"
    return sitting.title[0].lower() + sitting.title[1:]


def _intro(job: Job, sitting: Sitting) -> str:
    n = len(sitting.rows)
    runs = [row.run for row in sitting.rows]
    parts = [
        f"Make {count(n, job.study.item_name)}"
        + (" in the order of this list, from the top." if n > 1 else ".")
    ]
    if runs != list(range(1, n + 1)):
        parts.append("'Order' counts through everyone's sheets.")
    whole = next(
        one
        for one in sittings(job.study, job.plan)
        if (one.maker, one.session) == (sitting.maker, sitting.session)
    )
    gone = [row.item for row in whole.rows if row.item in job.gone]
    parts += filter(None, [class_times.left_out(gone, job.lost, job.unmade)])
    if job.agenda is not None:
        parts += away_lines(job, job.agenda, sitting.rows)
    parts += _ruled_out(job, sitting)
    parts.append("Write its code on each one before you start.")
    if making_steps(job.study):
        parts.append("Tick each step when it is done.")
    parts.append(
        "Anything that went differently goes under 'notes', with the time. "
        "If one breaks, write 'lost' and why. Never swap codes."
    )
    return " ".join(parts)


def _ruled_out(job: Job, sitting: Sitting) -> list[str]:
    """Return what is forbidden to those who make a sheet's items: they would miss it."""
    study, factors = job.study, {factor.name for factor in job.study.factors}
    out = []
    for ban in job.plan.bans:
        groups = [group for group in job.plan.groups if group.name in ban]
        if groups and all(
            row.groups[g.name] == ban[g.name] for row in sitting.rows for g in groups
        ):
            versions = [
                f"{factor_label(study, name)} {level_text(study.factor(name), ban[name])}"
                for name in ban
                if name in factors
            ]
            out.append(
                sheet_sentence(versions, [member_text(study, g, ban[g.name]) for g in groups])
            )
    return out


def _column_groups(job: Job) -> list[PlanGroup]:
    """Return the groups that need a column: all that the sheet's heading doesn't name."""
    named = {
        group.name for group in (maker_group(job.plan), session_group(job.study, job.plan)) if group
    }
    return [group for group in job.plan.groups if group.name not in named]


def _card(job: Job, bundle: Bundle) -> Line:
    study = job.study
    maker = maker_group(job.plan)
    step = next((step for step in study.steps if step.name == bundle.group.step), None)
    settings = dict(bundle.settings)
    return {
        "title": f"Card for {bundle.label}",
        "when": " ".join(
            [
                *([f"{capital(listing(bundle.sessions))}."] if bundle.sessions else []),
                go_together(len(bundle.rows), study.item_name, passed=bundle.passed),
                *_missing(job, bundle),
            ]
        ),
        "settings": [
            {
                "setting": f"{heading(factor_label(study, name))}: "
                f"{level_text(study.factor(name), level)}",
                "how": study.factor(name).how.get(level, ""),
            }
            for name, level in bundle.settings
        ],
        "columns": ["Order", "Code", *([heading(group_label(study, maker.name))] if maker else [])],
        "rows": [
            [
                str(row.run),
                row.item,
                *([member_text(study, maker, row.groups[maker.name])] if maker else []),
                LOST if row.item in job.gone else "",
            ]
            for row in bundle.rows
        ],
        "step": {
            **_card_step(step, settings, job),
            "time": bundle_time(job, step, bundle),
        }
        if step
        else None,
    }


def _missing(job: Job, bundle: Bundle) -> list[str]:
    """Return what was to go with the others of a bundle and is gone, in one sentence or none."""
    here = {row.item for row in bundle.rows}
    group = bundle.group.name
    gone = job.gone_among(
        row
        for row in job.plan.rows
        if row.groups[group] == bundle.rows[0].groups[group] and row.item not in here
    )
    return [text] if (text := which_and_why(*gone)) else []


def _card_step(step: Step, settings: dict[str, str], job: Job) -> Line:
    others = [name for name in step_factors(job.study, step) if name not in settings]
    note = ""
    if others:
        labels = ", ".join(factor_label(job.study, name) for name in others)
        note = f"Set one by one, as each making sheet says: {labels}."
    return {
        "label": step_label(step),
        "text": step.text,
        "note": note,
        "cautions": caution_lines(step.cautions),
    }
