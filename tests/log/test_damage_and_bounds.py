"""Damaged, absurd and endless files: one clear line for the file, or one row aside; nothing lost, nothing unbounded."""

from __future__ import annotations

import csv
import io
import os
import random
import subprocess
import sys
import threading
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.log import LogReading, read_log
from workbench.log.cells import MAX_CELL, MAX_COLUMNS, MAX_ROW_NUMBER
from workbench.log.workbooks import Budget
from workbench.quantities import InputError

HEADINGS = ["Date", "Exercise", "Set", "Weight kg", "Reps", "RPE", "Rest s", "Notes"]
GOOD = ["2024-03-05", "Squat", "1", "100", "5", "8", "90", ""]
SHEET = "xl/worksheets/sheet1.xml"


def plain(name: str) -> str:
    return name


def read(path: Path) -> LogReading:
    return read_log(path, match_exercise=plain)


def one_line(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def accounted(reading: LogReading) -> int:
    used = len({(row.source_sheet, row.source_row) for row in reading.so_far.itertuples()})
    return used + len(reading.quarantine) + int(reading.ignored["rows"].sum())


def text_log(path: Path, *rows: list[str]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as handle:
        csv.writer(handle).writerows([HEADINGS, *rows])
    return path


def workbook() -> bytes:
    book = openpyxl.Workbook()
    book.active.append(HEADINGS)
    for number in range(1, 9):
        book.active.append(["2024-03-05", "Squat", number, 100 + number / 2, 5, 8, 90, f"note {number}"])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


WORKBOOK = workbook()


def with_parts(path: Path, changed: dict[str, bytes], kind: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as old, zipfile.ZipFile(path, "w", kind) as new:
        for name in old.namelist():
            new.writestr(name, changed.get(name, old.read(name)))
    return path


def with_rows(path: Path, rows: str) -> Path:
    """Write a workbook whose sheet holds the headings and then these rows of XML."""
    heads = "".join(f'<c t="inlineStr"><is><t>{name}</t></is></c>' for name in HEADINGS)
    return with_parts(path, {SHEET: f"<worksheet><sheetData><row>{heads}</row>{rows}</sheetData></worksheet>".encode()})


def cell(value: str) -> str:
    return f'<c t="inlineStr"><is><t>{value}</t></is></c>'


# One bad cell


@pytest.mark.parametrize("field", ["Date", "Exercise", "Set", "Weight kg", "Reps", "RPE", "Rest s"])
@pytest.mark.parametrize(
    "text", ["9" * 400, "9" * 5000, "1-" * 80 + "1", "1-" * 3000 + "1", "2x" * 90 + "1", " 1" * 900]
)
def test_an_absurd_cell_costs_its_own_row_at_most(tmp_path: Path, field: str, text: str) -> None:
    bad = dict(zip(HEADINGS, GOOD, strict=True)) | {field: text}
    reading = read(text_log(tmp_path / "log.csv", GOOD, list(bad.values()), GOOD))
    assert {2, 4} <= set(reading.so_far["source_row"])
    assert accounted(reading) == 4
    book = openpyxl.Workbook()
    for row in (HEADINGS, GOOD, list(bad.values()), GOOD):
        book.active.append(row)
    book.save(tmp_path / "log.xlsx")
    reading = read(tmp_path / "log.xlsx")
    assert {2, 4} <= set(reading.so_far["source_row"])


@pytest.mark.parametrize("digits", ["9" * 400, "9" * 5000, "1e999", "-1e400", "nan", "1" * 41])
@pytest.mark.parametrize("column", range(7))
def test_an_absurd_stored_number_costs_its_own_row_at_most(tmp_path: Path, digits: str, column: int) -> None:
    def row(values: list[str]) -> str:
        return "<row>" + "".join(values) + "</row>"

    good = [cell(text) for text in GOOD]
    bad = [*good[:column], f"<c><v>{digits}</v></c>", *good[column + 1 :]]
    reading = read(with_rows(tmp_path / "log.xlsx", row(good) + row(bad) + row(good)))
    assert {2, 4} <= set(reading.so_far["source_row"])
    assert accounted(reading) == 4


@pytest.mark.parametrize(
    ("note", "reason"),
    [
        ("x" * (MAX_CELL + 1), "more than 32,767 characters"),
        ("x" * 140_000, "more than 32,767 characters"),
        ('"' + "y" * 140_000, "more than 32,767 characters"),
        ("Ana\x1b[31m", "control character (U+001B)"),
        ("nul\0", "control character (U+0000)"),
    ],
)
def test_a_cell_that_nobody_typed_sets_its_row_aside(tmp_path: Path, note: str, reason: str) -> None:
    rows = [[*GOOD[:-1], "fine"], [*GOOD[:-1], note], [*GOOD[:-1], 'said "go",\nthen went']]
    reading = read(text_log(tmp_path / "log.csv", *rows))
    assert reading.rows["source_row"].tolist() == [2, 4]
    assert reading.rows["notes"].tolist() == ["fine", 'said "go",\nthen went']
    assert reading.quarantine["row"].tolist() == [3]
    assert reason in reading.quarantine["reason"].tolist()[0]


def test_a_line_of_a_million_cells_is_one_row_aside(tmp_path: Path) -> None:
    path = text_log(tmp_path / "log.csv", GOOD, ["1"] * 1_000_000, GOOD + [""] * 20_000)
    reading = read(path)
    assert reading.rows["source_row"].tolist() == [2, 4]
    assert reading.quarantine["reason"].tolist() == [f"has more than {MAX_COLUMNS} cells"]


@settings(max_examples=150, deadline=None)
@given(st.text(st.sampled_from("\",\n;a1=' \t\x0b"), max_size=120))
def test_no_arrangement_of_quotes_loses_a_line(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("quotes") / "log.csv"
    good = ",".join(GOOD)
    path.write_bytes(f"{','.join(HEADINGS)}\n{good}\n{text}\n{good}\n".encode())
    reading = read(path)
    assert accounted(reading) == reading.file_rows
    assert 2 in reading.so_far["source_row"].tolist()
    held = " ".join([*reading.quarantine["cells"], *reading.ignored["cells"], *reading.so_far["notes"]])
    used = reading.so_far["source_row"].nunique()
    # The last good row is read, or its text is kept in the row that took it up.
    assert used >= 2 or held.count("Squat") >= 1


# Damaged workbooks


def read_or_refused(path: Path) -> LogReading | None:
    """Read a file with every row accounted for, or see it refused by name; anything else fails."""
    try:
        reading = read(path)
    except InputError as error:
        told = str(error)
    else:
        assert accounted(reading) == reading.file_rows
        return reading
    assert str(path) in told
    return None


@pytest.mark.parametrize("kind", [zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED])
def test_flipped_bytes_end_in_rows_or_in_one_line(tmp_path: Path, kind: int) -> None:
    rng = random.Random(7)
    whole = with_parts(tmp_path / "whole.xlsx", {}, kind).read_bytes()
    path = tmp_path / "log.xlsx"
    refused = 0
    for _ in range(150):
        content = bytearray(whole)
        for _ in range(rng.choice((1, 1, 3))):
            content[rng.randrange(4, len(content))] ^= rng.randrange(1, 256)
        path.write_bytes(content)
        refused += read_or_refused(path) is None
    assert refused > 50


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_damaged_xml_ends_in_rows_or_in_one_line(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist() if name.startswith("xl/")}
    name = data.draw(st.sampled_from(sorted(parts)))
    content = bytearray(parts[name])
    piece = st.sampled_from(
        [b"", b"9" * 5000, b"-", b"&#0;", b'"', b"<row r='5'>", b"</c>", b"<f>1</f>", b"\xff", b"<v>", b"A", b"e"]
    )
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(content)))
        content[at : at + data.draw(st.integers(0, 12))] = data.draw(piece)
    path = with_parts(tmp_path_factory.mktemp("xml") / "log.xlsx", {name: bytes(content)})
    read_or_refused(path)


@pytest.mark.parametrize("encoding", ["foo", "euc-jp", "utf-32", "base64", "punycode"])
def test_a_part_in_an_unknown_encoding_is_damage(tmp_path: Path, encoding: str) -> None:
    head = f'<?xml version="1.0" encoding="{encoding}"?><worksheet/>'.encode()
    assert "is a damaged workbook" in one_line(with_parts(tmp_path / "log.xlsx", {SHEET: head}))


# Bounds


def test_a_row_beyond_the_last_of_a_sheet_is_refused_at_once(tmp_path: Path) -> None:
    path = with_rows(tmp_path / "log.xlsx", f'<row r="2000000000">{cell("x")}</row>')
    assert f"has a row 2,000,000,000, a sheet ends at row {MAX_ROW_NUMBER:,}" in one_line(path)


def test_far_cells_are_refused_where_they_hold_something_and_cost_nothing_where_not(tmp_path: Path) -> None:
    good = "".join(cell(text) for text in GOOD)
    blank = "".join(f'<row>{good}<c r="XFD{row}" s="0"/></row>' for row in range(2, 2_002))
    assert read(with_rows(tmp_path / "blank.xlsx", blank)).rows_used == 2_000
    far = with_rows(tmp_path / "far.xlsx", f'<row>{good}<c r="XFD2"><v>1</v></c></row>')
    assert f"has more than {MAX_COLUMNS} columns" in one_line(far)


def test_cells_are_counted_before_they_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each row is as wide as its last cell that holds something: 4 rows of 250 are 1,000 cells, 5 are too many."""
    monkeypatch.setattr("workbench.log.files.MAX_CELLS", 1000 + len(HEADINGS))

    def sheet(count: int) -> str:
        return "".join(f'<row r="{row}"><c r="IP{row}"><v>1</v></c></row>' for row in range(2, 2 + count))

    monkeypatch.setattr(Budget.__init__, "__defaults__", (1000 + len(HEADINGS), 10**6))
    assert read(with_rows(tmp_path / "four.xlsx", sheet(4))).file_rows == 5
    assert "cells" in one_line(with_rows(tmp_path / "five.xlsx", sheet(5)))
    wide = ["1"] * 250
    assert read(text_log(tmp_path / "four.csv", *[wide] * 4)).file_rows == 5
    assert "cells" in one_line(text_log(tmp_path / "five.csv", *[wide] * 5))


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no /dev/zero on this system")
def test_an_endless_file_is_read_to_the_limit_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workbench.log.files.MAX_BYTES", 1_000_000)
    assert "limit of 1 MB" in one_line(Path("/dev/zero"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names on this system")
def test_a_pipe_is_read_whole_and_once(tmp_path: Path) -> None:
    rows = 2000  # some 80,000 bytes, more than one block of a pipe
    text = ",".join(HEADINGS) + "\n" + (",".join(GOOD) + "\n") * rows
    os.mkfifo(tmp_path / "pipe")
    writer = threading.Thread(target=(tmp_path / "pipe").write_text, args=(text,))
    writer.start()
    reading = read(tmp_path / "pipe")
    writer.join()
    assert reading.totals["rows in the file"] == rows + 1
    assert len(reading.rows) == rows


@pytest.mark.skipif(not Path("/dev/stdin").exists(), reason="no /dev/stdin on this system")
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_log_comes_through_standard_input(kind: str) -> None:
    text = ",".join(HEADINGS) + "\n" + (",".join(["2024-03-05", "back squat", *GOOD[2:]]) + "\n") * 300
    content = text.encode() if kind == "csv" else WORKBOOK
    used = "rows_used"
    code = f"from workbench.log import read_log; print(read_log('/dev/stdin', match_exercise=str).{used})"
    done = subprocess.run([sys.executable, "-c", code], input=content, capture_output=True, check=True)
    assert int(done.stdout) == (300 if kind == "csv" else 8)


def test_a_few_rows_of_garbled_bytes_leave_the_rows_of_a_short_log(tmp_path):
    """Four bytes in a hundred stand for no letter: still a log, of which two rows are lost."""
    good = b"2026-01-05,back squat,100,5\n"
    garbled = b"2026-01-05,[}\x81\xf0\x81\xab,100,5\n"
    path = tmp_path / "short.csv"
    path.write_bytes(b"Date,Exercise,Load kg,Reps\n" + good + 2 * garbled)
    reading = read(path)
    assert reading.rows_used == 1
    assert len(reading.quarantine) == 2


def test_packed_bytes_are_no_log(tmp_path):
    """An eighth of what is packed stands for no letter, whatever stands in its first line."""
    path = tmp_path / "packed.csv"
    path.write_bytes(b"Date,Exercise,Load kg,Reps\n" + np.random.default_rng(1).bytes(4000))
    assert "not readable text" in one_line(path)


def test_a_byte_that_is_no_letter_costs_its_row_alone(tmp_path):
    """9D stands for nothing in UTF-8 by itself, and for nothing in cp1252."""
    path = tmp_path / "log.csv"
    good = b"2026-01-05,back squat,100,5\n" * 20
    path.write_bytes(b"Date,Exercise,Load kg,Reps\n" + good + b"2026-01-05,back squat,10\x9d0,5\n" + good)
    reading = read(path)
    assert reading.so_far["load_kg"].tolist() == [100.0] * 40
    assert len(reading.quarantine) == 1
