"""What won't come because a team was absent, beside what is in, lost, and still to come."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from trials.design.values import Plan
from trials.record import Absence, State, items_of, not_made
from trials.study import Study
from trials.words.absent import who_was_absent
from trials.words.numbers import listing

_MOST = 12  # codes that are listed


@dataclass(frozen=True)
class Tally:
    """The items of a plan by what is known of them, each in the order of the plan.

    ``unmade``: not made because their team was absent. ``stood_in``: were to be made by a team that
    was absent, have readings, and nobody told who made them.
    """

    read: tuple[str, ...]
    lost: tuple[str, ...]
    unmade: dict[str, Absence]
    waiting: tuple[str, ...]
    stood_in: dict[str, Absence]

    def to_dict(self) -> dict[str, Any]:
        """Return the counts and the codes, as JSON has them."""
        return {
            "with_readings": len(self.read),
            "lost": list(self.lost),
            "not_made": list(self.unmade),
            "no_readings_yet": list(self.waiting),
        }


def tally(written: Collection[str], state: State, plan: Plan) -> Tally:
    """Return how far the measurements of a plan are; ``written``: items that have readings."""
    codes = [row.item for row in plan.rows]
    read = tuple(code for code in codes if code in written)
    broke = {loss.item for loss in state.losses}
    lost = tuple(code for code in codes if code in broke and code not in written)
    unmade = not_made(state.absences, plan, {*written, *lost})
    gone = {*written, *lost, *unmade}
    told = {(one.item, one.name) for one in state.otherwise}
    made = {
        item: absence
        for absence in state.absences
        for item in items_of(absence, plan)
        if item in written and (item, absence.team_of) not in told
    }
    return Tally(read, lost, unmade, tuple(code for code in codes if code not in gone), made)


def made_by_others(found: Tally, state: State) -> dict[str, str]:
    """Return who made what an absent team was to make, as far as somebody told; item -> who."""
    return {
        one.item: one.made
        for one in state.otherwise
        if one.item in found.unmade and one.name == found.unmade[one.item].team_of
    }


def absence_lines(found: Tally, study: Study, folder: str) -> list[str]:
    """Return what was not made because a team was absent; ``folder`` as it is typed."""
    lines = []
    for absence in dict.fromkeys(found.unmade.values()):
        mine = [item for item, why in found.unmade.items() if why == absence]
        lines.append(f"Not made, for {absent_text(absence, study)}: {_codes(mine)}.")
    for absence in dict.fromkeys(found.stood_in.values()):
        mine = [item for item, why in found.stood_in.items() if why == absence]
        lines.append(
            f"{_codes(mine)} {'has' if len(mine) == 1 else 'have'} readings although "
            f"{absent_text(absence, study)}: they count. Say who made "
            f"{'it' if len(mine) == 1 else 'them'}: trials made {folder} {' '.join(mine[:_MOST])} "
            f'--group {absence.team_of}=WHICH --why "..." --by CODE'
        )
    return lines


def absent_text(absence: Absence, study: Study) -> str:
    """Return who was absent, and when, as a sentence names them."""
    labels = {group.name: group.label or group.name for group in study.groups}
    return who_was_absent(
        (labels.get(absence.team_of, absence.team_of), absence.team),
        (labels.get(absence.session_of, absence.session_of), absence.session),
    )


def _codes(items: Iterable[str]) -> str:
    codes = list(items)
    if len(codes) <= _MOST:
        return listing(codes)
    return f"{', '.join(codes[:_MOST])} and {len(codes) - _MOST} more"
