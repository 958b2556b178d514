"""Training logs as workbooks: what a spreadsheet program writes, then cells, rows and streams that none would."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Mapping
from random import Random
from typing import Any
from xml.sax.saxutils import escape

from tests.fuzz.cases import MARK, Case, chance
from tests.fuzz.csv_cases import ANSWERS, table

__all__ = ["xlsx_case"]

_MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
_KINDS = "application/vnd.openxmlformats-officedocument.spreadsheetml."
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
#: Number formats of the styles 0 to 6: plain, date, date and time, time, percent, kilograms, more than a day.
_FORMATS = (0, 14, 22, 21, 10, 164, 46)
_ODD_NUMBERS = (
    "0", "-1", "45356", "45356.75", "-5", "2958466", "1e20", "-1e300", "1e400", "NaN", "INF", "60", "0.5", "", " ", "x",
    "9" * 400, "9" * 5000, "1e-320", "0.99999999999", "2958465.99999999", "1.5e3", "0x10", "\u0663", "1,5", "TRUE",
)  # fmt: skip
_ODD_KINDS = ("n", "s", "str", "b", "e", "d", "inlineStr", "x", "")
_ODD_ROWS = ("0", "-1", "1", "3", "1048577", "2000000000", "9" * 30, "x", "", "1.5", "200000")
_ODD_CELLS = ("A0", "A", "1", "XFD1", "XFE1", "ZZZZ9", "A1048577", "AAA2", "$A$1", "a1", "", "R1C1", "Z2000000000")
_FAR_ROW = 100_000


def xlsx_case(rng: Random) -> Case:
    """A log as a workbook, sound or damaged."""
    rows, must_read = table(rng)
    rows = [[_allowed(cell) for cell in row] for row in rows]
    written = rng.choice(("raw", "raw", "openpyxl"))
    told: dict[str, Any] = {"options": rng.choice(ANSWERS), "must_read": must_read, "rows": None}
    marks = {mark for row in rows for cell in row for mark in MARK.findall(cell)}
    if written == "openpyxl":
        content, more = _by_openpyxl(rng, rows)
        held = [at for at, row in enumerate(rows, start=1) if any(cell.strip() for cell in row)]
        told["rows"] = held[-1] + more if held else None
    else:
        parts, strange = _parts(rng, rows)
        if strange:
            told["must_read"] = False
        if chance(rng, 15):
            parts = _damage_parts(rng, parts)
            marks, told["must_read"] = set(), False
        content = _packed(parts)
    if chance(rng, 20):
        content = _damage_bytes(rng, content)
        marks, told["must_read"], told["rows"] = set(), False, None
    told |= {"marks": sorted(marks), "again": chance(rng, 40)}
    return Case({"log.xlsx": content}, "log.xlsx", told)


def _allowed(cell: str) -> str:
    """The cell without what no workbook can hold, cut to the length of a workbook's cell."""
    kept = "".join(
        sign for sign in cell[:32_767] if sign in "\t\n" or (sign >= " " and not "\ud800" <= sign <= "\udfff")
    )
    return kept.replace("\ufffe", "").replace("\uffff", "")


