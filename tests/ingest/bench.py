"""Small studies and plans made by hand, and the files that a class would hand in for them."""

from __future__ import annotations

import io
import subprocess
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from openpyxl import Workbook

from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow, Shuffle
from trials.ingest import workbook_layout as layout
from trials.study.values import FailedRule, Response, Study, StudyFactor, StudyGroup
from trials.words import workbook as words

CODES = ("BD27", "CF34", "DG41", "FH58", "GJ65", "HK72", "JL79", "KM86",
         "LN93", "MP16", "NQ23", "PR38")  # fmt: skip
VOC, ISC, LOAD, LIGHT = (
    "open-circuit voltage",
    "short-circuit current",
    "load voltage",
    "light",
)
CELL_HEADINGS = (f"{VOC} (V)", f"{ISC} (mA)", f"{LOAD} (V)", f"{LIGHT} (W/m^2)")


def _groups() -> tuple[StudyGroup, ...]:
    return (
        StudyGroup(name="session", count=2),
        StudyGroup(name="team", count=2, role="maker", members=("alder", "birch")),
    )


def cells() -> Study:
    """Return a study of cells: power per area at a load, and the voltage with nothing connected."""
    return Study(
        title="Cells",
        question="Which is stronger?",
        item_name="cell",
        factors=(StudyFactor(name="recipe", levels=("a", "b")),),
        groups=_groups(),
        responses=(
            Response(
                name="power",
                unit="µW/cm^2",
                reducer="iv_point",
                settings={
                    "quantity": "power_per_area",
                    "load_ohm": 330.0,
                    "area_cm2": 4.0,
                    "reference_light": 800.0,
                },
                compare="ratio",
                primary=True,
                readings=2,
                low=0,
                high=2000,
                failed=FailedRule(below=0.007, text="Under 3 mV across the load."),
            ),
            Response(
                name="voltage",
                unit="V",
                reducer="mean",
                settings={"column": VOC},
                readings=2,
                low=0,
                high=0.8,
                failed=FailedRule(below=0.003),
            ),
        ),
    )


def plants() -> Study:
    """Return a study of plants: height read twice, leaves counted once."""
    return Study(
        title="Plants",
        question="Which grows taller?",
        item_name="pot",
        factors=(StudyFactor(name="food", levels=("none", "full")),),
        groups=_groups(),
        responses=(
            Response(name="height", unit="mm", reducer="mean", primary=True, readings=2,
                     low=0, high=400, failed=FailedRule(below=5)),
            Response(name="leaves", unit="1", reducer="value", low=0, high=60),
        ),
    )  # fmt: skip


