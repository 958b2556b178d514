"""Who trains today and tomorrow: by the days of committed blocks, with the session that each has open at the rack."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, NamedTuple

from workbench.log.session_log import latest_session, log_of, session_under_way
from workbench.prescription.block import Block, read_block
from workbench.publish.commit.contents import read_manifest
from workbench.publish.commit.record import list_committed
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder

__all__ = ["TrainingDay", "training_days"]

#: Today and tomorrow.
_DAYS: Final = 2


class TrainingDay(NamedTuple):
    """One lifter's session of today or tomorrow.

    Attributes
    ----------
    day : datetime.date
    lifter, block, session : str
    week : int, from 1
        Of the block.
    is_open : bool
        Whether it was begun at the rack and is not long over.
    last : datetime.date or None
        When the lifter's last set of any committed block was typed at the rack; None where none was.
    """

    day: datetime.date
    lifter: str
    block: str
    week: int
    session: str
    is_open: bool
    last: datetime.date | None


def training_days(gym: GymFolder, now: datetime.datetime) -> list[TrainingDay]:
    """Return who trains today and tomorrow, by day and lifter.

    Looked at is the newest revision of each committed block that has a first Monday and sessions with days. A session
    that a lifter has open stands for what the block has today. What cannot be read is left out: its own page says so.

    Parameters
    ----------
    gym : GymFolder
    now : datetime.datetime
        The clock of the place.
    """
    found: list[TrainingDay] = []
    last: dict[str, datetime.date] = {}
    for block, start, lifters in _dated_blocks(gym):
        planned = list(_planned(block, start, now.date()))
        for lifter in lifters:
            here, is_open = planned, False
            with suppress(InputError):
                log = log_of(gym, lifter, block.name)
                if typed := latest_session(log, lifter, block.name):
                    last[lifter] = max(typed[1].date(), last.get(lifter, typed[1].date()))
                    is_open = session_under_way(log, lifter, block.name, now) is not None
                if typed and is_open:
                    begun = (now.date(), typed[0].week, typed[0].title)
                    here = [begun, *(one for one in planned if one[0] != now.date())]
            for day, week, session in here:
                under_way = is_open and day == now.date()
                found.append(TrainingDay(day, lifter, block.name, week, session, under_way, None))
    found.sort(key=lambda one: one[:3])
    return [one._replace(last=last.get(one.lifter)) for one in found]


def _dated_blocks(gym: GymFolder) -> Iterator[tuple[Block, datetime.date, list[str]]]:
    """Yield the newest revision of each committed block, its first Monday and its lifters' names."""
    newest: dict[str, tuple[Path, dict[str, Any]]] = {}
    for path in list_committed(gym.path / "committed"):
        with suppress(InputError):
            manifest = read_manifest(path)
            newest[manifest["block"]] = path, manifest
    for path, manifest in newest.values():
        with suppress(InputError):
            if manifest["start"] is not None:
                start = datetime.date.fromisoformat(manifest["start"])
                yield read_block(path / "block.toml"), start, [one["name"] for one in manifest["lifters"]]


def _planned(block: Block, start: datetime.date, today: datetime.date) -> Iterator[tuple[datetime.date, int, str]]:
    """Yield the days from today on that have a session, with its week, from 1, and its name."""
    for ahead in range(_DAYS):
        week, weekday = divmod((today - start).days + ahead, 7)
        for session in block.expanded_sessions() if 0 <= week < block.weeks else ():
            if session.day == weekday + 1:
                yield today + datetime.timedelta(days=ahead), week + 1, session.name
