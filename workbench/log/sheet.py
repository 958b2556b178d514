"""One table of a file, as rows of cells with the numbers that a spreadsheet program shows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from workbench.log.cells import Cell
from workbench.log.dates import DAY_ZERO

__all__ = ["MAX_CELL", "MAX_CELLS", "MAX_COLUMNS", "MAX_ROW_NUMBER", "Sheet", "SourceRow", "cell_fault"]

#: Characters of a cell; spreadsheet programs hold no more.
MAX_CELL: Final = 32_767
#: Columns that hold anything.
MAX_COLUMNS: Final = 300
#: Last row of a sheet of a spreadsheet program.
MAX_ROW_NUMBER: Final = 1_048_576
#: Cells of a file, blank ones before the last of a row included: 500,000 rows of twelve columns.
MAX_CELLS: Final = 6_000_000

#: Tabulators and line ends belong into text; the other control characters steer terminals and printers.
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


def cell_fault(cells: Sequence[Cell]) -> str:
    r"""Return why the cells of a row cannot be used whatever they say, empty where they can.

    >>> cell_fault(["Squat", "Ana\x1b[31m"])
    'a cell holds a control character (U+001B); delete it'
    """
    for cell in cells:
        if not isinstance(cell, str):
            continue
        if len(cell) > MAX_CELL:
            return f"a cell holds more than {MAX_CELL:,} characters"
        if match := _CONTROL.search(cell):
            return f"a cell holds a control character (U+{ord(match[0]):04X}); delete it"
    return ""


@dataclass(slots=True)
class SourceRow:
    """One row: its number as a spreadsheet program shows it (first row is 1), its cells, and what is broken in it."""

    number: int
    cells: list[Cell]
    broken: str = ""


@dataclass
class Sheet:
    """One table of the file: rows up to the last one that holds anything, blank rows left out but countable.

    Attributes
    ----------
    name : str
        Name of the sheet, empty for a text file.
    rows : list of SourceRow
        The rows that hold anything.
    facts : list of str
        How the file was opened, in plain words.
    epoch : datetime
        Day 0 of dates that are stored as numbers of days.
    delimiter : str
        Of a text file, empty for a workbook.
    """

    name: str
    rows: list[SourceRow]
    facts: list[str] = field(default_factory=list)
    epoch: datetime = DAY_ZERO
    delimiter: str = ""

    @property
    def length(self) -> int:
        """Number of the last row that holds anything; 0 for an empty sheet."""
        return self.rows[-1].number if self.rows else 0
