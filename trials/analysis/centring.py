"""Numbers from the text of a column, centred exactly before anything becomes a float.

A reading such as 1000000000000.4 has more digits than a float keeps. The first reading is therefore
subtracted while both are still exact decimals, and the difference, which is small, becomes the
float. With that, textbook sums of squares reach 14.5 digits and more on all eleven analysis of
variance sets of the NIST Statistical Reference Datasets (https://www.itl.nist.gov/div898/strd/).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from trials.errors import AnalysisError

MISSING = ("", "na", "nan")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII)
_WITH_COMMA = re.compile(r"[+-]?\d*,\d+([eE][+-]?\d{1,4})?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d+", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+", re.ASCII)
_INFINITE = ("inf", "infinity", "∞")
_ALLOWED = "a number such as 3.2 or 4e-3; an empty cell where nothing was measured"
_MEND = "Mend that cell, or leave it empty if nothing was measured."
_LARGEST_DIGITS = 300
SMALLEST, LARGEST = Decimal("1e-30"), Decimal("1e30")  # far powers of them are still floats


@dataclass(frozen=True)
class Centred:
    """A column of readings minus its first reading.

    ``values``: float64 array (n,), NaN where missing. ``missing``: bool array (n,). ``offset``: the
    first reading, exact. ``resolution``: the step of which every reading is a whole multiple away
    from the first (a power of ten), exact. ``plain``: float64 array (n,), the readings themselves,
    for scales on which nothing can be subtracted. ``decimal_comma``: they were written 0,52.
    """

    values: NDArray[np.float64]
    missing: NDArray[np.bool_]
    offset: Decimal
    resolution: Decimal
    plain: NDArray[np.float64]
    decimal_comma: bool = False

    def restore(self, centred: float) -> float:
        """Return a centred mean on the original scale: the offset added back exactly, then rounded.

        Examples
        --------
        >>> numbers(["1000000000000.4", "1000000000000.3"], "y").restore(-0.05)
        1000000000000.35
        """
        exact = _exact_context((self.offset, Decimal(centred)))
        return float(exact.add(self.offset, Decimal(centred)))


def numbers(column: Sequence[object], name: str, lines: Sequence[int] | None = None) -> Centred:
    """Return a column of readings, the first one subtracted exactly.

    Parameters
    ----------
    column : texts as read from a file, or numbers from a data frame (a float is taken as the
        shortest decimal that gives it back). "", "NA" and "nan" are missing.
    name : heading of the column.
    lines : line of the file for each row, for messages; without it rows count from 1.

    Raises
    ------
    AnalysisError : a cell that isn't a finite number, or commas that can be read in two ways.

    Examples
    --------
    >>> numbers(["1000000000000.4", "1000000000000.3", "NA"], "y").values.tolist()
    [0.0, -0.1, nan]
    >>> numbers(["0,52", "0,5"], "y").decimal_comma
    True
    """
    cells, comma = exact_numbers(column, name, lines)
    missing = np.array([cell is None for cell in cells], dtype=bool)
    exact = [cell for cell in cells if cell is not None]
    values = np.full(len(cells), np.nan)
    if not exact:
        return Centred(values, missing, Decimal(0), Decimal(1), values, comma)
    offset = exact[0]
    context = _exact_context(exact)
    values[~missing] = [float(context.subtract(one, offset)) for one in exact]
    plain = np.full(len(cells), np.nan)
    plain[~missing] = [float(one) for one in exact]
    step = min(_last_place(one) for one in exact)
    return Centred(values, missing, offset, Decimal((0, (1,), step)), plain, comma)


def exact_numbers(
    column: Sequence[object], name: str, lines: Sequence[int] | None = None
) -> tuple[list[Decimal | None], bool]:
    """Return each cell as the number it says, None where missing, and whether commas are decimal.

    The one rule for numbers in tables: readings, covariates and quantities that were changed.

    Raises
    ------
    AnalysisError : as for :func:`numbers`.

    Examples
    --------
    >>> exact_numbers(["0,5", "2", ""], "dose")
    ([Decimal('0.5'), Decimal('2'), None], True)
    """
    texts = as_text(column)
    place = "line" if lines is not None else "row"
    at = list(lines) if lines is not None else list(range(1, len(texts) + 1))
    present = [(line, text) for line, text in zip(at, texts, strict=True) if not is_missing(text)]
    comma = _uses_decimal_comma(present, name, place)
    cells: list[Decimal | None] = [
        None if is_missing(text) else _decimal(text, comma, f"column {name}, {place} {line}")
        for line, text in zip(at, texts, strict=True)
    ]
    return cells, comma


def as_text(column: Iterable[object]) -> list[str]:
    """Return each cell as the shortest text that gives it back; missing values as "".

    Examples
    --------
    >>> as_text([0.1, 3, None, float("nan"), " tea A ", True])
    ['0.1', '3', '', '', 'tea A', 'True']
    """
    return [_cell_text(cell) for cell in column]


def is_missing(text: str) -> bool:
    """Tell whether a cell says that nothing was measured: "", "NA" or "nan", any case."""
    return text.casefold() in MISSING


def _cell_text(cell: object) -> str:
    if isinstance(cell, str):
        return cell.strip()
    if cell is None or type(cell).__name__ in ("NAType", "NaTType"):  # pandas' own blanks
        return ""
    if isinstance(cell, float | np.floating) and math.isnan(cell):
        return ""
    if isinstance(cell, np.generic):
        # numpy's own text is the shortest for the cell's own precision (float32 0.1 is "0.1").
        return str(cell)
    return repr(cell) if isinstance(cell, float) else str(cell)


def _uses_decimal_comma(present: list[tuple[int, str]], name: str, place: str) -> bool:
    """Tell whether the column is written with decimal commas; refuse if it can't be told."""
    with_comma = [(line, text) for line, text in present if _WITH_COMMA.fullmatch(_plain(text))]
    if not with_comma:
        return False
    for line, text in present:
        if not (_WITH_COMMA.fullmatch(_plain(text)) or _WHOLE.fullmatch(_plain(text))):
            if _NUMBER.fullmatch(_plain(text)):
                _refuse(
                    "A column mixes decimal points and decimal commas.",
                    "analysis.mixed_decimals",
                    f"column {name}, {place} {line}",
                    found=f"{text} here, but {with_comma[0][1]} in {place} {with_comma[0][0]}",
                    do="Write all its numbers the same way, then run it again.",
                )
            _decimal(text, True, f"column {name}, {place} {line}")
    if all(_THOUSANDS.fullmatch(_plain(text)) for _, text in with_comma):
        line, text = with_comma[0]
        _refuse(
            "A comma can be read in two ways: before the decimals, or between thousands.",
            "analysis.comma_unclear",
            f"column {name}, {place} {line}",
            found=text,
            allowed=f"{text.replace(',', '.')} or {text.replace(',', '')}",
            do="Write the numbers of this column with a decimal point and no other sign.",
        )
    return True


