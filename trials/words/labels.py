"""What is said of the labels: what they are for, how to print them, how far they can be read."""

from __future__ import annotations

from trials.words.language import say


def intro(items: str, capitals: float) -> str:
    """Return what stands above labels on plain paper; ``capitals``: height of letters in mm.

    Examples
    --------
    >>> print(intro("48 cells", 9.6))
    Labels for 48 cells: print at 100 % and cut along the lines. Where a thing gets hot or wet,
    write its code on the thing itself: paper burns or comes off. Keep the label beside it, and fix
    it when that is over. The letters are 9 mm high, so a code can be read from 50 cm and more; the
    squares tell a camera the code and nothing else.
    """
    return say(
        "Labels for {items}: print at 100 % and cut along the lines. Where a thing gets hot or "
        "wet, write its code on the thing itself: paper burns or comes off. Keep the label beside "
        "it, and fix it when that is over. The letters are {n} mm high, so a code can be read "
        "from 50 cm and more; the squares tell a camera the code and nothing else.",
        items=items,
        n=int(capitals),
    )


def purpose(
    item: str, form: str, grid: tuple[int, int], size: tuple[float, float], capitals: float
) -> str:
    """Return what labels.pdf is for, as the screen tells it.

    Examples
    --------
    >>> print(purpose("cell", "sheet", (3, 8), (70, 37), 9.6))
    a label with its code for each cell: 24 to a sheet, 70 x 37 mm each, print at 100 % and not
    'fit to page'. The letters are 9 mm high
    >>> print(purpose("cell", "plain", (3, 0), (62, 27), 9.6))
    a label with its code for each cell, to cut out
    """
    text = f"a label with its code for each {item}"
    if form == "sheet":
        across, down = grid
        return (
            f"{text}: {across * down} to a sheet, {size[0]:.4g} x {size[1]:.4g} mm each, print at "
            f"100 % and not 'fit to page'. The letters are {int(capitals)} mm high"
        )
    return f"{text}, {'large, ' if form == 'large' else ''}to cut out"
