"""Answers to questions: checked when given, applied to the readings when they are reduced.

An answer changes nothing in the record: the reading as it was written stays there for ever, and the
answer beside it. What an answer does is worked out anew each time.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from trials.errors import RecordError
from trials.files import word_as_typed
from trials.quantities import (
    Numeral,
    convert,
    convertible,
    headings,
    is_endless,
    known,
    nice,
    numeral,
    same,
    shown,
)
from trials.record.clock import clock_text, moment, shift_of, shifted
from trials.record.values import VERBS, Cell, Exchange, Place, Question, Row
from trials.reduction import Range
from trials.reduction.ranges import kept_range, outside
from trials.reduction.table import same_name
from trials.words.language import say
from trials.words.numbers import listing
from trials.words.quantity_names import quantity_name

_FACTOR = re.compile(r"[x×*]\s*(?P<by>\S.*)\Z", re.IGNORECASE)
_CODE = re.compile(r"[^\s@]{1,12}\Z")
_YES = frozenset(["yes", "y", "no", "n"])
A_CODE = "1 to 12 letters or figures, such as a team code or initials"


@dataclass(frozen=True)
class Decision:
    """What a person answers: the verb, the value behind ``correct``, why, and their code.

    ``sure``: a corrected number is right although it is outside what is usual.
    """

    verb: str
    value: str = ""
    why: str = ""
    by: str = ""
    sure: bool = False


@dataclass(frozen=True)
class Applied:
    """The readings as they stand after all answers."""

    rows: tuple[Row, ...]
    corrections: tuple[str, ...]  # one sentence an answer that changed or dropped something
    corrected: tuple[str, ...]  # the items that these sentences are about
    touched: Mapping[str, str]  # item -> the last sentence about it
    dropped: Mapping[str, str]  # item -> why readings of it were set aside
    waiting: Mapping[str, tuple[str, ...]]  # item -> questions without which it can't be used


def is_code(by: str) -> bool:
    """Return whether a text can stand for a person in the record: short, and no name."""
    return _CODE.match(by) is not None


def checked(
    question: Question, decision: Decision, items: Collection[str], rows: Sequence[Row]
) -> Decision:
    """Return the decision in its fixed form.

    Parameters
    ----------
    items : the item codes of the plan.
    rows : the readings that the question is about, as they were written, with what other answers
        say of their headings.

    Raises
    ------
    RecordError : it can't be an answer to this question; says what can.
    """
    if decision.verb not in VERBS:
        raise _refusal(question, "answer.verb", "There is no such answer.", decision.verb,
                       ", ".join(question.answers))  # fmt: skip
    if decision.verb not in question.answers:
        kept = decision.verb == "keep"
        raise _refusal(
            question, "answer.not_here",
            "What stands there can't be used as it is, so it can't be kept." if kept
            else f"There is nothing to {decision.verb.replace('-', ' ')} here.",
            decision.verb, ", ".join(question.answers)
        )  # fmt: skip
    why = " ".join(decision.why.split())
    if not why:
        raise _refusal(question, "answer.why", "An answer needs its reason.", "no reason",
                       "a few words on how you know")  # fmt: skip
    by = decision.by.strip()
    if not is_code(by):
        raise _refusal(question, "answer.by", "Say who answers by a short code, not by a name.",
                       by or "no code", A_CODE)  # fmt: skip
    value = " ".join(decision.value.split())
    if decision.verb != "correct":
        if value:
            raise _refusal(question, "answer.value", "Only 'correct' takes a value.",
                           f"{decision.verb} {value}", f"{decision.verb}")  # fmt: skip
        return Decision(decision.verb, "", why, by)
    if question.acts_on == "cell":
        _refuse_numbers(question, value, rows, sure=decision.sure)
    elif question.acts_on == "heading":
        value = _chosen_quantity(question, value, rows, sure=decision.sure)
    else:
        value = _corrected_word(question, value, items)
    return Decision("correct", value, why, by, decision.sure)


def _corrected_word(question: Question, value: str, items: Collection[str]) -> str:
    """Return a corrected code, or whether an item worked, in its fixed form."""
    if question.acts_on == "nothing":
        raise _refusal(question, "answer.value", "There is nothing to correct here.", value,
                       "keep, or set-aside")  # fmt: skip
    if question.acts_on in ("identity", "swap"):
        if question.acts_on == "swap":
            items = [code for code in (question.partner, question.item) if code]
        codes = {item.casefold(): item for item in items}
        if value.casefold() not in codes:
            raise _refusal(question, "answer.item", "That can't be the item.",
                           value or "no code", question.partner or "the code of an item of the "
                           "plan")  # fmt: skip
        return codes[value.casefold()] if question.acts_on == "identity" else str(question.partner)
    if question.acts_on == "time":
        return _corrected_time(question, value)
    if question.acts_on == "copy":
        if value not in question.choices:
            raise _refusal(question, "answer.copy", "It may be a copy of another file only.",
                           value or "no file", ", ".join(question.choices))  # fmt: skip
        return value
    if value.casefold() not in _YES:
        raise _refusal(question, "answer.worked", "Say whether it worked.", value or "nothing",
                       "yes or no")  # fmt: skip
    return "yes" if value.casefold().startswith("y") else "no"


def _corrected_time(question: Question, value: str) -> str:
    """Return a corrected time of day, or by how much the times that stand there are moved."""
    several = len(question.places) > 1
    if shift_of(value) is not None:
        return value
    said = moment(value)
    if several or said.minutes is None:
        example = question.proposal or "+12:00"
        wanted = f"by how much the times are off, such as {example}"
        raise _refusal(question, "answer.time", "That is no time that this could be.",
                       value or "nothing", wanted if several else "a time such as 14:05, or "
                       + wanted)  # fmt: skip
    date = f"{said.date.isoformat()} " if said.date is not None else ""
    return date + clock_text(said.minutes)


def _chosen_quantity(question: Question, value: str, rows: Sequence[Row], *, sure: bool) -> str:
    """Return which quantity a heading means, with the unit of its numbers, in its fixed form."""
    for name, unit in headings(value):
        for choice in question.choices:
            (wanted, own), *_ = headings(choice)
            own = own or ""
            if same_name(name) != same_name(wanted):
                continue
            given = question.unit if convertible(question.unit, own) else own
            if unit and not convertible(unit, own):
                raise _refusal(question, "answer.unit", "That can't be its unit.", unit,
                               f"{nice(own)}, or a unit of the same kind" if own
                               else "no unit")  # fmt: skip
            if unit and not sure:
                _refuse_other_unit(question, wanted, unit)
            given = unit or given
            _refuse_second(question, wanted, rows)
            return f"{wanted} ({given})" if given else wanted
    raise _refusal(question, "answer.quantity", "That is none of the quantities that this may be.",
                   value or "nothing", ", ".join(question.choices))  # fmt: skip


def _refuse_other_unit(question: Question, quantity: str, unit: str) -> None:
    """Refuse a unit that is not the one that the heading itself gives."""
    if question.unit and not same(unit, question.unit):
        raise _refusal(
            question, "answer.heading_unit", "The heading itself gives another unit.",
            f"{nice(unit)}, under '{question.column}'", f"{quantity} ({question.unit})",
            do=f"If the heading is right, answer correct "
            f"{word_as_typed(f'{quantity} ({question.unit})')}. If the numbers are in {nice(unit)} "
            "all the same, give the same answer with --sure behind it.",
        )  # fmt: skip


def _refuse_second(question: Question, quantity: str, rows: Sequence[Row]) -> None:
    """Refuse a heading as a quantity that another column of the same rows is already."""
    twice = [row for row in rows if row.cell(quantity) is not None]
    if twice:
        raise _refusal(question, "answer.quantity_twice",
                       "Another column of this table is that quantity already.",
                       f"{quantity} in row {twice[0].place.row}", "one column for each quantity",
                       do="Answer set-aside for the heading that is not meant. If it is the other "
                       "one, answer that with set-aside first. If both are readings of it, number "
                       f"the headings in the file, '{quantity} 1' and '{quantity} 2', and collect "
                       "it again.")  # fmt: skip


def _refuse_numbers(question: Question, value: str, rows: Sequence[Row], *, sure: bool) -> None:
    """Refuse a correction that leaves no number, or one that can't be or is not usual."""
    amended = _amended(question, value)
    one = isinstance(amended, Decimal)
    said = replace(question, answer_value=value)
    numbers = [_new_cell(said, row.cell(question.column or "")).value for row in rows]
    if None in numbers:
        raise _refusal(question, "answer.number", "There is no number here that this could mend.",
                       value, _number_wanted(question))  # fmt: skip
    found = [number for number in numbers if number is not None]
    possible, usual = _range(question.possible), _range(question.usual)
    wrong = [number for number in found if outside(number, possible)]
    if wrong:
        raise _refusal(question, "answer.impossible", "That number isn't possible either.",
                       value if one else f"{value}: {shown(wrong[0])}",
                       str(kept_range(possible, question.unit)))  # fmt: skip
    if one and len(question.places) > 1 and not question.code.startswith("missing"):
        raise _refusal(question, "answer.several",
                       f"The question is about {len(question.places)} numbers, not one.", value,
                       f"a unit, such as {question.proposal or 'the one that was used'}, or a "
                       "factor such as x0.1")  # fmt: skip
    unusual = [number for number in found if outside(number, usual)]
    if unusual and not sure:
        raise _refusal(question, "answer.unusual", "That number is outside what is usual.",
                       value if one else f"{value}: {shown(unusual[0])}",
                       str(kept_range(usual, question.unit)),
                       do="Look at the number and its unit again. If it is right all the same, "
                       "give the same answer with --sure behind it.")  # fmt: skip


