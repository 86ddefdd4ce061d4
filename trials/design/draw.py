"""Drawing a plan: from a study and a seed to the list of items to make."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trials.design.allocation import allocate
from trials.design.audit import audit
from trials.design.chain import Kept
from trials.design.factorials import Codes
from trials.design.order import check_count, item_codes, making_order, measuring_order
from trials.design.outlook import efficiencies, outlook, skeleton_rows
from trials.design.shuffle import Shuffler, describe, free_levels, make_shuffler
from trials.design.symmetry import find_grid
from trials.design.treatments import amount
from trials.design.units import Units, make_units
from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow, Shuffle
from trials.model import Factor, Group, Layout, Structure, make_layout, skeleton
from trials.randomness import stream

if TYPE_CHECKING:
    from trials.study import Study

FAMILY = "full factorial"
PRACTICE = "practice run"
NO_SEED = 0  # of a preview, which is shown and thrown away


def draw(
    study: Study, *, seed: int, seeds_tried: tuple[int, ...] = (), items: int | None = None
) -> Plan:
    """Draw a plan.

    Parameters
    ----------
    seed : the same study and seed give the same plan, on any machine.
    seeds_tried : every seed tried for this study before; ``seed`` is added to them.
    items : how many items to make, instead of what the study says.

    Raises
    ------
    PlanError : the study asks for something impossible; the nearest possible is named.

    Examples
    --------
    >>> from trials.study import Limits, Response, Study, StudyFactor
    >>> shape = StudyFactor(name="shape", levels=("dart", "glider"), shared=False)
    >>> study = Study(title="Planes", question="Which flies further?", factors=(shape,),
    ...               responses=(Response(name="distance", unit="m"),), limits=Limits(copies=4))
    >>> plan = draw(study, seed=7)
    >>> sorted(row.factors["shape"] for row in plan.rows) == ["dart"] * 4 + ["glider"] * 4
    True
    >>> plan.shuffle.size, plan.shuffle.smallest_p  # 70 ways of giving 4 of 8 planes each shape
    (70.0, {'shape': 0.02857142857142857})
    """
    return _draw(study, seed, (*seeds_tried, seed), items)


def preview(study: Study, items: int | None = None) -> Plan:
    """Return a specimen of the plans that a study leads to, for showing what they can tell.

    Its seed is 0 and counts as no seed tried: the specimen itself is thrown away.
    """
    return _draw(study, NO_SEED, (), items)


@dataclass(frozen=True)
class _Drawn:
    """What has been settled by chance: places, versions, and the shuffle they came from."""

    units: Units
    factors: tuple[PlanFactor, ...]
    layout: Mapping[str, Codes]
    shuffle: Shuffle


def _draw(study: Study, seed: int, seeds_tried: tuple[int, ...], items: int | None) -> Plan:
    from trials import __version__

    drawn = _settle(study, seed, items)
    layout = model_layout(study, drawn.units, drawn.factors, drawn.layout)
    terms = skeleton(layout, study.analysis.interactions) if drawn.factors else ()
    power, chances = outlook(study, layout) if drawn.factors else ((), ())
    plan = Plan(
        program_version=__version__,
        study_digest=study.digest(),
        seed=seed,
        seeds_tried=seeds_tried,
        family=FAMILY if drawn.factors else PRACTICE,
        factors=drawn.factors,
        groups=drawn.units.groups,
        rows=_rows(study, drawn, seed),
        criteria=efficiencies(terms),
        skeleton=skeleton_rows(terms),
        audit=(),
        power=power,
        verdict_chances=chances,
        shuffle=drawn.shuffle,
    )
    return plan.model_copy(update={"audit": audit(study, plan)})


def _settle(study: Study, seed: int, items: int | None) -> _Drawn:
    count = amount(study, items).items
    check_count(count)
    units = make_units(study, count, stream(seed, "units"))
    factors = plan_factors(study)
    # where places can't be exchanged freely, each rule more makes the set of layouts smaller
    first = allocate(study, units, stream(seed, "allocation"), finer=find_grid(units) is not None)
    kept = Kept(first.balance, study.limits.forbidden, study.limits.required)
    shuffler = make_shuffler(units, factors, _renamed(factors, kept), kept)
    layout = shuffler.draw(first.codes, stream(seed, "shuffle"))
    return _Drawn(units, factors, layout, _shuffle(study, shuffler, layout, kept))


def _renamed(factors: tuple[PlanFactor, ...], kept: Kept) -> dict[str, tuple[int, ...]]:
    fixed = kept.named()
    free = {factor.name: free_levels(factor) for factor in factors if factor.name not in fixed}
    return {name: levels for name, levels in free.items() if len(levels) > 1}


def _shuffle(study: Study, shuffler: Shuffler, layout: Mapping[str, Codes], kept: Kept) -> Shuffle:
    if not layout:
        return Shuffle(kind="units", size=1.0, smallest_p={})
    return describe(shuffler, layout, kept, study.analysis.interactions)


def plan_factors(study: Study) -> tuple[PlanFactor, ...]:
    """Return the factors of a study as a plan records them."""
    return tuple(
        PlanFactor(
            name=factor.name,
            levels=factor.levels,
            unit=factor.unit,
            kind=factor.kind,
            scale=factor.scale,
            applied_to=None if factor.applied_to is None else study.path(factor.applied_to),
            control=factor.control,
        )
        for factor in study.factors
    )


def _rows(study: Study, drawn: _Drawn, seed: int) -> tuple[PlanRow, ...]:
    units = drawn.units
    made = making_order(study, units, stream(seed, "making order"))
    measured = measuring_order(study, units, stream(seed, "measuring order"))
    place = np.empty(units.n, dtype=np.intp)
    place[measured] = np.arange(units.n)
    labels = {member for group in units.groups for member in group.members}
    codes = item_codes(units.n, stream(seed, "codes"), labels)
    return tuple(
        PlanRow(
            run=run,
            measure=int(place[position]) + 1,
            item=codes[run - 1],
            groups={g.name: g.members[units.codes[g.name][position]] for g in units.groups},
            factors={f.name: f.levels[drawn.layout[f.name][position]] for f in drawn.factors},
        )
        for run, position in enumerate(made, start=1)
    )


def plan_structure(factors: Sequence[PlanFactor], groups: Sequence[PlanGroup]) -> Structure:
    """Return the two structures of a plan, for the model."""
    return Structure(
        factors=[Factor(f.name, f.kind, f.levels, f.scale) for f in factors],
        groups=[Group(g.path, g.random) for g in groups],
        applied_to={f.name: f.applied_to for f in factors if f.applied_to is not None},
    )


def model_layout(
    study: Study,
    units: Units,
    factors: Sequence[PlanFactor],
    codes: Mapping[str, Codes],
) -> Layout:
    """Return the columns of a layout with its structures, for the model."""
    columns = {g.name: [g.members[c] for c in units.codes[g.name]] for g in units.groups}
    columns |= {f.name: [f.levels[c] for c in codes[f.name]] for f in factors}
    structure = plan_structure(factors, units.groups)
    return make_layout(structure, columns, random=study.analysis.random)
