"""Files that are too large, damaged, protected, disguised or dangerous, and files at the stated limits."""

from __future__ import annotations

import csv
import struct
import time
import zipfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.log import COLUMNS, ReadOptions, read_log, write_canonical, write_quarantine
from workbench.log.cells import neutralised, restored
from workbench.quantities import InputError

HEADINGS = ["Date", "Exercise", "Set", "Weight kg", "Reps", "RPE", "Notes"]
OLE_HEADER = bytes.fromhex("D0CF11E0A1B11AE1")
#: Of the processor; generous, for slow machines: a reader that is not linear in the rows would take hours.
PATIENCE_S = 180.0


def plain(name: str) -> str:
    return name


def small_workbook(path: Path) -> Path:
    book = openpyxl.Workbook()
    book.active.append(HEADINGS)
    book.active.append(["2024-03-05", "Squat", 1, 100, 5, 8, None])
    book.save(path)
    return path


def repacked(source: Path, target: Path, extra: dict[str, bytes], drop: tuple[str, ...] = ()) -> Path:
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name not in extra and name not in drop:
                new.writestr(name, old.read(name))
        for name, content in extra.items():
            new.writestr(name, content)
    return target


def sheet_xml(rows: list[list[str | int]]) -> bytes:
    """Return a worksheet as a spreadsheet program writes it, in a tenth of the time that the library takes."""

    def cell(place: str, value: str | int) -> str:
        text = isinstance(value, str)
        return (
            f'<c r="{place}" t="inlineStr"><is><t>{value}</t></is></c>'
            if text
            else f'<c r="{place}"><v>{value}</v></c>'
        )

    def line(at: int, row: list[str | int]) -> str:
        cells = (cell(f"{column}{at}", value) for column, value in zip("ABCDEFG", row, strict=False))
        return f'<row r="{at}">{"".join(cells)}</row>'

    start = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    lines = "".join(line(at, row) for at, row in enumerate(rows, start=1))
    return f"{start}{lines}</sheetData></worksheet>".encode()


def error_of(path: Path, options: ReadOptions | None = None) -> str:
    with pytest.raises(InputError) as caught:
        read_log(path, options=options, match_exercise=plain)
    text = str(caught.value)
    assert str(path) in text
    assert "\n" not in text
    return text


