"""One exercise of a lifter: the 1RM, where it comes from and how sure it is, and endurance where it is known."""

from __future__ import annotations

import datetime
from functools import cache
from typing import Annotated, Final, Literal

import numpy as np
from pydantic import Field, PrivateAttr, model_validator

from workbench.lifter.belief import TENTH, Belief
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.stated_reserve import statement_bias, statement_sd
from workbench.quantities import KG_PER_LB, FloatArray
from workbench.reference.parameters import DRIFT_SD, noise, one_rm_spread
from workbench.reference.sources import read_rows
from workbench.reference.toml_files import Number, Strict

__all__ = ["FromSet", "Interval", "KnownFrom", "Lift", "RepsAtPercent", "interval_fault"]

#: What is believed of a 1RM of which the file says nothing else, % (assumed).
_UNSAID_PERCENT: Final = 4.0
#: The widest half of an interval, as sd of the natural log: nobody knows less of a lifter.
_WIDEST: Final = 2.0

#: Low and high end: one in ten lies below, one in ten above.
Interval = Annotated[list[Annotated[Number, Field(gt=0, le=5000)]], Field(min_length=2, max_length=2)]

#: Where a 1RM comes from, in the words of a lifter file; ``data/one_rm_origins.csv`` says how sure each is.
KnownFrom = Literal[
    "tested lately", "tested last year", "a rough estimate", "kept low on purpose", "a ratio to another lift", "the log"
]


@cache
def _origins() -> dict[str, dict[str, str]]:
    return {row["known_from"]: row for row in read_rows("one_rm_origins.csv")}


def interval_fault(name: str, middle: float | None, interval: list[float] | None) -> str | None:
    """Say what is wrong with the 80 % interval of a number above 0, as "problem; remedy"; None where nothing is."""
    if interval is None:
        return None
    if middle is None:
        return f"{name}_interval stands alone; give {name} too, or remove the interval"
    low, high = interval
    if not 0.0 < low < middle < high:
        return (
            f"{name}_interval {low:g} to {high:g} does not hold {middle:g} between its ends; correct it, or remove it "
            "where the number is a new one"
        )
    if max(np.log(high / middle), np.log(middle / low)) > _WIDEST * TENTH:
        return f"{name}_interval {low:g} to {high:g} is wider than anything believed of a lifter; correct it"
    return None


def of_interval(middle: float, interval: list[float]) -> Belief:
    """Return what an 80 % interval of a number above 0 says, on the natural log."""
    return Belief.of_interval(float(np.log(interval[0])), float(np.log(middle)), float(np.log(interval[1])))


class RepsAtPercent(Strict):
    """Reps to failure that the lifter makes, fresh, at a percent of 1RM."""

    percent: Annotated[Number, Field(ge=30, le=97.5)]
    reps: Annotated[Number, Field(gt=1, le=100)]


class FromSet(Strict):
    """A fresh set from which a 1RM is worked out on the load-reps curve.

    Attributes
    ----------
    kg, lb : float, [kg] or [lb], from 0.1
        Its load; exactly one of them.
    reps : int, [reps], 1 to 20
        Reps done.
    reps_in_reserve : float, [reps], 0 to 5
        As the lifter said; 0 after a set to failure.
    """

    kg: Annotated[Number, Field(ge=0.1, le=1000)] | None = None
    lb: Annotated[Number, Field(ge=0.1, le=2200)] | None = None
    reps: Annotated[int, Field(ge=1, le=20)]
    reps_in_reserve: Annotated[Number, Field(ge=0, le=5)] = 0.0

    @model_validator(mode="after")
    def _one_unit(self) -> FromSet:
        if (self.kg is None) == (self.lb is None):
            raise ValueError("the load is given in neither or both units; give exactly one of kg, lb")
        return self

    @property
    def load_kg(self) -> float:
        """Load as written, kg."""
        return self.kg if self.kg is not None else float(self.lb or 0.0) * KG_PER_LB

    def log_one_rm(self, log_endurance: FloatArray, curve: Curve) -> FloatArray:
        """Natural log of the 1RM in the unit of `load_kg`, for any endurance, by the reps that were likely there.

        Whole reps are taken as they are: nobody knows of the part of a rep that was left, and less is the safe side.
        """
        headroom = curve.headroom_for(self._available, np.exp(log_endurance))
        return np.asarray(np.log(self.load_kg) + headroom)

    def scatter(self, log_endurance: float, curve: Curve) -> FloatArray:
        """Sd of the natural log of the 1RM where endurance is known: the day, the set, and the lifter's statement."""
        known, reps = noise(), self._available
        said = float(statement_sd(self.reps_in_reserve, reps)) / reps if self.reps_in_reserve > 0 else 0.0
        off = float(np.hypot(known.set_log_sd, said))
        far, near = (curve.headroom_for(reps * np.exp(sign * off), np.exp(log_endurance)) for sign in (1.0, -1.0))
        return np.hypot(known.day_sd, 0.5 * (far - near))

    @property
    def _available(self) -> float:
        said = self.reps + self.reps_in_reserve
        return said + (float(statement_bias(said)) if self.reps_in_reserve > 0 else 0.0)


