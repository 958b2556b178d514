"""A session without some positions, movements, implements or exercises, and what that does to the muscles' sets."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from workbench.answers.exchange import (
    GUESS_COLUMNS,
    NOT_ALL_LOAD,
    SEE_A_PROFESSIONAL,
    Exclusions,
    addition,
    exchange_question,
)
from workbench.answers.load_search import OneRmGuess
from workbench.answers.session import one_session
from workbench.answers.start_loads import lift_by_ratio
from workbench.gym.catalogue import Catalogue
from workbench.gym.equipment import Room
from workbench.lifter import Lift, Lifter
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.volume import fractional_sets
from workbench.prescription.block import Block, Session
from workbench.prescription.edit import Where, change
from workbench.present.answer import Answer

__all__ = ["SessionExchange", "exchange_session", "things_in"]

#: Fractional sets a week by which a muscle may fall before it is said.
_NOTICED_SETS: Final = 1.0
#: What a row of changes keeps of the exchange.
_KEPT: Final = (*("shared", "limit", "gone", "basis"), *(key for key in GUESS_COLUMNS if key != "basis"))


@dataclass(frozen=True, repr=False)
class SessionExchange(Answer):
    """A session with exchanges.

    Attributes
    ----------
    changes : DataFrame
        One row an exercise that falls out: place, exercise, reason, instead ("" where nothing fits), shared, limit,
        gone, basis, one_rm_kg, low_kg, high_kg (first guess of the 1RM, NaN where it must be found), source, grade.
    block : Block
        With the exchanges made; an exercise without one is still there.
    lifter : Lifter
        With the first guess of the 1RM of exchanges that a load ratio gives, each 15 % uncertain.
    muscles : DataFrame
        Muscles whose weekly sets change: muscle, before, after, change (fractional sets of week 1, all sessions).
    missing : tuple of str
        What stands in the way, what falls short, cautions of what is added, and which loads must be found first.
    protocols : dict of str to tuple of str
        How to find the load, step by step, of each exchange whose 1RM is not the lifter's own.
    """

    changes: pd.DataFrame
    block: Block
    lifter: Lifter
    muscles: pd.DataFrame
    missing: tuple[str, ...]
    protocols: dict[str, tuple[str, ...]]

    @property
    def notes(self) -> tuple[str, ...]:
        """What stands in the way, what falls short, which loads must be found first, and whom to see about pain."""
        return (*self.missing, NOT_ALL_LOAD, SEE_A_PROFESSIONAL)

    def sentences(self) -> list[str]:
        """Say what stands for what falls out."""
        return [
            f"{row['exercise']}: {row['instead'] or 'nothing fits'} in its place ({row['reason']})."
            for row in self.changes.to_dict("records")
        ] or ["Nothing falls out."]

    @property
    def complete(self) -> bool:
        """Whether every exercise that falls out has an exchange."""
        return bool((self.changes["instead"] != "").all()) if len(self.changes) else True


def things_in(session: Session, catalogue: Catalogue) -> dict[str, list[str]]:
    """List what could be left out of a session: its joint positions, exercises, movement patterns and implements.

    Returns
    -------
    dict
        Keys as the arguments of `Exclusions.of`; each value in order, each name once.
    """
    chosen = [catalogue.exercise(slot.exercise) for slot in session.exercises]
    return {
        "positions": list(dict.fromkeys(position for one in chosen for position in one.joint_positions)),
        "exercises": list(dict.fromkeys(one.name for one in chosen)),
        "patterns": list(dict.fromkeys(one.movement_pattern for one in chosen)),
        "implements": list(dict.fromkeys(one.implement for one in chosen)),
    }


def exchange_session(
    block: Block,
    lifter: Lifter,
    room: Room,
    session: str | int,
    *,
    leave_out: Exclusions,
    curve: Curve = DEFAULT_CURVE,
) -> SessionExchange:
    """Exchange every exercise of a session that is left out; proposed, never applied by itself.

    Of the exchanges that fit, the best that loses no directly trained muscle and is not yet in the session is taken;
    where all lose one, the best.

    Parameters
    ----------
    block, lifter, room
    session : str or int
        Its name, or its number counted from 1.
    leave_out : Exclusions
    curve : Curve
        By which a load is searched for where it is not known.

    Returns
    -------
    SessionExchange
    """
    catalogue = room.catalogue
    alone, _ = one_session(block, session, 1)
    chosen = alone.sessions[0]
    used = {catalogue.exercise(slot.exercise).name for slot in chosen.exercises}
    rows: list[dict[str, object]] = []
    protocols: dict[str, tuple[str, ...]] = {}
    missing: list[str] = []
    guesses: dict[str, Lift] = {}
    changed = block
    for place, slot in enumerate(chosen.exercises, start=1):
        exercise = catalogue.exercise(slot.exercise)
        reason = leave_out.reason(exercise)
        if not reason:
            continue
        answer = exchange_question(lifter, room, exercise.name, leave_out=leave_out, most=30, curve=curve)
        best = _best_exchange(answer.table, used)
        row = {"place": place, "exercise": exercise.name, "reason": reason}
        if best is None:
            missing.extend((f"{exercise.name} has no exchange here.", *answer.missing))
            rows.append({**row, "instead": "", "gone": ", ".join(exercise.direct_muscles)})
            continue
        instead = best["exercise"]
        used.add(instead)
        rows.append({**row, "instead": instead, **{key: best[key] for key in _KEPT}})
        changed = change(changed, Where(chosen.name, place), exercises=catalogue, exchange=instead)
        guess = answer.loads[instead]
        if guess.protocol:
            protocols[instead] = guess.protocol
        if guess.basis == "load ratio":
            guesses[instead] = lift_by_ratio(catalogue.exercise(instead), guess)
        missing.extend([f"{instead}: {best['limit']}"] if best["limit"] else [])
        missing.extend(answer.added([instead]))
        missing.extend(_load_to_find(guess))
    muscles = _sets_by_muscle(block, changed, catalogue)
    for fallen in muscles[muscles["change"] <= -_NOTICED_SETS].to_dict("records"):
        more = addition(fallen["muscle"], room, leave_out)
        missing.append(
            f"{fallen['muscle']}: from {fallen['before']:.1f} to {fallen['after']:.1f} fractional sets a week"
            + (f"; {more} would train it." if more else "; no exercise here trains it directly.")
        )
    return SessionExchange(
        changes=pd.DataFrame(rows, columns=["place", "exercise", "reason", "instead", *_KEPT]),
        block=changed,
        lifter=lifter.model_copy(update={"lifts": {**lifter.lifts, **guesses}}).with_catalogue(catalogue),
        muscles=muscles,
        missing=tuple(dict.fromkeys(missing)),
        protocols=protocols,
    )


def _best_exchange(table: pd.DataFrame, used: set[str]) -> dict[Hashable, Any] | None:
    """Return the best exchange not yet in the session that loses no muscle; where all lose one, the best."""
    free = [row for row in table.to_dict("records") if row["exercise"] not in used]
    whole = [row for row in free if not row["gone"]]
    return next(iter(whole or free), None)


def _load_to_find(guess: OneRmGuess) -> list[str]:
    """Say what must be found out before the first working set."""
    if guess.search is None:
        return []
    if not guess.search.safe:
        return [f"{guess.exercise}: {guess.search.lines[0]}"]
    if guess.basis == "load ratio":
        return [f"The 1RM of {guess.exercise} stands on a ratio: find the load before its first working set."]
    return [f"Find the load of {guess.exercise} first: no ratio from an exercise that the lifter knows."]


def _sets_by_muscle(before: Block, after: Block, catalogue: Catalogue) -> pd.DataFrame:
    names, muscles, shares = catalogue.muscle_shares
    row = {name: number for number, name in enumerate(names)}
    sums = []
    for block in (before, after):
        sets = [0.0] * len(names)
        for session in block.expanded_sessions():
            for slot in session.exercises:
                sets[row[catalogue.exercise(slot.exercise).name]] += sum(group.count for group in slot.sets)
        sums.append(fractional_sets(sets, shares))
    table = pd.DataFrame({"muscle": muscles, "before": sums[0], "after": sums[1]})
    table["change"] = table["after"] - table["before"]
    return table[table["change"].abs() > 1e-9].reset_index(drop=True)