def _range(ends: tuple[str | None, str | None]) -> Range:
    low, high = (None if end is None else Decimal(end) for end in ends)
    return (low, high)


def _amended(question: Question, value: str) -> Decimal | str | tuple[Decimal]:
    """Return a number in the column's unit, a unit, or (factor,)."""
    if question.endless and is_endless(value):
        return Decimal("Infinity")
    factor = _FACTOR.match(value)
    number = numeral(factor["by"] if factor else value)
    if number is not None:
        plain = _one_value(question, value, number)
        if factor:
            return (plain,)
        if not number.unit:
            return plain
        if convertible(number.unit, question.unit):
            return convert(plain, number.unit, question.unit)
    elif value and not factor and known(value) and convertible(value, question.unit):
        return value
    allowed = f"{_number_wanted(question)}, the unit that was used, or a factor such as x0.1"
    raise _refusal(question, "answer.number", "That is no number this column can take.",
                   value or "nothing", allowed)  # fmt: skip


def _number_wanted(question: Question) -> str:
    number = f"a number in {nice(question.unit)}" if nice(question.unit) else "a number"
    return f"{number}, open" if question.endless else number


def _one_value(question: Question, text: str, number: Numeral) -> Decimal:
    if number.point is None or (number.comma is not None and "," in text and not number.plain):
        if number.comma is not None and number.point is None:
            return number.comma
        raise _refusal(question, "answer.comma", "That number can be read in two ways.", text,
                       f"{shown(number.comma or Decimal(0))} or "
                       f"{shown(number.point or Decimal(0))}")  # fmt: skip
    return number.point


