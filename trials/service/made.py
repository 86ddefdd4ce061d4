"""``trials made``: items that were made otherwise than planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.values import Plan, PlanFactor
from trials.errors import RecordError
from trials.files import as_typed
from trials.quantities import numeral
from trials.record import AsMade, Otherwise, Part, Store, plan_as_made
from trials.service.codes import item_code, nearest
from trials.service.opening import Opened, held_plan
from trials.words.numbers import listing, plural

OTHER = "other"  # a level that the plan doesn't have

Change = tuple[str, Part, str, str | None]  # item, kind, name, what it really got (see the record)


@dataclass(frozen=True)
class Made:
    """What was told now, and all that stands of what was made otherwise than planned."""

    opened: Opened
    now: tuple[Change, ...]
    all: tuple[Otherwise, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "made": [_told(*change[:3], made=change[3]) for change in self.now],
            "otherwise_in_all": [
                _told(one.item, one.kind, one.name, made=one.made) for one in self.all
            ],
        }

    def text(self) -> list[str]:
        """Return what was recorded and what it means."""
        back = list(dict.fromkeys(item for item, _, _, made in self.now if made is None))
        new = list(dict.fromkeys(item for item, _, _, made in self.now if made is not None))
        lines = []
        if back:
            lines.append(f"Recorded: {listing(back)} made as planned, after all.")
        if new:
            lines.append(
                f"Recorded: {listing(new)} made otherwise than planned. The answer goes on taking "
                f"{'it' if len(new) == 1 else 'them'} as planned, because chance decided that and "
                "nothing else. The answer by what was really made stands beside it."
            )
        if any(made == "" for _, _, _, made in self.now):
            lines.append(
                "By what was really made it can't be compared: the plan has no such version."
            )
        lines.append(f"Next: trials analyse {as_typed(self.opened.here.folder)}")
        return lines


def _told(item: str, kind: str, name: str, *, made: str | None) -> dict[str, Any]:
    what = {"as_planned": True} if made is None else {"made": made or OTHER}
    return {"item": item, kind: name, **what}


def record_made(
    folder: Path,
    items: Sequence[str],
    *,
    factors: Sequence[str],
    groups: Sequence[str],
    why: str,
    by: str,
) -> Made:
    """Record how items were really made; what is said again as planned takes it back.

    Parameters
    ----------
    factors, groups : "dye=beetroot", "firing=F3": what all of the items really got.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : no such item, factor, level, group or member; no reason, no code of a person;
        nothing new; or a group that would have two versions of what is given to the whole of it.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        codes = tuple(dict.fromkeys(item_code(item, opened, "made") for item in items))
        wanted = [_wanted(text, "factor", opened) for text in factors]
        wanted += [_wanted(text, "group", opened) for text in groups]
        if not wanted:
            raise _refusal(
                "nothing",
                "Say what it really got.",
                "neither --factor nor --group",
                _names(opened, "factor") + "; " + _names(opened, "group"),
                "For example: --factor NAME=VERSION, or --group NAME=WHICH.",
            )
        known = store.state().otherwise
        changes = _changes(opened, codes, wanted, known)
        _refuse_misfits(opened, known, changes)
        store.make_otherwise(changes, why, by)
        return Made(opened, changes, store.state().otherwise)


def _wanted(text: str, kind: Part, opened: Opened) -> tuple[Part, str, str]:
    """Return name and version of "dye=beetroot", as the plan spells them."""
    flag = f"--{kind}"
    name, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not value:
        raise _refusal(
            "form",
            f"{flag} needs a name and what it really was.",
            text,
            f"{flag} NAME=VERSION",
            _names(opened, kind),
        )
    known = _known(opened, kind)
    found = next((one for one in known if one.casefold() == name.casefold()), None)
    if found is None:
        raise _refusal(
            f"unknown_{kind}",
            f"The plan has no {kind} of that name.",
            name,
            listing(list(known), "or") or f"the plan has no {kind}s",
            _near(name, known) or "Take the name from the first line of plan.csv.",
        )
    return kind, found, _value(opened.plan, kind, found, value)


def _known(opened: Opened, kind: Part) -> tuple[str, ...]:
    plan = opened.plan
    named = plan.factors if kind == "factor" else [g for g in plan.groups if not g.added]
    return tuple(one.name for one in named)


def _names(opened: Opened, kind: Part) -> str:
    names = _known(opened, kind)
    return f"{kind}s of the plan: {', '.join(names)}" if names else f"the plan has no {kind}s"


