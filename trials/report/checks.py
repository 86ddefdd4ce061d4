"""Whether the model fits: figures to look at, and diagnostics that were never used as gates."""

from __future__ import annotations

from math import log
from typing import Any

from trials.analysis.findings import ResponseFindings
from trials.render.blocks import Block, Paragraph, Section
from trials.render.table import Cell, Column, Table
from trials.report import plots
from trials.report.checks_plots import check_figures
from trials.report.story import Story, names_of, slug
from trials.report.tables import path_text
from trials.report.told import what_it_hangs_on
from trials.words.checks import AGE, AGE_UNKNOWN, beside_text
from trials.words.language import say
from trials.words.methods import DIAGNOSTICS, note_text
from trials.words.numbers import capital, plural, significant

_APART = frozenset(
    [
        "largest", "spread", "notes", "rank_frequencies", "equal_spread", "groups", "drift",
        "influence",
    ]
)  # fmt: skip

MOST_MEMBERS = 8  # named in one line of a table


def checks_section(story: Story) -> Section:
    """Return the check figures and what the diagnostics say."""
    blocks: list[Block] = []
    for found in story.responses:
        figure = plots.leftovers(story, found)
        figures = [*([] if figure is None else [figure]), *check_figures(story, found)]
        blocks += [one.smaller() for one in figures]
        blocks += [Paragraph(text) for text in _hangs_on(story, found)]
        blocks += [table for table in _diagnostics(story, found) if table.rows]
    if not blocks:
        blocks.append(Paragraph(say("Nothing was fitted, so there is nothing to check.")))
    return Section("checks", say("Checks of the model"), tuple(blocks))


def _hangs_on(story: Story, found: ResponseFindings) -> tuple[str, ...]:
    told = what_it_hangs_on(found, names_of(story, found))
    drift = found.diagnostics.get("drift")
    if drift and AGE not in drift:
        told = (*told, say(AGE_UNKNOWN, item=story.item))
    return (" ".join(told),) if told else ()


def _diagnostics(story: Story, found: ResponseFindings) -> tuple[Table, ...]:
    """Return the diagnostics as tables; what has no table of its own stands in the last."""
    rest = {key: value for key, value in found.diagnostics.items() if key not in _APART}
    influence = found.diagnostics.get("influence") or {}
    notes = (*(found.diagnostics.get("notes") or ()), *(influence.get("notes") or ()))
    columns = (Column("what"), Column("value", kind="significant", digits=4))
    others = Table(
        f"{slug(found.name)}-diagnostics",
        say(
            "Diagnostics of {response_label}, shown and never used as gates",
            response_label=story.response_label(found.name),
        ),
        columns,
        tuple(_flat(rest)),
        tuple(f"{capital(note_text(str(note)))}." for note in notes),
    )
    return (
        _largest(story, found),
        _spread(story, found),
        _groups(story, found),
        _drift(story, found),
        _moves(story, found),
        others,
    )


def _groups(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("group"),
        Column("members", kind="count"),
        Column("sd", say("SD of what they left over"), kind="significant", digits=3),
        Column("furthest", say("furthest off")),
    )
    rows = tuple(
        (
            path_text(story, path),
            told["n"],
            _cell(told["sd"]),
            ", ".join(
                f"{one['member'].rpartition('/')[2]} {significant(one['leftover'])}"
                for one in told["largest"]
            ),
        )
        for path, told in (found.diagnostics.get("groups") or {}).items()
    )
    caption = say(
        "What groups left over in {response_label}", response_label=story.response_label(found.name)
    )
    note = say("Averages within each group, with those of the groups around it taken off first.")
    return Table(f"{slug(found.name)}-groups-left", caption, columns, rows, (note,))


def _drift(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("against"),
        Column("items", plural(story.item), kind="count"),
        Column("rho", say("Spearman's rank correlation"), kind="significant", digits=2),
        Column("p", kind="p"),
        Column("changes", say("answers that change with it taken off")),
    )
    rows = tuple(
        (
            beside_text(code),
            told["n"],
            _cell(told["rho"]),
            _cell(told["p"]),
            _changes(story, told["moves"]) if told["taken_off"] else say("not taken off"),
        )
        for code, told in (found.diagnostics.get("drift") or {}).items()
    )
    caption = say(
        "Does what is left over in {response_label} drift?",
        response_label=story.response_label(found.name),
    )
    note = say(
        "The time of day is never taken off: a version may have taken longer, and then the time is "
        "part of what it does."
    )
    return Table(f"{slug(found.name)}-drift", caption, columns, rows, (note,))


