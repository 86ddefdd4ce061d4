"""How an analysis is to be done: one list of options for command line, study.toml and Python."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Compare = Literal["difference", "ratio"]
DfMethod = Literal["auto", "strata", "kenward-roger", "satterthwaite"]
Sums = Literal["III", "II", "I"]


class Options(BaseModel):
    """Choices of an analysis; ``Options()`` is what the program does unless told otherwise.

    The descriptions of the fields are the help texts of the command line.

    Examples
    --------
    >>> Options(confidence=0.9).confidence
    0.9
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    response: Annotated[
        str | None, Field(description="column with the measured value (else: the only one left)")
    ] = None
    item: Annotated[
        str | None, Field(description="column that names the item; several rows are its readings")
    ] = None
    covariates: Annotated[
        tuple[str, ...], Field(description="measured quantity to adjust for")
    ] = ()
    interactions: Annotated[
        int, Field(ge=1, le=6, description="highest number of factors in one interaction")
    ] = 2
    compare: Annotated[
        Compare, Field(description="compare by difference or by ratio")
    ] = "difference"
    df: Annotated[
        DfMethod,
        Field(description="small-sample method; auto: strata where orthogonal, else kenward-roger"),
    ] = "auto"
    bounded: Annotated[
        bool, Field(description="keep variance estimates at zero or above")
    ] = False
    random: Annotated[
        tuple[str, ...], Field(description="group to treat as random, or 'all'")
    ] = ()
    sums: Annotated[Sums, Field(description="type of sums of squares")] = "III"
    control: Annotated[
        tuple[tuple[str, str], ...],
        Field(description="FACTOR=LEVEL that the other levels are compared with"),
    ] = ()
    worthwhile: Annotated[
        float | None,
        Field(description="smallest difference (or ratio) that would change what you'd do"),
    ] = None
    confidence: Annotated[
        float, Field(gt=0.5, lt=1.0, description="confidence of the intervals")
    ] = 0.95
    resamples: Annotated[
        int, Field(ge=0, le=10_000_000, description="shuffles for the permutation test; 0: none")
    ] = 9999
    seed: Annotated[int, Field(ge=0, description="seed of everything drawn by chance")] = 1
