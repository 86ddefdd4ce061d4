"""A new study: from nine questions, from a file of answers, from an example, or a practice run."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from trials.errors import FileError, RequestError, StudyError
from trials.files import as_typed, write_text
from trials.service.examples import example_folder, example_names
from trials.service.own import Place, change_lines, to_change
from trials.study import Study, members_in_all, toml
from trials.study.asking import (
    KEYS,
    check_answer,
    default_answer,
    questions,
    read_answers,
    study_from_answers,
    write_answers,
)
from trials.study.reading import parse_study, read_study
from trials.study.writing import write_study
from trials.words.own import ANY_TIME, OPEN
from trials.words.questions import (
    BACK,
    NEXT,
    NEXT_APPLIED,
    NEXT_GUESS,
    NEXT_PRACTICE,
    NEXT_STEPS,
    Question,
)
from trials.workspace import Workspace

__all__ = ["BACK", "Asking", "Dialog", "NewResult", "Question", "example_names", "new"]

_ANSWERS = "answers.toml"


@dataclass(frozen=True)
class Dialog:
    """Everything a front end needs to ask the questions; it decides nothing itself.

    ``earlier`` holds the answers of an attempt that was broken off.
    """

    questions: tuple[Question, ...]
    kept_in: Path
    practice: bool = False
    earlier: Mapping[str, str] = field(default_factory=dict)

    def default(self, key: str, so_far: Mapping[str, str]) -> str:
        """Return what an empty answer to a question means."""
        return self.earlier.get(key) or default_answer(key, so_far)

    def check(self, key: str, text: str, so_far: Mapping[str, str]) -> None:
        """Refuse an answer that can't be used.

        Raises
        ------
        StudyError : with what is allowed and what to do.
        """
        check_answer(key, text, so_far, practice=self.practice)

    def keep(self, so_far: Mapping[str, str]) -> None:
        """Save the answers given so far, so that breaking off loses nothing."""
        write_text(self.kept_in, write_answers({**self.earlier, **so_far}, practice=self.practice))


Asking = Callable[[Dialog], Mapping[str, str]]


@dataclass(frozen=True)
class NewResult:
    """What was made, and what to do next, one sentence each.

    ``change``: what of an example is to be made one's own, with its lines in study.toml.
    """

    folder: Path
    study: Study
    files: tuple[Path, ...]
    next: tuple[str, ...]
    change: tuple[Place, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "folder": str(self.folder),
            "title": self.study.title,
            "files": [str(path) for path in self.files],
            "next": list(self.next),
            "change": [{"name": p.name, "first": p.first, "last": p.last} for p in self.change],
        }

    def text(self) -> list[str]:
        """Return what a person reads on a terminal."""
        written = ", ".join(str(path) for path in self.files)
        first, *others = self.next
        return [
            self.study.title,
            f"Written: {written}",
            "",
            "What to do next:",
            first,
            *change_lines(self.change),
            *others,
        ]


def new(
    folder: Path,
    *,
    example: str | None = None,
    answers: Path | None = None,
    practice: bool = False,
    ask: Asking | None = None,
) -> NewResult:
    """Make a study folder with a study.toml that explains itself.

    Parameters
    ----------
    folder : where; it is made if it isn't there. A study.toml in it is never overwritten.
    example : name of an example study to start from.
    answers : TOML file with the answers to the nine questions.
    practice : a practice run instead of a study: four items built alike by two makers.
    ask : asks the questions where neither example nor answers are given.

    Raises
    ------
    RequestError : the options contradict each other, or nobody is there to ask.
    FileError : the folder holds a study already, or can't be written.
    StudyError : the answers don't make a study.
    """
    _check_request(example, answers, practice)
    here = Workspace(folder)
    if here.study.exists():
        raise FileError(
            "There is a study in this folder already.",
            code="new.exists",
            where=str(here.study),
            do="Choose another folder; or, to start over, move study.toml somewhere else first.",
        )
    if example is not None:
        source = example_folder(example) / here.study.name
        study = read_study(source)
        text = source.read_text(encoding="utf-8")
        files: tuple[Path, ...] = (here.study,)
    else:
        if answers is not None:
            study, files = read_answers(answers, practice=practice), (here.study,)
        else:
            study, files = _asked(folder, practice, ask)
        text = write_study(study, f"../{_practice(here).name}")
        parse_study(text, str(here.study))  # what we write, we can read
    write_text(here.study, text)
    change = to_change(study, text) if example is not None else ()
    return NewResult(folder, study, files, _next(here, study, example is not None), change)


def _check_request(example: str | None, answers: Path | None, practice: bool) -> None:
    given = [
        flag
        for flag, there in (
            ("--example", example is not None),
            ("--answers", answers is not None),
            ("--practice", practice),
        )
        if there
    ]
    if "--example" in given and len(given) > 1:
        raise RequestError(
            "An example is a whole study; the other options have no place beside it.",
            code="new.contradiction",
            found=" ".join(given),
            allowed="--example NAME alone, or --answers FILE, or --practice, or both of the latter",
            do="Leave out all but one.",
        )


def _asked(folder: Path, practice: bool, ask: Asking | None) -> tuple[Study, tuple[Path, ...]]:
    if ask is None:
        raise RequestError(
            "Nobody is there to answer the questions.",
            code="new.nobody",
            allowed="--answers FILE or --example NAME",
            do=f"Examples are: {', '.join(example_names())}",
        )
    kept = folder / _ANSWERS
    dialog = Dialog(
        questions=questions(practice=practice),
        kept_in=kept,
        practice=practice,
        earlier=_earlier(kept),
    )
    said = ask(dialog)
    study = study_from_answers(said, practice=practice)
    dialog.keep(said)
    return study, (folder / "study.toml", kept)


def _earlier(kept: Path) -> dict[str, str]:
    """Return the answers of an attempt that was broken off; none if they can't be read."""
    if not kept.is_file():
        return {}
    try:
        values, _ = toml.load(toml.decode(kept.read_bytes(), str(kept)), str(kept))
    except (StudyError, OSError):
        return {}
    return {key: value for key, value in values.items() if key in KEYS and isinstance(value, str)}


def _next(here: Workspace, study: Study, of_example: bool) -> tuple[str, ...]:
    sentences = [OPEN, *NEXT[1:]] if of_example else list(NEXT)
    if study.practice:
        sentences.append(NEXT_PRACTICE)
    else:
        if any(r.spread and r.spread.source == "shipped guess" for r in study.responses):
            sentences.append(ANY_TIME if of_example else NEXT_GUESS)
        if not any(step.cautions for step in study.steps):
            sentences.append(NEXT_STEPS)
    practice = _practice(here)
    told = [
        sentence.format(file=here.study, folder=as_typed(here.folder), practice=as_typed(practice))
        for sentence in sentences
    ]
    told.extend(
        NEXT_APPLIED.format(
            factor=factor.name,
            group=factor.applied_to,
            count=members_in_all(study, factor.applied_to),
        )
        for factor in study.factors
        if factor.applied_to is not None
    )
    return tuple(told)


def _practice(here: Workspace) -> Path:
    """Return where a practice run for a study would best be: beside it."""
    name = f"{here.folder.resolve().name}-practice"
    return here.folder.with_name(name) if here.folder.name else Path("..") / name
