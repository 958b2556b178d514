"""Panel of the question what a log taught: how it was understood, the curve, surprises, next week, the next test."""

from __future__ import annotations

import tempfile
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets
import plotly.graph_objects as go

from workbench.answers.learned import fresh_sets, learned_curve
from workbench.answers.next_test import NextTest, suggest_test
from workbench.answers.next_week import NextWeek, next_week
from workbench.answers.surprises import Surprises, find_surprises
from workbench.figures.learned import before_and_after, one_rm_through_time
from workbench.fit import fit_log
from workbench.log import read_log, rows_of
from workbench.panels.files import FilePicker, block_picker, demo_folder, lifter_picker, room_picker
from workbench.panels.frame import Panel, control_style, heading, table_box
from workbench.panels.log_answers import LogAnswers
from workbench.panels.log_tables import (
    answer_lines,
    learned_table,
    question_lines,
    reading_lines,
    test_table,
    week_table,
)
from workbench.panels.numbers import whole_number
from workbench.panels.redraw import Redraw, live, refresh
from workbench.present.tables import plain_text
from workbench.quantities import SEED, InputError
from workbench.reference.whole_files import write_whole

if TYPE_CHECKING:
    from workbench.fit import Learned
    from workbench.gym.equipment.loads import Unit
    from workbench.log import LogReading

__all__ = ["LogPanel"]

_NOTE = "Bands: middle 80 %, from what is not known of the lifter; days and single sets scatter about them."


