"""Which gym's folder the next start opens: the one opened last on the start page, kept in the home folder."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from workbench.reference.copies import read_texts, write_texts
from workbench.reference.gym_folder import OWN_FOLDER
from workbench.reference.whole_files import make_folder

__all__ = ["GONE_REMEDY", "keep_last_gym", "last_gym"]

#: What to do where it is gone.
GONE_REMEDY: Final = (
    "It was moved or renamed, or is on a drive that is not connected. Connect that and start again, or open it at its "
    "new place on the start page; to go on in this folder from now on, open this one there."
)


def last_gym() -> Path | None:
    """Return the folder that was opened last, there still or not; None where none was, or that is lost."""
    path = read_texts(_state()).get("gym")
    return Path(path) if path else None


def keep_last_gym(path: Path) -> None:
    """Keep a folder for the next start; InputError where the home folder cannot be written."""
    make_folder(_state().parent)
    write_texts(_state(), {"gym": str(path.resolve())})


def _state() -> Path:
    # WORKBENCH_HOME stands for the home folder, as tests and several people at one account need.
    return Path(os.environ.get("WORKBENCH_HOME") or Path.home()) / OWN_FOLDER / "gym.json"