@pytest.mark.slow
def test_200000_rows_of_text(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    with path.open("w", newline="") as handle:
        writer = csv.writer(handle)
        writer.writerow(HEADINGS)
        for row in range(199_999):
            writer.writerow(
                [f"2024-{row % 12 + 1:02d}-{row % 28 + 1:02d}", "Squat", row % 5 + 1, 60 + row % 90, 5, 8, ""]
            )
    start = time.process_time()
    reading = read_log(path, options=ReadOptions(odd_dates="as_written"), match_exercise=plain)
    assert time.process_time() - start < PATIENCE_S
    assert reading.totals["rows used"] == 199_999
    assert reading.totals["rows in the file"] == 200_000
    # Loads run through 60..149 kg, 2222 whole rounds of 90 and 19 rows more (60..78 kg).
    assert reading.rows["load_kg"].sum() == 2222 * (60 + 149) * 90 / 2 + (60 + 78) * 19 / 2


@pytest.mark.slow
def test_200000_rows_of_a_workbook(tmp_path: Path) -> None:
    path = tmp_path / "log.xlsx"
    rows = (
        [f"2024-{row % 12 + 1:02d}-{row % 28 + 1:02d}", "Squat", row % 5 + 1, 60 + row % 90, 5, 8]
        for row in range(199_999)
    )
    content = sheet_xml([HEADINGS, *rows])
    repacked(small_workbook(tmp_path / "small.xlsx"), path, {"xl/worksheets/sheet1.xml": content})
    start = time.process_time()
    reading = read_log(path, options=ReadOptions(odd_dates="as_written"), match_exercise=plain)
    assert time.process_time() - start < PATIENCE_S
    assert reading.totals["rows used"] == 199_999


def test_more_rows_than_the_limit_are_one_clear_error(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(",".join(HEADINGS) + "\n" + "2024-03-05,Squat,1,100,5,8,\n" * 50)
    assert "more than 50 rows" in error_of(path, ReadOptions(max_rows=50))
    book = openpyxl.Workbook()
    for row in range(51):
        book.active.append(HEADINGS if row == 0 else ["2024-03-05", "Squat", 1, 100, 5, 8])
    book.save(tmp_path / "log.xlsx")
    assert "more than 50 rows" in error_of(tmp_path / "log.xlsx", ReadOptions(max_rows=50))
    assert read_log(path, options=ReadOptions(max_rows=51), match_exercise=plain).rows_used == 50


def test_a_zip_bomb_is_refused_before_it_unpacks(tmp_path: Path) -> None:
    source = small_workbook(tmp_path / "small.xlsx")
    bomb = repacked(source, tmp_path / "bomb.xlsx", {"xl/media/image1.bin": b"\0" * 30_000_000})
    assert "would unpack to" in error_of(bomb)
    many = repacked(source, tmp_path / "many.xlsx", {f"xl/media/{number}.bin": b"" for number in range(2500)})
    assert "too much for a log" in error_of(many)


def test_a_part_that_lies_about_its_size_is_not_unpacked_beyond_it(tmp_path: Path) -> None:
    source = small_workbook(tmp_path / "small.xlsx")
    rows = b"<row><c><v>1</v></c></row>" * 200_000
    lying = repacked(source, tmp_path / "lying.xlsx", {"xl/worksheets/sheet1.xml": rows})
    content = lying.read_bytes()
    size = struct.pack("<I", len(rows))
    assert content.count(size) == 2
    lying.write_bytes(content.replace(size, struct.pack("<I", 100)))
    assert "damaged workbook" in error_of(lying)


def test_document_type_declarations_are_refused(tmp_path: Path) -> None:
    source = small_workbook(tmp_path / "small.xlsx")
    entity = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet/>'
    path = repacked(source, tmp_path / "entity.xlsx", {"xl/worksheets/sheet1.xml": entity})
    assert "document-type declarations" in error_of(path)


def test_macros_are_left_alone(tmp_path: Path) -> None:
    source = small_workbook(tmp_path / "small.xlsx")
    path = repacked(source, tmp_path / "log.xlsm", {"xl/vbaProject.bin": b"not even a macro"})
    reading = read_log(path, match_exercise=plain)
    assert reading.rows["load_kg"].tolist() == [100.0]
    assert "Macros in the file are left alone" in reading.preview()


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("log.xlsx", OLE_HEADER + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"), "protected with a password"),
        ("log.xls", OLE_HEADER + b"\0" * 600 + "Workbook".encode("utf-16-le"), "old .xls kind"),
        ("log.xlsx", b"PK\x03\x04 and then nothing", "damaged workbook"),
        ("log.csv", b"%PDF-1.7 ...", "is a PDF"),
        ("log.csv", b"\x89PNG\r\n\x1a\n", "is a picture"),
        ("log.csv", bytes(range(128, 256)) * 8, "not readable text"),
        ("log.csv", b"", "is empty"),
    ],
)
def test_what_is_no_table_is_one_clear_line(tmp_path: Path, name: str, content: bytes, message: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert message in error_of(path)


def test_archives_that_are_no_workbook_say_what_they_are(tmp_path: Path) -> None:
    for inside, message in (
        ("content.xml", "OpenDocument"),
        ("xl/workbook.bin", "binary workbook"),
        ("a.csv", "zip archive"),
    ):
        path = tmp_path / "log.xlsx"
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr(inside, "x")
        assert message in error_of(path)


def test_a_workbook_cut_short(tmp_path: Path) -> None:
    path = small_workbook(tmp_path / "log.xlsx")
    path.write_bytes(path.read_bytes()[:-200])
    assert "damaged workbook" in error_of(path)


def test_missing_files_and_folders(tmp_path: Path) -> None:
    assert "cannot be read" in error_of(tmp_path / "none.csv")
    assert "is a folder" in error_of(tmp_path)


def test_wrong_answers_are_refused() -> None:
    with pytest.raises(InputError, match="use 'dmy' or 'mdy' or 'ymd'"):
        ReadOptions(date_order="european")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="unknown field 'weight'"):
        ReadOptions(columns={"Gewicht": "weight"})


def test_the_log_itself_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(",".join(HEADINGS) + "\n2024-03-05,Squat,1,100,5,8,\n,,,,,,note alone\n")
    before = path.read_bytes()
    reading = read_log(path, match_exercise=plain)
    with pytest.raises(InputError, match="stays as it is"):
        write_canonical(reading, path)
    write_quarantine(reading, tmp_path / "aside.csv")
    assert path.read_bytes() == before
    assert "note alone" in (tmp_path / "aside.csv").read_text(encoding="utf-8-sig")


@given(st.text())
def test_neutralised_text_comes_back_and_never_starts_as_a_formula(text: str) -> None:
    safe = neutralised(text)
    assert restored(safe) == text
    assert not safe.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


CELLS = st.sampled_from(
    ["", "2024-03-05", "05/03/2024", "Squat", "100", "102,5", "1,250", "BW", "lb", "8+2", "5/5/4", "3x8", "AMRAP 9",
     "F", "x", "8/8", "RPE 8", "Total", "Week 1", "=1+1", '"', "Date", "Reps", "0", "-", "80%", "3 min", "\u2713",
     "'", "1:30"]
)  # fmt: skip


@given(st.lists(st.lists(CELLS, min_size=1, max_size=9), max_size=12))
def test_whatever_the_cells_hold_every_row_is_accounted_for(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]
) -> None:
    path = tmp_path_factory.mktemp("any") / "log.csv"
    with path.open("w", newline="", encoding="utf-8") as handle:
        csv.writer(handle).writerows([HEADINGS, *rows])
    reading = read_log(path, match_exercise=plain)
    # Counted without the reader: rows up to the last that holds any text.
    last = max((at for at, row in enumerate(rows, start=2) if any(cell.strip() for cell in row)), default=1)
    used = len({(row.source_sheet, row.source_row) for row in reading.so_far.itertuples()})
    assert used + len(reading.quarantine) + int(reading.ignored["rows"].sum()) == last
    assert list(reading.so_far.columns)[: len(COLUMNS)] == list(COLUMNS)
    assert reading.so_far["load_kg"].notna().all()
    assert (reading.so_far["load_kg"] > 0).all()
    assert set(reading.so_far["outcome"]) <= {"completed", "failed", "stopped"}
    if len(reading.so_far):
        left_out = ReadOptions(leave_out=tuple(question.about for question in reading.questions))
        write_canonical(read_log(path, options=left_out, match_exercise=plain), path.with_name("canonical.csv"))
        again = read_log(path.with_name("canonical.csv"), options=left_out, match_exercise=plain)
        pd.testing.assert_frame_equal(again.rows, reading.so_far, check_exact=True)
