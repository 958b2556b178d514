"""Panel of the question what a log taught: how it was understood, the curve, surprises, next week, the next test."""

from __future__ import annotations

import tempfile
from contextlib import suppress
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from workbench.answers.gym_numbers import LogOfLifter
from workbench.answers.learned import fresh_sets, learned_curve
from workbench.answers.lifter_words import learned_as_reps
from workbench.answers.next_test import NextTest, suggest_test
from workbench.answers.next_week import NextWeek, next_week
from workbench.answers.start_loads import ratio_notes
from workbench.answers.surprises import Surprises, find_surprises
from workbench.figures.curve import before_and_after, one_rm_through_time
from workbench.fit import fit_log
from workbench.fit.learned import learned_in
from workbench.fit.lifter_file import lifter_text
from workbench.log import read_log, rows_of
from workbench.log.options import places_by_reason
from workbench.panels.controls import FilePicker, block_picker, lifter_picker, room_picker, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, heading, listed, live, refresh, table_box
from workbench.panels.log_answers import LogAnswers
from workbench.panels.next_steps import committed_week
from workbench.panels.panel import Panel
from workbench.panels.tables import Row, chance, table_of
from workbench.present.words import load_said, mean_and_band, reps_band
from workbench.publish.commit import list_committed
from workbench.publish.track_record import keep_scores
from workbench.quantities import SEED, InputError
from workbench.reference.copies import fingerprint, fingerprint_of_file
from workbench.reference.gym_folder import KINDS
from workbench.reference.whole_files import write_whole

if TYPE_CHECKING:
    import pandas as pd

    from workbench.fit import Learned
    from workbench.gym.equipment.loads import Unit
    from workbench.log import LogReading, Question
    from workbench.present.tables import Table

__all__ = ["LogPanel", "answer_lines", "rep_max_lines"]

_MOST_TESTS = 6
#: Quantities that belong to no exercise.
_OF_ALL = {
    "recovery rate": "recovery between sets, 1 is average",
    "carry-over": "carry-over between exercises, 1 is average",
    "reserve bias": "reps left beyond what is said to be left",
}
_NOTE = "Bands: middle 80 %, from what is not known of the lifter; days and single sets scatter about them."


