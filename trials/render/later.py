"""A picture that is drawn when it is first asked for, here or in another process.

To know what a page says of a picture, nobody has to draw it. So all pictures of a report are known
before the first is drawn, and can be shared out (:mod:`trials.render.beside`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from threading import RLock
from typing import TYPE_CHECKING, Any

from trials.words.language import language, speaking

if TYPE_CHECKING:
    from trials.render.drawing import Canvas

_ONE_AT_A_TIME = RLock()  # the house style is a setting of the library, the same for all threads


@dataclass
class Drawing:
    """What to draw: the same bytes whoever draws it, and whenever.

    Parameters
    ----------
    draw : makes the canvas of ``plot``: a function of a module, so that another process finds it.
    plot : all that ``draw`` needs to know; frozen.
    swarms : whether dots are set side by side in it, for which a large library is loaded.
    lang : the language of the words in it.
    made : the picture as SVG, once it is drawn.
    """

    draw: Callable[[Any], Canvas]
    plot: Any
    swarms: bool = False
    lang: str = field(default_factory=language)
    made: bytes | None = field(default=None, compare=False, repr=False)

    def svg(self) -> bytes:
        """Return the picture as SVG, drawn at the first call."""
        from trials.render import drawing  # matplotlib, which takes its time

        with _ONE_AT_A_TIME:
            if self.made is None:
                with speaking(self.lang), drawing.house_style():
                    self.made = drawing.finished(self.draw(self.plot))
            return self.made