def _plain(text: str) -> str:
    return text.replace("−", "-")


def _decimal(text: str, comma: bool, where: str) -> Decimal:
    plain = _plain(text).replace(",", ".") if comma else _plain(text)
    if plain.lstrip("+-").casefold() in _INFINITE:
        _not_finite(text, where)
    if not _NUMBER.fullmatch(plain) or len(plain) > _LARGEST_DIGITS:
        _refuse(
            "A cell isn't a number.",
            "analysis.not_a_number",
            where,
            found=repr(text[:60]),
            allowed=_ALLOWED,
            do=_MEND,
        )
    value = Decimal(plain)
    if value != 0 and not SMALLEST <= abs(value) <= LARGEST:
        _not_finite(text, where)
    return value


def _not_finite(text: str, where: str) -> NoReturn:
    _refuse(
        "A number is beyond any size that can be computed with.",
        "analysis.not_finite",
        where,
        found=text[:60],
        allowed=f"0, or a size from {SMALLEST} to {LARGEST}",
        do="Mend that cell, or write the whole column in a unit that suits its size.",
    )


def _last_place(value: Decimal) -> int:
    exponent = value.normalize(_exact_context((value,))).as_tuple().exponent
    return exponent if isinstance(exponent, int) and value != 0 else 0


def _exact_context(values: Iterable[Decimal]) -> Context:
    """Return a context in which sums of two of ``values`` are exact."""
    tops, bottoms = [0], [0]
    for value in values:
        exponent = value.as_tuple().exponent
        if isinstance(exponent, int):
            tops.append(value.adjusted())
            bottoms.append(exponent)
    return Context(prec=max(tops) - min(bottoms) + 3)


def _refuse(
    what: str, code: str, where: str, *, found: str = "", allowed: str = "", do: str
) -> NoReturn:
    raise AnalysisError(what, code=code, where=where, found=found, allowed=allowed, do=do)
