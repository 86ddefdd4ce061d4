"""Where things stand in a TOML file: the line of every key, and numbers as they were written.

The standard library's reader gives values without places; tree-sitter gives places. This module is
the only one that touches the latter.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import tree_sitter

Path = tuple[str | int, ...]  # names of keys, and places in a list counted from 0

_KEYS = ("bare_key", "quoted_key", "dotted_key")
_DEEPEST = 40  # levels of nesting followed; a study has five


@dataclass(frozen=True)
class Twice:
    """A key or a heading that stands a second time."""

    path: Path
    first: int
    second: int
    heading: bool


@dataclass(frozen=True)
class Positions:
    """Lines, counted from 1, of everything in one TOML text."""

    lines: Mapping[Path, int] = field(default_factory=dict)
    numbers: Mapping[Path, str] = field(default_factory=dict)  # numbers as written
    twice: tuple[Twice, ...] = ()
    unreadable: int | None = None  # first line that isn't TOML

    def line(self, path: Path) -> int | None:
        """Return the line of ``path``, or of the nearest thing around it that has one."""
        for length in range(len(path), 0, -1):
            found = self.lines.get(path[:length])
            if found is not None:
                return found
        return None


def find_positions(text: str) -> Positions:
    """Return where everything in ``text`` stands, as far as it can be made out.

    Examples
    --------
    >>> where = find_positions('title = "x"\\n[factors.dye]\\nlevels = [1, 2.50]\\n')
    >>> where.line(("factors", "dye", "levels")), where.numbers[("factors", "dye", "levels", 1)]
    (3, '2.50')
    >>> find_positions("[a]\\nb = 1\\nb = 2\\n").twice
    (Twice(path=('a', 'b'), first=2, second=3, heading=False),)
    """
    import tree_sitter
    import tree_sitter_toml

    language = tree_sitter.Language(tree_sitter_toml.language())
    root = tree_sitter.Parser(language).parse(text.encode("utf-8")).root_node
    walk = _Walk()
    walk.document(root)
    return Positions(
        MappingProxyType(walk.lines),
        MappingProxyType(walk.numbers),
        tuple(walk.twice),
        _first_error(root) if root.has_error else None,
    )


class _Walk:
    """Collects lines from the tree, one pass from top to bottom."""

    def __init__(self) -> None:
        self.lines: dict[Path, int] = {}
        self.numbers: dict[Path, str] = {}
        self.twice: list[Twice] = []
        self._written: dict[Path, int] = {}  # keys and headings that may stand only once
        self._lists: dict[Path, int] = {}  # how many [[...]] headings so far

    def document(self, root: tree_sitter.Node) -> None:
        for node in root.named_children:
            if node.type == "pair":
                self._pair(node, (), 0)
            elif node.type in ("table", "table_array_element"):
                self._table(node)

    def _table(self, node: tree_sitter.Node) -> None:
        key = next((child for child in node.named_children if child.type in _KEYS), None)
        if key is None:
            return
        written = _names(key)
        base = self._resolved(written[:-1]) + written[-1:]
        line = _line(key)
        if node.type == "table_array_element":
            count = self._lists.get(base, 0)
            self._lists[base] = count + 1
            base = (*base, count)
        else:
            self._once(base, line, heading=True)
        self._mark(base, line)
        for child in node.named_children:
            if child.type == "pair":
                self._pair(child, base, 0)

    def _resolved(self, names: Path) -> Path:
        """Return the path with the place in the list after each name of a [[...]] list."""
        path: Path = ()
        for name in names:
            path = (*path, name)
            if path in self._lists:
                path = (*path, self._lists[path] - 1)
        return path

    def _pair(self, node: tree_sitter.Node, base: Path, depth: int) -> None:
        key = next((child for child in node.named_children if child.type in _KEYS), None)
        if key is None:
            return
        path = base + _names(key)
        self._once(path, _line(key), heading=False)
        self._mark(path, _line(key))
        values = [c for c in node.named_children if c.type not in (*_KEYS, "comment")]
        if values:
            self._value(values[-1], path, depth + 1)

    def _value(self, node: tree_sitter.Node, path: Path, depth: int) -> None:
        if depth > _DEEPEST:
            return
        if node.type in ("integer", "float"):
            self.numbers[path] = _text(node)
        elif node.type == "array":
            items = (c for c in node.named_children if c.type != "comment")
            for place, item in enumerate(items):
                self.lines[(*path, place)] = _line(item)
                self._value(item, (*path, place), depth + 1)
        elif node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    self._pair(child, path, depth + 1)

    def _mark(self, path: Path, line: int) -> None:
        """Give a line to ``path`` and everything around it that has none yet."""
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _once(self, path: Path, line: int, *, heading: bool) -> None:
        if path in self._written:
            self.twice.append(Twice(path, self._written[path], line, heading))
        else:
            self._written[path] = line
            self.lines[path] = line


def _names(key: tree_sitter.Node) -> Path:
    """Return the parts of a key; the tree nests dotted keys to the left."""
    parts: list[str] = []
    waiting = [key]
    while waiting and len(parts) <= _DEEPEST:
        node = waiting.pop()
        if node.type == "dotted_key":
            waiting.extend(reversed([c for c in node.named_children if c.type in _KEYS]))
        else:
            parts.append(_name(node))
    return tuple(parts)


def _name(node: tree_sitter.Node) -> str:
    text = _text(node)
    if node.type == "quoted_key":
        try:
            return next(iter(tomllib.loads(f"{text} = 0")))
        except ValueError:  # the text has other faults, told elsewhere
            return text.strip("\"'")
    return text


def _line(node: tree_sitter.Node) -> int:
    return int(node.start_point[0]) + 1


def _text(node: tree_sitter.Node) -> str:
    return (node.text or b"").decode("utf-8", "replace")


def _first_error(root: tree_sitter.Node) -> int | None:
    """Return the line on which the first unreadable thing begins: for a list, where it opens."""
    lines = []
    waiting: list[tuple[tree_sitter.Node, int | None]] = [(root, None)]
    while waiting:
        node, opened = waiting.pop()
        if opened is None and node.type == "pair":
            opened = _line(node)
        if node.is_error or node.is_missing:
            lines.append(opened or _line(node))
        elif node.has_error:
            waiting.extend((child, opened) for child in node.children)
    return min(lines, default=None)
