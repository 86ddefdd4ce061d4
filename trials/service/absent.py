"""``trials absent``: a team that was not there, what that costs, and what can be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.judging import cost_of
from trials.design.values import Loss, Plan, PlanGroup, PlanRow
from trials.errors import RecordError
from trials.files import as_typed
from trials.record import Absence, Otherwise, State, Store, items_for, items_of, plan_as_made
from trials.service.codes import nearest
from trials.service.offers import (
    Offer,
    cost_lines,
    cost_to_dict,
    extended,
    extended_lines,
    typed,
)
from trials.service.opening import Opened, held_plan
from trials.service.taken import with_spread_if_there
from trials.service.tally import Tally, absent_text, tally
from trials.study import Study
from trials.words.absent import lessons_without, made_a_start, offer_others
from trials.words.numbers import count, listing, plural

_SESSIONS = ("session", "lesson", "day", "meeting")
_TEAMS = ("team", "maker")

Who = tuple[str, str, str, str]  # group of teams, team, group of sessions, session


@dataclass(frozen=True)
class Absent:
    """An absence as it was recorded (or taken back), and what it does.

    ``hit``: items without a reading that the team was to make then; ``measured``: those of its
    items that have readings. ``cost``: what each factor's answer loses if nothing is done.
    """

    opened: Opened
    absence: Absence
    undone: bool
    all: tuple[Absence, ...]
    hit: tuple[str, ...]
    measured: tuple[str, ...]
    tally: Tally
    cost: tuple[Loss, ...] = ()
    offers: tuple[Offer, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "absent": _who(self.absence),
            "undone": self.undone,
            "not_made": list(self.hit),
            "measured": list(self.measured),
            "cost": [cost_to_dict(loss) for loss in self.cost],
            "offers": [offer.to_dict() for offer in self.offers],
            "absent_in_all": [_who(absence) for absence in self.all],
            "items": self.tally.to_dict(),
        }

    def text(self) -> list[str]:
        """Return what was recorded, what it costs, and what to type."""
        study, folder = self.opened.study, as_typed(self.opened.here.folder)
        said = absent_text(self.absence, study)
        if self.undone:
            return [f"Taken back: that {said}. It stays in the record that this was said."]
        items = plural(study.item_name)
        lines = [f"Recorded: {said}."]
        if self.measured:
            lines.append(
                f"{listing(self.measured)} {_has(self.measured)} readings, which count: somebody "
                "made them."
            )
        if not self.hit:
            return [*lines, f"No {study.item_name} is missing because of that."]
        one = len(self.hit) == 1
        lines += [
            f"It was to make {count(len(self.hit), study.item_name)} then: {listing(self.hit)}. "
            f"As long as there is no reading of {'it' if one else 'them'}, "
            f"{'it counts' if one else 'they count'} as not made, for a reason outside the "
            "comparison.",
            "",
            f"If the {items} stay unmade:",
            *cost_lines(study, self.cost),
            "",
            "What you can do:",
        ]
        for offer in self.offers:
            if offer.kind == "others":
                lines += [offer_others(self.absence.team_of, items), *typed(offer.commands)]
                lines += cost_lines(study, offer.cost)
            else:
                lines += extended_lines(offer, study, first=len(self.offers) == 1)
        if self.opened.plan.timetable is not None and not self.absence.session:
            lines += made_a_start(folder, self.absence.team)
        lines.append(f"- Or go on without them: trials analyse {folder}")
        return lines


def record_absent(
    folder: Path, team: str, *, session: str | None, why: str, by: str, undo: bool = False
) -> Absent:
    """Record that a team was not there in a session, or take that back.

    Parameters
    ----------
    session : its name or its number; None where the plan has none, or only one.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : no such team or session, no reason, no code of a person, or it is known already.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        who = _meant(opened, team, session)
        before = store.state()
        store.be_absent(who, items_for(who, opened.plan), why=why, by=by, undo=undo)
        state = store.state()
    known = state if not undo else before
    absence = next(one for one in known.absences if one.key == who)
    found = tally({row.item for row in state.rows}, state, opened.plan)
    mine = items_of(absence, opened.plan)
    hit = tuple(item for item in mine if found.unmade.get(item) == absence)
    read = tuple(item for item in mine if item in found.read)
    if not hit:
        return Absent(opened, absence, undo, state.absences, hit, read, found)
    study = with_spread_if_there(opened.here, opened.study)
    made = plan_as_made(opened.plan, state.otherwise).plan
    left = {*found.read, *found.waiting}
    cost = cost_of(study, made, {*left, *hit}, left, made)
    offers = (*_by_others(opened, study, state, absence, hit), *extended(opened, state, len(hit)))
    return Absent(opened, absence, undo, state.absences, hit, read, found, cost, offers)


# ---- who is meant ----------------------------------------------------------------------------


