"""The fair-test check itself: every situation looked for, and remedies tried before they are told.

Codes and facts only; the sentences are made from them by words. ``stop``: the plan can't answer the
question. ``warn``: it can, but not well. ``note``: worth knowing or saying.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trials.design.audit.sizes import LARGEST_PLAIN
from trials.design.audit.table import SITUATIONS
from trials.design.audit.view import Again, Facts, Found, Mend, Situation, View
from trials.design.treatments import amount
from trials.design.values import AuditFinding, Change, Plan
from trials.errors import TrialsError
from trials.study import check_study, with_changes
from trials.words.fairness import fairness_words

if TYPE_CHECKING:
    from trials.study import Study

MOST_TRIED = 4  # remedies tried for one finding
MOST_PLAIN, MOST_BEST = 12, 2  # plans drawn anew in one check, without and with a search
MOST_UNEVEN = 1  # such plans where all need a search
LARGEST_BEST = 60  # items of the largest plan that is searched for only to try a remedy
_RANK = {"stop": 0, "warn": 1, "note": 2}


def audit(
    study: Study, plan: Plan, again: Again | None = None, *, others: Sequence[Plan] = ()
) -> tuple[AuditFinding, ...]:
    """Return what is unfair, weak or unsaid in a plan, the worst first.

    Parameters
    ----------
    plan : drawn, or made by hand; its own ``audit`` is not looked at.
    again : draws the plan of a changed study. With it, findings carry lines of study.toml that were
        tried and settle them; without it, only lines that no new plan is needed for.
    others : plans that might have been drawn as well. With them, what hangs on the draw is told
        with the number of them in which it was found too.
    """
    view = View(study, plan)
    trials = _Trials(view, again)
    seen = _Draws(view, others)
    cases = [
        _Case(situation, found, trials.first_that_helps(situation, found))
        for situation in SITUATIONS
        for found in view.found(situation)
    ]
    out = [_told(study, case, seen.facts_of(case)) for case in _agreed(trials, cases)]
    return _sorted(out)


def with_timed_findings(study: Study, plan: Plan) -> Plan:
    """Return a plan that was given its timetable with what this does to the comparison."""
    view = View(study, plan)
    found = [
        _told(study, _Case(situation, found, None), {})
        for situation in SITUATIONS
        if situation.timed
        for found in view.found(situation)
    ]
    return plan.model_copy(update={"audit": _sorted([*plan.audit, *found])}) if found else plan


def _sorted(findings: Sequence[AuditFinding]) -> tuple[AuditFinding, ...]:
    """Return findings with the worst first, and then in the order of the table."""
    place = {situation.code: at for at, situation in enumerate(SITUATIONS)}
    return tuple(sorted(findings, key=lambda one: (_RANK[one.severity], place[one.code])))


@dataclass(frozen=True)
class _Case:
    """Something found, and what settles it."""

    situation: Situation
    found: Found
    mend: Mend | None


def _told(study: Study, case: _Case, drawn: Facts) -> AuditFinding:
    situation, found, mend = case.situation, case.found, case.mend
    facts = {"item": study.item_name, **found.facts, **(mend.facts if mend else {}), **drawn}
    message, remedy = fairness_words(situation.code, facts)
    return AuditFinding(
        code=situation.code,
        severity=found.severity or situation.severity,
        area=situation.area,
        change=_changes(mend),
        facts=facts,
        message=message,
        remedy=remedy,
    )


def _agreed(trials: _Trials, cases: Sequence[_Case]) -> list[_Case]:
    """Return the cases with one size for all where the largest settles the others too.

    Else one finding would say 6 pots and the next 8, and the lines to write would contradict each
    other. The smallest size for a clear answer stays among the facts of its finding, and a finding
    whose sentence needs more than the common plan has keeps lines of its own.
    """
    sized = [case for case in cases if case.mend and case.mend.lines and _is_size(case.mend)]
    views = {id(case): trials.after(case) for case in sized}
    largest = max(sized, key=lambda case: _size(views[id(case)]), default=None)
    if largest is None or largest.mend is None:
        return list(cases)
    lines, after = largest.mend.lines, views[id(largest)]
    out = []
    for case in cases:
        mend = case.mend
        if after is None or mend is None or id(case) not in views or mend.lines == lines:
            out.append(case)
        elif _is_enough(mend, after) and _is_gone(case.situation, case.found, after):
            facts: Facts = {"needed": after.units.count(mend.unit)}
            if case.found.guess is not None:
                facts = {**mend.facts, "smallest": mend.lines}
            facts["together"] = True
            out.append(replace(case, mend=Mend(lines, facts, unit=mend.unit)))
        else:
            out.append(case)
    return out


def _is_enough(mend: Mend, after: View) -> bool:
    """Return whether a plan has as many as a finding's own lines would give."""
    needed: int = mend.facts.get("needed", 0)
    return after.units.count(mend.unit) >= needed


def _size(view: View | None) -> int:
    return 0 if view is None else view.units.n


