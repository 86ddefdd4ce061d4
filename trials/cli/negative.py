"""Numbers below zero as arguments: ``-5.2`` is a value, not an option."""

from __future__ import annotations

import re
from typing import Any

from typer.core import TyperCommand

_NEGATIVE = re.compile(r"-[.,]?\d")


class TakesNegative(TyperCommand):
    """A verb whose last argument may be a number below zero. It has no options of one letter."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the arguments, with a number below zero put behind all options."""
        return super().parse_args(ctx, self._sorted(args))

    def _sorted(self, args: list[str]) -> list[str]:
        if "--" in args:
            return args
        taking = {
            flag
            for option in self.params
            if not getattr(option, "is_flag", True)
            for flag in option.opts
        }
        before = ["", *args[:-1]]
        negative = [
            place
            for place, (previous, text) in enumerate(zip(before, args, strict=True))
            if _NEGATIVE.match(text) and previous not in taking
        ]
        if not negative:
            return args
        rest = [text for place, text in enumerate(args) if place not in negative]
        return [*rest, "--", *(args[place] for place in negative)]
