"""What can this lifter do at this load? The load-reps curve with its band, beside the published equations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from workbench.answers.block_check import INTERVAL
from workbench.models.load_reps import DEFAULT_CURVE, Curve, studied
from workbench.models.published import EQUATIONS
from workbench.present.answer import Answer
from workbench.present.words import in_words, say_load
from workbench.quantities import SEED, InputError
from workbench.reference.parameters import endurance_prior
from workbench.simulate.run import draw_lifter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.lifter import Lifter

__all__ = ["CurveAnswer", "curve_question", "equation_table"]

#: Percents of 1RM that the curve is worked out at.
PERCENTS = tuple(range(40, 101))


@dataclass(frozen=True, repr=False)
class CurveAnswer(Answer):
    """The answer to "what can this lifter do at this load?".

    Attributes
    ----------
    exercise : str
    curve : DataFrame
        One row a percent of the believed 1RM: percent [% of 1RM]; load_kg [kg]; reps_p10, reps_p50, reps_p90 [reps]
        (to failure of a fresh set, real-valued); studied (whether sets at that percent have been studied; others are
        extrapolated).
    at_load : DataFrame
        One row: load_kg [kg]; percent [% of 1RM]; reps_p10, reps_p50, reps_p90 [reps] (whole); chance [1] (of at least
        ``reps_wanted``).
    equations : DataFrame
        See `equation_table`.
    one_rm : DataFrame
        One row: believed_kg, low_kg, high_kg [kg] (80 % interval).
    endurance_known : bool
        Whether the endurance is the lifter's own; otherwise it is what is usual for the class of exercise.
    grade, source : str
        How well the endurance of the class is known, and from where.
    hands : int, [1]
        In how many hands a load is halved: 1 or 2.
    """

    exercise: str
    curve: pd.DataFrame
    at_load: pd.DataFrame
    equations: pd.DataFrame
    one_rm: pd.DataFrame
    endurance_known: bool
    grade: str
    source: str
    hands: int = 1

    @property
    def notes(self) -> tuple[str, ...]:
        """What is extrapolated, and where the endurance is not the lifter's own."""
        usual = f"the endurance is what is usual for this kind of exercise ({self.source}, {self.grade})"
        beyond = "few sets were studied at this load: extrapolated"
        at = float(self.at_load["percent"].iloc[0]) / 100.0
        return (*(() if self.endurance_known else (usual,)), *(() if studied(at) else (beyond,)))

    def sentences(self) -> list[str]:
        """Say the believed 1RM, and the reps at the load asked for."""
        row, one_rm = self.at_load.iloc[0], self.one_rm.iloc[0]
        believed, low, high, load = (
            say_load(float(kg), hands=self.hands, digits=1)
            for kg in (one_rm["believed_kg"], one_rm["low_kg"], one_rm["high_kg"], row["load_kg"])
        )
        reps = f"{row['reps_p50']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f})"
        wanted = f"{row['reps_wanted']:.0f} or more with a chance of {in_words(row['chance'])}"
        return [
            f"{self.exercise}: 1RM {believed} ({low} to {high}).",
            f"At {load} ({row['percent']:.0f} %): {reps}; {wanted}.",
        ]


def curve_question(
    lifter: Lifter,
    exercise: str,
    *,
    load_kg: float | None = None,
    reps_wanted: int = 8,
    equations: Sequence[str] = (),
    draws: int = 2000,
    seed: int = SEED,
    curve: Curve = DEFAULT_CURVE,
) -> CurveAnswer:
    """Work out the lifter's load-reps curve for one exercise.

    Parameters
    ----------
    lifter : Lifter
    exercise : str
        Name or alias in the lifter's catalogue.
    load_kg : float, [kg], > 0
        Load to read the curve at; three quarters of the believed 1RM where not given.
    reps_wanted : int, [reps], 1 to 1000
        Reps whose chance is asked for at that load.
    equations : sequence of str
        Names in `workbench.models.published.EQUATIONS` to show beside.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.

    Returns
    -------
    CurveAnswer
        Reps [reps] and loads [kg] with the middle 80 % of what this lifter may be; marked outside 60 to 95 % of 1RM.

    Raises
    ------
    InputError
        Unknown exercise or equation, no 1RM for it, or a load that is not positive.

    Notes
    -----
    Endurance of an exercise's class from ``data/parameters.csv``, fitted to ``data/evidence/reps_at_load.csv``; each
    published equation says its own formula and source.
    """
    known = lifter.catalogue.exercise(exercise)
    lift = lifter.lift(known.name)
    load = 0.75 * lift.one_rm if load_kg is None else float(load_kg)
    if not load > 0:
        raise InputError(None, "load_kg", f"{load:g} kg is not a load", "give a load above 0 kg")
    rng = np.random.default_rng(seed)
    drawn = draw_lifter(lifter, (known.name,), weeks=1, sessions=1, sets=1, draws=draws, rng=rng, curve=curve)
    strength = drawn.log_one_rm + drawn.day[0]

    percents = np.array(PERCENTS, dtype=np.float64)
    loads = np.append(percents / 100.0 * lift.one_rm, load)
    reps = curve.fresh_reps(strength - np.log(loads), drawn.endurance) * drawn.set_noise[0]
    low, median, high = np.quantile(reps, INTERVAL, axis=0)
    whole = np.floor(reps[:, -1])
    at_low, at_median, at_high = np.quantile(whole, INTERVAL, method="inverted_cdf")
    prior = endurance_prior(known.endurance_class)
    believed = lift.one_rm
    low_kg, high_kg = np.quantile(np.exp(drawn.log_one_rm[:, 0]), (INTERVAL[0], INTERVAL[2]))
    return CurveAnswer(
        exercise=known.name,
        hands=known.hands,
        curve=pd.DataFrame(
            {
                "percent": percents,
                "load_kg": loads[:-1],
                "reps_p10": low[:-1],
                "reps_p50": median[:-1],
                "reps_p90": high[:-1],
                "studied": studied(percents / 100.0),
            }
        ),
        at_load=pd.DataFrame(
            {
                "load_kg": [load],
                "percent": [100.0 * load / believed],
                "reps_p10": [at_low],
                "reps_p50": [at_median],
                "reps_p90": [at_high],
                "reps_wanted": [reps_wanted],
                "chance": [float((whole >= reps_wanted).mean())],
            }
        ),
        equations=equation_table(equations, believed),
        one_rm=pd.DataFrame({"believed_kg": [believed], "low_kg": [low_kg], "high_kg": [high_kg]}),
        endurance_known=lift.known_endurance is not None,
        grade=prior.grade,
        source=prior.source,
    )


def equation_table(names: Sequence[str], one_rm_kg: float) -> pd.DataFrame:
    """Reps that published equations give at each percent of a 1RM, blank where an equation is not valid.

    Returns
    -------
    DataFrame
        One row an equation and percent: equation (label); percent [% of 1RM]; reps [reps] (NaN outside validity);
        grade.

    Raises
    ------
    InputError
        For a name that is not in the registry.
    """
    percents = np.array(PERCENTS, dtype=np.float64)
    tables = []
    for name in names:
        if name not in EQUATIONS:
            raise InputError(None, "equation", f"{name!r} is not known", f"use one of: {', '.join(EQUATIONS)}")
        equation = EQUATIONS[name]
        reps = equation.reps_for(percents / 100.0 * one_rm_kg, one_rm_kg)
        tables.append(
            pd.DataFrame({"equation": equation.label, "percent": percents, "reps": reps, "grade": equation.grade})
        )
    columns = ["equation", "percent", "reps", "grade"]
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=columns)
