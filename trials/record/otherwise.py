"""What went otherwise than planned: labels that were exchanged, items that were made differently.

Both are only ever added. Two labels that are known to have been exchanged are put right, as which
item is which. An item that was made differently stays where chance had put it, and what it really
was is kept beside it: the plan as made.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from trials.design.values import Plan, PlanFactor, PlanRow
from trials.errors import RecordError
from trials.files import as_typed
from trials.record.answers import A_CODE, is_code
from trials.record.values import Exchange, Otherwise, Question
from trials.study.values import Study
from trials.words.language import say
from trials.words.naming import version_name
from trials.words.numbers import listing

Run = Callable[..., sqlite3.Cursor]


def standing_exchanges(run: Run) -> tuple[Exchange, ...]:
    """Return the exchanges that stand, in the order in which they were told."""
    found: dict[frozenset[str], Exchange] = {}
    for item, partner, stands, *said in run(
        "SELECT item, partner, stands, why, by, at FROM exchanges ORDER BY id"
    ):
        exchange = Exchange(item, partner, *said)
        found.pop(exchange.pair, None)
        if stands:
            found[exchange.pair] = exchange
    return tuple(found.values())


def standing_otherwise(run: Run) -> tuple[Otherwise, ...]:
    """Return what was made otherwise than planned, by what was told last of each item and name."""
    found: dict[tuple[str, str, str], Otherwise] = {}
    for item, kind, name, made, *said in run(
        "SELECT item, kind, name, made, why, by, at FROM otherwise ORDER BY id"
    ):
        found.pop((item, kind, name), None)
        if made is not None:
            found[item, kind, name] = Otherwise(item, kind, name, made, *said)
    return tuple(found.values())


def refuse_unfounded(where: str, why: str, by: str) -> tuple[str, str]:
    """Return the reason and the code of a person in their fixed form.

    Raises
    ------
    RecordError : there is none.
    """
    why, by = " ".join(why.split()), by.strip()
    if not why:
        raise RecordError(
            "This needs its reason.",
            code=f"{where}.why",
            where=where,
            found="no reason",
            allowed="a few words on what happened and how you know",
            do='Give it with --why "...". It stands in the report.',
        )
    if not is_code(by):
        raise RecordError(
            "Say who says so by a short code, not by a name.",
            code=f"{where}.by",
            where=where,
            found=by or "no code",
            allowed=A_CODE,
            do="Give it with --by CODE.",
        )
    return why, by


def refuse_exchange(
    pair: tuple[str, str],
    known: Sequence[Exchange],
    questions: Sequence[Question],
    folder: Path,
    *,
    undo: bool,
) -> None:
    """Refuse what can't be told of two labels now.

    Parameters
    ----------
    folder : of the study, for what to type.

    Raises
    ------
    RecordError : one item only; an exchange that is known already, that a question asks about, or
        that crosses another; undoing one that was never told.
    """
    wanted, both = frozenset(pair), " and ".join(pair)
    stands = any(exchange.pair == wanted for exchange in known)
    if len(wanted) == 1:
        raise _exchange_refused("same", "An item can't have had its own label.", both,
                                "Name the two items whose labels were exchanged.")  # fmt: skip
    if undo:
        if not stands:
            raise _exchange_refused("unknown", "No exchange of these two was recorded.", both,
                                    "Nothing has to be undone.")  # fmt: skip
        return
    if stands:
        raise _exchange_refused("known", "That is recorded already.", f"{both}, exchanged",
                                "Nothing more to do. To take it back, say the same with "
                                "--undo.")  # fmt: skip
    for question in questions:
        _refuse_asked(question, pair, as_typed(folder))
    crossing = [one for one in known if one.pair & wanted]
    if crossing:
        one = crossing[0]
        raise _exchange_refused(
            "crosses", "One of these two is recorded as exchanged with another one.",
            f"{one.item} and {one.partner}, exchanged",
            "Take that back first with --undo. Where three labels went round, write the right "
            "codes into the file and collect it again.",
        )  # fmt: skip


def _refuse_asked(question: Question, pair: tuple[str, str], folder: str) -> None:
    """Refuse an exchange that a question asks about or that its answer has told already."""
    wanted = set(pair)
    moved = question.acts_on == "identity" and question.answer == "correct"
    if moved and {question.item, question.answer_value} == wanted:
        raise _exchange_refused(
            "answered", "An answer has moved readings of one to the other already.",
            f"{question.id}, answered: {question.item} is {question.answer_value}",
            f"If that was because of the labels, take the answer back first: trials answer "
            f'{folder} {question.id} keep --why "..." --by CODE',
        )  # fmt: skip
    if question.acts_on != "swap" or {question.item, question.partner} != wanted:
        return
    if question.answer == "correct":
        raise _exchange_refused("known", "That is recorded already.",
                                f"{question.id}, answered: {' and '.join(pair)} exchanged",
                                "Nothing more to do.")  # fmt: skip
    raise _exchange_refused("asked", "A question asks about these two labels.", question.id,
                            f"Settle it there: trials answer {folder} {question.id} correct "
                            f'{question.partner} --why "..." --by CODE')  # fmt: skip


def _exchange_refused(code: str, what: str, found: str, do: str) -> RecordError:
    return RecordError(what, code=f"swapped.{code}", where="swapped", found=found, do=do)


@dataclass(frozen=True)
class AsMade:
    """A plan with what was really made in its rows; ``left_out``: items unlike any of its levels.

    ``misfits``: (factor or group, group it goes with, its member) that a member would have two of.
    """

    plan: Plan
    left_out: frozenset[str]
    misfits: tuple[tuple[str, str, str], ...]


def plan_as_made(plan: Plan, changes: Sequence[Otherwise]) -> AsMade:
    """Return the plan as it was made. Where an item moved, what belongs to the place goes along.

    With its firing an item changes its session, and what is applied to either.
    """
    said: dict[str, dict[tuple[str, str], str]] = {}
    for change in changes:
        said.setdefault(change.item, {})[change.kind, change.name] = change.made
    factors = {
        row.item: row.factors
        | {
            name: made
            for (kind, name), made in said.get(row.item, {}).items()
            if kind == "factor" and made
        }
        for row in plan.rows
    }
    rows = tuple(
        _moved(plan, row, said.get(row.item, {}), factors) if row.item in said else row
        for row in plan.rows
    )
    out = frozenset(
        item for item, own in said.items() if any(not made for made in own.values())
    ) & {row.item for row in plan.rows}
    made = plan.model_copy(update={"rows": rows})
    return AsMade(made, out, tuple(_misfits(made, [r for r in rows if r.item not in out])))


def _moved(
    plan: Plan,
    row: PlanRow,
    said: Mapping[tuple[str, str], str],
    factors: Mapping[str, Mapping[str, str]],
) -> PlanRow:
    groups, levels = dict(row.groups), dict(factors[row.item])
    for group in plan.groups:
        member = said.get(("group", group.name))
        if member is None:
            continue
        groups[group.name] = member
        mates = [r for r in plan.rows if r.groups[group.name] == member and r.item != row.item]
        if not mates:
            continue
        around = [g for g in plan.groups if group.path.startswith(f"{g.path}/")]
        groups |= {g.name: mates[0].groups[g.name] for g in around
                   if ("group", g.name) not in said}  # fmt: skip
        paths = {group.path, *(g.path for g in around)}
        levels |= {
            factor.name: factors[mates[0].item][factor.name]
            for factor in plan.factors
            if factor.applied_to in paths and ("factor", factor.name) not in said
        }
    return row.model_copy(update={"groups": groups, "factors": levels})


def _misfits(plan: Plan, rows: Sequence[PlanRow]) -> list[tuple[str, str, str]]:
    """Return the members of groups that would have two levels, or lie in two larger members."""
    names = {group.path: group.name for group in plan.groups}
    pairs = [(f.name, names[f.applied_to]) for f in plan.factors if f.applied_to in names]
    pairs += [
        (outer.name, inner.name)
        for inner in plan.groups
        for outer in plan.groups
        if inner.path.startswith(f"{outer.path}/")
    ]
    out = []
    for what, group in pairs:
        seen: dict[str, set[str]] = {}
        for row in rows:
            value = row.factors[what] if what in row.factors else row.groups[what]
            seen.setdefault(row.groups[group], set()).add(value)
        out += [(what, group, member) for member, found in seen.items() if len(found) > 1]
    return out


def exchange_sentence(exchange: Exchange) -> str:
    """Return what is told of two exchanged labels."""
    return say(
        "{items} had each other's label, and their readings were put right: {why} ({by})",
        items=listing([exchange.item, exchange.partner]),
        why=exchange.why,
        by=exchange.by,
    )


def otherwise_sentence(change: Otherwise, study: Study, plan: Plan) -> str:
    """Return what is told of an item that was made otherwise than planned."""
    row = plan.row(change.item)
    why = f"{change.why} ({change.by})"
    if change.kind == "group":
        label = next((g.label for g in study.groups if g.name == change.name), "") or change.name
        return say(
            "{item} went into {group} {made} instead of {planned}: {why}",
            item=change.item,
            group=label,
            made=change.made,
            planned=row.groups[change.name],
            why=why,
        )
    factor = next(f for f in plan.factors if f.name == change.name)
    planned = level_text(factor, row.factors[factor.name], study)
    if not change.made:
        return say(
            "{item} was made with a version of {factor} that the plan does not have, instead of "
            "{planned}: {why}",
            item=change.item,
            factor=_label(factor, study),
            planned=planned,
            why=why,
        )
    return say(
        "{item} was made with {made} instead of {planned}: {why}",
        item=change.item,
        made=level_text(factor, change.made, study),
        planned=planned,
        why=why,
    )


def level_text(factor: PlanFactor, level: str, study: Study) -> str:
    """Return a level as a sentence names it."""
    return version_name(level, factor.unit, _label(factor, study))


def _label(factor: PlanFactor, study: Study) -> str:
    return next((f.label for f in study.factors if f.name == factor.name), "") or factor.name
