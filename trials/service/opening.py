"""Opening a study folder: the study, its plan, and whether they still belong together."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.values import Plan
from trials.errors import StudyError
from trials.record import Store
from trials.study import Study, read_study
from trials.workspace import Workspace, departures, load_plan, open_workspace

# Keys of study.toml that only say something in words: they may be mended at any time.
_WORDS = frozenset(
    ["title", "makers", "note", "item_name", "same", "steps", "label", "how", "text", "members"]
)
# Keys that a plan is made from, but that no answer depends on once it is drawn.
_FORECAST = frozenset(["spread", "limits", "expected"])
# Keys that the plan itself is made of.
_FIXED = ("factors", "groups")


@dataclass(frozen=True)
class Opened:
    """A study with its plan.

    ``notes`` tell what was put right while opening; ``departures`` what a reader of the results
    should know about how the plan came about and what was changed since.
    """

    here: Workspace
    study: Study
    plan: Plan
    notes: tuple[str, ...]
    departures: tuple[str, ...]


def open_study(folder: Path) -> tuple[Workspace, Study]:
    """Return the study folder and the study in it.

    Raises
    ------
    FileError : it is no study folder.
    StudyError : study.toml says something impossible.
    """
    here = open_workspace(folder)
    return here, read_study(here.study)


def open_planned(folder: Path) -> Opened:
    """Return a study and the plan drawn for it.

    Raises
    ------
    FileError, StudyError, PlanError : no study, no plan, or study.toml was changed since so that
        the plan no longer fits.
    """
    here, study = open_study(folder)
    plan, notes = load_plan(here)
    changed = () if plan.study_digest == study.digest() else _changes(here, study)
    if changed:
        _refuse_unfit(here, plan, changed)
    told = tuple(
        f"study.toml was changed after the sheets were printed: {change}." for change in changed
    )
    return Opened(here, study, plan, notes, departures(here, plan) + told)


@contextlib.contextmanager
def held_plan(folder: Path) -> Iterator[Opened]:
    """Hold a study and give it with its plan, so that nobody changes either in between.

    Raises
    ------
    FileError, StudyError, PlanError : as :func:`open_planned`, or someone else holds the study.
    """
    with open_workspace(folder).held():
        yield open_planned(folder)


def _refuse_unfit(here: Workspace, plan: Plan, changed: tuple[str, ...]) -> None:
    unfit = [change for change in changed if change.startswith(_FIXED)]
    if plan.locked is not None and not unfit:
        return
    again = f"Draw the plan again with: trials plan {here.folder}"
    raise StudyError(
        "study.toml was changed after the plan was drawn, and the plan no longer fits it.",
        code="study.changed",
        where=str(here.study),
        found="; ".join(unfit or changed),
        do=f"{again} (while nothing has been measured), or undo the change: study.toml as it was "
        f"is kept as {here.study_as_planned}",
    )


def _changes(here: Workspace, study: Study) -> tuple[str, ...]:
    """Return what differs from the study the plan was drawn for, as 'key: old -> new'."""
    planned = dict(_leaves(read_study(here.study_as_planned).model_dump(mode="json"), ()))
    now = dict(_leaves(study.model_dump(mode="json"), ()))
    keys = [key for key in (*planned, *now) if planned.get(key) != now.get(key)]
    return tuple(
        f"{'.'.join(key)} was {_shown(planned.get(key))} and is now {_shown(now.get(key))}"
        for key in dict.fromkeys(keys)
    )


def _leaves(value: Any, key: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
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
        return "not given"
    if isinstance(value, list):
        return ", ".join(str(one) for one in value) or "nothing"
    return str(value)


def has_readings(here: Workspace) -> bool:
    """Tell whether anything was taken in."""
    if not here.record.exists():
        return False
    with Store.open(here.record) as store:
        return bool(store.files())
