"""What else trains the same muscles here? Exchanges for an exercise that is left out, with a load to start from.

A sore joint is never judged: what hurts is left out, and the person is sent to a professional.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import pandas as pd

from workbench.answers.load_search import OneRmGuess, guess_one_rm
from workbench.gym.catalogue import (
    IMPLEMENTS,
    MOVEMENT_PATTERNS,
    Catalogue,
    Exercise,
    built_in,
    cautions,
    joint_positions,
    kept_part,
    limiters,
    reach_of,
)
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import percent_said
from workbench.quantities import InputError
from workbench.simulate.plan import Plan

__all__ = [
    "NOT_ALL_LOAD",
    "SEE_A_PROFESSIONAL",
    "ExchangeAnswer",
    "Exclusions",
    "addition",
    "exchange_question",
    "left_out",
    "piece_for",
]

SEE_A_PROFESSIONAL: Final = (
    "Pain that stays, wakes you, spreads, or comes with numbness, weakness or swelling: see a licensed physician or "
    "physiotherapist before training that region again."
)
NOT_ALL_LOAD: Final = (
    "For a sore joint: an exchange avoids the positions that are left out, not all load on the joint. Begin light, and "
    "leave it out too if it hurts."
)

#: How the order of exchanges is made: muscles kept, the same movement (half for a related one), a load that is known,
#: and as good to load as what it stands for; less where it adds a position that always has a caution (assumed).
_WEIGHTS: Final = {"muscles": 0.6, "pattern": 0.2, "load": 0.1, "loadable": 0.1, "caution": -0.08}
_RELATED: Final = (
    {"horizontal press", "vertical press"},
    {"horizontal pull", "vertical pull"},
    {"squat", "lunge"},
    {"hinge", "hip extension"},
)
#: Fast lifts train what slow ones do not, and the other way round: neither stands for the other.
_FAST: Final = "explosive pull"
#: Hard to load heavily or in small steps.
_LIGHT: Final = ("bodyweight", "band")
#: What people say for a joint.
_SPOKEN: Final = {"back": "spine", "lower back": "spine", "low back": "spine", "trunk": "spine", "groin": "hip"}
_POSITION: Final = "joint position left out"
#: An exchange has at least this part of the muscle shares in common; what limits its load only lowers its rank.
_LEAST_SHARED: Final = 0.4
#: Columns of what is known of the 1RM, as `OneRmGuess` has them.
GUESS_COLUMNS: Final = ("one_rm_kg", "low_kg", "high_kg", "basis", "source", "grade")
_COLUMNS: Final = (
    *("exercise", "movement_pattern", "implement", "piece", "check", "shared", "limit", "gone", "adds", "same_pattern"),
    *GUESS_COLUMNS,
)


@dataclass(frozen=True)
class Exclusions:
    """What is left out for a lifter: joint positions, movement patterns, implements and exercises.

    Attributes
    ----------
    positions : frozenset of str
        Names in ``joint_positions.csv``; the name of a joint stands for all its positions.
    patterns, implements, exercises : frozenset of str
    """

    positions: frozenset[str] = frozenset()
    patterns: frozenset[str] = frozenset()
    implements: frozenset[str] = frozenset()
    exercises: frozenset[str] = frozenset()

    @classmethod
    def of(
        cls,
        lifter: Lifter | None = None,
        *,
        positions: Iterable[str] = (),
        patterns: Iterable[str] = (),
        implements: Iterable[str] = (),
        exercises: Iterable[str] = (),
        catalogue: Catalogue | None = None,
    ) -> Exclusions:
        """Gather what is asked for and what the lifter file avoids.

        ``catalogue`` knows the exercises asked for: the room's; the lifter's where not given.

        Raises
        ------
        InputError
            For a name that is not known, with close ones.
        """
        avoided = lifter.avoid_exercises if lifter is not None else []
        known = catalogue or (built_in() if lifter is None else lifter.catalogue)
        found = {position for name in positions for position in _positions(name, "joint position")}
        if lifter is not None:
            place = f"lifter {lifter.name}, avoid_positions"
            found |= {position for name in lifter.avoid_positions for position in _positions(name, place)}
        return cls(
            positions=frozenset(found),
            patterns=frozenset(_one_of(name, MOVEMENT_PATTERNS, "movement pattern") for name in patterns),
            implements=frozenset(_one_of(name, IMPLEMENTS, "implement") for name in implements),
            exercises=frozenset([*(known.exercise(name).name for name in exercises), *avoided]),
        )

    def reason(self, one: Exercise) -> str:
        """Why an exercise is left out; empty if it is not."""
        hit = [position for position in one.joint_positions if position in self.positions]
        if hit:
            return f"{_POSITION}: {', '.join(hit)}"
        if one.movement_pattern in self.patterns:
            return f"movement left out: {one.movement_pattern}"
        if one.implement in self.implements:
            return f"implement left out: {one.implement}"
        return "left out by name" if one.name in self.exercises else ""


@dataclass(frozen=True, repr=False)
class ExchangeAnswer(Answer):
    """Exchanges for one exercise.

    Attributes
    ----------
    exercise : Exercise
        The one to exchange.
    table : DataFrame
        Best first: exercise, movement_pattern, implement, piece (of the room), check (equipment that the room file does
        not name); shared [1] (part of the muscle shares kept at the load that reaches them, 1 = all); limit (a
        sentence on what limits that load, empty where nothing does, or no more than before), gone (muscles no longer
        trained directly), adds (joint positions that the exercise did not have: those that always have a caution, and
        all of them where positions are left out),
        same_pattern; one_rm_kg, low_kg, high_kg [kg] (NaN where no ratio is known); basis ("own 1RM", "load ratio" or
        "find the load"), source, grade.
    loads : dict of str to OneRmGuess
        The first guess of the 1RM of each exchange, and how to find the load.
    missing : tuple of str
        Where there is no exchange: what stands in the way, each with a count. Else the muscles that no exchange trains
        directly, and what would.
    """

    exercise: Exercise
    table: pd.DataFrame
    loads: dict[str, OneRmGuess] = field(default_factory=dict)
    missing: tuple[str, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """What stands in the way or is no longer trained, what exchanges add, and whom to see about pain."""
        return (*self.missing, *self.added(), NOT_ALL_LOAD, SEE_A_PROFESSIONAL)

    def added(self, names: Sequence[str] | None = None) -> list[str]:
        """Say the caution of each joint position that exchanges add, with their names; of some of them where given."""
        by_position: dict[str, list[str]] = {}
        rows = self.table.to_dict("records")
        for row in rows if names is None else [row for row in rows if row["exercise"] in names]:
            for position in filter(None, row["adds"].split(", ")):
                by_position.setdefault(position, []).append(row["exercise"])
        return [caution_said(position, of) for position, of in by_position.items()]

    def sentences(self) -> list[str]:
        """Name the best exchanges, and how much of the muscle shares each keeps."""
        if self.table.empty:
            return [f"No exchange for {self.exercise.name} here."]
        best = [f"{row['exercise']} ({percent_said(row['shared'])})" for row in self.table.head(3).to_dict("records")]
        return [f"For {self.exercise.name}, best first, with the part of the muscle shares kept: {', '.join(best)}."]


def caution_said(position: str, exercises: Iterable[str]) -> str:
    """Say the caution of a joint position that exercises add to what they stand for."""
    return f"{position[:1].upper()}{position[1:]} is added by {', '.join(exercises)}: {cautions()[position].sentence}"


def left_out(lifter: Lifter, exercises: Iterable[Exercise]) -> tuple[tuple[str, str], ...]:
    """Return the exercises that the lifter file leaves out, each with the reason."""
    out = Exclusions.of(lifter)
    reasons = {exercise.name: out.reason(exercise) for exercise in exercises}
    return tuple((name, reason) for name, reason in reasons.items() if reason)


def left_out_said(lifter: Lifter, exercises: Iterable[Exercise]) -> tuple[str, ...]:
    """Say of each exercise that the lifter file leaves out, and why."""
    return tuple(f"{name}: the lifter file leaves it out ({reason})" for name, reason in left_out(lifter, exercises))


def left_out_of_plan(plan: Plan) -> tuple[str, ...]:
    """Say what stands in a plan though the lifter file leaves it out, and why."""
    return left_out_said(plan.lifter, map(plan.catalogue.exercise, plan.exercises))


def left_out_of_block(block: Block, lifters: Iterable[Lifter], catalogue: Catalogue) -> list[str]:
    """Say what stands in a block though the file of a lifter leaves it out: a sentence each, with the lifter's name."""
    names = dict.fromkeys(slot.exercise for session in block.expanded_sessions() for slot in session.exercises)
    exercises = [catalogue.exercise(name) for name in names]
    return [f"{lifter.name}: {said}." for lifter in lifters for said in left_out_said(lifter, exercises)]


