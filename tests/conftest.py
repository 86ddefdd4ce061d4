"""What every test can use: outside programs by mark, and long checks in two sizes.

``@pytest.mark.needs("chromium")`` marks a test that needs an outside program. Where the program is
absent the test is deselected and counted on one line; with TRIALS_ALL=1 its absence is a failure.

``@pytest.mark.long`` marks a check that is cheap here and thorough in ``.ci/long``: it asks the
fixture ``effort`` how many repeats to do and hands what it found to the fixture ``evidence``.
"""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from functools import cache
from pathlib import Path
from typing import Any

import pytest

# as the program itself does, before a library that calculates is loaded
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# what the processes that tests begin have compiled is kept, so that not each does it anew
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

from tests.command_line import CommandLine
from tests.evidence import keep_evidence
from tests.pages import AXE, CHROMIUM, NU
from tests.remembered import (
    hands_idle,
    pages_remembered,
    plans_remembered,
    timetables_remembered,
)
from tests.sizes import LONG

ALL = os.environ.get("TRIALS_ALL") == "1"

# the collector of cycles looks at the young after so many new objects, at the old more seldom
gc.set_threshold(50_000, 20, 20)


def _on_path(*names: str) -> Callable[[], bool]:
    return lambda: any(shutil.which(name) for name in names)


PROGRAMS: Mapping[str, Callable[[], bool]] = {
    "chromium": _on_path(*CHROMIUM),
    "pdftoppm": _on_path("pdftoppm"),
    "pdftotext": _on_path("pdftotext"),
    "soffice": _on_path("soffice"),
    "vnu-jar": lambda: NU.is_file() and shutil.which("java") is not None,
    "axe-core": AXE.is_file,
}


LONGEST = {"contract", "journeys"}  # folders of tests that run the whole program
# folders of tests that print the same again and again, and that plan the same again and again
PRINTING = {"cli", "contract", "journeys", "report", "service", "sheets"}
PLANNING = {"cli", "service"}
# and that place works in time; the files among them that look how close together they lie
TIMING = {"classroom", "cli", "report", "service", "sheets"}
CLOSE = {"test_classroom_example.py", "test_classroom_timetable.py"}


@cache
def _present(program: str) -> bool:
    return PROGRAMS[program]()


def _missing(item: pytest.Item) -> list[str]:
    wanted = [str(name) for mark in item.iter_markers("needs") for name in mark.args]
    unknown = sorted(set(wanted) - set(PROGRAMS))
    if unknown:
        raise pytest.UsageError(f"{item.nodeid} needs {unknown}; tests/conftest.py knows no probe")
    return [name for name in wanted if not _present(name)]


ABSENT: pytest.StashKey[dict[str, int]] = pytest.StashKey()


def pytest_collection_finish() -> None:
    """Leave what is collected, tests and modules, to itself: it stays to the end."""
    gc.freeze()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    absent: dict[str, int] = {}
    kept: list[pytest.Item] = []
    dropped: list[pytest.Item] = []
    for item in items:
        missing = [] if ALL else _missing(item)
        for name in missing:
            absent[name] = absent.get(name, 0) + 1
        (dropped if missing else kept).append(item)
    config.stash[ABSENT] = absent
    if dropped:
        config.hook.pytest_deselected(items=dropped)
    # the longest files first, so that no worker is left alone with one of them at the end
    items[:] = sorted(kept, key=lambda item: not LONGEST & set(item.path.parts))


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Hand what is absent to the process that prints the summary, where tests run in several."""
    output = getattr(session.config, "workeroutput", None)
    if output is not None:
        output["absent"] = session.config.stash.get(ABSENT, {})


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any, error: object) -> None:
    """Take over what a worker found absent; all of them look at the same tests."""
    del error
    node.config.stash[ABSENT] = getattr(node, "workeroutput", {}).get("absent", {})


def pytest_runtest_setup(item: pytest.Item) -> None:
    missing = _missing(item) if ALL else []
    if missing:
        pytest.fail(f"not on this machine, though TRIALS_ALL=1: {', '.join(missing)}")


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    absent = config.stash.get(ABSENT, {})
    if absent:
        listed = ", ".join(f"{name} ({count})" for name, count in sorted(absent.items()))
        terminalreporter.write_line(f"not run, for want of an outside program (tests): {listed}")


@pytest.fixture(scope="module", autouse=True)
def once_is_enough(request: pytest.FixtureRequest) -> Iterator[None]:
    """In rooms that test neither planning nor printing, do the same once and remember it."""
    room = set(request.path.parts)
    with ExitStack() as stack:
        if PLANNING & room:
            stack.enter_context(plans_remembered())
            stack.enter_context(timetables_remembered())
        if TIMING & room and not CLOSE & room:
            stack.enter_context(hands_idle())
        if PRINTING & room:
            stack.enter_context(pages_remembered())
        yield


@pytest.fixture
def effort() -> Callable[[int], int]:
    """Give the number of repeats: all of them in ``.ci/long``, a hundredth elsewhere."""
    return lambda full: full if LONG else max(1, full // 100)


@pytest.fixture
def evidence() -> Callable[[str, object], None]:
    """Write what a long check found to reports/evidence/NAME.json, in ``.ci/long`` only."""
    return keep_evidence if LONG else _forget


def _forget(name: str, found: object) -> None:
    """Keep nothing: what a hundredth of a check finds is no evidence."""


@pytest.fixture
def line(tmp_path: Path) -> CommandLine:
    """Give the command line in a fresh folder."""
    return CommandLine(tmp_path)


@pytest.fixture
def afresh(tmp_path: Path) -> CommandLine:
    """Give the command line in a fresh folder, with a process of its own for each verb."""
    return CommandLine(tmp_path, afresh=True)


@pytest.fixture(scope="session")
def printed_planes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder of eight paper planes, planned and printed once for all tests."""
    line = CommandLine(tmp_path_factory.mktemp("printed"))
    line.run("new", "planes", "--example", "planes")
    line.run("plan", "planes", "--seed", "3")
    line.run("sheets", "planes")
    return line.folder / "planes"


@pytest.fixture
def planes(line: CommandLine, printed_planes: Path) -> CommandLine:
    """Give the command line beside a copy of that folder."""
    shutil.copytree(printed_planes, line.folder / "planes")
    return line