def _changes(story: Story, moves: list[dict[str, Any]]) -> str:
    told = [f"{story.factor_label(move['factor'])}: {say(move['verdict'])}" for move in moves]
    return "; ".join(told) or say("none")


def _moves(story: Story, found: ResponseFindings) -> Table:
    """Return what an answer hangs on: things of one kind that turn it alike share a line."""
    ratio = found.scale == "ratio"

    def size(value: float) -> float:
        return abs(log(value)) if ratio else abs(value)

    columns = (
        Column("kind", say("left out, one at a time")),
        Column("variable", say("answer about")),
        Column("verdict", say("would be"), kind="word"),
        Column("members", "without"),
        Column(
            "largest", "largest ratio" if ratio else "largest difference",
            "" if ratio else found.unit, "significant", 3,
        ),
    )  # fmt: skip
    names = names_of(story, found)
    alike: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for move in (found.diagnostics.get("influence") or {}).get("moves") or ():
        key = (move["left_out"]["kind"], move["factor"], move["verdict"])
        alike.setdefault(key, []).append(move)
    rows = tuple(
        (
            names.kind(kind),
            story.factor_label(factor),
            verdict,
            _members([names.own(kind, move["left_out"]["member"]) for move in moves]),
            _cell(max(_sizes(moves), key=size, default=None)),
        )
        for (kind, factor, verdict), moves in alike.items()
    )
    caption = say(
        "Single things that an answer about {response_label} hangs on",
        response_label=story.response_label(found.name),
    )
    note = say("Everything else that was left out in turn changes no answer.")
    return Table(f"{slug(found.name)}-moves", caption, columns, rows, (note,), heads=3)


def _sizes(moves: list[dict[str, Any]]) -> list[float]:
    return [m["largest_difference"] for m in moves if m["largest_difference"] is not None]


def _members(names: list[str]) -> str:
    """Return which members they are, or the first ones and how many there are in all."""
    if len(names) <= MOST_MEMBERS:
        return ", ".join(names)
    return say(
        "{list} ... ({n_names} in all)", list=", ".join(names[:MOST_MEMBERS]), n_names=len(names)
    )


def _largest(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("item"),
        Column("residual", kind="significant", digits=3),
        Column("studentised", kind="significant", digits=3),
        Column("p_adjusted", say("p adj."), kind="p"),
    )
    rows = tuple(
        tuple(_cell(one.get(column.name)) for column in columns)
        for one in found.diagnostics.get("largest") or ()
    )
    note = say(
        "Distances from what the model expects, every group taken off as well; in the figure "
        "above the groups are still in. Largest by their studentised value. p adj.: how often the "
        "largest of all would be as large by chance (Bonferroni)."
    )
    caption = say(
        "Most unusual {items}, by {response_label}",
        items=plural(story.item),
        response_label=story.response_label(found.name),
    )
    return Table(f"{slug(found.name)}-largest", caption, columns, rows, (note,))


def _spread(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("variable"),
        Column("version"),
        Column("sd", say("SD of residuals"), kind="significant", digits=3),
        Column("ratio", say("largest over smallest"), kind="significant", digits=3),
        Column("p", say("p, Levene"), kind="p"),
    )
    levene = found.diagnostics.get("equal_spread") or {}
    rows = tuple(
        (
            story.factor_label(factor),
            story.short_level(factor, level),
            _cell(sd),
            _cell(told.get("ratio")),
            _cell((levene.get(factor) or {}).get("p")),
        )
        for factor, told in (found.diagnostics.get("spread") or {}).items()
        if factor in story.factor_names
        for level, sd in told.get("levels", {}).items()
    )
    caption = say(
        "Spread of residuals of {response_label}, by version",
        response_label=story.response_label(found.name),
    )
    return Table(f"{slug(found.name)}-spread", caption, columns, rows, heads=2)


def _cell(value: Any) -> Cell:
    return value if isinstance(value, int | float | str) else None


def _flat(value: Any, path: str = "") -> list[tuple[Cell, ...]]:
    """Return nested diagnostics as rows of a name and a number or word."""
    if isinstance(value, dict):
        return [
            row
            for key, inner in value.items()
            for row in _flat(inner, f"{path}, {_label(key)}" if path else _label(key))
        ]
    if isinstance(value, list | tuple):
        return [row for i, inner in enumerate(value, 1) for row in _flat(inner, f"{path} {i}")]
    if isinstance(value, bool):
        return [(path, say("yes") if value else say("no"))]
    return [(path, value if isinstance(value, int | float | str) else None)]


def _label(key: object) -> str:
    text = DIAGNOSTICS.get(str(key))
    return str(key).replace("_", " ") if text is None else say(text)
