"""Does the block suit the whole team? Who misses what, and the smallest change that would mend it, lifter by lifter.

Lifters are worked through in blocks, each leaving one row behind, so memory does not grow with the roster. Each has
random digits of their own, from the seed and the name: neither the order of the roster, nor how it is cut into
blocks, nor how many workers share them changes any digit.
"""

from __future__ import annotations

import functools
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.block_check import check_block
from workbench.answers.mend import mends
from workbench.answers.start_loads import lifter_for
from workbench.answers.workers import Progress, work_through
from workbench.gym.catalogue import Catalogue, OwnFiles
from workbench.gym.equipment import Room
from workbench.lifter import Lifter, read_lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import percent_said
from workbench.quantities import SEED, InputError
from workbench.simulate.fused import load_soon

__all__ = ["COLUMNS", "Team", "read_roster", "team_check"]

#: A lifter of whom nothing is known: the columns of `Team.table` beside the name.
_NOTHING: Final[dict[str, Any]] = {
    "chance_of_block": float("nan"),
    "missed_reps": float("nan"),
    "lowest_chance": float("nan"),
    "groups_below": 0,
    "first_break": "",
    "break_week": 0,
    "mend": "",
    "minutes": float("nan"),
    "notes": (),
    "problem": "",
}
#: Columns of `Team.table`.
COLUMNS: Final = ("lifter", *_NOTHING)
#: Lifters worked through together; small enough that a lost worker loses little.
BLOCK_SIZE: Final = 25


@dataclass(frozen=True, repr=False)
class Team(Answer):
    """The answer for a roster.

    Attributes
    ----------
    table : DataFrame
        One row a lifter, in the order of the roster: lifter; chance_of_block [1] (that all reps of the block are
        made); missed_reps [reps] (expected, of the whole block); lowest_chance [1] (of the least likely set);
        groups_below (set groups with a set under the limit); first_break, break_week (the first of these sets, empty
        and 0 where there is none); mend (what would mend its group in every week and keeps most of the training, or
        why nothing small does; empty where none breaks); minutes [min] (of the longest session); notes (a tuple, as
        `workbench.answers.block_check.BlockCheck.notes` has them for this lifter); problem (why there is no answer for
        this lifter, else empty).
    limit : float, [1]
        Lowest accepted chance of a set.
    finished : bool
        False where the run was stopped; lifters not reached are then missing from the table.
    """

    table: pd.DataFrame
    limit: float
    finished: bool

    @property
    def notes(self) -> tuple[str, ...]:
        """Every note with the lifters whom it concerns, and those without an answer."""
        problems = self.table[self.table["problem"] != ""].to_dict("records")
        return (*self.note_lines(), *(f"{row['lifter']}: no answer: {row['problem']}" for row in problems))

    def sentences(self) -> list[str]:
        """Say how many fall short, and the first set of each."""
        short = self.falling_short()
        lines = [f"{len(short)} of {len(self.table)} fall short of a {percent_said(self.limit)} chance in some set."]
        lines += [f"{row['lifter']}: {row['first_break']}." for row in short.to_dict("records")]
        return lines if self.finished else [*lines, "Stopped before the end."]

    def shared_notes(self) -> list[tuple[str, tuple[str, ...]]]:
        """Return every note once, with the lifters whom it concerns in the order of the roster."""
        found: dict[str, list[str]] = {}
        for row in self.table.to_dict("records"):
            for note in row["notes"]:
                found.setdefault(note, []).append(row["lifter"])
        return [(note, tuple(names)) for note, names in found.items()]

    def note_lines(self) -> list[str]:
        """Return the notes as sentences, a line each."""
        answered = int((self.table["problem"] == "").sum())
        return [
            f"{'All lifters' if len(names) == answered > 1 else ', '.join(names)}: {note}."
            for note, names in self.shared_notes()
        ]

    def falling_short(self) -> pd.DataFrame:
        """Lifters with a set under the limit, the least likely first."""
        rows = self.table[self.table["lowest_chance"] < self.limit]
        return rows.sort_values("lowest_chance", kind="stable", ignore_index=True)


@dataclass(frozen=True)
class _Task:
    """What every lifter of a run has in common."""

    block: Block
    room: Room
    draws: int
    seed: int
    limit: float
    mend: bool
    form: FatigueForm
    curve: Curve


