"""With what does a block begin where no 1RM is known? By ratio to a known lift, else by a safe search from below.

The block works in either case: what is known by ratio is forecast with a wide interval, what is still to be found has
its search in place of a forecast.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

from workbench.answers.load_search import OneRmGuess, guess_one_rm
from workbench.gym.catalogue import Exercise
from workbench.gym.equipment import Room
from workbench.lifter import Lift, Lifter
from workbench.prescription.block import Block, ExerciseSlot, Session
from workbench.prescription.edit import Where, change
from workbench.present.answer import Answer
from workbench.present.words import say_load
from workbench.quantities import InputError
from workbench.simulate.plan import Plan

__all__ = ["StartLoads", "lift_by_ratio", "lifter_for", "ratio_notes", "start_loads", "with_ratios"]


@dataclass(frozen=True, repr=False)
class StartLoads(Answer):
    """What a block of a lifter begins with.

    Attributes
    ----------
    whole : Block
        As it was asked about.
    block : Block or None
        Without the exercises whose load is still to be found, so that the rest can be forecast; None where nothing is
        left.
    lifter : Lifter
        With the 1RMs that follow by ratio.
    by_ratio, to_find : mapping of str to OneRmGuess
        Exercises of the block whose 1RM the lifter file does not have.
    """

    whole: Block
    block: Block | None
    lifter: Lifter
    by_ratio: Mapping[str, OneRmGuess]
    to_find: Mapping[str, OneRmGuess]

    @property
    def notes(self) -> tuple[str, ...]:
        """Say of each exercise without a 1RM where its load comes from."""
        by_ratio = []
        for name, guess in self.by_ratio.items():
            hands = self.lifter.catalogue.hands_of(name)
            about, low, high = (
                say_load(kg, hands=hands, digits=0) for kg in (guess.one_rm_kg, guess.low_kg, guess.high_kg)
            )
            by_ratio.append(
                f"{name}: no 1RM in the lifter file; taken as about {about} ({guess.note}), unsure by {low} to {high}. "
                "Begin below it"
            )
        return (*by_ratio, *self.notes_to_find)

    @property
    def notes_to_find(self) -> tuple[str, ...]:
        """Say which exercises have no forecast."""
        return tuple(f"{name}: no 1RM is known, so no forecast; find the load first" for name in self.to_find)

    def sentences(self) -> list[str]:
        """Say how to find each load that is not known."""
        lines = [f"{name}: {line}" for name, guess in self.to_find.items() for line in guess.protocol]
        return lines or ["Every exercise of the block has a load to begin with."]

    def forecast_place(self, where: Where) -> Where | None:
        """Return where a place of the whole block, by numbers, stands in what is forecast; None if nowhere."""
        if self.block is None:
            return None
        sessions = self.whole.expanded_sessions()
        session = sessions[int(where.session or 0) - 1]
        names = [kept.name for kept in self.block.sessions]
        slot = session.exercises[int(where.exercise or 0) - 1]
        if session.name not in names or self._is_to_find(slot):
            return None
        before = session.exercises[: int(where.exercise or 0)]
        place = sum(not self._is_to_find(earlier) for earlier in before)
        return Where(names.index(session.name) + 1, place, where.group)

    def _is_to_find(self, slot: ExerciseSlot) -> bool:
        return self.lifter.catalogue.exercise(slot.exercise).name in self.to_find


def start_loads(block: Block, lifter: Lifter, room: Room) -> StartLoads:
    """Work out what a block begins with for a lifter in a room.

    Parameters
    ----------
    block : Block
    lifter : Lifter
        May know few of the exercises, or none.
    room : Room

    Returns
    -------
    StartLoads

    Raises
    ------
    InputError
        An exercise that nobody knows, or that the room cannot load.
    """
    lifter = lifter.with_catalogue(room.catalogue)
    by_ratio: dict[str, OneRmGuess] = {}
    to_find: dict[str, OneRmGuess] = {}
    for exercise in _exercises(block, room):
        if lifter.knows(exercise.name):
            continue
        guess = guess_one_rm(lifter, room, exercise)
        (by_ratio if guess.basis == "load ratio" else to_find)[exercise.name] = guess
    return StartLoads(block, _without(block, to_find, room), _wider(lifter, by_ratio), by_ratio, to_find)


def with_ratios(lifter: Lifter, room: Room, *blocks: Block) -> Lifter:
    """Return a lifter with the 1RMs that blocks ask for and that follow by ratio; the same lifter where none does.

    What cannot be known, or not be loaded, is left to who plans the block: the place is said there.
    """
    known, by_ratio = lifter.with_catalogue(room.catalogue), dict[str, OneRmGuess]()
    slots = [slot.exercise for block in blocks for session in block.expanded_sessions() for slot in session.exercises]
    for name in dict.fromkeys(slots):
        if known.catalogue.knows(name) and not known.knows(name):
            with suppress(InputError):
                guess = guess_one_rm(known, room, known.catalogue.exercise(name))
                if guess.basis == "load ratio":
                    by_ratio[guess.exercise] = guess
    return _wider(known, by_ratio) if by_ratio else lifter


def lifter_for(lifter: Lifter, room: Room, *blocks: Block) -> Lifter:
    """Return a lifter with every 1RM that blocks ask for, of the file or by ratio.

    Raises
    ------
    InputError
        Where a load is still to be found; what the room cannot load.
    """
    starts = [start_loads(block, lifter, room) for block in blocks]
    to_find = [name for start in starts for name in start.to_find]
    if to_find:
        raise InputError(
            None,
            f"lifter {lifter.name}",
            f"has no 1RM for {', '.join(dict.fromkeys(to_find))}, and none follows from another lift",
            "type any set that is remembered where the lifter is edited, or find the load as the block's page says",
        )
    by_ratio = {name: guess for start in starts for name, guess in start.by_ratio.items()}
    return _wider(lifter.with_catalogue(room.catalogue), by_ratio) if by_ratio else lifter


def ratio_notes(plan: Plan) -> list[str]:
    """Say which 1RMs of a plan nobody has seen: they follow from another lift."""
    lifts = {name: plan.lifter.lift(name) for name in plan.exercises}
    taken = {
        name: say_load(lift.one_rm, plan.room.unit, hands=plan.catalogue.hands_of(name), digits=0)
        for name, lift in lifts.items()
        if lift.known_from == "a ratio to another lift"
    }
    return [
        f"{name}: no 1RM of its own; taken as about {load} by a ratio to another lift: begin below it"
        for name, load in taken.items()
    ]


def lift_by_ratio(exercise: Exercise, guess: OneRmGuess) -> Lift:
    """Return what is known of an exercise by a ratio to another lift."""
    each_hand = False if exercise.hands == 2 else None
    return Lift(one_rm_kg=guess.one_rm_kg, each_hand=each_hand, known_from="a ratio to another lift")


def _wider(lifter: Lifter, by_ratio: Mapping[str, OneRmGuess]) -> Lifter:
    lifts = {name: lift_by_ratio(lifter.catalogue.exercise(name), guess) for name, guess in by_ratio.items()}
    return lifter.model_copy(update={"lifts": {**lifter.lifts, **lifts}}) if lifts else lifter


def _exercises(block: Block, room: Room) -> list[Exercise]:
    slots = [slot for session in block.expanded_sessions() for slot in session.exercises]
    return list(dict.fromkeys(room.catalogue.exercise(slot.exercise) for slot in slots))


def _without(block: Block, names: Mapping[str, object], room: Room) -> Block | None:
    """Return the block without some exercises, and without the sessions that then hold none; None if none is left."""
    if not names:
        return block

    def holds_others(session: Session) -> bool:
        return any(room.catalogue.exercise(slot.exercise).name not in names for slot in session.exercises)

    sessions = block.expanded_sessions()
    if not any(map(holds_others, sessions)):
        return None
    for session in sessions:
        if not holds_others(session):
            block = change(block, Where(session.name), leave_out_session=True)
            continue
        for name in names:
            if any(room.catalogue.exercise(slot.exercise).name == name for slot in session.exercises):
                block = change(block, Where(session.name, name), exercises=room.catalogue, leave_out=True)
    return block
