"""A disk that is full at every single write: nothing acknowledged is lost, nothing is doubled."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.record.test_record_safety import _large
from trials.errors import RecordError
from trials.record import Decision, Intake, Place, Question, Row, Store

Step = Callable[[Store], object]


def _file(name: str = "b.csv") -> Intake:
    rows = tuple(Row(Place(name, "", n), f"K{n}", 1) for n in range(2, 42))
    asked = Question("", "odd", name, 2, "K2", None, "x", "y", "z", places=(rows[0].place,))
    return Intake(name, "table", name.encode() * 3000, rows, (asked,))


STEPS: dict[str, Step] = {
    "take in": lambda store: store.take_in(_file()),
    "answer": lambda store: store.answer("Q1", Decision("keep", "", "seen " * 900, "T1"), []),
    "lose": lambda store: store.lose([f"K{n}" for n in range(2, 200)], "why " * 30),
    "exchange": lambda store: store.exchange("K3", "K4", why="why " * 2000, by="T1"),
    "otherwise": lambda store: store.make_otherwise(
        [(f"K{n}", "factor", "dye", "x") for n in range(300)], "why " * 30, "T1"
    ),
    "absent": lambda store: store.be_absent(
        ("team", "rowan", "", ""), [f"K{n}" for n in range(3000)], why="why", by="T1"
    ),
}


def _told(store: Store) -> object:
    return store.state(), store.history(), store.files()


def _refused(step: Step, store: Store) -> str | None:
    try:
        step(store)
    except RecordError as problem:
        return problem.code
    return None


def _begun(path: Path) -> Store:
    store = Store.open(path)
    store.take_in(_file("a.csv"))
    return store


@pytest.mark.parametrize("name", STEPS)
def test_full_at_every_page(tmp_path: Path, name: str) -> None:
    """SQLite may use one page more at each try, until the step goes through."""
    with _begun(tmp_path / "record.db") as store:
        run = store._connection.execute
        before = _told(store)
        refused = 0
        while True:
            (pages,) = run("PRAGMA page_count").fetchone()
            (free,) = run("PRAGMA freelist_count").fetchone()
            run(f"PRAGMA max_page_count = {pages - free + refused}")
            code = _refused(STEPS[name], store)
            if code is None:
                break
            assert code == "record.disk_full"
            assert _told(store) == before
            assert run("PRAGMA integrity_check").fetchone() == ("ok",)
            refused += 1
        assert refused > 0
        assert _told(store) != before
        assert len(store.history()) == len({change.number for change in store.history()})


# a disk that takes no byte beyond a limit: of the record's file, and of the journal beside it
LIMITED = """
import json, resource, sys
from pathlib import Path
from tests.record.test_record_full import STEPS, _begun, _told
from trials.errors import RecordError
from trials.record import Store

folder, name, step = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
_begun(folder / "start.db").close()
start = (folder / "start.db").read_bytes()
path = folder / "record.db"
codes, tries = {}, 0
limit = 1
while True:
    path.write_bytes(start)
    with Store.open(path) as store:
        before = _told(store)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
        try:
            STEPS[name](store)
            done = True
        except RecordError as problem:
            done = False
            codes[problem.code] = codes.get(problem.code, 0) + 1
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
    with Store.open(path) as store:
        said = store._connection.execute("PRAGMA integrity_check").fetchone()
        assert said == ("ok",), said
        if done:
            assert _told(store) != before
            break
        assert _told(store) == before, limit
        if tries % 7 == 0:
            STEPS[name](store)
            assert _told(store) != before
    tries += 1
    limit += step
print(json.dumps({"tries": tries, "codes": codes}))
"""


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of a file")
@pytest.mark.parametrize("name", STEPS)
def test_full_at_every_byte_count(
    tmp_path: Path,
    name: str,
    effort: Callable[[int], int],
    evidence: Callable[[str, object], None],
) -> None:
    """In full at every 64 bytes; else at every few pages."""
    step = 12_288 // effort(192)
    told = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path), name, str(step)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    found = json.loads(told.stdout)
    assert found["tries"] > 0
    assert set(found["codes"]) <= {"record.disk_full", "record.unwritable"}
    evidence(f"record_full_{name.replace(' ', '_')}", found | {"bytes_between": step})


def test_answers_and_losses_at_once(tmp_path: Path) -> None:
    """Four threads, each with a connection of its own, answer one question and lose items."""
    path, each = tmp_path / "record.db", 12
    _begun(path).close()
    problems: list[BaseException] = []

    def tell(who: int) -> None:
        try:
            with Store.open(path) as store:
                for n in range(each):
                    store.answer("Q1", Decision("keep", "", f"{who}-{n}", "T1"), [])
                    store.lose([f"L{who}-{n}"], "why")
        except BaseException as problem:  # noqa: BLE001 - told below
            problems.append(problem)

    threads = [threading.Thread(target=tell, args=(who,)) for who in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    with Store.open(path) as store:
        whys = [change.why for change in store.history() if change.what == "kept"]
        assert sorted(whys) == sorted(f"{who}-{n}" for who in range(4) for n in range(each))
        for who in range(4):  # each in its own order
            assert [why for why in whys if why.startswith(f"{who}-")] == [
                f"{who}-{n}" for n in range(each)
            ]
        assert len(store.losses()) == 4 * each
        assert store.questions()[0].answer_why == whys[-1]


def test_a_large_file_on_a_small_disk_leaves_room_for_the_next(tmp_path: Path) -> None:
    with _begun(tmp_path / "record.db") as store:
        run = store._connection.execute
        run(f"PRAGMA max_page_count = {run('PRAGMA page_count').fetchone()[0] + 40}")
        for _ in range(3):
            with pytest.raises(RecordError):
                store.take_in(_large())
        assert store.take_in(_file()).status == "new"
