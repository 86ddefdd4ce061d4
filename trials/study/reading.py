"""study.toml into a checked Study."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from trials.errors import StudyError
from trials.files import read_bytes
from trials.study import toml
from trials.study.checks import check_study, settled
from trials.study.kinds import allowed_at, keys_at, required_example
from trials.study.messages import Places, key_text, meant, nearest, shorten, shown
from trials.study.options import STUDY_OPTIONS
from trials.study.positions import Path as Keys
from trials.study.values import Study

NAMED = ("factors", "groups", "responses", "equipment")
_ONE = {
    "factors": "factor",
    "groups": "group",
    "responses": "response",
    "equipment": "piece of equipment",
}
_AS_WRITTEN = ("levels", "members", "control")  # names, though some look like numbers
_AT_THE_TOP = ("prediction", "makers", "item_name", "language", "practice", "spread_from", "same")
_ELSEWHERE = {
    "compare": "Write compare under [responses.NAME]: each response has its own.",
    "worthwhile": "Write worthwhile under [responses.NAME]: each response has its own.",
    "control": "Write control under [factors.NAME].",
    "response": "Mark the main response with 'primary = true' under [responses.NAME].",
    "item": "The plan names the items; this option is for tables without a study.",
    "covariates": "This option is for tables without a study.",
}


def read_study(path: Path) -> Study:
    """Return the study written in the file ``path``.

    Raises
    ------
    FileError : the file is missing or can't be opened.
    StudyError : it isn't a text, isn't TOML, or says something impossible.
    """
    return parse_study(toml.decode(read_bytes(path), str(path)), str(path))


def parse_study(text: str, where: str = "study.toml") -> Study:
    """Return the study written in ``text``; ``where`` is what errors call the file.

    Numbers among the levels are kept as the text that was written (``2.50`` stays "2.50").

    Raises
    ------
    StudyError : with line, key, what was found, what is allowed and what to do.

    Examples
    --------
    >>> study = parse_study('''
    ... title = "Planes"
    ... question = "Which flies further?"
    ... [factors.shape]
    ... levels = ["dart", "glider"]
    ... [responses.distance]
    ... unit = "m"
    ... ''')
    >>> study.factor("shape").levels, study.response("distance").primary
    (('dart', 'glider'), True)
    """
    study, places = shape_study(text, where)
    check_study(study, places)
    return study


def shape_study(text: str, where: str = "study.toml") -> tuple[Study, Places]:
    """Return what is written in ``text`` as a study, though it may be impossible, and its places.

    Raises
    ------
    StudyError : keys or values that no study has; what contradicts itself is let through.
    """
    values, places = toml.load(text, where)
    _check_analysis_keys(values, places)
    shaped = {key: _shaped(key, value, places) for key, value in values.items()}
    _write_out_combinations(shaped, places)
    shaped.setdefault("factors", [])
    shaped.setdefault("responses", [])
    try:
        study = Study.model_validate_json(json.dumps(shaped), strict=True)
    except ValidationError as problem:
        raise _first_problem(problem, shaped, places) from None
    return settled(study), places


def _shaped(key: str, value: Any, places: Places) -> Any:
    """Return the value of a top-level key in the form that Study has."""
    if key not in NAMED:
        return value
    one = _ONE[key]
    if not isinstance(value, dict):
        raise places.error(
            (key,),
            f"Every {one} needs a heading of its own, with its name in it.",
            code="wrong_kind",
            found=shown(value),
            allowed=f"[{key}.NAME]",
            do=f"Write [{key}.NAME] and under it what belongs to that {one}.",
        )
    return [_named(key, name, part, places) for name, part in value.items()]


def _named(key: str, name: str, part: Any, places: Places) -> dict[str, Any]:
    if not isinstance(part, dict) and name in keys_at((key, 0)):
        raise places.error(
            (key, name),
            f"It isn't said which {_ONE[key]} this belongs to.",
            code="wrong_kind",
            found=f"[{key}]",
            allowed=f"[{key}.NAME]",
            do=f"Write [{key}.NAME] in place of [{key}], with the name of the {_ONE[key]}.",
        )
    if not isinstance(part, dict):
        raise places.error(
            (key, name),
            f"'{shorten(name)}' should be the heading of a {_ONE[key]}.",
            code="wrong_kind",
            found=shown(part),
            allowed=f"[{key}.NAME]",
            do=f"Write [{key_text((key, name))}] on a line of its own.",
        )
    if "name" in part:
        raise places.error(
            (key, name, "name"),
            "The name stands in the heading already.",
            code="unknown_key",
            found=shown(part["name"]),
            allowed=f"[{key}.NAME]",
            do="Delete this line; to print other words use label.",
        )
    sizes = part.get("sizes")
    if key == "groups" and "count" not in part and isinstance(sizes, list):
        part = {"count": len(sizes), **part}
    return {"name": name, **{k: _written(k, v, (key, name, k), places) for k, v in part.items()}}


def _written(key: str, value: Any, path: Keys, places: Places) -> Any:
    """Return numbers among names as the text that was written."""
    if key not in _AS_WRITTEN:
        return value
    if isinstance(value, list):
        return [_as_text(part, (*path, place), places) for place, part in enumerate(value)]
    return _as_text(value, path, places)


def _as_text(value: Any, path: Keys, places: Places) -> Any:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return value
    written = places.positions.numbers.get(path, "")
    try:
        if float(written) == value and written.strip("+-0123456789.eE") == "":
            return written.removeprefix("+")
    except ValueError:
        pass
    return str(value)


def _write_out_combinations(shaped: dict[str, Any], places: Places) -> None:
    """Keep levels in lists of combinations as the text that was written."""
    limits = shaped.get("limits")
    if not isinstance(limits, dict):
        return
    shaped["limits"] = dict(limits)
    for key in ("forbidden", "required"):
        combinations = limits.get(key)
        if isinstance(combinations, list):
            shaped["limits"][key] = [
                {
                    name: _as_text(level, ("limits", key, place, name), places)
                    for name, level in combination.items()
                }
                if isinstance(combination, dict)
                else combination
                for place, combination in enumerate(combinations)
            ]


def _check_analysis_keys(values: dict[str, Any], places: Places) -> None:
    analysis = values.get("analysis")
    if not isinstance(analysis, dict):
        return
    for key in analysis:
        if key in STUDY_OPTIONS:
            continue
        raise places.error(
            ("analysis", key),
            f"There is no '{shorten(key)}' among the choices of an analysis in a study.",
            code="unknown_key",
            found=shorten(key),
            allowed=", ".join(STUDY_OPTIONS),
            do=_ELSEWHERE.get(key) or meant(key, STUDY_OPTIONS, "Delete the line."),
        )


def _first_problem(problem: ValidationError, shaped: dict[str, Any], places: Places) -> StudyError:
    """Return the error that stands first in the file.

    A key that is missing beside one that isn't known was most likely misspelt.
    """
    details: list[dict[str, Any]] = [dict(d) for d in problem.errors(include_url=False)]
    misspelt = {d["loc"][:-1] for d in details if d["type"] == "extra_forbidden"}
    errors = [
        _translated(detail, shaped, places)
        for detail in details
        if detail["type"] != "missing" or detail["loc"][:-1] not in misspelt
    ]
    return min(errors, key=lambda pair: pair[0])[1]


def _translated(
    detail: dict[str, Any], shaped: dict[str, Any], places: Places
) -> tuple[int, StudyError]:
    loc = tuple(detail["loc"])
    path = _path(loc, shaped)
    line = places.positions.line(path) or 0
    kind = str(detail["type"])
    if kind == "extra_forbidden":
        return line, _unknown_key(loc, path, places)
    if kind == "missing":
        return line, _missing_key(loc, path, places)
    if path == ("format_version",):
        return line, _other_version(detail, places)
    allowed = allowed_at(loc)
    found = detail["input"]
    error = places.error(
        path,
        f"'{_last_name(path)}' can't be this.",
        code="wrong_value" if kind == "literal_error" else "wrong_kind",
        found=shown(found),
        allowed=allowed,
        do=_remedy(found, allowed),
    )
    return line, error


def _remedy(found: Any, allowed: str) -> str:
    """Return what to do about a value of the wrong kind."""
    hit = None
    if isinstance(found, str):
        hit = nearest(found, [word for word in allowed.split(", ") if " " not in word])
    if hit is not None and hit != found:
        do = f"Did you mean '{hit}'?"
    elif allowed.startswith("a list"):
        do = "Put it in square brackets, even if there is only one."
    elif allowed.startswith("a text"):
        do = "Put it in quotes."
    elif isinstance(found, str) and allowed.startswith(("a number", "a whole", "true")):
        do = "Write it without quotes."
    else:
        do = "Write a value that is allowed."
    return do


def _last_name(path: Keys) -> str:
    names = [part for part in path if isinstance(part, str)]
    return shorten(names[-1]) if names else "the file"


def _path(loc: Keys, shaped: dict[str, Any]) -> Keys:
    """Return the keys in the file of a place in the Study."""
    path: Keys = loc
    if len(loc) > 1 and loc[0] in NAMED and isinstance(loc[1], int):
        path = (loc[0], shaped[str(loc[0])][loc[1]]["name"], *loc[2:])
    known: Any = {**shaped, **{k: {p["name"]: p for p in shaped.get(k, [])} for k in NAMED}}
    kept: Keys = ()
    for part in path:  # pydantic adds the kinds it tried, such as 'float', behind the keys
        inside = isinstance(known, dict) and part in known
        inside = inside or (isinstance(known, list) and isinstance(part, int) and part < len(known))
        if not inside:
            return path if part == path[-1] and isinstance(known, dict) else kept
        kept = (*kept, part)
        known = known[part]
    return kept


def _unknown_key(loc: Keys, path: Keys, places: Places) -> StudyError:
    allowed = keys_at(loc[:-1])
    word = str(loc[-1])
    if word in _AT_THE_TOP and len(loc) > 1:
        return places.error(
            path,
            f"'{shorten(word)}' belongs to the study as a whole, and here it stands under a part.",
            code="unknown_key",
            found=f"under [{key_text(path[:-1])}]",
            allowed=", ".join(allowed),
            do="Move it to the top of the file, above the first heading in [ ].",
        )
    return places.error(
        path,
        f"There is no '{shorten(word)}' here.",
        code="unknown_key",
        found=shorten(word),
        allowed=", ".join(allowed),
        do=meant(word, allowed, "Delete the line, or use one of the names that are allowed."),
    )


def _missing_key(loc: Keys, path: Keys, places: Places) -> StudyError:
    word = str(loc[-1])
    around = path[:-1]
    return places.error(
        around or (word,),
        f"'{word}' is missing" + (f" in [{key_text(around)}]." if around else "."),
        code="missing_key",
        allowed=allowed_at(loc),
        do=f"Add a line such as: {required_example(loc)}",
    )


def _other_version(detail: dict[str, Any], places: Places) -> StudyError:
    return places.error(
        ("format_version",),
        "This study file has a form that this program doesn't know.",
        code="format_version",
        found=shown(detail["input"]),
        allowed="1",
        do="Write format_version = 1, or install the program that wrote the file.",
    )
