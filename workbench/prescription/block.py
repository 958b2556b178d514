"""What is prescribed: a block of weeks, sessions, exercises and set groups, as read from TOML. Data only.

A block says what the coach wants; `workbench.simulate.plan` works out the loads for one lifter in one room.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, Field, field_validator, model_validator

from workbench.gym.catalogue import Catalogue, built_in
from workbench.prescription.adjust import Adjust
from workbench.prescription.progression import ByWeek, Progression, Rule, Step, Weekly
from workbench.quantities import FloatArray, InputError
from workbench.reference.toml_files import Number, PlacedError, Strict, Whole, read_model

__all__ = [
    "LOAD_KEYS",
    "MOST_SETS",
    "WHOLE_WEEK",
    "Block",
    "Drops",
    "ExerciseSlot",
    "LighterWeek",
    "Limits",
    "Reps",
    "Session",
    "SetGroup",
    "read_block",
]

#: What the load of a set may be, in each way to give it, week by week: lowest, highest, unit.
_LOADS: Final = {
    "percent": (1.0, 120.0, "% of 1RM"),
    "reps_in_reserve": (0.0, 10.0, "reps in reserve"),
    "part": (0.01, 1.2, "of the load of an earlier group"),
    "kg": (0.1, 1000.0, "kg"),
    "lb": (0.1, 2200.0, "lb"),
}
_MOST_REPS: Final = 100
#: Sets and drops of a block, each week counted: several years of daily training. What is simulated for every one of
#: them, 2,000 runs of days each, then stays well below 1 GiB.
MOST_SETS: Final = 12_000
#: What tables call the row for all sessions of a week; no session may have this name.
WHOLE_WEEK: Final = "whole week"

#: How a group without progression changes from week to week.
_UNCHANGED: Final = Step(rule="step", step=0)

#: Ways to give a load; a part goes with the group that it is of.
LOAD_KEYS: Final = tuple(_LOADS)


def _within(way: str) -> Any:
    """Return the field constraint for a way to give the load."""
    low, high, _ = _LOADS[way]
    return Field(ge=low, le=high)


def _reps_bounds(value: object) -> object:
    """Turn 6, [8, 12] or "failure" into a pair of bounds; infinite means to failure."""
    if isinstance(value, tuple):
        return value
    if value == "failure":
        return (1, float("inf"))
    if isinstance(value, int) and not isinstance(value, bool):
        return (value, value)
    if isinstance(value, list) and len(value) == 2 and all(type(part) is int for part in value):
        return tuple(value)
    raise ValueError('reps must be a whole number, a range such as [8, 12], or "failure"')


def _check_reps(value: tuple[int, float]) -> tuple[int, float]:
    low, high = value
    if not 1 <= low <= _MOST_REPS or (high != float("inf") and high > _MOST_REPS):
        raise ValueError(f"reps out of range; use 1 to {_MOST_REPS}")
    if high < low:
        raise ValueError("the range of reps runs downwards; give the lower number first")
    return value


#: Lowest and highest reps of a set; the highest is infinite for a set to failure.
Reps = Annotated[tuple[int, float], BeforeValidator(_reps_bounds), AfterValidator(_check_reps)]


class Drops(Strict):
    """Loads taken off straight after a set, each followed by another run of reps.

    ``sizes``: percent taken off, each from the load before it. ``change_s``: seconds to change the load.
    """

    sizes: list[Annotated[Number, Field(gt=0, lt=90)]] = Field(min_length=1, max_length=6)
    change_s: Annotated[Number, Field(ge=0, le=120)] = 12.0
    reps: Reps = (1, float("inf"))


class SetGroup(Strict):
    """Sets alike: how many, how many reps, at what load, with how much rest after each.

    The load is given in exactly one way: ``percent`` of 1RM, ``reps_in_reserve`` to be left, ``part`` of the load of
    an earlier group of the same exercise (``part_of_group``, counted from 1), or ``kg`` or ``lb``. For two dumbbells
    ``each_hand`` then says whether every such number is that of one hand (true) or of both together (false).
    """

    count: Annotated[Whole, Field(ge=1, le=20)] = 1
    reps: Reps
    percent: Annotated[Number, _within("percent")] | None = None
    reps_in_reserve: Annotated[Number, _within("reps_in_reserve")] | None = None
    part_of_group: Annotated[Whole, Field(ge=1, le=20)] | None = None
    part: Annotated[Number, _within("part")] | None = None
    kg: Annotated[Number, _within("kg")] | None = None
    lb: Annotated[Number, _within("lb")] | None = None
    each_hand: bool | None = None
    rest_s: Annotated[Number, Field(ge=0, le=1800)]
    seconds_per_rep: Annotated[Number, Field(ge=0.5, le=30)] | None = None
    drops: Drops | None = None
    adjust: Adjust | None = None
    progression: Progression | None = None
    note: str = ""

    @model_validator(mode="after")
    def _one_load(self) -> SetGroup:
        if (self.part is None) != (self.part_of_group is None):
            raise ValueError("part and part_of_group go together; give both, as in part_of_group = 1, part = 0.85")
        given = [key for key in LOAD_KEYS if getattr(self, key) is not None]
        if len(given) != 1:
            found = " and ".join(given) if given else "none"
            raise ValueError(f"the load is given as {found}; give exactly one of {', '.join(LOAD_KEYS)}")
        if self.reps_in_reserve is not None and self.to_failure:
            raise ValueError(
                "a set to failure leaves nothing in reserve; give the load in another way, or reps as a number"
            )
        if self.adjust is not None and (self.to_failure or self.reps_in_reserve is not None):
            raise ValueError(
                "adjust is for sets with reps to be made; leave it out of a set to failure or to reps in reserve"
            )
        if self.progression is not None and self.part is not None:
            raise ValueError("a part of an earlier group follows that group; leave out progression here")
        return self

    @property
    def to_failure(self) -> bool:
        """Whether the sets end when no further rep can be made."""
        return self.reps[1] == float("inf")

    @property
    def way(self) -> str:
        """How the load is given: one of `LOAD_KEYS`."""
        return next(key for key in LOAD_KEYS if getattr(self, key) is not None)

    @property
    def load_in_week_one(self) -> float:
        """The first week's load, in the unit of its `way`."""
        return self._rule.first(float(getattr(self, self.way)), self.reps[0])[0]

    @property
    def reps_in_week_one(self) -> int:
        """The first week's lowest reps."""
        return self._rule.first(0.0, self.reps[0])[1]

    @property
    def _rule(self) -> Rule:
        return self.progression or _UNCHANGED

    def moved(self, *, load: float = 0.0, reps: int = 0) -> SetGroup:
        """Return the group with the load and reps of every week moved, unchecked.

        A range of reps keeps its width; a set to failure stays one. Loads are kept to nine decimals, so that a sum
        reads as it would be typed.
        """
        fewest = self.reps_in_week_one + reps
        update = {
            self.way: round(self.load_in_week_one + load, 9),
            "reps": self.reps if self.to_failure else (fewest, fewest + self.reps[1] - self.reps[0]),
            "progression": None if self.progression is None else self.progression.moved(load=load, reps=reps),
        }
        return self.model_copy(update=update)

    def weekly(self, weeks: int) -> Weekly:
        """Return load (in the unit it is given in), lowest and highest reps of every week; lighter weeks left aside.

        Raises
        ------
        ValueError
            Where a week asks for a load or for reps that no set may have; says which week, the value and the range.
        """
        self._rule.check(weeks, reps=self.reps)
        load, low, high = self._rule.weekly(float(getattr(self, self.way)), self.reps, weeks)
        _check_weeks(load, *_LOADS[self.way])
        for bound in (low,) if self.to_failure else (low, high):
            _check_weeks(bound, 1, _MOST_REPS, "reps")
        return load, low, high

    def sets_a_week(self) -> int:
        """Return how many sets and drops there are at most in one week."""
        rule = self.progression
        count = max(rule.sets) if isinstance(rule, ByWeek) and rule.sets else self.count
        return count * (1 + (len(self.drops.sizes) if self.drops is not None else 0))