class LogPanel(Panel):
    """Choose or upload a log, see what was understood and what it taught.

    Attributes
    ----------
    answers : LogAnswers
        What the log leaves open. Another log takes all answers back, another lifter takes back whose rows they are.
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

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 1000) -> None:
        super().__init__(seed=seed, draws=draws)
        self._desk = desk = desk or Desk()
        self.answers = LogAnswers()
        self.log = FilePicker("log", "logs", self._read, desk)
        self.upload = widgets.FileUpload(
            accept=".csv,.txt,.tsv,.xlsx",
            multiple=False,
            description="upload a filled sheet or a log",
            layout={"width": "auto"},
        )
        self.lifter, self.block, self.room = lifter_picker(desk), block_picker(desk), room_picker(desk)
        self.exercise = widgets.Dropdown(description="exercise", **control_style())
        self.week = whole_number(value=3, min=1, max=52, description="next week")
        self._keep_to_the_block()
        self._uploaded: Path | None = None
        self._is_another_log = True
        self.answers.take(desk.answers_about(self.log.value))
        self.keep = widgets.Button(description="Keep what was learned", disabled=True, layout={"width": "auto"})
        self.keep.layout.display = None if desk.is_own else "none"
        self.kept_said = widgets.HTML()
        self.keep.on_click(self._keep)
        self.understood, self.odd, self.proposed = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.learned_rows, self.week_rows, self.test_rows = table_box(), table_box(), table_box()
        self.curve, self.time = live(), live()
        self.arrange(
            [
                *(self.log, self.upload, self.lifter, self.exercise),
                *(heading("What the log leaves open"), self.answers.box),
                *(heading("The block under way"), self.block, self.room, self.week, self.keep, self.kept_said),
            ],
            [self.curve, self.time, self.odd],
            below=[self.week_rows, self.proposed, self.learned_rows, self.understood, self.test_rows],
        )
        # What was learned is said in the unit of the room.
        self.step(self._fit, self.log, self.upload, self.lifter, *self.answers.controls, self.room)
        self.step(self._draw, self.exercise, after=self._fit)
        self.step(self._look_ahead, self.block, self.week, after=self._fit, later=True, part=self.proposed)
        self.take_steps()

    def choice_changed(self, change: Any) -> None:
        """Take back answers about another log or lifter; keep what was uploaded as a file, read like any other."""
        control = change["owner"]
        if control is self.log or control is self.upload:
            self.answers.forget(log=True)
            self._uploaded, self._is_another_log = None, True
        elif control is self.lifter:
            self.answers.forget(log=False)
        elif control is self.block:
            self._keep_to_the_block()
        elif control in self.answers.controls and self._uploaded is None:
            self._desk.answer_about(self.log.value, self.answers.text())
        if control is self.upload and self.upload.value:
            file = self.upload.value[0]
            with self.explained():
                self._take_in(Path(Path(str(file["name"])).name), bytes(file["content"]))
        if control in (self.log, self.upload) and self._uploaded is None:
            self.answers.take(self._desk.answers_about(self.log.value))

    def _keep_to_the_block(self) -> None:
        """Ask about no week after the last of another block."""
        with suppress(InputError):  # said where the block is looked at
            self.week.value = min(self.week.value, self.block.read().weeks)

    def _look_past(self, reading: LogReading) -> None:
        """Ask about the week after the last one that the log holds of a committed block, where its dates tell."""
        self._is_another_log = False
        if found := committed_week(self._desk, reading):
            self.week.value = found[0] + 1
            self._keep_to_the_block()

    def _take_in(self, name: Path, content: bytes) -> None:
        """Put an uploaded log among the gym's, if it is not there yet; where the gym is not one's own, elsewhere."""
        if not self._desk.is_own or name.suffix.lower() not in KINDS["logs"]:
            self._uploaded = write_whole(Path(tempfile.mkdtemp(prefix="workbench-log-")) / name, content)
            return
        there = [path for path in self._desk.gym.files("logs") if fingerprint_of_file(path) == fingerprint(content)]
        if there:
            self._desk.choose("logs", there[0])
        else:
            self._desk.add("logs", name.stem, content, name.suffix.lower())
        self.log.look_again()

    def _read(self, path: Path) -> LogReading:
        return read_log(path, options=self.answers.options(), exercises=self.lifter.read().catalogue)

    def _fit(self) -> None:
        """Read the log, fit it, and show what it taught; or ask what it leaves open."""
        self.forget()
        lifter = self.lifter.read()
        none_yet = self.log.value is None and not self._desk.gym.files("logs")
        self.log.layout.display = "none" if none_yet else None  # nothing to choose from yet
        if none_yet and self._uploaded is None:
            self.blank("No sheet has come back yet: upload the one that was filled in, or any log of sets.")
            return
        reading = self._read(self._uploaded) if self._uploaded is not None else self.log.read()
        if self._is_another_log:
            self._look_past(reading)
        self.answers.offer(reading.so_far)
        self.answers.ask(reading.questions)
        if reading.questions:
            self._show_questions(reading)
            return
        rows = rows_of(reading, lifter.name, called=self.answers.called())
        learned = fit_log(rows, lifter)
        unit = self._unit()
        self.surprises, self.test = find_surprises(learned), suggest_test(learned, seed=self.seed)
        self.reading, self.learned = reading, learned
        names, kept = list(learned.exercises), self.exercise.value
        self.exercise.options = names
        self.exercise.value = kept if kept in names else next(iter(names), None)
        understood, odd = reading_lines(reading), self.surprises.sentences(unit)
        self.put(self.understood, understood, html=listed(understood, "How the log was understood"))
        lines = [*answer_lines(learned, unit), *_set_aside(reading), *self._record(LogOfLifter(lifter, rows))]
        self.put(self.answer, lines)
        self.put(self.learned_rows, learned_table(learned, unit))
        self.put(self.odd, odd, html=listed(odd, "Not expected"))
        # The weeks to come are worked out last, and are said before the test.
        self.put(self.week_rows)
        self.put(self.proposed, html=f"Week {self.week.value} of the block under way is being worked out …")
        self.keep.disabled = False
        if self.log.value is not None and self._uploaded is None:
            self._desk.looked_at(self.log.value)
        self.put(self.test_rows, *([] if self.test is None else [test_table(self.test)]))

    def _record(self, log: LogOfLifter) -> list[str]:
        """Score what came back of committed blocks, keep it beside them, and say the record so far."""
        committed = self._desk.gym.path / "committed"
        if not self._desk.is_own or not list_committed(committed):
            return []
        return [f"Committed forecasts: {line}" for line in keep_scores(committed, [log]).sentences()]

    def forget(self) -> None:
        """Forget the answer: what was learned can no longer be kept."""
        super().forget()
        self.keep.disabled, self.kept_said.value = True, ""

    def _keep(self, _button: object) -> None:
        """Write what was learned into the lifter's file; the numbers before stay among its versions."""
        assert self.learned is not None
        with self.explained(part=self.kept_said):
            self._desk.gym.edit(self.lifter.value).write(lifter_text(self.learned))
            self.kept_said.value = f"Kept: {escape(self.learned.lifter.name)} has these numbers from now on."
            self.keep.disabled = True

    def _unit(self) -> Unit:
        """Return the room's unit; kg where no room can be read, which is said where the block is looked at."""
        try:
            return self.room.read().unit
        except InputError:
            return "kg"

    def _show_questions(self, reading: LogReading) -> None:
        """Ask what the log leaves open in the place of an answer: nothing is learned from a log half understood."""
        self.blank("")
        self.reading = reading
        head = "Before anything is learned, please answer under What the log leaves open"
        questions = [_asked(question) for question in reading.questions]
        self.put(self.answer, [f"{head}:", *questions], html=listed(questions, head))
        self.understood.value = listed(reading_lines(reading), "How the log was understood")

    def _draw(self) -> None:
        if self.learned is None or self.surprises is None:
            return
        name = self.exercise.value
        if name is None:  # all is in the lifter file already
            refresh(self.curve, None)
            refresh(self.time, None)
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
        notes = (*self.coming.left_out, *ratio_notes(self.coming.plan))
        mended = [*self.coming.sentences(), *(f"Note: {note}." for note in notes)]
        self.put(self.week_rows, week_table(self.coming))
        self.put(self.proposed, mended, html=listed(mended, "What would mend it (proposed only)"))


