"""Checks of the steps of the making: times, caution codes, and what they name."""

from __future__ import annotations

import re

from trials.study.messages import Places, meant, shorten
from trials.study.values import Step, Study

# GHS pictograms GHS01 to GHS09 and statements such as H225, P210, EUH066, H301+H311, H360FD
# (Globally Harmonised System, UN); ISO 7010: warning, prohibition, mandatory, safe condition
# ("emergency") and fire signs.
_GHS = re.compile(r"(GHS0[1-9]|(H|P|EUH)\d{3}[A-Za-z]{0,2}(\+(H|P)\d{3}[A-Za-z]{0,2})*)\Z")
_ISO7010 = re.compile(r"[WPMEF]\d{3}\Z")
_LONGEST_MINUTES = 1_000_000  # two years


def check_steps(study: Study, places: Places) -> None:
    """Refuse steps with impossible times or codes, and names of steps or factors that aren't there.

    Raises
    ------
    StudyError : the first fault.
    """
    steps = tuple(step.name for step in study.steps)
    for group in study.groups:
        if steps and group.step is not None and group.step not in steps:
            raise places.error(
                ("groups", group.name, "step"),
                f"'{shorten(group.name)}' belongs to a step that isn't there.",
                code="unknown_step",
                found=shorten(group.step),
                allowed=", ".join(shorten(name) for name in steps),
                do=meant(group.step, steps, "Use the name of one of the steps."),
            )
    factors = tuple(factor.name for factor in study.factors)
    for place, step in enumerate(study.steps):
        _check_times(step, place, places)
        for at, name in enumerate(step.factors):
            if name not in factors:
                raise places.error(
                    ("steps", place, "factors", at),
                    f"The step '{shorten(step.name)}' sets a factor that isn't there.",
                    code="unknown_factor",
                    found=shorten(name),
                    allowed=", ".join(factors) or "no factor has been named",
                    do=meant(name, factors, "Use the name of one of the factors."),
                )
        _check_one_by_one(study, step, place, places)
        _check_burning(study, step, place, places)
        _check_cautions(step, place, places)


def _check_one_by_one(study: Study, step: Step, place: int, places: Places) -> None:
    """Refuse a level that isn't set for a whole group at this step: it would change nothing."""
    groups = {group.name for group in study.groups if group.step == step.name}
    levels = tuple(
        level for factor in study.factors if factor.applied_to in groups for level in factor.levels
    )
    for at, level in enumerate(step.one_by_one):
        if level not in levels:
            raise places.error(
                ("steps", place, "one_by_one", at),
                f"The step '{shorten(step.name)}' sets no such level for a whole group.",
                code="unknown_level",
                found=shorten(level),
                allowed=", ".join(shorten(name) for name in levels)
                or "nothing: no factor is applied to a group that belongs to this step",
                do=meant(level, levels, "Name the levels under which the items of a group are done "
                         "one after another, or delete the line."),
            )  # fmt: skip


def _check_burning(study: Study, step: Step, place: int, places: Places) -> None:
    """Refuse levels that aren't there among those under which something burns or catches fire."""
    levels = tuple(level for factor in study.factors for level in factor.levels)
    for key, said in (("flammable", step.flammable), ("flame", step.flame)):
        for at, level in enumerate(said if isinstance(said, tuple) else ()):
            if level not in levels:
                raise places.error(
                    ("steps", place, key, at),
                    f"'{key}' of the step '{shorten(step.name)}' names a level that isn't there.",
                    code="unknown_level",
                    found=shorten(level),
                    allowed="true, false, or of the levels: " + ", ".join(map(shorten, levels)),
                    do=meant(level, levels, "Write true where it is so under every level."),
                )


def _check_times(step: Step, place: int, places: Places) -> None:
    for key, value in (("minutes", step.minutes), ("waiting", step.waiting)):
        if value is not None and not 0 <= value <= _LONGEST_MINUTES:
            raise places.error(
                ("steps", place, key),
                f"The step '{shorten(step.name)}' can't take this long.",
                code="bad_number",
                found=f"{value:.12g}",
                allowed=f"minutes from 0 to {_LONGEST_MINUTES}",
                do="Write the time in minutes.",
            )


def _check_cautions(step: Step, place: int, places: Places) -> None:
    for number, caution in enumerate(step.cautions):
        base = ("steps", place, "cautions", number)
        if not caution.text.strip():
            raise places.error(
                (*base, "text"),
                "A caution says nothing.",
                code="empty_text",
                allowed="what can hurt, and what people usually do about it",
                do="Write it in one sentence.",
            )
        for key, codes, form, example in (
            ("ghs", caution.ghs, _GHS, "GHS02, H225, P210"),
            ("iso7010", caution.iso7010, _ISO7010, "W017, P003, M004"),
        ):
            for at, code in enumerate(codes):
                if not form.match(code):
                    raise places.error(
                        (*base, key, at),
                        "This is not a code of a caution.",
                        code="caution_code",
                        found=shorten(code),
                        allowed=f"codes such as {example}",
                        do="Look the code up on the packet or the sign, or delete it.",
                    )
