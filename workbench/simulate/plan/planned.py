"""What a plan holds: every set, ramp set and setting up of every session, with one value for each week. Data only."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np

from workbench.gym.catalogue import Catalogue
from workbench.gym.equipment import Room
from workbench.gym.equipment.loads import Unit
from workbench.lifter import Lifter
from workbench.models.fatigue import FatigueForm
from workbench.models.load_reps import Curve
from workbench.models.sharing import Carry, overlap_matrix
from workbench.prescription.block import Block, ExerciseSlot, Session
from workbench.quantities import FloatArray
from workbench.simulate.plan.clock import Reached

__all__ = [
    "Plan",
    "PlannedChain",
    "PlannedSession",
    "PlannedSet",
    "RampSet",
    "SetArrays",
    "SetPlace",
    "SetPlaces",
    "SetUp",
    "overlap_of",
]


@dataclass(frozen=True)
class PlannedSet:
    """One set, or one drop, of a session, with one value for each week.

    Attributes
    ----------
    exercise, lane : str, int
        The exercise, and its index in the plan's ``exercises``.
    slot, group, number, drop : int
        Place in the session, group within the exercise, set within the exercise (all from 1), and the number of the
        drop (0 for the set itself).
    wanted_kg, load_kg : array, shape (weeks,), [kg]
        Load before and after rounding to the room.
    body_kg : float
        Part of ``load_kg`` that is the lifter's own body; 0 but for moves against body mass.
    load_fraction : array, shape (weeks,), [1]
        ``load_kg`` over the believed 1RM.
    reps_low, reps_high : array, shape (weeks,), [reps]
        Fewest reps that count as made, and most that are done; the highest is infinite for a set to failure.
    active : array, shape (weeks,), bool
        Whether the set is done in that week.
    start_s, end_s : array, shape (weeks,), [s]
        Session clock.
    rest_s : array, shape (weeks,), [s]
        From the end of the last set of this exercise; 0 for its first.
    seconds_per_rep : float, [s]
    slowness : float, [1], >= 0
        How much slower that is than usual for the exercise; see `workbench.models.tempo.slowness`.
    leaves : array, shape (weeks,), [reps], optional
        Reps in reserve that the set is to leave, where that is how it is given: it then ends where it ends.
    unit : {"kg", "lb"}
        That of the piece of equipment.
    hands : int
        Two for a pair of dumbbells, whose load is spoken of by one hand.
    """

    exercise: str
    lane: int
    slot: int
    group: int
    number: int
    drop: int
    wanted_kg: FloatArray
    load_kg: FloatArray
    body_kg: float
    load_fraction: FloatArray
    reps_low: FloatArray
    reps_high: FloatArray
    active: np.ndarray
    start_s: FloatArray
    end_s: FloatArray
    rest_s: FloatArray
    seconds_per_rep: float = 3.0
    slowness: float = 0.0
    leaves: FloatArray | None = None
    unit: Unit = "kg"
    hands: int = 1

    @property
    def prescribed(self) -> np.ndarray:
        """In which weeks it is done with reps that are meant to be made, shape (weeks,), bool.

        A set to failure or to a stated reserve ends where it ends: its reps are a forecast, and none is missed.
        """
        return np.asarray(self.active & np.isfinite(self.reps_high) & (self.leaves is None))

    @property
    def label(self) -> str:
        """Short name for tables: "3" for a set, "3, drop 1" for a drop."""
        return f"{self.number}, drop {self.drop}" if self.drop else str(self.number)


@dataclass(frozen=True)
class RampSet:
    """A warm-up set on the way to the first working load of an exercise; counted in time, not in fatigue."""

    exercise: str
    slot: int
    load_kg: FloatArray
    reps: int
    start_s: FloatArray
    end_s: FloatArray


@dataclass(frozen=True)
class SetUp:
    """Going to an exercise and setting it up, [s] on the session clock, each of shape (weeks,)."""

    exercise: str
    slot: int
    start_s: FloatArray
    end_s: FloatArray


@dataclass(frozen=True)
class PlannedChain:
    """An exercise done by itself, or those whose sets alternate, as worked out in one session.

    ``slots``: what was worked out, by its place in the session; ``begins``: the value of what the session had come to
    before (`workbench.simulate.plan.clock.Reached`); ``ends``: what it has come to after. From the same slots and an
    equal beginning comes the same.
    """

    slots: dict[int, ExerciseSlot]
    begins: tuple[object, ...]
    ends: Reached
    sets: tuple[PlannedSet, ...]
    ramps: tuple[RampSet, ...]
    set_ups: tuple[SetUp, ...]
    warnings: tuple[str, ...]


class SetArrays(NamedTuple):
    """The numbers of all sets of a session, as `PlannedSet` has them, each of shape (sets, weeks).

    ``leaves`` is NaN for sets that are not given by the reps in reserve that they leave.
    """

    load_kg: FloatArray
    load_fraction: FloatArray
    reps_low: FloatArray
    reps_high: FloatArray
    active: np.ndarray
    start_s: FloatArray
    end_s: FloatArray
    rest_s: FloatArray
    leaves: FloatArray

    @property
    def to_be_made(self) -> np.ndarray:
        """Whether reps are prescribed that are meant to be made, in weeks without the set too."""
        return np.asarray(np.isfinite(self.reps_high) & np.isnan(self.leaves))


class SetPlace(NamedTuple):
    """Where a set stands in its session and what it is, as `PlannedSet` has it."""

    slot: int
    exercise: str
    group: int
    number: int
    drop: int
    label: str
    unit: Unit
    hands: int
    body_kg: float


class SetPlaces(NamedTuple):
    """The same of all sets of a session, and in which weeks each is done (bytes of an array of bool), as one value."""

    sets: tuple[SetPlace, ...]
    active: bytes


@dataclass(frozen=True)
class PlannedSession:
    """One session of the week: its sets and ramp sets in order, and its duration in each week.

    ``of`` is the session of the block that was worked out, repeats written out; ``warnings`` what was met on the way;
    ``chains`` the same by exercise.
    """

    of: Session
    sets: tuple[PlannedSet, ...]
    ramps: tuple[RampSet, ...]
    duration_s: FloatArray
    set_ups: tuple[SetUp, ...]
    warnings: tuple[str, ...]
    chains: tuple[PlannedChain, ...] = field(repr=False)

    @cached_property
    def arrays(self) -> SetArrays:
        """The numbers of all sets."""
        nowhere = np.full(self.duration_s.size, np.nan)
        columns = {name: [getattr(one, name) for one in self.sets] for name in SetArrays._fields}
        columns["leaves"] = [nowhere if leaves is None else leaves for leaves in columns["leaves"]]
        return SetArrays(**{name: np.array(column) for name, column in columns.items()})

    @cached_property
    def places(self) -> SetPlaces:
        """Where its sets stand and what they are."""
        sets = tuple(SetPlace(*(getattr(one, name) for name in SetPlace._fields)) for one in self.sets)
        return SetPlaces(sets, self.arrays.active.tobytes())

    @property
    def name(self) -> str:
        """The session's name."""
        return self.of.name

    @property
    def day(self) -> int | None:
        """Its day of the week, where the block has one."""
        return self.of.day


