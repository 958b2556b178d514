"""What a lifter file says of a lifter: how much can probably be lifted once, and what is not done for a sore joint."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from workbench.answers.exchange import SEE_A_PROFESSIONAL, Exclusions
from workbench.answers.load_search import MACHINES, share_of_body_mass
from workbench.lifter import Lifter
from workbench.lifter.belief import TENTH
from workbench.present.answer import Answer
from workbench.present.words import mass_in, mean_and_band, say_load
from workbench.quantities import Unit

__all__ = ["KnownLifter", "known_of", "unlikely_said"]

#: From so many times the cautious guess from body mass of a trained adult on, a slip of the pen is likelier than the
#: 1RM (assumed: a squat of 3.9 times body mass, a bench press of 2.7). On machines, whose levers differ, twice that.
_UNLIKELY: Final = 6.0


@dataclass(frozen=True, repr=False)
class KnownLifter(Answer):
    """What is known.

    Attributes
    ----------
    lifter : Lifter
    lifts : DataFrame
        One row a lift: exercise; one_rm_kg, low_kg, high_kg [kg] (middle, 10 and 90 %; of both dumbbells); unit, hands
        (how it is spoken of); known_from (where it comes from, in words); left_out (whether it is not done, for a joint
        or by name).
    left_out : int, [1]
        Exercises of the catalogue that are not done, for a joint or by name.
    """

    lifter: Lifter
    lifts: pd.DataFrame
    left_out: int

    @property
    def notes(self) -> tuple[str, ...]:
        """Which 1RMs are hardly possible, and whom to see about pain."""
        return (*unlikely_said(self.lifter), *((SEE_A_PROFESSIONAL,) if self.lifter.avoid_positions else ()))

    def sentences(self) -> list[str]:
        """Say how much is known, and what happens with the rest."""
        name = self.lifter.name
        if self.lifts.empty:
            lines = [
                f"No lift of {name} is known yet: a block begins with a search for every load, from light upwards."
            ]
        else:
            count = len(self.lifts)
            lines = [f"{count} lifts of {name} are known." if count > 1 else f"One lift of {name} is known."]
            these = "these" if count > 1 else "it"
            lines.append(
                f"Others begin by their ratio to {these} where one is published, else by a search from light upwards."
            )
        if self.left_out:
            are = "exercises are" if self.left_out > 1 else "exercise is"
            lines.append(f"{self.left_out} {are} left out for what hurts, or by name.")
        return lines

    def lifts_said(self) -> list[tuple[str, str, str, str]]:
        """Return each lift in words: exercise, what can probably be lifted once, from where to where, known from."""
        rows = []
        for row in self.lifts.to_dict("records"):
            unit: Unit = row["unit"]
            middle = say_load(row["one_rm_kg"], unit, hands=row["hands"], digits=1)
            masses = (mass_in(row[key], unit) / row["hands"] for key in ("one_rm_kg", "low_kg", "high_kg"))
            _, band = mean_and_band(*masses)
            each = f"{row['hands']} x " if row["hands"] > 1 else ""
            out = " (left out)" if row["left_out"] else ""
            rows.append((f"{row['exercise']}{out}", middle, f"{each}{band} {unit}", str(row["known_from"])))
        return rows


def known_of(lifter: Lifter) -> KnownLifter:
    """Return what a lifter file says of a lifter.

    Parameters
    ----------
    lifter : Lifter

    Returns
    -------
    KnownLifter
    """
    rows, out = [], Exclusions.of(lifter)
    for name, lift in lifter.lifts.items():
        exercise = lifter.catalogue.exercise(name)
        low, middle, high = np.exp(lifter.one_rm_belief(name).at(np.array([-TENTH, 0.0, TENTH])))
        known = "a set that is remembered" if lift.from_set is not None else lift.known_from or "not said"
        unit = "lb" if lift.in_pounds else "kg"
        rows.append((exercise.name, middle, low, high, unit, exercise.hands, known, bool(out.reason(exercise))))
    columns = ["exercise", "one_rm_kg", "low_kg", "high_kg", "unit", "hands", "known_from", "left_out"]
    left = sum(bool(out.reason(one)) for one in lifter.catalogue.exercises.values())
    return KnownLifter(lifter, pd.DataFrame(rows, columns=columns), left)


def unlikely_said(lifter: Lifter) -> tuple[str, ...]:
    """Say which 1RMs of the lifter file are hardly possible at the body mass that it gives."""
    said = []
    for name, lift in lifter.lifts.items():
        exercise = lifter.catalogue.exercise(name)
        levers = 2.0 if exercise.implement in MACHINES else 1.0
        mass, most = lifter.body_mass_kg, levers * _UNLIKELY * share_of_body_mass(exercise, "trained")
        if mass is not None and lift.one_rm > most * mass:
            said.append(
                f"{exercise.name}: a 1RM of {lift.one_rm:g} kg is {lift.one_rm / mass:.1f} times the body mass of "
                f"{mass:g} kg; check both numbers and their unit before anyone lifts by them"
            )
    return tuple(said)
