"""What the same input always gives is made once for all tests of a process.

A plan is a function of study and seed, a picture of the numbers on it, a typeset page of its
source, and all of them are frozen. Rooms whose tests make the same again and again use what was
made before (``PLANNING`` and ``PRINTING`` in tests/conftest.py); the rooms that test planning,
drawing and typesetting themselves don't.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from functools import lru_cache
from types import ModuleType
from typing import Any
from unittest.mock import patch

from tests.page_text import page_text, read_pages
from trials.design.values import Plan
from trials.render.blocks import Figure
from trials.study import Study

Draws = Callable[[Any], Figure]

SMALL = 200_000  # bytes of a picture

PLANNED: dict[tuple[object, ...], Plan] = {}
PLACED: dict[tuple[object, ...], object] = {}
DRAWN: dict[tuple[str, str], Figure] = {}
TYPESET: dict[bytes, bytes | list[bytes]] = {}


@contextmanager
def plans_remembered() -> Iterator[None]:
    """Draw no plan of the same study with the same seed twice while the block runs."""
    from trials.design import draw as drawing

    unaudited, audited = drawing._unaudited, drawing.with_audit

    def drawn(study: Study, *asked: Any, **more: Any) -> Plan:
        key = ("drawn", study.digest(), study.model_dump_json(), asked, *sorted(more.items()))
        if key not in PLANNED:
            PLANNED[key] = unaudited(study, *asked, **more)
        return PLANNED[key]

    def checked(study: Study, plan: Plan, others: Sequence[Plan] = ()) -> Plan:
        texts = (one.model_dump_json() for one in (study, plan, *others))
        key = ("checked", study.digest(), *texts)
        if key not in PLANNED:
            PLANNED[key] = audited(study, plan, others)
        return PLANNED[key]

    with patch.multiple(drawing, _unaudited=drawn, with_audit=checked):
        yield


@contextmanager
def timetables_remembered() -> Iterator[None]:
    """Place the same works in the same lessons only once while the block runs."""
    from trials.classroom import lessons, rest

    with ExitStack() as stack:
        for module, name in ((lessons, "place"), (rest, "place"), (rest, "most_items")):
            once = _placed_once(name, getattr(module, name))
            stack.enter_context(patch.object(module, name, once))
        yield


@contextmanager
def hands_idle() -> Iterator[None]:
    """Search but a little for a timetable's fewest idle hands while the block runs.

    It is over as soon, holds the same rules and is the same every time; only the works lie less
    close together. How close they lie is tested without this (``CLOSE`` in tests/conftest.py).
    """
    from trials.classroom import timetable

    with patch.object(timetable, "IDLE_EFFORT", timetable.IDLE_EFFORT / 20):
        yield


def _placed_once(name: str, found: Callable[..., object]) -> Callable[..., object]:
    def once(*asked: Any, **more: Any) -> object:
        plain = (repr(dict(one) if isinstance(one, Mapping) else one) for one in asked)
        named = (
            (key, repr(dict(one) if isinstance(one, Mapping) else one))
            for key, one in sorted(more.items())
        )
        key = (name, *plain, *named)
        if key not in PLACED:
            PLACED[key] = found(*asked, **more)
        return PLACED[key]

    return once


@contextmanager
def pages_remembered() -> Iterator[None]:
    """Draw no picture and typeset no page twice while the block runs.

    Pictures are drawn by this process alone: another one would know of none that is remembered.
    """
    from trials.render import beside, drawing, typeset
    from trials.report import board, checks_plots, plan_plots, plots, power_plot, unfair_page

    finished, compile_page = drawing.finished, typeset._compile

    def once(draw: Draws) -> Draws:
        def drawn(plot: Any) -> Figure:
            if drawing.finished is not finished:  # a test that looks at words only
                return draw(plot)
            key = (draw.__name__, repr(plot))
            if key not in DRAWN:
                DRAWN[key] = draw(plot)
            return DRAWN[key]

        return drawn

    def page(sources: dict[str, bytes], **options: Any) -> bytes | list[bytes]:
        key = hashlib.sha256(repr((sorted(sources.items()), options)).encode()).digest()
        if key in TYPESET:
            return TYPESET[key]
        made = compile_page(sources, **options)
        if options["format"] == "pdf" or len(made) < SMALL:  # pictures of pages take much memory
            TYPESET[key] = made
        return made

    with ExitStack() as stack:
        stack.enter_context(patch.object(typeset, "_compile", page))
        stack.enter_context(patch.object(beside, "processors", return_value=1))
        for module in (board, checks_plots, plan_plots, plots, power_plot, unfair_page):
            for name, draw in _pictures(module):
                stack.enter_context(patch.object(module, name, once(draw)))
        yield


def _pictures(module: ModuleType) -> list[tuple[str, Draws]]:
    """Return the functions of the room ``render`` that a module draws its pictures with."""
    return [
        (name, value)
        for name, value in vars(module).items()
        if name.endswith("_figure") and value.__module__.startswith("trials.render.")
    ]


def forget_pages() -> None:
    """Let the next page be typeset and drawn anew, for a test of what the same input gives."""
    TYPESET.clear()
    DRAWN.clear()


@lru_cache(maxsize=256)
def words_of_pages(content: bytes) -> tuple[str, ...]:
    """Return the words of each page of a PDF, with one space between two of them."""
    texts = map(page_text, read_pages(content))
    return tuple(" ".join(text.replace("\u200b", "").split()) for text in texts)