def _check_weeks(values: FloatArray, low: float, high: float, unit: str) -> None:
    for week, value in enumerate(values.tolist(), start=1):
        if not low <= value <= high:
            raise ValueError(
                f"week {week} asks for {value:g} {unit}; keep every week within {low:g} to {high:g}, "
                "by a smaller step or another start"
            )


class ExerciseSlot(Strict):
    """One exercise at its place in a session.

    With ``alternate_with_next`` its sets alternate with those of the next exercise (and on, where that one says so
    too): one set of each in turn. ``rest_s`` stays what it is, the rest after a set, whichever exercise comes next.
    ``important`` marks what the block is for: nothing that is proposed takes load, reps or sets from it.
    """

    exercise: str = Field(min_length=1, max_length=80)
    equipment: str | None = None
    ramp: bool = True
    alternate_with_next: bool = False
    important: bool = False
    sets: list[SetGroup] = Field(min_length=1, max_length=20)
    note: str = ""

    @model_validator(mode="after")
    def _groups(self) -> ExerciseSlot:
        for number, group in enumerate(self.sets, start=1):
            if group.each_hand is not None and group.way not in ("kg", "lb"):
                raise ValueError(f"group {number} gives no kg or lb that each_hand could be about; remove each_hand")
        self.check_hands(built_in())
        for number, group in enumerate(self.sets, start=1):
            if group.part_of_group is None or group.part_of_group < number:
                continue
            if number == 1:
                raise ValueError("group 1 has no earlier one; give its load as percent, reps_in_reserve, kg or lb")
            raise ValueError(
                f"group {number} takes a part of group {group.part_of_group}; name one of 1 to {number - 1}"
            )
        return self

    def check_hands(self, catalogue: Catalogue) -> None:
        """Raise ValueError where a kg or lb could be one dumbbell or both, of an exercise that the catalogue knows."""
        for number, group in enumerate(self.sets, start=1):
            if group.way in ("kg", "lb"):
                catalogue.check_each_hand(self.exercise, group.each_hand, f"kg or lb of group {number}")


