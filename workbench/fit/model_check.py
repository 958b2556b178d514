"""Does a log follow the model that reads it? Where it does not, 1RM and endurance are less sure than their bands say.

The model is held against wider ones that hold it as a special case: reps that change from set to set, from week to week
or with the load otherwise than it lets them, or that scatter more. Each departure adds one number, 0 in the model; all
else summed over, the evidence of the log says whether 0 fits. And endurance and recovery rate are held against what is
known of lifters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd
from scipy.special import ndtr

from workbench.fit.joint import combine, fit_lift
from workbench.fit.likelihood import Departure, Grid, SetReader

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.fit.joint import Fit, FittedLift
    from workbench.fit.marginals import LogNormal, Marginal

__all__ = ["ModelCheck", "check_model"]

#: A departure of this size is plausible: ln reps for each set, for each week, for the squared ln of the load, and ln of
#: the scatter. Departures that would not stand out at that size, by one sd, are not looked for (assumed).
_SIZES: Final = {"from set to set": 0.05, "from week to week": 0.03, "from load to load": 2.5, "scatter": 0.3}
#: Part of that size at which the slope and the bend of the evidence are read.
_STEP: Final = 0.05
#: Gain of log evidence that counts where the evidence does not bend like a normal distribution's: that of two sds.
_GAIN: Final = 2.0
#: Least share of the variance that a log is taken to have explained.
_LITTLE: Final = 0.2
#: What a departure means, and its word below 0 and above.
_WORDS: Final = {
    "from set to set": ("later sets of a day give {} reps than its fatigue explains", "fewer", "more"),
    "from week to week": ("reps change {} over the weeks than its drift explains", "more downwards", "more upwards"),
    "from load to load": ("the lightest and heaviest loads give {} reps than its curve", "fewer", "more"),
    "scatter": ("reps scatter {} from set to set than it takes for usual", "less", "more"),
    "1RM": ("the sets speak of a {} 1RM than the lifter file, by more than it allows for", "lower", "higher"),
    "endurance": ("strength falls {} with each rep than in almost all lifters", "less", "more"),
    "recovery": ("reps come back {} between sets than in almost all lifters", "more slowly", "faster"),
}


@dataclass(frozen=True)
class ModelCheck:
    """How a log departs from the model.

    Attributes
    ----------
    departures : DataFrame
        One row a departure looked for, the clearest first: exercise ("all" for all together), kind, z (how many sds the
        log lies from the model; positive: more), chance (of one as clear, if the log follows the model), found.
    level : float
        How likely one false alarm in the whole log is accepted to be.
    """

    departures: pd.DataFrame
    level: float

    @property
    def found(self) -> pd.DataFrame:
        """Only what contradicts the model."""
        return self.departures[self.departures["found"]]

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for who reads the numbers; empty where nothing speaks against the model."""
        if self.found.empty:
            return ()
        said = []
        for row in self.found.head(3).to_dict("records"):
            who = "all exercises together" if row["exercise"] == "all" else row["exercise"]
            text, less, more = _WORDS[row["kind"]]
            said.append(f"{who}: {text.format(more if row['z'] > 0 else less)} ({abs(row['z']):.1f} sd)")
        sure = "1RM, endurance and recovery are then less sure than their intervals say: plan from sets really done."
        return (f"The log contradicts the model: {'; '.join(said)}. {sure}",)


def check_model(
    fit: Fit,
    one_rm: Sequence[Marginal],
    endurance: Sequence[Marginal],
    recovery_rate: Marginal,
    *,
    level: float = 0.05,
) -> ModelCheck:
    """Ask whether the log contradicts the model.

    Parameters
    ----------
    fit : Fit
    one_rm, endurance : sequence of Marginal
        What was learned of each exercise of the log.
    recovery_rate : Marginal
    level : float
        Accepted chance that a log that follows the model is said to contradict it, shared out over all departures that
        are looked for; and the same once more for the 1RMs of the lifter file, shared out over the exercises.

    Notes
    -----
    Of 80 simulated logs of lifters as the model has them, 4 to 16 sessions of one to three exercises, 3 are said to
    contradict it. Of 20 logs each, whose reps fall by 5 % a set whatever the rest, follow another curve, or scatter
    three times as much, 20, 18 (where no bend is learned) and 15 are found out.
    After three days, 50 of 80 files whose 1RMs are 10 % high are
    named, and 3 of 80 that are right (``python -m tests.fit.test_model_check 80``). Nothing found is no
    proof: a short log contradicts little.
    """
    rows = [*_departures(fit), *_conflicts(fit, one_rm, endurance, recovery_rate)]
    table = pd.DataFrame(rows, columns=["exercise", "kind", "z"])
    z = table["z"].to_numpy(dtype=np.float64)
    # Less scatter than usual makes bands too wide, never too narrow.
    one_sided = (table["kind"] == "scatter").to_numpy()
    table["chance"] = np.where(one_sided, ndtr(-z), 2.0 * ndtr(-np.abs(z)))
    of_file = table["kind"] == "1RM"
    table["found"] = table["chance"] < level / of_file.map(of_file.value_counts())
    return ModelCheck(table.sort_values("chance", kind="stable", ignore_index=True), level)


