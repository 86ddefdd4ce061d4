"""Work side by side: the same bytes whoever draws; a second process that fails spoils nothing."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from threading import Barrier
from unittest.mock import patch

import pytest

from tests.render.test_render_figures import PLOT
from trials.render import beside
from trials.render.beside import at_once, drawing_beside
from trials.render.dots import dot_figure
from trials.render.drawing import Canvas
from trials.render.later import Drawing
from trials.words.language import language, speaking


def drawing(name: str) -> Drawing:
    """A picture of its own with every call: nobody has drawn it yet."""
    picture = dot_figure(replace(PLOT, name=name)).picture
    assert isinstance(picture, Drawing)
    return picture


@pytest.fixture(scope="module")
def helper(tmp_path_factory: pytest.TempPathFactory) -> Iterator[subprocess.Popen[bytes]]:
    """A second process, begun in a folder with a file named like a module."""
    folder = tmp_path_factory.mktemp("study")
    (folder / "random.py").write_text("raise SystemExit(1)\n", encoding="utf-8")
    with pytest.MonkeyPatch.context() as patched:
        patched.chdir(folder)
        begun = beside._begun()
    assert begun is not None
    yield begun
    begun.kill()
    begun.communicate()


def test_another_process_draws_the_same_bytes_in_any_language_and_after_an_interrupt(
    helper: subprocess.Popen[bytes],
) -> None:
    sharing = beside._Sharing(helper)
    asked = [drawing("one"), drawing("two")]
    with speaking("es"):
        asked.append(drawing("tres"))
    sharing._send(deque(asked[:1]))
    if sys.platform != "win32":
        helper.send_signal(signal.SIGINT)  # as Ctrl-C does, to all processes of a terminal
    sharing._send(deque(asked[1:]))
    assert helper.poll() is None
    made = [one.made for one in asked]
    assert None not in made
    here = [drawing("one"), drawing("two")]
    with speaking("es"):
        here.append(drawing("tres"))
    assert [one.svg() for one in here] == made
    assert made[2] != made[0]  # "media", not "average"
    odd = Drawing(lambda _: Canvas(), "a function that another process can't find")
    sharing._send(deque([odd]))
    assert odd.made is None


def test_figures_are_shared_out_and_all_drawn() -> None:
    pictures = [dot_figure(replace(PLOT, name=f"p{n}")) for n in range(3)]
    with patch.object(beside, "processors", return_value=2), drawing_beside() as draw:
        draw(pictures)
        assert all(isinstance(one.picture, Drawing) and one.picture.made for one in pictures)
        draw(pictures)  # nothing is left to do
    assert len({one.svg for one in pictures}) == 1  # they differ by name only


@pytest.mark.parametrize("program", ["no such program", "one that ends"])
def test_without_another_process_everything_is_drawn_here(program: str, tmp_path: Path) -> None:
    missing = str(tmp_path / "python") if program == "no such program" else sys.executable
    picture = dot_figure(replace(PLOT, name=program))
    with (
        patch.object(beside, "processors", return_value=2),
        patch.object(beside, "_RUN", "raise SystemExit(3)"),
        patch.object(sys, "executable", missing),
        drawing_beside() as draw,
    ):
        draw([picture])
        draw([picture])
    assert picture.svg.startswith(b"<?xml")


def test_nobody_waits_for_a_process_that_hangs() -> None:
    ready = "import pickle, sys, time; pickle.dump(True, sys.stdout.buffer)"
    pictures = [dot_figure(replace(PLOT, name=name)) for name in ("one", "two")]
    with (
        patch.object(beside, "processors", return_value=2),
        patch.object(beside, "_PATIENCE", 0.2),
        patch.object(beside, "_RUN", f"{ready}; sys.stdout.flush(); time.sleep(600)"),
        drawing_beside() as draw,
    ):
        draw(pictures)
        draw(pictures)
    assert len({one.svg for one in pictures}) == 1


def test_tasks_run_side_by_side_in_the_language_of_the_caller() -> None:
    both = Barrier(2, timeout=20)

    def task(n: int) -> tuple[int, str]:
        both.wait()  # comes back only if two are here at once
        return n, language()

    with speaking("es"):
        assert at_once(lambda: task(1), lambda: task(2)) == [(1, "es"), (2, "es")]


def test_what_a_task_raises_is_raised_here() -> None:
    with pytest.raises(ZeroDivisionError):
        at_once(lambda: 1, lambda: 1 // 0, lambda: 2)