def exchange_question(
    lifter: Lifter,
    room: Room,
    exercise: str,
    *,
    leave_out: Exclusions | None = None,
    most: int = 8,
    curve: Curve = DEFAULT_CURVE,
) -> ExchangeAnswer:
    """Rank exchanges for an exercise that the lifter should not or cannot do.

    Ranked by the muscles kept, the same or a related movement pattern, whether a load to start from is known, whether
    it can be loaded as well, and whether it adds a joint position that always has a caution. Fast and slow lifts do not
    stand for each other.

    Parameters
    ----------
    lifter : Lifter
    room : Room
    exercise : str
        The exercise to exchange: name or alias in the room's catalogue.
    leave_out : Exclusions
        What is left out; the lifter's own wishes where not given.
    most : int, [1], 1 to 1000
        Most rows of the answer.
    curve : Curve
        By which the load is searched for where it is not known.

    Returns
    -------
    ExchangeAnswer
        Shares of muscles kept [1] and first guesses of the 1RM [kg].

    Raises
    ------
    InputError
        For an unknown exercise.

    Notes
    -----
    Muscle shares from ``data/muscle_shares.csv``, positions from ``data/joint_positions.csv``, ratios of 1RMs from
    ``data/evidence/load_ratios.csv``, each row with its source key and grade. Most shares are assumed.
    """
    wanted = room.catalogue.exercise(exercise)
    out = Exclusions.of(lifter) if leave_out is None else leave_out
    rows: list[dict[str, object]] = []
    loads: dict[str, OneRmGuess] = {}
    against: dict[str, list[Exercise]] = {}
    for one in room.catalogue.exercises.values():
        fast = (one.movement_pattern == _FAST) != (wanted.movement_pattern == _FAST)
        if one.name == wanted.name or kept_part(wanted, replace(one, limited_by="")) < _LEAST_SHARED or fast:
            continue
        piece, lacking = piece_for(room, one)
        reason = out.reason(one) or lacking
        if reason:
            against.setdefault(reason, []).append(one)
            continue
        guess = loads[one.name] = guess_one_rm(lifter, room, one, instead_of=wanted, curve=curve)
        rows.append({"piece": piece, "check": ", ".join(room.lacks(one)), **_exchange_row(wanted, one, guess, out)})
    if not rows:
        return ExchangeAnswer(wanted, pd.DataFrame(), {}, _what_is_missing(wanted, against, out))
    # What needs a special machine that the room file does not name comes after its equals.
    table = pd.DataFrame(rows).assign(unnamed=lambda t: t["check"] != "")
    table = table.sort_values(["rank", "unnamed"], ascending=[False, True], kind="stable", ignore_index=True)
    table = table.head(most)[[*_COLUMNS]]
    untrained = [
        muscle for muscle in wanted.direct_muscles if all(muscle in gone.split(", ") for gone in table["gone"])
    ]
    beside = [(muscle, addition(muscle, room, out)) for muscle in untrained]
    missing = tuple(
        f"None of these trains {muscle} directly; " + (f"{more} would." if more else "nothing here does.")
        for muscle, more in beside
    )
    return ExchangeAnswer(wanted, table, loads, missing)