def _refusal(
    question: Question, code: str, what: str, found: str, allowed: str, *, do: str = ""
) -> RecordError:
    return RecordError(
        what, code=code, where=f"question {question.id}", found=found, allowed=allowed,
        do=do or question.do,
    )  # fmt: skip


def _changes(question: Question) -> bool:
    """Return whether a question changes the readings as it stands now, or holds some back."""
    if _settles_heading(question):
        return True
    return question.must if question.answer is None else question.answer != "keep"


def applied(
    rows: Sequence[Row], questions: Iterable[Question], exchanges: Sequence[Exchange] = ()
) -> Applied:
    """Return the readings with every answer applied, then every exchange of two labels.

    A reading that a question puts in doubt is used as it was read until the question is settled,
    except where the question says that it must be settled first: then that number, or that whole
    row where its item is in doubt, takes no part, and ``waiting`` names it.
    """
    asked = sorted((question for question in questions if _changes(question)), key=_order)
    if not asked and not exchanges:
        return Applied(tuple(row for row in rows if row.item), (), (), {}, {}, {})
    written = {row.place: row for row in with_headings(rows, asked)}
    table = dict(written)
    corrections = [_heading_sentence(question) for question in asked if _settles_heading(question)]
    touched: dict[str, str] = {}
    dropped: dict[str, str] = {}
    waiting: dict[str, tuple[str, ...]] = {}
    for question in asked:
        here = {place: table[place] for place in question.places if place in table}
        if not here or _settles_heading(question):
            continue
        if question.answer is None:
            table.update(_without(here, question))
            for item in {row.item for row in here.values()} | {question.item or ""}:
                waiting[item] = (*waiting.get(item, ()), question.id)
            continue
        if question.answer == "set-aside":
            for item in {row.item for row in here.values()}:
                dropped[item] = question.answer_why
            table.update(_without(here, question))
        else:
            for place, row in here.items():
                table[place] = _mended(row, question, written[place])
        after = [table[place] for place in here]
        said = _as_said(question, [written[place] for place in here])
        sentence = _sentence(question, list(here.values()), after, said)
        corrections.append(sentence)
        touched.update(dict.fromkeys([row.item for row in here.values()], sentence))
        touched.update(dict.fromkeys([table[place].item for place in here], sentence))
    corrected = tuple(item for item in touched if item)
    places = _places_by_item(table if exchanges else {})
    for exchange in exchanges:
        other = {exchange.item: exchange.partner, exchange.partner: exchange.item}
        _exchange(table, written, places, other)
        told = say(
            "labels of {items} exchanged: {why}",
            items=listing([exchange.item, exchange.partner]),
            why=exchange.why,
        )
        for item in other:
            touched[item] = f"{touched[item]}; {told}" if item in touched else told
        dropped = {other.get(item, item): why for item, why in dropped.items()}
        waiting = {other.get(item, item): asked for item, asked in waiting.items()}
    kept = tuple(table[row.place] for row in rows if table[row.place].item)
    return Applied(kept, tuple(corrections), corrected, touched, dropped, waiting)