def read_roster(
    path: str | Path, exercises: Catalogue | OwnFiles | None = None, *, gym_numbers: bool = True
) -> list[Lifter]:
    """Read all lifter files (TOML) of a folder, in the order of their names; the others as for `read_lifter`.

    Raises
    ------
    InputError
        No folder, no files in it, or a file that cannot be used.
    """
    folder = Path(path)
    if not os.path.isdir(folder):  # noqa: PTH112 - false for what can be no name of a folder too
        raise InputError(folder, "", "is no folder", "give the folder that holds the lifter files")
    files = sorted(folder.glob("*.toml"))
    if not files:
        raise InputError(folder, "", "holds no lifter files", "put one .toml file a lifter there")
    return [read_lifter(file, exercises, gym_numbers=gym_numbers) for file in files]


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def team_check(
    block: Block,
    roster: Sequence[Lifter],
    room: Room,
    *,
    draws: int = 2000,
    seed: int = SEED,
    limit: float | None = None,
    mend: bool = True,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    block_size: int = BLOCK_SIZE,
    cluster: str | None = None,
    workers: int = 2,
    progress: Progress | None = None,
) -> Team:
    """Check a block for every lifter of a roster.

    Parameters
    ----------
    block : Block
    roster : sequence of Lifter
        Names all different.
    room : Room
    draws : int, [1], 10 to 100,000
        Simulated runs of each lifter.
    seed : int, [1], >= 0
        The same seed gives the same digits: those of `workbench.answers.block_check.check_block` for each lifter.
    limit : float, [1], 0 to 1
        Lowest accepted chance that a set's reps are all made; the block's own where not given.
    mend : bool
        Look for the smallest changes too, which takes several times as long.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.
    block_size : int, [1], >= 1
        Lifters worked through together.
    cluster : str, optional
        None works in this process; "local" starts workers on this computer; an address such as
        "tcp://10.0.0.5:8786" uses the scheduler there. The last two need
        ``pip install "program-research-workbench[cluster]"``.
    workers : int, [1], >= 1
        How many, for "local".
    progress : callable, optional
        Called with lifters done and lifters in all; returning False stops the run.

    Returns
    -------
    Team
        For every lifter the chance [1], the first set that falls short, and what would mend it.

    Raises
    ------
    InputError
        Empty roster, two lifters of one name, a cluster that cannot be reached or is not installed.

    Notes
    -----
    Numbers from ``data/parameters.csv`` and ``data/fitted/``, each with its source key and grade; the equations and
    their sources stand with the form (`workbench.models.fatigue`) and the curve (`workbench.models.load_reps`).
    """
    names = [one.name for one in roster]
    if not names:
        raise InputError(None, "roster", "is empty", "give at least one lifter")
    twice = next((name for number, name in enumerate(names) if name in names[:number]), None)
    if twice is not None:
        raise InputError(None, "roster", f"two lifters are named {twice!r}", "give each a name of their own")
    if block_size < 1:
        raise InputError(None, "block_size", f"{block_size} is no size", "use 1 or more")
    accepted = block.limits.chance_of_reps if limit is None else limit
    task = _Task(block, room, draws, seed, accepted, mend, form, curve)
    work = functools.partial(_rows, task)
    rows = list(work_through(work, roster, block_size, cluster=cluster, workers=workers, progress=progress))
    return Team(pd.DataFrame(rows, columns=list(COLUMNS)), accepted, len(rows) == len(names))


def _rows(task: _Task, lifters: Sequence[Lifter]) -> list[dict[str, Any]]:
    if len(lifters) > 1:
        load_soon()
    return [_row(task, one) for one in lifters]


def _row(task: _Task, lifter: Lifter) -> dict[str, Any]:
    row = {"lifter": lifter.name, **_NOTHING}
    settings: dict[str, Any] = {"draws": task.draws, "limit": task.limit, "form": task.form, "curve": task.curve}
    try:
        ready = lifter_for(lifter, task.room, task.block)
        check = check_block(task.block, ready, task.room, seed=task.seed, **settings)
    except InputError as error:
        return {**row, "problem": str(error)}
    below = check.sets[check.sets["chance"] < task.limit]
    row["chance_of_block"] = check.chance_of_block
    row["missed_reps"] = float(check.sets["missed"].sum())
    row["lowest_chance"] = float(check.sets["chance"].min())
    row["groups_below"] = len(below[["session_number", "slot", "group", "drop"]].drop_duplicates())
    row["minutes"] = max(float(np.max(session.duration_s)) for session in check.plan.sessions) / 60.0
    row["notes"] = check.notes
    if check.first_break is not None:
        row["first_break"], row["break_week"] = check.first_break.below(task.limit), check.first_break.week
    if task.mend:
        row["mend"] = mends(check, draws=task.draws, seed=task.seed, test=False).short
    return row