def _exchange_row(wanted: Exercise, one: Exercise, guess: OneRmGuess, out: Exclusions) -> dict[str, object]:
    """Return what an exchange keeps, loses and adds, its load, and its rank: higher is better."""
    pair = {one.movement_pattern, wanted.movement_pattern}
    same_pattern = len(pair) == 1
    added = [name for name in one.joint_positions if name not in wanted.joint_positions]
    always = [name for name in added if cautions()[name].show == "always"]
    parts = {
        "muscles": kept_part(wanted, one),
        "pattern": 1.0 if same_pattern else 0.5 * (pair in _RELATED),
        "load": guess.basis != "find the load",
        "loadable": one.implement not in _LIGHT or wanted.implement in _LIGHT,
        "caution": bool(always),
    }
    return {
        "exercise": one.name,
        "movement_pattern": one.movement_pattern,
        "implement": one.implement,
        "shared": parts["muscles"],
        "limit": _limit(wanted, one),
        "gone": ", ".join(muscle for muscle in wanted.direct_muscles if muscle not in one.direct_muscles),
        "adds": ", ".join(added if out.positions else always),
        "same_pattern": same_pattern,
        **{key: getattr(guess, key) for key in GUESS_COLUMNS},
        "rank": sum(_WEIGHTS[part] * value for part, value in parts.items()),
    }


