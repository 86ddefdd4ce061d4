"""What is tied to what: a version to a team, a difference to a group, two factors to each other."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import combinations

import numpy as np

from trials.design.audit.sizes import more_units, rearranged
from trials.design.audit.view import DF_WANTED, Found, Severity, View
from trials.design.values import PlanFactor
from trials.model import RESIDUAL
from trials.model.layout import Floats
from trials.model.strata import Stratum, is_small_enough, orthonormal, parts, split
from trials.model.terms import Design, Term, make_design

NOTHING = 1e-6  # share of the information that is none
HALF = 0.5 - 1e-9  # share below which more is tied to groups than can be told from them
TOGETHER = 0.5  # squared correlation of two factors from which half of each is the other's
SAME = 1 - 1e-9


def tied(view: View) -> Iterator[Found]:
    """Each member of a group has one version only."""
    for factor in view.plan.factors:
        for group in view.tied_to(factor):
            yield Found(
                (factor.name, group.name),
                {
                    "factor": view.labels[factor.name],
                    "group": view.labels[group.name],
                    "maker": group.role == "maker",
                    "levels": list(factor.levels),
                },
            )


def unseen(view: View) -> Iterator[Found]:
    """Some members of a group, though large enough, never have some version."""
    alone = {(f.name, name) for f in view.free for name, _ in _alone(view, f)}
    for factor in view.free:
        codes = view.codes[factor.name]
        for group, members in view.holding(factor):
            if (factor.name, group.name) in alone or factor.name in view.uneven_by_intent:
                continue
            missing = {
                group.members[place]: [
                    level for code, level in enumerate(factor.levels) if code not in codes[places]
                ]
                for place, places in enumerate(members)
                if len(places) >= len(factor.levels)
            }
            missing = {member: levels for member, levels in missing.items() if levels}
            if missing:
                yield Found(
                    (factor.name, group.name),
                    {
                        "factor": view.labels[factor.name],
                        "group": view.labels[group.name],
                        "missing": missing,
                    },
                    mends=partial(rearranged, view),
                )


def barred(view: View) -> Iterator[Found]:
    """A member of a group may not have some version: what it has says less of it, or nothing."""
    told: dict[tuple[str, str], dict[str, list[str]]] = {}
    for ban in view.plan.bans:
        groups = [name for name in ban if name in view.units.codes]
        versions = [name for name in ban if name not in groups]
        if len(groups) == len(versions) == 1:
            missing = told.setdefault((versions[0], groups[0]), {})
            missing.setdefault(ban[groups[0]], []).append(ban[versions[0]])
    for (factor, group), missing in told.items():
        levels = view.study.factor(factor).levels
        single = [member for member, gone in missing.items() if len(levels) - len(gone) == 1]
        yield Found(
            (factor, group),
            {
                "factor": view.labels[factor],
                "group": view.labels[group],
                "missing": missing,
                "single": {m: next(x for x in levels if x not in missing[m]) for m in single},
            },
            "warn" if single else None,
        )


def uneven(view: View) -> Iterator[Found]:
    """Inside a member of a group one version comes more than once as often as another."""
    for factor in view.free:
        codes = view.codes[factor.name]
        own = factor.applied_to
        for group, members in view.holding(factor):
            beside = own is not None and not own.startswith(group.path + "/")
            if beside or factor.name in view.uneven_by_intent:
                continue  # beside its own unit nothing was promised
            worst = None
            for place, places in enumerate(members):
                counts = np.bincount(codes[places], minlength=len(factor.levels))
                gap = int(counts.max() - counts.min())
                if gap > 1 and counts.min() > 0 and (worst is None or gap > worst[0]):
                    worst = (gap, place, int(counts.min()), int(counts.max()))
            if worst is not None:
                yield Found(
                    (factor.name, group.name),
                    {
                        "factor": view.labels[factor.name],
                        "group": view.labels[group.name],
                        "member": group.members[worst[1]],
                        "fewest": worst[2],
                        "most": worst[3],
                    },
                    mends=partial(rearranged, view),
                )


def one_for_level(view: View) -> Iterator[Found]:
    """A version comes from one batch, tray or maker only, though there are several."""
    for factor in view.free:
        unit = view.unit[factor.name]
        if unit is not None and view.tested_df(factor.name) >= DF_WANTED:
            counts = np.bincount(view.codes[factor.name][view.places(factor)])
            single = [level for level, n in zip(factor.levels, counts, strict=False) if n == 1]
            if single:
                yield _one(view, factor, unit, single)
        for group, levels in _alone(view, factor):
            yield _one(view, factor, group, levels)


def _alone(view: View, factor: PlanFactor) -> Iterator[tuple[str, list[str]]]:
    """Yield groups beside or above a factor's unit, with the levels that one member has alone."""
    codes = view.codes[factor.name]
    for group, members in view.holding(factor):
        tables = [np.bincount(codes[p], minlength=len(factor.levels)) for p in members]
        table = np.array(tables)
        if len(members) < 2 or factor.name in view.uneven_by_intent:
            continue
        single = [
            level
            for place, level in enumerate(factor.levels)
            if (table[:, place] > 0).sum() == 1 and table[:, place].sum() > 1
        ]
        if single:
            yield group.name, single