class LogPanel(Panel):
    """Choose or upload a log, see what was understood and what it taught.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits.
    draws : int
        Simulated lifters and days.
    log, lifter : str
        Names, without ending, of the demonstration files to start with.

    Attributes
    ----------
    log, lifter, block, room : FilePicker
    upload : ipywidgets.FileUpload
    answers : LogAnswers
        What the log leaves open. Another log takes all answers back, another lifter takes back whose rows they are.
    exercise : ipywidgets.Dropdown
    week : NumberControl
        First week of the block still to come.
    reading, learned, surprises, test, coming : LogReading, Learned, Surprises, NextTest, NextWeek or None
        The last answers.
    """

    def __init__(
        self,
        *,
        seed: int = SEED,
        draws: int = 1000,
        log: str = "emre_sandoval_weeks_1_2",
        lifter: str = "emre_sandoval",
    ) -> None:
        self.seed, self.draws = seed, draws
        logs = sorted(path for path in (demo_folder() / "logs").glob("*") if path.suffix in (".csv", ".xlsx"))
        self.answers = LogAnswers()
        self.log = FilePicker("log", logs, self._read, log)
        self.upload = widgets.FileUpload(accept=".csv,.txt,.tsv,.xlsx", multiple=False, description="upload a log")
        self.lifter, self.block, self.room = lifter_picker(lifter), block_picker(), room_picker()
        self.exercise = widgets.Dropdown(description="exercise", **control_style())
        self.week = whole_number(value=3, min=1, max=52, description="next week")
        self.reading: LogReading | None = None
        self.learned: Learned | None = None
        self.surprises: Surprises | None = None
        self.test: NextTest | None = None
        self.coming: NextWeek | None = None
        self._uploaded: Path | None = None
        self.answer, self.understood, self.odd = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.answer.add_class("workbench-answer")
        self.learned_rows, self.week_rows, self.test_rows = table_box(), table_box(), table_box()
        self.proposed = widgets.HTML()
        self.curve, self.time = live(), live()
        controls = [
            *(self.log.box, self.upload, self.lifter.box, self.exercise),
            *(heading("What the log leaves open"), self.answers.box),
            *(heading("The block under way"), self.block.box, self.room.box, self.week),
        ]
        answers = [self.answer, self.curve, self.time, self.odd]
        below = [self.learned_rows, self.understood, self.week_rows, self.proposed, self.test_rows]
        super().__init__(controls, answers, below=below)
        self._filling = False
        self._refit, self._redraw, self._plan = Redraw(self._fit), Redraw(self._draw), Redraw(self._look_ahead)
        self._fit()
        self._observe()

    def _observe(self) -> None:
        self.log.observe(self._chosen)
        self.upload.observe(self._uploaded_one, "value")
        self.lifter.observe(self._lifter_chosen)
        self.answers.observe(self._refit.ask)
        self.exercise.observe(self._exercise_chosen, "value")
        self.block.observe(self._plan.ask)
        self.room.observe(self._refit.ask)  # what was learned is said in its unit
        self.week.observe(self._plan.ask, "value")

    def text(self) -> str:
        """Return the answers as plain text, for the controls as they stand."""
        if self.reading is not None and self.reading.questions:
            return plain_text(["Before anything is learned, please answer:", *question_lines(self.reading)])
        if self.learned is None or self.reading is None or self.surprises is None:
            return "No answer yet: the panel says what cannot be used."
        return plain_text(
            reading_lines(self.reading),
            answer_lines(self.learned, self._unit()),
            learned_table(self.learned, self._unit()),
            self.surprises.sentences(self._unit()),
            *(() if self.coming is None else (week_table(self.coming), self.coming.sentences())),
            *(() if self.test is None else (test_table(self.test),)),
        )

    def _read(self, path: Path) -> LogReading:
        return read_log(path, options=self.answers.options(), exercises=self.lifter.read().catalogue)

    def _lifter_chosen(self, change: object) -> None:
        self.answers.forget(log=False)
        self._refit.ask(change)

    def _chosen(self, change: object) -> None:
        self.answers.forget(log=True)
        self._uploaded = None
        self._refit.ask(change)

    def _uploaded_one(self, change: object) -> None:
        """Keep what was uploaded as a file of its own, so that it is read like any other."""
        if not self.upload.value:
            return
        self.answers.forget(log=True)
        one = self.upload.value[0]
        folder = Path(tempfile.mkdtemp(prefix="workbench-log-"))
        self._uploaded = folder / Path(str(one["name"])).name
        write_whole(self._uploaded, bytes(one["content"]))
        self._refit.ask(change)

    def _exercise_chosen(self, change: object) -> None:
        if not self._filling:
            self._redraw.ask(change)

    def _fit(self) -> None:
        """Read the log, fit it, and show everything."""
        fitted = False
        with self.explained():
            lifter = self.lifter.read()
            reading = self._read(self._uploaded) if self._uploaded is not None else self.log.read()
            self.reading = reading
            self.answers.offer(reading.so_far)
            if reading.questions:
                self._ask(reading)
                return
            learned = fit_log(rows_of(reading, lifter.name, called=self.answers.called()), lifter)
            self.surprises, self.test = find_surprises(learned), suggest_test(learned, seed=self.seed)
            self.learned = learned
            self._offer_exercises()
            first, *others = answer_lines(learned, self._unit())
            self.understood.value = _list("How the log was understood", reading_lines(reading))
            self.answer.value = "<br>".join([f"<b>{escape(first)}</b>", *map(escape, others)])
            self.learned_rows.value = learned_table(learned, self._unit()).html()
            self.odd.value = _list("Not expected", self.surprises.sentences(self._unit()))
            self.test_rows.value = test_table(self.test).html() if self.test is not None else ""
            fitted = True
        if fitted:
            self._draw()
            self._plan.ask()

    def _unit(self) -> Unit:
        """Return the room's unit; kg where no room can be read, which is said where the block is looked at."""
        try:
            return self.room.read().unit
        except InputError:
            return "kg"

    def _ask(self, reading: LogReading) -> None:
        """Ask what the log leaves open in the place of an answer: nothing is learned from a log half understood."""
        self.blank("")
        self.reading = reading
        self.answer.value = _list("Before anything is learned, please answer", question_lines(reading))
        self.understood.value = _list("How the log was understood", reading_lines(reading))

    def forget(self) -> None:
        """Forget the last answers."""
        self.reading = self.learned = self.surprises = self.test = self.coming = None

    def _offer_exercises(self) -> None:
        assert self.learned is not None
        chosen = self.exercise.value
        self._filling = True
        try:
            self.exercise.options = self.learned.exercises
            self.exercise.value = (
                chosen if chosen in self.learned.exercises else next(iter(self.learned.exercises), None)
            )
        finally:
            self._filling = False

    def _draw(self) -> None:
        if self.learned is None or self.surprises is None:
            return
        if not self.learned.exercises:  # all is in the lifter file already
            refresh(self.curve, go.Figure())
            refresh(self.time, go.Figure())
            return
        with self.explained():
            name = self.exercise.value
            curve = learned_curve(self.learned, name, draws=self.draws, seed=self.seed)
            sets = fresh_sets(self.learned, name)
            refresh(self.curve, before_and_after(curve, sets, exercise=name, note=_NOTE))
            days = self.surprises.days
            rows = self.learned.summary()
            before = rows[(rows["exercise"] == name) & (rows["quantity"] == "1RM")]["prior_p50"].iloc[0]
            refresh(self.time, one_rm_through_time(days[days["exercise"] == name], exercise=name, believed=before))

    def _look_ahead(self) -> None:
        """Check the rest of the block; a block that does not fit the lifter is explained and nothing else changes."""
        if self.learned is None:
            return
        self.coming = None
        self.week_rows.value = self.proposed.value = ""
        with self.explained(part=self.proposed):
            block, room = self.block.read(), self.room.read()
            self.coming = next_week(self.learned, block, room, week=self.week.value, draws=self.draws, seed=self.seed)
            self.week_rows.value = week_table(self.coming).html()
            self.proposed.value = _list("What would mend it (proposed only)", self.coming.sentences())


def _list(title: str, lines: list[str]) -> str:
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<b>{escape(title)}</b><ul>{items}</ul>"
