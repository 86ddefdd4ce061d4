"""Other plans for the same question: what they cost, what they would show, what they give up.

Each alternative is the study with some lines changed, and is drawn anew before anything is said of
it. Nothing is written.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, islice
from typing import TYPE_CHECKING

from trials.design.audit.sizes import more_items, more_units, resized
from trials.design.audit.view import View
from trials.design.columns import layout_of
from trials.design.draw import sketch
from trials.design.families import Wanted, offer, plan_family
from trials.design.judging.detectable import as_given, smallest_difference
from trials.design.looks import confidence_of
from trials.design.nearest import fewer_levels
from trials.design.outlook import assume, main_response
from trials.design.resizing import (
    FEWEST_LEVELS,
    Lines,
    Tried,
    sized_tries,
    sizes_lines,
    with_member,
)
from trials.design.values import Plan
from trials.errors import AnalysisError, TrialsError
from trials.model import RESIDUAL, Prepared
from trials.progress import Step, silent
from trials.study import recipes
from trials.study.bans import written_out
from trials.words.families import loss_sentences

if TYPE_CHECKING:
    from trials.study import Response, Study

SPARE_DF = 6  # items beyond what is to be told apart, so that chance can be judged
MOST = 5  # alternatives told, the study's own plan among them
FARTHEST = 4.0  # times the difference that shows as asked, beyond which a plan is not offered
LADDER = 6  # items by which smaller plans grow until every factor shows


@dataclass(frozen=True)
class Alternative:
    """One plan among others.

    ``code``: what was changed: ``as_asked``, ``more``, ``fewer``, ``part`` (some recipes are left
    out), ``singly`` (what factors do together is given up as well), ``without`` (a factor less);
    where groups have sizes also ``whole`` (each recipe equally often), ``member_fewer`` and
    ``member_more`` (of the group in ``of``), ``level`` (without the version in ``of``).
    ``lines``: keys of study.toml and what to write there, None to delete. ``shows``: for
    each factor the smallest difference of the main response found in 8 of 10 repeats, None where no
    difference ever is; in standard deviations between items where ``response`` is None for want of
    a spread. ``plan`` is the one drawn to see, for ``study``.
    """

    code: str
    lines: Lines
    items: int
    recipes: int
    groups: Mapping[str, int]
    family: str
    gives_up: tuple[str, ...]
    notes: tuple[str, ...]
    shows: Mapping[str, float | None]
    response: str | None
    study: Study
    plan: Plan
    without: str | None = None
    of: str = ""


@dataclass(frozen=True)
class OneMore:
    """What one more item, or one more member of a group, would buy.

    ``before`` and ``after``: smallest difference found in 8 of 10 repeats, for the factor that
    gains most.
    """

    what: str | None  # name of a group; None: an item
    items: int
    factor: str
    before: float
    after: float


def alternatives(
    study: Study, asked: Plan | None = None, tell: Step = silent
) -> tuple[Alternative, ...]:
    """Return three to five plans for a study, from few items to many; the study's own among them.

    ``asked`` is that plan, as it was drawn or will be; None draws it as the others: first fair
    draws, of which a search may still find better ones.

    Raises
    ------
    PlanError : the study's own plan can't be drawn.
    """
    asked = sketch(study) if asked is None else asked
    view = View(study, asked)
    found = [_judged("as_asked", (), study, asked)]
    tries = list(_tries(view))
    for done, (code, lines, of) in enumerate(tries, start=1):
        tell(done, len(tries))
        if len(found) == MOST:
            break
        if code in {one.code for one in found}:
            continue
        other = _changed(study, lines, of if code == "without" else None)
        plan = None if other is None else _sketched(other)
        if other is None or plan is None:
            continue
        one = _judged(code, lines, other, plan, of)
        if _is_of_use(one, found[0]):
            found.append(one)
    return tuple(sorted(found, key=lambda one: (one.items, one.code != "as_asked")))


def one_more(study: Study, asked: Plan | None = None, tell: Step = silent) -> tuple[OneMore, ...]:
    """Return what one more item, and one more member of each group, would buy.

    ``asked`` is the study's own plan. What a larger plan shows is held against a first fair draw of
    the present size, and that gain is told from what ``asked`` shows: like against like.
    """
    rough = _sketched(study) if asked is not None else None
    asked = sketch(study) if asked is None else asked
    own = _shows(study, asked)[1]
    view = View(study, asked)
    before = own if rough is None else _shows(study, rough)[1]
    out = []
    steps = [None, *(g.name for g in view.units.groups if g.role is None)]
    for done, group in enumerate(steps, start=1):
        tell(done, len(steps))
        other = _larger(view, group)
        plan = None if other is None else _sketched(other)
        if other is None or plan is None:
            continue
        after = _shows(other, plan)[1]
        gains = {name: _gain(study, before.get(name), size) for name, size in after.items()}
        # what a group is for comes first: the versions that its members get as a whole
        units = {f.name for f in study.factors if group is not None and f.applied_to == group}
        best = max(gains, key=lambda name: (name in units, gains[name]), default="")
        old = own.get(best)
        if old is not None and gains.get(best, 0.0) > 0:
            new = _smaller(study, old, gains[best])
            out.append(OneMore(group, len(plan.rows), best, old, new))
    return tuple(out)


def _sketched(study: Study) -> Plan | None:
    try:
        return sketch(study)
    except TrialsError:
        return None


def _changed(study: Study, lines: Lines, without: str | None) -> Study | None:
    """Return the study with other lines, or None where it can't be so."""
    from trials.study import check_study, with_changes

    if without is not None:
        study = _without(study, without)
    try:
        other = with_changes(study, lines)
        check_study(other)
    except (ValueError, TrialsError):
        return None
    return other