def _one(view: View, factor: PlanFactor, group: str, levels: list[str]) -> Found:
    is_unit = view.unit[factor.name] == group
    return Found(
        (factor.name, group),
        {
            "factor": view.labels[factor.name],
            "group": view.labels[group],
            "levels": levels,
            "unit": is_unit,
        },
        mends=partial(more_units, view, group) if is_unit else partial(rearranged, view),
    )


# ---- what the columns of the plan say ------------------------------------------------------------


def alias_group(view: View) -> Iterator[Found]:
    """A wanted effect is all of it a difference between groups, or products of groups."""
    yield from _aliases(view, wholly=True)


def alias_part(view: View) -> Iterator[Found]:
    """More of a wanted effect lies between groups than can be told apart from them."""
    yield from _aliases(view, wholly=False)


def _aliases(view: View, *, wholly: bool) -> Iterator[Found]:
    if not view.plan.factors or not is_small_enough(view.layout):
        return
    design = make_design(view.layout, view.study.analysis.interactions)
    strata = split(view.layout)
    free = {factor.name for factor in view.free}
    for term in design.treatments:
        if not set(term.factors) <= free:
            continue  # told already, as tied
        found = _groups_of(view, design, strata, term)
        if found is None or (found[0] < NOTHING) is not wholly:
            continue
        own, where = found
        if own >= HALF:
            continue
        main = len(term.factors) == 1
        severity: Severity = "stop" if wholly and main else "warn"
        yield Found(
            (term.name, *where),
            {
                "term": view.term_labels(term.factors),
                "groups": [view.labels[name] for name in where],
                "told": own,
            },
            severity,
            mends=partial(rearranged, view),
        )


def _groups_of(
    view: View, design: Design, strata: tuple[Stratum, ...], term: Term
) -> tuple[float, tuple[str, ...]] | None:
    """Return the share of a term that its own units tell, and the groups that hold the rest."""
    basis = _adjusted(design, term)
    own = _own_strata(view, term.factors)
    if not basis.shape[1] or own is None:
        return None
    shares = {
        path: float((piece**2).sum()) / basis.shape[1]
        for path, piece in zip(
            [*(s.path for s in strata), RESIDUAL], parts(strata, basis), strict=True
        )
    }
    told = sum(share for path, share in shares.items() if path in own)
    rest = {path: share for path, share in shares.items() if path not in own}
    if told >= HALF or not rest:
        return None
    where = max(rest, key=lambda path: rest[path])
    return told, tuple(part.split("/")[-1] for part in where.split(":"))


