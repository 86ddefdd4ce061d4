"""Options that are described as data: the one list that study.toml and Python use too."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Any

import typer

from trials.service.options import OptionText

Json = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
Folder = Annotated[Path, typer.Argument(help="The study folder.", metavar="FOLDER")]

_TYPES: dict[str, type] = {"text": str, "number": float, "whole": int, "switch": bool}


def add_described(
    app: typer.Typer, verb: Callable[..., None], target: Any, options: Iterable[OptionText]
) -> None:
    """Add a verb that takes ``target`` (an annotated argument), the options, and --json.

    The verb is called with ``target``, ``as_json`` and every option by name; None where not given.
    """
    optional = type(None) in getattr(target.__origin__, "__args__", ())
    described: Any = verb
    described.__signature__ = inspect.Signature(
        [
            _parameter("target", target, None if optional else inspect.Parameter.empty),
            *(_option(option) for option in options),
            _parameter("as_json", Json, False),
        ]
    )
    described.__annotations__ = {}  # the signature says it all
    app.command()(described)


def _option(option: OptionText) -> inspect.Parameter:
    told = option.help + (f" (usually {option.usual})" if option.usual else "")
    if option.kind == "switch":
        switch = typer.Option(option.flag, help=told)
        return _parameter(option.name, Annotated[bool | None, switch], None)
    typed = typer.Option(option.flag, help=told, metavar=option.metavar, show_default=False)
    one: Any = _TYPES[option.kind]
    kind: Any = list[one] | None if option.repeats else one | None
    return _parameter(option.name, Annotated[kind, typed], None)


def _parameter(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(
        name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation
    )
