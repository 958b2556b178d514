"""Logs as people keep them: each fixture states the rows, the set-aside rows and the questions that are right for it.

The fixtures are the tables in ``fixtures/*.toml``: input and hand-written expectation side by side. All are invented.
"""

from __future__ import annotations

import re
import tomllib
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from workbench.log import LogReading, ReadOptions, read_log, write_canonical
from workbench.quantities import InputError

FIXTURES = Path(__file__).parent / "fixtures"
COLUMNS = "source_row date exercise load_kg reps outcome"
#: One gram: pounds become kilograms by an exact factor, and the fixtures state kilograms to the gram.
LOAD_TOLERANCE_KG = 0.0006
KNOWN = ("Squat", "Bench press", "Deadlift", "Overhead press", "Row", "Pull-up", "Leg press", "Curl", "Lunge")


def cases() -> list[Any]:
    found = []
    for path in sorted(FIXTURES.glob("*.toml")):
        listed = tomllib.loads(path.read_text(encoding="utf-8"))["case"]
        found += [pytest.param(case, id=f"{path.stem}: {case['name']}") for case in listed]
    return found


def match_exercise(name: str) -> str:
    for known in KNOWN:
        if name.casefold() == known.casefold():
            return known
    close = [known for known in KNOWN if known[:3].casefold() == name[:3].casefold()]
    remedy = f"did you mean {close[0]}?" if close else "add it to the catalogue"
    raise InputError(None, "exercise", f"unknown exercise {name!r}", remedy)


def build(case: dict[str, Any], folder: Path) -> Path:
    path = folder / case.get("file", "log.csv" if "text" in case else "log.xlsx")
    if "text" in case:
        text = case["text"].replace("\n", case.get("line_end", "\n"))
        path.write_bytes(text.encode(case.get("encoding", "utf-8")))
        return path
    book = openpyxl.Workbook()
    book.remove(book.active)
    if case.get("epoch_1904"):
        book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    for sheet in case["sheets"]:
        page = book.create_sheet(sheet["name"])
        for row in sheet["cells"]:
            page.append([None if cell == "" else cell for cell in row])
        for cell, shown in sheet.get("formats", {}).items():
            page[cell].number_format = shown
        for merged in sheet.get("merged", []):
            page.merge_cells(merged)
    # openpyxl tells the kind by the name; the name of the fixture may be the wrong one on purpose.
    with path.open("wb") as handle:
        book.save(handle)
    return path


def read(case: dict[str, Any], folder: Path) -> LogReading:
    return read_log(build(case, folder), options=ReadOptions(**case.get("options", {})), match_exercise=match_exercise)


def shown(value: Any) -> str:
    if value is None or value is pd.NA or value is pd.NaT or value != value:
        return ""
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


def same(got: str, wanted: str) -> bool:
    try:
        return abs(float(got) - float(wanted)) <= LOAD_TOLERANCE_KG
    except ValueError:
        return got == wanted


@pytest.mark.parametrize("case", cases())
def test_a_messy_log_gives_the_right_rows_or_a_question(case: dict[str, Any], tmp_path: Path) -> None:
    if "error" in case:
        with pytest.raises(InputError) as caught:
            read(case, tmp_path)
        assert case["error"] in str(caught.value)
        assert str(tmp_path) in str(caught.value)
        return
    reading = read(case, tmp_path)
    names = [name.replace("__", " ") for name in case.get("columns", COLUMNS).split()]
    got = [[shown(value) for value in row] for row in reading.so_far[names].astype(object).to_numpy().tolist()]
    wanted = [[cell.strip() for cell in line.split("|")] for line in case.get("rows", [])]
    assert len(got) == len(wanted), f"{got}\n{reading.preview()}"
    for got_row, wanted_row in zip(got, wanted, strict=True):
        assert len(got_row) == len(wanted_row)
        assert all(map(same, got_row, wanted_row)), f"{got_row} is not {wanted_row}\n{reading.preview()}"


@pytest.mark.parametrize("case", [case for case in cases() if "error" not in case.values[0]])
def test_no_row_is_lost_in_silence(case: dict[str, Any], tmp_path: Path) -> None:
    reading = read(case, tmp_path)
    aside = {f"{row.sheet}!{row.row}" if row.sheet and len(case["sheets"]) > 1 else str(row.row): row.reason
             for row in reading.quarantine.itertuples()}  # fmt: skip
    wanted = case.get("quarantine", {})
    assert set(aside) == set(wanted), reading.preview()
    for row, reason in wanted.items():
        assert reason in aside[row]
    ignored = {str(row.row): row.reason for row in reading.ignored.itertuples()}
    for row, reason in case.get("ignored", {}).items():
        assert reason in ignored[row], reading.preview()
    assert sorted(question.about for question in reading.questions) == sorted(case.get("questions", []))
    # `file_rows` is counted by hand in the fixture, so this does not lean on the reader's own count.
    used = len({(row.source_sheet, row.source_row) for row in reading.so_far.itertuples()})
    assert used + len(reading.quarantine) + int(reading.ignored["rows"].sum()) == case["file_rows"], reading.preview()
    preview = reading.preview()
    for text in case.get("understood", []):
        assert text in preview, preview


@pytest.mark.parametrize("case", [case for case in cases() if case.values[0].get("rows")])
def test_the_canonical_log_reads_back_to_the_same_rows(case: dict[str, Any], tmp_path: Path) -> None:
    asked = tuple(case.get("questions", ()))
    if asked:
        with pytest.raises(InputError, match=re.escape(f"open question ({asked[0]})")):
            write_canonical(read(case, tmp_path), tmp_path / "canonical.csv")
        assert not (tmp_path / "canonical.csv").exists()
    left_out = {"options": {**case.get("options", {}), "leave_out": asked}}
    reading = read({**case, **left_out}, tmp_path)
    before = reading.path.read_bytes()
    write_canonical(reading, tmp_path / "canonical.csv")
    undated = ReadOptions(leave_out=("date",) if "date" in asked else ())  # what was never written stays open
    again = read_log(tmp_path / "canonical.csv", options=undated, match_exercise=match_exercise)
    assert not again.questions
    assert not len(again.quarantine), again.preview()
    pd.testing.assert_frame_equal(again.rows, reading.rows, check_exact=True)
    assert reading.path.read_bytes() == before


def test_names_go_through_the_catalogue_unless_told_otherwise(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Date,Exercise,Weight kg,Reps\n2024-03-05,Bench Press,100,5\n2024-03-05,Bensh Press,100,5\n")
    reading = read_log(path)
    assert reading.rows["exercise"].tolist() == ["bench press"]
    assert reading.rows["exercise_as_written"].tolist() == ["Bench Press"]
    assert "did you mean bench press" in reading.quarantine["reason"][0]


def test_a_cell_with_nothing_but_marks_is_not_lost(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Date,Exercise,Result\n2024-03-05,Squat,; ;\n")
    reading = read_log(path, match_exercise=match_exercise)
    assert reading.totals["rows in quarantine"] == 1


def test_there_are_at_least_sixty_messy_files() -> None:
    assert len(cases()) >= 60
