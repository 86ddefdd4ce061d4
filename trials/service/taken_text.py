"""What a study takes from a practice run, as lines to read on a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from trials.analysis.alike import share_interval
from trials.design.columns import layout_of
from trials.design.looks import confidence_of
from trials.design.outlook import power_given
from trials.design.spares import deciding, spares, surely_working
from trials.design.values import Plan, PowerRow
from trials.model import Prepared
from trials.render.table import Column, Table, to_text
from trials.service.taken import leaves_spread
from trials.study import Response, Study
from trials.study.values import TakenSpread
from trials.words.judging import size_text
from trials.words.numbers import listing
from trials.words.practice import (
    SpareFacts,
    TakenFacts,
    nothing_taken,
    spare_sentences,
    taken_sentence,
)


def taken_lines(study: Study, plan: Plan, folder: Path) -> list[str]:
    """Return what the practice run says of this plan; nothing where the study names none."""
    if study.spread_from is None:
        return []
    taken = [(r, r.spread) for r in study.responses if isinstance(r.spread, TakenSpread)]
    if not taken:
        return ["", nothing_taken(study.spread_from)]
    lines = ["", f"From the practice run in {study.spread_from}:"]
    for response, spread in taken:
        lines.append(f"  {taken_sentence(_facts(study, response, spread))}")
    left = [r.label or r.name for r in study.responses if leaves_spread(r)]
    if left:
        lines.append(f"  It says nothing of {listing(left)}.")
    first = deciding(study) or taken[0][1]
    lines += [f"  {text}" for text in _spare(study, plan, first, folder)]
    for response, spread in taken:
        table = _ends_table(study, plan, response, spread)
        if table is not None:
            lines += ["", *to_text(table)]
    return lines


def _facts(study: Study, response: Response, spread: TakenSpread) -> TakenFacts:
    return TakenFacts(
        label=response.label or response.name,
        unit=response.unit,
        ratio=response.compare == "ratio",
        item=study.item_name,
        items=spread.items,
        interval=spread.interval,
        made=spread.made,
        instead=spread.written is not None,
        guessed=tuple(study.group(name).label or name for name in spread.guessed),
    )


def _spare(study: Study, plan: Plan, spread: TakenSpread, folder: Path) -> tuple[str, ...]:
    return spare_sentences(_spare_facts(study, plan, spread, folder))


def spares_document(study: Study, plan: Plan) -> dict[str, Any] | None:
    """Return how many to make so that enough work, for ``--json``; None without a practice run.

    ``more`` items beyond those planned give as many working ones as planned, 19 times in 20; None
    where no number would. ``whole`` is that number in all, with as many of each recipe. ``sure``:
    how many of those planned work at least.
    """
    taken = deciding(study)
    if taken is None:
        return None
    facts = _spare_facts(study, plan, taken, Path())
    names = ("planned", "made", "failed", "share", "more", "whole", "limit", "sure")
    return {name: getattr(facts, name) for name in names}


def _spare_facts(study: Study, plan: Plan, spread: TakenSpread, folder: Path) -> SpareFacts:
    planned, failing = len(plan.rows), spread.failed / spread.made
    more = spares(planned, failing)
    recipes = len({tuple(sorted(row.factors.items())) for row in plan.rows})
    whole = None
    if more is not None:
        whole = planned + more
        if planned % recipes == 0:  # as many of each recipe
            whole = -(-whole // recipes) * recipes
    return SpareFacts(
        item=study.item_name,
        planned=planned,
        made=spread.made,
        failed=spread.failed,
        share=share_interval(spread.failed, spread.made, confidence_of(study)),
        more=more,
        whole=whole,
        limit=study.limits.items,
        sure=surely_working(planned, failing),
        folder=str(folder),
    )


def _ends_table(study: Study, plan: Plan, response: Response, spread: TakenSpread) -> Table | None:
    """Return how often a difference shows at the ends of the interval of the spread."""
    low, high = spread.interval
    if not plan.factors or low is None or high is None:
        return None
    layout = layout_of(study, plan)
    ready = Prepared(layout, study.analysis.interactions)
    found = [
        power_given(
            study,
            ready,
            response.model_copy(update={"spread": spread.model_copy(update={"items": items})}),
        )
        for items in (low, spread.items, high)
    ]
    names = {factor.name: factor.label or factor.name for factor in study.factors}
    rows = tuple(
        (
            names[row.term],
            size_text(row.difference, ratio=response.compare == "ratio", unit=response.unit),
            *(_at(one, row) for one in found),
        )
        for row in found[1]
        if row.term in names
    )
    if not rows:
        return None
    columns = (
        Column("changed"),
        Column("if the true difference is"),
        Column("with the smallest spread", kind="percent", decimals=0),
        Column("with the spread found", kind="percent", decimals=0),
        Column("with the largest", kind="percent", decimals=0),
    )
    caption = (
        f"In how many of 100 repeats a difference in {response.label or response.name} shows, with "
        "the smallest and with the largest spread that fit the practice run"
    )
    return Table(f"ends_{response.name}", caption, columns, rows)


def _at(rows: Sequence[PowerRow], wanted: PowerRow) -> float | None:
    for row in rows:
        if (row.term, row.difference) == (wanted.term, wanted.difference):
            return row.power
    return None
