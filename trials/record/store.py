"""The record of one study: one file that only grows.

Every file handed in is kept byte for byte, and every reading with the text it was written as. A
file that comes again unchanged changes nothing; a changed file of the same name is a new revision,
whose readings take the place of the older one's, while the older one stays. Answers and losses are
added beside the readings and never change them. What a method reports as done is on the disk.
"""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Literal

from trials.design.values import Missing
from trials.digest import canonical_json
from trials.errors import TrialsError
from trials.record.absences import (
    add_absence,
    add_away,
    refuse_absence,
    refuse_loss,
    refuse_undone_loss,
    standing_absences,
    standing_losses,
    undone_losses,
)
from trials.record.answers import Decision, applied, brought_by_headings, checked, with_headings
from trials.record.copies import (
    Copy,
    about_copy,
    copied_file,
    held_back,
    overtaken,
    refuse_overtaken_copy,
    refuse_settled_copy,
    waiting_copies,
)
from trials.record.database import connect, transaction
from trials.record.equipment import add_missing
from trials.record.forms import (
    LOST_WITH_READINGS,
    body_of,
    gone,
    known_question,
    last_new,
    lost_with_readings,
    renamed,
    standing_questions,
)
from trials.record.history import Change, history_of
from trials.record.kept_files import (
    CurrentFile,
    add_file,
    all_files,
    content_of,
    count_readings,
    current_files,
    name_for,
    recheck_files,
    sharing,
)
from trials.record.otherwise import refuse_exchange, refuse_unfounded, standing_exchanges
from trials.record.placing import add_placed, forget_lessons
from trials.record.rows import by_item, rows_of, say_the_same
from trials.record.state import KeptFile, State, state_of
from trials.record.values import Absence, Intake, Loss, Part, Question, Row, StandIns, Taken

Check = Callable[[Sequence[Row]], Iterable[Question]]
Read = Callable[[bytes, str], Intake]  # a file's bytes, and the name to read it under


def _utc() -> datetime.datetime:
    return datetime.datetime.now(datetime.UTC)