class _Draws:
    """Plans that might have been drawn as well: is what was found in one there too?"""

    def __init__(self, view: View, others: Sequence[Plan]) -> None:
        self.views = [View(view.study, other) for other in others]

    def facts_of(self, case: _Case) -> Facts:
        """Return in how many others a finding is, and how strongly; nothing if all are alike."""
        if not self.views or not (case.situation.layout or case.situation.order):
            return {}
        facts: Facts = {"other_draws": len(self.views), "seen_in": 0}
        told = [case.found.facts["told"]] if "told" in case.found.facts else []
        for view in self.views:
            same = [f for f in view.found(case.situation) if f.about == case.found.about]
            facts["seen_in"] += bool(same)
            told += [found.facts["told"] for found in same if "told" in found.facts]
        if told:
            facts |= {"told": min(told), "told_most": max(told)}
        return facts


def gets_a_stop(study: Study, plan: Plan) -> bool:
    """Return whether :func:`audit` would say that a plan should not be carried out as it is.

    Nothing else is looked for. ``plan`` has no timetable, and needs no size of its shuffle's set.
    """
    return any(True for _ in _stops(View(study, plan)))


def _changes(mend: Mend | None) -> tuple[Change, ...]:
    if mend is None:
        return ()
    return tuple(Change(keys=keys, value=value) for keys, value in mend.lines)


class _Trials:
    """Remedies tried on plans drawn anew; a plan is drawn once for all findings."""

    def __init__(self, view: View, again: Again | None) -> None:
        self.view = view
        self.again = again
        self.drawn: dict[tuple[str, bool], View | None] = {}
        self.stops = set(_stops(view))
        self.spent = False  # a plan was wanted that would have been one too many

    def first_that_helps(self, situation: Situation, found: Found) -> Mend | None:
        """Return the first change with which a finding is gone, and nothing worse comes up."""
        if found.mends is None:
            return None
        if found.guess is not None:
            return self._smallest(situation, found, tuple(found.mends()), found.guess)
        for place, mend in enumerate(found.mends()):
            if place == MOST_TRIED:
                return None
            if self._helps(situation, found, mend):
                return mend
        return None

    def _helps(self, situation: Situation, found: Found, mend: Mend) -> bool:
        """Return whether a change settles a finding, and nothing worse comes up."""
        after = self._after(mend, plain=not situation.layout)
        if after is None or not _is_gone(situation, found, after):
            return False
        return mend.repeats > 0 or set(_stops(after)) <= self.stops

    def _smallest(
        self, situation: Situation, found: Found, sizes: tuple[Mend, ...], guess: float
    ) -> Mend | None:
        """Return the smallest size that helps, the one before it tried in vain.

        Sizes are tried from the guess outwards, in steps that double, then halved; the present size
        is known not to do. A size that has no plan counts as too small. Where only so many plans
        may be drawn that the size before couldn't be tried too, none is.
        """
        self.spent = False
        low, high, step = -1, len(sizes), 1
        at = next((p for p, size in enumerate(sizes) if size.facts["needed"] >= guess), high - 1)
        if at > 0 and self._most(plain=not situation.layout) < 2:
            return None
        while high - low > 1:
            if self._helps(situation, found, sizes[at]):
                high, after = at, at - step
            else:
                low, after = at, at + step
            step *= 2
            at = after if low < after < high else (low + high) // 2
        return sizes[high] if high < len(sizes) and not self.spent else None

    def after(self, case: _Case) -> View | None:
        """Return the plan with which a case is settled."""
        if case.mend is None:
            return None
        return self._after(case.mend, plain=not case.situation.layout)

    def _after(self, mend: Mend, *, plain: bool) -> View | None:
        """Return the changed study with a plan for it; None where there is none."""
        if mend.repeats:
            return None if self.again is None else self.view.larger(mend.unit, mend.repeats)
        try:
            study = with_changes(self.view.study, mend.lines)
            check_study(study)
        except (ValueError, TrialsError):
            return None
        if not _is_size(mend):
            return View(study, self.view.plan)
        key = (study.digest(), plain)
        if key not in self.drawn:
            if self.again is None or sum(p is plain for _, p in self.drawn) >= self._most(plain):
                self.spent = True
                return None
            self.drawn[key] = self._draw(self.again, study, plain=plain)
        return self.drawn[key]

    def _most(self, plain: bool) -> int:
        if self.view.uneven_by_intent:
            return MOST_UNEVEN
        return MOST_PLAIN if plain else MOST_BEST

    def _draw(self, again: Again, study: Study, *, plain: bool) -> View | None:
        try:
            if amount(study).items > (LARGEST_PLAIN if plain else LARGEST_BEST):
                return None
            plan, smallest = again(study, plain=plain)
        except TrialsError:
            return None
        return View(study, plan, shuffled=smallest)


def _is_gone(situation: Situation, found: Found, after: View) -> bool:
    if found.settled is not None:
        return found.settled(after)
    return found.about not in {other.about for other in after.found(situation)}


def _is_size(mend: Mend) -> bool:
    return any(keys[0] in ("groups", "limits") for keys, _ in mend.lines)


def _stops(view: View) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what stops a plan."""
    for situation in SITUATIONS:
        if situation.severity == "stop":
            for found in view.found(situation):
                if (found.severity or situation.severity) == "stop":
                    yield situation.code, found.about
