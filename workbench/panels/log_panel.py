"""Panel of the question what a log taught: how it was understood, the curve, surprises, next week, the next test."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets
import plotly.graph_objects as go

from workbench.answers.learned_curve import fresh_sets, learned_curve
from workbench.answers.next_test import NextTest, suggest_test
from workbench.answers.next_week import NextWeek, next_week
from workbench.answers.surprises import Surprises, find_surprises
from workbench.figures.learned import before_and_after, one_rm_through_time
from workbench.fit import fit_log
from workbench.log import read_log, rows_of
from workbench.panels.files import FilePicker, block_picker, demo_folder, lifter_picker, room_picker
from workbench.panels.frame import Panel, control_style, heading, listed, table_box
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
from workbench.panels.redraw import live, refresh
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
    seed, draws
        As for every panel.
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
        The last answers; none but the reading where the log leaves something open.
    """

    kept = ("reading", "learned", "surprises", "test", "coming")
    reading: LogReading | None
    learned: Learned | None
    surprises: Surprises | None
    test: NextTest | None
    coming: NextWeek | None

    def __init__(
        self,
        *,
        seed: int = SEED,
        draws: int = 1000,
        log: str = "emre_sandoval_weeks_1_2",
        lifter: str = "emre_sandoval",
    ) -> None:
        super().__init__(seed=seed, draws=draws)
        logs = sorted(path for path in (demo_folder() / "logs").glob("*") if path.suffix in (".csv", ".xlsx"))
        self.answers = LogAnswers()
        self.log = FilePicker("log", logs, self._read, log)
        self.upload = widgets.FileUpload(accept=".csv,.txt,.tsv,.xlsx", multiple=False, description="upload a log")
        self.lifter, self.block, self.room = lifter_picker(lifter), block_picker(), room_picker()
        self.exercise = widgets.Dropdown(description="exercise", **control_style())
        self.week = whole_number(value=3, min=1, max=52, description="next week")
        self._uploaded: Path | None = None
        self.understood, self.odd, self.proposed = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.learned_rows, self.week_rows, self.test_rows = table_box(), table_box(), table_box()
        self.curve, self.time = live(), live()
        left_open = [self.answers.rows, *self.answers.lists.values()]
        self.arrange(
            [
                *(self.log, self.upload, self.lifter, self.exercise),
                *(heading("What the log leaves open"), widgets.VBox(left_open)),
                *(heading("The block under way"), self.block, self.room, self.week),
            ],
            [self.curve, self.time, self.odd],
            below=[self.learned_rows, self.understood, self.week_rows, self.proposed, self.test_rows],
        )
        # What was learned is said in the unit of the room.
        self.step(self._fit, self.log, self.upload, self.lifter, *left_open, self.room)
        self.step(self._draw, self.exercise, after=self._fit)
        self.step(self._look_ahead, self.block, self.week, after=self._fit, later=True, part=self.proposed)
        self.take_steps()

    def choice_changed(self, change: Any) -> None:
        """Take back answers about another log or lifter; keep what was uploaded as a file, read like any other."""
        control = change["owner"]
        if control is self.log or control is self.upload:
            self.answers.forget(log=True)
            self._uploaded = None
        elif control is self.lifter:
            self.answers.forget(log=False)
        if control is self.upload and self.upload.value:
            file = self.upload.value[0]
            self._uploaded = Path(tempfile.mkdtemp(prefix="workbench-log-")) / Path(str(file["name"])).name
            write_whole(self._uploaded, bytes(file["content"]))

    def _read(self, path: Path) -> LogReading:
        return read_log(path, options=self.answers.options(), exercises=self.lifter.read().catalogue)

    def _fit(self) -> None:
        """Read the log, fit it, and show what it taught; or ask what it leaves open."""
        self.forget()
        lifter = self.lifter.read()
        reading = self._read(self._uploaded) if self._uploaded is not None else self.log.read()
        self.answers.offer(reading.so_far)
        if reading.questions:
            self._ask(reading)
            return
        learned = fit_log(rows_of(reading, lifter.name, called=self.answers.called()), lifter)
        unit = self._unit()
        self.surprises, self.test = find_surprises(learned), suggest_test(learned, seed=self.seed)
        self.reading, self.learned = reading, learned
        names, kept = list(learned.exercises), self.exercise.value
        self.exercise.options = names
        self.exercise.value = kept if kept in names else next(iter(names), None)
        understood, odd = reading_lines(reading), self.surprises.sentences(unit)
        self.put(self.understood, understood, html=listed(understood, "How the log was understood"))
        self.put(self.answer, answer_lines(learned, unit))
        self.put(self.learned_rows, learned_table(learned, unit))
        self.put(self.odd, odd, html=listed(odd, "Not expected"))
        # The weeks to come are worked out last, and are said before the test.
        self.put(self.week_rows)
        self.put(self.proposed)
        self.put(self.test_rows, *([] if self.test is None else [test_table(self.test)]))

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
        head, questions = "Before anything is learned, please answer", question_lines(reading)
        self.put(self.answer, [f"{head}:", *questions], html=listed(questions, head))
        self.understood.value = listed(reading_lines(reading), "How the log was understood")

    def _draw(self) -> None:
        if self.learned is None or self.surprises is None:
            return
        name = self.exercise.value
        if name is None:  # all is in the lifter file already
            refresh(self.curve, go.Figure())
            refresh(self.time, go.Figure())
            return
        curve = learned_curve(self.learned, name, draws=self.draws, seed=self.seed)
        refresh(self.curve, before_and_after(curve, fresh_sets(self.learned, name), exercise=name, note=_NOTE))
        days, rows = self.surprises.days, self.learned.summary()
        before = rows[(rows["exercise"] == name) & (rows["quantity"] == "1RM")]["prior_p50"].iloc[0]
        refresh(self.time, one_rm_through_time(days[days["exercise"] == name], exercise=name, believed=before))

    def _look_ahead(self) -> None:
        """Check the rest of the block; where it does not fit the lifter, that is said and all else stays."""
        self.coming = None
        self.put(self.week_rows)
        self.put(self.proposed)
        if self.learned is None:
            return
        block, room = self.block.read(), self.room.read()
        self.coming = next_week(self.learned, block, room, week=self.week.value, draws=self.draws, seed=self.seed)
        mended = self.coming.sentences()
        self.put(self.week_rows, week_table(self.coming))
        self.put(self.proposed, mended, html=listed(mended, "What would mend it (proposed only)"))