class Store:
    """The record of one study. Use it as a context, or call :meth:`close`.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "r.db") as store:
    ...     store.lose(["K7"], why="dropped", by="T3")
    ...     [loss.item for loss in store.losses()]
    ['K7']
    """

    def __init__(
        self,
        path: Path,
        connection: sqlite3.Connection,
        now: Callable[[], datetime.datetime] = _utc,
    ) -> None:
        self._path = path
        self._connection = connection
        self._now = now
        self._kept: dict[int, tuple[Row, ...]] = {}  # rows of files taken in here never change

    @classmethod
    def open(cls, path: Path, now: Callable[[], datetime.datetime] = _utc) -> Store:
        """Open the record at ``path``; an empty one is made if there is none.

        Raises
        ------
        RecordError : it can't be opened, or is no record.
        """
        return cls(path, connect(path), now)

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # ---- taking in ---------------------------------------------------------------------------

    def take_in(self, intake: Intake, check: Check | None = None) -> Taken:
        """Take in one file that was read.

        Parameters
        ----------
        check : looks at all current readings of the record, the new ones among them, and returns
            the questions they raise.

        Raises
        ------
        RecordError : the disk is full or the record can't be written; nothing was taken in.
        """
        (found,) = self.take_in_all([lambda: intake], check)
        if isinstance(found, TrialsError):  # pragma: no cover - nothing is read here
            raise found
        return found

    def take_in_all(
        self, sources: Iterable[Callable[[], Intake]], check: Check | None = None
    ) -> tuple[Taken | TrialsError, ...]:
        """Take in several files in one go: all that can be read, or none if they can't be written.

        Parameters
        ----------
        sources : each reads one file; what is wrong with one stands in its place in the result.
        check : as for :meth:`take_in`; it looks once, at the readings of all files together.

        Raises
        ------
        RecordError : the disk is full or the record can't be written; nothing was taken in.
        """
        done: list[tuple[Taken, list[str]] | TrialsError] = []
        before = len(self._kept)
        with self._taking():
            for source in sources:
                try:
                    intake = source()
                except TrialsError as problem:
                    done.append(problem)
                else:
                    done.append(self._take(intake))
            if len(self._kept) > before:
                last_new(done).extend(self._asked_of_all(check))
            standing = {question.id: question for question in self._questions()}
        return tuple(
            one
            if isinstance(one, TrialsError)
            else replace(one[0], questions=tuple(
                standing[i] for i in dict.fromkeys(one[1])
                if i in standing and standing[i].answer is None
            ))
            for one in done
        )  # fmt: skip

    @contextlib.contextmanager
    def _taking(self) -> Iterator[None]:
        """Hold a transaction; what is known of files that were not taken in then is forgotten."""
        before = frozenset(self._kept)
        try:
            with transaction(self._connection, self._path):
                yield
        except BaseException:
            self._kept = {file: self._kept[file] for file in before}
            raise

    def _asked_of_all(self, check: Check | None) -> list[str]:
        """Ask what all readings together bring up, those of lost items too."""
        found = [] if check is None else self._ask_of_all(check, max(self._kept))
        return found + self._ask_lost()

    def _take(self, intake: Intake, *, settled: bool = False) -> tuple[Taken, list[str]]:
        """Add one file, and return what became of it and the questions that reading it raised.

        Parameters
        ----------
        settled : a person has said already whether it is a newer copy of another file.
        """
        sha = hashlib.sha256(intake.content).hexdigest()
        current = current_files(self._connection)
        for name, (number, revision, known) in current.items():
            if known == sha and self._reads_the_same(intake, name, number):
                told = f"{intake.name} was taken in before; nothing has changed."
                have = count_readings(self._connection, number)
                return Taken(name, "same", revision, have, notes=(told,)), []
        kept = {name: revision for name, (_, revision, known) in current.items() if known == sha}
        asked = None if settled else held_back(self._questions(), kept)
        if asked is not None and (asked.answer or not overtaken(asked, current)):
            told = f"{intake.name} was taken in before: {asked.id} says what becomes of it."
            return Taken(asked.file, "same", kept[asked.file], 0, notes=(told,)), [asked.id]
        name = name_for(self._connection, intake, current, self._held(intake, kept, current))
        old = self._counted_of(current[name][0]) if name in current else ()
        intake = renamed(intake, name)
        revision = current[name][1] + 1 if name in current else 1
        if not (old or settled) and (copy := self._copied(intake, current)) is not None:
            told = f"{name} says mostly what {copy.name} says: is it a newer copy of it?"
            intake = replace(intake, rows=(), questions=(about_copy(copy, name, revision),),
                             notes=(*intake.notes, told))  # fmt: skip
        file = add_file(self._connection, intake, revision, sha, self._moment())
        self._kept[file] = intake.rows
        ids = [self._raise(q, file, "file") for q in (*intake.questions, *gone(old, intake))]
        notes = list(intake.notes)
        if revision > 1 and not waiting_copies(intake.questions):
            notes.append(f"{name} was known: this is its revision {revision}, and it counts now.")
        status: Literal["new", "revision"] = "revision" if revision > 1 else "new"
        return Taken(name, status, revision, len(intake.rows), notes=tuple(notes)), ids

    def _copied(self, intake: Intake, current: Mapping[str, CurrentFile]) -> Copy | None:
        """Return the file that a new one is likely a newer copy of, if there is one."""
        others = sharing(self._connection, intake, current)
        files = ((name, revision, self._rows_of([n])) for name, (n, revision, _) in others.items())
        return copied_file(intake.rows, files)

    def _held(
        self, intake: Intake, kept: Collection[str], current: Mapping[str, CurrentFile]
    ) -> set[str]:
        """Return the files that wait for an answer and that a new one is no version of."""
        waiting = [q for q in waiting_copies(self._questions()) if q.file not in kept]
        copy = self._copied(intake, current) if waiting else None
        return {q.file for q in waiting if copy is None or copy.name not in q.choices}

    def ask_again(self, check: Check) -> None:
        """Ask of all current readings what they bring up, after an answer that gave them numbers.

        Raises
        ------
        RecordError : the record can't be written.
        """
        with transaction(self._connection, self._path):
            self._ask_of_all(check, 0)

    def _ask_of_all(self, check: Check, file: int) -> list[str]:
        questions = self._questions()
        raised = [*check(with_headings(self._rows(), questions)), *brought_by_headings(questions)]
        found = [self._raise(question, file, "record") for question in raised]
        self._withdraw(set(found))
        return found

    def _reads_the_same(self, intake: Intake, name: str, number: int) -> bool:
        """Tell whether a file that comes again means what it meant, so that nothing is new.

        It may not, where study.toml says meanwhile what its headings mean.
        """
        return say_the_same(renamed(intake, name).rows, self._rows_of([number]))

    def _counted_of(self, file: int) -> tuple[Row, ...]:
        """Return the readings of one revision with what was answered about them."""
        answered = [question for question in self._questions() if question.answer is not None]
        return applied(self._rows_of([file]), answered).rows

    def _raise(self, question: Question, file: int, origin: str, undone: int = 0) -> str:
        """Record that a question stands, under its old number if it was asked before.

        ``origin`` is "file" where reading the file raised it, "record" where all readings did;
        ``undone``: how often what it asks about was taken back, for then it is another question.
        """
        run = self._connection.execute
        key = canonical_json([*question.key, *([str(undone)] if undone else [])])
        run("INSERT OR IGNORE INTO questions (key) VALUES (?)", (key,))
        (number,) = run("SELECT id FROM questions WHERE key = ?", (key,)).fetchone()
        current = {name: number for name, (number, _, _) in current_files(self._connection).items()}
        files = sorted({current[p.file] for p in question.places if p.file in current}) or [file]
        body = canonical_json(body_of(replace(question, id=f"Q{number}")))
        last = run(
            "SELECT files, body FROM raised WHERE question = ? ORDER BY id DESC LIMIT 1", (number,)
        ).fetchone()
        if last != (canonical_json(files), body):
            run(
                "INSERT INTO raised (question, origin, files, body, at) VALUES (?, ?, ?, ?, ?)",
                (number, origin, canonical_json(files), body, self._moment()),
            )
        return f"Q{number}"

    def _withdraw(self, found: set[str]) -> None:
        """Record which open questions all readings together no longer bring up."""
        run = self._connection.execute
        origins = dict(run("SELECT question, origin FROM raised ORDER BY id").fetchall())
        for question in self._questions():
            number = int(question.id[1:])
            stale = question.id not in found and question.answer is None
            if stale and origins[number] == "record":
                self._take_back(number, "record")

    def _take_back(self, number: int, origin: str) -> None:
        """Record that a question no longer comes up."""
        self._connection.execute(
            "INSERT INTO raised (question, origin, files, body, at) VALUES (?, ?, '[]', 'null', ?)",
            (number, origin, self._moment()),
        )

    def _ask_lost(self) -> list[str]:
        """Ask about lost items that have readings, as all other answers leave them."""
        questions = self._questions()
        others = [question for question in questions if question.code != LOST_WITH_READINGS]
        losses = standing_losses(self._connection.execute)
        exchanges = standing_exchanges(self._connection.execute)
        rows = applied(self._rows(), others, exchanges).rows if losses else ()
        measured = by_item(row for row in rows if row.cells)
        undone = undone_losses(self._connection.execute)
        found = [
            self._raise(lost_with_readings(loss, measured[loss.item]), 0, "file",
                        undone.get(loss.item, 0))
            for loss in losses
            if loss.item in measured
        ]  # fmt: skip
        for question in questions:
            if question.code == LOST_WITH_READINGS and question.id not in found:
                self._take_back(int(question.id[1:]), "file")
        return found

    # ---- answers and losses ------------------------------------------------------------------

    def answer(
        self,
        question: str,
        decision: Decision,
        items: Collection[str],
        again: tuple[Read, Check] | None = None,
    ) -> Question:
        """Settle a question and return it with its answer; a later answer replaces an earlier one.

        Parameters
        ----------
        question : its id, such as "Q7".
        items : the item codes of the plan.
        again : how to read a file again that was held back, and what to ask of all readings then.

        Raises
        ------
        RecordError : no such question, or it can't be answered so.
        IngestError : the file that was held back can't be read any more.
        """
        with self._taking():
            asked = {q.id: q for q in self._questions()}
            wanted = known_question(question, asked)
            refuse_settled_copy(asked[wanted])
            places = frozenset(asked[wanted].places)
            rows = with_headings(self._rows(), [q for q in asked.values() if q.id != wanted])
            written = [row for row in rows if row.place in places]
            decision = checked(asked[wanted], decision, items, written)
            self._connection.execute(
                "INSERT INTO answers (question, verb, value, why, by, at)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (int(wanted[1:]), decision.verb, decision.value, decision.why, decision.by,
                 self._moment()),
            )  # fmt: skip
            if asked[wanted].acts_on == "copy" and decision.verb != "set-aside":
                self._take_held(asked[wanted], decision, again)
            self._ask_lost()
            settled = [one for one in self._questions() if one.id == wanted]
            return (
                settled[0]
                if settled
                else replace(asked[wanted], answer=decision.verb, answer_value=decision.value)
            )

    def _take_held(
        self, question: Question, decision: Decision, again: tuple[Read, Check] | None
    ) -> None:
        """Take in a file that was held back: under the other name, or as one of its own."""
        if again is None:
            raise ValueError("a file that was held back has to be read again")
        read, check = again
        current = current_files(self._connection)
        if decision.verb == "correct":
            refuse_overtaken_copy(question, current)
        content = content_of(self._connection, question.file, current[question.file][1])
        self._take(read(content, decision.value or question.file), settled=True)
        self._asked_of_all(check)

    def lose(self, items: Sequence[str], why: str, by: str = "", *, undo: bool = False) -> None:
        """Record that items are lost: broken, gone, never to be measured; or, undone, that not.

        Where an item has readings, a question is raised whether they count.

        Raises
        ------
        RecordError : no item, or no reason; to undo it: no code of a person, or it isn't lost.
        """
        refuse_loss(items, why, undo=undo)
        if undo:
            why, by = refuse_unfounded("lost", why, by)
        with transaction(self._connection, self._path):
            if undo:
                refuse_undone_loss(items, standing_losses(self._connection.execute))
            told = (" ".join(why.split()), by.strip(), self._moment(), int(not undo))
            self._connection.executemany(
                "INSERT INTO losses (item, why, by, at, stands) VALUES (?, ?, ?, ?, ?)",
                [(item, *told) for item in items],
            )
            self._ask_lost()

    def exchange(self, item: str, partner: str, *, why: str, by: str, undo: bool = False) -> None:
        """Record that two items had each other's label; or, with ``undo``, that they had not.

        Raises
        ------
        RecordError : no reason, no code of a person, or it can't be told now (see
            :func:`~trials.record.otherwise.refuse_exchange`).
        """
        why, by = refuse_unfounded("swapped", why, by)
        with transaction(self._connection, self._path):
            known = standing_exchanges(self._connection.execute)
            folder = self._path.parent
            refuse_exchange((item, partner), known, self._questions(), folder, undo=undo)
            self._connection.execute(
                "INSERT INTO exchanges (item, partner, stands, why, by, at)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (item, partner, int(not undo), why, by, self._moment()),
            )
            self._ask_lost()

    def make_otherwise(
        self, changes: Sequence[tuple[str, Part, str, str | None]], why: str, by: str
    ) -> None:
        """Record how items were really made.

        Parameters
        ----------
        changes : item, "factor" or "group", its name, and the level or member it really got; "" for
            a level that the plan doesn't have, None for: as planned, after all.

        Raises
        ------
        RecordError : no reason, or no code of a person.
        """
        why, by = refuse_unfounded("made", why, by)
        with transaction(self._connection, self._path):
            self._connection.executemany(
                "INSERT INTO otherwise (item, kind, name, made, why, by, at)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                [(*change, why, by, self._moment()) for change in changes],
            )

    def be_absent(
        self,
        who: tuple[str, str, str, str],
        items: Sequence[str] = (),
        *,
        why: str,
        by: str,
        undo: bool = False,
    ) -> None:
        """Record that a team was not there; or, with ``undo``, that it was.

        Parameters
        ----------
        who : the group of teams and the team, the group of sessions and the session (two empty
            texts: not there at all).
        items : what it was to make then.

        Raises
        ------
        RecordError : no reason, no code of a person, or it is known already.
        """
        why, by = refuse_unfounded("absent", why, by)
        with transaction(self._connection, self._path):
            refuse_absence(who, standing_absences(self._connection.execute), undo=undo)
            absence = Absence(*who, tuple(items), why, by, self._moment())
            add_absence(self._connection.execute, absence, stands=not undo)

    def be_away(self, who: StandIns, *, stands: bool = True) -> None:
        """Record once that a team is away from a lesson on, and who stands in; or that it isn't."""
        with transaction(self._connection, self._path):
            add_away(self._connection.execute, who, self._moment(), stands=stands)

    def be_missing(self, told: Sequence[Missing]) -> None:
        """Record which equipment is out of order from which lesson on: all that there is of it."""
        with transaction(self._connection, self._path):
            add_missing(self._connection.execute, told, self._moment())

    def be_placed(self, lesson: int, left_out: Sequence[str], lessons: tuple[int, int]) -> None:
        """Record that what is left was placed again from a lesson on, without some items.

        ``lessons``: how many it took in all before, and takes since.
        """
        with transaction(self._connection, self._path):
            add_placed(self._connection.execute, lesson, left_out, lessons, self._moment())

    def be_drawn_anew(self) -> None:
        """Record that the plan was drawn anew: what was said of the old one's lessons is over."""
        with transaction(self._connection, self._path):
            forget_lessons(self._connection.execute, self._moment())

    # ---- looking -----------------------------------------------------------------------------

    def state(self) -> State:
        """Return all that the record says, at one moment."""
        with transaction(self._connection, self._path, write=False):
            return state_of(self._connection.execute, self._rows(), self._questions())

    def rows(self) -> tuple[Row, ...]:
        """Return the current readings as they were read, in the order of files and rows."""
        return self.state().rows

    def questions(self, *, only_open: bool = False) -> tuple[Question, ...]:
        """Return the questions that still stand."""
        questions = self.state().questions
        return tuple(q for q in questions if q.answer is None) if only_open else questions

    def losses(self) -> tuple[Loss, ...]:
        """Return the recorded losses, each item once, as first told."""
        return self.state().losses

    def digest(self) -> str:
        """Return the SHA-256 of what the record says now, without dates and persons."""
        return self.state().digest()

    def files(self) -> tuple[KeptFile, ...]:
        """Return every revision of every file, oldest first."""
        with transaction(self._connection, self._path, write=False):
            return all_files(self._connection)

    def content(self, name: str, revision: int) -> bytes:
        """Return the bytes of one revision of a file, exactly as handed in.

        Raises
        ------
        RecordError : there is none.
        """
        with transaction(self._connection, self._path, write=False):
            return content_of(self._connection, name, revision)

    def history(self, planned: Mapping[tuple[str, str], str] | None = None) -> tuple[Change, ...]:
        """Return every change with before and after, in the order in which it was told.

        Parameters
        ----------
        planned : what the plan says of (item, factor or group).
        """
        with transaction(self._connection, self._path, write=False):
            return tuple(history_of(self._connection, planned or {}))

    @contextlib.contextmanager
    def dumping(self) -> Iterator[sqlite3.Connection]:
        """Hold the record as it is at one moment, for the functions of ``record.dump``."""
        with transaction(self._connection, self._path, write=False):
            yield self._connection

    def recheck(self) -> None:
        """Compare every file kept, byte for byte, with the check code it was taken in with.

        Raises
        ------
        RecordError : a file is no longer as it was handed in.
        """
        with transaction(self._connection, self._path, write=False):
            recheck_files(self._connection, self._path)

    # ---- inside one transaction --------------------------------------------------------------

    def _moment(self) -> str:
        return self._now().isoformat(timespec="seconds")

    def _rows(self) -> tuple[Row, ...]:
        return self._rows_of([number for number, _, _ in current_files(self._connection).values()])

    def _rows_of(self, files: Iterable[int]) -> tuple[Row, ...]:
        return tuple(
            row
            for file in files
            for row in self._kept.get(file) or (r for _, r in rows_of(self._connection, file))
        )

    def _questions(self) -> tuple[Question, ...]:
        """Return the questions whose files are all current, as they were last raised."""
        current = {number for number, _, _ in current_files(self._connection).values()}
        return standing_questions(self._connection.execute, current)
