"""Checks of what there is of the materials: [stock] of study.toml."""

from __future__ import annotations

from decimal import Decimal

from trials.quantities import as_decimal, convertible, numeral
from trials.study.messages import Places, meant, shorten, shown
from trials.study.values import Material, Study

_MOST = Decimal(10) ** 9


def check_stock(study: Study, places: Places) -> None:
    """Refuse a stock of what no step uses, and amounts that can't be compared with what it takes.

    Raises
    ------
    StudyError : the first fault.
    """
    materials = [one for step in study.steps for one in step.materials]
    names = tuple(dict.fromkeys(one.name.strip() for one in materials))
    seen: dict[str, str] = {}
    for name, written in study.stock.items():
        path = ("stock", name)
        mine = materials_called(study, name)
        if not mine:
            raise places.error(
                path,
                "No step uses up what this stock is of.",
                code="unknown_name",
                found=shorten(name),
                allowed=", ".join(shorten(one) for one in names) or "no step names materials",
                do=meant(name, names, "Use the name of a material of a step, written the same "
                         "way."),
            )  # fmt: skip
        before = seen.setdefault(folded(name), name)
        if before != name:
            raise places.error(
                path,
                "The stock of one material stands twice.",
                code="stock_twice",
                found=f"{shorten(before)} and {shorten(name)}",
                allowed="each material once; big and small letters don't count",
                do="Delete one of the two lines.",
            )
        _check_amount(name, written, mine, places)


def _check_amount(
    name: str, written: float | str, mine: tuple[Material, ...], places: Places
) -> None:
    amount = stock_amount(written)
    units = tuple(dict.fromkeys(one.unit.strip() for one in mine))
    example = _example(units[0])
    if len(values := _values(written)) > 1:
        raise places.error(
            ("stock", name),
            f"How much {shorten(name)} there is can be read in two ways.",
            code="two_ways",
            found=shown(written),
            allowed=" or ".join(
                _in_unit(f"{value.normalize():f}", _unit(written)) for value in values
            ),
            do="Write it without a mark between the thousands, and no more zeros than needed.",
        )
    if amount is None or not 0 <= amount[0] <= _MOST:
        raise places.error(
            ("stock", name),
            f"There can't be this much {shorten(name)}.",
            code="bad_number",
            found=shown(written),
            allowed=f"a number of pieces, or an amount with its unit in quotes; here: {example}",
            do="Write how much there is.",
        )
    if not all(convertible(amount[1], unit) for unit in units):
        raise places.error(
            ("stock", name),
            f"The stock of {shorten(name)} can't be compared with what the steps take.",
            code="stock_unit",
            found=shown(written),
            allowed=f"an amount such as {example}: the steps take it in "
            + " and ".join(shorten(unit) or "pieces" for unit in units),
            do="Give both the same kind of unit."
            if len(units) > 1
            else f"Write for instance: {example}",
        )


def _unit(written: float | str) -> str:
    number = numeral(written.strip()) if isinstance(written, str) else None
    return "" if number is None else number.unit


def _example(unit: str) -> str:
    return _in_unit("60", unit)


def _in_unit(number: str, unit: str) -> str:
    return number if unit in ("", "1") else f'"{number} {shorten(unit)}"'


def materials_called(study: Study, name: str) -> tuple[Material, ...]:
    """Return the materials of all steps that have this name; letters' size doesn't count."""
    return tuple(
        one for step in study.steps for one in step.materials if folded(one.name) == folded(name)
    )


def folded(name: str) -> str:
    """Return the name by which a material is known, however it is written."""
    return name.strip().casefold()


def stock_amount(written: float | str) -> tuple[Decimal, str] | None:
    """Return number and unit of what there is; None where it is no amount, or could be two.

    Examples
    --------
    >>> stock_amount(60), stock_amount("500 mL"), stock_amount("1,5L"), stock_amount("some")
    ((Decimal('60'), ''), (Decimal('500'), 'mL'), (Decimal('1.5'), 'L'), None)
    >>> stock_amount("1 500 mL"), stock_amount("1,500 mL")
    ((Decimal('1500'), 'mL'), None)
    """
    if not isinstance(written, str):
        return (as_decimal(written), "") if abs(written) < float("inf") else None
    number = numeral(written.strip())
    values = _values(written)
    return (values[0], number.unit) if number is not None and len(values) == 1 else None


def _values(written: float | str) -> tuple[Decimal, ...]:
    """Return what an amount can be: two numbers where a mark may part thousands or decimals."""
    number = numeral(written.strip()) if isinstance(written, str) else None
    if number is None:
        return ()
    both = (number.point, number.comma)
    return tuple(dict.fromkeys(value for value in both if value is not None))
