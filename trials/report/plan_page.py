"""A plan as a page to look at before anything is built: what it would show, and what not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Literal

from trials.design.values import Alias, Plan
from trials.render.blocks import Block, Bullets, Document, Figure, Paragraph, Part, Section
from trials.render.table import Cell, Column, Table
from trials.report.plan_plots import layout_figure, ties_figure
from trials.study import labels_of
from trials.study.values import Response, Study
from trials.words.judging import (
    NO_SIZE,
    STRATA_OVERLAP,
    mixed_sentence,
    partly_mixed,
    shown_size,
    term_label,
    untested_sentence,
)
from trials.words.naming import spread_name
from trials.words.numbers import capital

How = Literal["half", "given", "twice"]

PARTLY = 0.1  # share from which on it is told that something is mixed up in part
PARTS = 4  # of them told in words; all stand in the table

_EFFECTS = MappingProxyType({
    "estimate lost": "not all versions can be compared",
    "test lost": "nothing sure can be said",
    "untested": "nothing sure could be said anyway",
})  # fmt: skip


def plan_document(study: Study, plan: Plan) -> Document:
    """Return the page of a judged plan (its ``ties``, ``detectable`` and so on filled in).

    Figures: ``plan-layout`` and ``plan-ties``, none for a practice run.
    """
    labels = labels_of(study)
    sections = [
        _layout(study, plan),
        _shows(study, plan, labels),
        _mixed(study, plan, labels),
        _ties(study, plan),
        _losses(study, plan, labels),
    ]
    technical = Part(
        "technical",
        "For judges and teachers",
        "",
        (_skeleton(study, plan, labels), _aliases(plan, labels)),
    )
    return Document(
        title=study.title,
        subtitle="The plan, before anything is built",
        note=study.note,
        foot=(f"seed {plan.seed}",),
        parts=(Part("plan", "The plan", "", tuple(s for s in sections if s.blocks)), technical),
    )


def _layout(study: Study, plan: Plan) -> Section:
    figure = layout_figure(study, plan)
    return Section("layout", "Who makes what", _present(figure))


def _present(figure: Figure | None) -> tuple[Block, ...]:
    return () if figure is None else (figure,)


def _shows(study: Study, plan: Plan, labels: Mapping[str, str]) -> Section:
    tables = tuple(_shows_table(plan, response, labels) for response in study.responses)
    blocks: list[Block] = [table for table in tables if table.rows]
    if blocks:
        text = (
            "A true difference of this size would show in 8 (or 9) of 10 repeats of the whole "
            "study. A smaller one may well be missed. Where one variable is joined to another by "
            "×, the size is how much the one moves the difference that the other makes."
        )
        blocks.insert(0, Paragraph(text))
    return Section("shows", "The smallest difference that would show", tuple(blocks))


def _shows_table(plan: Plan, response: Response, labels: Mapping[str, str]) -> Table:
    found = {
        (row.term, row.spread): row for row in plan.detectable if row.response == response.name
    }
    others = any(spread != "given" for _, spread in found)
    columns = [Column("compared"), Column("in 8 of 10"), Column("in 9 of 10")]
    if others:
        columns += [
            Column("half", "in 8 of 10, if groups differ half as much"),
            Column("twice", "in 8 of 10, if groups differ twice as much"),
        ]

    def size(term: str, spread: How, which: str) -> str:
        row = found.get((term, spread))
        value = None if row is None else row.at_80 if which == "80" else row.at_90
        return shown_size(value, ratio=response.compare == "ratio", unit=response.unit)

    rows: list[tuple[Cell, ...]] = []
    for term in dict.fromkeys(term for term, _ in found):
        cells = [term_label(term, labels), size(term, "given", "80"), size(term, "given", "90")]
        if others:
            cells += [size(term, "half", "80"), size(term, "twice", "80")]
        rows.append(tuple(cells))
    label = response.label or response.name
    notes = [NO_SIZE] if any("none" in row[1:] for row in rows) else []
    if response.spread is not None:
        told = spread_name(response.spread.source)
        notes.append(f"How far things made alike differ: {told}.")
    return Table(
        f"shows-{response.name}", capital(label), tuple(columns), tuple(rows), tuple(notes)
    )


def _mixed(study: Study, plan: Plan, labels: Mapping[str, str]) -> Section:
    if not plan.factors:
        return Section("mixed", "", ())
    most = study.analysis.interactions
    told = [
        capital(_alias_text(alias, labels)) + "."
        for alias in plan.aliases
        if alias.whole and _order(alias) <= max(most, 2)
    ]
    body: tuple[Block, ...] = (Bullets(tuple(told)),)
    if not told and plan.untested:
        body = (Paragraph(untested_sentence([labels[name] for name in plan.untested])),)
    elif not told:
        body = (Paragraph("Nothing that the plan asks about is hidden wholly by something else."),)
    parts = [
        _alias_text(alias, labels)
        for alias in plan.aliases
        if not alias.whole and alias.share >= PARTLY and _order(alias) <= max(most, 2)
    ]
    if parts:
        more = [f"{len(parts) - PARTS} more"] if len(parts) > PARTS else []
        body = (*body, Paragraph(partly_mixed([*parts[:PARTS], *more], "Aliases")))
    return Section("mixed", "What can't be told apart", body)


def _order(alias: Alias) -> int:
    """Return how many things the longest name of an alias joins."""
    return max(name.count(":") + 1 for name in (alias.term, *alias.mixed_with))


def _alias_text(alias: Alias, labels: Mapping[str, str]) -> str:
    others = [term_label(other, labels) for other in alias.mixed_with]
    return mixed_sentence(
        term_label(alias.term, labels), others, share=alias.share, whole=alias.whole
    )


def _ties(study: Study, plan: Plan) -> Section:
    return Section("ties", "What hangs together", _present(ties_figure(study, plan, plan.ties)))


def _losses(study: Study, plan: Plan, labels: Mapping[str, str]) -> Section:
    columns = (
        Column("lost", "if one is lost"),
        Column("worst"),
        Column("compared"),
        Column("before", "shows from, as planned"),
        Column("after", "shows from, after the loss"),
    )
    rows = tuple(_loss_rows(study, plan, labels))
    if not rows:
        return Section("losses", "", ())
    table = Table(
        "losses",
        "The worst single loss for each comparison: differences that show in 8 of 10 repeats",
        columns,
        rows,
        heads=3,
    )
    return Section("losses", "If something is lost", (table,))


def _loss_rows(study: Study, plan: Plan, labels: Mapping[str, str]) -> Iterator[tuple[Cell, ...]]:
    for loss in plan.worst_loss:
        before = after = "–"
        if loss.response is not None:
            response = study.response(loss.response)
            ratio = response.compare == "ratio"
            before = shown_size(loss.before, ratio=ratio, unit=response.unit)
            after = shown_size(loss.after, ratio=ratio, unit=response.unit)
        yield (
            study.item_name if loss.group is None else labels[loss.group],
            loss.member,
            labels[loss.factor],
            before,
            _EFFECTS.get(loss.effect, after),
        )


def _skeleton(study: Study, plan: Plan, labels: Mapping[str, str]) -> Section:
    columns = (
        Column("source"),
        Column("stratum"),
        Column("df", kind="count"),
        Column("tested by"),
        Column("denominator df", kind="number", decimals=1),
        Column("efficiency", kind="number", decimals=3),
    )

    def named(path: str | None) -> str:
        if path is None:
            return "–"
        return study.item_name if path == "residual" else term_label(path, labels)

    rows = tuple(
        (
            "left over" if row.source == row.stratum else term_label(row.source, labels),
            named(row.stratum),
            row.df,
            named(row.tested_by),
            row.den_df,
            row.efficiency,
        )
        for row in plan.skeleton
    )
    notes = (
        STRATA_OVERLAP + " Efficiency: harmonic mean of the canonical efficiency factors. "
        "Denominator df: exact in a balanced plan, else Kenward-Roger's at equal variances.",
    )
    table = Table("skeleton", "Skeleton analysis of variance", columns, rows, notes, heads=2)
    return Section("skeleton", "Skeleton", (table,) if rows else ())


def _aliases(plan: Plan, labels: Mapping[str, str]) -> Section:
    columns = (
        Column("term"),
        Column("mixed with"),
        Column("share", kind="number", decimals=3),
        Column("alias matrix", kind="number", decimals=3),
    )
    rows = tuple(
        (
            term_label(alias.term, labels),
            " + ".join(term_label(other, labels) for other in alias.mixed_with),
            alias.share,
            alias.entry,
        )
        for alias in plan.aliases
    )
    notes = (
        "Share: mean squared canonical correlation of the term's columns with the other's; 1 is a "
        "complete alias. Entry of the alias matrix where all factors have two levels and the other "
        "term is left out of the model. Shares below 0.01 are left out.",
    )
    table = Table("aliases", "Aliases", columns, rows, notes, heads=2)
    none = Paragraph("No term is mixed up with another one or with a group.")
    return Section("aliases", "Aliases", (table,) if rows else (none,))
