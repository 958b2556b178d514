"""What the workbench forecasts of a day: possible lifters, before any log or after one, live through its sets."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from workbench.fit import FitSettings, Learned, LearnedDraws, fit_log
from workbench.fit.lifter_file import others_given, updated_lifter
from workbench.fit.reading import load
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY, SharedFatigue
from workbench.quantities import SEED, FloatArray, InputError
from workbench.reference.parameters import DRIFT_SD, fatigue_draws, noise
from workbench.simulate.draws import LifterDraws, draw_lifter
from workbench.simulate.plan import overlap_of
from workbench.simulate.run import fresh_set

if TYPE_CHECKING:
    from workbench.lifter import Lifter

__all__ = ["Known", "Workbench", "available_reps"]

_DAYS_A_WEEK: Final = 7.0
#: A log of more sets is read whole again only when it has grown by so much; what is new till then is learned on from
#: the last time, as from a lifter file. So a review grows with the log, and not with its square.
_READ_WHOLE, _GROWN = 300, 1.25


@dataclass(frozen=True)
class Known:
    """What is known before a day.

    Attributes
    ----------
    lifter : Lifter
        As the file had it before the log.
    rows : DataFrame
        Rows of the log before the day.
    sets : DataFrame
        The same as `sets_done` has them.
    today : datetime.date
        The day.
    """

    lifter: Lifter
    rows: pd.DataFrame
    sets: pd.DataFrame
    today: datetime.date


@dataclass
class Workbench:
    """The workbench as a forecaster.

    Attributes
    ----------
    name : str
    learns : bool
        Whether it reads the log; otherwise it knows the lifter file alone.
    form : FatigueForm
    curve : Curve
    draws, seed : int
    """

    name: str
    learns: bool = True
    form: FatigueForm = DEFAULT_FORM
    curve: Curve = DEFAULT_CURVE
    draws: int = 1000
    seed: int = SEED
    _known: Known | None = field(default=None, repr=False)
    _after: tuple[Learned, LearnedDraws] | None = field(default=None, repr=False)
    _whole: tuple[Learned, int] | None = field(default=None, repr=False)

    def learn(self, known: Known) -> None:
        """Learn from all that is known."""
        self._known, self._after = known, None
        if not self.learns or not len(known.sets):
            return
        load()  # a review fits many times; each the same way
        learned = self._learned_on(known) if self._repays(len(known.sets)) else self._learned_whole(known)
        if learned is not None:
            self._after = learned, learned.draws(self.draws, np.random.default_rng([self.seed, 1]))

    def _repays(self, sets: int) -> bool:
        """Whether to learn on from the last time that the log was read whole; a lifter file keeps the usual alone."""
        usual = self.form is DEFAULT_FORM and self.curve is DEFAULT_CURVE
        return usual and self._whole is not None and _READ_WHOLE < sets < _GROWN * self._whole[1]

    def _learned_whole(self, known: Known) -> Learned | None:
        learned = self._fit(known.rows, known.lifter, known.today)
        self._whole = None if learned is None else (learned, len(known.sets))
        return learned

    def _learned_on(self, known: Known) -> Learned | None:
        assert self._whole is not None
        before = self._whole[0]
        new = known.rows[(pd.to_datetime(known.rows["date"]) >= pd.Timestamp(before.today)).to_numpy()]
        return self._fit(new, updated_lifter(before), known.today) or before

    def _fit(self, rows: pd.DataFrame, lifter: Lifter, today: datetime.date) -> Learned | None:
        try:
            return fit_log(rows, lifter, today=today, form=self.form, settings=FitSettings(curve=self.curve))
        except InputError:  # nothing in it that a fit can use
            return None

    @property
    def learned(self) -> Learned | None:
        """What the whole log taught, up to the last time."""
        if self._after is not None and self._known is not None and self._whole is not None:
            whole, sets = self._whole
            return whole if sets == len(self._known.sets) else self._learned_whole(self._known)
        return None

    def forecast(self, day: pd.DataFrame) -> list[FloatArray | None]:
        """Forecast the sets of a day.

        Parameters
        ----------
        day : DataFrame
            Sets as `sets_done` has them; what came of them is not looked at.

        Returns
        -------
        list of array, shape (draws,), [reps], or None
            Reps that could be made in each set, real-valued; None where neither file nor log knows the lift.
        """
        assert self._known is not None
        lifter = self._known.lifter if self._after is None else self._after[0].lifter
        seen = () if self._after is None else self._after[1].exercises
        known = [name for name in dict.fromkeys(day["exercise"]) if name in seen or lifter.knows(name)]
        to_do = day[day["exercise"].isin(known)]
        if to_do.empty:
            return [None] * len(day)
        date = day["date"].iloc[0]
        rng = np.random.default_rng([self.seed, 2, date.toordinal()])
        possible = self._lifters(tuple(known), len(to_do), date, rng)
        found = dict(zip(to_do.index, available_reps(possible, to_do, lifter), strict=True))
        return [found.get(at) for at in day.index]

    def _lifters(self, names: tuple[str, ...], sets: int, date: datetime.date, rng: np.random.Generator) -> LifterDraws:
        assert self._known is not None
        lifter = self._known.lifter
        if self._after is None:
            size: dict[str, Any] = {"weeks": 1, "sessions": 1, "sets": sets, "draws": self.draws}
            return draw_lifter(lifter, names, rng=rng, form=self.form, curve=self.curve, **size)
        learned, after = self._after
        others = tuple(name for name in names if name not in after.exercises)
        of_others = others_given(learned, after, others, rng)
        log_one_rm, endurance = np.empty((2, self.draws, len(names)))
        last = max(self._known.sets["date"])
        gained, drifted = (date - last).days / _DAYS_A_WEEK, (date - learned.today).days / _DAYS_A_WEEK
        for lane, name in enumerate(names):
            if name in others:
                log_one_rm[:, lane] = of_others[0][:, others.index(name)]
                if learned.lifter is not lifter:  # not done since the log was last read whole
                    since = (date - (learned.lifter.lift(name).tested or date)).days / _DAYS_A_WEEK
                    log_one_rm[:, lane] += DRIFT_SD * np.sqrt(since) * rng.standard_normal(self.draws)
                endurance[:, lane] = np.exp(of_others[1][:, others.index(name)])
                continue
            at = after.exercises.index(name)
            ahead = after.gain[:, at] * gained + DRIFT_SD * np.sqrt(drifted) * rng.standard_normal(self.draws)
            log_one_rm[:, lane] = after.log_one_rm[:, at] + ahead
            endurance[:, lane] = after.endurance[:, at]
        spread = noise()
        return LifterDraws(
            exercises=names,
            log_one_rm=log_one_rm,
            endurance=endurance,
            recovery_rate=after.recovery_rate,
            fatigue=fatigue_draws(self.draws, rng, form=self.form) if after.tiring is None else after.tiring,
            form=self.form,
            day=spread.day_sd * rng.standard_normal((1, self.draws, 1)),
            set_noise=np.exp(spread.set_log_sd * rng.standard_normal((sets, self.draws, 1))),
            carry=after.carry_over[:, np.newaxis],
            curve=self.curve,
            bend=after.bend,
        )


def available_reps(draws: LifterDraws, day: pd.DataFrame, lifter: Lifter) -> FloatArray:
    """Let possible lifters do the sets of a day, with the loads and rests of the log.

    A set ends at the most reps prescribed, or where no more can be made; one that ended where it felt so, there.

    Parameters
    ----------
    draws : LifterDraws
        For the exercises of the day, one session, one week.
    day : DataFrame
        Sets as `sets_done` has them, in order.
    lifter : Lifter

    Returns
    -------
    array, shape (sets, draws), [reps]
        Real-valued; whole reps are its floor.
    """
    overlap = overlap_of(draws.exercises, lifter.catalogue)
    carry = CARRY if draws.carry is None else CARRY.times(draws.carry)
    shared = SharedFatigue(
        draws.form, overlap, draws.recovery_rate[:, np.newaxis], parameters=draws.fatigue, carry=carry
    )
    found = np.empty((len(day), draws.count))
    for number, one in enumerate(day.to_dict("records")):
        lane = draws.exercises.index(one["exercise"])
        headroom, usual = fresh_set(draws, lane, draws.day[0], np.array([one["load_kg"]]), 0.0)
        state = shared.before(lane, [one["start_s"]])
        fresh = usual * draws.set_noise[number]
        most = float(one["reps"]) if np.isnan(one["high"]) else one["high"]
        available, after = draws.form.work(state, headroom, fresh, most, parameters=draws.fatigue)
        shared.after(lane, after, [one["end_s"]])
        found[number] = available[:, 0]
    return found
