"""Opening a study folder: the study, its plan, and whether they still belong together."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trials.design.planned import study_with_parts
from trials.design.values import Plan
from trials.errors import PlanError, StudyError, TrialsError
from trials.files import as_typed
from trials.record import Store
from trials.service.promises import Promises, is_promise, kept_promises
from trials.study import Study, read_study
from trials.words.language import say
from trials.workspace import (
    Workspace,
    departures,
    load_plan,
    open_workspace,
    restore_study_as_planned,
)

# Keys of study.toml that only say something in words, or when and with what the work is done: they
# may be mended at any time.
_WORDS = frozenset(
    ["title", "makers", "note", "item_name", "language", "same", "steps", "lessons", "equipment",
     "stock", "label", "how", "text", "members"]
)  # fmt: skip
# Keys that a plan is made from, but that no answer depends on once it is drawn.
_FORECAST = frozenset(["spread", "spread_from", "limits", "expected"])
# Keys of the lessons that are told where they change after the sheets were printed.
_TIMES = ("minutes", "count", "starts")
# Keys that only say how people's tables are read: no plan rests on them.
_READING = ("columns",)
# Keys that the plan itself is made of.
_FIXED = ("factors", "groups")


@dataclass(frozen=True)
class Opened:
    """A study with its plan.

    ``study`` has what was promised as the plan was drawn for it, and everything else as study.toml
    says now; ``promises`` tell of the difference. ``notes`` tell what was put right while opening;
    ``departures`` what a reader of the results should know about how the plan came about and what
    was changed since.
    """

    here: Workspace
    study: Study
    plan: Plan
    notes: tuple[str, ...]
    departures: tuple[str, ...]
    promises: Promises


def open_study(folder: Path) -> tuple[Workspace, Study]:
    """Return the study folder and the study in it, with the spread it takes from a practice run.

    Raises
    ------
    FileError : it is no study folder.
    StudyError : study.toml says something impossible, or names a practice run that tells nothing.
    """
    from trials.service.taken import with_taken_spread

    here = open_workspace(folder)
    return here, with_taken_spread(here, read_study(here.study))


def open_planned(folder: Path) -> Opened:
    """Return a study and the plan drawn for it.

    Raises
    ------
    FileError, StudyError, PlanError : no study, no plan, or study.toml was changed since so that
        the plan no longer fits.
    """
    here = open_workspace(folder)
    now = read_study(here.study)  # what was planned must not depend on another folder
    plan, notes = load_plan(here)
    planned, restored = _as_planned(here, now, plan)
    changed = changes_between(planned, now)
    _refuse_unfit(here, plan, changed)
    promises = kept_promises(planned, now)
    promises = replace(
        promises,
        study=study_with_parts(promises.study, plan),
        otherwise=study_with_parts(promises.otherwise, plan),
    )
    told = tuple(
        say(
            "study.toml was changed after the sheets were printed: {change}."
            if plan.locked
            else "study.toml was changed after the plan was drawn: {change}.",
            change=text,
        )
        for key, text in (changed | (_lessons_changed(planned, now) if plan.locked else {})).items()
        if not is_promise(key, planned, now)
    )
    return Opened(
        here,
        promises.study,
        plan,
        notes + restored,
        departures(here, plan) + promises.told + told,
        promises,
    )


@contextlib.contextmanager
def held_plan(folder: Path) -> Iterator[Opened]:
    """Hold a study and give it with its plan, so that nobody changes either in between.

    Raises
    ------
    FileError, StudyError, PlanError : as :func:`open_planned`, or someone else holds the study.
    """
    with open_workspace(folder).held():
        yield open_planned(folder)


def _as_planned(here: Workspace, now: Study, plan: Plan) -> tuple[Study, tuple[str, ...]]:
    """Return the study that the plan was drawn for, and a note if its copy was written anew.

    Raises
    ------
    PlanError : the copy was changed or is gone, and study.toml says something else by now.
    """
    try:
        planned = read_study(here.study_as_planned)
        found = "" if planned.digest() == plan.study_digest else "its contents were changed"
    except TrialsError as problem:
        planned, found = now, problem.what
    if not found:
        return planned, ()
    if now.digest() == plan.study_digest:
        return now, (restore_study_as_planned(here),)
    raise PlanError(
        "The copy of study.toml that the plan was drawn from is not as it was, so what was "
        "promised before measuring can't be read from it.",
        code="plan.study_copy",
        where=str(here.study_as_planned),
        found=found,
        allowed="study.toml exactly as it was when the plan was drawn",
        do=f"Put that file back from a copy of the folder; or undo what was changed in {here.study}"
        " since then, and it is written anew. While nothing has been measured a new plan does as "
        f"well: trials plan {as_typed(here.folder)}",
    )


Key = tuple[str, ...]


def _refuse_unfit(here: Workspace, plan: Plan, changed: dict[Key, str]) -> None:
    unfit = [
        text
        for key, text in changed.items()
        if is_fixed(key) or (plan.locked is None and key[0] not in _READING)
    ]
    if not unfit:
        return
    again = f"Draw the plan again with: trials plan {as_typed(here.folder)}"
    raise StudyError(
        "study.toml was changed after the plan was drawn, and the plan no longer fits it.",
        code="study.changed",
        where=str(here.study),
        found="; ".join(unfit),
        do=f"{again} (while nothing has been measured), or undo the change: study.toml as it was "
        f"is kept as {here.study_as_planned}",
    )


def is_fixed(key: Key) -> bool:
    """Tell whether a key of study.toml is of what a plan is made of: factors or groups."""
    return key[0] in _FIXED


def changes_between(planned: Study, now: Study) -> dict[Key, str]:
    """Return what differs from the study the plan was drawn for as a sentence."""
    before = dict(_leaves(planned.model_dump(mode="json"), ()))
    after = dict(_leaves(now.model_dump(mode="json"), ()))
    return {
        key: _changed(".".join(key), before.get(key), after.get(key))
        for key in (*before, *(key for key in after if key not in before))
        if before.get(key) != after.get(key)
    }


def _lessons_changed(planned: Study, now: Study) -> dict[Key, str]:
    """Return what differs in how long the lessons are, how many, and when: no plan rests on it."""
    before, after = map(_times, (planned, now))
    return {
        ("lessons", key): _changed(f"lessons.{key}", before.get(key), after.get(key))
        for key in _TIMES
        if before.get(key) != after.get(key)
    }


def _times(study: Study) -> dict[str, Any]:
    said = {} if study.lessons is None else study.lessons.model_dump(mode="json")
    return said | ({"minutes": f"{said['minutes']:g}"} if said else {})


def _changed(key: str, before: Any, now: Any) -> str:
    return say(
        "{key} was {before} and is now {now}", key=key, before=_shown(before), now=_shown(now)
    )


def _leaves(value: Any, key: Key) -> Iterator[tuple[Key, Any]]:
    """Yield every value that an answer depends on with its key; things are keyed by their names."""
    if key and (key[-1] in _WORDS or key[-1] in _FORECAST):
        return
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _leaves(inner, (*key, name))
    elif isinstance(value, list) and value and all(_is_named(thing) for thing in value):
        for thing in value:
            yield from _leaves(thing, (*key, thing["name"]))
    else:
        yield key, value


def _is_named(thing: object) -> bool:
    return isinstance(thing, dict) and "name" in thing


def _shown(value: Any) -> str:
    if value is None:
        return say("not given")
    if isinstance(value, list):
        return ", ".join(str(one) for one in value) or say("nothing")
    return str(value)


def has_readings(here: Workspace) -> bool:
    """Tell whether anything was taken in."""
    if not here.record.exists():
        return False
    with Store.open(here.record) as store:
        return bool(store.files())