@dataclass(frozen=True)
class Plan:
    """A block worked out for a lifter in a room, with all that it was worked out by.

    Attributes
    ----------
    block, lifter, room
    exercises : tuple of str
        One lane each.
    sessions : tuple of PlannedSession
    form, curve : FatigueForm, Curve
    carry : Carry
        How strongly fatigue passes; `workbench.models.sharing.NO_CARRY` keeps every exercise to itself.
    stations : dict
        What was found of an exercise and its equipment for this lifter in this room: the same for a changed block.
    """

    block: Block
    lifter: Lifter
    room: Room
    exercises: tuple[str, ...]
    sessions: tuple[PlannedSession, ...]
    form: FatigueForm
    curve: Curve
    carry: Carry
    stations: dict[tuple[str, str | None], Any] = field(init=False, default_factory=dict, repr=False, compare=False)

    @property
    def weeks(self) -> int:
        """Number of weeks."""
        return self.block.weeks

    @property
    def set_count(self) -> int:
        """Number of sets and drops in one week."""
        return sum(len(session.sets) for session in self.sessions)

    @cached_property
    def overlap(self) -> FloatArray:
        """How much of the fatigue of one exercise (column) counts in another (row), shape (exercises, exercises)."""
        return overlap_of(self.exercises, self.catalogue)

    @property
    def unit(self) -> Unit:
        """The room's, for masses that are on no piece of equipment."""
        return self.room.unit

    @property
    def catalogue(self) -> Catalogue:
        """The room's, which knows the exercises."""
        return self.room.catalogue

    @property
    def warnings(self) -> tuple[str, ...]:
        """What was met on the way, each once."""
        return tuple(dict.fromkeys(f"{one.name}, {text}" for one in self.sessions for text in one.warnings))

    @property
    def terms(self) -> tuple[object, ...]:
        """All that decides how a session is worked out, beside the session: equal terms and session, equal result."""
        lanes = (self.exercises, self.block.weeks, self.block.lighter_weeks)
        return (self.lifter, self.room, *lanes, self.form, self.curve, self.carry)


@lru_cache(maxsize=32)
def overlap_of(exercises: tuple[str, ...], catalogue: Catalogue) -> FloatArray:
    """Overlap of exercises by their muscle shares in a catalogue, shape (exercises, exercises), [1]; read-only."""
    overlap = overlap_matrix(catalogue.shares_of(exercises))
    overlap.flags.writeable = False
    return overlap
