"""Lists for whoever prepares the work: cautions, order and times, what to get out."""

from __future__ import annotations

from typing import Any, Final

from trials.classroom.arrange import (
    Bundle,
    Sitting,
    factor_label,
    group_label,
    heading,
    level_text,
    maker_group,
    members_of,
    step_label,
)
from trials.render.typeset import pdf, template
from trials.sheets.parts import Job, Line, caution_lines, symbol_names
from trials.study.values import Step
from trials.words import cautions, class_times
from trials.words.durations import duration
from trials.words.language import marked, say
from trials.words.numbers import capital, count, listing

_STEP_COLUMNS: Final = (
    marked("Step"),
    marked("Done with"),
    marked("Work each"),
    marked("Then waiting"),
    marked("Work in all"),
)
_BUNDLE_COLUMNS: Final = (marked("Place"), marked("What"), marked("Setting"), marked("Codes"))


def cautions_list(job: Job) -> bytes:
    """Return cautions.pdf: every caution by step, and what the codes mean."""
    study = job.study
    codes = cautions.sorted_codes(
        code
        for step in study.steps
        for caution in step.cautions
        for code in (*caution.iso7010, *caution.ghs)
    )
    data: dict[str, Any] = {
        "foot": job.foot(),
        "title": say("Cautions"),
        "first": say(cautions.FIRST),
        "none": say(cautions.NONE_GIVEN),
        "steps": [
            {
                "label": step_label(step),
                "when": say("while making" if step.stage == "make" else "while measuring"),
                "cautions": caution_lines(step.cautions),
            }
            for step in study.steps
            if step.cautions
        ],
        "meaning": {
            "title": say("What the codes mean"),
            "note": say(cautions.CODES_NOTE),
            "columns": [say(name) for name in cautions.CODES_COLUMNS],
        },
        "codes": [
            {
                "code": code,
                "symbols": symbol_names([code]),
                "kind": cautions.code_kind(code),
                "words": cautions.code_words(code) or say("not in our list"),
            }
            for code in codes
        ],
    }
    return pdf(
        template("cautions.typ", "trials.sheets"),
        data,
        title=say("Cautions: {title}", title=study.title),
        paper=job.paper,
    )


def timetable(job: Job) -> bytes:
    """Return timetable.pdf: what comes in which order in each session, and what it takes."""
    data: dict[str, Any] = {
        "foot": job.foot(),
        "stale": say(class_times.STALE) if job.plan.timetable is not None else "",
        "words": {
            "order": say(
                "The order was drawn by chance: keep to it, and write down where you couldn't."
            ),
            "not to see": say(class_times.NOT_TO_SEE),
            "steps": say("Steps"),
            "sums": say(
                "These are sums of what the study says, not times of day. Tools that must be "
                "shared can make it longer."
            ),
            "together": say("What goes together, in this order"),
            "making": say("Order of making"),
        },
        "step columns": [say(name) for name in _STEP_COLUMNS],
        "bundle columns": [say(name) for name in _BUNDLE_COLUMNS],
        "sessions": [_session(job, sitting, job.bundles) for sitting in _by_session(job)],
    }
    return pdf(
        template("timetable.typ", "trials.sheets"),
        data,
        title=say("Order and times: {title}", title=job.study.title),
        paper=job.paper,
    )


def _by_session(job: Job) -> tuple[Sitting, ...]:
    """Return the making sheets of all teams joined, one a session, in order of making."""
    joined: dict[str, Sitting] = {}
    for sitting in job.sittings:
        before = joined[sitting.session].rows if sitting.session in joined else ()
        rows = tuple(sorted((*before, *sitting.rows), key=lambda row: row.run))
        joined[sitting.session] = Sitting("", sitting.session, rows)
    return tuple(joined.values())


def _session(job: Job, sitting: Sitting, groups: tuple[Bundle, ...]) -> Line:
    study = job.study
    codes = {row.item for row in sitting.rows}
    here = [bundle for bundle in groups if codes & {row.item for row in bundle.rows}]
    maker = maker_group(job.plan)
    teams = len(members_of(sitting.rows, maker)) if maker else 0
    steps = [_step_line(job, step, sitting, here) for step in study.steps]
    title = sitting.title if sitting.session else say("all {items}", items=job.items)
    return {
        "title": say("Order and times: {title}", title=title[0].lower() + title[1:]),
        "intro": f"{capital(count(len(codes), study.item_name))}"
        + (f", {count(teams, group_label(study, maker.name))}." if maker else "."),
        "steps": steps,
        "total": _total(job, sitting, here, teams),
        "bundles": [_bundle(job, place, bundle) for place, bundle in enumerate(here, 1)],
        "columns": [
            say("Order"),
            say("Code"),
            *([heading(group_label(study, maker.name))] if maker else []),
        ],
        "items": [
            [str(row.run), row.item, *([row.groups[maker.name]] if maker else [])]
            for row in sitting.rows
        ],
    }


def _times(job: Job, step: Step, sitting: Sitting, here: list[Bundle]) -> tuple[int, str]:
    """Return how often the work of a step is done in a session, and with what."""
    item = job.study.item_name
    mine = [bundle for bundle in here if bundle.group.step == step.name]
    if not mine:
        return len(sitting.rows), count(len(sitting.rows), item)
    text = count(len(mine), group_label(job.study, mine[0].group.name))
    alone = [bundle.times(step) for bundle in mine if bundle.times(step) > 1]
    if alone:
        text = say(
            "{groups}; in {n} of them one {item} after another, {times} times",
            groups=text,
            n=len(alone),
            item=item,
            times=sum(alone),
        )
    return sum(bundle.times(step) for bundle in mine), text


def _step_line(job: Job, step: Step, sitting: Sitting, here: list[Bundle]) -> list[str]:
    times, text = _times(job, step, sitting, here)
    return [
        step_label(step),
        text,
        duration(step.minutes) if step.minutes is not None else say("not said"),
        _waiting(step),
        duration(step.minutes * times) if step.minutes is not None else "",
    ]


def _waiting(step: Step) -> str:
    if step.waiting_is is not None:
        return say("as the card says")
    return duration(step.waiting) if step.waiting is not None else ""


def _total(job: Job, sitting: Sitting, here: list[Bundle], teams: int) -> str:
    known = [step for step in job.study.steps if step.minutes is not None]
    if not known:
        return ""
    total = sum((step.minutes or 0) * _times(job, step, sitting, here)[0] for step in known)
    told = [
        say("Work in all: {time}, if everything were done by one person.", time=duration(total))
    ]
    if teams > 1:
        each = duration(round(total / teams))
        told.append(say("Shared by {teams}: about {time} each.", teams=teams, time=each))
    if any(_waiting(step) for step in known):
        told.append(say("Waiting comes on top."))
    return " ".join(told)


def _bundle(job: Job, place: int, bundle: Bundle) -> list[str]:
    settings = [
        f"{factor_label(job.study, name)}: {level_text(job.study.factor(name), level)}"
        for name, level in bundle.settings
    ]
    codes = ", ".join(row.item for row in bundle.rows)
    return [str(place), capital(bundle.label), listing(settings), codes]
