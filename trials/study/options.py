"""How an analysis is to be done: one list of options for command line, study.toml and Python."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from trials.errors import RequestError
from trials.words.options import option_help

Compare = Literal["difference", "ratio"]
DfMethod = Literal["auto", "strata", "kenward-roger", "satterthwaite"]
Sums = Literal["III", "II", "I"]
Weights = Literal["equal", "proportional"]
Better = Literal["high", "low"]


class Options(BaseModel):
    """Choices of an analysis; ``Options()`` is what the program does unless told otherwise.

    The descriptions of the fields are the help texts of the command line (words/options.py).

    Examples
    --------
    >>> Options(confidence=0.9).confidence
    0.9
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    response: Annotated[str | None, Field(description=option_help("response"))] = None
    item: Annotated[str | None, Field(description=option_help("item"))] = None
    covariates: Annotated[tuple[str, ...], Field(description=option_help("covariates"))] = ()
    interactions: Annotated[int, Field(ge=1, le=6, description=option_help("interactions"))] = 2
    compare: Annotated[Compare, Field(description=option_help("compare"))] = "difference"
    df: Annotated[
        DfMethod,
        Field(description=option_help("df")),
    ] = "auto"
    bounded: Annotated[bool, Field(description=option_help("bounded"))] = False
    random: Annotated[tuple[str, ...], Field(description=option_help("random"))] = ()
    sums: Annotated[Sums, Field(description=option_help("sums"))] = "III"
    weights: Annotated[Weights, Field(description=option_help("weights"))] = "equal"
    better: Annotated[Better | None, Field(description=option_help("better"))] = None
    control: Annotated[
        tuple[tuple[str, str], ...],
        Field(description=option_help("control")),
    ] = ()
    worthwhile: Annotated[
        float | None,
        Field(description=option_help("worthwhile")),
    ] = None
    confidence: Annotated[float, Field(gt=0.5, lt=1.0, description=option_help("confidence"))] = (
        0.95
    )
    resamples: Annotated[int, Field(ge=0, le=10_000_000, description=option_help("resamples"))] = (
        9999
    )
    seed: Annotated[int, Field(ge=0, description=option_help("seed"))] = 1

    @model_validator(mode="after")
    def _strata_have_no_bounds(self) -> Options:
        """Refuse strata with variances kept at zero or above: there is no such analysis."""
        if self.df == "strata" and self.bounded:
            raise RequestError(
                "An analysis by strata keeps no variance at zero or above.",
                code="options.strata_bounded",
                where="df and bounded",
                found="df strata together with bounded",
                allowed="one of the two",
                do="Leave bounded out, or take df kenward-roger with it.",
            )
        return self

    @model_validator(mode="after")
    def _margin_is_one(self) -> Options:
        """Refuse a margin that can't be one: not above 0, or a ratio not above 1."""
        least = 1.0 if self.compare == "ratio" else 0.0
        if self.worthwhile is not None and not least < self.worthwhile < math.inf:
            raise RequestError(
                "The smallest worthwhile difference can't be that.",
                code="options.worthwhile",
                where="worthwhile",
                found=f"{self.worthwhile:g}",
                allowed="a ratio above 1, such as 1.3" if least else "a number above 0",
                do="Say how big a difference must be before you would change what you do.",
            )
        return self


# The choices that study.toml's [analysis] may hold. The others belong to one response or factor,
# or to a table that has no study.
STUDY_OPTIONS = (
    "interactions",
    "df",
    "bounded",
    "random",
    "sums",
    "weights",
    "confidence",
    "resamples",
    "seed",
)