def _without(study: Study, factor: str) -> Study:
    """Return the study without a factor, and without what speaks of it."""
    limits = study.limits
    kept = {
        key: tuple(
            one
            for one in getattr(limits, key)
            if any(factor not in told for told in written_out(study, one))
        )
        for key in ("forbidden", "required")
    }
    steps = tuple(
        step.model_copy(update={"factors": tuple(f for f in step.factors if f != factor)})
        for step in study.steps
    )
    return study.model_copy(
        update={
            "factors": tuple(f for f in study.factors if f.name != factor),
            "limits": limits.model_copy(update=kept),
            "steps": steps,
        }
    )


def _tries(view: View) -> Iterator[Tried]:
    """Yield changes to try: kind, lines, and the name of what changes or is left out."""
    sized = any(group.sizes for group in view.study.groups)
    if sized:
        yield from sized_tries(view.study, view.units.n, recipes(view.study))
    for unit in dict.fromkeys(view.unit.values()):
        for mend in more_units(view, unit):
            yield "more", mend.lines, ""
    for mend in more_items(view):
        yield "more", mend.lines, ""
    yield from _fewer(view)
    yield from _parts(view)
    if len(view.study.factors) > 2:
        items = (("limits", "copies"), None), (("limits", "items"), view.units.n)
        yield "without", items, view.study.factors[-1].name
    if sized:
        yield from _fewer_versions(view.study)


def _fewer_versions(study: Study) -> Iterator[Tried]:
    """Yield the study without one version of the factor that has most."""
    factor = max(study.factors, key=lambda f: len(f.levels))
    if len(factor.levels) >= FEWEST_LEVELS:
        for change in islice(fewer_levels(study, factor.name, None), 1):
            yield "level", change.edits, f"{factor.label or factor.name} {change.old}"


