"""Line drawings beside a caution: what to wear or do, what to beware of, what not to do.

Our own drawings, made for one pen in one colour at 10 mm. They are no safety signs: the words and
the code of the sign in ISO 7010 stand beside them. A square frames what to do, a triangle a
warning, a barred circle what is forbidden.
"""

from __future__ import annotations

from typing import Final

SIDE: Final = 40
PEN: Final = 2.1
_INK: Final = "#16242c"

_SQUARE: Final = "M7 3h26a4 4 0 0 1 4 4v26a4 4 0 0 1-4 4H7a4 4 0 0 1-4-4V7a4 4 0 0 1 4-4z"
_TRIANGLE: Final = (
    "M18.2 4.6 2.8 33.4A2 2 0 0 0 4.6 36.5h30.8a2 2 0 0 0 1.8-3.1L21.8 4.6a2 2 0 0 0-3.6 0z"
)
_CIRCLE: Final = "M20 3a17 17 0 1 0 .01 0zM8 8l24 24"

_DO: Final = {
    "goggles": "M8 16h10v6a4 4 0 0 1-4 4h-2a4 4 0 0 1-4-4z"
    "M22 16h10v6a4 4 0 0 1-4 4h-2a4 4 0 0 1-4-4zM18 18.5h4M8 18l-4.5-3M32 18l4.5-3",
    "gloves": "M14 27 9.7 20.6a1.9 1.9 0 0 1 3-2.3l2.6 2.8V10.5a1.6 1.6 0 0 1 3.2 0V18 8.3"
    "a1.6 1.6 0 0 1 3.2 0V18 9.6a1.6 1.6 0 0 1 3.2 0v8.9-5.2a1.6 1.6 0 0 1 3.2 0"
    "V24l-1.6 3zM13.5 27h13.2v6H13.5z",
    "washing": "M8 8h11a4 4 0 0 1 4 4v3M19 15h8M20 19v3M23 18v5M26 19v3M8 25c4 8 20 8 24 0",
    "coat": "M15 7l5 6 5-6 6 4v11h-4v11H13V22H9V11zM20 13v20M23.5 19v.1M23.5 25v.1",
    "mask": "M10 16c7-4 13-4 20 0v6c-4 9-16 9-20 0zM10 18l-5-4M30 18l5-4M14.5 19.5h11M15 24h10",
    "window": "M9 8h12v23H9zM21 8l8 3.5v22L21 31M12.5 24c2-2 3 2 5 0M12.5 19c2-2 3 2 5 0"
    "M12.5 14c2-2 3 2 5 0",
    "book": "M20 12C15 8.5 11 8.5 7 10v20c4-1.5 8-1.5 13 2 5-3.5 9-3.5 13-2V10"
    "c-4-1.5-8-1.5-13 2zM20 12v20M11 15c2-.5 4-.2 5.5.7M11 20c2-.5 4-.2 5.5.7"
    "M29 15c-2-.5-4-.2-5.5.7M29 20c-2-.5-4-.2-5.5.7",
}
_WARN: Final = {
    "danger": "M20 14v11M20 30v.1",
    "hot": "M12.5 31.5h15M15.5 28c-2-2.2 2-3.3 0-5.5M20 28c-2.4-3.6 2.4-6.4 0-10"
    "M24.5 28c-2-2.2 2-3.3 0-5.5",
    "flame": "M20.5 14c4.5 4.5 6 7.5 6 11.5a6.5 6.5 0 0 1-13 0"
    "c0-3 1.5-4.5 3-6.5.8 1 1.5 2 1.7 3.2C20 20 20.8 17 20.5 14zM13.5 33.2h13",
    "shard": "M12.5 32 17 17.5l3 5.5 4.5-3.5L27.5 32z",
    "poison": "M17 15h6M18 15v5l-4.5 6v6.5h13V26L22 20v-5M17.8 26l4.4 4.4M22.2 26l-4.4 4.4",
    "lamp": "M20 21.5a4 4 0 1 0 .01 0zM20 18.5V15M13.5 25.5h-2M28.5 25.5h-2M15.5 21l-1.5-1.5"
    "M24.5 21l1.5-1.5M15.7 30l-1.5 1.5M24.3 30l1.5 1.5",
    "plug": "M15.5 20.5h9V24a4.5 4.5 0 0 1-9 0zM18 20.5v-4.5M22 20.5v-4.5M20 28.5V34",
    "acid": "M20 14c-3.5 5-3.5 8 0 8s3.5-3 0-8zM11.5 32.5h5l1.5-4.5h4l1.5 4.5h5",
}
_NOT: Final = {
    "no-flame": "M20 9c4 4 5.5 6 5.5 9a5.5 5.5 0 0 1-11 0"
    "c0-2.5 1.5-4 2.7-5.5.6 1 1 1.8 1.2 2.8C19.7 13.5 20.3 11 20 9zM20 23.5V31",
    "no-food": "M11.5 15H25v8a6.7 6.7 0 0 1-13.5 0zM25 17h2a3 3 0 0 1 0 6.5h-2",
}
_HELP: Final = {"first-aid": "M17 11h6v6h6v6h-6v6h-6v-6h-6v-6h6z"}

# What each sign of ISO 7010 is drawn as. A sign that isn't here has its words only.
_OF_SIGN: Final = {
    "W001": "danger", "W012": "plug", "W016": "poison", "W017": "hot", "W021": "flame",
    "W022": "shard", "W023": "acid", "W027": "lamp", "W079": "hot", "W080": "hot",
    "M002": "book", "M004": "goggles", "M009": "gloves", "M011": "washing", "M016": "mask",
    "M017": "mask", "M057": "window", "M059": "coat", "P003": "no-flame", "P022": "no-food",
    "E003": "first-aid",
}  # fmt: skip


def symbol_of(code: str) -> str | None:
    """Return the name of the drawing for a sign of ISO 7010, or None where there is none.

    Examples
    --------
    >>> symbol_of("M004"), symbol_of("W999")
    ('goggles', None)
    """
    return _OF_SIGN.get(code.strip())


def symbols() -> dict[str, str]:
    """Return every drawing by its name, as SVG: :data:`SIDE` units wide and high, one line width.

    Examples
    --------
    >>> symbols()["hot"][:5]
    '<svg '
    """
    return {
        name: _svg(frame, inside)
        for frame, drawings in (
            (_SQUARE, _DO),
            (_TRIANGLE, _WARN),
            (_CIRCLE, _NOT),
            (_SQUARE, _HELP),
        )
        for name, inside in drawings.items()
    }


def _svg(frame: str, inside: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIDE} {SIDE}">'
        f'<g fill="none" stroke="{_INK}" stroke-width="{PEN}" stroke-linecap="round" '
        f'stroke-linejoin="round"><path fill="#fff" d="{frame}"/><path d="{inside}"/></g></svg>'
    )
