"""Inputs that no reader wants: mangled copies of files that people hand in, and made-up monsters.

Every input comes from a seed and a number alone, so one that makes a fault can be made again.
"""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

from tests.ingest.bench import (
    CODES,
    VOC,
    cell_rows,
    cells,
    csv_bytes,
    ods,
    ods_body,
    ods_parts,
    plan_of,
    table,
    workbook,
)
from trials.ingest import workbook_layout as layout

UGLY = Path(__file__).resolve().parent.parent / "ugly_files"
MOST_BYTES = 400_000  # of one mangled file; the monsters may be larger

NASTY = (
    "", " ", "0", "-0", "1e999999999", "1e-999999999", "9" * 5000, "0." + "3" * 5000, "1e3e3",
    "1e", ".", ",", "-", "−", "+", "--5", "NaN", "inf", "-inf", "Infinity", "∞", "open", "1/0",
    "½", "٣٫٥", "४", "１２", "1,2.3,4", "1.2.3", "1'000'00", "1 2 3", "0x10", "0b1", "1_000",
    "4·10⁻⁵", "4x10^", "10^10^10", "10^-999999999", "10**10**10", "2,5 · 10⁹⁹⁹⁹⁹⁹⁹", "⁻⁵", "x10",
    "5 m V", "5 kg", "5 V^9999999", "5 V**9**9**9", "5 degC", "5 %", "5 1/s", "5 µµV", "5 mmmmV",
    "=1+1", "=cmd|' /C calc'!A0", "@x", "'0.4", "''", '"', '""', '"""', '"' * 301, "\x00", "\x01",
    "\x0b", "\x0c", "\x1a", "\x85", "\u2028", "\ufeff", "\u200b", "\u202e", "\ufffe", "\U0010ffff",
    "ﬁ", "İ", "ß", "ǅ", "e\u0301" * 40, "🙂", "\ud800", "\udfff", "K" * 10_000, "(" * 2000,
    "(" * 50 + ")" * 50, "[V]", "voltage (V", "voltage V)", "voltage (V**9**9**9)", "U (10^3 V)",
    "light (W/m^2/m^2/m^2)", "light (lx) (V)", "item", "Item", "reading", "item;item", "time",
    f"{VOC} (V)", f"{VOC} (mV)", f"{VOC} 1 (V)", f"{VOC} 99999999999 (V)", "Voc", "value", "unit",
    "quantity", "BD27", "bd27", "BD27 ", "BD2７", "BD72", "D827", "2026-13-45", "2026-03-01 25:61",
    "14:05", "99:99", "-1 day", "0000-00-00", "10000-01-01", "sep=;", "sep=", "sep=\t", "<html>",
    "&amp;", "&#0;", "&#xD800;", "&lol;", "<![CDATA[", "<!--", "]]>", "<a>" * 300, "\r", "\n",
    "\r\n\r\n", ";", "\t", "|", ";" * 500, "," * 3000,
)  # fmt: skip
CODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "latin-1",
           "cp437", "utf-7", "shift_jis")  # fmt: skip


@cache
def seeds() -> tuple[tuple[str, bytes], ...]:
    """Return the files that are mangled, each with its name."""
    study = cells()
    plan = plan_of(study)
    title = layout.measuring_sheets(study, plan)[0].title
    rows = cell_rows(CODES[:6])
    sweep = "voltage (V),current (mA)\n0.45,0.1\n0.4,0.7\n0.3,1.1\n0.1,1.3\n0,1.35\n"
    made = {
        "all.csv": csv_bytes(),
        "comma.csv": table(rows, delimiter=";", decimal=",").encode(),
        "entry.xlsx": workbook(study, plan, {title: rows}),
        "entry.ods": ods({title: [["item", "reading", f"{VOC} (V)"], *([*r[:3]] for r in rows)]}),
        "BD27.csv": sweep.encode(),
        "loads.csv": b"item;U (mV);R (ohm)\nBD27;450;open\nBD27;300;330\nBD27;120,5;68\n",
    }
    ugly = {path.name: path.read_bytes() for path in sorted(UGLY.iterdir())
            if path.is_file() and path.suffix not in (".py", ".pyc", "")}  # fmt: skip
    return (*made.items(), *ugly.items())


