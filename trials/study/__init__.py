"""What is asked: study.toml in, a frozen Study out."""

from trials.study.changing import lines_of, with_changes
from trials.study.check_lessons import unused_equipment
from trials.study.checks import check_request, check_study, members_in_all, settled
from trials.study.columns import declared_columns
from trials.study.options import Options
from trials.study.reading import parse_study, read_study, shape_study
from trials.study.recipes import allowed_recipes, recipes
from trials.study.values import (
    Caution,
    Equipment,
    FailedRule,
    Lessons,
    Limits,
    Material,
    Planning,
    Response,
    Spread,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
    labels_of,
)
from trials.study.writing import write_study

__all__ = [
    "Caution",
    "Equipment",
    "FailedRule",
    "Lessons",
    "Limits",
    "Material",
    "Options",
    "Planning",
    "Response",
    "Spread",
    "Step",
    "Study",
    "StudyFactor",
    "StudyGroup",
    "allowed_recipes",
    "check_request",
    "check_study",
    "declared_columns",
    "labels_of",
    "lines_of",
    "members_in_all",
    "parse_study",
    "read_study",
    "recipes",
    "settled",
    "shape_study",
    "unused_equipment",
    "with_changes",
    "write_study",
]
