"""The fair-test check itself: every situation looked for, and remedies tried before they are told.

Codes and facts only; the sentences are made from them by words. ``stop``: the plan can't answer the
question. ``warn``: it can, but not well. ``note``: worth knowing or saying.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trials.design.audit.table import SITUATIONS
from trials.design.audit.view import Again, Found, Mend, Situation, View
from trials.design.values import AuditFinding, Change, Plan
from trials.errors import TrialsError
from trials.words.fairness import fairness_words

if TYPE_CHECKING:
    from trials.study import Study

MOST_TRIED = 4  # remedies tried for one finding
MOST_PLAIN, MOST_BEST = 8, 2  # plans drawn anew in one check, without and with a search
MOST_UNEVEN = 1  # such plans where all need a search
LARGEST_PLAIN, LARGEST_BEST = 150, 60  # items of the largest plan drawn only to try a remedy
_RANK = {"stop": 0, "warn": 1, "note": 2}


def audit(study: Study, plan: Plan, again: Again | None = None) -> tuple[AuditFinding, ...]:
    """Return what is unfair, weak or unsaid in a plan, the worst first.

    Parameters
    ----------
    plan : drawn, or made by hand; its own ``audit`` is not looked at.
    again : draws the plan of a changed study. With it, findings carry lines of study.toml that were
        tried and settle them; without it, only lines that no new plan is needed for.
    """
    view = View(study, plan)
    trials = _Trials(view, again)
    out = []
    for situation in SITUATIONS:
        for found in situation.find(view):
            mend = trials.first_that_helps(situation, found)
            facts = {"item": study.item_name, **found.facts, **(mend.facts if mend else {})}
            message, remedy = fairness_words(situation.code, facts)
            out.append(
                AuditFinding(
                    code=situation.code,
                    severity=found.severity or situation.severity,
                    area=situation.area,
                    change=_changes(mend),
                    facts=facts,
                    message=message,
                    remedy=remedy,
                )
            )
    return tuple(sorted(out, key=lambda finding: _RANK[finding.severity]))


def stops(plan: Plan) -> tuple[AuditFinding, ...]:
    """Return the findings for which a plan should not be carried out as it is."""
    return tuple(finding for finding in plan.audit if finding.severity == "stop")


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

    def first_that_helps(self, situation: Situation, found: Found) -> Mend | None:
        """Return the first change with which a finding is gone, and nothing worse comes up."""
        if found.mends is None:
            return None
        for place, mend in enumerate(found.mends()):
            if place == MOST_TRIED:
                return None
            after = self._after(mend, plain=not situation.layout)
            if after is None or not _is_gone(situation, found, after):
                continue
            if set(_stops(after)) <= self.stops:
                return mend
        return None

    def _after(self, mend: Mend, *, plain: bool) -> View | None:
        """Return the changed study with a plan for it; None where there is none."""
        from trials.study import check_study, with_changes

        try:
            study = with_changes(self.view.study, mend.lines)
            check_study(study)
        except (ValueError, TrialsError):
            return None
        if not _needs_a_new_plan(mend):
            return View(study, self.view.plan)
        key = (study.digest(), plain)
        if key not in self.drawn:
            self.drawn[key] = self._draw(study, plain=plain)
        return self.drawn[key]

    def _draw(self, study: Study, *, plain: bool) -> View | None:
        from trials.design.treatments import amount

        most = MOST_PLAIN if plain else MOST_BEST
        if self.view.uneven_by_intent:
            most = MOST_UNEVEN
        if self.again is None or sum(p is plain for _, p in self.drawn) >= most:
            return None
        try:
            if amount(study).items > (LARGEST_PLAIN if plain else LARGEST_BEST):
                return None
            return View(study, self.again(study, plain=plain))
        except TrialsError:
            return None


def _is_gone(situation: Situation, found: Found, after: View) -> bool:
    if found.settled is not None:
        return found.settled(after)
    return found.about not in {other.about for other in situation.find(after)}


def _needs_a_new_plan(mend: Mend) -> bool:
    return any(keys[0] in ("groups", "limits") for keys, _ in mend.lines)


def _stops(view: View) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what stops a plan."""
    for situation in SITUATIONS:
        if situation.severity == "stop":
            for found in situation.find(view):
                if (found.severity or situation.severity) == "stop":
                    yield situation.code, found.about
