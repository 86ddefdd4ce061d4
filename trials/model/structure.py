"""The two structures of a comparison: what is changed, and what it is changed on.

Source of the idea: J. A. Nelder (1965), Proc. R. Soc. A 283; R. A. Bailey (2008), Design of
Comparative Experiments, CUP.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from trials.errors import AnalysisError

Kind = Literal["category", "quantity"]


@dataclass(frozen=True)
class Factor:
    """A factor of the treatment structure.

    ``levels`` fixes their order; None sorts them as people do (by number for a quantity). A
    quantity enters as a straight-line trend on its actual values if ``trend`` is set, else as one
    mean per level.
    """

    name: str
    kind: Kind = "category"
    levels: tuple[str, ...] | None = None
    scale: Literal["linear", "log"] = "linear"
    trend: bool = False


@dataclass(frozen=True)
class Group:
    """A group of the unit structure, by its full path, largest first: ``"block/plot"``.

    ``random`` None: random if it has six members or more. A group that a factor is applied to is
    random whatever is said here.
    """

    path: str
    random: bool | None = None

    @property
    def parts(self) -> tuple[str, ...]:
        """The column names from the largest group down."""
        return tuple(self.path.split("/"))


@dataclass(frozen=True)
class Structure:
    """Factors, groups, and which group each factor is applied to.

    Strings are taken as names of factors (categories) and paths of groups. A factor that
    ``applied_to`` does not name is looked for in the data: its unit is the largest group in each
    member of which it has one level, else the item.

    Raises
    ------
    AnalysisError : a name twice, or ``applied_to`` with an unknown factor or group.

    Examples
    --------
    >>> s = Structure(factors=("nitrogen", "variety"), groups=("block", "block/plot"),
    ...               applied_to={"variety": "plot"})
    >>> s.unit_of("variety"), s.unit_of("nitrogen")
    ('block/plot', None)
    """

    factors: tuple[Factor, ...] = ()
    groups: tuple[Group, ...] = ()
    applied_to: Mapping[str, str] = field(default_factory=dict)

    def __init__(
        self,
        factors: Iterable[Factor | str] = (),
        groups: Iterable[Group | str] = (),
        applied_to: Mapping[str, str] | None = None,
    ) -> None:
        as_factors = tuple(Factor(f) if isinstance(f, str) else f for f in factors)
        as_groups = tuple(Group(g) if isinstance(g, str) else g for g in groups)
        _refuse_twice("factor", [f.name for f in as_factors])
        _refuse_twice("group", [g.path for g in as_groups])
        object.__setattr__(self, "factors", as_factors)
        object.__setattr__(self, "groups", as_groups)
        names = {f.name for f in as_factors}
        applied: dict[str, str] = {}
        for factor, group in (applied_to or {}).items():
            if factor not in names:
                raise AnalysisError(
                    "A factor that is applied to a group is not among the factors.",
                    code="structure.unknown_factor",
                    found=factor,
                    allowed=", ".join(sorted(names)) or "no factors were named",
                    do="Name it as a factor too, or mend the spelling.",
                )
            applied[factor] = self.full_path(group)
        object.__setattr__(self, "applied_to", applied)

    def full_path(self, name: str) -> str:
        """Return the full path of a group named by its path or, if unique, by its last part.

        Raises
        ------
        AnalysisError : no such group, or several.
        """
        paths = [g.path for g in self.groups]
        if name in paths:
            return name
        hits = [path for path in paths if path.split("/")[-1] == name]
        if len(hits) == 1:
            return hits[0]
        raise AnalysisError(
            "That name fits several groups." if hits else "There is no group of that name.",
            code="structure.unknown_group",
            found=name,
            allowed=", ".join(hits or paths) or "no groups were named",
            do="Use the full path of one group, such as block/plot.",
        )

    def factor(self, name: str) -> Factor:
        """Return the factor called ``name``; KeyError if there is none."""
        for factor in self.factors:
            if factor.name == name:
                return factor
        raise KeyError(name)

    def unit_of(self, factor: str) -> str | None:
        """Return the path of the group a factor is declared to be applied to; None: the item."""
        self.factor(factor)
        return self.applied_to.get(factor)


def _refuse_twice(what: str, names: list[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise AnalysisError(
            f"The same {what} is named twice.",
            code=f"structure.{what}_twice",
            found=", ".join(twice),
            do="Name each once.",
        )
