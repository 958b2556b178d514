"""How large should the drop be? Reps after a drop on the loads the room has, and the drop for the reps wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from workbench.gym.equipment import LoadTable, Room
from workbench.gym.equipment.loads import Unit
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, run_sets
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.present.answer import Answer
from workbench.present.words import in_words, reps_expected, say_load
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.draws import LifterDraws, draw_lifter
from workbench.simulate.run import interval_columns

__all__ = ["DropAnswer", "chain_loads", "drop_chain_table", "drop_question", "room_loads"]

#: No study that could be read reports reps per drop; every table of drops carries this grade.
GRADE: Final = "assumed"
#: Percents this close are the same: pounds turned into kilograms carry the rounding of floating point.
_SAME: Final = 1e-9


@dataclass(frozen=True, repr=False)
class DropAnswer(Answer):
    """The answer to "how large should the drop be?".

    Attributes
    ----------
    exercise : str
    load_kg : float, [kg]
        Load of the first set, rounded to the room.
    first : DataFrame
        One row: load_kg [kg]; percent [% of 1RM]; reps_p10, reps_p50, reps_p90 [reps] of the first set, to failure.
    drops : DataFrame
        One row a lighter load of the room: load_kg [kg]; percent [% of 1RM]; drop_percent [%]; reps_p10, reps_p50,
        reps_p90 [reps] (whole, after the drop); chance [1] (of at least the reps wanted); worth_it (whether the median
        reaches ``fewest_reps``).
    advised : Series or None
        The row of the heaviest load whose median reaches the reps wanted; None where the room has none.
    warning : str
        Empty, or why the answer needs care.
    unit : {"kg", "lb"}
        Of the equipment; see `say`.
    hands : int, [1]
        In how many hands a load is halved: 1 or 2.
    """

    exercise: str
    load_kg: float
    first: pd.DataFrame
    drops: pd.DataFrame
    advised: pd.Series | None
    warning: str
    unit: Unit = "kg"
    hands: int = 1

    @property
    def notes(self) -> tuple[str, ...]:
        """Why the answer needs care."""
        return (*((self.warning,) if self.warning else ()), "Reps after a drop are assumed: no study reports them")

    def sentences(self) -> list[str]:
        """Say the reps of the first set, and the drop that is advised."""
        lines = [f"{self.exercise}, {self.say(self.load_kg)} to failure: {_reps_in(self.first.iloc[0])}."]
        if self.advised is None:
            return lines
        to = f"Drop to {self.say(self.advised['load_kg'])} ({self.advised['drop_percent']:.0f} % less)"
        wanted = f"as many as wanted with a chance of {in_words(self.advised['chance'])}"
        return [*lines, f"{to}: {_reps_in(self.advised)} more, {wanted}."]

    def say(self, load_kg: float) -> str:
        """Return a load of the answer as it is put on."""
        return say_load(load_kg, self.unit, hands=self.hands)


def _reps_in(row: pd.Series) -> str:
    return reps_expected(row["reps_p10"], row["reps_p50"], row["reps_p90"])


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def drop_question(
    lifter: Lifter,
    exercise: str,
    room: Room,
    *,
    load_kg: float,
    reps_wanted: int = 6,
    change_s: float | None = None,
    largest_drop: float = 0.5,
    fewest_reps: int = 3,
    equipment: str | None = None,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> DropAnswer:
    """Simulate a set to failure and a second run of reps at every lighter load of the room.

    Parameters
    ----------
    lifter : Lifter
    exercise : str
        Name or alias in the lifter's catalogue.
    room : Room
    load_kg : float, [kg], > 0
        Load of the first set; rounded to the room.
    reps_wanted : int, [reps], 1 to 1000
        Reps wanted after the drop.
    change_s : float, [s], 0 to 86,400
        Time to change the load; the catalogue's for the exercise where not given.
    largest_drop : float, [1], 0 to 1
        Largest part of the load to take off.
    fewest_reps : int, [reps], 0 to 1000
        A drop whose median stays below this is called too small to be worth it.
    equipment : str
        A piece of the room's equipment by name, where the exercise could use several.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.

    Returns
    -------
    DropAnswer
        Reps [reps] after a drop to each load [kg] of the room. Grade: assumed; no study reports reps for each drop.

    Raises
    ------
    InputError
        Unknown exercise, no 1RM for it, nothing in the room to load it with, or a load that is not positive.

    Notes
    -----
    No constant of its own: the fatigue form of ``data/fitted/`` and the endurance of ``data/parameters.csv``.
    """
    if not load_kg > 0:
        raise InputError(None, "load_kg", f"{load_kg:g} kg is not a load", "give a load above 0 kg")
    known = room.catalogue.exercise(exercise)
    table = room.loads_for(known, equipment)
    seconds = known.change_load_s if change_s is None else change_s
    first_kg = float(table.round_kg(load_kg))
    lighter = table.kg[(table.kg < first_kg) & (table.kg >= (1.0 - largest_drop) * first_kg)][::-1]
    drawn = _draw(lifter, known.name, draws, seed, form, curve)
    first, after = _to_failure(drawn, [np.array([first_kg]), lighter], seconds)
    one_rm = lifter.lift(known.name).one_rm
    rows = _rows(lighter, first_kg, one_rm, after)
    whole = np.floor(after)
    rows = rows.assign(
        chance=(whole >= reps_wanted).mean(axis=0), worth_it=rows["reps_p50"] >= fewest_reps, grade=GRADE
    )
    enough = rows[rows["reps_p50"] >= reps_wanted]
    return DropAnswer(
        exercise=known.name,
        load_kg=first_kg,
        first=_rows(np.array([first_kg]), first_kg, one_rm, first).drop(columns="drop_percent"),
        drops=rows,
        advised=None if enough.empty else enough.iloc[0],
        warning=_warning(rows, enough, reps_wanted, fewest_reps, table),
        unit=table.unit,
        hands=table.hands,
    )


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def drop_chain_table(
    lifter: Lifter,
    exercise: str,
    loads_kg: list[float],
    *,
    change_s: float | None = None,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> pd.DataFrame:
    """Reps of a set to failure and of each drop after it, all to failure, at the loads given.

    Returns
    -------
    DataFrame
        One row a load: load_kg, drop_percent (from the load before), percent (of 1RM), reps_p10, reps_p50, reps_p90.
    """
    known = lifter.catalogue.exercise(exercise)
    drawn = _draw(lifter, known.name, draws, seed, form, curve)
    run = _to_failure(
        drawn, [np.array([load]) for load in loads_kg], known.change_load_s if change_s is None else change_s
    )
    before = np.array([*loads_kg[:1], *loads_kg[:-1]])
    return _rows(np.array(loads_kg), before, lifter.lift(known.name).one_rm, np.hstack(run))


def _draw(lifter: Lifter, exercise: str, draws: int, seed: int, form: FatigueForm, curve: Curve) -> LifterDraws:
    rng = np.random.default_rng(seed)
    return draw_lifter(lifter, (exercise,), weeks=1, sessions=1, sets=1, draws=draws, rng=rng, form=form, curve=curve)


def _to_failure(drawn: LifterDraws, loads_kg: Sequence[FloatArray], rest_s: float) -> list[FloatArray]:
    """Reps of each of a run of sets to failure at every one of its loads, shape (draws, loads); all scatter alike."""
    strength = drawn.log_one_rm + drawn.day[0]
    sets = [(rest_s, strength - np.log(load_kg), np.inf) for load_kg in loads_kg]
    rate, scatter = drawn.recovery_rate[:, np.newaxis], drawn.set_noise[0]
    settings = {"form": drawn.form, "curve": drawn.bent_curve, "parameters": drawn.fatigue}
    return list(run_sets(sets, drawn.endurance, rate, **settings, scatter=scatter))


def _rows(loads_kg: FloatArray, before_kg: FloatArray | float, one_rm: float, reps: FloatArray) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "load_kg": loads_kg,
            "drop_percent": 100.0 * (1.0 - loads_kg / before_kg),
            "percent": 100.0 * loads_kg / one_rm,
            **interval_columns(np.floor(reps), method="inverted_cdf"),
        }
    )


def _warning(rows: pd.DataFrame, enough: pd.DataFrame, reps_wanted: int, fewest_reps: int, table: LoadTable) -> str:
    if rows.empty:
        return "The room has no lighter load within the largest drop allowed."
    if enough.empty:
        best = rows.iloc[-1]
        return (
            f"No load here leaves {reps_wanted} reps: even {table.say(int(table.round(best['load_kg'])))} "
            f"(a drop of {best['drop_percent']:.0f} %) leaves about {best['reps_p50']:.0f}."
        )
    small = rows[~rows["worth_it"]]
    if not small.empty:
        least = small.iloc[-1]
        return (
            f"A drop of {least['drop_percent']:.0f} % or less is too small to be worth it: "
            f"it leaves fewer than {fewest_reps} reps."
        )
    return ""


def room_loads(
    room: Room, lifter: Lifter, exercise: str, *, low_percent: float = 40.0, high_percent: float = 100.0
) -> list[tuple[str, float]]:
    """Return the room's loads between two percents of the believed 1RM, lightest first.

    Returns
    -------
    list of (str, float)
        The load in words, in the unit of the equipment and with its percent of 1RM in brackets, and in kg.

    Raises
    ------
    InputError
        Unknown exercise, no 1RM for it, nothing in the room to load it with, or no load in that range.
    """
    known = room.catalogue.exercise(exercise)
    table = room.loads_for(known)
    one_rm = lifter.lift(known.name).one_rm
    found = [
        (f"{table.say(index)} ({100 * kg / one_rm:.0f} %)", float(kg))
        for index, kg in enumerate(table.kg)
        if low_percent - _SAME <= 100 * kg / one_rm <= high_percent + _SAME
    ]
    if not found:
        raise InputError(
            None,
            f"room {room.name}",
            f"{table.equipment} has no load from {low_percent:.0f} to {high_percent:.0f} % of "
            f"{say_load(one_rm, table.unit, hands=table.hands, digits=1)}",
            "choose another exercise or room",
        )
    return found


def chain_loads(room: Room, exercise: str, load_kg: float, drops_percent: Sequence[float]) -> list[float]:
    """Return the loads of a set and its drops, each drop taken off the load before it, rounded to the room.

    Rounding happens once for each load, last, so that its error does not grow along the chain.

    Parameters
    ----------
    room, exercise
    load_kg : float
        Of the first set, [kg], > 0.
    drops_percent : sequence of float
        Taken off each time, [percent], 0 to below 100.

    Returns
    -------
    list of float
        [kg], the first set's load first.
    """
    table = room.loads_for(room.catalogue.exercise(exercise))
    loads = [load_kg]
    for drop in drops_percent:
        loads.append(loads[-1] * (1.0 - drop / 100.0))
    return [float(load) for load in table.round_kg(loads)]
