"""What was typed and not understood, in plain words: what is wrong, what is allowed, what to do."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trials.errors import TrialsError
from trials.service.options import limit_text

_VALUE = re.compile(r"Invalid value for '([^']+)': (.*)", re.DOTALL)
_NO_VALUE = re.compile(r"Option '([^']+)' requires an argument")
_MISSING = re.compile(r"Missing (?:option|argument) '([^']+)'")
_NUMBER = re.compile(r"[+-]?\d+,\d+")


def usage_error(
    message: str, command: str, arguments: Sequence[str], *, meaning: str = "", told: str = ""
) -> TrialsError:
    """Return what was wrong with a command line.

    Parameters
    ----------
    message : as the reader of command lines words it.
    command : as far as it was understood: "trials plan".
    arguments : everything that was typed.
    meaning : what the option or argument says that it is about.
    told : how the command explains itself, with its examples.

    Examples
    --------
    >>> bad = "Invalid value for '--f': Input should be a valid number, unable to parse"
    >>> problem = usage_error(bad, "trials power", ["power", "--f", "0,25"])
    >>> problem.found, problem.do
    ('0,25', 'Write the number with a point: --f 0.25')
    >>> more = {"meaning": "The first lesson.", "told": "Examples:\\n trials lessons a --since 2"}
    >>> problem = usage_error("Missing option '--since'.", "trials lessons", [], **more)
    >>> problem.what, problem.do.split(". ")[1]
    ('--since is missing: the first lesson.', 'For instance: trials lessons a --since 2')
    """
    see = f"See what may be typed with: {command} --help"
    empty = _NO_VALUE.match(message)
    if empty:
        flag = empty.group(1)
        return _error(
            f"{flag} needs a value after it.", flag, do=f"Write one, or leave it out. {see}"
        )
    missing = _MISSING.match(message)
    if missing and meaning:
        what = f"{missing.group(1)} is missing: {meaning[0].lower()}{meaning[1:]}"
        example = _example(told, command, missing.group(1))
        return _error(what, "", do=f"{see}. For instance: {example}" if example else see)
    wrong = _VALUE.match(message)
    if wrong is None:
        return _error(message.replace("Value error, ", ""), "", do=see)
    flag, why = wrong.groups()
    why = why.removeprefix("Value error, ").removeprefix("Input should be ").strip()
    found = _typed(flag, arguments)
    allowed = limit_text(why)
    if "valid number" in why and _NUMBER.fullmatch(found):
        do = f"Write the number with a point: {flag} {found.replace(',', '.')}"
    else:
        do = f"Correct the value. {see}"
    return _error(f"{flag} has a value that it doesn't take.", flag, found, allowed, do)


def _example(told: str, command: str, name: str) -> str:
    """Return the first of a command's examples with an option, else its first; "" without any."""
    examples = [line.strip() for line in told.splitlines() if line.strip().startswith(command)]
    return next((line for line in examples if name in line), examples[0] if examples else "")


def _error(what: str, flag: str, found: str = "", allowed: str = "", do: str = "") -> TrialsError:
    where = f"the command line, {flag}" if flag else "the command line"
    return TrialsError(what, code="usage", where=where, found=found, allowed=allowed, do=do)


def _typed(flag: str, arguments: Sequence[str]) -> str:
    """Return the value that was typed after an option; nothing where it can't be found."""
    for place, text in enumerate(arguments):
        if text == flag and place + 1 < len(arguments):
            return arguments[place + 1]
        if text.startswith(f"{flag}="):
            return text.removeprefix(f"{flag}=")
    return ""
