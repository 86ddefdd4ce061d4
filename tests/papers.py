"""An outside judge of PDFs: their structure, read with pikepdf, against PDF/UA-1 and WCAG 2.2.

PDF/UA-1 is ISO 14289-1:2014, told after the Matterhorn Protocol 1.1 (numbers of its checkpoints
from memory); the contrast of letters is WCAG 2.2, 1.4.3, by its formula.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pikepdf

Colour = tuple[float, ...]
_COLOURS = "q Q g rg cs sc scn Tj TJ"


def elements(node: Any) -> Iterator[Any]:
    """Give every element of a structure tree, in the order of reading."""
    if isinstance(node, pikepdf.Array):
        for inner in node:
            yield from elements(inner)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from elements(node.K)


def faults(content: bytes | Path) -> list[str]:
    """Return what a PDF lacks for those who hear it read; [] where nothing is amiss."""
    with pikepdf.open(io.BytesIO(content) if isinstance(content, bytes) else content) as pdf:
        root: Any = pdf.Root
        if "/StructTreeRoot" not in root:
            return ["no structure (01-006)"]
        told = [] if bool(root.get("/MarkInfo", {}).get("/Marked")) else ["not marked (06-001)"]
        if not str(root.get("/Lang", "")):
            told.append("no language (11-006)")
        if not bool(root.get("/ViewerPreferences", {}).get("/DisplayDocTitle")):
            told.append("title not shown (07-002)")
        with pdf.open_metadata() as meta:
            if not meta.get("dc:title"):
                told.append("no title (06-003)")
            if str(meta.get("pdfuaid:part")) != "1":
                told.append("does not say it is PDF/UA-1 (05-001)")
        for at, page in enumerate(pdf.pages, 1):
            if page.obj.get("/Tabs") != "/S":
                told.append(f"page {at} does not go by its structure (28-004)")
        return told + _faults_of(list(elements(root.StructTreeRoot)))


def _faults_of(found: list[Any]) -> list[str]:
    told = [f"{kind} without words (13-004)" for kind in _without_words(found)]
    last = 0
    for one in found:
        kind = str(one.S)
        if kind.startswith("/H") and kind[2:].isdigit():
            if int(kind[2:]) > last + 1:
                told.append(f"{kind} after level {last} (14-003)")
            last = int(kind[2:])
    for table in (one for one in found if one.S == "/Table"):
        heads = [one for one in elements(table) if one.S == "/TH"]
        if not heads:
            told.append("table without headings (15-003)")
        told += ["heading of no direction (15-003)" for one in heads if not _scope(one)]
    return told


def _without_words(found: list[Any]) -> Iterator[str]:
    for one in found:
        if one.S in ("/Figure", "/Formula") and not str(one.get("/Alt", "")).strip():
            yield str(one.S)


def _scope(head: Any) -> bool:
    given = head.get("/A", pikepdf.Dictionary())
    every = given if isinstance(given, pikepdf.Array) else [given]
    return any("/Scope" in one for one in every)


def letters(path: Path) -> set[Colour]:
    """Return the colours in which a PDF's letters are set, as red, green and blue from 0 to 1."""
    out: set[Colour] = set()
    with pikepdf.open(path) as pdf:
        for page in pdf.pages:
            now: Colour = (0.0,)
            kept: list[Colour] = []
            for one in pikepdf.parse_content_stream(page, _COLOURS):
                name, operands = str(one.operator), list(one.operands)
                if name == "q":
                    kept.append(now)
                elif name == "Q":
                    now = kept.pop()
                elif name in ("Tj", "TJ"):
                    out.add(now * 3 if len(now) == 1 else now)
                elif name == "cs":
                    now = (0.0,)
                elif name in ("sc", "scn") and isinstance(operands[-1], pikepdf.Name):
                    now = ()  # a pattern; no letter may be set in one
                else:
                    now = tuple(float(x) for x in operands)
    return out
