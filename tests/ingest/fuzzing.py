"""A process of its own that hands mangled inputs to every reader, and tells how each took them.

    python -m tests.ingest.fuzzing SEED FIRST COUNT DRAWN

Inputs FIRST to FIRST + COUNT are mangled files, DRAWN more are tables drawn by hypothesis. It
prints one JSON document: how many, every fault, the slowest and the largest one.
"""

from __future__ import annotations

import contextlib
import json
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType, TracebackType
from typing import Any, Self

from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from tests.ingest.bench import CODES, VOC, cells, plan_of
from tests.ingest.mangled import NASTY, mangled, seeds
from trials.analysis.table_reading import read_table
from trials.errors import TrialsError
from trials.ingest import collect, read_file
from trials.ingest.points import read_points
from trials.record import Intake, Store
from trials.reduction import columns_of
from trials.steady import steadily
from trials.study.values import Response

MOST_SECONDS = 1.0  # of one input, of the processor
# a million readings may take a minute, so very many lines or readings may take their share of that
SECONDS_A_READING = 60e-6
MOST_MEGABYTES = 500  # of the whole process while it reads an input, libraries and all
ENDLESS = 20.0  # seconds after which a reader is stopped
FILES_A_RECORD = 10
STUDY = cells()
PLAN = plan_of(STUDY)
LOADS = columns_of(
    (
        Response(name="p", unit="mW", reducer="iv_sweep", readings=9, low=0, high=9,
                 settings={"quantity": "power", "current_from": "load resistance"}),
        Response(name="q", unit="mW", reducer="iv_sweep", readings=9, low=0, high=9,
                 settings={"quantity": "power"}),
    )
)  # fmt: skip


class _Endless(BaseException):
    """A reader was stopped."""


def stop(signal_number: int, frame: FrameType | None) -> None:
    """Stop a reader that lingers: the handler of the timer that `Told.one` sets."""
    del signal_number, frame
    raise _Endless


@dataclass
class Doors:
    """Every way in, with a record that is begun anew now and then."""

    taken: int = 0
    read: int = 0  # lines of the last file, or its readings where they are more
    store: Store | None = None
    folder: tempfile.TemporaryDirectory[str] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self._close()

    def _close(self) -> None:
        if self.store is not None and self.folder is not None:
            self.store.__exit__(None, None, None)
            self.folder.cleanup()
        self.store = self.folder = None

    def through(self, number: int, name: str, content: bytes) -> str:
        """Hand an input to the door of its number; return what became of it.

        Raises
        ------
        AssertionError : what was read, asked or refused is not whole.
        """
        door = ("read", "read", "read", "points", "table", "read", "read", "points", "table",
                "collect")[number % 10]  # fmt: skip
        try:
            if door == "read":
                with steadily():  # as trials collect does
                    intake = read_file(content, name, STUDY, PLAN)
                self.read = max(self.read, len(intake.rows))
                _is_whole(intake, name, content)
            elif door == "points":
                read_points(content, name, LOADS)
            elif door == "table":
                frame = read_table(content, name)
                assert len(frame.columns) == len(set(frame.columns))
            else:
                self._collect(name, content)
        except TrialsError as refused:
            _is_told(refused)
            return refused.code
        return door

    def _collect(self, name: str, content: bytes) -> None:
        if self.store is None or self.taken >= FILES_A_RECORD:
            self._close()
            self.taken = 0
            self.folder = tempfile.TemporaryDirectory()
            self.store = Store.open(Path(self.folder.name) / "record.db").__enter__()
        self.taken += 1
        before = len(self.store.rows())  # counting them takes its share too
        self.read = max(self.read, before)
        try:
            with steadily():
                new = collect(self.store, content, name, STUDY, PLAN).readings
            self.read = max(self.read, before + new)  # it asks of all readings together
        except TrialsError:
            assert len(self.store.rows()) == before
            raise


def _is_told(refused: TrialsError) -> None:
    text = (refused.what, refused.code, refused.where, refused.allowed, refused.do)
    assert all(text), f"a refusal without all its parts: {text}"
    assert len(refused.text()) < 3000, f"a refusal of {len(refused.text())} letters"
    refused.text().encode()


def _is_whole(intake: Intake, name: str, content: bytes) -> None:
    assert intake.content == content
    for question in intake.questions:
        assert question.file == name
        assert question.why, question
        assert question.do, question
    said = [
        *intake.notes,
        *(t for q in intake.questions for t in (q.why, q.do, q.found, q.proposal)),
    ]
    "\n".join(said).encode()  # may be printed
    for row in intake.rows:
        for cell in row.cells:
            assert cell.value is None or not cell.value.is_nan()


