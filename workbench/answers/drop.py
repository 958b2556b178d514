"""How large should the drop be? Reps after a drop on the loads the room has, and the drop for the reps wanted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from workbench.answers.block_check import INTERVAL
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.present.answer import Answer
from workbench.present.words import in_words, say_load
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.run import LifterDraws, draw_lifter

if TYPE_CHECKING:
    from workbench.gym.equipment import LoadTable, Room
    from workbench.gym.equipment.loads import Unit
    from workbench.lifter import Lifter

__all__ = ["DropAnswer", "drop_chain_table", "drop_question"]

#: No study that could be read reports reps per drop; every table of drops carries this grade.
GRADE = "assumed"


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
        lines = [f"{self.exercise}, {self.say(self.load_kg)} to failure: {_reps_in(self.first.iloc[0])} reps."]
        if self.advised is None:
            return lines
        to = f"Drop to {self.say(self.advised['load_kg'])} ({self.advised['drop_percent']:.0f} % less)"
        wanted = f"as many as wanted with a chance of {in_words(self.advised['chance'])}"
        return [*lines, f"{to}: {_reps_in(self.advised)} more, {wanted}."]

    def say(self, load_kg: float) -> str:
        """Return a load of the answer as it is put on."""
        return say_load(load_kg, self.unit, hands=self.hands)


def _reps_in(row: pd.Series) -> str:
    return f"{row['reps_p50']:.0f} ({row['reps_p10']:.0f} to {row['reps_p90']:.0f})"


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
    chain = _Chain.of(lifter, known.name, draws, seed, form, curve)
    first = chain.set(np.array([first_kg]))
    chain.rest(seconds)
    after = chain.peek(lighter)
    one_rm = lifter.lift(known.name).one_rm
    rows = _rows(lighter, after, first_kg, one_rm, reps_wanted, fewest_reps)
    enough = rows[rows["reps_p50"] >= reps_wanted]
    return DropAnswer(
        exercise=known.name,
        load_kg=first_kg,
        first=_rows(np.array([first_kg]), first, first_kg, one_rm, reps_wanted, fewest_reps)[
            ["load_kg", "percent", "reps_p10", "reps_p50", "reps_p90"]
        ],
        drops=rows,
        advised=None if enough.empty else enough.iloc[0],
        warning=_warning(rows, enough, reps_wanted, fewest_reps, table),
        unit=table.unit,
        hands=table.hands,
    )


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
    seconds = known.change_load_s if change_s is None else change_s
    chain = _Chain.of(lifter, known.name, draws, seed, form, curve)
    one_rm = lifter.lift(known.name).one_rm
    rows = []
    for number, load in enumerate(loads_kg):
        if number:
            chain.rest(seconds)
        low, median, high = np.quantile(np.floor(chain.set(np.array([load]))[:, 0]), INTERVAL, method="inverted_cdf")
        before = loads_kg[number - 1] if number else load
        rows.append((load, 100 * (1 - load / before), 100 * load / one_rm, low, median, high))
    return pd.DataFrame(rows, columns=["load_kg", "drop_percent", "percent", "reps_p10", "reps_p50", "reps_p90"])


class _Chain:
    """Sets to failure of one exercise in every draw, keeping the state between them."""

    def __init__(self, draws: LifterDraws) -> None:
        self.draws = draws
        self.log_one_rm = draws.log_one_rm + draws.day[0]
        self.rate = draws.recovery_rate[:, np.newaxis]
        self.state = draws.form.fresh((draws.count, 1))

    @classmethod
    def of(cls, lifter: Lifter, exercise: str, draws: int, seed: int, form: FatigueForm, curve: Curve) -> _Chain:
        rng, names = np.random.default_rng(seed), (exercise,)
        return cls(
            draw_lifter(lifter, names, weeks=1, sessions=1, sets=1, draws=draws, rng=rng, form=form, curve=curve)
        )

    def peek(self, loads_kg: FloatArray) -> FloatArray:
        """Reps available at each load in the present state, shape (draws, loads)."""
        return self._work(loads_kg)[0]

    def set(self, load_kg: FloatArray) -> FloatArray:
        """Reps of a set to failure at one load, shape (draws, 1); the state moves on."""
        reps, self.state = self._work(load_kg)
        return reps

    def rest(self, seconds: float) -> None:
        self.state = self.draws.form.rest(self.state, seconds, self.rate, parameters=self.draws.fatigue)

    def _work(self, loads_kg: FloatArray) -> tuple[FloatArray, tuple[FloatArray, ...]]:
        headroom = self.log_one_rm - np.log(loads_kg)
        fresh = self.draws.curve.fresh_reps(headroom, self.draws.endurance) * self.draws.set_noise[0]
        return self.draws.form.work(self.state, headroom, fresh, np.inf, parameters=self.draws.fatigue)


def _rows(
    loads_kg: FloatArray, reps: FloatArray, first_kg: float, one_rm: float, reps_wanted: int, fewest_reps: int
) -> pd.DataFrame:
    whole = np.floor(reps)
    low, median, high = np.quantile(whole, INTERVAL, axis=0, method="inverted_cdf")
    return pd.DataFrame(
        {
            "load_kg": loads_kg,
            "drop_percent": 100.0 * (1.0 - loads_kg / first_kg),
            "percent": 100.0 * loads_kg / one_rm,
            "reps_p10": low,
            "reps_p50": median,
            "reps_p90": high,
            "chance": (whole >= reps_wanted).mean(axis=0),
            "worth_it": median >= fewest_reps,
            "grade": GRADE,
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