def _asked(question: Question) -> str:
    problem = f"{question.problem[:1].upper()}{question.problem[1:]}"
    return f"{problem}: {question.page_remedy}."


def reading_lines(reading: LogReading) -> list[str]:
    """Say where the rows of the file went, what is open, and what was set aside."""
    totals = reading.totals
    where = {"rows in quarantine": "rows set aside"}
    lines = [", ".join(f"{count} {where.get(name, name)}" for name, count in totals.items() if count)]
    for column, read_as, how in reading.understood[["heading", "read_as", "how"]].astype(str).itertuples(index=False):
        if column:
            lines.append(f"{column}: {read_as}{'; ' if how else ''}{how}")
    lines = [*dict.fromkeys(lines)]  # every sheet of a workbook has the same headings
    lines += [f"Please answer: {_asked(question)}" for question in reading.questions]
    return [*lines, *(f"Set aside, {line}" for line in places_by_reason(reading.quarantine))]


def _set_aside(reading: LogReading) -> list[str]:
    """Say that rows of a log were not used, where there are any: they stand far below what was learned without them."""
    count = len(reading.quarantine)
    rows = "1 row of the log is" if count == 1 else f"{count} rows of the log are"
    return [f"{rows} set aside: why is said below, in How the log was understood."] if count else []


def answer_lines(learned: Learned, unit: Unit = "kg") -> list[str]:
    """Say in a sentence or two what changed most, and what to know before it is believed."""
    return [*learned.sentences(unit), *learned.notes]


def learned_table(learned: Learned, unit: Unit = "kg") -> Table:
    """Make the table of prior and posterior of every quantity."""
    return table_of(
        "What the log taught",
        learned_as_reps(learned_in(learned.summary(), unit, learned.lifter.catalogue), learned.bent_curve),
        {
            "": lambda row: _OF_ALL.get(row["quantity"], f"{row['exercise']}, {row['quantity']}"),
            "unit": lambda row: "" if row["unit"] == "1" else row["unit"],
            "before the log (80 %)": lambda row: _span(row, "prior_"),
            "after (80 %)": lambda row: _span(row, ""),
            "sets": "{sets}",
        },
    )


def _span(row: Row, prefix: str) -> str:
    if row["unit"] == "reps":
        return reps_band(*(row[f"{prefix}p{level}"] for level in (10, 50, 90)))
    middle, band = mean_and_band(*(row[f"{prefix}p{level}"] for level in (50, 10, 90)))
    return f"{middle} ({band})"


def rep_max_lines(table: pd.DataFrame) -> Table:
    """Make the table of `workbench.answers.learned.rep_max_table`."""
    return table_of(
        "The same log, read in two ways",
        table,
        {
            "1RM, kg": "{exercise}",
            "before the log": "{believed_kg:.1f}",
            "rep-max formula": "{formula_kg:.1f}",
            "learned (80 %)": "{learned_kg:.1f} ({low_kg:.1f} to {high_kg:.1f})",
            "sets to failure": "{failed_sets}",
        },
    )


def week_table(coming: NextWeek) -> Table:
    """Make the table of loads and chances of the first week to come."""
    week = int(coming.weeks["week"].iloc[0])
    return table_of(
        f"Week {week}: loads and the chance that all reps are made",
        coming.sets[coming.sets["week"] == week],
        {
            "": "{session}, {exercise}, set {set}",
            "load by the file": load_said,
            "load by the log": lambda row: load_said(row, "load_updated_kg"),
            "chance of the first, as thought before": chance("chance_before"),
            "as known now": chance("chance_now"),
            "chance of the second": chance("chance_updated"),
        },
    )


def test_table(test: NextTest) -> Table:
    """Make the table of test sets that would teach most."""
    return table_of(
        f"Test sets that would teach most of the {test.answer}. {' '.join(test.notes)}",
        test.table.head(_MOST_TESTS),
        {
            "": "{exercise}, {how}",
            "kg": "{load_kg:g}",
            "% of 1RM": "{percent:.0f}",
            "again after": "{second_after_s:.0f} s",
            "reps": "{reps:.0f} ({reps_low:.0f} to {reps_high:.0f})",
            "unsure by, before and after": "± {sd_now:.1f}, ± {sd_after:.1f}",
        },
    )
