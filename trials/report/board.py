"""The display board: tiles from the words that a person may edit, and results from the findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from trials.analysis.findings import ResponseFindings
from trials.errors import TextError
from trials.render.blocks import Bullets, Figure, Paragraph
from trials.render.dots import dot_figure
from trials.render.symbols import symbol_of
from trials.render.table import Column, Table
from trials.render.tiles import (
    Board,
    Frame,
    Hanging,
    PictureRow,
    Pictures,
    Sign,
    Signs,
    Small,
    Tile,
    TileBlock,
)
from trials.render.typeset import Paper
from trials.report import plots
from trials.report.board_draft import (
    DRAWN,
    board_draft,
    results_of,
    study_texts,
    title_problem,
)
from trials.report.board_facts import Told, untold
from trials.report.edited import check, free_text, fresh, keys_used, renewed
from trials.report.marked import Braces, Marked, refuse_empty_headings, taken_apart
from trials.report.story import Story, short_code
from trials.report.variables import means_table
from trials.words import board as words
from trials.words import edited as refused
from trials.words.cautions import code_text, sorted_codes
from trials.words.durations import duration
from trials.words.forbidden import find_causal, find_forbidden
from trials.words.language import say
from trials.words.numbers import capital, confidence_text, listing, plural
from trials.words.pictures import picture_of

NAME = "board.md"
_GRAPHS_A_PAGE = 2  # variables on one tile
# Inches of a variable's graph before it is printed three times as large.
_HEIGHTS: Mapping[Paper, float] = MappingProxyType({"a4": 1.2, "us-letter": 1.06})


@dataclass(frozen=True)
class Edited:
    """A person's text with today's results, and what there is to say of it."""

    text: str
    notes: tuple[str, ...]


def edited_board(story: Story, told: Mapping[str, Told], text: str | None) -> Edited:
    """Return board.md: a draft where a person has written nothing yet, else their text, renewed.

    Raises
    ------
    TextError : it says what the findings don't, or the title names a winner too early.
    """
    results = results_of(told)
    draft = board_draft(story, told)
    if text is None:
        return Edited(draft, ())
    own = fresh(text, draft)
    if own is not None:
        return Edited(own, ())
    check(NAME, text, results, DRAWN, (*study_texts(story), free_text(draft, results)))
    marked = _marked(text, told)
    _refuse_title(story, marked)
    refuse_empty_headings(NAME, marked)
    notes = [refused.not_told(NAME, key) for key in untold(told, keys_used(text))]
    below = (one.key for one in marked[0].blocks if isinstance(one, Braces) and one.key in DRAWN)
    notes += [refused.not_below_title(NAME, key) for key in dict.fromkeys(below)]
    notes += words_notes(story, NAME, free_text(text, results))
    return Edited(renewed(text, results), tuple(notes))


def words_notes(story: Story, name: str, free: str) -> list[str]:
    """Return a note for each word of a person that tells more than the findings do."""
    own = " ".join(study_texts(story)).casefold()
    notes = [
        refused.said_otherwise(name, found.word, found.instead)
        for found in find_forbidden(free)
        if found.word.casefold() not in own
    ]
    if any(found.n_failed for found in story.responses):
        notes += [
            refused.said_cause(name, word)
            for word in find_causal(free)
            if word.casefold() not in own
        ]
    return list(dict.fromkeys(notes))


def _refuse_title(story: Story, marked: tuple[Marked, ...]) -> None:
    title = marked[0].title if marked else ""
    if not title:
        raise TextError(
            refused.WHAT_NO_TITLE.format(name=NAME),
            code="report.no_title",
            where=NAME,
            allowed=refused.ALLOWED_NO_TITLE,
            do=refused.DO_NO_TITLE,
        )
    problem = title_problem(story, title)
    if problem is not None:
        what = refused.WHAT_TITLE if problem == "open" else refused.WHAT_TITLE_OTHER
        raise TextError(
            what.format(name=NAME),
            code="report.title",
            where=NAME,
            found=title,
            allowed=refused.ALLOWED_TITLE,
            do=refused.DO_TITLE,
        )


def _marked(text: str, told: Mapping[str, Told]) -> tuple[Marked, ...]:
    def inline(braces: Braces) -> str | None:
        one = told.get(braces.key)
        return one.text if one is not None and one.kind == "inline" else None

    return taken_apart(text, inline)


def board_of(story: Story, told: Mapping[str, Told], text: str, paper: Paper = "a4") -> Board:
    """Return the board of a text that was checked."""
    top, *rest = _marked(text, told)
    lines = _lines(story, told, top, paper)
    note = story.study.note
    tiles = (Tile(one.title, _tile_blocks(story, told, one, paper)) for one in rest)
    return Board(
        title=top.title,
        lines=tuple(line for line in lines if line != note),
        small=(note,) if note else (),
        tiles=tuple(tile for tile in tiles if tile.blocks),
        hanging=hanging_of(story),
        foot=(
            *((note,) if note else ()),
            say("check code {short_code}", short_code=short_code(story.plan.digest())),
        ),
    )


def _lines(story: Story, told: Mapping[str, Told], top: Marked, paper: Paper) -> list[str]:
    """Return what stands below the title line by line, for its tile holds nothing but lines."""
    lines: list[str] = []
    for block in _tile_blocks(story, told, top, paper):
        if isinstance(block, Paragraph):
            lines.append(f"{block.opening} {block.text}".strip())
        elif isinstance(block, Bullets):
            lines += block.items
    return lines


def hanging_of(story: Story) -> Hanging:
    """Return the words of the page that says how the tiles hang."""
    return Hanging(
        title=words.HANGING_TITLE,
        intro=words.HANGING_INTRO,
        fits=words.HANGING_FITS,
        floor=words.HANGING_FLOOR,
        too_many=words.HANGING_TOO_MANY,
        page=words.HANGING_PAGE,
        places=words.HANGING_PLACES,
        more=words.HANGING_MORE,
        notes=words.hanging_notes(plural(story.item)),
    )


def _tile_blocks(
    story: Story, told: Mapping[str, Told], one: Marked, paper: Paper
) -> tuple[TileBlock, ...]:
    out: list[TileBlock] = []
    for block in one.blocks:
        if isinstance(block, Paragraph | Bullets):
            out.append(block)
        elif block.key in told:
            for part in told[block.key].blocks():
                if isinstance(part, Paragraph | Bullets):
                    out.append(part)
        else:
            out += _drawn(story, block, paper)
    return tuple(out)


def _drawn(story: Story, braces: Braces, paper: Paper) -> list[TileBlock]:
    found = story.responses[0] if story.responses else None
    match braces.key:
        case "versions":
            return [_versions(story)]
        case "steps":
            return _steps(story)
        case "safety":
            return _safety(story)
        case "table":
            return _averages(story, found) if found else []
        case "graph":
            return _graphs(story, found, _HEIGHTS[paper]) if found else []
        case _:
            return [Frame(braces.said or words.PHOTOS, words.CREDIT_PHOTO)]


def _versions(story: Story) -> Table:
    columns = (Column("variable"), Column("versions"))
    rows = tuple(
        (
            story.factor_label(factor.name),
            listing([story.short_level(factor.name, level) for level in factor.levels]),
        )
        for factor in story.study.factors
    )
    return Table("board-versions", "", columns, rows)


def _steps(story: Story) -> list[TileBlock]:
    rows = []
    for step in story.study.steps:
        label = capital(step.label or step.name)
        changed = [story.factor_label(name) for name in step.factors]
        lines = [listing(step.equipment)] if step.equipment else []
        lines += [say("changed here: {changed}", changed=listing(changed))] if changed else []
        lines += [time] if (time := _time(step.minutes, step.waiting)) else []
        signs = [symbol_of(code) for caution in step.cautions for code in caution.iso7010]
        drawn = tuple(dict.fromkeys(sign for sign in signs if sign))
        name = picture_of(step.name, step.label, step.equipment)
        rows.append(PictureRow(name, label, tuple(lines), drawn))
    if not rows:
        return [Paragraph(words.NO_STEPS)]
    return [Pictures(tuple(rows)), Small(words.CREDIT_DRAWN)]


def _time(minutes: float | None, waiting: float | None) -> str:
    parts = [duration(minutes)] if minutes else []
    parts += [say("wait {duration}", duration=duration(waiting))] if waiting else []
    return say(", then ").join(parts)


def _safety(story: Story) -> list[TileBlock]:
    cautions = [caution for step in story.study.steps for caution in step.cautions]
    if not cautions:
        return [Paragraph(words.NO_CAUTIONS), Small(words.SAFETY_LINE)]
    signs = sorted_codes(code for one in cautions for code in one.iso7010)
    on_bottles = sorted_codes(code for one in cautions for code in one.ghs)
    entries = [Sign(symbol_of(code) or "", code_text(code)) for code in signs]
    entries += [Sign("", one.text) for one in cautions if not one.iso7010 and not one.ghs]
    blocks: list[TileBlock] = [Signs(tuple(entries))] if entries else []
    if on_bottles:
        told = "; ".join(code_text(code) for code in on_bottles)
        blocks.append(Small(f"{words.ON_BOTTLES}: {told}."))
    return [*blocks, Small(words.SAFETY_LINE)]


def _averages(story: Story, found: ResponseFindings) -> list[TileBlock]:
    tables: list[TileBlock] = []
    for factor in story.study.factors:
        whole = means_table(story, found, factor.name)
        if not whole.rows:
            continue
        columns = tuple(replace(column, title=_short(column), unit="") for column in whole.columns)
        keep = [place for place, column in enumerate(columns) if column.name != "items"]
        table = replace(
            whole,
            name=f"board-{whole.name}",
            caption="",
            columns=tuple(columns[place] for place in keep),
            rows=tuple(tuple(row[place] for place in keep) for row in whole.rows),
            notes=(),
        )
        tables.append(table)
    if not tables:
        return [Paragraph(words.NO_TABLE)]
    intro = words.table_intro(
        story.response_label(found.name),
        found.unit,
        confidence_text(story.confidence),
        ratio=found.scale == "ratio",
    )
    return [Small(intro), *tables]


def _short(column: Column) -> str:
    return column.title if column.name == "version" else column.name


def _graphs(story: Story, found: ResponseFindings, height: float) -> list[TileBlock]:
    """Return the main figure again in large letters, two variables to a tile."""
    plot = plots.overview_plot(story, found)
    caption = words.graph_caption(
        plot.label,
        plot.unit,
        story.item,
        confidence_text(story.confidence),
        log=plot.log,
    )
    pictures: list[Figure] = []
    for place in range(0, len(plot.panels), _GRAPHS_A_PAGE):
        part = replace(
            plot,
            name=f"{plot.name}-board-{place // _GRAPHS_A_PAGE + 1}",
            panels=plot.panels[place : place + _GRAPHS_A_PAGE],
            caption=f"{caption} {words.CREDIT_GRAPH}",
            margin=None,
            large=height,
        )
        pictures.append(dot_figure(part))
    return list(pictures)