def _own_strata(view: View, factors: tuple[str, ...]) -> set[str] | None:
    """Return the parts of the plan in which a term may well be judged: its smallest unit.

    Groups of hardly more than one item each are as good as items. None where the units of the
    term's factors cross: then no part is its own.
    """
    applied = {f.name: f.applied_to for f in view.plan.factors}
    layout = view.layout
    paths = {g.path for g in layout.groupings}
    units = [applied[name] if applied[name] in paths else None for name in factors]
    if None in units:
        nearly = {g.path for g in layout.groupings if 2 * g.members > layout.n}
        return {RESIDUAL, *nearly}
    chain = sorted({unit for unit in units if unit is not None}, key=len)
    nested = all(chain[-1] == path or chain[-1].startswith(path + "/") for path in chain)
    return {chain[-1]} if nested else None


def _adjusted(design: Design, term: Term) -> Floats:
    """Return orthonormal columns of a term beyond the mean and all terms that don't contain it."""
    own = set(term.factors)
    others = [np.ones((design.layout.n, 1))]
    others += [
        design.X[:, t.columns]
        for t in design.treatments
        if t.name != term.name and not own < set(t.factors)
    ]
    Q = _span(np.hstack(others))
    columns = _unit_length(design.X[:, term.columns])
    rest = columns - Q @ (Q.T @ columns)
    return _span(rest, 1e-6)


def _unit_length(columns: Floats) -> Floats:
    norms = np.linalg.norm(columns, axis=0)
    out: Floats = columns / np.where(norms > 0, norms, 1.0)
    return out


def _span(columns: Floats, least: float = 1e-9) -> Floats:
    U, s, _ = np.linalg.svd(columns, full_matrices=False)
    out: Floats = U[:, s > least * max(1.0, float(s.max(initial=0.0)))]
    return out


def alias_factors(view: View) -> Iterator[Found]:
    """A wanted effect can't be told from other wanted effects: too few different recipes."""
    if not view.plan.factors:
        return
    design = make_design(view.layout, view.study.analysis.interactions)
    same = {frozenset(pair) for pair, r in _pairs(view) if r >= SAME}
    told: set[frozenset[str]] = set()
    for term in design.treatments:
        columns = orthonormal(_centred(design, term))
        if not columns.shape[1] or _adjusted(design, term).shape[1]:
            continue
        partners = [
            other.name
            for other in design.treatments
            if other.name != term.name
            and not set(other.factors) > set(term.factors)
            and _correlation(columns, orthonormal(_centred(design, other))) >= SAME
        ]
        names = frozenset((term.name, *partners))
        if names in told or any(pair <= names for pair in same):
            continue
        told.add(names)
        ordered = [t.name for t in design.treatments if t.name in names]
        yield Found(
            tuple(ordered),
            {"terms": [view.term_labels(name.split(":")) for name in ordered]},
        )


def changed_together(view: View) -> Iterator[Found]:
    """Two factors change together, always or mostly."""
    for (a, b), r in _pairs(view):
        if r * r < TOGETHER:
            continue
        always = r >= SAME
        yield Found(
            (a, b),
            {"factors": [view.labels[a], view.labels[b]], "always": always, "shared": r * r},
            "stop" if always else "warn",
        )


def _pairs(view: View) -> Iterator[tuple[tuple[str, str], float]]:
    """Yield each pair of factors with the largest correlation of their versions."""
    spans = {
        factor.name: orthonormal(_indicators(view.codes[factor.name]))
        for factor in view.plan.factors
    }
    for a, b in combinations(spans, 2):
        yield (a, b), _correlation(spans[a], spans[b])


def _indicators(codes: np.ndarray) -> Floats:
    """Return centred columns of zeros and ones, one for each level that occurs."""
    columns: Floats = (codes[:, None] == np.unique(codes)[None, :]).astype(float)
    centred: Floats = columns - columns.mean(axis=0)
    return centred


def _centred(design: Design, term: Term) -> Floats:
    columns = design.X[:, term.columns]
    centred: Floats = _unit_length(columns - columns.mean(axis=0))
    return centred


def _correlation(a: Floats, b: Floats) -> float:
    """Return the largest canonical correlation of two sets of orthonormal columns."""
    if not a.shape[1] or not b.shape[1]:
        return 0.0
    return float(np.linalg.svd(a.T @ b, compute_uv=False).max())