def _fewer(view: View) -> Iterator[Tried]:
    each = recipes(view.study)
    copies = view.units.n // each
    for fewer in range(max(copies // 2, 1), copies):
        share = fewer / copies
        halved = {
            unit: max(2, math.ceil(view.units.count(unit) * share))
            for unit in set(view.unit.values())
            if unit is not None
        }
        for members in (halved, {}):
            lines = resized(view, fewer * each, members)
            if lines:
                yield "fewer", lines, ""


def _parts(view: View) -> Iterator[Tried]:
    """Yield plans that leave some recipes out, with and without what factors do together."""
    study = view.study
    sizes = {f.name: len(f.levels) for f in study.factors}
    if len(sizes) < 2:
        return
    alone = 1 + sum(count - 1 for count in sizes.values())
    pairs = sum((a - 1) * (b - 1) for a, b in combinations(sizes.values(), 2))
    every = recipes(study)
    for code, least, first in (
        ("part", alone + pairs + SPARE_DF, ()),
        ("singly", alone + SPARE_DF, ((("analysis", "interactions"), 1),)),
    ):
        for items in _sizes(view, least, every, singly=code == "singly"):
            fraction = ((("limits", "fraction"), True),) if items < every else ()
            copies = () if view.study.limits.copies is None else ((("limits", "copies"), None),)
            resized_to = sizes_lines(study, items)
            if resized_to is not None:
                lines = (*first, *fraction, *copies, (("limits", "items"), items), *resized_to)
                yield code, lines, ""


def _sizes(view: View, least: int, every: int, *, singly: bool) -> Iterator[int]:
    """Yield smaller numbers of items: those of published designs first, then in equal groups."""
    levels = {f.name: len(f.levels) for f in view.study.factors}
    known = set()
    if all(unit is None for unit in view.unit.values()):
        offers = offer(Wanted(levels, every - 1))
        known = {one.runs for one in offers if one.block is None}
    yield from (runs for runs in sorted(known) if least <= runs < min(every, view.units.n))
    members = [len(g.members) for g in view.units.groups]
    step = max([LADDER, *(m for m in members if m < view.units.n // 2)])
    most = view.units.n if singly else min(every, view.units.n)
    yield from range(-(-least // step) * step if members else least, most, step)


def _larger(view: View, group: str | None) -> Study | None:
    """Return the study with one item more, or one member more of a group in each it is within."""
    study, items = view.study, view.units.n + 1
    if group is not None and study.group(group).sizes:
        grown = with_member(study, group, 1)
        return None if grown is None else _changed(study, grown[0], None)
    if group is not None:
        count = study.group(group).count
        items = view.units.n * (count + 1) // count
        changed = {"count": count + 1, "members": ()}
        study = study.model_copy(
            update={
                "groups": tuple(
                    g.model_copy(update=changed) if g.name == group else g for g in study.groups
                )
            }
        )
    limits = study.limits.model_copy(update={"items": items, "copies": None})
    other = study.model_copy(update={"limits": limits})
    sizes = sizes_lines(other, items)
    return None if sizes is None else _changed(other, tuple(sizes), None)


def _judged(code: str, lines: Lines, study: Study, plan: Plan, of: str = "") -> Alternative:
    family = plan_family(plan)
    response, shows = _shows(study, plan)
    gives_up = tuple(family.gives_up)
    return Alternative(
        code=code,
        lines=lines,
        items=len(plan.rows),
        recipes=len({tuple(sorted(row.factors.items())) for row in plan.rows}),
        groups={group.name: len(group.members) for group in plan.groups},
        family=family.textbook,
        gives_up=gives_up,
        notes=loss_sentences(family.gives_up, family.partly, family.mixed, incomplete=False),
        shows=shows,
        response=response,
        study=study,
        plan=plan,
        without=of if code == "without" else None,
        of=of,
    )


def _shows(study: Study, plan: Plan) -> tuple[str | None, dict[str, float | None]]:
    """Return the main response, and what difference of it shows for each factor."""
    layout = layout_of(study, plan)
    main = main_response(study)
    assumed = assume(study, main)
    components = {RESIDUAL: 1.0} if assumed is None else dict(assumed.components)
    try:
        known = Prepared(layout, study.analysis.interactions).at(components)
    except AnalysisError:
        return (None if assumed is None else main.name), {f.name: None for f in plan.factors}
    alpha = 1 - confidence_of(study)
    shows = {
        f.name: _given(
            None if assumed is None else main, smallest_difference(known, (f.name,), alpha=alpha)
        )
        for f in plan.factors
    }
    return (None if assumed is None else main.name), shows


def _given(response: Response | None, size: float | None) -> float | None:
    return size if response is None else as_given(response, size)


def _gain(study: Study, before: float | None, after: float | None) -> float:
    """Return how much smaller a difference shows, as a share; 0 where that can't be said."""
    if before is None or after is None:
        return 0.0
    if _is_ratio(study):
        before, after = math.log(before), math.log(after)
    return 1 - after / before if before > 0 else 0.0


def _smaller(study: Study, size: float, gain: float) -> float:
    """Return a difference made smaller by a share; of a ratio its logarithm."""
    return math.exp(math.log(size) * (1 - gain)) if _is_ratio(study) else size * (1 - gain)


def _is_ratio(study: Study) -> bool:
    main = main_response(study)
    return main.spread is not None and main.compare == "ratio"


def _is_of_use(one: Alternative, asked: Alternative) -> bool:
    """Return whether a plan differs from the one asked for, and shows each of its factors.

    A difference that would have to be more than so many times as large is not called shown.
    """
    if (one.items, one.gives_up) == (asked.items, asked.gives_up) and not one.of:
        return False
    if set(one.gives_up) & set(one.shows):
        return False
    return all(
        size is not None and _times(size, asked.shows.get(name)) <= FARTHEST
        for name, size in one.shows.items()
    )


def _times(size: float, asked: float | None) -> float:
    """Return how many times as large as in the plan asked for a difference has to be."""
    return 1.0 if asked is None or asked <= 0 else size / asked
