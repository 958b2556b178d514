"""Sheets as pages to print (black on white, A4 or Letter, a week to a page), and those of a whole roster."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.answers.block_check import check_block
from workbench.answers.team import seed_of
from workbench.present.pages import render
from workbench.publish.sheets.lines import Sheet, make_sheet
from workbench.publish.sheets.workbook import write_workbook
from workbench.quantities import SEED, InputError
from workbench.reference.whole_files import check_free, make_folder, write_whole

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["page_html", "write_page", "write_sheets"]


def page_html(sheet: Sheet) -> str:
    """Return the page; every text that came from a file is escaped.

    Reps in reserve are abbreviated RIR in the table and spelled out above it.
    """
    return render("sheet.html", sheet=sheet)


def write_page(sheet: Sheet, path: str | Path, *, replace: bool = False) -> Path:
    """Write the page as one HTML file; InputError where it is there (unless ``replace``) or cannot be."""
    return write_whole(path, page_html(sheet), replace=replace)


def write_sheets(
    block: Block,
    roster: Sequence[Lifter],
    room: Room,
    folder: str | Path,
    *,
    draws: int = 500,
    seed: int = SEED,
    start: datetime.date | None = None,
    replace: bool = False,
    problem: Callable[[Lifter, InputError], None] | None = None,
) -> list[Path]:
    """Write a workbook and a page for each lifter, with the digits of `workbench.answers.team.team_check`.

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
            check = check_block(block, lifter, room, draws=draws, seed=seed_of(seed, lifter.name))
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
