"""The making sheets: who makes which item in which order, how, and what can hurt."""

from __future__ import annotations

from collections.abc import Sequence
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
from trials.design.values import PlanGroup, PlanRow
from trials.render.typeset import pdf, template
from trials.sheets.class_times import away_lines, crew_text
from trials.sheets.parts import Job, Line, bundle_time, caution_lines, setting_lines, step_block
from trials.sheets.shares import Share, shares
from trials.sheets.team_times import reads_for, team_times
from trials.study.values import Step
from trials.words import cautions, class_times
from trials.words.bans import sheet_sentence
from trials.words.gone import (
    DASH,
    LOST,
    NOTHING_MORE,
    TAKEN_OVER,
    finish_for,
    finished_by_others,
    go_together,
    nothing_left,
    which_and_why,
)
from trials.words.hazards import NOTHING_APART
from trials.words.language import marked, say
from trials.words.numbers import capital, count, listing


def making_sheets(job: Job) -> bytes:
    """Return making-sheets.pdf.

    Once something is over, a sheet has boxes, times and texts of what is still to come alone, and
    what has passed has no card: what is written on those printed before stays.
    """
    every = shares(job)
    data: dict[str, Any] = {
        "foot": job.foot(),
        "words": _words(),
        "front": front_page(job),
        "none": [] if every else [_nowhere(job, every), nothing_left(job.study.item_name)],
        "sheets": [_sheet(job, share, every) for share in every],
        "cards": [_card(job, bundle) for bundle in job.bundles if not bundle.passed],
    }
    return pdf(
        template("making.typ", "trials.sheets"),
        data,
        title=say("Making sheets: {title}", title=job.study.title),
        paper=job.paper,
        mark=job.mark,
    )


def _words() -> dict[str, str]:
    """Return the fixed words of the pages."""
    return {
        "title": say("Making sheets"),
        "hurts": say("What can hurt, step by step"),
        "signed": say("The page '{title}' is signed.", title=say(cautions.DO_NOT_START)),
        "different": say("Notes: what went differently"),
        "same": say("The same for all:"),
        "done": say("Done"),
        "notes": say("Notes"),
    }


def front_page(job: Job) -> Line | None:
    """Return the page to sign before anything starts; None where no step names a caution."""
    risky = [step for step in job.study.steps if step.cautions]
    if not risky:
        return None
    untimed = job.agenda is None and must_be_apart(job.study)
    return {
        "fire": say(NOTHING_APART) if untimed else "",
        "title": say(cautions.DO_NOT_START),
        "why": say(cautions.WHY_SIGNED),
        "first": say(cautions.FIRST),
        "lines": [say(line) for line in cautions.SIGN_LINES],
        "no_names": say(cautions.NO_NAMES),
        "steps": [
            {"label": step_label(step), "cautions": caution_lines(step.cautions)} for step in risky
        ],
    }


def _sheet(job: Job, share: Share, every: tuple[Share, ...]) -> Line:
    steps = making_steps(job.study)
    ahead = [step for step in steps if share.at(step)]
    table = _table(job, share, share.sitting.rows, ahead)
    taken = _table(job, share, share.taken, ahead)
    lines = [row for row in (*table["rows"], *taken["rows"]) if not row["note"]]
    return {
        "title": say("Making sheet: {title}", title=_title(job, share.sitting)),
        "first": _nowhere(job, every) if job.agenda is None and share is every[0] else "",
        "intro": _intro(job, share),
        **table,
        "taken": {"title": say(TAKEN_OVER), **taken} if share.taken else None,
        "dash": say(DASH) if not all(all(row["ticks"]) for row in lines) else "",
        "ticks": [str(steps.index(step) + 1) for step in ahead] if steps else [say("done")],
        "steps": [step_block(job, steps.index(step) + 1, step, share.at(step)) for step in ahead],
        "loose": setting_lines(job, loose_factors(job.study), (*share.left, *share.taken)),
        "same": list(job.study.same),
        "times": team_times(job, share),
        "reads": reads_for(job, share),
    }


def _table(job: Job, share: Share, rows: tuple[PlanRow, ...], ahead: Sequence[Step]) -> Line:
    """Return a table of items with their versions, and a box for each step that is to come here."""
    study, maker = job.study, maker_group(job.plan)
    boxed = bool(making_steps(study))
    whose = [maker] if maker and rows and rows == share.taken else []
    groups = [*whose, *_column_groups(job)]
    columns = [
        say("Order"),
        say("Code"),
        *(heading(group_label(study, group.name)) for group in groups),
        *(heading(factor_label(study, factor.name)) for factor in study.factors),
    ]
    cells = [
        [
            str(row.run),
            row.item,
            *(row.groups[group.name] for group in groups),
            *(level_text(factor, row.factors[factor.name]) for factor in study.factors),
        ]
        for row in rows
    ]
    longest = (max(map(len, column)) for column in zip(columns, *cells, strict=True))
    return {
        "columns": columns,
        "rows": [
            {
                "cells": line,
                "ticks": [share.ahead(step, row) for step in ahead] if boxed else [True],
                "note": say(LOST) if row.item in job.gone else "",
            }
            for line, row in zip(cells, rows, strict=True)
        ],
        "crowded": sum(longest) > 90,
    }


