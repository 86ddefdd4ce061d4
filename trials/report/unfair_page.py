"""One page for a teacher to show: the same items in a fair and in an unfair class."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict

from trials.design.simulation import Share
from trials.design.unfair import READINGS, Classes, ClassOutcome, Crowned, Faults
from trials.render.blocks import Bullets, Document, Figure, Paragraph, Part, Remark, Section
from trials.render.shares import ShareBar, SharePanel, SharePlot, share_figure
from trials.render.table import Cell, Column, Table
from trials.study import Study, labels_of
from trials.words import unfair as words
from trials.words.naming import spread_name
from trials.words.numbers import given, percent, plural, times


def cast_of(study: Study, found: Classes) -> words.Cast:
    """Return who takes part, as people call it."""
    labels = labels_of(study)
    return words.Cast(
        item=study.item_name,
        factor=labels[found.factor],
        maker=labels[found.maker],
        batch=labels[found.batch] if found.batch else "",
        together=labels[found.together] if found.together else "",
        items=found.items,
        readings=READINGS,
    )


def unfair_document(study: Study, found: Classes) -> Document:
    """Return the page: its first part fits one sheet, the second is for those who ask."""
    cast = cast_of(study, found)
    habits = _habits(found, cast)
    first = (
        Section("answer", "What came of it", (_told(study, found), _figure(study, found))),
        Section("mistakes", "What the unfair class did", (Bullets(habits),)),
    )
    return Document(
        title="Two classes, the same " + plural(study.item_name),
        subtitle=words.SUBTITLE,
        note=study.note,
        foot=(f"{found.studies} simulated classes", f"seed {found.seed}"),
        parts=(
            Part("page", "Fair or unfair?", words.NOTHING_REAL, first),
            Part("technical", "For those who ask how", "", tuple(_technical(study, found, cast))),
        ),
    )


def _habits(found: Classes, cast: words.Cast) -> tuple[str, ...]:
    """Return each habit with what it does by itself, the worst first."""
    told: list[tuple[float, str]] = []
    alone_with = {_made(single.faults): single for single in found.single}
    for fault, one in words.mistakes(cast).items():
        single = alone_with[(fault,)]
        nothing = single.crowned[0]  # nothing is truly better
        share, alone = nothing.wrong.simulated, "names a winner"
        truth = "there is none"
        if single.faults.one_batch and nothing.also is not None:
            share, alone = nothing.also.simulated, f"says that {cast.batch} matters"
            truth = "it does not"
        told.append((share, one.text(words.alone_text(alone, share, truth))))
    return tuple(text for _, text in sorted(told, key=lambda one: -one[0]))


def sentences(study: Study, found: Classes) -> tuple[str, ...]:
    """Return the answer in sentences: without a difference, with the smallest, and the batch."""
    cast = cast_of(study, found)
    pairs = list(zip(found.unfair.crowned, found.fair.crowned, strict=True))
    unfair, fair = pairs[0]  # nothing is truly better
    told = [words.wrong_sentence(_wrong(unfair), _wrong(fair), cast.factor)]
    for ahead, fair_ahead in pairs[1:2]:
        told.append(
            words.better_sentence(
                _size(study, found, ahead),
                cast.factor,
                (ahead.right.simulated, _wrong(ahead)),
                _wrong(fair_ahead),
            )
        )
    if unfair.also is not None and fair.also is not None:
        shares = unfair.also.simulated, fair.also.simulated
        told.append(words.batch_sentence(*shares, cast.batch))
    return tuple(told)


def _wrong(one: Crowned) -> float:
    return one.wrong.simulated


def _size(study: Study, found: Classes, one: Crowned) -> str:
    """Return a truth's difference as a person reads it; "" where there is none."""
    response = study.response(found.response)
    if one.truth == "zero":
        return ""
    if response.compare == "ratio":
        return times(one.difference)
    return given(one.difference, response.unit)


def _told(study: Study, found: Classes) -> Remark:
    body = tuple(Paragraph(text) for text in sentences(study, found))
    return Remark("answer", "In short", body)


def _figure(study: Study, found: Classes) -> Figure:
    cast = cast_of(study, found)
    panels = tuple(
        SharePanel(
            words.truth_title(_size(study, found, fair), cast.factor),
            tuple(
                ShareBar(label, tuple(s.simulated for s in (one.right, one.wrong, one.none)))
                for label, one in ((words.FAIR, fair), (words.UNFAIR, unfair))
            ),
        )
        for fair, unfair in zip(found.fair.crowned, found.unfair.crowned, strict=True)
    )
    caption = (
        f"How many of 100 classes name a winner among the {plural(cast.factor)}, and whether it "
        "is the right one. Where all are equally good, every winner is a wrong one."
    )
    return share_figure(SharePlot("two-classes", words.ENDINGS, panels, "classes", caption))


def _technical(study: Study, found: Classes, cast: words.Cast) -> Iterator[Section]:
    response = study.response(found.response)
    spread = spread_name(None if response.spread is None else response.spread.source)
    yield Section("how", "How", (Paragraph(words.how_made(cast, found.studies, spread)),))
    yield Section("numbers", "All numbers", (_numbers(study, found, cast),))


def _numbers(study: Study, found: Classes, cast: words.Cast) -> Table:
    columns = [
        Column("class"),
        Column("truth"),
        *(Column(e, kind="percent") for e in words.SHORT),
    ]
    if cast.batch:
        columns.append(Column(f"says {cast.batch} matters", kind="percent"))
    outcomes = (found.fair, found.unfair, *found.single)
    rows = tuple(row for outcome in outcomes for row in _rows(study, found, cast, outcome))
    error = max(
        share.error for outcome in outcomes for one in outcome.crowned for share in _shares(one)
    )
    notes = (
        f"The fair class counts {found.fair.rows} {plural(cast.item)}; the unfair one counts "
        f"{found.unfair.rows} readings as if they were {plural(cast.item)}. Each share is good to "
        f"{percent(error, 1)} or better (Monte Carlo standard error).",
    )
    return Table(
        "numbers", "Of 100 classes, how many name a winner", tuple(columns), rows, notes, heads=2
    )


def _shares(one: Crowned) -> list[Share]:
    return [one.right, one.wrong, one.none, *([one.also] if one.also is not None else [])]


def _rows(
    study: Study, found: Classes, cast: words.Cast, outcome: ClassOutcome
) -> Iterator[tuple[Cell, ...]]:
    for one in outcome.crowned:
        size = _size(study, found, one) or "all equally good"
        yield (
            _class_name(cast, outcome.faults),
            size,
            *(share.simulated for share in _shares(one)),
        )


def _class_name(cast: words.Cast, faults: Faults) -> str:
    made = _made(faults)
    if not made:
        return words.FAIR
    return words.UNFAIR if len(made) > 1 else f"only: {words.mistakes(cast)[made[0]].name}"


def _made(faults: Faults) -> tuple[str, ...]:
    """Return the codes of the faults that a class makes."""
    return tuple(code for code, is_made in asdict(faults).items() if is_made)
