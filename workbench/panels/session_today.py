"""One lifter's session while it is done: what was typed goes into the log at once, and the rest is worked out anew.

The page of the app and the page for a phone both ask this; it shows nothing itself.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from workbench.answers.exchange import NOT_ALL_LOAD, exchange_question
from workbench.answers.session_under_way import Choice
from workbench.answers.start_loads import StartLoads, start_loads
from workbench.answers.today import OpenSession, SetDone, Today
from workbench.answers.what_can_go import what_can_go
from workbench.evidence.predict import STUDIED_RESTS_S
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.log.session_log import (
    EXCHANGED,
    HURT,
    IN_PLACE_OF,
    SKIPPED,
    LogRow,
    SessionLog,
    SessionName,
    log_of,
    session_under_way,
)
from workbench.log.typed import typed_mass, typed_number, typed_seconds, typed_whole
from workbench.prescription.block import Block, Session
from workbench.prescription.edit import Where, change
from workbench.quantities import KG_PER_LB, SEED, InputError
from workbench.reference.gym_folder import GymFolder

__all__ = ["RESERVES", "SessionToday"]

#: What may be said of the reps in reserve.
RESERVES: Final = ("", "0", "1", "2", "3", "4+")
_BODY: Final = "BW"
_MOST_REPS: Final = 200
_MOST_OFFERED: Final = 6
#: A load above so many times the 1RM was typed wrong.
_MOST_ONE_RMS: Final = 2.0
#: Longest rest that can be typed, and that is believed of two presses, s.
_LONGEST_S: Final = 7200.0
_LONGEST_MEASURED_S: Final = 1800.0

Form = Mapping[str, str]


class SessionToday:
    """A session of one week of a block, for one lifter in one room, on one day.

    Parameters
    ----------
    gym : GymFolder
        In whose logs the sets go.
    block, lifter, room
    week, session : int
        Counted from 1.
    limit : float, [1], 0 to 1
        Chance wanted for every set.
    now : callable
        The clock.
    seed, draws : int

    Attributes
    ----------
    log : SessionLog
    offered, offered_for, offered_cautions : list of str, str, list of str
        Exercises that could stand for one, until the next thing is typed, and the cautions of what they add.
    advice : list of str
        What can go, where that was asked, until the next thing is typed.

    Raises
    ------
    InputError
        What is chosen cannot be worked out, or the gym's logs cannot be read.
    """

    # More than seven parameters: what a coach may leave to its default is a keyword.
    def __init__(
        self,
        gym: GymFolder,
        block: Block,
        lifter: Lifter,
        room: Room,
        *,
        week: int,
        session: int,
        limit: float = 0.85,
        now: Callable[[], datetime.datetime] = datetime.datetime.now,
        seed: int = SEED,
        draws: int = 2000,
    ) -> None:
        self.block, self.lifter, self.room = block, lifter.with_catalogue(room.catalogue), room
        self.week, self.number, self._now = week, block.session_number(session), now
        self._asked: dict[str, Any] = {"choice": Choice(limit, 0.0, 0.3), "draws": draws, "seed": seed}
        self._gym = gym
        self.log = self._log_of_now()
        self.offered: list[str] = []
        self.offered_cautions: list[str] = []
        self.advice: list[str] = []
        self.offered_for = ""
        self._first = ""
        self._opened: tuple[object, OpenSession, StartLoads] | None = None
        self._answered: tuple[list[LogRow], OpenSession, Today] | None = None
        self.opened(self.rows())

    def rows(self) -> list[LogRow]:
        """Return the rows of the session as the log has them now; those of another day are another session."""
        if self.log.name.day != self._now().date():
            self.log = self._log_of_now()
        return self.log.rows()

    def _log_of_now(self) -> SessionLog:
        path = log_of(self._gym, self.lifter.name, self.block.name)
        title = self._session(self.block).name
        name = SessionName(self.lifter.name, self.block.name, self.week, self.number, title, self._now().date())
        before = session_under_way(path, name.lifter, name.block, self._now())
        if before is not None and replace(before, day=name.day) == name:
            name = before  # begun before midnight
        return SessionLog(path, name)

    # ---- what follows from the rows ---------------------------------------------------------------------------------

    def opened(self, rows: Sequence[LogRow]) -> OpenSession:
        """Return the session worked out with the exchanges among the rows; made anew only where something changes."""
        asked = _exchanges(rows), self._first
        if self._opened is None or self._opened[0] != asked:
            self._opened = (asked, *self._open_with(_exchanges(rows)))
        return self._opened[1]

    @property
    def start(self) -> StartLoads:
        """What the session begins with: the lifter, with the 1RMs that follow by ratio."""
        assert self._opened is not None
        return self._opened[2]

    def answer(self, rows: Sequence[LogRow]) -> Today:
        """Return what the rows done say of the rest; worked out anew only where they changed."""
        opened = self.opened(rows)
        if self._answered is None or self._answered[:2] != (list(rows), opened):
            self._answered = list(rows), opened, opened.after(self._sets(rows), self.skipped(rows))
        return self._answered[2]

    def skipped(self, rows: Sequence[LogRow]) -> list[str]:
        """Return the exercises of which no more will be done."""
        return [row.exercise for row in rows if row.note in (SKIPPED, HURT) and row.reps is None]

    def exercises(self, rows: Sequence[LogRow]) -> list[str]:
        """Return the exercises of the session in order, exchanges made."""
        return list(dict.fromkeys(one.exercise for one in self.opened(rows).plan.sessions[0].sets))

    def _open_with(self, exchanged: Sequence[tuple[str, str]]) -> tuple[OpenSession, StartLoads]:
        block = self._block_with(exchanged)
        if self._first:
            block = change(block, Where(self.number, self._first), exercises=self.room.catalogue, move_to=1)
        alone = block.model_copy(update={"sessions": [self._session(block)]})
        start = start_loads(alone, self.lifter, self.room)
        if start.to_find:
            names = ", ".join(start.to_find)
            remedy = "type any set that is remembered where the lifter is edited, or choose another exercise"
            raise InputError(None, f"lifter {self.lifter.name}", f"has no 1RM for {names}", remedy)
        return OpenSession(alone, start.lifter, self.room, week=self.week, **self._asked), start

    def _session(self, block: Block) -> Session:
        return block.expanded_sessions()[self.number - 1]

    def _sets(self, rows: Sequence[LogRow]) -> list[SetDone]:
        """Return the sets done as the question takes them, whose rest counts from whatever was done before."""
        done: list[SetDone] = []
        for row in rows:
            if row.reps is not None:
                stays = bool(done) and done[-1].exercise == row.exercise
                done.append(self._set(row, row.rest_s if stays else None))
        return done

    def _set(self, row: LogRow, rest_s: float | None) -> SetDone:
        assert row.reps is not None
        added = row.load.removeprefix(_BODY) or "0"
        kg = float(added) * (KG_PER_LB if row.unit == "lb" else 1.0) * self.room.catalogue.hands_of(row.exercise)
        # As the log's reader has it: that four or more were left says nothing of how many.
        reserve = None if row.failed or not row.reserve.isdigit() else float(row.reserve)
        return SetDone(row.exercise, kg, row.reps, row.failed, reserve, rest_s)

    # ---- what is typed ----------------------------------------------------------------------------------------------

    def take(self, form: Form) -> None:
        """Do what a form asks for; what is written is on the disk when this returns.

        Parameters
        ----------
        form : mapping of str to str
            ``do``: set, skip, hurts, first, undo, offer, exchange or save; ``entry``: the page's; and the fields of
            each as typed.

        Raises
        ------
        InputError
            Something typed cannot be used, or it was typed for a page that is no longer so. Nothing was then written.
        """
        verbs: dict[str, Callable[[Form, list[LogRow]], None]] = {
            "set": self._take_set,
            "skip": self._take_skip,
            "hurts": self._take_skip,
            "first": self._take_first,
            "undo": self._take_back,
            "offer": self._offer,
            "exchange": self._take_exchange,
            "save": self._save_time,
        }
        verb = verbs.get(form.get("do", ""))
        if verb is None:
            raise InputError(None, "page", "asks for something unknown", "load it anew")
        rows = self.rows()
        writes = form.get("do") in ("set", "skip", "hurts", "exchange")
        if writes and any(row.entry == form.get("entry") for row in rows):
            return  # sent twice
        offered, self.offered, self.advice = self.offered, [], []
        try:
            verb(form, rows)
        except InputError:
            self.offered = offered
            raise

    def _take_set(self, form: Form, rows: list[LogRow]) -> None:
        name = self._in_session(form.get("exercise", ""), rows)
        failed = form.get("failed", "") == "yes"
        reserve = "" if failed else form.get("reserve", "")
        if reserve not in RESERVES:
            raise InputError(None, "reps left", "is none of those offered", "choose one of them")
        load, unit = self._load(form.get("other", "").strip() or form.get("load", ""), name, rows)
        first = not any(row.exercise == name and row.reps is not None for row in rows)
        reps = typed_whole(form.get("reps", ""), 0, _MOST_REPS, unit="reps")
        row = LogRow(
            entry=form.get("entry", ""),
            time=self._now().time().replace(microsecond=0),
            exercise=name,
            label=self._label(name, rows),
            load=load,
            unit=unit,
            reps=reps,
            failed=failed,
            reserve=reserve,
            rest_s=None if first else self._rest(form, name, reps, rows),
            body_mass_kg=self.lifter.body_mass_kg if load.startswith(_BODY) else None,
            note=next((f"{IN_PLACE_OF}{one.exercise}" for one in rows if one.note == f"{EXCHANGED}{name}"), ""),
        )
        self._refuse_slip(self._set(row, None), rows)
        self.log.add(row)

    def _refuse_slip(self, done: SetDone, rows: Sequence[LogRow]) -> None:
        """Refuse a load that a mark or a digit too many made: 585 for 58.5 would be learned from as if lifted."""
        planned = next(one for one in self.opened(rows).plan.sessions[0].sets if one.exercise == done.exercise)
        one_rm_kg = float(planned.load_kg[self.week - 1] / planned.load_fraction[self.week - 1])
        if done.load_kg + planned.body_kg > _MOST_ONE_RMS * one_rm_kg:
            problem = f"{done.load_kg:g} kg is more than {_MOST_ONE_RMS:g} times the lifter's 1RM of {one_rm_kg:.0f} kg"
            raise InputError(None, done.exercise, problem, "type the load that was lifted, or mend the 1RM first")

    def _take_skip(self, form: Form, rows: list[LogRow]) -> None:
        name = self._in_session(form.get("exercise", ""), rows)
        if name not in self.skipped(rows):
            note = HURT if form.get("do") == "hurts" else SKIPPED
            self.log.add(LogRow(form.get("entry", ""), self._now().time(), name, note=note))

    def _take_first(self, form: Form, rows: list[LogRow]) -> None:
        """Do an exercise before the others that are to come, as where its place is free."""
        before, self._first = self._first, self._in_session(form.get("exercise", ""), rows)
        try:
            self.opened(rows)
        except InputError:
            self._first = before
            raise

    def _take_back(self, form: Form, _rows: list[LogRow]) -> None:
        self.log.take_back(form.get("last", ""))

    def _offer(self, form: Form, rows: list[LogRow]) -> None:
        name = self._untouched(form.get("exercise", ""), rows)
        found = exchange_question(self.start.lifter, self.room, name, most=4 * _MOST_OFFERED)
        known = found.table[found.table["basis"] != "find the load"]["exercise"]
        self.offered_for = name
        self.offered = [other for other in known if other not in self.exercises(rows)][:_MOST_OFFERED]
        if not self.offered:
            raise InputError(None, name, "has no exchange with a known load here", "leave it out, or ask the coach")
        self.offered_cautions = [*found.added(self.offered), NOT_ALL_LOAD]

    def _take_exchange(self, form: Form, rows: list[LogRow]) -> None:
        name = self._untouched(form.get("exercise", ""), rows)
        instead = self.room.catalogue.exercise(form.get("instead", "")).name
        row = LogRow(form.get("entry", ""), self._now().time(), name, note=f"{EXCHANGED}{instead}")
        if instead in self.exercises(rows):
            raise InputError(None, instead, "is in the session already", "choose another")
        self.opened([*rows, row])  # refused where no load is known
        self.log.add(row)

    def _untouched(self, written: str, rows: list[LogRow]) -> str:
        """Return an exercise that can still be exchanged as a whole."""
        name = self._in_session(written, rows)
        if any(row.exercise == name and row.reps is not None for row in rows):
            raise InputError(None, name, "has sets done already", "leave the rest of it out instead")
        slots = (one for one in self._session(self.block).exercises if self._name(one.exercise) == name)
        if any(group.way in ("kg", "lb") for slot in slots for group in slot.sets):
            problem = "has its loads written in kg or lb, which are no other exercise's"
            raise InputError(None, name, problem, "exchange it in the block, with new loads")
        return name

    def _save_time(self, form: Form, rows: list[LogRow]) -> None:
        minutes = typed_number(form.get("minutes", ""), 0.0, 600.0, unit="min", words={"minutes": 1.0}, example="25")
        done, skipped = self._sets(rows), self.skipped(rows)
        left = self.opened(rows).seconds_left(done, skipped) / 60.0
        if left <= minutes:
            self.advice = [f"What is left takes about {left:.0f} min as planned: nothing has to go."]
            return
        counts = Counter(one.exercise for one in done)
        block = self._block_with(_exchanges(rows))
        for name in skipped:
            if not counts[name] and len(self._session(block).exercises) > 1:
                block = change(block, Where(self.number, name), exercises=self.room.catalogue, leave_out=True)
        ways = what_can_go(
            block,
            start_loads(block, self.lifter, self.room).lifter,
            self.room,
            minutes=max(left - minutes, 1.0),
            session=self.number,
            week=self.week,
            done=counts,
            keep=[name for name in skipped if counts[name]],
            draws=500,
        )
        about = f"What is left takes about {left:.0f} min as planned, {left - minutes:.0f} more than there are."
        self.advice = [about, *ways.sentences(), *(f"{note}." for note in ways.notes)]

    def _block_with(self, exchanged: Sequence[tuple[str, str]]) -> Block:
        block = self.block
        for old, new in exchanged:
            block = change(block, Where(self.number, old), exercises=self.room.catalogue, exchange=new)
        return block

    # ---- reading what was typed -------------------------------------------------------------------------------------

    def _name(self, written: str) -> str:
        return self.room.catalogue.exercise(written).name

    def _in_session(self, written: str, rows: Sequence[LogRow]) -> str:
        name = self._name(written)
        if name not in self.exercises(rows):
            raise InputError(None, name, "is not in this session", "exchange one for it first")
        return name

    def _load(self, text: str, name: str, rows: Sequence[LogRow]) -> tuple[str, str]:
        """Return a typed load as the log has it, with its unit; of moves against body mass what is put on."""
        planned = next(one for one in self.opened(rows).plan.sessions[0].sets if one.exercise == name)
        body = planned.body_kg > 0.0
        if body and text.strip().upper() in ("", "0", _BODY, "BODY MASS"):
            return _BODY, planned.unit
        mass = typed_mass(text.strip().upper().removeprefix(_BODY).lower(), planned.unit, each_hand=planned.hands == 2)
        if not body and not mass.value:
            raise InputError(None, "load", "is 0", "type the whole load, the bar with it")
        return f"{f'{_BODY}+' if body else ''}{mass.value:.10g}", mass.unit

    def _rest(self, form: Form, name: str, reps: int, rows: Sequence[LogRow]) -> float | None:
        """Return the rest as typed, else as measured [s]; None where it is neither.

        Between two presses of "Set done" lie the rest and the set. What is left without its reps is no rest where sets
        were typed one after the other, or long after.
        """
        if typed := form.get("rest", "").strip():
            return typed_seconds(typed, 0.0, _LONGEST_S)
        try:
            between_s = float(form.get("between", ""))
        except ValueError:
            return None
        planned = next(one for one in self.opened(rows).plan.sessions[0].sets if one.exercise == name)
        rest_s = between_s - planned.seconds_per_rep * reps
        shortest = 0.0 if "drop" in self._label(name, rows) else STUDIED_RESTS_S[0]
        return float(round(rest_s)) if shortest <= rest_s <= _LONGEST_MEASURED_S else None

    def _label(self, name: str, rows: Sequence[LogRow]) -> str:
        to_come = self.answer(rows).sets
        of_this = to_come[to_come["exercise"] == name]["set"]
        if len(of_this):
            return str(of_this.iloc[0])
        labels = [row.label for row in rows if row.exercise == name and row.reps is not None]
        last = labels[-1].partition(",")[0] if labels else "0"
        return str(int(last) + 1)


def _exchanges(rows: Sequence[LogRow]) -> tuple[tuple[str, str], ...]:
    """Return the exercises exchanged, each with what stands for it."""
    marked = (row for row in rows if row.reps is None and row.note.startswith(EXCHANGED))
    return tuple((row.exercise, row.note.removeprefix(EXCHANGED)) for row in marked)
