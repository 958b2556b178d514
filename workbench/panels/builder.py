"""Build a block: weeks and sessions, exercises and sets, with the forecast of every edit beside it."""

from __future__ import annotations

from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any, ClassVar

import ipywidgets as widgets

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.exchange import exchange_question, left_out
from workbench.answers.start_loads import StartLoads, start_loads
from workbench.figures.block_map import block_map
from workbench.panels.block_fields import BlockFields, SessionFields
from workbench.panels.builder_forecast import caution_lines, muscle_table, plates_table, week_grid
from workbench.panels.controls import BlockFiles
from workbench.panels.desk import Desk
from workbench.panels.editor import Editor
from workbench.panels.exercise_fields import USUAL_GROUP, ExerciseFields
from workbench.panels.fields import button
from workbench.panels.find_exercise import ExerciseFinder
from workbench.panels.frame import live, refresh, row, table_box, wide
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.present.words import in_words, mass_in, percent_said
from workbench.quantities import SEED, InputError
from workbench.reference.toml_files import validate

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["BlockBuilder"]

#: The sections of its fields.
BLOCK, SESSION, EXERCISES, FIND = "Block", "Session", "Exercises and sets", "Add an exercise"

#: What a load in the log says first: how hard a replaced fixed load is to be, reps in reserve.
_INSTEAD_OF_FIXED = 3.0


