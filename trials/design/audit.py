"""The fair-test check: what would spoil the comparison, found before anything is made.

Codes and facts only; the sentences are made from them by words. ``stop``: the plan can't answer the
question. ``warn``: it can, but not well. ``note``: worth knowing or saying.

Coverage was held against the difficulties listed by A. P. Dasgupta, T. R. Anderson and N. Pelaez
(2014), CBE-Life Sciences Education 13, 265-284.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from trials.design.factorials import Codes
from trials.design.shuffle import plan_layout, plan_units
from trials.design.units import Units
from trials.design.values import AuditFinding, Plan, PlanFactor, PlanGroup
from trials.words.fairness import fairness_words

if TYPE_CHECKING:
    from trials.study import Study

SMALLEST_P = 0.05
CHANCE_WANTED = 0.8
DF_WANTED = 2  # below this, nothing is said of chance
ORDERED = 6  # units below which an order by chance is often a tidy one
DRIFT = 0.6  # share of the order's variation that versions may explain

Severity = Literal["stop", "warn", "note"]
_RANK = {"stop": 0, "warn": 1, "note": 2}


def audit(study: Study, plan: Plan) -> tuple[AuditFinding, ...]:
    """Return what is unfair, weak or unsaid in a plan, the worst first.

    The plan may be drawn, or made by hand; its own ``audit`` is not looked at.
    """
    found = [*_Audit(study, plan).findings()]
    return tuple(sorted(found, key=lambda finding: _RANK[finding.severity]))


def stops(plan: Plan) -> tuple[AuditFinding, ...]:
    """Return the findings for which a plan should not be carried out as it is."""
    return tuple(finding for finding in plan.audit if finding.severity == "stop")


class _Audit:
    """One study and plan under examination."""

    def __init__(self, study: Study, plan: Plan) -> None:
        self.study = study
        self.plan = plan
        self.units: Units = plan_units(plan)
        self.codes: Mapping[str, Codes] = plan_layout(plan)
        self.labels = {f.name: f.label or f.name for f in study.factors}
        self.labels |= {g.name: g.label or g.name for g in study.groups}
        self.responses = {r.name: r.label or r.name for r in study.responses}
        self.unit = {f.name: _last(f.applied_to) for f in plan.factors}

    def findings(self) -> Iterator[AuditFinding]:
        """Yield all findings in a fixed order."""
        tied: set[str] = set()
        for factor in self.plan.factors:
            for finding in self._tied(factor):
                tied.add(factor.name)
                yield finding
        for factor in self.plan.factors:
            if factor.name not in tied:
                yield from self._replication(factor)
                yield from self._unseen(factor)
                yield from self._uneven(factor)
            yield from self._time_order(factor)
            yield from self._few_layouts(factor)
            yield from self._counts(factor)
        yield from self._shared()
        yield from self._unequal()
        yield from self._untested()
        yield from self._differences()
        yield from self._verdicts()
        yield from self._unsaid()
        yield from self._draws()

    def _finding(self, code: str, severity: Severity, **facts: Any) -> AuditFinding:
        facts = {"item": self.study.item_name, **facts}
        message, remedy = fairness_words(code, facts)
        return AuditFinding(
            code=code, severity=severity, facts=facts, message=message, remedy=remedy
        )

    # what is tied to what

    def _rows(self, factor: PlanFactor) -> Codes:
        """Return one position for each unit that the factor is applied to."""
        _, first = np.unique(self.units.of_unit(self.unit[factor.name]), return_index=True)
        return first.astype(np.intp)

    def _holding(self, factor: PlanFactor) -> Iterator[tuple[PlanGroup, list[Codes]]]:
        """Yield the groups that could balance a factor, with each member's units of it."""
        rows = self._rows(factor)
        own = factor.applied_to
        for group in self.units.groups:
            if own is not None and (group.path + "/").startswith(own + "/"):
                continue
            above = own is None or own.startswith(group.path + "/")
            at = rows if above else np.arange(self.units.n, dtype=np.intp)
            member = self.units.codes[group.name][at]
            yield group, [at[member == place] for place in range(len(group.members))]

    def _tied(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        codes = self.codes[factor.name]
        if len(np.unique(codes)) < 2:
            return
        for group, members in self._holding(factor):
            several = [places for places in members if len(places) > 1]
            if several and all(len(np.unique(codes[places])) == 1 for places in several):
                yield self._finding(
                    "tied",
                    "stop",
                    factor=self.labels[factor.name],
                    group=self.labels[group.name],
                    maker=group.role == "maker",
                    levels=list(factor.levels),
                )

    def _unseen(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        codes = self.codes[factor.name]
        for group, members in self._holding(factor):
            missing = {
                group.members[place]: [
                    level for code, level in enumerate(factor.levels) if code not in codes[places]
                ]
                for place, places in enumerate(members)
                if len(places) >= len(factor.levels)
            }
            missing = {member: levels for member, levels in missing.items() if levels}
            if missing:
                yield self._finding(
                    "unseen",
                    "warn",
                    factor=self.labels[factor.name],
                    group=self.labels[group.name],
                    missing=missing,
                )

    def _uneven(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        codes = self.codes[factor.name]
        for group, members in self._holding(factor):
            own = factor.applied_to
            if own is not None and not own.startswith(group.path + "/"):
                continue  # beside its own unit nothing was promised
            worst = None
            for place, places in enumerate(members):
                counts = np.bincount(codes[places], minlength=len(factor.levels))
                gap = int(counts.max() - counts.min())
                if gap > 1 and counts.min() > 0 and (worst is None or gap > worst[0]):
                    worst = (gap, place, int(counts.min()), int(counts.max()))
            if worst is not None:
                yield self._finding(
                    "uneven",
                    "warn",
                    factor=self.labels[factor.name],
                    group=self.labels[group.name],
                    member=group.members[worst[1]],
                    fewest=worst[2],
                    most=worst[3],
                )

    # what has been repeated

    def _replication(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        lines = [line for line in self.plan.skeleton if line.source == factor.name]
        if not self.plan.skeleton:
            return
        df = max((line.den_df or 0.0 for line in lines if line.tested_by), default=0.0)
        if df >= DF_WANTED:
            return
        unit = self.unit[factor.name]
        yield self._finding(
            "no_replication",
            "stop",
            factor=self.labels[factor.name],
            unit=None if unit is None else self.labels[unit],
            members=self.units.count(unit),
            df=df,
            needed=self._needed(factor),
        )

    def _needed(self, factor: PlanFactor) -> int:
        """Return the fewest units, equal for all versions, that leave two degrees of freedom."""
        unit = self.unit[factor.name]
        levels = len(factor.levels)
        if unit is None:
            recipes = math.prod(len(f.levels) for f in self.plan.factors)
            return max(self.units.n // recipes + 1, 2) * recipes
        within = self.units.group(unit).within
        blocks = 1 if within is None else self.units.count(within)
        least = blocks + levels - 1 + DF_WANTED
        step = math.lcm(blocks, levels)
        return -(-least // step) * step

    def _untested(self) -> Iterator[AuditFinding]:
        tested = {line.source for line in self.plan.skeleton if line.tested_by}
        named = [line.source for line in self.plan.skeleton if line.efficiency is not None]
        terms = [t for t in dict.fromkeys(named) if ":" in t and t not in tested]
        if terms:
            yield self._finding(
                "untested",
                "warn",
                terms=[[self.labels[name] for name in term.split(":")] for term in terms],
            )

    def _counts(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        unit = self.unit[factor.name]
        if unit is not None:
            yield self._finding(
                "counts",
                "note",
                factor=self.labels[factor.name],
                unit=self.labels[unit],
                members=self.units.count(unit),
                items=self.units.n,
            )

    def _shared(self) -> Iterator[AuditFinding]:
        own = [f for f in self.study.factors if f.applied_to is None]
        for factor in own:
            if factor.shared:
                yield self._finding(
                    "shared_pot", "warn", factor=self.labels[factor.name], name=factor.name
                )
        unsaid = [f for f in own if f.shared is None]
        if unsaid:
            yield self._finding(
                "shared_unknown",
                "note",
                factors=[self.labels[f.name] for f in unsaid],
                names=[f.name for f in unsaid],
            )

    def _unequal(self) -> Iterator[AuditFinding]:
        recipes = math.prod(len(f.levels) for f in self.plan.factors)
        made: dict[tuple[str, ...], int] = {}
        for row in self.plan.rows:
            recipe = tuple(row.factors.values())
            made[recipe] = made.get(recipe, 0) + 1
        fewest = min(made.values()) if len(made) == recipes else 0
        if fewest == max(made.values()):
            return
        copies = self.units.n // recipes
        yield self._finding(
            "unequal",
            "note" if max(made.values()) - fewest == 1 and fewest else "warn",
            fewest=fewest,
            most=max(made.values()),
            items=self.units.n,
            below=copies * recipes,
            above=(copies + 1) * recipes,
        )

    # order and chance

    def _time_order(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        for kind in ("making", "measuring"):
            places = [row.run if kind == "making" else row.measure for row in self.plan.rows]
            unit = self.units.of_unit(self.unit[factor.name] if kind == "making" else None)
            order = np.argsort(places, kind="stable")
            _, first = np.unique(unit[order], return_index=True)
            sequence = self.codes[factor.name][order][np.sort(first)]
            if _ordered(sequence):
                yield self._finding(
                    "time_order", "warn", factor=self.labels[factor.name], order=kind
                )

    def _few_layouts(self, factor: PlanFactor) -> Iterator[AuditFinding]:
        smallest = self.plan.shuffle.smallest_p.get(factor.name)
        if smallest is not None and smallest > SMALLEST_P:
            unit = self.unit[factor.name]
            yield self._finding(
                "few_layouts",
                "warn",
                factor=self.labels[factor.name],
                unit=None if unit is None else self.labels[unit],
                smallest_p=smallest,
                layouts=round(1 / smallest),
            )

    def _draws(self) -> Iterator[AuditFinding]:
        if len(self.plan.seeds_tried) > 1:
            yield self._finding("several_draws", "note", draws=len(self.plan.seeds_tried))

    # what was hoped for

    def _differences(self) -> Iterator[AuditFinding]:
        for response in self.study.responses:
            least, hoped = response.worthwhile, response.expected
            if least is None or hoped is None:
                continue
            ratio = response.compare == "ratio"
            near = math.log(hoped) < 2 * math.log(least) if ratio else hoped < 2 * least
            if near:
                yield self._finding(
                    "expected_small",
                    "warn",
                    response=self.responses[response.name],
                    unit=response.unit,
                    ratio=ratio,
                    worthwhile=least,
                    expected=hoped,
                    half=math.sqrt(hoped) if ratio else hoped / 2,
                    double=least**2 if ratio else least * 2,
                )

    def _verdicts(self) -> Iterator[AuditFinding]:
        for response in self.study.responses:
            best: dict[str, float] = {}
            for chance in self.plan.verdict_chances:
                if chance.response == response.name:
                    clear = (
                        chance.no_practical_difference
                        if chance.truth == "zero"
                        else chance.mattered
                    )
                    best[chance.factor] = max(best.get(chance.factor, 0.0), clear)
            weak = {name: value for name, value in best.items() if value < CHANCE_WANTED}
            if weak:
                yield self._finding(
                    "no_verdict",
                    "warn",
                    response=self.responses[response.name],
                    factors={self.labels[name]: value for name, value in weak.items()},
                    units=self._unit_labels(list(weak)),
                )

    def _unit_labels(self, factors: Sequence[str]) -> list[str]:
        units = [self.unit[name] for name in factors]
        labels = [self.study.item_name if unit is None else self.labels[unit] for unit in units]
        return list(dict.fromkeys(labels))

    # what was not said

    def _unsaid(self) -> Iterator[AuditFinding]:
        primary = [r.name for r in self.study.responses if r.primary]
        if len(primary) != 1:
            several = len(self.study.responses) > 1
            yield self._finding(
                "several_primary" if primary else "no_primary",
                "warn" if several else "note",
                responses=[self.responses[name] for name in primary or self.responses],
            )
        checks = (
            ("no_failed_rule", [r.name for r in self.study.responses if r.failed is None]),
            ("no_worthwhile", [r.name for r in self.study.responses if r.worthwhile is None]),
            ("no_spread", [r.name for r in self.study.responses if r.spread is None]),
        )
        for code, names in checks:
            if names and (self.plan.factors or code == "no_failed_rule"):
                yield self._finding(
                    code, "note", responses=[self.responses[name] for name in names], names=names
                )
        applied = {unit for unit in self.unit.values() if unit is not None}
        for response in self.study.responses:
            if response.spread is None:
                continue
            missing = sorted(applied - set(response.spread.groups))
            if missing:
                yield self._finding(
                    "no_group_spread",
                    "warn",
                    response=self.responses[response.name],
                    name=response.name,
                    groups=[self.labels[name] for name in missing],
                    group_names=missing,
                )


def _last(path: str | None) -> str | None:
    return None if path is None else path.split("/")[-1]


def _ordered(sequence: Codes) -> bool:
    """Return whether versions follow each other in time instead of being mixed.

    Either each version comes in one run, or the place in the order explains most of the version.
    """
    n, kinds = len(sequence), len(np.unique(sequence))
    if n < ORDERED or kinds < 2 or kinds > n / 2:
        return False
    if int((np.diff(sequence) != 0).sum()) == kinds - 1:
        return True
    place = np.arange(n) - (n - 1) / 2
    sums = np.bincount(sequence, weights=place)
    counts = np.bincount(sequence)
    between = float((sums[counts > 0] ** 2 / counts[counts > 0]).sum())
    return between / float((place**2).sum()) > DRIFT
