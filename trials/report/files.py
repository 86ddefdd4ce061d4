"""The report as files: page, paper, pictures, their numbers, and a description of the tables.

The description is a Data Package of the Frictionless Data project (https://datapackage.org/,
version 2: one JSON object with ``resources``, each with ``name``, ``path`` and a ``schema``).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import partial
from typing import Any

from trials.render.beside import at_once
from trials.render.blocks import Document, Figure, figures, tables_of
from trials.render.html import html_page
from trials.render.paper import document_pdf
from trials.render.table import Cell, Column, Table, to_csv
from trials.render.typeset import Paper
from trials.report.story import slug

_PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"


def report_files(document: Document, paper: Paper = "a4") -> dict[str, bytes]:
    """Return the report's files by their path within the report folder.

    ``report.html``, ``report.pdf``, ``figures/NAME.svg``, ``.png`` and ``.csv``, ``NAME.csv`` for
    every table of data, ``tables/NAME.csv`` for every other table of the technical part, with all
    its digits, and ``datapackage.json``. The same document gives the same bytes.
    """
    pictures = figures(document)
    _ = [figure.svg for figure in pictures]  # drawn now, if they aren't, and not by many threads
    page, printed, tables, *drawn = at_once(
        lambda: {"report.html": html_page(document).encode()},
        lambda: {"report.pdf": document_pdf(document, paper)},
        lambda: _tables_as_files(document),
        *(partial(_picture_as_files, figure) for figure in pictures),
    )
    return {name: file for files in (page, printed, *drawn, tables) for name, file in files.items()}


def _picture_as_files(figure: Figure) -> dict[str, bytes]:
    name = f"figures/{figure.name}"
    return {f"{name}.svg": figure.svg, f"{name}.png": figure.png}


def _tables_as_files(document: Document) -> dict[str, bytes]:
    tables: list[tuple[str, Table]] = [(f"{table.name}.csv", table) for table in document.data]
    data = {table.name for table in document.data}
    tables += [
        (f"tables/{table.name}.csv", table)
        for table in tables_of(document, "technical")
        if table.name not in data
    ]
    tables += [(f"figures/{figure.name}.csv", figure.data) for figure in figures(document)]
    files = {path: to_csv(table).encode() for path, table in tables}
    package = _package(document, tables)
    text = json.dumps(package, ensure_ascii=False, indent=1, allow_nan=False)
    files["datapackage.json"] = f"{text}\n".encode()
    return files


def _package(document: Document, tables: list[tuple[str, Table]]) -> dict[str, Any]:
    note = f" {document.note}" if document.note else ""
    return {
        "$schema": _PROFILE,
        "name": slug(document.title),
        "title": document.title,
        "description": f"{document.title}{note}",
        "resources": [_resource(path, table) for path, table in tables],
    }


def _resource(path: str, table: Table) -> dict[str, Any]:
    return {
        "name": path.removesuffix(".csv").replace("/", "-"),
        "type": "table",
        "path": path,
        "title": table.caption,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {
            "fields": [
                _field(column, [row[place] for row in table.rows])
                for place, column in enumerate(table.columns)
            ],
            "missingValues": [""],
        },
    }


def _field(column: Column, cells: Sequence[Cell]) -> dict[str, str]:
    kinds = {"text": "string", "word": "string", "count": "integer"}
    words = any(isinstance(cell, str) for cell in cells)  # numbers and words in one column
    field = {
        "name": column.field,
        "title": column.title or column.name,
        "type": "string" if words else kinds.get(column.kind, "number"),
    }
    return field | ({"unit": column.unit} if column.unit else {})
