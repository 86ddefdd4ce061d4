"""Checks of the choices for the analysis: only what a study can choose, and known names."""

from __future__ import annotations

from trials.study.messages import Places, meant, shorten
from trials.study.options import STUDY_OPTIONS, Options
from trials.study.values import Study


def check_analysis(study: Study, places: Places) -> None:
    """Refuse choices that name unknown things or have no place in a study.

    Raises
    ------
    StudyError : the first fault.
    """
    plain = Options()
    for key in Options.model_fields:
        if key not in STUDY_OPTIONS and getattr(study.analysis, key) != getattr(plain, key):
            raise places.error(
                ("analysis", key),
                f"'{key}' is not a choice that a study can make here.",
                code="unknown_key",
                found=key,
                allowed=", ".join(STUDY_OPTIONS),
                do="Say it at the factor or the response it belongs to.",
            )
    names = tuple(group.name for group in study.groups)
    allowed = (*names, *(study.path(name) for name in names), "all")
    for place, name in enumerate(study.analysis.random):
        if name not in allowed:
            raise places.error(
                ("analysis", "random", place),
                "A group is to be taken as random, but it isn't there.",
                code="unknown_group",
                found=shorten(name),
                allowed=", ".join((*names, "all")),
                do=meant(name, allowed, "Use the name of one of the groups, or all."),
            )
