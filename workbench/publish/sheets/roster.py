"""One sheet for each lifter of a roster."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.answers.block_check import check_block
from workbench.answers.team import seed_of
from workbench.publish.sheets.lines import make_sheet
from workbench.publish.sheets.page import write_page
from workbench.publish.sheets.workbook import write_workbook
from workbench.quantities import SEED, InputError
from workbench.reference.whole_files import check_free, make_folder

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["write_sheets"]


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
