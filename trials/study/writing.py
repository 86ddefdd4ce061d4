"""A Study as a commented study.toml, which reads back to an equal Study."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from trials.study.options import STUDY_OPTIONS, Options
from trials.study.values import (
    Equipment,
    Lessons,
    Limits,
    Planning,
    Response,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
)
from trials.words.study_file import NOTES

_BARE = re.compile(r"[A-Za-z0-9_-]+\Z")
_NUMBER = re.compile(r"-?(0|[1-9]\d{0,14})(\.\d+)?([eE][-+]?\d{1,2})?\Z")
_WIDE = 90


def write_study(study: Study, practice: str = "../practice") -> str:
    """Return the text of study.toml for a study that :func:`check_study` accepts.

    ``practice``: folder of the practice run that is offered where a spread is only guessed.

    Examples
    --------
    >>> from trials.study.reading import parse_study
    >>> text = '''
    ... title = "Planes"
    ... question = "Which flies further?"
    ... [factors.shape]
    ... levels = ["dart", "glider"]
    ... [responses.distance]
    ... unit = "m"
    ... '''
    >>> parse_study(write_study(parse_study(text))) == parse_study(text)
    True
    """
    return "\n".join(_lines(study, practice)).strip("\n") + "\n"


def _lines(study: Study, practice: str) -> Iterator[str]:
    yield from _notes("top")
    yield ""
    yield "format_version = 1"
    yield from _pairs(study, ("title", "question", "prediction", "makers", "note", "item_name"))
    if study.language != "en":
        yield f"language = {_text(study.language)}"
    if study.practice:
        yield from _notes("practice")
        yield "practice = true"
    if study.spread_from is not None or _guessed(study):
        yield from _notes("spread_from")
        offered = "# " if study.spread_from is None else ""
        yield f"{offered}spread_from = {_text(study.spread_from or practice)}"
    if study.same:
        yield ""
        yield from _notes("same")
        yield f"same = {_list(study.same, long=True)}"
    yield from _section("factors", [_factor(factor) for factor in study.factors])
    yield from _section("groups", [_group(group) for group in study.groups])
    yield from _section("responses", [_response(response) for response in study.responses])
    if study.columns:
        yield from _section("columns", [_columns(study.columns)])
    if study.limits != Limits():
        yield from _section("limits", [_limits(study.limits)])
    if study.plan != Planning():
        keys = tuple(Planning.model_fields)
        yield from _section("plan", [["[plan]", *_pairs(study.plan, keys)]])
    if study.analysis != Options():
        yield from _section("analysis", [["[analysis]", *_pairs(study.analysis, STUDY_OPTIONS)]])
    if study.lessons is not None:
        keys = tuple(Lessons.model_fields)
        yield from _section("lessons", [["[lessons]", *_pairs(study.lessons, keys)]])
    if study.stock:
        yield from _section("stock", [_stock(study.stock)])
    yield from _section("equipment", [_equipment(one) for one in study.equipment])
    yield from _section("steps", [_step(step) for step in study.steps])


def _guessed(study: Study) -> bool:
    return any(r.spread is not None and r.spread.source == "shipped guess" for r in study.responses)


def _limits(limits: Limits) -> Iterator[str]:
    yield "[limits]"
    yield from _pairs(limits, ("items", "copies", "fraction"))
    for key in ("forbidden", "required"):
        combinations = getattr(limits, key)
        if combinations:
            yield f"{key} = ["
            yield from (f"  {_inline(combination)}," for combination in combinations)
            yield "]"


def _notes(key: str, unit: str = "") -> Iterator[str]:
    for line in NOTES[key]:
        yield f"# {line.format(unit=_one_line(unit) or 'the unit above')}"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _section(key: str, parts: Sequence[Iterable[str]]) -> Iterator[str]:
    if not parts:
        return
    yield ""
    yield f"# {'-' * (_WIDE - 2)}"
    yield from _notes(key)
    for part in parts:
        yield ""
        yield from part


def _pairs(thing: object, keys: Iterable[str]) -> Iterator[str]:
    """Yield ``key = value`` for every key that isn't as it is by default."""
    fields = type(thing).model_fields  # type: ignore[attr-defined]  # one of the frozen models
    for key in keys:
        value = getattr(thing, key)
        if fields[key].is_required() or value != fields[key].get_default():
            yield f"{toml_key(key)} = {toml_value(value)}"


def _factor(factor: StudyFactor) -> Iterator[str]:
    heading = f"factors.{toml_key(factor.name)}"
    yield f"[{heading}]"
    yield from _pairs(factor, ("label",))
    yield f"levels = {_levels(factor)}"
    yield from _pairs(factor, ("kind", "unit", "scale", "applied_to", "shared", "control"))
    yield from _table(f"{heading}.how", factor.how)