def _departures(fit: Fit) -> Iterator[tuple[str, str, float]]:
    """Go through the wider models: exercise, kind and z."""
    count = len(fit.lifts)
    groups = [(number,) for number in range(count)] + ([tuple(range(count))] if count > 1 else [])
    evidence = _Evidence(fit)
    for kind in _SIZES:
        for group in groups:
            z = _z(evidence, kind, group)
            if z is not None:
                yield fit.lifts[group[0]].exercise if len(group) == 1 else "all", kind, z


class _Evidence:
    """Log evidence of a log where some of its exercises depart from the model in one way, the others not."""

    def __init__(self, fit: Fit) -> None:
        self.fit = fit
        self._lifts: dict[tuple[int, str, float], FittedLift] = {}

    def __call__(self, kind: str, group: tuple[int, ...], sizes: float) -> float:
        """Return it for so many plausible sizes of the departure in the exercises of a group."""
        fit = self.fit
        lifts = [
            self._lift(number, kind, sizes * _SIZES[kind]) if number in group else self._lift(number, "", 0.0)
            for number in range(len(fit.lifts))
        ]
        return combine(lifts, fit.rate, fit.joint.log_rate).log_evidence

    def _lift(self, number: int, kind: str, by: float) -> FittedLift:
        key = number, kind, by
        if key not in self._lifts:
            self._lifts[key] = _fitted(self.fit, *key)
        return self._lifts[key]


def _z(evidence: _Evidence, kind: str, group: tuple[int, ...]) -> float | None:
    """Slope of the log evidence over the root of its bend; None where the log can say next to nothing.

    Far from the model the evidence no longer bends like that of a normal distribution: there twice the logarithm of how
    much more probable a departure of plausible size makes the log takes the place of the square of z.
    """
    at, low, high = evidence("", (), 0.0), evidence(kind, group, -_STEP), evidence(kind, group, _STEP)
    slope, bend = (high - low) / (2.0 * _STEP), (high + low - 2.0 * at) / _STEP**2
    if bend <= -1.0:
        return float(slope / np.sqrt(-bend))
    side = float(np.sign(slope))
    gain = evidence(kind, group, side) - at
    return side * float(np.sqrt(2.0 * gain)) if gain >= _GAIN else None


def _fitted(fit: Fit, number: int, kind: str, by: float) -> FittedLift:
    """Fit one exercise in a wider model, on every other point of its grid: slopes need no fine one."""
    lift, log = fit.lifts[number], fit.log.lifts[number]
    settings = fit.settings
    if kind == "scatter":
        settings = replace(settings, set_log_sd=settings.set_log_sd * float(np.exp(by)))
    grid = Grid(lift.grid.log_rate, lift.grid.log_endurance[::2], lift.grid.log_strength[::2])
    reader = SetReader(grid, fit.form, fit.parameters, settings, _departure(log, kind, by), lift.course)
    return fit_lift(reader, log, lift.prior, fit.given[number], fit.today)


def _departure(log: LiftLog, kind: str, by: float) -> Departure | None:
    """Return what a departure adds to the log of the reps available in each set."""
    if kind == "from set to set":
        return lambda session, number, logged: by * number
    if kind == "from week to week":
        days = {session.date: (session.date - log.sessions[0].date).days for session in log.sessions}
        middle = float(np.mean(list(days.values())))
        return lambda session, number, logged: by * (days[session.date] - middle) / 7.0
    if kind == "from load to load":
        usual = float(np.median([np.log(logged.load_kg) for session in log.sessions for logged in session.sets]))
        return lambda session, number, logged: by * float(np.log(logged.load_kg) - usual) ** 2
    return None


def _conflicts(
    fit: Fit, one_rm: Sequence[Marginal], endurance: Sequence[Marginal], recovery_rate: Marginal
) -> Iterator[tuple[str, str, float]]:
    """Hold what was learned against the lifter file and what is known of lifters: exercise, kind and z."""
    for number, (lift, strong, lasting) in enumerate(zip(fit.lifts, one_rm, endurance, strict=True)):
        yield lift.exercise, "endurance", _conflict(lasting, lift.prior.endurance)
        if not lift.prior.guessed:
            yield lift.exercise, "1RM", _conflict(strong, lift.prior.one_rm, _changed(fit, number))
    if fit.lifts:
        yield "all", "recovery", _conflict(recovery_rate, fit.rate)


def _changed(fit: Fit, number: int) -> float:
    """Return the variance of the change of a log 1RM since the lifter file's held: drift, and what may be gained."""
    prior, sessions = fit.lifts[number].prior.one_rm, fit.log.lifts[number].sessions
    first, last = sessions[0].date, sessions[-1].date
    weeks = (fit.today - min(prior.date or first, fit.today)).days / 7.0
    trained = max((last - max(prior.date or first, first)).days / 7.0, 0.0)
    unknowns = fit.unknowns
    gain_sd = 0.0 if unknowns is None else float(unknowns.prior_sd[unknowns.of("gain")[number]])
    return fit.settings.drift_sd**2 * weeks + (gain_sd * trained) ** 2


def _conflict(after: Marginal, prior: LogNormal, more: float = 0.0) -> float:
    # Under the prior, posterior means scatter about its mean by what the log takes off its variance.
    variance = prior.log_sd**2 + more
    return float((after.mean - prior.log_mean) / np.sqrt(max(variance - after.sd**2, _LITTLE * variance)))
