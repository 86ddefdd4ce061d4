"""What may stand at a key of study.toml, in words, read off the values themselves."""

from __future__ import annotations

import types
import typing
from typing import Any, Literal, Union

from pydantic import BaseModel

from trials.study.options import STUDY_OPTIONS, Options
from trials.study.positions import Path
from trials.study.values import Study

_PLAIN: dict[Any, str] = {
    str: "a text in quotes",
    int: "a whole number",
    float: "a number",
    bool: "true or false",
    type(None): "",
}
_EXAMPLES = types.MappingProxyType(
    {
        "title": 'title = "Which paper plane flies further?"',
        "question": 'question = "Does a dart fly further than a glider?"',
        "levels": 'levels = ["oven", "burner"]',
        "count": "count = 2",
        "items": "items = 0.3",
        "below": "below = 0.01",
        "name": 'name = "measure"',
        "text": 'text = "Hot: use tongs."',
    }
)


def keys_at(loc: Path) -> tuple[str, ...]:
    """Return the keys that are allowed in the part of a study at ``loc``.

    Examples
    --------
    >>> keys_at(("limits",))
    ('items', 'copies', 'fraction', 'forbidden', 'required')
    """
    model = _unwrapped(_annotation(loc))
    if model is Options:
        return STUDY_OPTIONS
    if not _is_model(model):
        return ()
    named = model is not Study and loc[:1] != ("steps",)
    return tuple(name for name in model.model_fields if not (named and name == "name"))


def allowed_at(loc: Path) -> str:
    """Return in words what may stand at ``loc``.

    Examples
    --------
    >>> allowed_at(("factors", 0, "kind")), allowed_at(("factors", 0, "levels"))
    ('category, quantity', 'a list of texts or numbers in square brackets')
    >>> allowed_at(("responses", 0, "readings")), allowed_at(("plan",))
    ('a whole number', 'a part with its own heading, and under it: criterion, looks')
    """
    names = [part for part in loc if isinstance(part, str)]
    if names[-1:] in (["levels"], ["members"]):
        if isinstance(loc[-1], int):
            return "a text in quotes or a number"
        return "a list of texts or numbers in square brackets"
    if names[:1] == ["analysis"] and len(names) == 2:
        return _option_range(names[1]) or _words(_annotation(loc), loc)
    return _words(_annotation(loc), loc)


def required_example(loc: Path) -> str:
    """Return a line that would fill the missing key at ``loc``."""
    name = str(loc[-1])
    return _EXAMPLES.get(name, f"{name} = ...")


def _option_range(name: str) -> str:
    return {
        "interactions": "a whole number from 1 to 6",
        "confidence": "a number above 0.5 and below 1, such as 0.95",
        "resamples": "a whole number from 0 to 10000000",
        "seed": "a whole number from 0",
    }.get(name, "")


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _unwrapped(annotation: Any) -> Any:
    """Return the annotation without Annotated and without 'or None'."""
    if hasattr(annotation, "__metadata__"):
        annotation = typing.get_args(annotation)[0]
    if typing.get_origin(annotation) in (Union, types.UnionType):
        parts = [part for part in typing.get_args(annotation) if part is not type(None)]
        if len(parts) == 1:
            return _unwrapped(parts[0])
    return annotation


def _annotation(loc: Path) -> Any:
    """Return what the Study declares at ``loc``; as far as it declares anything."""
    here: Any = Study
    for part in loc:
        here = _unwrapped(here)
        if _is_model(here):
            field = here.model_fields.get(str(part))
            if field is None:
                return here
            here = field.annotation
        elif typing.get_origin(here) in (tuple, dict):
            here = typing.get_args(here)[1 if typing.get_origin(here) is dict else 0]
        else:
            return here
    return here


def _words(annotation: Any, loc: Path) -> str:
    plain = _unwrapped(annotation)
    origin = typing.get_origin(plain)
    inner = typing.get_args(plain)
    if origin is Literal:
        words = ", ".join(str(choice) for choice in inner)
    elif origin is tuple and _is_model(inner[0]):
        words = f"parts with headings such as [[{_heading(loc)}]]"
    elif origin is tuple:
        words = "a list of texts in square brackets"
    elif origin is dict:
        words = f"names, each with {_words(inner[1], loc)}"
    elif origin in (Union, types.UnionType):
        words = " or ".join(filter(None, (_words(part, loc) for part in inner)))
    elif _is_model(plain):
        words = f"a part with its own heading, and under it: {', '.join(keys_at(loc))}"
    else:
        words = _PLAIN.get(plain, "a value")
    return words


def _heading(loc: Path) -> str:
    return ".".join(part for part in loc if isinstance(part, str))