def plan_of(study: Study, codes: Sequence[str] = CODES) -> Plan:
    """Return a plan: the first half in session 1; alder and birch take turns."""
    half = len(codes) // 2
    factor = study.factors[0]
    rows = tuple(
        PlanRow(
            run=i + 1,
            measure=i + 1,
            item=code,
            groups={"session": "1" if i < half else "2", "team": ("alder", "birch")[i % 2]},
            factors={factor.name: factor.levels[(i // 2) % 2]},
        )
        for i, code in enumerate(codes)
    )
    return Plan(
        program_version="0.1.0",
        study_digest=study.digest(),
        seed=1,
        seeds_tried=(1,),
        family="full factorial",
        factors=(
            PlanFactor(name=factor.name, levels=factor.levels, unit="", kind="category",
                       scale="linear", applied_to=None),
        ),
        groups=(
            PlanGroup(name="session", path="session", within=None, step=None, role=None,
                      members=("1", "2"), random=None),
            PlanGroup(name="team", path="team", within=None, step=None, role="maker",
                      members=("alder", "birch"), random=None),
        ),
        rows=rows,
        criteria={},
        skeleton=(),
        audit=(),
        power=(),
        verdict_chances=(),
        shuffle=Shuffle(kind="units", size=None, smallest_p={}),
    )  # fmt: skip


def cell_row(code: str, reading: int = 1) -> list[str]:
    """Return one reading as text: item, reading, Voc, Isc, load voltage, light."""
    i = CODES.index(code)
    load = 0.280 + 0.007 * i + 0.001 * reading
    return [
        code,
        str(reading),
        f"{0.402 + 0.003 * i + 0.001 * reading:.3f}",
        f"{1000 * load / 330 * 1.31 + 0.01 * reading:.2f}",
        f"{load:.3f}",
        f"{790 + 3 * i + reading}",
    ]


def cell_rows(codes: Iterable[str] = CODES, readings: int = 2) -> list[list[str]]:
    """Return all readings of some cells."""
    return [cell_row(code, n) for code in codes for n in range(1, readings + 1)]


def changed(
    rows: Sequence[Sequence[str]], code: str, reading: int, column: int, text: str
) -> list[list[str]]:
    """Return the rows with one cell replaced."""
    return [
        [text if i == column and row[:2] == [code, str(reading)] else cell
         for i, cell in enumerate(row)]
        for row in map(list, rows)
    ]  # fmt: skip


def table(
    rows: Iterable[Sequence[str]],
    headings: Sequence[str] = ("item", "reading", *CELL_HEADINGS),
    delimiter: str = ",",
    *,
    decimal: str = ".",
) -> str:
    """Return a readings table as text."""
    lines = [delimiter.join(headings)]
    for row in rows:
        lines.append(
            delimiter.join(
                cell.replace(".", decimal) if i > 0 else cell for i, cell in enumerate(row)
            )
        )
    return "\n".join(lines) + "\n"


def csv_bytes(rows: Iterable[Sequence[str]] | None = None) -> bytes:
    """Return a plain readings table of all cells."""
    return table(cell_rows() if rows is None else rows).encode()


def workbook(
    study: Study,
    plan: Plan,
    written: Mapping[str, Sequence[Sequence[Any]]],
    *,
    digest: str | None = None,
) -> bytes:
    """Return an entry workbook with its sheets filled in.

    Parameters
    ----------
    written : title of a measuring sheet -> its rows, each from the item on.
    """
    book = Workbook()
    about: Any = book.active
    about.title = words.ABOUT
    about.append([words.STUDY, study.title])
    about.append([words.PLAN, plan.digest() if digest is None else digest])
    about.append([words.FORMAT, layout.FORMAT_VERSION])
    for sheet in layout.measuring_sheets(study, plan):
        page: Any = book.create_sheet(sheet.title)
        for pair in sheet.groups:
            page.append(list(pair))
        page.append(list(layout.headings_of(study)))
        for row in written.get(sheet.title, ()):
            page.append(list(row))
            for cell in page[page.max_row]:
                if isinstance(cell.value, str) and cell.value.startswith("'="):
                    cell.value = cell.value[1:]
                    cell.data_type = "s"  # text that looks like a formula
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


_ODS = "application/vnd.oasis.opendocument.spreadsheet"
_SPACES = " ".join(
    f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{long}:1.0"'
    for short, long in (("office", "office"), ("table", "table"), ("text", "text"))
)


def ods_body(body: str, *, before: str = "") -> bytes:
    """Return an OpenDocument spreadsheet with some XML for its sheets.

    Parameters
    ----------
    before : what stands in front of the root element.
    """
    xml = (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<office:document-content {_SPACES}>'
        f"<office:body><office:spreadsheet>{body}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    return ods_parts({"content.xml": xml})


def ods_parts(parts: Mapping[str, str], mimetype: str = _ODS) -> bytes:
    """Return a packed OpenDocument file of some parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("mimetype", mimetype, zipfile.ZIP_STORED)
        for name, text in parts.items():
            packed.writestr(name, text)
    return out.getvalue()


def ods(sheets: Mapping[str, Sequence[Sequence[str | float]]]) -> bytes:
    """Return an OpenDocument spreadsheet with texts and numbers as they are given."""

    def cell(value: str | float) -> str:
        if isinstance(value, str):
            return f"<table:table-cell><text:p>{escape(value)}</text:p></table:table-cell>"
        return f'<table:table-cell office:value-type="float" office:value="{value!r}"/>'

    def row(cells: Sequence[str | float]) -> str:
        return f"<table:table-row>{''.join(map(cell, cells))}</table:table-row>"

    return ods_body(
        "".join(
            f"<table:table table:name={quoteattr(name)}>{''.join(map(row, rows))}</table:table>"
            for name, rows in sheets.items()
        )
    )


def resaved(content: bytes, name: str, ending: str, folder: Path) -> bytes:
    """Return a file as LibreOffice saves it in another format, with a profile of its own.

    Parameters
    ----------
    ending : the new ending; what stands behind a colon is the filter that writes it.
    """
    (folder / name).write_bytes(content)
    out = folder / "saved"
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless",
         "--convert-to", ending, "--outdir", str(out), str(folder / name)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return (out / name).with_suffix(f".{ending.partition(':')[0]}").read_bytes()
