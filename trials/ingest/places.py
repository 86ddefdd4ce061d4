"""Items read elsewhere than planned, and labels that were exchanged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trials.design.values import Plan
from trials.files import word_as_typed
from trials.ingest.asking import KEEP_OR_ASIDE, about_item
from trials.record.values import Question, Row, worded
from trials.words.keeping import kept, kept_list

Where = tuple[tuple[str, str], ...]  # (group, member), in the order of the plan


@dataclass(frozen=True)
class _Away:
    """An item whose rows stand where another group's items belong."""

    item: str
    rows: tuple[Row, ...]
    planned: Where
    read: Where


def misplaced(rows: Sequence[Row], plan: Plan) -> list[Question]:
    """Return the questions about items that were read elsewhere than planned.

    Two items of which each was read where the other belongs are one question: their labels may
    have been exchanged. That is asked only where no third item fits as well.
    """
    away = _away(rows, plan)
    partners = {
        one.item: [
            other.item
            for other in away
            if other.item != one.item and one.read == other.planned and other.read == one.planned
        ]
        for one in away
    }
    by_item = {one.item: one for one in away}
    questions: list[Question] = []
    done: set[str] = set()
    read_items = {row.item for row in rows}
    for one in away:
        if one.item in done:
            continue
        fits = partners[one.item]
        if len(fits) == 1 and partners[fits[0]] == [one.item]:
            done.add(fits[0])
            questions.append(_exchanged(one, by_item[fits[0]]))
        else:
            questions.append(_elsewhere(one, fits, _unread(one, plan, read_items)))
    return questions


def _away(rows: Sequence[Row], plan: Plan) -> list[_Away]:
    members = {
        group.name: {member.casefold(): member for member in group.members} for group in plan.groups
    }
    planned = {row.item: row.groups for row in plan.rows}
    found: dict[tuple[str, Where, Where], list[Row]] = {}
    known: dict[tuple[str, Where], tuple[Where, Where]] = {}
    for row in rows:
        if not row.groups:
            continue
        if (row.item, row.groups) not in known:
            read = tuple(_said(row, members).items())
            there = tuple((group, planned[row.item].get(group, member)) for group, member in read)
            known[row.item, row.groups] = there, read
        there, read = known[row.item, row.groups]
        if read != there:
            found.setdefault((row.item, there, read), []).append(row)
    return [_Away(item, tuple(mine), there, read) for (item, there, read), mine in found.items()]


def _said(row: Row, members: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """Return the groups that a row states and the plan knows, in the order of the plan."""
    stated = dict(row.groups)
    return {
        group: known[stated[group].casefold()]
        for group, known in members.items()
        if stated.get(group, "").casefold() in known
    }


def _unread(one: _Away, plan: Plan, read_items: set[str]) -> list[str]:
    """Return the items planned where this one was read that have no readings at all."""
    return [
        row.item
        for row in plan.rows
        if row.item not in read_items
        and all(row.groups.get(group) == member for group, member in one.read)
    ]


def _differences(one: _Away) -> tuple[str, str]:
    pairs = [
        (f"{group} {member}", f"{group} {there}")
        for (group, member), (_, there) in zip(one.read, one.planned, strict=True)
        if member != there
    ]
    return ", ".join(read for read, _ in pairs), ", ".join(there for _, there in pairs)


def _exchanged(one: _Away, other: _Away) -> Question:
    read, planned = _differences(one)
    rows = (*one.rows, *other.rows)
    place = rows[0].place
    why = kept("The labels of the two may have been exchanged.")
    found = kept(
        "{item} was planned for {planned} and read in {read}; {other} the other way round",
        item=one.item,
        planned=planned,
        read=read,
        other=other.item,
    )
    return Question(
        id="",
        code="swapped",
        file=place.file,
        sheet=place.sheet,
        row=place.row,
        item=one.item,
        column=None,
        **worded(found, why),
        do=f"correct {word_as_typed(other.item)}, if the labels were exchanged; {KEEP_OR_ASIDE}",
        acts_on="swap",
        places=tuple(row.place for row in rows),
        proposal=other.item,
        partner=other.item,
    )


def _elsewhere(one: _Away, fits: Sequence[str], unread: Sequence[str]) -> Question:
    read, planned = _differences(one)
    why = kept("It was read elsewhere than planned.")
    if len(fits) > 1:
        why += kept(
            "Its label may have been exchanged with that of {items}.", items=kept_list(fits, "or")
        )
    elif unread:
        why += kept("Not read there so far: {items}.", items=", ".join(unread[:4]))
    return about_item(
        one.rows,
        "other_group",
        found=kept("planned for {planned}, read in {read}", planned=planned, read=read),
        why=why,
        proposal=unread[0] if len(unread) == 1 and not fits else "",
    )