@dataclass
class Told:
    """What became of all inputs."""

    ends: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "")
    largest: tuple[float, str] = (0.0, "")  # megabytes more than were held before it
    most: float = 0.0  # megabytes of the process while it read

    def one(self, doors: Doors, number: int, label: str, name: str, content: bytes) -> None:
        """Hand one input in and note what became of it."""
        _forget_most()  # making the input may have taken more than reading it does
        held = _held()
        least = 99.0
        for _ in range(3):  # other processes make this one wait for its memory
            begun = time.process_time()
            signal.setitimer(signal.ITIMER_PROF, ENDLESS)
            try:
                doors.read = max(content.count(b"\n"), content.count(b"\r"))
                end = doors.through(number, name, content)
            except (Exception, _Endless):  # noqa: BLE001 - that is what is looked for
                last = "".join(traceback.format_exc().splitlines(keepends=True)[-12:])
                self.faults.append(f"{label}, {name[:60]}: {last}")
                break
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0)
            least = min(least, time.process_time() - begun)
            most = max(MOST_SECONDS, SECONDS_A_READING * doors.read)
            if least <= most:
                self.ends[end] += 1
                break
        else:
            self.faults.append(f"{label}, {name[:60]}: {least:.2f} s")
        if least <= MOST_SECONDS:
            self.slowest = max(self.slowest, (round(least, 3), label))
        most = _held()
        self.largest = max(self.largest, (round(most - held, 1), label))
        self.most = max(self.most, most)

    def to_dict(self) -> dict[str, Any]:
        """Return it for the process that asked."""
        return {
            "inputs": self.ends.total() + len(self.faults),
            "ends": dict(self.ends),
            "faults": self.faults,
            "slowest": self.slowest,
            "largest": self.largest,
            "most_megabytes": round(self.most),
        }


def held_now() -> float:
    """Return the memory that this process holds now, in megabytes; Linux only (man 5 proc)."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS:")).split()[1]) * 1024 / 1e6


def _forget_most() -> None:
    """Begin anew with the high-water mark (man 5 proc, clear_refs), where that can be done."""
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def _held() -> float:
    """Return the most memory held since it was last asked to forget, in megabytes.

    Linux's `ru_maxrss` begins at what the process held that started this one, so it would tell of
    the test run; the high-water mark in `/proc` is this program's own (man 5 proc, VmHWM).
    """
    status = Path("/proc/self/status")
    if status.exists():
        most = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(most.split()[1]) * 1024 / 1e6
    most_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most_bytes / 1e6


_CELL = st.one_of(
    st.sampled_from(NASTY),
    st.sampled_from(CODES),
    st.sampled_from((VOC, "item", "Probe", "reading", "U1 (mV)", "light (W/m²)", "R / ohm")),
    st.decimals(allow_nan=True).map(str),
    st.floats().map(str),
    st.text(max_size=30),
)
TABLES = st.builds(
    lambda rows, mark, end, coding: end.join(mark.join(row) for row in rows).encode(
        coding, "surrogatepass" if coding.startswith("utf") else "replace"
    ),
    st.lists(st.lists(_CELL, min_size=1, max_size=8), min_size=1, max_size=12),
    st.sampled_from((";", ",", "\t", "|", ":")),
    st.sampled_from(("\n", "\r\n", "\r")),
    st.sampled_from(("utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-32")),
)


def _drawn(told: Told, doors: Doors, first: int, count: int) -> None:
    numbers = iter(range(sys.maxsize))

    @seed(first)
    @settings(max_examples=count, database=None, deadline=None,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(TABLES | st.binary(max_size=400))
    def hand_in(content: bytes) -> None:
        number = next(numbers)
        told.one(doors, number, f"drawn {first} {number}", "drawn.csv", content)

    if count:
        hand_in()


def main(seed_of_all: int, first: int, count: int, drawn: int) -> None:
    """Hand everything in, and print what became of it."""
    signal.signal(signal.SIGPROF, stop)
    told = Told()
    with Doors() as doors:
        for number in range(10):  # libraries are loaded before anything is timed
            doors.through(number, *seeds()[0])
        for number in range(first, first + count):
            name, content = mangled(seed_of_all, number)
            told.one(doors, number, f"mangled {seed_of_all} {number}", name, content)
        _drawn(told, doors, seed_of_all + first, drawn)
    json.dump(told.to_dict(), sys.stdout)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:5]))
