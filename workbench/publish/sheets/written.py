"""Sheets as files: a workbook to fill in, readable as a log again; a page to print; both for a whole roster.

The workbook has one tab a week and blank columns for what was done. The page is black on white, a week to a page.
"""

from __future__ import annotations

import datetime
import io
import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.styles.fonts import DEFAULT_FONT
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from workbench.answers.block_check import check_block
from workbench.log.cells import neutralised
from workbench.present.pages import render
from workbench.publish.sheets.lines import Sheet, SheetLine, SheetSession, SheetWeek, make_sheet
from workbench.quantities import SEED, InputError
from workbench.reference.whole_files import check_free, make_folder, write_whole

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["FORECAST", "HEADINGS", "page_html", "write_page", "write_sheets", "write_workbook"]

#: Headings in order, with the width of each column in characters. The log reader knows all of those to fill in.
HEADINGS: Final = (
    ("Date", 10.5),
    ("Session", 13),
    ("Exercise", 17),
    ("Set", 9.5),
    ("Planned load", 11),
    ("How to load", 19),
    ("Planned reps", 9),
    ("Planned RIR", 8),
    ("Rest before (s)", 7.5),
    ("Load done", 11),
    ("Reps done", 7),
    ("RIR done", 7),
    ("Notes", 14),
    ("Before this set", 20),
    ("After this set", 24),
    ("Lifter", 14),
)
#: Before the lifter's, where the forecast is printed.
FORECAST: Final = ("Forecast RIR", 11)
_TITLE_ROWS = 2
_LINE_HEIGHT = 13.5  # points
_LEFT = {"Date", "Session", "Exercise", "How to load", "Notes", "Before this set", "After this set", "Lifter"}
_THIN, _THICK = Side(style="thin", color="999999"), Side(style="medium", color="333333")
_PALE = PatternFill("solid", fgColor="E8EBEE")


def page_html(sheet: Sheet) -> str:
    """Return the page; every text that came from a file is escaped.

    Reps in reserve are abbreviated RIR in the table and spelled out above it.
    """
    return render("sheet.html", sheet=sheet)


def write_page(sheet: Sheet, path: str | Path, *, replace: bool = False) -> Path:
    """Write the page as one HTML file; InputError where it is there (unless ``replace``) or cannot be."""
    return write_whole(path, page_html(sheet), replace=replace)


# Those of a check, and those of the files written.
def write_sheets(
    block: Block,
    roster: Sequence[Lifter],
    room: Room,
    folder: str | Path,
    *,
    draws: int = 2000,
    seed: int = SEED,
    start: datetime.date | None = None,
    replace: bool = False,
    problem: Callable[[Lifter, InputError], None] | None = None,
) -> list[Path]:
    """Write a workbook and a page for each lifter, with the digits of `workbench.answers.block_check.check_block`.

    Parameters
    ----------
    block, roster, room
    folder : str or Path
        Made where it is missing.
    draws, seed : int
    start : date, optional
        Monday of the first week.
    replace : bool
        Write over sheets that are there already, filled in or not.
    problem : callable, optional
        Told of each lifter whom the block does not suit; without it, the first such error ends the run.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InputError
        A sheet that would be written is there already and ``replace`` is false; then none is written. Or one cannot be
        written.
    """
    folder = Path(folder)
    stems = [_stem(number, lifter.name) for number, lifter in enumerate(roster, start=1)]
    make_folder(folder)
    for stem in stems:
        for ending in (".xlsx", ".html"):
            check_free(folder / f"{stem}{ending}", replace=replace)
    written: list[Path] = []
    for stem, lifter in zip(stems, roster, strict=True):
        try:
            check = check_block(block, lifter, room, draws=draws, seed=seed)
        except InputError as error:
            if problem is None:
                raise
            problem(lifter, error)
            continue
        sheet = make_sheet(check, room, start=start)
        written.append(write_workbook(sheet, folder / f"{stem}.xlsx", replace=replace))
        written.append(write_page(sheet, folder / f"{stem}.html", replace=replace))
    return written


