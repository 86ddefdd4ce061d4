"""Who does which step of which item, once something was lost or a team is away."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from trials.classroom.arrange import (
    Sitting,
    maker_group,
    making_steps,
    member_text,
    members_of,
    session_group,
    sittings,
)
from trials.classroom.left import works_over
from trials.design.values import PlanRow
from trials.sheets.parts import Job
from trials.study.values import Step


@dataclass(frozen=True)
class Share:
    """What stands on one making sheet.

    ``team``: whose it is; empty where nothing parts the makers. ``sitting``: its own items, with
    those that were worked on before they were lost. ``taken``: items of other teams of which it
    does some steps.
    """

    job: Job
    team: str
    sitting: Sitting
    taken: tuple[PlanRow, ...]

    @property
    def left(self) -> tuple[PlanRow, ...]:
        """Its own items, without those that are gone."""
        return tuple(row for row in self.sitting.rows if row.item not in self.job.gone)

    @cached_property
    def _over(self) -> frozenset[tuple[str, str]]:
        table = self.job.plan.timetable
        over = (*works_over(self.job.plan), *(table.past if table else ()))
        return frozenset((work.step, item) for work in over for item in work.items)

    def ahead(self, step: Step, row: PlanRow) -> bool:
        """Whether those whose sheet it is do a step of an item, and it isn't over."""
        return self.does(step, row) and (step.name, row.item) not in self._over

    def does(self, step: Step, row: PlanRow) -> bool:
        """Whether a step of an item is done, or was, by those whose sheet it is."""
        crew = self.job.crews.get((step.name, row.item))
        if row.item in self.job.gone:
            return crew is not None
        if crew in other_teams(self.job, self.team):
            return False
        if row not in self.taken or crew == self.team:
            return True
        return crew is not None and (step.name, row.item) not in self._over

    @cached_property
    def begun(self) -> bool:
        """Whether something that is over was done to its own items."""
        own = {row.item for row in self.left}
        return any(item in own for _, item in self._over)

    @cached_property
    def busy(self) -> bool:
        """Whether a step of making is still to come."""
        rows = (*self.left, *self.taken)
        return any(self.ahead(step, row) for step in making_steps(self.job.study) for row in rows)

    @cached_property
    def idle(self) -> bool:
        """Whether it is that of a team that is away and does nothing more."""
        agenda = self.job.agenda
        if agenda is None or self.team not in {one.team for one in agenda.away}:
            return False
        return not any(t.work.crew == self.team for part in agenda.ahead for t in part.turns)

    def at(self, step: Step) -> tuple[PlanRow, ...]:
        """Return the items to which those whose sheet it is still do a step."""
        return tuple(row for row in (*self.sitting.rows, *self.taken) if self.ahead(step, row))


def other_teams(job: Job, team: str) -> tuple[str, ...]:
    """Return all teams but one."""
    maker = maker_group(job.plan)
    return tuple(one for one in maker.members if one != team) if maker else ()


def shares(job: Job) -> tuple[Share, ...]:
    """Return what each making sheet has, sheets with nothing left to do on them left out."""
    maker, session = maker_group(job.plan), session_group(job.study, job.plan)
    rows = sorted(job.plan.rows, key=lambda row: row.run)
    own = {(one.maker, one.session): one for one in sittings(job.study, job.plan)}
    times = members_of(rows, session) if session else ("",)
    found = []
    for when in times:
        now = [row for row in rows if session is None or row.groups[session.name] == when]
        label = member_text(job.study, session, when) if session else ""
        for team in maker.members if maker else ("",):
            name = member_text(job.study, maker, team) if maker else ""
            mine = own.get((name, label), Sitting(name, label, ()))
            stay = tuple(r for r in mine.rows if r.item not in job.gone or r.item in job.begun)
            share = Share(job, team, Sitting(name, label, stay), _taken(job, team, now))
            if (share.left or share.taken) and not share.idle:
                found.append(share)
    return tuple(found)


def _taken(job: Job, team: str, rows: list[PlanRow]) -> tuple[PlanRow, ...]:
    maker = maker_group(job.plan)
    if maker is None:
        return ()
    making = {step.name for step in making_steps(job.study)}  # who only reads finishes nothing
    mine = {item for (name, item), crew in job.crews.items() if crew == team and name in making}
    return tuple(
        row
        for row in rows
        if row.item in mine and row.groups[maker.name] != team and row.item not in job.gone
    )