class Lift(Strict):
    """What is known of one exercise: the 1RM with its uncertainty, and endurance where it is known.

    For moves against body mass the 1RM is the whole mass lifted: the part of the body that counts, and what is added.
    For two dumbbells ``each_hand`` says whether the number is that of one hand (true) or of both together (false).

    Attributes
    ----------
    one_rm_kg, one_rm_lb : float, [kg] or [lb], from 0.1
    from_set : FromSet or None
        Exactly one of the three: the 1RM, or a set from which it is worked out.
    each_hand : bool or None
    known_from : {"tested lately", "tested last year", "a rough estimate", "kept low on purpose", \
"a ratio to another lift", "the log"} or None
        Where the 1RM comes from; each has its own width (``data/one_rm_origins.csv``).
    kept_low_percent : float or None, [%], 0 to 30
        By how much, about, a number "kept low on purpose" lies below what could be lifted. Loads in percent go by the
        number as it stands, forecasts by what could be lifted.
    uncertainty_percent : float or None, [%], 0 to 40
        Standard deviation of what is believed of the 1RM; comes before the width of ``known_from``. 4 where the file
        says neither.
    one_rm_interval : list of two float or None, [unit of the 1RM]
        The same as an 80 % interval, in place of ``uncertainty_percent``.
    endurance : float or None, [1/rep], 0.003 to 0.3
        Or ``reps_at``, not both.
    endurance_interval : list of two float or None, [1/rep]
        80 % interval of ``endurance``.
    reps_at : RepsAtPercent or None
    tested : date or None
        When the 1RM was so. It grows less sure with every week from then to the newest day that the file knows of,
        unless ``uncertainty_percent`` says how sure it is.
    note : str
    """

    one_rm_kg: Annotated[Number, Field(ge=0.1, le=1000)] | None = None
    one_rm_lb: Annotated[Number, Field(ge=0.1, le=2200)] | None = None
    from_set: FromSet | None = None
    each_hand: bool | None = None
    known_from: KnownFrom | None = None
    kept_low_percent: Annotated[Number, Field(gt=0, le=30)] | None = None
    uncertainty_percent: Annotated[Number, Field(ge=0, le=40)] | None = None
    one_rm_interval: Interval | None = None
    endurance: Annotated[Number, Field(ge=0.003, le=0.3)] | None = None
    endurance_interval: Interval | None = None
    reps_at: RepsAtPercent | None = None
    tested: datetime.date | None = None
    note: str = ""
    #: Log 1RM that the set speaks of, in the unit of the file; the lifter works it out, who knows the exercise.
    _log_from_set: float | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _one_of_each(self) -> Lift:
        given = [value for value in (self.one_rm_kg, self.one_rm_lb, self.from_set) if value is not None]
        if len(given) != 1:
            raise ValueError(
                "the 1RM is given in no way or in several; give exactly one of one_rm_kg, one_rm_lb, from_set"
            )
        if self.endurance is not None and self.reps_at is not None:
            raise ValueError("endurance is given twice; give endurance or reps_at, not both")
        widths = (self.uncertainty_percent is not None, self.one_rm_interval is not None)
        if all(widths):
            raise ValueError(
                "the width of the 1RM is given twice; give uncertainty_percent or one_rm_interval, not both"
            )
        if self.from_set is not None and (any(widths) or self.known_from is not None):
            raise ValueError(
                "from_set says where the 1RM comes from and how sure it is; remove known_from, uncertainty_percent and "
                "one_rm_interval, or give the 1RM in place of the set"
            )
        if (self.kept_low_percent is not None) != (self.known_from == "kept low on purpose"):
            raise ValueError(
                'kept_low_percent and known_from = "kept low on purpose" belong together; give both or neither'
            )
        if self.known_from == "the log" and not any(widths):
            raise ValueError(
                'known_from = "the log" says no width; give one_rm_interval or uncertainty_percent, as the fit wrote it'
            )
        faults = (
            interval_fault("one_rm", self.one_rm_kg or self.one_rm_lb, self.one_rm_interval),
            interval_fault("endurance", self.endurance, self.endurance_interval),
        )
        for fault in faults:
            if fault:
                raise ValueError(fault)
        return self

    @property
    def one_rm(self) -> float:
        """The 1RM that loads go by, kg; of two dumbbells that of both together."""
        if self.one_rm_kg is not None:
            kg = self.one_rm_kg
        elif self.one_rm_lb is not None:
            kg = self.one_rm_lb * KG_PER_LB
        else:
            if self._log_from_set is None:
                raise ValueError("a 1RM from a set is worked out by the lifter whose lift it is")
            kg = float(np.exp(self._log_from_set))
        return 2.0 * kg if self.each_hand else kg

    @property
    def in_pounds(self) -> bool:
        """Whether the file speaks of this lift in pounds."""
        return self.one_rm_lb is not None or (self.from_set is not None and self.from_set.lb is not None)

    def worked_out(self, log_one_rm: float) -> None:
        """Take what the set says of the 1RM, natural log, in the unit of the set: the lifter knows the exercise."""
        self._log_from_set = log_one_rm

    @property
    def known_endurance(self) -> float | None:
        """The lifter's own endurance, 1/rep, or None where only the exercise class is known."""
        return self.endurance_on(DEFAULT_CURVE)

    def endurance_on(self, curve: Curve) -> float | None:
        """Return the same where reps go by another curve."""
        if self.reps_at is not None:
            return float(curve.endurance_from(self.reps_at.percent / 100.0, self.reps_at.reps))
        return self.endurance

    def belief(self, training: str | None = None, on: datetime.date | None = None) -> Belief:
        """Return what is believed of the natural log of the 1RM, kg; not for a 1RM from a set.

        Parameters
        ----------
        training : {"trained", "untrained"} or None
            How well people of this training know a tested 1RM.
        on : datetime.date or None
            The day it is wanted for: it drifts from the day it was tested, but where the file states an
            ``uncertainty_percent``, which holds as it stands. None: the day it was tested.
        """
        middle = float(np.log(self.one_rm / (1.0 - (self.kept_low_percent or 0.0) / 100.0)))
        if self.one_rm_interval is not None:
            stated = of_interval(self.one_rm_kg or self.one_rm_lb or np.nan, self.one_rm_interval)
            found = Belief(middle, stated.below, stated.above)
        else:
            found = Belief.normal(middle, self._log_sd(training))
        if on is None or self.tested is None or self.uncertainty_percent is not None:
            return found
        return found.widened(DRIFT_SD * float(np.sqrt(max((on - self.tested).days, 0) / 7.0)))

    def _log_sd(self, training: str | None) -> float:
        if self.uncertainty_percent is not None:
            return self.uncertainty_percent / 100.0
        if self.known_from is None:
            return _UNSAID_PERCENT / 100.0
        origin = _origins()[self.known_from]
        # A percentage in a study goes wrong by the test and by the day; the day comes in again when a block is run.
        test = np.sqrt(max(one_rm_spread(training) ** 2 - noise().day_sd ** 2, 0.0))
        weeks = float(origin["weeks"]) if self.tested is None else 0.0
        base = float(origin["log_sd"]) if origin["log_sd"] else float(test)
        return float(np.hypot(base, DRIFT_SD * np.sqrt(weeks)))
