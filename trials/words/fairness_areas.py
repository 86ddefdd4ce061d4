"""Which area of difficulty in designing experiments each finding of the fair-test check belongs to.

The five areas are those of A. P. Dasgupta, T. R. Anderson and N. Pelaez (2014), "Development and
validation of a rubric for diagnosing students' experimental design knowledge and difficulties",
CBE-Life Sciences Education 13, 265-284. Which finding belongs where is our own reading of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from trials.words.language import marked

AREAS: Mapping[str, str] = MappingProxyType(
    {
        "subject": marked("the variable property of an experimental subject"),
        "manipulation": marked("manipulation of variables"),
        "measurement": marked("measurement of outcome"),
        "variability": marked("accounting for variability"),
        "inference": marked("scope of inference"),
    }
)

_CODES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "subject": ("counts", "nothing_same", "shared_pot", "shared_unknown", "sizes_short"),
        "manipulation": (
            "alias.factors",
            "changed_together",
            "levels_close",
            "no_control",
            "no_prediction",
            "unequal",
            "untested",
            "usual_missing",
        ),
        "measurement": (
            "best_of_many",
            "carry_over",
            "no_failed_rule",
            "no_primary",
            "no_worthwhile",
            "rough_readings",
            "same_order",
            "several_primary",
        ),
        "variability": (
            "alias.group",
            "alias.part",
            "barred",
            "few_layouts",
            "lesson_split",
            "lesson_tied",
            "loss_fatal",
            "no_group_spread",
            "no_replication",
            "no_spread",
            "one_for_level",
            "several_draws",
            "tied",
            "time_order",
            "uneven",
            "unseen",
        ),
        "inference": ("expected_small", "group_of_one", "margin_unreachable", "no_verdict"),
    }
)

AREA_OF: Mapping[str, str] = MappingProxyType(
    {code: area for area, codes in _CODES.items() for code in codes}
)


def area_of(code: str) -> str:
    """Return the area of a finding as a phrase; KeyError for an unknown code.

    Examples
    --------
    >>> area_of("no_replication")
    'accounting for variability'
    """
    return AREAS[AREA_OF[code]]
