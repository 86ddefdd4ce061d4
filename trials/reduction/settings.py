"""Reading the settings that a study gives to a reducer."""

from __future__ import annotations

import math

from trials.errors import StudyError
from trials.reduction.values import Asked, Problem, Setting


def setting_faults(asked: Asked, known: tuple[Setting, ...]) -> tuple[Problem, ...]:
    """Return every setting that is not known or whose value is not allowed."""
    faults = []
    names = {setting.name: setting for setting in known}
    for name, value in asked.settings.items():
        if name not in names:
            faults.append(
                Problem(name, str(value), ", ".join(names) or "no settings", "Mend its name.")
            )
        elif not _allowed(names[name], value):
            faults.append(
                Problem(name, str(value), allowed_text(names[name]), "Give one of these.")
            )
    return tuple(faults)


def allowed_text(setting: Setting) -> str:
    """Return in words what a setting may be.

    Examples
    --------
    >>> allowed_text(Setting("area_cm2", unit="cm²", number=True, words=("measured",)))
    "a number above 0 (in cm²) or 'measured'"
    """
    parts = []
    if setting.number:
        parts.append("a number above 0" + (f" (in {setting.unit})" if setting.unit else ""))
    if setting.text:
        parts.append("a text")
    parts.extend(f"'{word}'" for word in setting.words)
    return " or ".join(parts)


def setting_value(asked: Asked, known: tuple[Setting, ...], name: str) -> float | str | None:
    """Return the value of one setting, or its default."""
    for setting in known:
        if setting.name == name:
            return asked.settings.get(name, setting.default)
    raise KeyError(name)


def refuse(asked: Asked, faults: tuple[Problem, ...]) -> None:
    """Raise the first of the faults.

    Raises
    ------
    StudyError : there is one.
    """
    for fault in faults:
        raise StudyError(
            "A setting of a response can't be used.",
            code="study.setting",
            where=f"response {asked.name}, setting {fault.setting}",
            found=fault.found or "nothing",
            allowed=fault.allowed,
            do=fault.do,
        )


def _allowed(setting: Setting, value: float | str) -> bool:
    if isinstance(value, str):
        return value in setting.words or (setting.text and bool(value.strip()))
    return setting.number and math.isfinite(value) and value > 0
