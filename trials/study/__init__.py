"""What is asked: study.toml in, a frozen Study out."""

from trials.study.checks import check_study, members_in_all, recipes, settled
from trials.study.options import Options
from trials.study.reading import parse_study, read_study
from trials.study.values import (
    Caution,
    FailedRule,
    Limits,
    Response,
    Spread,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
)
from trials.study.writing import write_study

__all__ = [
    "Caution",
    "FailedRule",
    "Limits",
    "Options",
    "Response",
    "Spread",
    "Step",
    "Study",
    "StudyFactor",
    "StudyGroup",
    "check_study",
    "members_in_all",
    "parse_study",
    "read_study",
    "recipes",
    "settled",
    "write_study",
]