class Session(Strict):
    """One session of the week: exercises in order, or a repeat of an earlier session with changes.

    ``repeat_of`` names an earlier session of the week; ``percent_change`` (points of percent of 1RM) and
    ``reps_change`` then shift its percent sets, written out by week or not, so that the load undulates inside the
    week; sets by kg, lb or reps in reserve stay as they are.
    """

    name: str = Field(min_length=1, max_length=80)
    day: Annotated[Whole, Field(ge=1, le=7)] | None = None
    exercises: list[ExerciseSlot] = Field(default=[], max_length=40)
    repeat_of: str | None = None
    percent_change: Annotated[Number, Field(ge=-60, le=60)] = 0.0
    reps_change: Annotated[Whole, Field(ge=-20, le=20)] = 0

    @field_validator("name")
    @classmethod
    def _no_total(cls, name: str) -> str:
        if " ".join(name.split()).casefold() == WHOLE_WEEK:
            raise ValueError(f"tables call the sum of a week {WHOLE_WEEK!r}; give the session another name")
        return name

    @model_validator(mode="after")
    def _exercises_or_repeat(self) -> Session:
        if bool(self.exercises) == bool(self.repeat_of):
            raise ValueError("a session lists exercises or repeats another; give exactly one of exercises, repeat_of")
        if self.exercises and self.exercises[-1].alternate_with_next:
            raise ValueError(
                f"{self.exercises[-1].exercise} is the last exercise and has none to alternate with; "
                "remove alternate_with_next or add an exercise after it"
            )
        if not self.repeat_of and (self.percent_change or self.reps_change):
            raise ValueError("percent_change and reps_change belong to a session with repeat_of; remove them here")
        return self


class LighterWeek(Strict):
    """A week with less: loads and numbers of sets are multiplied by these parts (1 = as planned)."""

    week: Annotated[Whole, Field(ge=1, le=52)]
    load: Annotated[Number, Field(gt=0, le=1)] = 0.9
    sets: Annotated[Number, Field(gt=0, le=1)] = 0.6


class Limits(Strict):
    """What the coach will accept. ``chance_of_reps``: lowest chance that a set's reps are all made."""

    chance_of_reps: Annotated[Number, Field(gt=0, lt=1)] = 0.85
    session_minutes: Annotated[Number, Field(gt=0, le=300)] | None = None


