"""``trials plan --options``: other plans for the same question, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from trials.classroom.lessons import lessons_at_least
from trials.classroom.stock import stocks
from trials.design.alternatives import Alternative, OneMore, alternatives, one_more
from trials.files import as_typed
from trials.progress import progress
from trials.render.table import Column, Table, to_text
from trials.service.impossible import with_nearest
from trials.service.standing import Standing, standing
from trials.study import Study, labels_of, lines_of
from trials.study.messages import key_text
from trials.words.alternatives import (
    NOT_PLACED,
    WHAT,
    gives_up_line,
    groups_text,
    one_more_sentence,
    too_little_in_stock,
    too_many_lessons,
)
from trials.words.fairness import change_words
from trials.words.judging import shown_size, size_text
from trials.words.numbers import capital, count, plural

LETTERS = "ABCDE"


@dataclass(frozen=True)
class Compared:
    """Plans between few items and small differences; nothing was written."""

    folder: Path
    of: Standing
    plans: tuple[Alternative, ...]
    more: tuple[OneMore, ...]
    lessons: Mapping[str, int]  # code of a plan -> lessons that it takes at least, where known

    @property
    def study(self) -> Study:
        """The study."""
        return self.of.study

    def to_dict(self) -> dict[str, Any]:
        """Return every plan with what to write to get it."""
        return {
            "numbers_of": self.of.which,
            "options": [
                {
                    "code": one.code,
                    "items": one.items,
                    "recipes": one.recipes,
                    "groups": dict(one.groups),
                    "family": one.family,
                    "gives_up": list(one.gives_up),
                    "without": one.without,
                    "lessons_at_least": self.lessons.get(one.code),
                    "response": one.response,
                    "shows": dict(one.shows),
                    "write": [{"under": h, "line": line} for h, line in _written(one)],
                    "delete": [{"under": h, "key": key} for h, key in _deleted(one)],
                }
                for one in self.plans
            ],
            "one_more": [asdict(one) for one in self.more],
        }

    def text(self) -> list[str]:
        """Return the plans side by side, then one by one, then what one more would buy."""
        labels = labels_of(self.study)
        lines = [*to_text(self._table(labels)), ""]
        for letter, one in zip(LETTERS, self.plans, strict=False):
            lines += [*self._told(letter, one, labels), ""]
        lines += [self._bought(one, labels) for one in self.more]
        return [
            *lines,
            *([""] if self.more else []),
            *([NOT_PLACED] if self.study.lessons is not None else []),
            "Nothing was changed. To take a plan, write its lines into study.toml, then: "
            f"trials plan {as_typed(self.folder)}",
        ]

    def _table(self, labels: dict[str, str]) -> Table:
        item = plural(self.study.item_name)
        names = list(dict.fromkeys(name for one in self.plans for name in one.shows))
        columns = (Column("plan"), Column(item), *(Column(f"{labels[name]}*") for name in names))
        rows = tuple(
            (letter, str(one.items), *(self._size(one, name) for name in names))
            for letter, one in zip(LETTERS, self.plans, strict=False)
        )
        return Table(
            "plans",
            f"The smallest difference that shows{self._of()}",
            columns,
            rows,
            ("* in 8 of 10 repeats, if the spread is as declared", self._drawn()),
        )

    def _drawn(self) -> str:
        """Return how the numbers came about: the study's own plan as it is, the others roughly."""
        own = next(
            (
                letter
                for letter, one in zip(LETTERS, self.plans, strict=False)
                if one.code == "as_asked"
            ),
            "",
        )
        return (
            f"Plan {own}: {self.of.told()} The others are quick draws: drawn with trials plan, "
            "each can come out a little better."
        )

    def _of(self) -> str:
        response = self.plans[0].response
        if response is None:
            return " (no spread was given: in standard deviations between items)"
        of = self.study.response(response)
        return f" in {of.label or of.name}"

    def _size(self, one: Alternative, name: str) -> str:
        if name not in one.shows:
            return "not asked"
        return self._size_text(one.shows[name])

    def _size_text(self, size: float | None) -> str:
        name = self.plans[0].response
        if name is None:
            return size_text(size, ratio=False, unit="SD")
        of = self.study.response(name)
        return shown_size(size, ratio=of.compare == "ratio", unit=of.unit)

    def _told(self, letter: str, one: Alternative, labels: dict[str, str]) -> list[str]:
        of = labels.get(one.of, one.of)
        groups = {plural(labels[name]): size for name, size in one.groups.items()}
        made = f"{count(one.items, self.study.item_name)}, {count(one.recipes, 'recipe')}"
        lines = [
            f"{letter}  {made}" + (f", in {groups_text(groups)}." if groups else "."),
            f"   {capital(WHAT[one.code].format(of=of))}.",
            f"   {gives_up_line(one.code, one.notes, of)}",
            f"   In textbooks: {one.family}.",
        ]
        asked = self.study.lessons
        there = (asked.count or len(asked.starts)) if asked else 0
        if there and self.lessons[one.code] > there:
            lines.append(f"   {too_many_lessons(self.lessons[one.code], there)}")
        lines += [
            f"   {too_little_in_stock(short.name, short.fits, self.study.item_name)}"
            for short in stocks(self.study, self.of.plan)
            if short.fits is not None and short.fits < one.items
        ]
        written = _written(one)
        if one.without is not None:
            lines.append(f"   In study.toml: delete [factors.{one.without}].")
        lines += [f"   In study.toml: delete {key} under {under}." for under, key in _deleted(one)]
        if written:
            lines.append(f"   {change_words(written)}.")
        return lines

    def _bought(self, one: OneMore, labels: dict[str, str]) -> str:
        what = self.study.item_name
        if one.what is not None:
            within = self.study.group(one.what).within
            what = labels[one.what] + (f" in each {labels[within]}" if within else "")
        return one_more_sentence(
            what,
            count(one.items, self.study.item_name),
            labels[one.factor],
            (self._size_text(one.before), self._size_text(one.after)),
            grows=one.what is not None,
        )


def _deleted(one: Alternative) -> tuple[tuple[str, str], ...]:
    """Return for each key to delete the heading it stands under."""
    gone = [keys for keys, value in one.lines if value is None]
    return tuple((f"[{key_text(keys[:-1])}]", key_text(keys[-1:])) for keys in gone)


def _written(one: Alternative) -> tuple[tuple[str, str], ...]:
    return lines_of((keys, value) for keys, value in one.lines if value is not None)


def compare_plans(folder: Path) -> Compared:
    """Return other plans for a study. Changes nothing.

    Raises
    ------
    FileError, StudyError : there is no study, or it says something impossible.
    PlanError : no plan can be made of it.
    """
    with with_nearest(folder):
        with progress("drawing this plan"):
            of = standing(folder)
        with progress("drawing other plans") as tell:
            plans = alternatives(of.study, of.plan, tell)
    with progress("drawing larger plans") as tell:
        more = one_more(of.study, of.plan, tell)
    timed = plans if of.study.lessons is not None else ()
    least = {one.code: lessons_at_least(one.study, one.plan) for one in timed}
    return Compared(folder, of, plans, more, least)
