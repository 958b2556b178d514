"""The coach of the year, by the product's doors: edits, commits, hands out, takes in what comes back, learns."""

from __future__ import annotations

import csv
import datetime
import io
import math
import shutil
from contextlib import redirect_stdout
from dataclasses import replace
from decimal import Decimal
from itertools import groupby
from pathlib import Path
from typing import Any, Final

import openpyxl
import tomli_w

import workbench
from tests.faults.year.athletes import Athlete, Line, lines_of
from tests.faults.year.books import Books, Done
from tests.faults.year.costs import Costs
from workbench.__main__ import main
from workbench.fit.lifter_file import lifter_text
from workbench.log import rows_of
from workbench.log.session_log import log_of
from workbench.panels.desk import Desk
from workbench.panels.editing import LifterPage, RoomPage
from workbench.panels.log import LogPanel
from workbench.panels.next_steps import next_steps
from workbench.panels.session_today import SessionToday
from workbench.reference.gym_folder import GymFolder, file_stem
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text

__all__ = ["Coach"]

#: Weeks of a block, and from one look at a log to the next.
BLOCK_WEEKS: Final = 4
LEARN_EVERY: Final = 2
#: Simulated runs: the cost of a piece of work is looked at, not its digits.
DRAWS: Final = 200
_HEADINGS: Final = ("date", "exercise", "set", "load kg", "reps", "outcome", "RIR", "rest s", "notes")
_CELLS: Final = ("Load done", "Reps done", "RIR done")


def first_block() -> dict[str, Any]:
    """Return the block of which all others are made: with sets to failure, drops and a stated reserve."""
    squat = [
        {"count": 3, "reps": 5, "percent": 74, "rest_s": 180, "progression": {"rule": "step", "step": 1.5}},
        {"count": 1, "reps": "failure", "percent": 70, "rest_s": 180},
    ]
    press = [{"count": 3, "reps": 6, "percent": 70, "rest_s": 150, "progression": {"rule": "step", "step": 1.5}}]
    pull = [{"count": 2, "reps": "failure", "percent": 68, "rest_s": 150, "drops": {"sizes": [20], "change_s": 12}}]
    reserve = [{"count": 2, "reps": [5, 10], "reps_in_reserve": 2, "rest_s": 150}]
    light = [{"count": 2, "reps": 8, "percent": 60, "rest_s": 120}]
    sessions = [("Monday", 1, squat, press, pull), ("Thursday", 4, light, reserve, light)]
    names = ("back squat", "bench press", "lat pulldown")
    return {
        "name": "Block 1",
        "weeks": BLOCK_WEEKS,
        "sessions": [
            {
                "name": name,
                "day": day,
                "exercises": [{"exercise": one, "sets": sets} for one, sets in zip(names, groups, strict=True)],
            }
            for name, day, *groups in sessions
        ],
    }


