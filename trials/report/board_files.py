"""The board and the abstracts as files, from the words that people edited."""

from __future__ import annotations

from dataclasses import dataclass

from trials.render.tiles import board_pdf
from trials.render.typeset import Paper
from trials.report.abstracts import abstract_text, edited_abstract
from trials.report.board import board_of, edited_board
from trials.report.board_facts import told_of
from trials.report.story import Story


@dataclass(frozen=True)
class Texts:
    """board.md and abstract.md with today's results, and what there is to say of them."""

    board: str
    abstract: str
    notes: tuple[str, ...] = ()


def edited_texts(story: Story, board: str | None, abstract: str | None) -> Texts:
    """Return the two texts, drafts where a person has none yet.

    Raises
    ------
    TextError : one of them says what the findings don't.
    """
    told = told_of(story)
    tiles, short = edited_board(story, told, board), edited_abstract(story, told, abstract)
    return Texts(tiles.text, short.text, (*tiles.notes, *short.notes))


def board_files(story: Story, texts: Texts, paper: Paper = "a4") -> dict[str, bytes]:
    """Return ``board.pdf`` and ``abstract.txt``; the same story and texts give the same bytes."""
    told = told_of(story)
    return {
        "board.pdf": board_pdf(board_of(story, told, texts.board, paper), paper),
        "abstract.txt": abstract_text(told, texts.abstract).encode(),
    }
