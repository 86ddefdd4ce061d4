"""The form for the risk assessment: what usually hurts is printed, all else is written by hand."""

from __future__ import annotations

from typing import Any

from trials.classroom.arrange import step_label
from trials.render.typeset import pdf, template
from trials.sheets.parts import Job, Line, symbol_names
from trials.study.values import Step
from trials.words import cautions
from trials.words.language import say


def risk_form(job: Job) -> bytes:
    """Return risk-form.pdf: a row for each step, the usual cautions printed, lines to sign.

    Nothing that is written on it is stored.
    """
    data: dict[str, Any] = {
        "foot": job.foot(),
        "title": say(cautions.FORM_TITLE),
        "first": say(cautions.FIRST),
        "intro": say(cautions.FORM_INTRO),
        "columns": [say(name) for name in cautions.FORM_COLUMNS],
        "none": say(cautions.FORM_NONE),
        "steps": [_step(step) for step in job.study.steps] or [_nothing(job)],
        "sources": say(cautions.FORM_SOURCES),
        "help": say(cautions.FORM_HELP),
        "sign": [say(cautions.FORM_SIGN), say("Date"), say("Look at it again on")],
        "notes": [
            say(note) for note in (cautions.FORM_CHANGED, cautions.FORM_LINKED, cautions.NO_NAMES)
        ],
    }
    return pdf(
        template("risk.typ", "trials.sheets"),
        data,
        title=say("Risk assessment: {title}", title=job.study.title),
        paper=job.paper,
    )


def _step(step: Step) -> Line:
    halves = [cautions.parted(caution.text) for caution in step.cautions]
    codes = cautions.sorted_codes(
        code for caution in step.cautions for code in (*caution.iso7010, *caution.ghs)
    )
    doing = [code for code in codes if cautions.says_what_to_do(code)]
    hurting = [code for code in codes if code not in doing]
    return {
        "label": step_label(step),
        "who": say("done by {who}", who=step.by) if step.by else "",
        "hurts": _half([hurts for hurts, _ in halves], hurting),
        "does": _half([does for _, does in halves], doing),
    }


def _half(words: list[str], codes: list[str]) -> Line:
    """Return one side of what is known of a step: in words, by codes, and drawn."""
    return {
        "words": list(dict.fromkeys(text for text in words if text)),
        "codes": [cautions.code_text(code) for code in codes],
        "symbols": symbol_names(codes),
    }


def _nothing(job: Job) -> Line:
    label = say("Making and measuring the {items}", items=job.items)
    return {"label": label, "who": "", "hurts": _half([], []), "does": _half([], [])}