def _meant(opened: Opened, team: str, session: str | None) -> Who:
    """Return team and session as the plan spells them."""
    teams = _group(opened, _TEAMS)
    if teams is None:
        raise _refusal(
            "no_teams",
            "This plan has no teams.",
            team,
            "a team of the plan",
            f"Name the {plural(opened.study.item_name)} instead: trials lost "
            f'{as_typed(opened.here.folder)} CODE CODE --why "..."',
        )
    member = _member(teams, team)
    sessions = _group(opened, _SESSIONS)
    if sessions is None:
        if session is not None and session.strip() != "1":
            do = "Say it without --session."
            if opened.plan.timetable is not None:
                number = session.strip() if session.strip().isdecimal() else "N"
                do = (
                    f"If it made nothing at all, say it without --session. If it was there before "
                    f"lesson {number}, let others finish what it made: "
                    f"{lessons_without(as_typed(opened.here.folder), number, member)}"
                )
            raise _refusal("no_sessions", "This plan has no sessions.", f"--session {session}",
                           "no --session", do)  # fmt: skip
        return (teams.name, member, "", "")
    if session is not None:
        return (teams.name, member, sessions.name, _member(sessions, session))
    if len(sessions.members) > 1:
        raise _refusal(
            "which_session",
            f"Say in which {sessions.name} it was absent.",
            "no --session",
            listing(sessions.members, "or"),
            f"For example: --session {sessions.members[-1]}",
        )
    return (teams.name, member, sessions.name, sessions.members[0])


def _group(opened: Opened, names: Sequence[str]) -> PlanGroup | None:
    """Return the group of teams or of sessions: by its role, its name, or what people call it."""
    labels = {group.name: group.label.casefold() for group in opened.study.groups}
    groups = [group for group in opened.plan.groups if not group.added]
    if "maker" in names:
        for group in groups:
            if group.role == "maker":
                return group
    for name in names:
        for group in groups:
            if name in (group.name.casefold(), labels.get(group.name)):
                return group
    return None


def _member(group: PlanGroup, text: str) -> str:
    """Return a member of a group by its name, or by its number in it."""
    wanted = text.strip().casefold()
    for member in group.members:
        if member.casefold() == wanted:
            return member
    if wanted.isdecimal() and 0 < int(wanted) <= len(group.members):
        return group.members[int(wanted) - 1]
    near = nearest(text, group.members)
    raise _refusal(
        f"unknown_{'team' if group.role == 'maker' or group.name in _TEAMS else 'session'}",
        f"The plan has no {group.name} of that name.",
        text,
        listing(group.members, "or"),
        f"Did you mean {near}?" if near else "Write it as in plan.csv.",
    )


# ---- what can be done ------------------------------------------------------------------------


def _by_others(
    opened: Opened, study: Study, state: State, absence: Absence, hit: Sequence[str]
) -> tuple[Offer, ...]:
    """Return how the teams that were there can make the items, if that keeps the plan whole."""
    plan = plan_as_made(opened.plan, state.otherwise).plan
    found = tally({row.item for row in state.rows}, state, opened.plan)
    shares = _shared_out(plan, absence, state.absences, hit)
    changes = [
        Otherwise(item, "group", absence.team_of, team, "", "", "") for item, team in shares.items()
    ]
    if not changes:
        return ()
    made = plan_as_made(plan, changes)
    if made.misfits or any(
        new.factors != old.factors or _elsewhere(new, old, absence.team_of)
        for new, old in zip(made.plan.rows, plan.rows, strict=True)
    ):
        return ()  # something is given to a whole team, or lies within one
    commands = []
    for team in dict.fromkeys(shares.values()):
        mine = " ".join(item for item, other in shares.items() if other == team)
        commands.append(
            f"trials made {as_typed(opened.here.folder)} {mine} --group {absence.team_of}={team} "
            f'--why "{absence.team} was absent" --by CODE'
        )
    whole = {*found.read, *found.waiting, *hit}
    return (Offer("others", tuple(commands), cost_of(study, plan, whole, whole, made.plan)),)


def _elsewhere(new: PlanRow, old: PlanRow, team_of: str) -> bool:
    return any(new.groups[name] != old.groups[name] for name in old.groups if name != team_of)


def _shared_out(
    plan: Plan, absence: Absence, absences: Sequence[Absence], hit: Sequence[str]
) -> dict[str, str]:
    """Return which team makes which item: each version spread over the teams, none with many more.

    Only teams that have something to make in that session, and were there.
    """
    gone = {
        one.team for one in absences
        if one.team_of == absence.team_of and one.session in ("", absence.session)
    }  # fmt: skip
    there = [row for row in plan.rows if not absence.session_of
             or row.groups[absence.session_of] == absence.session]  # fmt: skip
    teams = [team for team in dict.fromkeys(row.groups[absence.team_of] for row in there)
             if team not in gone]  # fmt: skip
    mine = {team: [r.factors for r in there if r.groups[absence.team_of] == team] for team in teams}
    least = {team: len(rows) for team, rows in mine.items()}
    shares: dict[str, str] = {}
    for row in plan.rows:
        if row.item not in hit or not teams:
            continue
        alike = {
            team: sum(own[name] == level for own in mine[team]
                      for name, level in row.factors.items())
            for team in teams
        }  # fmt: skip
        team = min(teams, key=lambda one: (len(mine[one]) - least[one], alike[one],
                                           teams.index(one)))  # fmt: skip
        mine[team].append(row.factors)
        shares[row.item] = team
    return shares


# ---- telling ---------------------------------------------------------------------------------


def _who(absence: Absence) -> dict[str, Any]:
    return {
        "team": absence.team,
        "session": absence.session or None,
        "items": list(absence.items),
        "why": absence.why,
        "by": absence.by,
    }


def _has(items: Sequence[str]) -> str:
    return "has" if len(items) == 1 else "have"


def _refusal(code: str, what: str, found: str, allowed: str, do: str) -> RecordError:
    return RecordError(
        what, code=f"absent.{code}", where="absent", found=found, allowed=allowed, do=do
    )