def _nowhere(job: Job, every: tuple[Share, ...]) -> str:
    """Return what became of the items of sheets that aren't printed: gone, or for others.

    With a timetable, it and the lesson's page say so of each lesson.
    """
    printed = {(share.sitting.maker, share.sitting.session) for share in every}
    rows = [
        row
        for sitting in sittings(job.study, job.plan)
        if (sitting.maker, sitting.session) not in printed
        for row in sitting.rows
    ]
    gone = [row.item for row in rows if row.item in job.gone]
    told = class_times.left_out(gone, job.lost, job.unmade, begun=job.begun)
    away = away_lines(job, job.agenda, rows) if job.agenda is not None else []
    return " ".join([*away, *filter(None, [told])])


def _title(job: Job, sitting: Sitting) -> str:
    if not sitting.maker and not sitting.session:
        return say("all {items}", items=job.items)
    return sitting.title[0].lower() + sitting.title[1:]


def _intro(job: Job, share: Share) -> str:
    rows = share.left
    n = len(rows)
    away = away_lines(job, job.agenda, rows) if job.agenda is not None else []
    parts = [*away, *([say(NOTHING_MORE)] if away else [])]
    if n and (share.busy or not away):
        parts.append(say(_what_to_do(job, share), items=count(n, job.study.item_name)))
        if [row.run for row in rows] != list(range(1, n + 1)):
            parts.append(say("'Order' counts through everyone's sheets."))
    if share.taken:
        parts += _away_teams(job, share)
        parts.append(finish_for(len(share.taken), job.study.item_name, alone=not n))
    gone = [
        row.item
        for one in sittings(job.study, job.plan)
        if (one.maker, one.session) == (share.sitting.maker, share.sitting.session)
        for row in one.rows
        if row.item in job.gone
    ]
    told = class_times.left_out(gone, job.lost, job.unmade, begun=job.begun)
    parts += filter(None, [told])
    parts += _ruled_out(job, rows)
    steps = making_steps(job.study)
    if not share.begun:
        parts.append(say("Write its code on each one before you start."))
    if steps and share.busy:
        parts.append(say("Tick each step when it is done."))
    if share.busy or not steps:
        parts.append(
            say(
                "Anything that went differently goes under 'notes', with the time. "
                "If one breaks, write 'lost' and why. Never swap codes."
            )
        )
    return " ".join(parts)


def _away_teams(job: Job, share: Share) -> list[str]:
    """Return of each team that is away, and of which this one finishes something, since when."""
    maker = maker_group(job.plan)
    whose = {row.groups[maker.name] for row in share.taken} if maker else set()
    away = job.agenda.away if job.agenda is not None else ()
    return [
        finished_by_others(capital(crew_text(job, one.team)), one.since, [])
        for one in away
        if one.team in whose
    ]


def _what_to_do(job: Job, share: Share) -> str:
    """Return what is to be done with a sheet's own items, in which order."""
    if job.agenda is None:
        if len(share.left) > 1:
            return marked("Make {items} in the order of this list, from the top.")
        return marked("Make {items}.")
    if not share.busy:
        return marked("No step of making is left for {items}.")
    if share.begun:
        return marked("Finish {items}: go by the times below.")
    return marked("Make {items}: go by the times below.")


def _ruled_out(job: Job, rows: Sequence[PlanRow]) -> list[str]:
    """Return what is forbidden to those who make a sheet's items: they would miss it."""
    study, factors = job.study, {factor.name for factor in job.study.factors}
    out = []
    for ban in job.plan.bans:
        groups = [group for group in job.plan.groups if group.name in ban]
        if (
            rows
            and groups
            and all(row.groups[g.name] == ban[g.name] for row in rows for g in groups)
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
        "title": say("Card for {what}", what=bundle.label),
        "when": " ".join(
            [
                *([f"{capital(listing(bundle.sessions))}."] if bundle.sessions else []),
                go_together(len(bundle.rows), study.item_name),
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
        "columns": [
            say("Order"),
            say("Code"),
            *([heading(group_label(study, maker.name))] if maker else []),
        ],
        "lines": [say("time in"), say("time out"), say("really set to")],
        "rows": [
            [
                str(row.run),
                row.item,
                *([member_text(study, maker, row.groups[maker.name])] if maker else []),
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
        note = say("Set one by one, as each making sheet says: {labels}.", labels=labels)
    return {
        "label": step_label(step),
        "text": step.text,
        "note": note,
        "cautions": caution_lines(step.cautions),
    }
