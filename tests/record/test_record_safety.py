"""Killed, interrupted, out of room, two at once: what was acknowledged is there."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from trials.errors import RecordError
from trials.record import Intake, Place, Question, Row, Store
from trials.record.schema import EVENTS

# a class that never stops handing in: each file is acknowledged on standard output
A_RECORD = 50  # kills; the next ones are of a new record, which is opened sooner
WRITER = """
import sys
from pathlib import Path
from trials.record import Decision, Intake, Place, Question, Row, Store

path, name, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
with Store.open(path) as store:
    for number in range(count):
        file = f"{name}-{number}.csv"
        place = Place(file, "", 2)
        rows = tuple(Row(Place(file, "", n), f"{name}{number}", n) for n in range(2, 42))
        question = Question("", "odd", file, 2, f"{name}{number}", None, "x", "y", "z",
                            places=(place,))
        taken = store.take_in(Intake(file, "table", file.encode() * 200, rows, (question,)))
        store.answer(taken.questions[0].id, Decision("keep", "", "why", "T1"), [])
        store.lose([f"{name}{number}"], "why")
        store.exchange(f"{name}{number}", f"{name}{number}b", why="why", by="T1")
        store.make_otherwise([(f"{name}{number}", "factor", "dye", "x")], "why", "T1")
        store.be_absent(("team", f"{name}{number}", "", ""), why="why", by="T1")
        print(file, flush=True)
"""


def _writer(path: Path, name: str, count: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(WRITER), str(path), name, str(count)],
        stdout=subprocess.PIPE,
        text=True,
    )


def _check(path: Path, acknowledged: list[str]) -> None:
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()
    with Store.open(path) as store:
        kept = {file.name: file.readings for file in store.files()}
        assert set(acknowledged) <= set(kept)
        assert set(kept.values()) <= {40}  # whole files only
        assert {f"{name.removesuffix('.csv').replace('-', '')}" for name in acknowledged} <= {
            loss.item for loss in store.losses()
        }
        settled = {q.file for q in store.questions() if q.answer == "keep"}
        assert set(acknowledged) <= settled
        for name in kept:
            assert store.content(name, 1) == name.encode() * 200
        told = store.state()
        items = {name.removesuffix(".csv").replace("-", "") for name in acknowledged}
        for found in (
            [exchange.item for exchange in told.exchanges],
            [one.item for one in told.otherwise],
            [one.team for one in told.absences],
            [loss.item for loss in told.losses],
        ):
            assert items <= set(found)
            assert len(found) == len(set(found)) <= len(kept)  # nothing doubled
        assert [change.number for change in store.history()]
    connection = sqlite3.connect(path)
    run = connection.execute
    for table in ("losses", "answers", "questions", "exchanges", "otherwise", "absences"):
        (many,) = run(f"SELECT COUNT(*) FROM {table}").fetchone()
        assert len(acknowledged) <= many <= len(kept)
    for name in EVENTS:  # every event is a step, once
        (many,) = run(f"SELECT COUNT(*) FROM {name}").fetchone()
        assert run("SELECT COUNT(*) FROM steps WHERE what = ?", (name,)).fetchone() == (many,)
    connection.close()


@pytest.mark.long
def test_killed_at_any_moment(
    tmp_path: Path, effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    kills, told = max(10, effort(600)), 0
    for first in range(0, kills, A_RECORD):
        path = tmp_path / f"record{first}.db"
        acknowledged: list[str] = []
        for turn in range(first, min(first + A_RECORD, kills)):
            process = _writer(path, f"t{turn}x", 1000)
            assert process.stdout is not None
            acknowledged.append(process.stdout.readline().strip())
            time.sleep(0.0013 * (turn % 17))
            process.send_signal(signal.SIGKILL)
            rest, _ = process.communicate()
            lines = rest.splitlines()
            acknowledged += lines if rest.endswith("\n") else lines[:-1]
            if turn % 25 == 0:
                _check(path, [name for name in acknowledged if name.endswith(".csv")])
        names = [name for name in acknowledged if name.endswith(".csv")]
        _check(path, names)
        told += len(names)
    evidence("record_killed", {"kills": kills, "acknowledged": told, "lost": 0,
                               "doubled": 0})  # fmt: skip


def test_two_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    both = [_writer(path, name, 12) for name in ("a", "b")]
    names = [name for process in both for name in process.communicate()[0].split()]
    assert len(names) == 24
    _check(path, names)
    with Store.open(path) as store:
        ids = [question.id for question in store.questions()]
        assert ids == [f"Q{n}" for n in range(1, 25)]


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Store]:
    """Give a record on a disk that is nearly full."""
    with Store.open(tmp_path / "record.db") as store:
        store.lose(["K7"], "before")
        pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
        store._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        yield store


def _large(name: str = "large.csv") -> Intake:
    return Intake(name, "table", b"x" * 300_000, (Row(Place(name, "", 2), "K7", 1),))


def test_a_full_disk_is_told_and_loses_nothing(small: Store) -> None:
    before = small.digest()
    with pytest.raises(RecordError) as problem:
        small.take_in(_large())
    assert problem.value.code == "record.disk_full"
    assert problem.value.do == "Make room on the disk, then do it again."
    assert small.digest() == before
    assert small.files() == ()
    small._connection.execute("PRAGMA max_page_count = 100000")
    assert small.take_in(_large()).status == "new"


FULL = """
import resource, signal, sys
from pathlib import Path
from trials.errors import RecordError
from trials.record import Decision, Intake, Place, Row, Store

