"""The pictures of a plan: who has which version, and what is tied to what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trials.design.values import Plan, PlanGroup, PlanRow, Tie
from trials.render.blocks import Figure
from trials.render.seats import Seat, SeatPanel, SeatPlot, SeatRow, seat_figure
from trials.render.ties import TieCell, TiePlot, tie_figure
from trials.study import labels_of
from trials.study.values import Study
from trials.words.judging import term_label
from trials.words.naming import version_name
from trials.words.numbers import plural

LINE = 12  # seats in a line where nothing else says how long it is
WIDEST = 24  # most seats abreast


def layout_figure(study: Study, plan: Plan) -> Figure | None:
    """Return the picture of a plan's layout; None for a plan in which nothing is changed."""
    if not plan.factors:
        return None
    return seat_figure(seat_plot(study, plan))


def ties_figure(study: Study, plan: Plan, ties: Sequence[Tie]) -> Figure | None:
    """Return the heat map of ties; None where nothing is changed."""
    if not plan.factors or not ties:
        return None
    labels = labels_of(study)
    names = dict.fromkeys(name for tie in ties for name in (tie.first, tie.second))
    cells = tuple(
        TieCell(term_label(t.first, labels), term_label(t.second, labels), t.tie, t.meant)
        for t in ties
    )
    return tie_figure(
        TiePlot(
            "plan-ties",
            tuple(term_label(name, labels) for name in names),
            cells,
            "How firmly every two things hang together. 0: each version comes equally often with "
            "each of the other. 1: if you know one you know the other, so their differences can't "
            "be told apart. Hatched: tied on purpose, because one belongs to the other. Of the two "
            "orders the first, middle and last third are compared; they were drawn by chance. "
            "(The number is Cramér's V.)",
        )
    )


@dataclass(frozen=True)
class _Ground:
    """The groups that make rows, blocks of rows and columns of the picture."""

    row: PlanGroup | None
    block: PlanGroup | None
    column: PlanGroup | None


def seat_plot(study: Study, plan: Plan) -> SeatPlot:
    """Return the layout of a plan as seats.

    The makers stand side by side. Rows are the members of the group that versions are applied to,
    or of the largest one; what these are within makes blocks. Without groups the items follow each
    other in the order of making.
    """
    labels = labels_of(study)
    ground = _ground(plan)
    rows = sorted(plan.rows, key=lambda row: row.run)
    seats, lines = _seats(ground, rows)
    return SeatPlot(
        name="plan-layout",
        item=study.item_name,
        row_name=labels[ground.row.name] if ground.row else "",
        column_name=labels[ground.column.name] if ground.column else "",
        block_name=labels[ground.block.name] if ground.block else "",
        rows=lines,
        columns=ground.column.members if ground.column else ("",) * _across(seats),
        seats=seats,
        panels=tuple(
            SeatPanel(
                labels[factor.name],
                tuple(version_name(level, factor.unit) for level in factor.levels),
                tuple(factor.levels.index(row.factors[factor.name]) for row in rows),
            )
            for factor in plan.factors
        ),
        caption=_caption(study, plan, ground, labels),
    )


def _caption(study: Study, plan: Plan, ground: _Ground, labels: Mapping[str, str]) -> str:
    text = f"Which {study.item_name} gets which version: one square is one {study.item_name}."
    if ground.row is not None:
        text += f" One line is one {labels[ground.row.name]}"
        if ground.column is not None:
            text += f", one column one {labels[ground.column.name]}"
        text += "."
    else:
        text += " In the order of making, line by line."
    if len(plan.factors) > 1:
        text += f" The {plural(study.item_name)} are the same in every panel."
    return text


def _ground(plan: Plan) -> _Ground:
    families: dict[str, list[PlanGroup]] = {}
    for group in plan.groups:
        families.setdefault(group.path.split("/")[0], []).append(group)
    leaves = {
        root: max(line, key=lambda g: (g.path.count("/"), len(g.members)))
        for root, line in families.items()
    }
    applied = {factor.applied_to for factor in plan.factors}

    def weight(root: str) -> tuple[bool, bool, int]:
        makes = any(group.role == "maker" for group in families[root])
        units = any(group.path in applied for group in families[root])
        return (units, not makes, len(leaves[root].members))

    order = sorted(leaves, key=weight, reverse=True)
    if not order:
        return _Ground(None, None, None)
    row = leaves[order[0]]
    block = next((group for group in plan.groups if group.name == row.within), None)
    column = leaves[order[1]] if len(order) > 1 else None
    if column is not None:
        shared = Counter((r.groups[row.name], r.groups[column.name]) for r in plan.rows)
        if len(column.members) * max(shared.values()) > WIDEST:
            column = None
    return _Ground(row, block, column)


def _seats(
    ground: _Ground, rows: Sequence[PlanRow]
) -> tuple[tuple[Seat, ...], tuple[SeatRow, ...]]:
    lines: list[SeatRow] = []
    first: dict[str, int] = {}
    longest = Counter(row.groups[ground.row.name] for row in rows) if ground.row else Counter()
    for member in ground.row.members if ground.row else ("",):
        block = ""
        if ground.row and ground.block:
            inside = next((r for r in rows if r.groups[ground.row.name] == member), None)
            block = inside.groups[ground.block.name] if inside else ""
        first[member] = len(lines)
        count = longest[member] if ground.row else len(rows)
        more = 1 if ground.column else max(-(-count // _line(count)), 1)
        lines += [SeatRow(member if part == 0 else "", block) for part in range(more)]
    taken: Counter[tuple[str, int]] = Counter()
    seats = []
    for row in rows:
        member = row.groups[ground.row.name] if ground.row else ""
        column = ground.column.members.index(row.groups[ground.column.name]) if ground.column else 0
        place = taken[member, column]
        taken[member, column] += 1
        if ground.column:
            seats.append(Seat(row.item, first[member], column, place))
        else:
            most = _line(longest[member] if ground.row else len(rows))
            seats.append(Seat(row.item, first[member] + place // most, place % most))
    return tuple(seats), tuple(lines)


def _line(count: int) -> int:
    """Return how many seats stand in a line of so many in all: evenly filled lines."""
    if count <= LINE:
        return max(count, 1)
    return -(-count // -(-count // LINE))


def _across(seats: Sequence[Seat]) -> int:
    return 1 + max((seat.column for seat in seats), default=0)
