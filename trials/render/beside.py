"""Work that goes on side by side: pictures drawn by a second process, pages typeset by threads.

Drawing is Python's own work, of which a process does one at a time; so a second process draws
pictures too. It is a plain run of the same Python, which is had on every system. A picture has the
same bytes whoever draws it, so who draws which is left to chance. Where no second process can be
had, or it fails, all are drawn here.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import subprocess
import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import copy_context
from threading import Lock, Thread
from typing import Any, Final, TypeVar

from trials.render.blocks import Figure
from trials.render.later import Drawing

T = TypeVar("T")
Draw = Callable[[Iterable[Figure]], None]

_RUN: Final = "from trials.render.beside import serve; serve()"
_NO_WINDOW: Final = getattr(subprocess, "CREATE_NO_WINDOW", 0)  # Windows would show one
_PATIENCE: Final = 60.0  # seconds by the clock for one picture, which takes under one
# It ended, it was never there, or what is to be drawn can't be sent.
_FAILED: Final = (OSError, EOFError, ValueError, pickle.PickleError, AttributeError, TypeError)


def at_once(*tasks: Callable[[], T]) -> list[T]:
    """Do tasks of compiled code side by side, two at a time; return what came of each, in order.

    Each is done in the language of the caller. What one of them raises is raised here, when those
    that were begun are finished; the others are not begun then.

    Examples
    --------
    >>> at_once(lambda: 1, lambda: 2)
    [1, 2]
    """
    pool = ThreadPoolExecutor(2)
    try:
        begun = [pool.submit(copy_context().run, task) for task in tasks]
        return [one.result() for one in begun]
    finally:
        pool.shutdown(cancel_futures=True)


@contextmanager
def drawing_beside() -> Iterator[Draw]:
    """Give what draws figures, with a second process that helps while the block runs.

    The process is begun here and loads its libraries meanwhile: the sooner, the better. On a
    machine with one processor there is none.

    Examples
    --------
    >>> with drawing_beside() as draw:
    ...     draw([])
    """
    helper = _begun() if processors() > 1 else None
    if helper is None:
        yield _drawn_here
        return
    try:
        yield _Sharing(helper).draw
    finally:
        helper.kill()  # it keeps nothing
        helper.communicate()


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _begun() -> subprocess.Popen[bytes] | None:
    """Return a second process, or None where there can't be one."""
    # The same modules from the same places; -P: none from the folder that a person is in.
    places = os.pathsep.join(place for place in sys.path if place)
    try:
        return subprocess.Popen(  # noqa: S603  # our own program
            [sys.executable, "-P", "-c", _RUN],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": places},
            creationflags=_NO_WINDOW,
        )
    except OSError:
        return None


def _drawn_here(figures: Iterable[Figure]) -> None:
    for figure in figures:
        _ = figure.svg


class _Sharing:
    """Pictures shared out between this process and another."""

    def __init__(self, helper: subprocess.Popen[bytes]) -> None:
        self._helper, self._sending, self._asking = helper, Lock(), Lock()
        self._ready = False

    def draw(self, figures: Iterable[Figure]) -> None:
        """Draw what isn't drawn yet: the other process from the front, this one from the back."""
        drawings = [figure.picture for figure in figures if not isinstance(figure.picture, bytes)]
        drawings.sort(key=lambda drawing: not drawing.swarms)
        waiting = deque(drawing for drawing in drawings if drawing.made is None)
        Thread(target=self._send, args=(waiting,), daemon=True).start()
        while waiting:
            try:
                drawing = waiting.pop()
            except IndexError:  # the other one was quicker
                break
            drawing.svg()
        if self._asking.acquire(timeout=_PATIENCE):  # until the other one has finished too
            self._asking.release()
        else:
            self._helper.kill()  # it hangs: its picture is drawn when it is asked for

    def _send(self, waiting: deque[Drawing]) -> None:
        """Let the other process draw one after the other; what it can't is drawn when asked for."""
        send, hear = self._helper.stdin, self._helper.stdout
        if send is None or hear is None:
            return
        with self._sending:
            try:
                while not self._ready:  # still loading: nobody waits for that
                    self._ready = bool(pickle.load(hear))  # noqa: S301  # our own program
                while waiting:
                    with self._asking:
                        drawing = waiting.popleft()
                        pickle.dump(drawing, send)
                        send.flush()
                        drawing.made = pickle.load(hear)  # noqa: S301  # our own program
            except IndexError:  # this one was quicker
                return
            except _FAILED:
                self._helper.kill()


def serve() -> None:
    """Draw what comes in and send back the picture, until no more can come: the second process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever began it ends it
    told = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing else is to come between
    from trials.render import drawing

    drawing.load()
    gc.freeze()  # what is loaded stays: it isn't searched for circles with every picture
    answers: Any = True
    while True:
        pickle.dump(answers, told)
        told.flush()
        try:
            answers = pickle.load(sys.stdin.buffer).svg()  # noqa: S301  # our own program
        except EOFError:
            return