def _limit(wanted: Exercise, one: Exercise) -> str:
    """Say which of the wanted direct muscles get less load than before, and why; empty where none does."""
    trained = [part.muscle for part in one.muscles]
    less = [
        muscle
        for muscle in wanted.direct_muscles
        if muscle in trained and reach_of(one, muscle) < reach_of(wanted, muscle)
    ]
    if not less:
        return ""
    words = limiters()[one.limited_by].words
    named = ", ".join(less[:-1]) + (" and " if less[1:] else "") + less[-1]
    return f"{words[:1].upper()}{words[1:]}: less load for {named} than from the {wanted.name}."


def addition(muscle: str, room: Room, leave_out: Exclusions) -> str:
    """Return the exercise that trains a muscle directly and as little else as can be; empty where there is none."""
    fitting = [
        (sum(part.share for part in one.muscles), one.name)
        for one in room.catalogue.exercises.values()
        if muscle in one.direct_muscles and not leave_out.reason(one) and piece_for(room, one)[0]
    ]
    return min(fitting, default=(0.0, ""), key=lambda item: item[0])[1]


def piece_for(room: Room, one: Exercise) -> tuple[str, str]:
    """Return the piece of the room that loads an exercise, and why there is none: one of the two is empty."""
    # A stack or a set of plates says nothing of the machine around it: that must be named in the room file. So must
    # everything else, where the file lists the fixtures.
    unnamed = room.lacks(one)
    if room.fixtures is None:
        unnamed = [item for item in unnamed if "machine" in item or one.implement == "machine plates"]
    if unnamed or (one.implement == "machine plates" and not one.equipment):
        return "", f"the room names no {unnamed[0] if unnamed else 'loose plates'}"
    try:
        return room.loads_for(one).equipment, ""
    except InputError:
        return "", f"the room has nothing to load it with ({one.implement.replace('bodyweight', 'body weight')})"


def _what_is_missing(wanted: Exercise, against: dict[str, list[Exercise]], out: Exclusions) -> tuple[str, ...]:
    muscles = " and ".join(wanted.direct_muscles)
    if not against:
        return (f"No other exercise of the catalogue trains {muscles} in a similar way; add an own exercise file.",)
    lines = [f"All {sum(map(len, against.values()))} exercises that train {muscles} in a similar way fall out:"]
    by_position: Counter[str] = Counter()
    for reason, exercises in sorted(against.items(), key=lambda item: -len(item[1])):
        if reason.startswith(_POSITION):
            by_position.update(name for one in exercises for name in one.joint_positions if name in out.positions)
        else:
            shown = ", ".join(exercise.name for exercise in exercises[:3])
            more = f" and {len(exercises) - 3} more" if len(exercises) > 3 else ""
            lines.append(f"{len(exercises)}: {reason} ({shown}{more}).")
    if by_position:
        shown = ", ".join(f"{position} {count}" for position, count in by_position.most_common())
        lines.append(f"By joint positions left out (some have several): {shown}.")
    allow = "allow one of these again where a licensed professional agrees, " if by_position else ""
    last = f"{allow}add equipment to the room, or plan these muscles by other exercises."
    lines.append(last[:1].upper() + last[1:])
    return tuple(lines)


def _positions(name: str, place: str) -> list[str]:
    """Joint position of that name, or all positions of the joint of that name."""
    joints = list(dict.fromkeys(one.joint for one in joint_positions().values()))
    asked = " ".join(name.split()).casefold()
    asked = _SPOKEN.get(asked, asked.removesuffix("s") if asked.removesuffix("s") in joints else asked)
    if asked not in (*joints, *(one.casefold() for one in joint_positions())):
        close = difflib.get_close_matches(asked, joint_positions(), n=3, cutoff=0.6)
        near = f"one like {', '.join(close)}, or " if close else ""
        raise InputError(
            None,
            place,
            f"unknown joint position {name[:60]!r}",
            f"use {near}a joint for all of its: {', '.join(joints)}",
        )
    return [one.name for one in joint_positions().values() if asked in (one.name.casefold(), one.joint)]


def _one_of(name: str, known: Sequence[str], kind: str) -> str:
    asked = " ".join(name.split()).casefold()
    if asked in known:  # all are written in small letters
        return asked
    close = difflib.get_close_matches(asked, known, n=3, cutoff=0.4)
    raise InputError(None, kind, f"unknown {kind} {name[:60]!r}", f"use one of: {', '.join(close or known)}")
