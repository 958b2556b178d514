"""The year itself, week by week, and what has to be true at its end."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import pandas as pd

import workbench
from tests.faults.year.athletes import FIRST_MONDAY, Athlete, athletes
from tests.faults.year.books import Books, Watch, apart, told
from tests.faults.year.coach import BLOCK_WEEKS, DRAWS, LEARN_EVERY, Coach
from tests.faults.year.costs import Costs
from workbench.answers.gym_numbers import logs_of_gym, logs_of_lifters
from workbench.answers.review import walk_forward
from workbench.lifter import Lifter
from workbench.publish.commit import list_committed
from workbench.publish.commit import verify as verified
from workbench.publish.track_record import keep_scores
from workbench.reference.toml_files import validate

__all__ = ["Year"]

#: Readers of the kinds of files that keep versions.
_READERS = {"lifters": workbench.read_lifter, "rooms": workbench.read_room, "blocks": workbench.read_block}
#: Of a lifter whose logs cannot be read.
_NO_ROWS = pd.DataFrame(columns=["date", "exercise", "load_kg", "reps", "outcome"]).astype({"date": "datetime64[s]"})


class Year:
    """A coach, some lifters and the weeks that they train.

    Parameters
    ----------
    folder : Path
        Empty; the gym lies in it, and what is on other people's computers.
    weeks, lifters, seed : int
        The last lifter joins in the middle, where there are more than two; the third one then leaves.
    say : callable
        Told how far it is.
    """

    def __init__(
        self, folder: Path, *, weeks: int = 52, lifters: int = 8, seed: int = 1, say: Callable[[str], None] = print
    ) -> None:
        self.books, self.costs, self.weeks, self._say = Books(), Costs(), weeks, say
        self.everybody = athletes(lifters, seed)
        self._joins, self._leaves = (weeks // 3, 2 * weeks // 3) if lifters > 2 else (0, weeks + 1)
        self._folder = folder
        self.watch = Watch(folder)
        self.coach = Coach(folder / "gym", self.books, self.costs)
        self._early = self.everybody[:-1] if self._joins else self.everybody
        for athlete in self._early:
            self.coach.welcome(athlete)

    # ---- the weeks --------------------------------------------------------------------------------------------------

    def live(self) -> None:
        """Live through all weeks."""
        for week in range(1, self.weeks + 1):
            self.costs.week = week
            self._week(week, (week - 1) % BLOCK_WEEKS + 1)
            self._note_sizes()
            sets = sum(map(len, self.books.sets.values()))
            self._say(f"week {week}: {sets} sets, {len(self.books.committed)} commits")

    def there(self, week: int) -> list[Athlete]:
        """Return who trains in a week; who comes or goes does so with a block."""
        block = (week - 1) // BLOCK_WEEKS * BLOCK_WEEKS
        late = [one for one in self.everybody if one not in self._early and block >= self._joins]
        gone = self.everybody[2:3] if block >= self._leaves else []
        return [one for one in [*self._early, *late] if one not in gone]

    def _week(self, week: int, of_block: int) -> None:
        coach, there = self.coach, self.there(week)
        if of_block == 1:
            self._begin_block(week, there)
        coach.start_page()
        for athlete in there:
            coach.train(athlete, of_block)
            if of_block % LEARN_EVERY == 0:
                log = coach.take_in(athlete, week // LEARN_EVERY)
                if athlete is there[1] and of_block == BLOCK_WEEKS:
                    coach.look_at(athlete, log)
                else:
                    coach.learn(athlete, log)
        if of_block == BLOCK_WEEKS:
            self._look_back(there)

    def _begin_block(self, week: int, there: list[Athlete]) -> None:
        coach, number = self.coach, (week - 1) // BLOCK_WEEKS + 1
        for athlete in self.everybody:
            if athlete in there and not coach.path_of(athlete).exists():
                coach.welcome(athlete)
            if athlete not in there and coach.path_of(athlete).exists():
                coach.bid_farewell(athlete)
        if number > 1:
            coach.write_block(number)
        if number == self.weeks // 2 // BLOCK_WEEKS + 1:
            coach.buy_plates()
            coach.test_one_rm(there[0], "bench press")
        for athlete in there:
            coach.weigh(athlete, number)
        coach.commit(there, FIRST_MONDAY + datetime.timedelta(weeks=week - 1))

    def _look_back(self, there: list[Athlete]) -> None:
        """Read everything of the year so far: the gym's logs, the record of commits, the whole log of one lifter."""
        with self.costs.of("put all logs together"):
            of_lifters, _ = logs_of_gym(self.coach.gym.path)
        with self.costs.of("score what was committed"):
            keep_scores(self.coach.gym.path / "committed", of_lifters)
        one = next(one for one in of_lifters if one.lifter.name == there[-1].name)
        whole = validate(there[-1].file(), Lifter)
        with self.costs.of("learn from the whole log"):
            workbench.fit_log(one.rows, whole)

    def _note_sizes(self) -> None:
        gym = self.coach.gym.path
        self.costs.note_memory()
        for path in self.coach.gym.files("lifters"):
            self.costs.note("lifter file, kB", path.stat().st_size / 1e3)
        for name in (".workbench", ".previous", "logs", "committed"):
            size = sum(path.stat().st_size for path in (gym / name).rglob("*") if path.is_file())
            self.costs.note(f"{name}, kB", size / 1e3)

    def review(self) -> None:
        """Walk forward through the whole log of one lifter, a quarter of the year, half of it, and all."""
        of_lifters, _ = logs_of_gym(self.coach.gym.path)
        one = of_lifters[0]
        for part in (0.25, 0.5, 1.0):
            self.costs.week = round(part * self.weeks)
            until = FIRST_MONDAY + datetime.timedelta(weeks=self.costs.week)
            rows = one.rows[one.rows["date"].dt.date < until]
            with self.costs.of("review of one lifter"):
                walk_forward([type(one)(one.lifter, rows)], simple_rules=False, draws=DRAWS)

    # ---- what has to be true at the end -----------------------------------------------------------------------------

    def faults(self) -> list[str]:
        """Return all that was lost, doubled, or is otherwise than the books say; nothing where all is well."""
        self.watch.end()
        return [
            *self._faults_of_logs(),
            *self._faults_of_commits(),
            *self._faults_of_versions(),
            *self._faults_of_lifters(),
            *(f"outside the gym's folder: {place}" for place in self.watch.outside),
        ]

    def _faults_of_logs(self) -> list[str]:
        gym = self.coach.gym
        there = {one.lifter.name: one.rows for one in logs_of_gym(gym.path)[0]}
        said = [f"{name} has left and is still there" for name in self.books.left & there.keys()]
        # The logs of those who left stay: with the file as it last was they are read as ever.
        paths = [self.coach.path_of(one) for one in self.everybody if one.name in self.books.left]
        gone = {path: workbench.read_lifter(gym.versions(path)[-1], gym_numbers=False) for path in paths}
        of_gone, _ = logs_of_lifters(gone, gym.files("logs")) if gone else ([], [])
        found = there | {one.lifter.name: one.rows for one in of_gone}
        for name, done in self.books.sets.items():
            rows = found.get(name, _NO_ROWS)
            columns = (rows["date"].dt.date, rows["exercise"], rows["load_kg"].round(2), rows["reps"])
            logged = zip(*(column.tolist() for column in columns), rows["outcome"] == "failed", strict=True)
            said += apart(logged, map(told, done), name)
        return said

    def _faults_of_commits(self) -> list[str]:
        found = list_committed(self.coach.gym.path / "committed")
        said = apart(map(str, found), map(str, self.books.committed), "committed")
        return said + [str(one) for one in map(verified, found) if not one.same]

    def _faults_of_versions(self) -> list[str]:
        said = []
        for path, trail in self.books.trails.items():
            if not path.exists():
                continue
            read = _READERS[path.parent.name]
            for version in self.coach.gym.versions(path):
                read(version)
            now, edited = path.read_bytes(), self.coach.gym.edit(path)
            back = [now]
            while edited.can_undo:
                back.append(edited.undo())
                if path.read_bytes() != back[-1]:
                    said.append(f"{path.name}: undo gives other bytes than the file has")
            while edited.can_redo:
                edited.redo()
            said += apart(map(_short, back), map(_short, trail), f"{path.name}, versions")
            if path.read_bytes() != now:
                said.append(f"{path.name} is another one after undo and redo")
        return said

    def _faults_of_lifters(self) -> list[str]:
        """Hold the sets that a lifter file says it learned from against those that were done until then."""
        said = []
        for athlete in self.there(self.weeks):
            known = workbench.read_lifter(self.coach.path_of(athlete)).learned or {}
            counted = {
                (day, name): int(stamp.split()[0]) for name, days in known.items() for day, stamp in days.items()
            }
            done: dict[tuple[str, str], int] = {}
            for one in self.books.learned.get(athlete.name, ()):
                key = (one.day.isoformat(), one.exercise)
                done[key] = done.get(key, 0) + 1
            said += apart(counted.items(), done.items(), f"{athlete.name}, learned")
        return said


def _short(content: bytes) -> str:
    return f"{len(content)} bytes, {hash(content):x}"
