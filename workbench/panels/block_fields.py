"""Fields of a block as a whole and of its sessions: names, weeks, limits, lighter weeks; copy, move and leave out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from workbench.log.typed import typed_name, typed_number, typed_percent, typed_whole
from workbench.panels.fields import Choice, Field, Tick, button
from workbench.panels.frame import fields, heading, row, wide
from workbench.prescription.block import Block
from workbench.prescription.edit import Where
from workbench.quantities import InputError

__all__ = ["BlockFields", "SessionFields"]

#: Makes the change at a place; InputError where the block cannot have it.
Change = Callable[..., None]
#: Makes what a button does: work, and in the place for trouble what could not be done.
Attempt = Callable[[Callable[[], Any]], Callable[[], None]]
_DAYS: Final = (
    ("any day", None),
    *(
        (name, number)
        for number, name in enumerate(
            ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"), start=1
        )
    ),
)
_USUAL_LIGHTER: Final = {"load": 0.9, "sets": 0.6}


def _plain(value: float) -> str:
    return f"{round(value, 9):.10g}"


def _percent_of_one(value: float) -> str:
    return _plain(100 * value)


class BlockFields:
    """Name, weeks, the coach's limits, and lighter weeks.

    Attributes
    ----------
    name, weeks, chance, minutes : Field
    week : Choice
        Which week the following are about.
    lighter : Tick
    lighter_load, lighter_sets : Field
    box : ipywidgets.Box
    """

    def __init__(self, change: Change) -> None:
        self._change = change
        self._block: Block | None = None
        self.name = Field("name of the block", lambda text: typed_name(text, 120), lambda text: self._set(name=text))
        self.weeks = Field("weeks", lambda text: typed_whole(text, 1, 52), lambda number: self._set(weeks=number))
        self.chance = Field(
            "wanted chance that all reps of a set are made, %",
            lambda text: typed_percent(text, 1, 99) / 100,
            lambda value: self._limit(chance_of_reps=value),
            show=_percent_of_one,
        )
        self.minutes = Field(
            "most minutes of a session",
            lambda text: typed_number(text, 1, 300, unit="min", example="75"),
            lambda value: self._limit(session_minutes=value),
            show=_plain,
            needed=False,
            example="any",
        )
        self.week = Choice("which week is lighter", [("1", 1)], lambda _week: self._put_week())
        self.lighter = Tick("this week is lighter", self._take_lighter)
        self.lighter_load = Field(
            "its loads, % of planned",
            lambda text: typed_percent(text, 1, 100) / 100,
            lambda value: self._take_week(load=value),
            show=_percent_of_one,
        )
        self.lighter_sets = Field(
            "its sets, % of planned",
            lambda text: typed_percent(text, 1, 100) / 100,
            lambda value: self._take_week(sets=value),
            show=_percent_of_one,
        )
        of_week = [self.week, self.lighter, self.lighter_load, self.lighter_sets]
        self.box = fields(wide(self.name), self.weeks, self.chance, self.minutes, *of_week)
        self.draft = {"name": "New block", "weeks": 4}

    def put(self, block: Block | None) -> None:
        """Show a block; without one, what the first will be called."""
        before, self._block = self._block, block
        self.name.put(self.draft["name"] if block is None else block.name)
        self.weeks.put(self.draft["weeks"] if block is None else block.weeks)
        for field in (self.chance, self.minutes, self.week, self.lighter):
            field.layout.display = "none" if block is None else None
        if block is None:
            self.lighter_load.layout.display = self.lighter_sets.layout.display = "none"
            return
        self.chance.put(block.limits.chance_of_reps)
        self.minutes.put(block.limits.session_minutes)
        numbers = range(1, block.weeks + 1)
        listed = {lighter.week for lighter in block.lighter_weeks}
        stays = before is not None and before.name == block.name and self.week.value in numbers
        chosen = self.week.value if stays else min(listed & {*numbers}, default=block.weeks)
        self.week.put(chosen, [(f"{number}{' (lighter)' if number in listed else ''}", number) for number in numbers])
        self._put_week()

    def _put_week(self) -> None:
        assert self._block is not None
        week = self.week.choice.value
        found = next((lighter for lighter in self._block.lighter_weeks if lighter.week == week), None)
        self.lighter.put(found is not None)
        for field in (self.lighter_load, self.lighter_sets):
            field.layout.display = "none" if found is None else None
        if found is not None:
            self.lighter_load.put(found.load)
            self.lighter_sets.put(found.sets)

    def _set(self, **entry: Any) -> None:
        if self._block is None:
            self.draft |= entry
        else:
            self._change(Where(), of_block=entry)

    def _limit(self, **limit: Any) -> None:
        assert self._block is not None
        self._set(limits={**self._block.limits.model_dump(), **limit})

    def _take_lighter(self, ticked: bool) -> None:
        assert self._block is not None
        week = self.week.value
        if ticked:
            self._take_week(**_USUAL_LIGHTER)
        else:
            self._set(lighter_weeks=[lighter for lighter in self._block.lighter_weeks if lighter.week != week])

    def _take_week(self, **part: float) -> None:
        assert self._block is not None
        week = self.week.value
        before = next((lighter.model_dump() for lighter in self._block.lighter_weeks if lighter.week == week), {})
        self._change(Where(), lighter_week={"week": week, **_USUAL_LIGHTER, **before, **part})


class SessionFields:
    """Which session is shown, its name and day, and what can be done with it as a whole.

    Attributes
    ----------
    session : Choice
        Its value is the number of the session, from 1.
    name, day
        Of that session.
    copy_name, copy_percent, copy_reps : Field
        Name of a copy, and what moves in it: points of percent, reps.
    copy, earlier, later, leave_out : ipywidgets.Button
    box : ipywidgets.Box
    """

    def __init__(self, change: Change, attempt: Attempt, show: Callable[[], None]) -> None:
        self._change, self._show = change, show
        self._block: Block | None = None
        self.session = Choice("session", [("none yet", 1)], lambda _number: self._choose())
        self.name = Field("its name", typed_name, lambda text: self._of_session(session={"name": text}))
        self.day = Choice("its day", _DAYS, lambda day: self._of_session(session={"day": day}))
        self.copy_name = Field("name of the copy", typed_name, example="Friday, lighter")
        self.copy_percent = Field(
            "points of % more or less in the copy", lambda text: typed_number(text, -60, 60, unit="%"), show=_plain
        )
        self.copy_reps = Field("reps more or less in the copy", lambda text: typed_whole(text, -20, 20))
        self.copy_percent.put(0.0)
        self.copy_reps.put(0)
        self.copy = button("Copy this session", attempt(self._copy))
        self.earlier = button("Earlier", attempt(lambda: self._move(-1)), tooltip="move this session earlier")
        self.later = button("Later", attempt(lambda: self._move(1)), tooltip="move this session later")
        self.leave_out = button("Leave this session out", attempt(self._leave_out))
        copying = [self.copy_name, self.copy_percent, self.copy_reps]
        buttons = wide(row(self.earlier, self.later, self.leave_out))
        self.box = fields(wide(self.name), self.day, buttons, heading("Copy it"), *copying, self.copy)

    @property
    def number(self) -> int:
        """Number of the session that is shown, from 1."""
        return int(self.session.choice.value)

    def put(self, block: Block | None, number: int | None = None) -> None:
        """Show the sessions of a block, and one of them."""
        self._block = block
        self.box.layout.display = "none" if block is None else None
        if block is None:
            self.session.put(1, [("none yet", 1)])
            return
        wanted = min(self.number if number is None else number, len(block.sessions))
        self.session.put(wanted, [(f"{at}. {one.name}", at) for at, one in enumerate(block.sessions, start=1)])
        self._put_session()

    def _put_session(self) -> None:
        assert self._block is not None
        chosen = self._block.sessions[self.number - 1]
        self.name.put(chosen.name)
        self.day.put(chosen.day)

    def _choose(self) -> None:
        if self._block is not None:
            self._put_session()
            self._show()

    def _of_session(self, **what: Any) -> None:
        self._change(Where(self.number), **what)

    def _copy(self) -> None:
        assert self._block is not None
        if self.copy_name.value is None:
            raise InputError(None, "name of the copy", "is blank", "type a name that no session has")
        entry = {"name": self.copy_name.value, "percent_change": self.copy_percent.value or 0.0}
        self._of_session(copy_session={**entry, "reps_change": self.copy_reps.value or 0})
        self.copy_name.put(None)
        self.put(self._block, len(self._block.sessions))
        self._show()

    def _move(self, by: int) -> None:
        assert self._block is not None
        place = self.number + by
        if not 1 <= place <= len(self._block.sessions):
            raise InputError(None, "session", f"is the {'first' if by < 0 else 'last'} already", "move another one")
        self._of_session(session_to=place)
        self.put(self._block, place)
        self._show()

    def _leave_out(self) -> None:
        self._of_session(leave_out_session=True)
