"""Line drawings of what is done in a step: to wash, to heat, to measure.

Our own drawings for one pen in one colour, to be read from a metre at 25 mm. They are for the eye
only: the words beside each say the same.
"""

from __future__ import annotations

from typing import Final

SIDE: Final = 40
_PEN: Final = 1.7
_INK: Final = "#1d4e66"

_DRAWN: Final = {
    "wash": "M5 8v10M5 13h17a6 6 0 0 1 6 6v2M23 21h10M15 13V7M11 7h8"
    "M28 25c-2.5 3.6-2.5 6 0 6s2.5-2.4 0-6zM22 31c-1.7 2.4-1.7 4 0 4s1.7-1.6 0-4z"
    "M34 31c-1.7 2.4-1.7 4 0 4s1.7-1.6 0-4z",
    "throw": "M4 21 36 6 27 30l-8-6zM19 24 36 6M4 29h7M7 35h9",
    "scissors": "M11 26a5 5 0 1 0 .01 0zM29 26a5 5 0 1 0 .01 0zM14 27 27 4M26 27 13 4",
    "fold": "M7 5h18v30H7zM7 20h2M12 20h3M18 20h3M29 10c5 5 5 14 0 19M28.5 24v5h5",
    "brush": "M34 4 20 19M17 17l6 6c-1 7-7 10-14 9 3-2 2-5 3-9 .7-3 2.5-5 5-6zM20 36h15",
    "flame": "M20 4c6 7 9 11 9 17a9 9 0 0 1-18 0c0-5 2-8 5-11 1 3 2 4 3 5 1-4 1.5-7 1-11z"
    "M10 36h20M20 30v6",
    "oven": "M5 5h30v30H5zM5 13h30M11 18h18v12H11zM10.5 9h.1M15.5 9h.1M20.5 9h.1"
    "M15.5 27c-1.3-1.5 1.3-2.5 0-5M20 27c-1.3-1.5 1.3-2.5 0-5"
    "M24.5 27c-1.3-1.5 1.3-2.5 0-5",
    "dish": "M3 19h34c0 10-6 15-17 15S3 29 3 19zM8 25c3-2 5 2 8 0s5 2 8 0 5 2 8 0"
    "M12 19l8-14 5 3-6 11",
    "cup": "M6 12h22v13a9 9 0 0 1-9 9h-4a9 9 0 0 1-9-9zM28 15h3a5 5 0 0 1 0 10h-3"
    "M13 8c-1.3-1.5 1.3-2.5 0-5M20 8c-1.3-1.5 1.3-2.5 0-5",
    "kettle": "M9 13h15l3 13H6zM9 13c0-7 15-7 15 0M16.5 7.5V5M26 19l8-6M6.5 22c-6-2-4-9 2.3-8"
    "M35 17c-1.7 2.4-1.7 4 0 4s1.7-1.6 0-4zM35 26c-1.7 2.4-1.7 4 0 4s1.7-1.6 0-4z"
    "M4 35h32",
    "beaker": "M9 11v20a4 4 0 0 0 4 4h14a4 4 0 0 0 4-4V11M6 11h28M9 21c4-2 6 2 11 0s8 2 11 0"
    "M20 29 29 3",
    "funnel": "M6 6h28L24 19v9h-8v-9zM20 31c-1.7 2.4-1.7 4 0 4s1.7-1.6 0-4z",
    "dropper": "M26 4c2-2 6-1 8 2s1 5-1 7l-3 3-8-8zM19 7l13 13M20 11 9 22c-1.5 1.5-2 4-2.5 6.5"
    " 2.5-.5 5-1 6.5-2.5l11-11M6 32c-1.7 2.4-1.7 4 0 4s1.7-1.6 0-4z",
    "scales": "M7 35h26l-3-12H10zM20 23v-6M7 17h26c0-3-1-4-3-4H10c-2 0-3 1-3 4zM20 26a4 4 0 1 0 "
    ".01 0zM20 30l1.5-2",
    "clip": "M3 23h34v5H3zM3 28h34v5H3zM13 23l4-13h6l4 13M15 6h10M17 10V6M23 10V6",
    "sprout": "M20 34V18M20 21c0-7-4-10-13-10 0 7 4 10 13 10zM20 17c0-7 4-10 13-10 0 7-4 10-13 10z"
    "M5 34h30",
    "jug": "M7 6h22l-2 29H9zM29 11h5v12h-6M12 14h6M12 20h6M12 26h6",
    "shelf": "M5 4v32M35 4v32M5 18h30M5 33h30M11 18V9h7v9M21 33v-9h8v9",
    "clock": "M20 4a16 16 0 1 0 .01 0zM20 10v10l7 5",
    "pencil": "M29 4l6 6-20 20-8 2 2-8zM25 8l6 6M7 36h26",
    "ruler": "M3 13h34v14H3zM9 13v5M15 13v8M21 13v5M27 13v8M33 13v5",
    "thermometer": "M16 7a4 4 0 0 1 8 0v16a7.5 7.5 0 1 1-8 0zM20 29V14M28 8h5M28 14h5M28 20h5",
    "meter": "M7 4h26v24H7zM12 17a8 8 0 0 1 16 0zM20 17l4-5M13 23h14M14 28v3c0 4-7 1-7 5"
    "M26 28v3c0 4 7 1 7 5",
    "lamp": "M10 16 16 6h8l6 10zM20 6V2M20 21v8M12 20l-5 7M28 20l5 7M6 35h28",
    "hand": "M13 36 8 26c-1-2-3-4-2-5s3 0 5 3V9a2.3 2.3 0 0 1 4.6 0v9V6a2.3 2.3 0 0 1 4.6 0"
    "v12V7a2.3 2.3 0 0 1 4.6 0v12-7a2.3 2.3 0 0 1 4.6 0v14c0 4-2 6-3 10z",
}  # fmt: skip

PICTURES: Final = tuple(_DRAWN)


def picture(name: str) -> str:
    """Return a drawing as SVG: :data:`SIDE` units wide and high, without a frame.

    Examples
    --------
    >>> picture("clock")[:5]
    '<svg '
    """
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIDE} {SIDE}">'
        f'<path fill="none" stroke="{_INK}" stroke-width="{_PEN}" stroke-linecap="round" '
        f'stroke-linejoin="round" d="{_DRAWN[name]}"/></svg>'
    )
