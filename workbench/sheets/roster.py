"""One sheet for each lifter of a roster."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.quantities import InputError
from workbench.questions.block_check import check_block
from workbench.sheets.lines import make_sheet
from workbench.sheets.page import write_page
from workbench.sheets.workbook import write_workbook
from workbench.team import seed_of

if TYPE_CHECKING:
    from workbench.block import Block
    from workbench.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["write_sheets"]


def write_sheets(
    block: Block,
    roster: Sequence[Lifter],
    room: Room,
    folder: str | Path,
    *,
    draws: int = 500,
    seed: int = 0,
    start: datetime.date | None = None,
    problem: Callable[[Lifter, InputError], None] | None = None,
) -> list[Path]:
    """Write a workbook and a page for each lifter, with the digits of `workbench.team.team_check`.

    Parameters
    ----------
    block, roster, room
    folder : str or Path
        Made where it is missing.
    draws, seed : int
    start : date, optional
        Monday of the first week.
    problem : callable, optional
        Told of each lifter whom the block does not suit; without it, the first such error ends the run.

    Returns
    -------
    list of Path
        The files written.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(folder, "folder", f"cannot be made ({error.strerror})", "choose another") from error
    written: list[Path] = []
    for number, lifter in enumerate(roster, start=1):
        try:
            check = check_block(block, lifter, room, draws=draws, seed=seed_of(seed, lifter.name))
        except InputError as error:
            if problem is None:
                raise
            problem(lifter, error)
            continue
        sheet = make_sheet(check, room, start=start)
        stem = f"{number:03d}-{re.sub(r'[^a-z0-9]+', '-', lifter.name.lower()).strip('-')[:60] or 'lifter'}"
        written.append(write_workbook(sheet, folder / f"{stem}.xlsx"))
        written.append(write_page(sheet, folder / f"{stem}.html"))
    return written