def _stem(number: int, name: str) -> str:
    """Return the name of a lifter's files: the number tells those apart whose plain letters are the same."""
    return f"{number:03d}-{re.sub(r'[^a-z0-9]+', '-', name.lower()).strip('-')[:60].strip('-') or 'lifter'}"


def write_workbook(sheet: Sheet, path: str | Path, *, replace: bool = False) -> Path:
    """Write the workbook; one that is there already may be filled in, so it is replaced only where that is asked for.

    Raises
    ------
    InputError
        Where there is a file of that name and ``replace`` is false, or it cannot be written.
    """
    check_free(path, replace=replace)
    book = Workbook()
    book.remove(book.worksheets[0])
    for week in sheet.weeks:
        _week_tab(book.create_sheet(f"Week {week.number}"), sheet, week)
    _guide_tab(book.create_sheet("How to fill in"), sheet)
    book.properties.title = neutralised(_plain(f"{sheet.block}, {sheet.lifter}"))
    book.properties.creator = "program-research workbench"
    content = io.BytesIO()
    try:
        book.save(content)  # which writes every tab to a temporary file first
    except OSError as error:
        problem = f"cannot be written ({error.strerror}): the folder for temporary files is full or closed"
        raise InputError(path, "", problem, "make room there, or name another folder in TMPDIR") from error
    return write_whole(path, content.getvalue(), replace=replace)


def _plain(text: str) -> str:
    """Text that a workbook can hold: no control characters, at most what a cell takes."""
    return ILLEGAL_CHARACTERS_RE.sub(" ", text)[:32_000]


def _put(tab: Worksheet, row: int, column: int, value: str | float | None) -> Cell:
    cell = tab.cell(row=row, column=column)
    assert isinstance(cell, Cell)
    if isinstance(value, str):
        # Neutralised for every program that later opens or converts the file; and marked as text for this one.
        cell.value = neutralised(_plain(value))
        cell.data_type = "s"
    else:
        cell.value = value
    return cell


def _week_tab(tab: Worksheet, sheet: Sheet, week: SheetWeek) -> None:
    _put(tab, 1, 1, f"{sheet.block} - week {week.number} - {sheet.lifter}").font = Font(bold=True, size=13)
    cautions = _put(tab, 2, 1, " ".join(sheet.cautions))
    cautions.font = Font(italic=True, size=9)
    cautions.alignment = Alignment(wrap_text=True, vertical="top")
    tab.merge_cells(start_row=2, end_row=2, start_column=1, end_column=len(HEADINGS) - 1)
    tab.row_dimensions[2].height = 2 * _LINE_HEIGHT
    header = _TITLE_ROWS + 1
    for column, (heading, width) in enumerate(_headings(sheet), start=1):
        unit = f" ({sheet.unit}; one hand of two dumbbells)" if heading == "Load done" else ""
        cell = _put(tab, header, column, f"{heading}{unit}")
        cell.font = Font(bold=True)
        cell.fill = _PALE
        cell.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        cell.border = Border(bottom=_THICK, top=_THICK)
        tab.column_dimensions[get_column_letter(column)].width = width
    tab.row_dimensions[header].height = 5 * _LINE_HEIGHT
    row = header
    for place, session in enumerate(week.sessions):
        if place:
            tab.row_breaks.append(Break(id=row))  # a session to a page
        for number, line in enumerate(session.lines):
            row += 1
            _line(tab, row, sheet, session, line, first=number == 0)
    tab.freeze_panes = f"A{header + 1}"
    _print_settings(tab, header, row, len(_headings(sheet)) - 1, _plain(f"{sheet.lifter}, week {week.number}")[:200])


def _headings(sheet: Sheet) -> list[tuple[str, float]]:
    return [*HEADINGS[:-1], *((FORECAST,) if sheet.forecast else ()), HEADINGS[-1]]


