"""One table of a file, as rows of cells with the numbers that a spreadsheet program shows."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from workbench.log.cells import Cell
from workbench.log.dates import DAY_ZERO

__all__ = ["Sheet", "SourceRow"]


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