class BlockBuilder(Editor[Block]):
    """Builds a block from nothing or changes one; the forecast follows every edit.

    Parameters
    ----------
    block : Block, optional
        To go on with; without one the first exercise begins the first session.

    Attributes
    ----------
    files : BlockFiles
        Who trains, where, and a block to open.
    block, sessions, exercises : BlockFields, SessionFields, ExerciseFields
    finder : ExerciseFinder
    add, begin : ipywidgets.Button
        Put the exercise that was found into the session; begin a new session with it.
    exchange_all : ipywidgets.Button
        Exchanges all that the room has nothing for, or that the lifter should not do.
    check : BlockCheck or None
        The forecast; None where there is none.
    start : StartLoads or None
        Where the loads of exercises without a 1RM come from.
    """

    kept: ClassVar[tuple[str, ...]] = ("check", "start")
    check: BlockCheck | None
    start: StartLoads | None

    def __init__(
        self, block: Block | None = None, *, desk: Desk | None = None, seed: int = SEED, draws: int = 2000
    ) -> None:
        super().__init__(block, seed=seed, draws=draws)
        self._lifter: Lifter | None = None
        self._room: Room | None = None
        self._last: BlockCheck | None = None
        self._before: BlockCheck | None = None
        self.files = BlockFiles(desk)
        self.block = BlockFields(self.change)
        self.sessions = SessionFields(self.change, self.attempt, self._show_session)
        self.exercises = ExerciseFields(self.change, self.attempt, self._show_group, self._find_exchange)
        self.add = button("Add to this session", self.attempt(self._add))
        self.begin = button("Begin a new session with it", self.attempt(self._begin))
        self.finder = ExerciseFinder(self.add, self.begin)
        self.open_file = button("Open this block", self.attempt(lambda: self.open(self.files.block.read())))
        self.new = button("New block", lambda: self.open(None), tooltip="begin a new block from nothing")
        self.exchange_all = button("Exchange what cannot or should not be done", self.attempt(self._exchange_all))
        self.exchange_all.layout.align_self = "flex-start"
        self.grid, self.plates, self.muscles = table_box(), table_box(), table_box()
        for place in (self.grid, self.plates):
            place.add_class("workbench-wraps")
        self.cautions, self.map = wide(widgets.HTML()), live()
        self.arrange_sections(
            {
                BLOCK: [*self.files.files, row(self.open_file, self.new), self.block.box],
                SESSION: [self.sessions.session, self.sessions.box],
                EXERCISES: [self.sessions.session, self.exercises.box],
                FIND: [self.finder],
            },
            [self.exchange_all, self.grid, self.plates, self.map, self.muscles],
            below=[self.cautions],
        )
        self.step(self._read, self.files.lifter, self.files.room, prepares=True)
        self.step(self._forecast, after=self._read)
        self.step(self._draw_session, after=self._forecast)
        self.step(self._say, after=self._forecast, later=True)
        self.step(self._forecast_group, after=self._draw_session, later=True)
        self.step(self._forecast_rest, after=self._forecast, later=True)
        self.fill()
        self.take_steps(at_once=True)

    def lacking(self) -> str:
        """Say what begins a block."""
        return f"find an exercise under {FIND}, and begin the first session with it"

    @property
    def planned(self) -> Block:
        """The block; InputError where nothing is planned yet."""
        if self.value is None:
            raise InputError(None, "block", "nothing is planned yet", self.lacking())
        return self.value

    @property
    def who_and_where(self) -> tuple[Lifter, Room]:
        """Who trains and where; InputError where a file could not be read."""
        if self._lifter is None or self._room is None:
            raise InputError(None, "lifter and room", "are not both there", "choose them above")
        return self._lifter, self._room

    def change(self, where: Where, **what: Any) -> None:
        """Change the block at a place, as `workbench.prescription.edit.change` does, and forecast it anew."""
        catalogue = None if self._room is None else self._room.catalogue
        self.edit(change(self.planned, where, exercises=catalogue, **what))

    def fill(self) -> None:
        """Show the block in the fields, and forecast it."""
        block = self.value
        if block is not None and self.check is None:
            self.answer.value = "Working the block out …"
        self.block.put(block)
        self.sessions.put(block)
        self._put_session()
        self.again(self._forecast)

    def _put_session(self) -> None:
        block = self.value
        session = None if block is None else block.expanded_sessions()[self.sessions.number - 1]
        weeks = 1 if block is None else block.weeks
        self.exercises.put(session, self.sessions.number, weeks=weeks, room=self._room)

    def _show_session(self) -> None:
        self._put_session()
        self.again(self._draw_session)

    def _show_group(self) -> None:
        self.again(self._forecast_group)

    # The steps to the forecast.

    def _read(self) -> None:
        self._room = self.files.room.read()
        self._lifter = self.files.lifter.read()
        self.finder.look_in(self._room, self._lifter)
        self._put_session()

    def _forecast(self) -> None:
        self.exchange_all.layout.display = "none"
        if self.value is None:
            self.blank(f"Nothing is planned yet: {self.lacking()}.")
            return
        self.exchange_all.layout.display = None if self._to_exchange() else "none"
        self.start = start_loads(self.planned, *self.who_and_where)
        self._before, self.check = self._last, self._checked(self.start)
        self._last = self.check or self._last

    def _say(self) -> None:
        if self.start is None:
            return
        lines = [*self._lines(self.start), *_before_said(self._before, self.check)]
        notes = self.start.notes if self.check is None else (*self.start.notes_to_find, *self.check.notes)
        self.put(self.answer, [*lines, *(f"Note: {note}." for note in notes)])
        if self.check is None:
            for place in (self.grid, self.plates, self.muscles):
                place.value = ""
            return
        self.put(self.grid, week_grid(self.check))

    def _checked(self, start: StartLoads) -> BlockCheck | None:
        if start.block is None:
            return None
        before, (_, room) = self._last, self.who_and_where
        if before is not None and before.plan.lifter == start.lifter and before.plan.room is room:
            return before.changed(start.block)
        return check_block(start.block, start.lifter, room, draws=self.draws, seed=self.seed)

    def _lines(self, start: StartLoads) -> list[str]:
        if self.check is None:
            return ["No forecast yet: the loads of this block are still to be found.", *start.sentences()]
        headline, *where = self.check.sentences()[:2]
        return [headline, *where, *(start.sentences() if start.to_find else [])]

    def _forecast_group(self) -> None:
        """Show the plates of every week of the chosen set group."""
        if self.check is None or self.start is None or self.exercises.place.value is None:
            return
        where = self.start.forecast_place(self.exercises.where)
        if where is None:
            self.plates.value = "No forecast for this exercise: its load is still to be found, as said above."
            return
        self.put(self.plates, plates_table(self.check, where))
        sets = self.check.sets
        at = (sets["session_number"] == where.session) & (sets["slot"] == where.exercise)
        first = sets[at & (sets["group"] == where.group)].iloc[0]
        added = max(float(first["load_kg"] - first["body_kg"]), 0.5) / int(first["hands"])
        now = {
            "percent": round(float(first["percent"]), 1),
            "kg": round(added, 2),
            "lb": round(mass_in(added, "lb"), 1),
        }
        self.exercises.know(now)

    def _draw_session(self) -> None:
        if self.check is None:
            return
        name = self.planned.sessions[self.sessions.number - 1].name
        sets = self.check.sets[self.check.sets["session"] == name]
        title, wanted = f"Will every rep be made? {escape(name)}", self.check.plan.block.limits.chance_of_reps
        refresh(self.map, block_map(sets, title=title, wanted=wanted) if len(sets) else None)

    def _forecast_rest(self) -> None:
        if self.check is None:
            return
        self.put(self.muscles, muscle_table(self.check))
        self.put(self.cautions, caution_lines(self.check))

    # What the buttons do.

    def _found(self) -> str:
        if self.finder.chosen is None:
            raise InputError(None, "exercise", "none is chosen", "find one first")
        return self.finder.chosen

    def _add(self) -> None:
        slot = {"exercise": self._found(), "sets": [USUAL_GROUP]}
        if self.value is None:
            self._begin()
            return
        self.change(Where(self.sessions.number), add=slot)
        self.exercises.place.index = len(self.exercises.place.options) - 1
        self._turn_to_sets()

    def _turn_to_sets(self) -> None:
        """Show the sets of the exercise, and let the keyboard go on there."""
        self.section.value = EXERCISES
        self.exercises.group.way.choice.focus()

    def _begin(self) -> None:
        """Begin a session with the exercise that was found."""
        taken = [] if self.value is None else [session.name for session in self.value.sessions]
        name = next(name for at in range(1, 99) if (name := f"session {at}") not in taken)
        session = {"name": name, "exercises": [{"exercise": self._found(), "sets": [USUAL_GROUP]}]}
        if self.value is None:
            self.edit(validate({**self.block.draft, "sessions": [session]}, Block))
        else:
            self.change(Where(), add_session=session)
            self.sessions.put(self.value, len(self.value.sessions))
            self._show_session()
        self._turn_to_sets()

    def _find_exchange(self) -> None:
        name = self.exercises.slot.exercise
        answer = exchange_question(*self.who_and_where, name, most=5)
        buttons = [
            button(
                f"{found['exercise']} (keeps {percent_said(found['shared'])} of the muscles)",
                self.attempt(partial(self._exchange, str(found["exercise"]))),
                tooltip=found["limit"] or f"do {found['exercise']} in place of {name}",
            )
            for found in answer.table.to_dict("records")
        ]
        self.exercises.offer(buttons, " ".join([*answer.sentences(), *answer.notes]))

    def _exchange(self, instead: str) -> None:
        where = self.exercises.where
        if self.exercises.everywhere.value:
            self.edit(self._exchanged(self.planned, self._slots_of(self.exercises.slot.exercise), instead))
        else:
            self.edit(self._exchanged(self.planned, [Where(where.session, where.exercise)], instead))

    def _exchanged(self, block: Block, places: list[Where], instead: str) -> Block:
        """Put an exercise in the place of others; loads that were fixed for those become reps in reserve."""
        fixed = {"kg": None, "lb": None, "each_hand": None, "progression": None, "reps_in_reserve": _INSTEAD_OF_FIXED}
        for where in places:
            slot = block.expanded_sessions()[int(where.session or 1) - 1].exercises[int(where.exercise or 1) - 1]
            for at, group in enumerate(slot.sets, start=1):
                if group.way in ("kg", "lb"):
                    reps = {"reps": group.reps_in_week_one} if group.to_failure else {}
                    block = change(block, Where(where.session, where.exercise, at), set_group={**fixed, **reps})
            block = change(block, where, exercises=self.who_and_where[1].catalogue, exchange=instead)
        return block

    def _slots_of(self, name: str) -> list[Where]:
        """Return every place in which an exercise is done, under any of its names."""
        catalogue = self.who_and_where[1].catalogue
        return [
            Where(number, place)
            for number, session in enumerate(self.planned.expanded_sessions(), start=1)
            for place, slot in enumerate(session.exercises, start=1)
            if catalogue.exercise(slot.exercise).name == catalogue.exercise(name).name
        ]

    def _to_exchange(self) -> list[str]:
        """Return what the room has nothing for, and what the lifter should not do."""
        lifter, room = self.who_and_where
        slots = [slot for session in self.planned.expanded_sessions() for slot in session.exercises]
        exercises = dict.fromkeys(room.catalogue.exercise(slot.exercise) for slot in slots)
        not_here = [one.name for one in exercises if not room.can_load(one)]
        return [*dict.fromkeys([*not_here, *(name for name, _ in left_out(lifter, exercises))])]

    def _exchange_all(self) -> None:
        """Put the best exchange in the place of all that cannot or should not be done; one edit, one undo."""
        block, without = self.planned, []
        for name in self._to_exchange():
            table = exchange_question(*self.who_and_where, name, most=1).table
            if table.empty:
                without.append(name)
            else:
                block = self._exchanged(block, self._slots_of(name), str(table["exercise"].iloc[0]))
        self.edit(block)
        if without:
            raise InputError(None, ", ".join(without), "nothing here can stand for it", "leave it out")


def _before_said(before: BlockCheck | None, check: BlockCheck | None) -> list[str]:
    """Say what the block came to before the last edit, for the same lifter, where reps must be made in both."""
    if before is None or check is None or before.plan.lifter != check.plan.lifter:
        return []
    then, now = before.plan.block, check.plan.block
    chance = in_words(before.chance_of_block)
    if then == now or then.name != now.name or not chance or not in_words(check.chance_of_block):
        return []
    missed = before.sets["missed"].sum()
    return [f"Before the last edit: about {missed:.0f} reps missed, none with a chance of {chance}."]