def with_headings(rows: Sequence[Row], questions: Iterable[Question]) -> tuple[Row, ...]:
    """Return the readings with what is settled about their headings.

    What stands under a heading that is still asked about stays as it is.
    """
    settled = [question for question in questions if _settles_heading(question)]
    if not settled:
        return tuple(rows)
    table = {row.place: row for row in rows}
    for question in settled:
        here = {place: table[place] for place in question.places if place in table}
        table.update(_read_as(question, here))
    return tuple(table[row.place] for row in rows)


def brought_by_headings(questions: Iterable[Question]) -> list[Question]:
    """Return the questions about numbers that answers have made those of a quantity."""
    found = []
    for question in questions:
        if question.acts_on == "heading" and question.answer == "correct":
            (name, _), *_ = headings(question.answer_value)
            mine = [one for one in question.then if same_name(one.column or "") == same_name(name)]
            found.extend(mine)
    return found


def _read_as(question: Question, here: Mapping[Place, Row]) -> dict[Place, Row]:
    """Return rows in which the numbers under a heading are those of a quantity, or left out."""
    if question.answer != "correct":
        return _without(here, question)
    (name, unit), *_ = headings(question.answer_value)
    own = next(
        (has or "" for wanted, has in (headings(choice)[0] for choice in question.choices)
         if same_name(wanted) == same_name(name)), ""
    )  # fmt: skip
    table = {}
    for place, row in here.items():
        cells = [
            _of_quantity(cell, name, unit or "", own, question.unit)
            if cell.column == question.column
            else cell
            for cell in row.cells
        ]
        table[place] = replace(row, cells=tuple(cells))
    return table


def _of_quantity(cell: Cell, name: str, unit: str, own: str, heading: str) -> Cell:
    """Return a number under a heading as one of a quantity whose own unit is ``own``.

    A unit that was typed beside the number goes before that of the heading.
    """
    typed = cell.unit if cell.unit != heading else unit
    fits = cell.number is not None and convertible(typed, own)
    value = convert(cell.number, typed, own) if fits and cell.number is not None else None
    return replace(cell, column=name, unit=typed, value=value)


def _settles_heading(question: Question) -> bool:
    return question.acts_on == "heading" and question.answer is not None


def _heading_sentence(question: Question) -> str:
    what = say("'{column}' in {file}", column=question.column, file=question.file)
    because = _because(question)
    if question.answer == "correct":
        return say(
            "{what}: read as {value}, {because}",
            what=what,
            value=question.answer_value,
            because=because,
        )
    return say("{what}: left out, {because}", what=what, because=because)


def _because(question: Question) -> str:
    return say("because: {why} ({by})", why=question.answer_why, by=question.answer_by)


def _places_by_item(table: Mapping[Place, Row]) -> defaultdict[str, set[Place]]:
    found: defaultdict[str, set[Place]] = defaultdict(set)
    for place, row in table.items():
        found[row.item].add(place)
    return found


def _exchange(
    table: dict[Place, Row],
    written: Mapping[Place, Row],
    places: defaultdict[str, set[Place]],
    other: Mapping[str, str],
) -> None:
    """Put the rows of two items under each other's code; not those an answer moved already."""
    moving = {
        item: {at for at in places[item] if written[at].item != other[item]} for item in other
    }
    for item, those in moving.items():
        table.update({at: replace(table[at], item=other[item]) for at in those})
        places[item] -= those
        places[other[item]] |= those


def _order(question: Question) -> tuple[int, int]:
    """Headings first, then numbers, then codes: an exchange takes the corrected numbers along."""
    kinds = ("heading", "cell", "worked", "time", "identity", "swap", "copy", "nothing")
    return (kinds.index(question.acts_on), int(question.id.lstrip("Q") or 0))


