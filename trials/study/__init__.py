"""What is asked: study.toml in, a frozen Study out."""

from trials.study.options import Options
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
]