def _by_openpyxl(rng: Random, rows: list[list[str]]) -> tuple[bytes, int]:
    """The workbook, and how many rows a second sheet holds."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append([_typed(cell) for cell in row])
    more = int(chance(rng, 15))
    if more:
        book.create_sheet("Second").append(["nothing", "here"])
    if chance(rng, 10):
        for at in range(2, len(rows) + 1):
            for cell in sheet[at]:
                if isinstance(cell.value, int | float):
                    cell.number_format = rng.choice(("yyyy-mm-dd", "[h]:mm:ss", '0.0 "kg"', "0%", "h:mm"))
    stream = io.BytesIO()
    book.save(stream)
    # The same bytes for the same cells: openpyxl writes the time of day into the archive and into one part.
    with zipfile.ZipFile(stream) as archive:
        parts = {name: archive.read(name) for name in archive.namelist() if not name.startswith("docProps/")}
    return _packed(parts), more


def _typed(cell: str) -> object:
    """The cell as a spreadsheet program would take it when typed: numbers and dates are recognised."""
    if cell.isascii() and cell.replace(".", "", 1).isdigit() and len(cell) < 16:
        return float(cell) if "." in cell else int(cell)
    if cell in {"2024-03-05", "2024-03-07", "9999-12-31", "2062-01-01"}:
        return datetime.datetime.fromisoformat(cell)
    return cell or None


def _parts(rng: Random, rows: list[list[str]]) -> tuple[dict[str, str], bool]:
    """The parts of a workbook, and whether anything in it is not as a spreadsheet program would write it."""
    strings: list[str] = []
    lines: list[str] = []
    strange = False
    for number, row in enumerate(rows, start=1):
        cells = []
        for column, text in enumerate(row):
            cell, odd = _cell(rng, text, f"{chr(65 + column)}{number}", strings, sound=number < 3)
            cells.append(cell)
            strange = strange or odd
        place = f' r="{number}"'
        if number > 2 and chance(rng, 6):
            place = rng.choice(("", *(f' r="{odd}"' for odd in _ODD_ROWS)))
            strange = True
        if number > 2 and chance(rng, 4):
            far = rng.choice(_ODD_CELLS)
            cells.append(f'<c r="{far}"><v>5</v></c>')
            strange = True
        lines.append(f"<row{place}>{''.join(cells)}</row>")
    if chance(rng, 3):
        lines += [
            f'<row r="{_FAR_ROW + at}"><c r="{far}{_FAR_ROW + at}"><v>1</v></c></row>'
            for at in range(50)
            for far in ("XFD",)
        ]
        strange = True
    strings_part = "".join(f"<si><t xml:space='preserve'>{escape(text)}</t></si>" for text in strings)
    formats = "".join(f'<xf numFmtId="{number}" applyNumberFormat="1"/>' for number in _FORMATS)
    epoch = '<workbookPr date1904="1"/>' if chance(rng, 5) else ""
    extent = rng.choice(
        ("", "", "", '<dimension ref="A1"/>', '<dimension ref="A1:XFD1048576"/>', '<dimension ref="?"/>')
    )
    strange = strange or "?" in extent
    merged = '<mergeCells count="1"><mergeCell ref="A2:A3"/></mergeCells>' if chance(rng, 5) else ""
    return {
        "[Content_Types].xml": _content_types(),
        "_rels/.rels": _relations([("officeDocument", "xl/workbook.xml")]),
        "xl/workbook.xml": f'{_HEAD}<workbook {_MAIN} xmlns:r="{_OFFICE}">{epoch}<sheets><sheet name="Log" sheetId="1" '
        'r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": _relations(
            [("worksheet", "worksheets/sheet1.xml"), ("styles", "styles.xml"), ("sharedStrings", "sharedStrings.xml")]
        ),
        "xl/styles.xml": f'{_HEAD}<styleSheet {_MAIN}><numFmts count="1"><numFmt numFmtId="164" '
        'formatCode="0.0&quot; kg&quot;"/></numFmts><fonts><font/></fonts><fills><fill><patternFill patternType="none"'
        "/></fill></fills><borders><border/></borders>"
        f"<cellStyleXfs><xf/></cellStyleXfs><cellXfs>{formats}</cellXfs></styleSheet>",
        "xl/sharedStrings.xml": f"{_HEAD}<sst {_MAIN}>{strings_part}</sst>",
        "xl/worksheets/sheet1.xml": f"{_HEAD}<worksheet {_MAIN}>{extent}<sheetData>{''.join(lines)}</sheetData>{merged}"
        "</worksheet>",
    }, strange


def _cell(rng: Random, text: str, place: str, strings: list[str], *, sound: bool) -> tuple[str, bool]:
    """A cell as XML, and whether it is strange."""
    if not sound and not MARK.search(text) and chance(rng, 8):
        kind = rng.choice(_ODD_KINDS)
        style = rng.choice(("", *(f' s="{one}"' for one in ("0", "1", "2", "3", "4", "5", "6", "99", "-1", "x"))))
        value = rng.choice(_ODD_NUMBERS)
        formula = rng.choice(("", "", "<f>1+1</f>", "<f/>", '<f t="shared" si="9"/>', '<f t="array" ref="A1:B9">x</f>'))
        stored = rng.choice((f"<v>{value}</v>", f"<v>{value}</v>", "", "<v/>", f"<is><t>{value}</t></is>"))
        return f'<c r="{place}" t="{kind}"{style}>{formula}{stored}</c>', True
    if not text:
        return "", False
    if text.isascii() and text.replace(".", "", 1).isdigit() and len(text) < 16:
        return f'<c r="{place}"><v>{text}</v></c>', False
    strings.append(text)
    return f'<c r="{place}" t="s"><v>{len(strings) - 1}</v></c>', False


def _content_types() -> str:
    kinds = {"xl/workbook.xml": "sheet.main", "xl/worksheets/sheet1.xml": "worksheet", "xl/styles.xml": "styles"}
    kinds["xl/sharedStrings.xml"] = "sharedStrings"
    overrides = "".join(
        f'<Override PartName="/{name}" ContentType="{_KINDS}{kind}+xml"/>' for name, kind in kinds.items()
    )
    return (
        f'{_HEAD}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" '
        f'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>{overrides}</Types>'
    )


def _relations(items: list[tuple[str, str]]) -> str:
    inner = "".join(
        f'<Relationship Id="rId{number}" Type="{_OFFICE}/{kind}" Target="{target}"/>'
        for number, (kind, target) in enumerate(items, start=1)
    )
    return f'{_HEAD}<Relationships xmlns="{_PACKAGE}">{inner}</Relationships>'


def _damage_parts(rng: Random, parts: dict[str, str]) -> dict[str, str]:
    name = rng.choice(sorted(parts))
    text = parts[name]
    kind = rng.choice(("leave out", "empty", "cut", "sign", "rename", "nest"))
    at = rng.randint(0, max(len(text) - 1, 0))
    if kind == "leave out":
        return {key: value for key, value in parts.items() if key != name}
    if kind == "rename":
        return {f"{key}x" if key == name else key: value for key, value in parts.items()}
    pieces = {"empty": "", "cut": text[:at], "nest": text.replace("<row", "<row><row" * 40, 1)}
    sign = rng.choice(("<", ">", "&", '"', "9", "-", "\u0663", "]]>", "&#0;", "&#x10FFFF;", "<!--", " "))
    return {**parts, name: pieces.get(kind, text[:at] + sign + text[at + 1 :])}


def _packed(parts: Mapping[str, str | bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(zipfile.ZipInfo(name, (2024, 3, 5, 0, 0, 0)), text, zipfile.ZIP_DEFLATED, 1)
    return stream.getvalue()


def _damage_bytes(rng: Random, content: bytes) -> bytes:
    kind = rng.choice(("flip", "flip", "flip", "cut", "zeros"))
    at = rng.randint(0, len(content) - 1)
    if kind == "cut":
        return content[:at]
    if kind == "zeros":
        return content[:at] + bytes(min(8, len(content) - at)) + content[at + 8 :]
    changed = bytearray(content)
    for _ in range(rng.randint(1, 4)):
        changed[rng.randint(0, len(content) - 1)] ^= 1 << rng.randint(0, 7)
    return bytes(changed)