def _value(plan: Plan, kind: Part, name: str, value: str) -> str:
    """Return a level or a member as the plan spells it; "" for a level that it doesn't have."""
    if kind == "group":
        allowed = next(group.members for group in plan.groups if group.name == name)
        found = _like(value, allowed)
    else:
        factor = next(factor for factor in plan.factors if factor.name == name)
        allowed = factor.levels
        found = _level(factor, value)
        if found is None and value.casefold() == OTHER:
            return ""
    if found is None:
        what = "version of it" if kind == "factor" else "one of them"
        more = f" If it was none of these: --factor {name}={OTHER}." if kind == "factor" else ""
        raise _refusal(
            f"unknown_{'level' if kind == 'factor' else 'member'}",
            f"The plan has no such {what}.",
            f"{name}={value}",
            listing(list(allowed), "or"),
            (_near(value, allowed) or "Write it as in plan.csv.") + more,
        )
    return found


def _like(value: str, allowed: Iterable[str]) -> str | None:
    return next((one for one in allowed if one.casefold() == value.casefold()), None)


def _level(factor: PlanFactor, value: str) -> str | None:
    """Return the level that is meant: the same text, or the same number ("40.0" is "40")."""
    found = _like(value, factor.levels)
    number = numeral(value)
    if found is not None or number is None or number.point is None:
        return found
    return next(
        (
            level
            for level in factor.levels
            if (own := numeral(level)) is not None and own.point == number.point
        ),
        None,
    )


def _near(text: str, allowed: Iterable[str]) -> str:
    near = nearest(text, allowed)
    return f"Did you mean {near}?" if near else ""


def _changes(
    opened: Opened,
    codes: Sequence[str],
    wanted: Sequence[tuple[Part, str, str]],
    known: Sequence[Otherwise],
) -> tuple[Change, ...]:
    """Return what is new of what was told; as planned where it was told otherwise before."""
    stands = {(one.item, one.kind, one.name): one.made for one in known}
    changes: list[Change] = []
    for item in codes:
        row = opened.plan.row(item)
        for kind, name, made in wanted:
            planned = (row.factors if kind == "factor" else row.groups)[name]
            before = stands.get((item, kind, name), planned)
            if made != before:
                changes.append((item, kind, name, None if made == planned else made))
    if not changes:
        told = listing([f"{name}={made or OTHER}" for _, name, made in wanted])
        raise _refusal(
            "known",
            "That is known already: it is what the plan says, or what was recorded before.",
            f"{listing(codes)}: {told}",
            "",
            "Nothing more to do. To take something back, say what the plan had.",
        )
    return tuple(changes)


def _refuse_misfits(opened: Opened, known: Sequence[Otherwise], changes: Sequence[Change]) -> None:
    """Refuse what would give one group two versions of what is given to the whole of it."""
    plan = opened.plan
    after = {(one.item, one.kind, one.name): one for one in known}
    for item, kind, name, made in changes:
        after.pop((item, kind, name), None)
        if made is not None:
            after[item, kind, name] = Otherwise(item, kind, name, made, "", "", "")
    as_made = plan_as_made(plan, tuple(after.values()))
    if not as_made.misfits:
        return
    what, group, member = as_made.misfits[0]
    items = plural(opened.study.item_name)
    factor = next((f for f in plan.factors if f.name == what), None)
    mates = _mates(as_made, what, group, member)
    if factor is None:
        raise _refusal(
            "two_places",
            f"{group} {member} would lie in more than one {what}.",
            mates,
            f"{items} of one {group} in one {what}",
            f"Say which {group} it went into: --group {group}=WHICH",
        )
    raise _refusal(
        "two_versions",
        f"A whole {group} gets one version of {what}, and {group} {member} would have two.",
        mates,
        f"one {what} for all {items} of a {group}",
        f"If an item went into another {group}, say which: --group {group}=WHICH. If the whole "
        f"{group} was made otherwise, name all its {items}.",
    )


def _mates(as_made: AsMade, what: str, group: str, member: str) -> str:
    """Return which items of a member have which version: "oven: K7; burner: K1, K2"."""
    by: dict[str, list[str]] = {}
    for row in as_made.plan.rows:
        if row.groups[group] == member and row.item not in as_made.left_out:
            by.setdefault((row.factors | row.groups)[what], []).append(row.item)
    return "; ".join(f"{value}: {', '.join(items)}" for value, items in by.items())


def _refusal(code: str, what: str, found: str, allowed: str, do: str) -> RecordError:
    return RecordError(what, code=f"made.{code}", where="made", found=found, allowed=allowed, do=do)
