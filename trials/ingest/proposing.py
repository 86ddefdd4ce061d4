"""Headings that study and plan don't know but that likely mean a quantity still missing: asked.

What stands under such a heading is kept beside the readings, and is nobody's number until a person
says what it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trials.files import word_as_typed
from trials.ingest.grid import Line, Sheet
from trials.ingest.heading_text import likely_quantities, unit_at_end
from trials.ingest.headings import (
    SEARCHED,
    Heading,
    Layout,
    Vocabulary,
    item_column,
)
from trials.ingest.headings import heading_of as known_heading
from trials.ingest.missing import is_missing
from trials.quantities import nice, numeral
from trials.record.values import VERBS, Question, Row, worded
from trials.reduction import Column
from trials.study.writing import toml_value
from trials.words.gone import LOST, UNMADE
from trials.words.keeping import Kept, kept, kept_list
from trials.words.language import marked
from trials.words.quantity_names import kept_quantity

_FEWEST_CODES = 2  # of the plan, in a column that likely holds the items
_LONGEST = 200  # letters of a heading that are told
_OURS = (LOST, UNMADE)  # what our own workbook writes beside a line that it struck out
_NAMED = 4  # columns without a heading that are told
_EXAMPLE = 40  # letters of what stands there
_SAMPLE = 200  # lines looked at below a heading
_MOST_UNLIKELY = 4  # headings that are asked about though nothing says that they are a quantity
_NO_OTHER = marked("No other column is known to be it.")


@dataclass(frozen=True)
class Proposal:
    """A heading that may mean one of some quantities. Its own "column" is called by its text."""

    heading: Heading
    choices: tuple[Column, ...]
    why: str
    likely_so: bool = True  # the heading itself says something for it

    @property
    def meanings(self) -> tuple[str, ...]:
        """Each quantity that it may be, with the heading's own unit, or else the quantity's."""
        units = [(c.name, self.heading.unit or c.unit) for c in self.choices]
        return tuple(f"{name} ({unit})" if unit else name for name, unit in units)

    @property
    def likely(self) -> str:
        """The one likely quantity with its unit; empty where there are several."""
        return self.meanings[0] if len(self.meanings) == 1 else ""


def proposals(layout: Layout, words: Vocabulary, lines: Sequence[Line]) -> tuple[Proposal, ...]:
    """Return the unknown headings over numbers that may mean a quantity without a column.

    Parameters
    ----------
    lines : those below the headings.
    """
    unread = _unread(layout, lines)
    asked = quantities_asked(unread.values(), _missing(layout, words))
    unlikely = [text for text, (_, why) in asked.items() if why == _NO_OTHER]
    if len(unlikely) > _MOST_UNLIKELY or not (layout.raw or len(asked) > len(unlikely)):
        asked = {text: one for text, one in asked.items() if text not in unlikely}
    found = []
    for index, text in unread.items():
        if text in asked:
            choices, why = asked[text]
            unit = unit_at_end(text) or ""
            column = Column(text, unit, required=any(one.required for one in choices))
            heading = Heading(index, column, unit, bool(unit), True, text)
            found.append(Proposal(heading, choices, why, why != _NO_OTHER))
    return tuple(found)


def quantities_asked(
    texts: Iterable[str], missing: Sequence[Column]
) -> dict[str, tuple[tuple[Column, ...], str]]:
    """Return which missing quantities each heading may mean, and why; those that mean none are out.

    A quantity that is needed, and that no heading likely means, may be any that says nothing else.
    """
    texts = list(texts)
    found = {text: one for text in texts if (one := likely_quantities(text, missing))[0]}
    claimed = {column.name for choices, _ in found.values() for column in choices}
    left = tuple(c for c in missing if c.required and c.name not in claimed)
    if left:
        found |= {
            text: (left, _NO_OTHER)
            for text in texts
            if text not in found and not unit_at_end(text) and len(text) <= _LONGEST
        }
    return found


def _missing(layout: Layout, words: Vocabulary) -> list[Column]:
    have = {heading.column.name for heading in layout.raw}
    return [column for column in words.columns if column.name not in have]


def _unread(layout: Layout, lines: Sequence[Line]) -> dict[int, str]:
    """Return the unknown headings above numbers, by their places; none that stands there twice."""
    texts = [text for _, text in layout.unknown]
    return {
        index: text
        for index, text in layout.unknown
        if texts.count(text) == 1 and _numbers_below(lines, index)
    }


def _numbers_below(lines: Sequence[Line], index: int) -> bool:
    """Whether most of what stands under a heading are numbers."""
    texts = [t for line in lines[:_SAMPLE] if not is_missing(t := line.at(index).text)]
    return 0 < len(texts) <= 2 * sum(numeral(text) is not None for text in texts)


def unneeded_note(
    layout: Layout, asked: Sequence[Proposal], words: Vocabulary, lines: Sequence[Line]
) -> list[str]:
    """Return a sentence on columns that nothing was read of, if there are any."""
    about = {proposal.heading.index for proposal in asked}
    names = ", ".join(f"'{text}'" for index, text in layout.unknown if index not in about)
    notes = [
        f"The columns '{layout.line.at(read).text}' and '{layout.line.at(left).text}' are for the "
        "same thing: only the first was read. If the other counts, delete the first, or give it "
        "another heading, and collect the file again."
        for read, left in layout.again
    ]
    if names:
        notes.append(f"Not needed here, and kept only in the file itself: {names}.")
    claimed = {column.name for proposal in asked for column in proposal.choices}
    left = [c for c in _missing(layout, words) if c.required and c.name not in claimed]
    unread = [text for index, text in _unread(layout, lines).items() if index not in about]
    if left and len(unread) > _MOST_UNLIKELY:
        notes.append(
            f"No column is known to be '{left[0].header}'. If it is one of them, write a line such "
            "as this under [columns] in study.toml and collect the file again: "
            f"{mapping_line(unread[0], left[0].header)}"
        )
    return notes


def nameless_notes(layout: Layout, lines: Sequence[Line]) -> list[str]:
    """Return a sentence on columns without a heading in which something stands, if there are any.

    Of a table whose columns were rows it tells the rows.

    Parameters
    ----------
    lines : those below the headings.
    """
    width = max((len(line.cells) for line in lines), default=0)
    found = {}
    for index in range(width):
        if layout.line.at(index).text or index == layout.item:
            continue
        cells = (line.at(index) for line in lines)
        cell = next((cell for cell in cells if cell.text and cell.text not in _OURS), None)
        if cell is not None:
            place = f"column {index + 1}" if cell.row is None else f"row {cell.row}"
            found[place] = cell.text
    if not found:
        return []
    told = ", ".join(
        f"{place} ('{text[:_EXAMPLE]}')" for place, text in list(found.items())[:_NAMED]
    )
    more = f" and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
    return [
        f"without a heading, so not read, and kept only in the file itself: {told}{more}. If it "
        "counts, write a heading above it and collect the file again."
    ]


def heading_questions(
    rows: Sequence[Row],
    asked: Sequence[Proposal],
    layout: Layout,
    then: Mapping[int, Sequence[Question]],
) -> list[Question]:
    """Ask of each unknown heading whether it is the quantity that it seems to be.

    Parameters
    ----------
    then : by the place of the column, what is asked of its numbers once they are a quantity.
    """
    questions = []
    for proposal in asked:
        text = proposal.heading.text
        mine = [row for row in rows if row.cell(text) is not None]
        if not mine:
            continue
        names = proposal.meanings
        why = _why(proposal, mine)
        first = ", or ".join(f"correct {word_as_typed(name)}" for name in names)
        place = mine[0].place
        found = kept("a heading that this study doesn't know: '{text}'", text=text)
        questions.append(
            Question(
                id="",
                code="heading",
                file=place.file,
                sheet=place.sheet,
                row=layout.line.number,
                item=None,
                column=text,
                **worded(found, why),
                do=f"{first}, if that is what was measured; keep or set-aside, if it isn't needed. "
                f"To settle it for all files, {_mapping(text, names)}",
                acts_on="heading",
                places=tuple(row.place for row in mine),
                unit=proposal.heading.unit,
                answers=VERBS,
                choices=tuple(column.header for column in proposal.choices),
                proposal=proposal.likely if proposal.likely_so else "",
                must=proposal.likely_so and any(column.required for column in proposal.choices),
                then=tuple(then.get(proposal.heading.index, ())),
            )
        )
    return questions


def _mapping(heading: str, names: Sequence[str]) -> str:
    """Return what to write into study.toml; of several lines only one is right."""
    lines = [mapping_line(heading, name) for name in names]
    if len(lines) == 1:
        return (
            f"write this line under [columns] in study.toml and collect the file again: {lines[0]}"
        )
    return (
        "write the one of these lines that is right under [columns] in study.toml and collect the "
        f"file again: {'   or: '.join(lines)}"
    )


def _why(proposal: Proposal, rows: Sequence[Row]) -> Kept:
    text = proposal.heading.text
    cells = [cell for row in rows if (cell := row.cell(text)) is not None]
    numbers = sum(cell.number is not None for cell in cells)
    meant = [_with_unit(c, proposal.heading.unit or c.unit) for c in proposal.choices]
    return (
        kept("It may mean {meant}, which has no column here.", meant=kept_list(meant, "or"))
        + Kept(proposal.why)
        + kept(
            "Under it: {n} numbers such as {example}. They count for nothing yet."
            if numbers == len(cells)
            else "Under it: {n} numbers such as {example}, and {others} without a number. They "
            "count for nothing yet.",
            n=numbers,
            example=cells[0].text,
            others=len(cells) - numbers,
        )
    )


def _with_unit(column: Column, unit: str) -> str | Kept:
    name = kept_quantity(column.name)
    return kept("{quantity} ({unit})", quantity=name, unit=nice(unit)) if unit else name


def mapping_line(heading: str, meaning: str) -> str:
    """Return the line for study.toml.

    Examples
    --------
    >>> print(mapping_line('the "U"', "height (mm)"))
    "the \\"U\\"" = "height (mm)"
    """
    return f"{toml_value(heading)} = {toml_value(meaning)}"


def item_hint(sheets: Iterable[Sheet], words: Vocabulary) -> tuple[str, str]:
    """Return what was found, and what to do, where the column of the items has no known heading.

    Both are empty where no column holds codes of the plan.
    """
    sheets = list(sheets)
    for heads in (_heads_something, _heads_strangely):
        for sheet in sheets:
            for place, line in enumerate(sheet.lines[:SEARCHED]):
                below = sheet.lines[place + 1 : place + 1 + _SAMPLE]
                if item_column(line, words) is not None or not heads(line, words):
                    continue
                width = max((len(one.cells) for one in (line, *below)), default=0)
                for index in range(width):
                    codes = _codes_below(below, index, words)
                    if codes and (heads is _heads_something or line.at(index).text):
                        return _hint(line, index, codes)
    return "", ""


def _codes_below(below: Sequence[Line], index: int, words: Vocabulary) -> list[str]:
    """Return the codes of the plan in a column, if most of what stands there are such."""
    said = [text for one in below if (text := one.at(index).text)]
    codes = [text for text in said if text.casefold() in words.codes]
    enough = len(codes) >= min(_FEWEST_CODES, len(said)) and 2 * len(codes) > len(said)
    return codes if enough else []


def _heads_strangely(line: Line, words: Vocabulary) -> bool:
    """Whether a line may be headings none of which is known: several texts, none of them a code."""
    texts = [cell.text for cell in line.cells if cell.text]
    return len(texts) > 1 and not any(
        text.casefold() in words.codes or any(sign.isdecimal() for sign in text[:1])
        for text in texts
    )


def _heads_something(line: Line, words: Vocabulary) -> bool:
    return any(
        words.meaning(cell.text) is not None
        or known_heading(cell.text, 0, words.columns) is not None
        for cell in line.cells
        if cell.text
    )


def _hint(line: Line, index: int, codes: Sequence[str]) -> tuple[str, str]:
    heading = line.at(index).text
    such = ", ".join(list(dict.fromkeys(codes))[:3])
    if not heading:
        return (
            f"codes such as {such} in column {index + 1}, with no heading in row {line.number}",
            f"Write 'item' above the codes, in row {line.number}, and collect it again.",
        )
    if len(heading) > _LONGEST:
        return (
            f"'{heading[:_LONGEST]} ...' in row {line.number}, with codes such as {such} below it",
            f"Write 'item' in its place, in row {line.number}, and collect it again.",
        )
    return (
        f"'{heading}' in row {line.number}, with codes such as {such} below it",
        f"Write 'item' in its place; or, for all files, write this line under [columns] in "
        f"study.toml and collect it again: {mapping_line(heading, 'item')}",
    )