def _without(here: Mapping[Place, Row], question: Question) -> dict[Place, Row]:
    """Return the rows without the number in doubt, or emptied where the whole row is in doubt."""
    if question.acts_on == "nothing":
        return dict(here)
    if question.acts_on == "time":
        return {place: replace(row, time="") for place, row in here.items()}
    if question.acts_on not in ("cell", "heading"):
        return {place: replace(row, item="", cells=()) for place, row in here.items()}
    return {
        place: replace(row, cells=tuple(c for c in row.cells if c.column != question.column))
        for place, row in here.items()
    }


def _mended(row: Row, question: Question, written: Row) -> Row:
    """Return the row with one answer applied.

    A unit or a factor works on the number as it was written, so two answers never add up.
    """
    if question.acts_on == "identity":
        return replace(row, item=question.answer_value)
    if question.acts_on == "swap":
        pair = {question.item: question.partner or "", question.partner: question.item or ""}
        return replace(row, item=pair.get(row.item, row.item))
    if question.acts_on == "worked":
        return replace(row, worked=question.answer_value == "yes")
    if question.acts_on == "time":
        by = shift_of(question.answer_value)
        time = question.answer_value if by is None else shifted(written.time, by)
        return replace(row, time=time)
    new = _new_cell(question, written.cell(question.column or ""))
    others = tuple(cell for cell in row.cells if cell.column != question.column)
    return replace(row, cells=(*others, new))


def _new_cell(question: Question, old: Cell | None) -> Cell:
    amended = _amended(question, question.answer_value)
    if isinstance(amended, Decimal):
        value: Decimal | None = amended
    elif old is None or old.number is None:
        value = None
    elif isinstance(amended, str):
        value = convert(old.number, amended, question.unit)
    else:
        value = None if old.value is None else old.value * amended[0]
    text = old.text if old is not None else ""
    return Cell(question.column or "", text, question.unit, value, value)


def bare_with_unit(text: str, unit: str) -> str:
    """Return a text, with a unit behind it where it is a number without one.

    Examples
    --------
    >>> bare_with_unit("0,80", "W/m^2"), bare_with_unit("80 mW/cm2", "W/m^2")
    ('0,80 W/m²', '80 mW/cm2')
    >>> bare_with_unit("x0.1", "V"), bare_with_unit("5", "")
    ('x0.1', '5')
    """
    said = numeral(text)
    return text if said is None or said.unit else f"{text} {nice(unit)}".strip()


def _as_said(question: Question, typed: Sequence[Row]) -> str:
    """Return what stood there and what an answer makes of it, numbers with their units."""
    found, value = question.found, question.answer_value
    if question.acts_on == "cell":
        value = bare_with_unit(value, question.unit)
        old = typed[0].cell(question.column or "") if len(typed) == 1 else None
        if old is not None and old.text == found:
            found = bare_with_unit(found, old.unit)
        else:
            found = question.found_told
    if question.acts_on == "worked":
        value = say("yes") if value == "yes" else say("no")
    return say("'{found}' corrected to '{value}'", found=found, value=value)


def _sentence(question: Question, rows: Sequence[Row], mended: Sequence[Row], said: str) -> str:
    """Return what an answer did, for the list of corrections; ``said``: what was corrected."""
    items = list(dict.fromkeys(row.item for row in rows))
    who = ", ".join(items)
    if len(rows) == 1 and rows[0].reading:
        who = say("{item}, reading {number}", item=who, number=rows[0].reading)
    because = _because(question)
    if question.acts_on == "swap" and question.answer == "correct":
        both = listing([one for one in (question.item, question.partner) if one])
        return say("{items} exchanged, {because}", items=both, because=because)
    if question.acts_on == "identity" and question.answer == "correct":
        return say(
            "{what}: read as {value}, {because}",
            what=who,
            value=question.answer_value,
            because=because,
        )
    what = who
    if question.acts_on in ("cell", "worked", "time"):
        what = f"{who}, {quantity_name(question.column or '')}"
    if question.answer == "set-aside":
        return say(
            "{what}: set aside ({n} of its rows), {because}",
            what=what,
            n=len(rows),
            because=because,
        )
    cells = [cell for row in mended if (cell := row.cell(question.column or "")) is not None]
    usual_range = _range(question.usual)
    unusual = any(c.value is not None and outside(c.value, usual_range) for c in cells)
    if unusual:
        usual = kept_range(usual_range, question.unit).said()
        said = say("{corrected} (outside the usual {usual})", corrected=said, usual=usual)
    return f"{what}: {said}, {because}"
