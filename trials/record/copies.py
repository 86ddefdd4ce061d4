"""A file that says mostly what another one says: a newer copy of it under another name?

A table that was put right and saved under another name has the same readings once more. Taken in
beside the older one, each of them would be asked about. So it is asked once of the whole file, and
nothing of it counts until that is settled.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from trials.errors import RecordError
from trials.files import word_as_typed
from trials.record.kept_files import CurrentFile
from trials.record.values import Question, Row, worded
from trials.words.keeping import kept

NEWER_COPY = "newer_copy"
_FEWEST = 4  # readings that two files share
_OF_OLDER = 0.8  # share of the older one's numbers that the newer one has too
_EQUAL = 0.6  # share of these that are equal


@dataclass(frozen=True)
class Copy:
    """The file that another one says mostly the same as, and how many of its numbers are equal."""

    name: str
    revision: int
    equal: int
    shared: int


def copied_file(
    rows: Sequence[Row], files: Iterable[tuple[str, int, Sequence[Row]]]
) -> Copy | None:
    """Return the file that readings are likely a newer copy of, if there is one.

    Parameters
    ----------
    files : name, revision and readings of each file that counts now.
    """
    mine = _numbers(rows)
    found: list[Copy] = []
    for name, revision, old in files:
        theirs = _numbers(old)
        shared = [key for key in theirs if key in mine]
        readings = {(item, reading) for item, reading, _ in shared}
        equal = sum(theirs[key] == mine[key] for key in shared)
        enough = len(readings) >= _FEWEST and len({item for item, _ in readings}) > 1
        if enough and len(shared) >= _OF_OLDER * len(theirs) and equal >= _EQUAL * len(shared):
            found.append(Copy(name, revision, equal, len(shared)))
    return max(found, key=lambda one: (one.equal, one.name), default=None)


def _numbers(rows: Sequence[Row]) -> dict[tuple[str, int | None, str], Decimal | str]:
    return {
        (row.item, row.reading, cell.column): cell.text if cell.value is None else cell.value
        for row in rows
        for cell in row.cells
    }


def about_copy(copy: Copy, name: str, revision: int) -> Question:
    """Return the question whether a file is a newer copy of another one.

    Parameters
    ----------
    name, revision : of the file that is asked about.
    """
    found = kept(
        "{equal} of {shared} numbers stand in {other} too (version {version} there, {own} here)",
        equal=copy.equal,
        shared=copy.shared,
        other=copy.name,
        version=copy.revision,
        own=revision,
    )
    why = kept(
        "This looks like a newer copy of {other} under another name: does it take its place? "
        "Nothing of it counts until that is settled.",
        other=copy.name,
    )
    return Question(
        id="",
        code=NEWER_COPY,
        file=name,
        row=None,
        item=None,
        column=None,
        **worded(found, why),
        do=f"correct {word_as_typed(copy.name)}, if it is a newer copy of that file: it takes its "
        "place, and the older one is kept; keep, if all of it was measured once more and both "
        "count; set-aside, if it should not count.",
        acts_on="copy",
        choices=(copy.name,),
        proposal=copy.name,
        must=True,
    )


def held_back(questions: Iterable[Question], names: Collection[str]) -> Question | None:
    """Return the question that holds back all of one of these files, if there is one."""
    return next((one for one in questions if one.acts_on == "copy" and one.file in names), None)


def waiting_copies(questions: Iterable[Question]) -> list[Question]:
    """Return the questions that hold back a file and that nobody has answered."""
    return [one for one in questions if one.acts_on == "copy" and one.answer is None]


def overtaken(question: Question, current: Mapping[str, CurrentFile]) -> bool:
    """Return whether the other file has changed since a file was held back.

    Parameters
    ----------
    current : the files that count now; their numbers grow in the order in which they came.
    """
    return current[question.proposal][0] > current[question.file][0]


def refuse_overtaken_copy(question: Question, current: Mapping[str, CurrentFile]) -> None:
    """Refuse to put a file in the place of one that has changed since it was compared with it.

    Raises
    ------
    RecordError : it has changed.
    """
    if not overtaken(question, current):
        return
    other = question.proposal
    raise RecordError(
        f"{other} has changed since this was asked, and {question.file} would put the older "
        "numbers back.",
        code="answer.copy_overtaken",
        where=f"question {question.id}",
        found=f"version {current[other][1]} of {other} came after {question.file}",
        allowed="keep or set-aside",
        do=f"Collect {question.file} once more: it is compared with the new version, and you are "
        "asked again."
        if question.answer is None
        else f"Put the numbers that are right into {other}, and collect that.",
    )


def refuse_settled_copy(question: Question) -> None:
    """Refuse another answer once a file has taken the place of another one.

    Raises
    ------
    RecordError : it has.
    """
    if question.acts_on == "copy" and question.answer == "correct":
        raise RecordError(
            "That file has taken the place of the other one already.",
            code="answer.copy_taken",
            where=f"question {question.id}",
            found=f"{question.file} counts as the newer version of {question.answer_value}",
            allowed="one answer",
            do=f"To go back, collect the right version of {question.answer_value} again under "
            "that name.",
        )
