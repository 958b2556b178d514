"""What can this lifter do at this load? The load-reps curve with its band, beside the published equations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from workbench.answers.lifter_words import endurance_said
from workbench.lifter import Lifter
from workbench.log.typed import typed_set
from workbench.models.load_reps import DEFAULT_CURVE, Curve, studied
from workbench.models.published import EQUATIONS
from workbench.present.answer import Answer
from workbench.present.words import in_words, reps_expected, say_load
from workbench.quantities import SEED, InputError, Unit, to_kg
from workbench.reference.parameters import endurance_prior
from workbench.simulate.draws import draw_lifter
from workbench.simulate.run import INTERVAL, interval_columns

__all__ = ["CurveAnswer", "curve_question", "equation_table", "own_sets_table"]

#: Percents of 1RM that the curve is worked out at.
PERCENTS: Final = tuple(range(40, 101))
_MOST_SETS: Final = 50


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
    endurance : str
        The lifter's endurance in words: reps at 70 %, beside what is usual.
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
    endurance: str
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
        reps = reps_expected(row["reps_p10"], row["reps_p50"], row["reps_p90"])
        wanted = f"{row['reps_wanted']:.0f} or more with a chance of {in_words(row['chance'])}"
        return [
            f"{self.exercise}: 1RM {believed} ({low} to {high}).",
            f"At {load} ({row['percent']:.0f} %): {reps}; {wanted}.",
            f"{self.endurance.capitalize()}.",
        ]


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
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
    reps = drawn.bent_curve.fresh_reps(strength - np.log(loads), drawn.endurance) * drawn.set_noise[0]
    whole = np.floor(reps[:, -1:])
    low_kg, _, high_kg = np.quantile(np.exp(drawn.log_one_rm[:, 0]), INTERVAL)
    prior = endurance_prior(known.endurance_class)
    return CurveAnswer(
        exercise=known.name,
        hands=known.hands,
        curve=pd.DataFrame(
            {
                "percent": percents,
                "load_kg": loads[:-1],
                **interval_columns(reps[:, :-1]),
                "studied": studied(percents / 100.0),
            }
        ),
        at_load=pd.DataFrame(
            {
                "load_kg": [load],
                "percent": [100.0 * load / lift.one_rm],
                **interval_columns(whole, method="inverted_cdf"),
                "reps_wanted": [reps_wanted],
                "chance": [float((whole >= reps_wanted).mean())],
            }
        ),
        equations=equation_table(equations, lift.one_rm),
        one_rm=pd.DataFrame({"believed_kg": [lift.one_rm], "low_kg": [low_kg], "high_kg": [high_kg]}),
        endurance=endurance_said(
            drawn.endurance[:, 0],
            curve.bent(drawn.bend),
            lifter.usual_endurance(known.endurance_class),
            known=lift.endurance_on(curve) is not None,
        ),
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


def own_sets_table(text: str, one_rm_kg: float, *, unit: Unit = "kg", hands: int = 1) -> pd.DataFrame:
    """Read sets to failure written as load x reps, parted by semicolons.

    Parameters
    ----------
    text : str
        For instance ``"80 x 8; 72.5 kg x 11; 150 lb x 12"``; of two dumbbells the load of one hand. A comma in a number
        is a decimal comma.
    one_rm_kg : float
        The believed 1RM, of both dumbbells where there are two, [kg], > 0.
    unit : {"kg", "lb"}
        Of loads that state none.
    hands : int, [1], 1 or 2
        2 where the load is that of one of two dumbbells.

    Returns
    -------
    DataFrame
        One row a set: percent (of the believed 1RM), reps, text. Empty for an empty text.

    Raises
    ------
    InputError
        Where a set cannot be read, or its load or reps are out of range.

    Examples
    --------
    >>> own_sets_table("80 x 8; 72,5 kg x 11", 100.0).to_dict("records")[1]
    {'percent': 72.5, 'reps': 11, 'text': '72.5 kg x 11 (72 % of 1RM)'}
    """
    rows = []
    written = [part.strip() for part in text.split(";") if part.strip()]
    if len(written) > _MOST_SETS:
        raise InputError(None, "own sets", f"{len(written)} sets are too many", f"give at most {_MOST_SETS}")
    for part in written:
        try:
            done = typed_set(part, unit, each_hand=hands == 2)
        except InputError as error:
            remedy = "write load x reps, such as 80 x 8; 72.5 x 11"
            raise InputError(None, "own sets", f"{part!r} is not a set: {error.problem}", remedy) from None
        load = hands * float(to_kg(done.load.value, done.load.unit))
        percent = 100.0 * load / one_rm_kg
        if done.reserve:
            raise InputError(None, "own sets", f"{part!r} did not end in failure", "give sets to failure alone")
        if not 20 <= percent <= 120:
            problem = f"{part!r} is {percent:.0f} % of the 1RM"
            raise InputError(None, "own sets", problem, "give sets of 20 to 120 %")
        said = say_load(load, done.load.unit, hands=hands)
        rows.append((percent, done.reps, f"{said} x {done.reps} ({percent:.0f} % of 1RM)"))
    return pd.DataFrame(rows, columns=["percent", "reps", "text"])