def _line(tab: Worksheet, row: int, sheet: Sheet, session: SheetSession, line: SheetLine, *, first: bool) -> None:
    book = tab.parent
    assert isinstance(book, Workbook)
    values: dict[str, object] = {
        "Session": session.name,
        "Exercise": line.exercise,
        "Set": line.label if line.drop else line.number,
        "Planned load": line.said,
        "How to load": line.how,
        "Planned reps": int(line.reps) if line.reps.isdigit() else line.reps,
        "Planned RIR": int(line.reserve) if line.reserve.isdigit() else line.reserve,
        FORECAST[0]: line.forecast,
        "Rest before (s)": None if line.rest_s is None else round(line.rest_s),
        "Before this set": "; ".join(part for part in (line.not_to_do, line.before) if part),
        "After this set": line.then,
        "Lifter": sheet.lifter,
    }
    for column, (heading, width) in enumerate(_headings(sheet), start=1):
        value = values.get(heading)
        assert value is None or isinstance(value, str | int | float)
        cell = _put(tab, row, column, value if value != "" else None)
        cell.style = _look(book, "left" if heading in _LEFT else "center", first=first)
        # Not every program makes a row as high as its longest cell needs.
        lines = math.ceil(1.15 * len(str(value or "")) / width)
        height = max(tab.row_dimensions[row].height or 0.0, _LINE_HEIGHT * max(lines, 1) + 3)
        tab.row_dimensions[row].height = height
        if heading == "Date" and session.date is not None:
            tab.cell(row=row, column=column, value=session.date).number_format = "yyyy-mm-dd"


def _look(book: Workbook, side: str, *, first: bool) -> str:
    """Return the name of a style that all cells alike share: made once for a workbook, which for each takes long."""
    name = f"{'first' if first else 'later'} set, {side}"
    if name not in book.named_styles:
        border = Border(bottom=_THIN, top=_THICK if first else _THIN, left=_THIN, right=_THIN)
        alignment = Alignment(wrap_text=True, vertical="center", horizontal=side)
        book.add_named_style(NamedStyle(name, font=DEFAULT_FONT, border=border, alignment=alignment))
    return name


def _print_settings(tab: Worksheet, header: int, last: int, columns: int, whose: str) -> None:
    tab.page_setup.orientation = "landscape"
    tab.page_setup.paperSize = 9  # A4; programs shrink it to Letter
    tab.page_setup.fitToWidth = 1
    tab.page_setup.fitToHeight = 0
    tab.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    tab.print_title_rows = f"{header}:{header}"
    # The lifter's name stands above; the column is for the reader of the log.
    tab.print_area = f"A1:{get_column_letter(columns)}{max(last, header)}"
    tab.page_margins.left = tab.page_margins.right = 0.4
    tab.page_margins.top = tab.page_margins.bottom = 0.5
    footer = tab.oddFooter
    assert footer is not None
    footer.left.text = whose.replace("&", "&&")
    footer.center.text = "Page &P of &N"


def _guide_tab(tab: Worksheet, sheet: Sheet) -> None:
    tab.column_dimensions["A"].width = 100
    of_sessions = dict.fromkeys(
        caution for week in sheet.weeks for session in week.sessions for caution in session.cautions
    )
    how = (
        "Write into the columns Load done, Reps done, RIR done and Notes; leave a set blank if it was not done.",
        f"Loads are in {sheet.unit}; type another unit with the number, such as 135 lb or 60 kg.",
        "Two dumbbells: write the load of one hand, such as 16 for 2 x 16 kg.",
        "Against body mass: write what is added, such as 10, or BW where nothing is.",
        "Planned RIR is what the coach asks for"
        + ("; Forecast RIR is what to expect, no target." if sheet.forecast else "."),
        "After this set: what to do by what that set showed; with one left, do as with none; no line there, no change.",
        "Its loads keep the sets to come likely, so they may be lighter even with reps left.",
        "A drop belongs to its set: 2, drop 1 is the first drop of set 2.",
        "Reps done: the reps completed. If the next one failed, write it as 5 failed.",
        "RIR done: reps in reserve, how many more could have been made; leave blank if unsure.",
        "Rest before: seconds since the last set of that exercise, whatever came between; correct if wrong.",
        "Date: write it in the first row of the session if it is blank.",
        "Extra columns and rows may be added; keep the row of headings.",
    )
    row = 0
    for title, texts in (("How to fill in", how), ("Cautions", (*sheet.cautions, *of_sessions))):
        for text in (title, *texts):
            row += 1
            cell = _put(tab, row, 1, text)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(bold=text == title, size=12 if text == title else 11)
