"""Who gets which sheet: the plan's items by team and session, and the groups that go together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow
from trials.study.values import Response, Step, Study, StudyFactor
from trials.words.numbers import capital, with_unit

SHORT_CODE = 8  # letters of the plan's digest that stand on every page


@dataclass(frozen=True)
class Sitting:
    """The items of one sheet: what one team makes in one session, in order of making.

    ``maker`` and ``session`` are labels for people ("team alder"); empty where there is no such
    group.
    """

    maker: str
    session: str
    rows: tuple[PlanRow, ...]

    @property
    def title(self) -> str:
        """Who and when, such as "Team alder, session 1"; "All items" where nothing parts them."""
        parts = [part for part in (self.maker, self.session) if part]
        return heading(", ".join(parts)) if parts else "All"


@dataclass(frozen=True)
class Bundle:
    """One member of a group whose items go together, such as one firing; ``passed``: it is over."""

    group: PlanGroup
    label: str
    sessions: tuple[str, ...]
    rows: tuple[PlanRow, ...]
    settings: tuple[tuple[str, str], ...]  # factor name -> level, of factors applied to the group
    passed: bool = False

    def times(self, step: Step) -> int:
        """Return how often the work of a step is done: once, or for each item one after another."""
        alone = any(level in step.one_by_one for _, level in self.settings)
        return len(self.rows) if alone else 1


def check_code(plan: Plan) -> str:
    """Return the short code that tells one plan from another on paper."""
    return plan.digest()[:SHORT_CODE]


def maker_group(plan: Plan) -> PlanGroup | None:
    """Return the group of those who make the items, if the study has one."""
    return next((group for group in plan.groups if group.role == "maker"), None)


def session_group(study: Study, plan: Plan, *, measuring: bool = False) -> PlanGroup | None:
    """Return the group that parts the work in time: the first outermost one tied to no making step.

    A group tied to a measuring step parts the measuring only. A group with a factor applied to it
    is what is compared, not a session.
    """
    measured = {step.name for step in measuring_steps(study)}
    applied = {factor.applied_to for factor in plan.factors}
    for group in plan.groups:
        if group.within is not None or group.role == "maker" or group.path in applied:
            continue
        timely = group.step is None or (measuring and group.step in measured)
        if timely and 2 * len(group.members) <= len(plan.rows):
            return group
    return None


def group_label(study: Study, name: str) -> str:
    """Return a group's name as people read it."""
    return study.group(name).label or name


def factor_label(study: Study, name: str) -> str:
    """Return a factor's name as people read it."""
    return study.factor(name).label or name


def heading(text: str) -> str:
    """Return a text as a heading: with a capital, also where its first word has a hyphen.

    Examples
    --------
    >>> heading("two-sided tape"), heading("pH"), heading("soak time")
    ('Two-sided tape', 'pH', 'Soak time')
    """
    first, _, rest = text.partition("-")
    return f"{capital(first)}-{rest}" if rest else capital(text)


def response_label(response: Response) -> str:
    """Return a response's name as people read it."""
    return response.label or response.name


def step_label(step: Step) -> str:
    """Return a step's name as people read it."""
    return heading((step.label or step.name).strip() or "step")


def bare_unit(unit: str) -> str:
    """Return a unit for print: a plain count ("1") has none.

    Examples
    --------
    >>> bare_unit("1"), bare_unit("mm")
    ('', 'mm')
    """
    return "" if unit == "1" else unit


def level_text(factor: StudyFactor | PlanFactor, level: str) -> str:
    """Return a level with its unit.

    Examples
    --------
    >>> soak = StudyFactor(name="soak", levels=("10", "40"), kind="quantity", unit="min")
    >>> level_text(soak, "10")
    '10\\xa0min'
    """
    return with_unit(level, bare_unit(factor.unit))


def member_text(study: Study, group: PlanGroup, member: str) -> str:
    """Return a member of a group with the group's name before it, unless it says so itself."""
    label = group_label(study, group.name)
    if member.casefold().startswith((label.casefold(), group.name.casefold())):
        return member
    return f"{label} {member}"


def members_of(rows: Iterable[PlanRow], group: PlanGroup) -> tuple[str, ...]:
    """Return the members of ``group`` among these rows, in the plan's order of members."""
    seen = {row.groups[group.name] for row in rows}
    return tuple(member for member in group.members if member in seen)


def sittings(study: Study, plan: Plan) -> tuple[Sitting, ...]:
    """Return the making sheets: session by session, team by team, each in order of making."""
    maker = maker_group(plan)
    session = session_group(study, plan)
    rows = sorted(plan.rows, key=lambda row: row.run)
    found: list[Sitting] = []
    for when, at in _parted(study, rows, session):
        for who, mine in _parted(study, at, maker):
            found.append(Sitting(who, when, tuple(mine)))
    return tuple(found)


def measuring_sittings(study: Study, plan: Plan) -> tuple[Sitting, ...]:
    """Return the measuring sheets: one a session, each in order of measuring."""
    rows = sorted(plan.rows, key=lambda row: row.measure)
    session = session_group(study, plan, measuring=True)
    return tuple(Sitting("", when, tuple(at)) for when, at in _parted(study, rows, session))


def _parted(
    study: Study, rows: Sequence[PlanRow], group: PlanGroup | None
) -> list[tuple[str, list[PlanRow]]]:
    if group is None:
        return [("", list(rows))]
    return [
        (member_text(study, group, member), [r for r in rows if r.groups[group.name] == member])
        for member in members_of(rows, group)
    ]


def bundles(study: Study, plan: Plan) -> tuple[Bundle, ...]:
    """Return what goes together in the making, in the order in which the first item is made.

    That is each member of a group that has a factor of its own, or a step of the making.
    """
    session = session_group(study, plan)
    steps = {step.name for step in making_steps(study)}
    rows = sorted(plan.rows, key=lambda row: row.run)
    found: list[Bundle] = []
    for group in plan.groups:
        applied = [factor.name for factor in plan.factors if factor.applied_to == group.path]
        if group.role == "maker" or (not applied and group.step not in steps):
            continue
        if session is not None and group.path == session.path:
            continue
        for member in members_of(rows, group):
            mine = tuple(row for row in rows if row.groups[group.name] == member)
            when = members_of(mine, session) if session else ()
            found.append(
                Bundle(
                    group=group,
                    label=member_text(study, group, member),
                    sessions=tuple(member_text(study, session, at) for at in when if session),
                    rows=mine,
                    settings=tuple((name, mine[0].factors[name]) for name in applied),
                )
            )
    return tuple(sorted(found, key=lambda bundle: bundle.rows[0].run))


def making_steps(study: Study) -> tuple[Step, ...]:
    """Return the steps of the making, in order."""
    return tuple(step for step in study.steps if step.stage == "make")


def measuring_steps(study: Study) -> tuple[Step, ...]:
    """Return the steps of the measuring, in order."""
    return tuple(step for step in study.steps if step.stage == "measure")


def step_factors(study: Study, step: Step) -> tuple[str, ...]:
    """Return the factors whose level is set at a step: named there, or by their group's step."""
    by_group = [
        factor.name
        for factor in study.factors
        if factor.applied_to is not None and study.group(factor.applied_to).step == step.name
    ]
    named = {name for other in study.steps for name in other.factors}
    return (*step.factors, *(name for name in by_group if name not in named))


def loose_factors(study: Study) -> tuple[str, ...]:
    """Return the factors that no step of the making sets."""
    placed = {name for step in making_steps(study) for name in step_factors(study, step)}
    return tuple(factor.name for factor in study.factors if factor.name not in placed)
