"""Sheets to hand out: what to do set by set, with plates, rest and reps in reserve, and room to write what was done."""

from workbench.publish.sheets.lines import Sheet, SheetLine, SheetSession, SheetWeek, always_shown, make_sheet
from workbench.publish.sheets.written import HEADINGS, page_html, write_page, write_sheets, write_workbook

__all__ = [
    "HEADINGS",
    "Sheet",
    "SheetLine",
    "SheetSession",
    "SheetWeek",
    "always_shown",
    "make_sheet",
    "page_html",
    "write_page",
    "write_sheets",
    "write_workbook",
]
