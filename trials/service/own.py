"""What of an example is to be made one's own, and what of it is still in a study."""

from __future__ import annotations

import itertools
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from trials.files import read_bytes
from trials.service.examples import COURSE, STUDY, example_folder, example_names, measured_names
from trials.service.opening import has_readings
from trials.study import Study, toml
from trials.study.messages import Places
from trials.study.writing import toml_key
from trials.words.own import KINDS, lines_to_change, still_the_examples
from trials.workspace import Workspace

_INVENTED = ("invent",)  # in the languages of the examples: "invented", "inventado"
_TIMES = ("minutes", "count", "starts", "between")


@dataclass(frozen=True)
class Place:
    """Something in study.toml to write anew: its name, and its first and last line."""

    kind: str  # one of KINDS
    name: str
    first: int
    last: int


def to_change(study: Study, text: str) -> tuple[Place, ...]:
    """Return what is different in every class, with its lines in the text of the study."""
    _, places = toml.load(text, "")
    return tuple(_places(study, places))


def change_lines(found: tuple[Place, ...]) -> list[str]:
    """Return the same as lines to read, one for each kind."""
    kinds = {kind: [one for one in found if one.kind == kind] for kind in KINDS}
    return [
        lines_to_change(kind, [(one.name, one.first, one.last) for one in mine])
        for kind, mine in kinds.items()
        if mine
    ]


def _places(study: Study, places: Places) -> Iterator[Place]:
    lines = places.positions.lines

    def one(kind: str, name: str, *key: str) -> Iterator[Place]:
        if key in lines:
            yield Place(kind, name, lines[key], lines[key])

    for key in ("title", "makers", "note"):
        yield from one("printed", key, key)
    for key in _TIMES:
        yield from one("when", key, "lessons", key)
    for key in ("students", "hands"):
        yield from one("who", key, "lessons", key)
    for group in study.groups:
        yield from one("who", f"[groups.{toml_key(group.name)}]", "groups", group.name)
    yield from one("most", "[limits]", "limits")
    yield from one("there", "[stock]", "stock")
    for tool in itertools.takewhile(lambda one: one.per == "class", study.equipment):
        # what each team has for itself comes after, for another day
        yield from one("there", toml_key(tool.name), "equipment", tool.name)


@dataclass(frozen=True)
class _Texts:
    """What the shipped examples say of themselves that holds of no real class."""

    makers: frozenset[str]
    notes: frozenset[str]
    starts: frozenset[str]


@lru_cache(maxsize=1)
def _shipped() -> _Texts:
    files = [example_folder(name) / STUDY for name in example_names()]
    studies = [tomllib.loads(read_bytes(file).decode("utf-8")) for file in files]
    makers, notes = ([one.get(key, "") for one in studies] for key in ("makers", "note"))
    return _Texts(
        frozenset(filter(_invented, makers)),
        frozenset(filter(_invented, notes)),
        frozenset(at for one in studies for at in one.get("lessons", {}).get("starts", ())),
    )


def _demos() -> list[tuple[bytes, int]]:
    """Return the study of each example that can be demonstrated, and the seed of its plan."""
    folders = [example_folder(name) for name in measured_names()]
    seeds = [tomllib.loads(read_bytes(one / COURSE).decode("utf-8"))["seed"] for one in folders]
    return [(read_bytes(one / STUDY), seed) for one, seed in zip(folders, seeds, strict=True)]


def _invented(text: str) -> bool:
    return any(word in text.casefold() for word in _INVENTED)


def still_there(here: Workspace, study: Study, seed: int | None) -> tuple[Place, ...]:
    """Return what the study in a folder still has of an example, with its lines.

    Nothing is said of a class that was invented on purpose: of makers who are called invented and
    aren't an example's, and of the demo; nor of a study that was measured.

    ``seed``: of the plan in the folder, if there is one.
    """
    shipped = _shipped()
    own = _invented(study.makers) and study.makers not in shipped.makers
    starts = study.lessons.starts if study.lessons is not None else ()
    kept = {
        ("makers",): study.makers in shipped.makers,
        ("note",): study.note in shipped.notes,
        ("lessons", "starts"): any(start in shipped.starts for start in starts),
    }
    if own or not any(kept.values()) or has_readings(here):
        return ()
    content = read_bytes(here.study)
    if (content, seed) in _demos():
        return ()
    text = toml.decode(content, str(here.study))
    lines = toml.load(text, str(here.study))[1].positions.lines
    return tuple(
        Place("printed", "dates" if len(key) > 1 else key[0], lines[key], lines[key])
        for key, there in kept.items()
        if there and key in lines
    )


def still_lines(found: tuple[Place, ...]) -> list[str]:
    """Return the same as a line to read; none where nothing is left of an example."""
    return [still_the_examples([(p.name, p.first, p.last) for p in found])] if found else []