def _levels(factor: StudyFactor) -> str:
    if factor.kind != "quantity":
        return _list(factor.levels)
    return "[" + ", ".join(v if _NUMBER.match(v) else _text(v) for v in factor.levels) + "]"


def _group(group: StudyGroup) -> Iterator[str]:
    yield f"[groups.{toml_key(group.name)}]"
    keys = ("label", "count", "within", "step", "capacity", "sizes", "role", "random", "members")
    yield from _pairs(group, keys)


def _response(response: Response) -> Iterator[str]:
    heading = f"responses.{toml_key(response.name)}"
    yield f"[{heading}]"
    yield from _pairs(response, ("label", "unit"))
    yield f"reducer = {_text(response.reducer)}"
    yield from _pairs(response, ("better",))
    yield f"compare = {_text(response.compare)}"
    keys = ("worthwhile", "expected", "primary", "readings", "low", "high")
    yield from _pairs(response, keys)
    yield from _table(f"{heading}.settings", response.settings)
    if response.spread is not None:
        yield ""
        yield from _notes(f"spread_{response.compare}", response.unit)
        if response.spread.source == "shipped guess":
            yield from _notes("shipped guess")
        yield f"[{heading}.spread]"
        yield from _pairs(response.spread, ("items", "readings"))
        if response.spread.groups:
            yield f"groups = {_inline(response.spread.groups)}"
        yield f"source = {_text(response.spread.source)}"
    if response.failed is not None:
        yield ""
        yield from _notes("failed")
        yield f"[{heading}.failed]"
        yield from _pairs(response.failed, ("below", "text"))


def _equipment(one: Equipment) -> Iterator[str]:
    yield f"[equipment.{toml_key(one.name)}]"
    yield from _pairs(one, ("label", "count", "per", "holds", "together", "flame"))


def _step(step: Step) -> Iterator[str]:
    yield "[[steps]]"
    yield from _pairs(step, ("name", "label", "text", "minutes", "waiting", "waiting_is"))
    yield from _pairs(step, ("ended_by_hand", "keeps"))
    yield from _pairs(step, ("one_by_one", "stage", "when", "by", "equipment"))
    if step.equipment_for:
        yield f"equipment_for = {_inline(step.equipment_for)}"
    yield from _pairs(step, ("busy", "flammable", "flame", "factors"))
    for material in step.materials:
        yield ""
        yield "[[steps.materials]]"
        yield from _pairs(material, ("name", "amount", "unit", "per", "level"))
    for caution in step.cautions:
        yield ""
        yield "[[steps.cautions]]"
        yield from _pairs(caution, ("text", "ghs", "iso7010"))


def _stock(stock: Mapping[str, float | str]) -> Iterator[str]:
    yield "[stock]"
    for name, there in stock.items():
        yield f"{toml_key(name)} = {toml_value(there)}"


def _columns(columns: Mapping[str, str]) -> Iterator[str]:
    yield "[columns]"
    for heading, meaning in columns.items():
        yield f"{_text(heading)} = {_text(meaning)}"


def _table(heading: str, values: dict[str, str] | dict[str, float | str]) -> Iterator[str]:
    if values:
        yield ""
        yield f"[{heading}]"
        for key, value in values.items():
            yield f"{toml_key(key)} = {toml_value(value)}"


def _inline(values: Mapping[str, float | str] | Mapping[str, tuple[str, ...]]) -> str:
    inside = ", ".join(f"{toml_key(key)} = {toml_value(value)}" for key, value in values.items())
    return f"{{ {inside} }}"


def toml_key(name: str) -> str:
    """Return a name as a key of TOML, in quotes where it needs them."""
    return name if _BARE.match(name) else _text(name)


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_value(value: object) -> str:
    """Return a text, number, truth, or tuple or mapping of them as a value of TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        whole = float(value).is_integer() and abs(value) < 10**15
        return str(int(value)) if whole else repr(value)
    if isinstance(value, tuple):
        return _list(value)
    if isinstance(value, Mapping):
        return _inline(value)
    return _text(str(value))


def _list(values: Sequence[str], *, long: bool = False) -> str:
    """Return a list on one line, or one part a line where it is long."""
    parts = [toml_value(value) for value in values]
    line = "[" + ", ".join(parts) + "]"
    if not long and len(line) <= _WIDE:
        return line
    return "[\n" + "".join(f"  {part},\n" for part in parts) + "]"