class Block(Strict):
    """A block of training: weeks, sessions of each week, lighter weeks and the coach's limits.

    Attributes
    ----------
    name, note : str
    weeks : int, [weeks], 1 to 52
    sessions : list of Session
        Those of every week, 1 to 14, in order.
    lighter_weeks : list of LighterWeek
    limits : Limits
    """

    name: str = Field(min_length=1, max_length=120)
    note: str = ""
    weeks: Annotated[Whole, Field(ge=1, le=52)]
    sessions: list[Session] = Field(min_length=1, max_length=14)
    lighter_weeks: list[LighterWeek] = Field(default=[], max_length=52)
    limits: Limits = Limits()

    @model_validator(mode="after")
    def _consistent(self) -> Block:
        names: list[str] = []
        for session in self.sessions:
            if session.name in names:
                raise ValueError(f"two sessions are named {session.name!r}; give each its own name")
            if session.repeat_of is not None and session.repeat_of not in names:
                known = ", ".join(names) or "none"
                raise ValueError(f"repeat_of {session.repeat_of!r} is not an earlier session; earlier ones: {known}")
            names.append(session.name)
        weeks = [lighter.week for lighter in self.lighter_weeks]
        if len(set(weeks)) != len(weeks):
            raise ValueError("lighter_weeks names a week twice; keep one")
        if weeks and max(weeks) > self.weeks:
            raise ValueError(f"lighter_weeks names week {max(weeks)} of {self.weeks}; use 1 to {self.weeks}")
        self._check_groups()
        return self

    def _check_groups(self) -> None:
        """Check every set group, repeats written out: every week within range, and not too many sets."""
        sets, within = 0, set[int]()  # one group may stand at several places
        for number, session in enumerate(self.expanded_sessions()):
            for place, slot in enumerate(session.exercises):
                for at, group in enumerate(slot.sets):
                    sets += group.sets_a_week()
                    if id(group) in within:
                        continue
                    try:
                        group.weekly(self.weeks)
                        within.add(id(group))
                    except ValueError as error:
                        if self.sessions[number].repeat_of is None:
                            path = ("sessions", number, "exercises", place, "sets", at)
                            raise PlacedError(str(error), *path) from None
                        raise PlacedError(f"{slot.exercise}, group {at + 1}: {error}", "sessions", number) from None
        if sets * self.weeks > MOST_SETS:
            raise ValueError(
                f"{sets:,} sets and drops a week for {self.weeks} weeks are {sets * self.weeks:,}; "
                f"use at most {MOST_SETS:,} in a block"
            )

    def session_number(self, session: str | int) -> int:
        """Return the number, from 1, of a session given by its name or number; InputError where there is none."""
        names = {number: one.name for number, one in enumerate(self.sessions, start=1)}
        if isinstance(session, str):
            wanted = session.strip().casefold()
            found = next((number for number, name in names.items() if name.casefold() == wanted), 0)
        else:
            found = session
        if found not in names:
            shown = "; ".join(f"{number} {name}" for number, name in names.items())
            raise InputError(None, "session", f"the block has no session {session!r}", f"use one of: {shown}")
        return found

    def expanded_sessions(self) -> list[Session]:
        """Return every session with its exercises written out: repeats, and how they shift their sets, are resolved."""
        done: dict[str, Session] = {}
        for session in self.sessions:
            if session.repeat_of is None:
                done[session.name] = session
                continue
            load, reps = session.percent_change, session.reps_change
            slots = []
            for slot in done[session.repeat_of].exercises:
                sets = [group if group.percent is None else group.moved(load=load, reps=reps) for group in slot.sets]
                slots.append(slot.model_copy(update={"sets": sets}))
            plain = {"exercises": slots, "repeat_of": None, "percent_change": 0.0, "reps_change": 0}
            done[session.name] = session.model_copy(update=plain)
        return list(done.values())


def read_block(path: str | Path) -> Block:
    """Read a block from TOML.

    Parameters
    ----------
    path : str or Path
        A block file, such as ``data/demo/block.toml``.

    Returns
    -------
    Block
        What the coach wants, in the units of the file; for a lifter and a room, `check` works out the loads [kg].

    Raises
    ------
    InputError
        With file, place and remedy if the file cannot be used.
    """
    return read_model(path, Block)