with Store.open(Path(sys.argv[1])) as store:
    store.lose(["K7"], "before")
    resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))
    try:
        rows = (Row(Place("l.csv", "", 2), "K", 1),)
        store.take_in(Intake("l.csv", "table", b"x" * 500_000, rows))
    except RecordError as problem:
        print(problem.code)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of a file")
def test_a_disk_that_takes_no_more_bytes(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    told = subprocess.run(
        [sys.executable, "-c", FULL, str(path)], capture_output=True, text=True, check=True
    ).stdout.strip()
    assert told in ("record.disk_full", "record.unwritable")
    with Store.open(path) as store:
        assert [loss.item for loss in store.losses()] == ["K7"]
        assert store.files() == ()


def test_ctrl_c_in_the_middle_undoes_the_whole_step(tmp_path: Path) -> None:
    def interrupted(rows: Sequence[Row]) -> list[Question]:
        raise KeyboardInterrupt(len(rows))

    with Store.open(tmp_path / "record.db") as store:
        store.lose(["K7"], "before")
        before = store.digest()
        with pytest.raises(KeyboardInterrupt):
            store.take_in(_large(), interrupted)
        assert store.digest() == before
        assert store.take_in(_large()).status == "new"


def test_someone_else_writing_too_long_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trials.record.database.WAIT", 0.05)
    path = tmp_path / "record.db"
    with Store.open(path) as first, Store.open(path) as second:
        first._connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError) as problem:
            second.lose(["K7"], "why")
        assert problem.value.code == "record.busy"
        first._connection.execute("ROLLBACK")


@pytest.mark.skipif(sys.platform == "win32", reason="rights of folders work otherwise there")
def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(RecordError) as problem:
        Store.open(tmp_path / "file" / "record.db")
    assert problem.value.code == "record.unwritable"


@pytest.mark.parametrize("bytes_", [b"item,y\nK7,2\n", b"", "item,y\nK7,1 \n"])
def test_a_changed_byte_in_a_kept_file_is_found(tmp_path: Path, bytes_: bytes | str) -> None:
    path = tmp_path / "record.db"
    with Store.open(path) as store:
        store.take_in(Intake("a.csv", "table", b"item,y\nK7,1\n", ()))
        store.recheck()
    stranger = sqlite3.connect(path, isolation_level=None)
    stranger.execute("DROP TRIGGER files_no_update")
    stranger.execute("UPDATE files SET content = ?", (bytes_,))
    stranger.close()
    with Store.open(path) as store, pytest.raises(RecordError) as problem:
        store.recheck()
    assert problem.value.code == "record.file_changed"
    assert "a.csv, revision 1" in problem.value.where
    assert "copy" in problem.value.do
