"""What is told beside an impossible request: lines that can't all hold, and the nearest plans."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from trials.design.audit import gets_a_stop
from trials.design.audit.sizes import LARGEST_PLAIN
from trials.design.conflicts import Conflict, smallest_conflict
from trials.design.demands import ASKED, Demands
from trials.design.draw import sketch
from trials.design.nearest import (
    Change,
    nearest_of,
    possible_changes,
    smallest_number,
    with_edits,
)
from trials.design.searched import too_few
from trials.design.treatments import amount
from trials.errors import Nearest, PlanError, StudyError, TrialsError
from trials.files import as_typed, read_bytes
from trials.progress import progress
from trials.study import Study, lines_of, shape_study
from trials.study.bans import named_groups
from trials.study.messages import Places, key_text, shorten
from trials.study.toml import decode
from trials.study.writing import toml_value
from trials.words.nearest import (
    combination_words,
    conflict_heading,
    copies_words,
    edit_line,
    given_up_words,
    group_words,
    member_ban_words,
    number_words,
    room_words,
    size_words,
)
from trials.workspace import open_workspace

# Errors that name how many items are needed, by the one rule that was broken.
_COUNTED = frozenset(
    [
        "study.more_recipes_than_items",
        "plan.more_recipes_than_items",
        "plan.too_few_to_tell",
        "search.too_few_items",
    ]
)
# Errors about what is asked for; what is written wrong has no nearest plan.
IMPOSSIBLE = frozenset(
    [
        "study.level_without_recipe",
        "study.required_forbidden",
        "study.sizes_count",
        "study.sizes_room",
        "study.sizes_sum",
        "study.more_recipes_than_items",
        "study.too_many_recipes",
        "study.capacity",
        "study.too_few_units",
        "plan.more_recipes_than_items",
        "plan.more_than_can_be_made",
        "plan.sizes_sum",
        "plan.empty_groups",
        "plan.no_room",
        "plan.too_few_units",
        "plan.too_few_to_tell",
        "plan.no_allocation",
        "plan.required_missing",
        "plan.tied_by_bans",
        "search.too_few_items",
        "search.no_layout",
    ]
)


@contextlib.contextmanager
def with_nearest(folder: Path, items: int | None = None) -> Iterator[None]:
    """Tell beside an error about an impossible request what would be possible.

    Parameters
    ----------
    items : the number of items asked for beside study.toml, if any.

    Raises
    ------
    StudyError, PlanError : those that came, with ``conflict`` and ``nearest``.
    """
    try:
        yield
    except (StudyError, PlanError) as problem:
        if problem.code in IMPOSSIBLE:
            with progress("looking for the nearest possible plan"):
                _add(problem, folder, items)
        raise


def _add(problem: TrialsError, folder: Path, items: int | None) -> None:
    here = open_workspace(folder)
    study, places = shape_study(decode(read_bytes(here.study), str(here.study)), str(here.study))
    problem.conflict = conflict_lines(study, places, items)
    found = possible_changes(study, items)
    told = [
        replace(told_change(study, change, folder), stop=_gets_a_stop(study, change, items))
        for change in nearest_of(found)
    ]
    problem.nearest = tuple(sorted(told, key=lambda one: one.stop))
    if problem.code in _COUNTED and problem.allowed:
        _say_true_number(problem, study, items, found)


def _gets_a_stop(study: Study, change: Change, items: int | None) -> bool:
    """Return whether a plan with a change, drawn to try it, should not be made as it is."""
    other = with_edits(study, change.edits)
    if other is None or change.items > LARGEST_PLAIN:
        return False  # too large to be drawn just to see
    try:
        plan = sketch(other, change.asked if items is not None else None, counted=False)
    except PlanError:  # another search found a layout; what a check says of it isn't known
        return False
    return gets_a_stop(other, plan)


def _say_true_number(
    problem: TrialsError, study: Study, items: int | None, found: tuple[Change, ...]
) -> None:
    """Say the smallest number of items that was tried and works, and none where none does.

    What a rule by itself would allow may still be refused by another: too few for the groups.
    """
    least = smallest_number(found)
    named = re.match(r"at least (\d+) items", problem.allowed)
    if named is None or least == int(named[1]):
        return
    problem.allowed = "" if least is None else f"at least {least} items"
    if problem.code == "plan.too_few_to_tell":
        asked = amount(study, items).items
        problem.do = too_few(study, asked, least).do


def conflict_lines(study: Study, places: Places, items: int | None = None) -> tuple[str, ...]:
    """Return a heading and the fewest lines of a study that can't all hold; empty if none are."""
    found = find_conflict(study, items)
    if found is None:
        return ()
    demands, conflict = found
    lines = [_line(study, places, demands.lines[one], items) for one in conflict.demands]
    return (conflict_heading(len(lines), smallest=conflict.smallest), *lines)


def find_conflict(study: Study, items: int | None = None) -> tuple[Demands, Conflict] | None:
    """Return the fewest lines that can't all hold, where lines are to blame and can be compared."""
    try:
        demands = Demands(study, items)
    except PlanError:  # too many recipes
        return None
    if not demands.hold(frozenset()):
        return None  # what is compared can't be, whatever lines are given up
    conflict = smallest_conflict(len(demands.lines), demands.hold)
    return None if conflict is None else (demands, conflict)


def _line(study: Study, places: Places, path: tuple[str | int, ...], items: int | None) -> str:
    """Return one line of a study with its place."""
    if path == ASKED:
        return f"the command line: --items {items}"
    if path[0] == "limits" and len(path) == 3:
        value = toml_value(getattr(study.limits, str(path[1]))[path[2]])
    elif path[0] == "limits":
        value = f"{path[1]} = {getattr(study.limits, str(path[1]))}"
    else:
        part = study.group(str(path[1])) if path[0] == "groups" else study.factor(str(path[1]))
        value = f"{path[2]} = {toml_value(getattr(part, str(path[2])))}"
    return f"{places.at(path)}: {shorten(value)}"


def told_change(study: Study, change: Change, folder: Path) -> Nearest:
    """Return a change with its cost in words, and how to make it."""
    lines = tuple(_edit(keys, value) for keys, value in change.edits)
    command = ""
    if change.at_once and change.asked is not None:
        command = f"trials plan {as_typed(folder)} --items {change.asked}"
    return Nearest(_words(study, change), lines, change.items, command)


def _edit(keys: tuple[str, ...], value: object) -> str:
    if value is None:
        at = keys if len(keys) == 2 and keys[0] != "limits" else keys[:-1]
        return edit_line(keys, f"[{key_text(at)}]", None)
    heading, line = lines_of([(keys, value)])[0]
    return edit_line(keys, heading, line)


def _words(study: Study, change: Change) -> str:
    item, code = study.item_name, change.code
    if code == "items":
        copies = dict(change.edits).get(("limits", "copies"))
        if copies is not None and study.limits.copies is not None:
            return copies_words(item, study.limits.copies, copies, change.items)
        return number_words(item, change.old, change.new)
    if code == "group":
        within = study.group(change.what).within
        return group_words(change.what, within or "", change.old, change.new)
    if code in ("capacity", "size"):
        words = room_words if code == "capacity" else size_words
        return words(change.what, item, change.old, change.new)
    if code == "ban" and named_groups(study, change.old):
        return member_ban_words(change.old, named_groups(study, change.old))
    old = combination_words(change.old) if isinstance(change.old, dict) else str(change.old)
    return given_up_words(code, shorten(change.what), shorten(old))