class Coach:
    """One coach and a gym's folder.

    Parameters
    ----------
    folder : Path
        Of the gym; beside it ``handed`` holds what lifters have on their own computers.
    """

    def __init__(self, folder: Path, books: Books, costs: Costs) -> None:
        self.gym, self.books, self.costs = GymFolder(folder), books, costs
        self.handed = folder.parent / "handed"
        self.handed.mkdir(parents=True, exist_ok=True)
        self.gym.make()
        self.room = self.gym.add("rooms", "hall", data_path("demo_gym", "rooms", "tollgate_hall.toml").read_bytes())
        self.block = self.gym.add("blocks", "Block 1", tomli_w.dumps(first_block()))
        self._sheets: dict[str, Path] = {}
        self._exported: dict[str, int] = {}
        books.wrote(self.room)
        books.wrote(self.block)

    # ---- files that are edited --------------------------------------------------------------------------------------

    def path_of(self, athlete: Athlete) -> Path:
        """Return the lifter's file."""
        return self.gym.path / "lifters" / f"{file_stem(athlete.name)}.toml"

    def welcome(self, athlete: Athlete) -> None:
        """Enter a new lifter."""
        self.books.wrote(self.gym.add("lifters", athlete.name, tomli_w.dumps(athlete.file())))

    def bid_farewell(self, athlete: Athlete) -> None:
        """Take the file of one who leaves out of the folder; the logs stay."""
        self.gym.remove(self.path_of(athlete))
        self.books.left.add(athlete.name)

    def weigh(self, athlete: Athlete, number: int) -> None:
        """Type a new body mass on the page, take it back, and do it again."""
        with self.costs.of("edit a lifter (page)"):
            page = self._lifter_page(athlete)
            page.editor.mass.typed.value = f"{page.editor.value.body_mass_kg + 0.5 * (-1) ** number:g} kg"
            self.books.wrote(self.path_of(athlete))
            for press in (page.undo, page.redo):  # each is a version too
                press.click()
                self.books.wrote(self.path_of(athlete))
        assert page.said.value == "", page.said.value

    def test_one_rm(self, athlete: Athlete, exercise: str) -> None:
        """Have a 1RM tested, and type it over what was believed."""
        page = self._lifter_page(athlete)
        page.editor.lift.value = exercise
        kg = 2.5 * round(math.exp(athlete.life.log_one_rm[exercise]) / 2.5)
        page.editor.fields.origin.choice.value = "tested lately"
        self.books.wrote(self.path_of(athlete))
        page.editor.fields.one_rm.typed.value = f"{kg:g}"
        self.books.wrote(self.path_of(athlete))
        assert page.editor.value.lifts[exercise].one_rm_kg == kg

    def _lifter_page(self, athlete: Athlete) -> LifterPage:
        desk = Desk(self.gym)
        desk.choose("lifters", self.path_of(athlete))
        return LifterPage(desk)

    def buy_plates(self) -> None:
        """Put two pairs of small plates into the room."""
        page = RoomPage(Desk(self.gym))
        page.editor.plates[Decimal("0.5"), "kg"].typed.value = "2 pairs"
        assert page.said.value == "", page.said.value
        self.books.wrote(self.room)

    def write_block(self, number: int) -> None:
        """Make the next block of the last one: a copy under a new name, then edits of which one is taken back."""
        with self.costs.of("edit a block"):
            before = workbench.read_block(self.block)
            new = workbench.change(before, of_block={"name": f"Block {number}"})
            self.block = self.gym.add("blocks", new.name, toml_text(new))
            self.books.wrote(self.block)
            edited = self.gym.edit(self.block)
            squat = workbench.Where(1, "back squat", 1)
            for move in (2.0, -1.0 if number % 2 else -3.0):
                new = workbench.change(new, squat, percent=new.sessions[0].exercises[0].sets[0].percent + move)
                edited.write(toml_text(new))
                self.books.wrote(self.block)
            for go in (edited.undo, edited.redo):
                go()
                self.books.wrote(self.block)

    # ---- what leaves the house, and what comes back -----------------------------------------------------------------

    def commit(self, there: list[Athlete], monday: datetime.date) -> None:
        """Freeze the block for all who are there, and hand its sheets out."""
        with self.costs.of("commit, a lifter"):
            committed = workbench.commit(
                self.block,
                [self.path_of(athlete) for athlete in there],
                self.room,
                f"what the weeks before {monday} have shown",
                folder=self.gym.path / "committed",
                draws=DRAWS,
                start=monday,
                now=datetime.datetime.combine(monday, datetime.time(6), datetime.UTC),
            )
        self.books.committed.append(committed.path)
        self._sheets = {}
        for athlete, sheet in zip(there, sorted((committed.path / "sheets").glob("*.xlsx")), strict=True):
            self._sheets[athlete.name] = self.handed / f"{committed.path.name} {sheet.name}"
            shutil.copyfile(sheet, self._sheets[athlete.name])

    def train(self, athlete: Athlete, week: int) -> None:
        """Let a week of the block be done and written down as this lifter does."""
        lines = [line for line in lines_of(self._sheets[athlete.name]) if line.tab == f"Week {week}"]
        for session, (_, of_day) in enumerate(groupby(lines, key=lambda line: line.day), start=1):
            if athlete.keeps == "rack":
                self._at_the_rack(athlete, week, session, list(of_day))
            else:
                done = list(athlete.follow(list(of_day)))
                self.books.did(athlete.name, *(one for _, one, _ in done))
                {"sheet": self._fill_in, "notebook": self._note, "export": self._note}[athlete.keeps](athlete, done)

    def _at_the_rack(self, athlete: Athlete, week: int, session: int, lines: list[Line]) -> None:
        """Type a session set by set, now and then twice, or take one back and type it again."""
        athlete.wake_up(lines[0].day)
        clock = [datetime.datetime.combine(lines[0].day, datetime.time(17))]
        with self.costs.of("open today"):
            room = workbench.read_room(self.room)
            lifter = workbench.read_lifter(self.path_of(athlete))
            block = workbench.read_block(self.block)
            chosen: dict[str, Any] = {"week": week, "session": session, "draws": DRAWS, "now": lambda: clock[0]}
            today = SessionToday(self.gym, block, lifter, room, **chosen)
        by_place = {(line.exercise, line.label): line for line in lines}
        while not (left := today.answer(today.rows()).sets).empty:
            offered = left.iloc[0]
            line = by_place[offered["exercise"], str(offered["set"])]
            self._type_set(athlete, today, replace(line, load_kg=float(offered["load_kg"])))
            clock[0] += datetime.timedelta(minutes=3)

    def _type_set(self, athlete: Athlete, today: SessionToday, line: Line) -> None:
        reps, failed, stated = athlete.do(line)
        form = {
            "do": "set",
            "entry": today.log.next_entry(today.rows()),
            "exercise": line.exercise,
            "load": f"{line.load_kg:g}",
            "reps": str(reps),
            "reserve": "" if math.isnan(stated) else f"{stated:g}" if stated <= 3 else "4+",
            "rest": f"{line.rest_s:g}",
            **({"failed": "yes"} if failed else {}),
        }
        with self.costs.of("type a set, and what it says of the rest"):
            today.take(form)
            today.answer(today.rows())
        if athlete.rng.random() < 0.1:
            today.take(form)  # the button pressed twice
        if athlete.rng.random() < 0.05:
            today.take({"do": "undo", "last": form["entry"]})
            today.take(form)
        self.books.did(athlete.name, Done(line.day, line.exercise, line.label, line.load_kg, reps, failed))

    def _fill_in(self, athlete: Athlete, done: list[tuple[Line, Done, float]]) -> None:
        """Fill lines of the sheet in; what was not done stays blank."""
        path = self._sheets[athlete.name]
        book = openpyxl.load_workbook(path)
        for line, one, stated in done:
            tab = book[line.tab]
            columns = {str(cell.value).partition(" (")[0]: cell.column for cell in tab[3] if cell.value}
            reps = f"{one.reps} failed" if one.failed else one.reps
            values = (one.load_kg, reps, None if math.isnan(stated) else stated)
            for heading, value in zip(_CELLS, values, strict=True):
                tab.cell(line.row, columns[heading]).value = value
        book.save(path)

    def _note(self, athlete: Athlete, done: list[tuple[Line, Done, float]]) -> None:
        """Write sets into a file of one's own, of the whole year so far, untidily."""
        path = self.handed / f"{file_stem(athlete.name)}.csv"
        text = io.StringIO()
        writer = csv.writer(text)
        if not path.exists():
            writer.writerow(_HEADINGS)
        for line, one, stated in done:
            how = "failed" if one.failed else "completed"
            reserve = "" if math.isnan(stated) else f"{stated:g}"
            load = f"{one.load_kg:g}" if athlete.rng.random() < 0.9 else f" {one.load_kg:g} kg"
            cells = (one.day, one.exercise.title() if athlete.rng.random() < 0.2 else one.exercise, one.label, load)
            writer.writerow((*cells, one.reps, how, reserve, f"{line.rest_s:g}", ""))
        if athlete.rng.random() < 0.3:
            writer.writerow([""] * len(_HEADINGS))
            writer.writerow([done[0][1].day, "slept badly", "", "", "", "", "", "", "knee fine"])
        with path.open("a", encoding="utf-8", newline="") as handle:
            handle.write(text.getvalue())

    # ---- what is learned --------------------------------------------------------------------------------------------

    def take_in(self, athlete: Athlete, number: int) -> Path:
        """Put what a lifter sends among the gym's logs, and return the newest of them."""
        if athlete.keeps == "rack":
            return log_of(self.gym, athlete.name, workbench.read_block(self.block).name)
        stem = file_stem(athlete.name)
        if athlete.keeps == "sheet":
            content = self._sheets[athlete.name].read_bytes()
            return self.gym.add("logs", f"{stem} {self._sheets[athlete.name].stem[:20]} {number}", content, ".xlsx")
        book = self.handed / f"{stem}.csv"
        if athlete.keeps == "notebook":  # one file that grows, laid over the last one by whoever copies it
            path = self.gym.path / "logs" / f"{stem}_notebook.csv"
            shutil.copyfile(book, path)
            return path
        rows = book.read_text(encoding="utf-8").splitlines()
        since = self._exported.get(stem, 1)  # since the last but one export: each overlaps with the one before
        self._exported[stem] = len(rows) if number % 2 else since
        export = "\n".join([rows[0], *rows[since:]]).encode()
        path = self.gym.add("logs", f"{stem} export {number}", export, ".csv")
        if number == 3:  # the same export once more
            path = self.gym.add("logs", f"{stem} export {number} again", export, ".csv")
        return path

    def learn(self, athlete: Athlete, log: Path) -> None:
        """Let the lifter file learn what is new in a log."""
        path = self.path_of(athlete)
        lifter = workbench.read_lifter(path, gym_numbers=False)
        with self.costs.of(f"read a log ({athlete.keeps})"):
            reading = workbench.read_log(log, exercises=lifter.catalogue)
            rows = rows_of(reading, lifter.name)
        with self.costs.of("learn from the file on"):
            learned = workbench.fit_log(rows, lifter)
            self.gym.edit(path).write(lifter_text(learned))
        assert learned.questions == (), learned.questions
        self.books.wrote(path)
        self.books.learned[athlete.name] = list(self.books.sets[athlete.name])

    def look_at(self, athlete: Athlete, log: Path) -> None:
        """Open a log on the app's page, which also scores what was committed."""
        desk = Desk(self.gym)
        for kind, path in (("lifters", self.path_of(athlete)), ("rooms", self.room), ("blocks", self.block)):
            desk.choose(kind, path)
        desk.choose("logs", log)
        with self.costs.of("learn (page)"):
            page = LogPanel(desk, draws=DRAWS)
            page.keep.click()
        assert page.trouble.value == "", page.trouble.value
        assert "Kept" in page.kept_said.value, page.answer.value
        self.books.wrote(self.path_of(athlete))
        self.books.learned[athlete.name] = list(self.books.sets[athlete.name])

    def start_page(self) -> None:
        """See what comes next."""
        with self.costs.of("start page"):
            next_steps(Desk(self.gym))

    def command(self, *words: str | Path) -> str:
        """Give a command, and return what it prints."""
        said = io.StringIO()
        with redirect_stdout(said):
            code = main([str(word) for word in words])
        assert code in (0, None), said.getvalue()
        return said.getvalue()
