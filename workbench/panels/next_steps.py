"""What a coach could do next with a gym: what is missing, what cannot be used, what came back, what was handed out."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar

from workbench.answers.start_loads import start_loads
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.log import read_log
from workbench.log.session_log import log_of, session_under_way
from workbench.prescription.block import Block, read_block
from workbench.publish.commit import list_committed, read_committed
from workbench.publish.commit.contents import read_manifest
from workbench.quantities import InputError

if TYPE_CHECKING:
    from workbench.log import LogReading
    from workbench.panels.desk import Desk

__all__ = ["NextStep", "committed_week", "next_steps"]

#: Of each kind of file: the page that makes it, and what is said where there is none.
_NONE_YET: Final = {
    "lifters": ("lifter", "Nobody trains here yet: enter a lifter."),
    "rooms": ("room", "There is no room yet: enter what there is to lift with."),
    "blocks": ("block", "There is no block yet: say what is to be done, week by week."),
}
_NAMES_SAID: Final = 4


class NextStep(NamedTuple):
    """A sentence, and the key of the page where it is done."""

    sentence: str
    page: str


def next_steps(desk: Desk) -> list[NextStep]:
    """Return what comes next for the lifter, room and block that are open, the most pressing first."""
    steps = [NextStep(said, page) for kind, (page, said) in _NONE_YET.items() if not desk.gym.files(kind)]
    unusable: list[NextStep] = []
    lifter = _read(desk, "lifters", read_lifter, unusable)
    room = _read(desk, "rooms", read_room, unusable)
    block = _read(desk, "blocks", read_block, unusable)
    going_on = None
    if lifter is not None and block is not None:
        with suppress(InputError):
            going_on = log_of(desk.gym, lifter.name, block.name)
            if session := session_under_way(going_on, lifter.name, block.name):
                steps.append(NextStep(f"{session.title} of {lifter.name} is under way: go on with it.", "today"))
            else:
                going_on = None
    came_back = [path for path in desk.not_looked_at() if path != going_on]
    named = sorted(came_back, key=lambda path: path.stat().st_mtime)[-_NAMES_SAID:]  # only these are read
    steps += [
        NextStep(f"{_weeks_in(desk, path)} came back: see what it taught.", "learn")
        for path in came_back
        if path in named
    ]
    if more := len(came_back) - len(named):
        said = "log that nobody has looked at is" if more == 1 else "logs that nobody has looked at are"
        steps.append(NextStep(f"{more} older {said} there too.", "learn"))
    steps += unusable
    if block is not None:
        sessions = block.expanded_sessions()
        names = list(dict.fromkeys(slot.exercise for session in sessions for slot in session.exercises))
        if lifter is not None and (unknown := _to_find(block, lifter, room, names)):
            said = f"No 1RM for {_listed(unknown)} of {lifter.name}: enter it, or any set remembered."
            steps.append(NextStep(said, "lifter"))
        if room is not None and (lacking := [name for name in names if _refused(_loads_of(room), name)]):
            said = f"{room.name} has nothing to load {_listed(lacking)} with: exchange it, or add what is there."
            steps.append(NextStep(said, "session"))
        committed = [path for path in list_committed(desk.gym.path / "committed") if _block_in(path) == block.name]
        if not committed:
            steps.append(NextStep(f"{block.name} is not committed yet: check it, then commit it.", "check"))
        elif lifter is not None and _has_learned_since(lifter, committed[-1]):
            said = f"{lifter.name} has new numbers since {block.name} was committed: commit it again for new sheets."
            steps.append(NextStep(said, "commit"))
        elif not desk.is_handed_out(committed[-1]):
            steps.append(NextStep(f"{block.name} is committed, its sheets are not handed out.", "commit"))
        elif going_on is None:
            steps += [
                NextStep(f"{block.name} is handed out: log its sets at the rack, one by one.", "today"),
                NextStep(f"Filled sheets of {block.name}: read them in, and plan the week after.", "learn"),
            ]
    return steps


Held = TypeVar("Held", Lifter, Room, Block)


def _read(desk: Desk, kind: str, read: Callable[[Path], Held], steps: list[NextStep]) -> Held | None:
    """Return what the open file of a kind holds; None where it cannot be used, which is a next step of its own."""
    path = desk.chosen(kind)
    if path is None:
        return None
    try:
        return read(path)
    except InputError as error:
        steps.append(NextStep(f"This cannot be used: {error}.", _NONE_YET[kind][0]))
        return None


def _to_find(block: Block, lifter: Lifter, room: Room | None, names: list[str]) -> list[str]:
    """Return the exercises of which neither a 1RM nor a ratio to another lift is known."""
    if room is not None:
        with suppress(InputError):  # what the room cannot load is said by itself
            return list(start_loads(block, lifter, room).to_find)
    return [name for name in names if _refused(lifter.lift, name)]


def _refused(asked: Callable[[str], object], name: str) -> bool:
    try:
        asked(name)
    except InputError:
        return True
    return False


def _loads_of(room: Room) -> Callable[[str], object]:
    return lambda name: room.loads_for(room.catalogue.exercise(name))


def _listed(names: list[str]) -> str:
    more = len(names) - _NAMES_SAID
    return ", ".join(names[:_NAMES_SAID]) + (f" and {more} more" if more > 0 else "")


def _block_in(committed: Path) -> str:
    try:
        return str(read_manifest(committed)["block"])
    except InputError:
        return ""


def _has_learned_since(lifter: Lifter, committed: Path) -> bool:
    """Whether what is known of the lifts is no longer what the sheets were made with."""
    try:
        then = [one for one in read_committed(committed).lifters if one.name == lifter.name]
    except InputError:
        return False
    return bool(then) and then[0].lifts != lifter.lifts


def _weeks_in(desk: Desk, log: Path) -> str:
    """Say a log by the last week that it holds of a committed block, where its dates tell; else by its name."""
    try:
        found = committed_week(desk, read_log(log))
    except InputError:
        return log.name
    return log.name if found is None else f"Week {found[0]} of {found[1]} ({log.name})"


def committed_week(desk: Desk, log: LogReading) -> tuple[int, str] | None:
    """Return the last week that a log holds of a committed block, and the block's name; None where no date tells."""
    days = [datetime.date.fromisoformat(str(day)[:10]) for day in log.so_far["date"].dropna()]
    if not days:
        return None
    for path in reversed(list_committed(desk.gym.path / "committed")):
        with suppress(InputError):
            manifest = read_manifest(path)
            week = (max(days) - datetime.date.fromisoformat(manifest["start"] or "9999-01-01")).days // 7 + 1
            if week >= 1:
                return week, str(manifest["block"])
    return None