def mangled(seed: int, number: int) -> tuple[str, bytes]:
    """Return one input: what the file is called, and its bytes."""
    chance = random.Random(f"{seed} {number}")  # noqa: S311 - nothing is kept secret with it
    if chance.random() < 0.02:
        return _monster(chance)
    name, content = chance.choice(seeds())
    for _ in range(1 + int(chance.expovariate(1.0))):
        if content.startswith(b"PK\x03\x04") and chance.random() < 0.85:
            content = _packed(chance, content)
        else:
            content = chance.choice((_bytes, _text, _text, _lines, _coding))(chance, content)
    if chance.random() < 0.1:
        name = chance.choice(("BD27.csv", "a.xlsx", "a", "ä b.TSV", "K" * 200 + ".csv", ".csv"))
    return name, content[:MOST_BYTES]


def _fitting(piece: str, times: int) -> int:
    """Return how often a piece is repeated: no more than is handed in anyway."""
    return max(min(times, MOST_BYTES // (len(piece) + 1)), 1)


# ---- small changes ---------------------------------------------------------------------------


def _bytes(chance: random.Random, content: bytes) -> bytes:
    """Flip, drop, double, insert or cut bytes, or graft those of another file on."""
    data = bytearray(content)
    for _ in range(chance.choice((1, 1, 2, 5, 40))):
        at = chance.randrange(len(data) + 1)
        end = min(len(data), at + int(chance.expovariate(0.05)))
        what = chance.randrange(7)
        if what == 0 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        elif what == 1:
            del data[at:end]
        elif what == 2:
            data[at:at] = data[at:end] * chance.choice((1, 2, 50))
        elif what == 3:
            data[at:at] = chance.randbytes(chance.choice((1, 4, 100)))
        elif what == 4 and chance.random() < 0.1:
            del data[at:]
        elif what == 5 and chance.random() < 0.2:
            other = chance.choice(seeds())[1]
            data[at:] = other[chance.randrange(len(other) + 1) :]
        else:
            data[at:end] = bytes([chance.choice(b"\x00\xff;,\t|\"'\n\r.-eE0189<>&\xb5")])
    return bytes(data)


def _decoded(content: bytes) -> str:
    coding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
    return content.decode(coding, "surrogateescape" if coding == "utf-8" else "replace")


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _text(chance: random.Random, content: bytes) -> bytes:
    """Put something nasty into cells, or another separator into the whole."""
    text = _decoded(content)
    if chance.random() < 0.2:
        old, new = chance.choice(";,\t| ."), chance.choice(";,\t| .:")
        return _encoded(text.replace(old, new))
    separator = max(";,\t|", key=text.count)
    cells = text.split(separator)
    for _ in range(chance.choice((1, 1, 3, 20))):
        cells[chance.randrange(len(cells))] = chance.choice(NASTY)
    return _encoded(separator.join(cells))


def _lines(chance: random.Random, content: bytes) -> bytes:
    """Repeat, drop, mix, lengthen lines, or put quotes around them."""
    lines = _decoded(content).splitlines(keepends=True) or [""]
    at = chance.randrange(len(lines))
    what = chance.randrange(7)
    if what == 0:
        lines[at:at] = [lines[at]] * chance.choice((1, 10, 2000))
    elif what == 1:
        del lines[at : at + chance.choice((1, 3, 100))]
    elif what == 2:
        chance.shuffle(lines)
    elif what == 3:
        line = lines[at].rstrip()
        lines[at] = line * _fitting(line, chance.choice((2, 30, 300))) + "\n"
    elif what == 4:
        lines[at:at] = _decoded(chance.choice(seeds())[1]).splitlines(keepends=True)[:50]
    elif what == 5:
        lines[at] = '"' * chance.choice((1, 2, 3)) + lines[at]
    else:
        ends = chance.choice(("\r", "\r\n", "\n\n", "\x0b", "\u2028", "\n\r"))
        lines = [line.rstrip("\r\n") + ends for line in lines]
    return _encoded("".join(lines))


def _coding(chance: random.Random, content: bytes) -> bytes:
    """Write the letters in another coding, or each half in one of its own."""
    text = _decoded(content)
    cut = chance.randrange(len(text) + 1) if chance.random() < 0.5 else len(text)
    one, two = (part.encode(chance.choice(CODINGS), "replace") for part in (text[:cut], text[cut:]))
    return one + two


def _packed(chance: random.Random, content: bytes) -> bytes:
    """Mangle a part inside a workbook and pack it again, so that it is reached."""
    parts = _parts(content)
    if not parts:
        return _bytes(chance, content)
    name = chance.choice([*parts, *(n for n in parts if "sheet" in n or "content" in n)])
    what = chance.randrange(8)
    if what == 0:
        del parts[name]
    elif what == 1:
        parts[chance.choice(list(parts))] = parts[name]
    elif what == 2:
        parts[name] = _bytes(chance, parts[name])
    else:
        parts[name] = _encoded(_tags(chance, parts[name].decode("utf-8", "replace")))
    return _pack(parts)


def _tags(chance: random.Random, xml: str) -> str:
    """Change values, drop or repeat tags, or nest a piece many times."""
    pieces = xml.replace("<", "\x00<").replace(">", ">\x00").split("\x00")
    for _ in range(chance.choice((1, 1, 3, 10))):
        at = chance.randrange(len(pieces))
        what = chance.randrange(6)
        if what == 0:
            del pieces[at]
        elif what == 1:
            pieces[at:at] = pieces[at : at + chance.choice((1, 5, 60))] * chance.choice((1, 3, 200))
        elif what == 2:
            pieces[at] = pieces[at] * _fitting(pieces[at], chance.choice((2, 500)))
        elif what == 3 and '"' in pieces[at]:
            values = pieces[at].split('"')
            values[chance.randrange(1, len(values), 2)] = chance.choice(
                ("", "0", "-1", "1e999", "NaN", "99999999", "9" * 30, "A0", "ZZZZ9999999", "n", "d",
                 "s", "b", "e", "inlineStr", "str", "float", "date", "PT99999999999H0M0S",
                 "&#x110000;",                 "1900-02-30", *NASTY[:12])
            )  # fmt: skip
            pieces[at] = '"'.join(values)
        else:
            pieces[at] = (
                chance.choice(NASTY).replace("<", "&lt;") if what == 4 else chance.choice(NASTY)
            )
        if not pieces:
            return ""
    return "".join(pieces)


def _parts(content: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            return {one.filename: packed.read(one) for one in packed.infolist()
                    if one.file_size < 3_000_000}  # fmt: skip
    except Exception:  # noqa: BLE001 - damaged already; its bytes are mangled instead
        return {}


def _pack(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return out.getvalue()


# ---- monsters --------------------------------------------------------------------------------


def _monster(chance: random.Random) -> tuple[str, bytes]:
    """Return something made to be too much."""
    return chance.choice(MONSTERS)(chance)


def _wide_row(chance: random.Random) -> tuple[str, bytes]:
    mark = chance.choice((",", ";", "\t", "|"))
    row = chance.choice(("", "1", '""', "a", f"{VOC} (V)"))
    width = chance.choice((300, 10_000, 1_000_000)) if len(row) < 3 else 20_000
    return "wide.csv", (f"item{mark}" + mark.join([row] * width) + "\nBD27" + mark * 9).encode()


def _many_rows(chance: random.Random) -> tuple[str, bytes]:
    row = chance.choice(
        (b"\n", b";\n", b"BD27\n", b"BD27;1;0.4\n", b'"\n', b'";"\n', b"\r", b"\x00\n")
    )
    head = chance.choice((b"", b"item;reading;Voc (V)\n"))
    return "long.csv", head + row * chance.choice((3000, 25_000, 2_000_000 // len(row)))


def _noise(chance: random.Random) -> tuple[str, bytes]:
    letters = chance.choice(
        (bytes(range(256)), b'",;\n', b"0123456789.,;\n", b" \t\n\r", b"\"'\n;K1")
    )
    size = chance.choice((1, 7, 100, 5000, 300_000))
    start = chance.choice((b"", b"PK\x03\x04", b"\xff\xfe", b"\xef\xbb\xbf", b"item;Voc (V)\n"))
    return "noise.csv", start + bytes(chance.choices(letters, k=size))


def _numbers(chance: random.Random) -> tuple[str, bytes]:
    digits = chance.choice("0199") * chance.choice((400, 5000, 200_000))
    text = chance.choice(
        ("{}", "0.{}", "1e{}", "1E-{}", "{},{}", "{}.{}.{}", "10^{}", "{} V", "(V^{})")
    )
    number = text.replace("{}", digits)
    return "huge.csv", f"item;reading;Voc (V)\nBD27;1;{number}\nBD27;{number};0.4\n".encode()


def _words(chance: random.Random) -> tuple[str, bytes]:
    word = chance.choice(("a ", "(", ")", "m", "(V) ", "V/", "^", "voltage ", "1 ", "-", "_"))
    word *= chance.choice((50, 1000, 30_000))
    return "words.csv", f"item;{word};Voc {word}\nBD27;{word};0.4 {word}\n".encode()


def _bomb(chance: random.Random) -> tuple[str, bytes]:
    """Return a workbook one part of which unfolds to very much, packed well enough to pass."""
    name = chance.choice(("entry.xlsx", "entry.ods"))
    parts = _parts(dict(seeds())[name])
    inside = [n for n in parts if "sheet" in n or "content" in n or "haredS" in n or "styles" in n]
    part = chance.choice(inside)
    filler = chance.choice((b" ", b"<row/>", b"<c/>", b"<row r='9'><c r='A9'><v>1</v></c></row>",
                            b"<table:table-row/>", b"<si/>", b"<!-- -->"))  # fmt: skip
    size = chance.choice((9_900_000, 30_000_000))
    middle = parts[part].rfind(b"</")
    parts[part] = parts[part][:middle] + filler * (size // len(filler)) + parts[part][middle:]
    return name, _pack(parts)


def _many_parts(chance: random.Random) -> tuple[str, bytes]:
    texts = {f"xl/p{n}.xml": "<a/>" for n in range(chance.choice((1500, 2500)))}
    return "parts.xlsx", ods_parts({"[Content_Types].xml": "<a/>", **texts})


def _entities(chance: random.Random) -> tuple[str, bytes]:
    lines = "".join(f'<!ENTITY e{n + 1} "{f"&e{n};" * 10}">' for n in range(12))
    kind = f'<!DOCTYPE a [<!ENTITY e0 "ha">{lines}]>'
    if chance.random() < 0.5:
        return "ha.ods", ods_body("<table:table>&e12;</table:table>", before=kind)
    parts = _parts(dict(seeds())["entry.xlsx"])
    part = chance.choice([n for n in parts if n.endswith(".xml")])
    body = parts[part].decode().partition("?>")[2] or parts[part].decode()
    parts[part] = (kind + body.replace("</", "&e12;</", 1)).encode()
    return "ha.xlsx", _pack(parts)


def _nested(chance: random.Random) -> tuple[str, bytes]:
    depth = chance.choice((50, 1000, 100_000))
    tag = chance.choice(("table:table", "text:span", "table:table-cell", "text:p"))
    ends = f"</{tag}>" * depth
    if chance.random() < 0.5:
        return "deep.ods", ods_body(f"<{tag}>" * depth + ends)
    parts = _parts(dict(seeds())["entry.xlsx"])
    part = chance.choice([n for n in parts if n.endswith((".xml", ".rels"))])
    whole = parts[part].decode()
    at = whole.rfind("</")
    parts[part] = (whole[:at] + "<x>" * depth + "</x>" * depth + whole[at:]).encode()
    return "deep.xlsx", _pack(parts)


def _repeated(chance: random.Random) -> tuple[str, bytes]:
    times = chance.choice((199, 20_000, 1_048_576, 999_999_999))
    rows = f'table:number-rows-repeated="{times}"'
    columns = f'table:number-columns-repeated="{chance.choice((1, 150, times))}"'
    cell = f"<table:table-cell {columns}><text:p>0.4</text:p></table:table-cell>"
    row = f"<table:table-row {rows}>{cell}</table:table-row>" * chance.choice((1, 20))
    head = "".join(f"<table:table-cell><text:p>{t}</text:p></table:table-cell>"
                   for t in ("item", "Voc (V)"))  # fmt: skip
    body = f"<table:table><table:table-row>{head}</table:table-row>{row}</table:table>"
    return "again.ods", ods_body(body * chance.choice((1, 30)))


MONSTERS: Sequence[Callable[[random.Random], tuple[str, bytes]]] = (
    _wide_row, _many_rows, _noise, _numbers, _words, _bomb, _many_parts, _entities, _nested,
    _repeated,
)  # fmt: skip
