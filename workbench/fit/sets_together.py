"""All sets of a log side by side: the reps available in each, as everything that is not known has it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.fit.likelihood import kind_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.carried import GivenByOthers
    from workbench.fit.evidence_sets import LoggedSet, UsedLog
    from workbench.fit.settings import FitSettings
    from workbench.models.fatigue import FatigueForm, State
    from workbench.quantities import FloatArray

__all__ = ["Kind", "SetsTogether"]

#: Fewest reps that count as available: no set says how far below none it was.
_NO_REPS = 0.05


@dataclass(frozen=True)
class Kind:
    """Sets whose probability takes the same steps: see `workbench.fit.likelihood.kind_of`.

    Attributes
    ----------
    logged : LoggedSet
        One of them.
    at : tuple of two arrays, shape (sets,)
        Their rows and columns in `SetsTogether`.
    several : tuple of two arrays, shape (sets,), [reps]
        Their reps and stated reserves.
    """

    logged: LoggedSet
    at: tuple[NDArray[np.intp], NDArray[np.intp]]
    several: tuple[FloatArray, FloatArray]

    @classmethod
    def of(cls, places: list[tuple[int, int, LoggedSet]]) -> Kind:
        """Join sets of a kind, each with its row and column."""
        rows, columns, sets = zip(*places, strict=True)
        said = np.array([logged.reps for logged in sets]), np.array([logged.reserve for logged in sets])
        return cls(sets[0], (np.array(rows), np.array(columns)), said)


class SetsTogether:
    """All sets of a log side by side: the n-th sets of all sessions in row n.

    Parameters
    ----------
    used : UsedLog
    given : GivenByOthers
        What other exercises had left, at the log rates ``log_rate``.
    log_rate : array, shape (rates,)
    form : FatigueForm

    Attributes
    ----------
    lifts : tuple of LiftLog
    lift : array, shape (sessions,)
        Number of the exercise of each session.
    dates : list of datetime.date
        Of each session.
    log_load, rest, wanted, usual_sd, day_sd : array, shape (sets, sessions)
        [ln kg], [s], [reps], and log sds of a rest that the log does not give. A session of fewer sets is filled up.
    kinds : list of Kind
    """

    def __init__(self, used: UsedLog, given: GivenByOthers, log_rate: FloatArray, form: FatigueForm) -> None:
        sessions = [(number, session) for number, lift in enumerate(used.lifts) for session in lift.sessions]
        self.lifts = used.lifts
        self.lift = np.array([number for number, _ in sessions])
        self.dates = [session.date for _, session in sessions]
        self.form, self.log_rate = form, log_rate
        shape = max(len(session.sets) for _, session in sessions), len(sessions)
        self.log_load, self.rest, self.wanted = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        self.usual_sd, self.day_sd = np.zeros(shape), np.zeros(shape)
        self.given = np.zeros((form.pools, *shape, log_rate.size))
        alike: dict[tuple[Any, ...], list[tuple[int, int, LoggedSet]]] = {}
        from_others = [sets[at] for lift, sets in zip(used.lifts, given, strict=True) for at in lift.places]
        for column, ((_, session), got) in enumerate(zip(sessions, from_others, strict=True)):
            self.given[:, : len(got), column] = got.transpose(1, 0, 2)
            for row, logged in enumerate(session.sets):
                at = row, column
                self.log_load[at], self.rest[at] = np.log(logged.load_kg), logged.rest_s
                self.wanted[at] = np.inf if logged.ending == "failed" else logged.reps
                self.usual_sd[at], self.day_sd[at] = logged.unsure.usual, logged.unsure.day
                alike.setdefault(kind_of(logged), []).append((row, column, logged))
            self.log_load[len(session.sets) :, column] = self.log_load[0, column]
        self.any_given = bool(self.given.any())
        self.kinds = [Kind.of(places) for places in alike.values()]

    def from_others(self, log_rate: FloatArray) -> list[State] | None:
        """Return what other exercises had left before each row of sets, at log rates of shape (points, 1)."""
        if not self.any_given:
            return None
        step = self.log_rate[1] - self.log_rate[0]
        at = np.clip((log_rate[:, 0] - self.log_rate[0]) / step, 0.0, self.log_rate.size - 1.001)
        low = at.astype(int)
        part = at - low
        both = self.given[..., low] * (1.0 - part) + self.given[..., low + 1] * part
        return [tuple(pool[row].T for pool in both) for row in range(self.log_load.shape[0])]

    # More than seven parameters: one for each thing that is not known.
    def log_available(
        self,
        strength: FloatArray,
        log_k: FloatArray,
        log_rate: FloatArray,
        parameters: Any,
        *,
        usual_rest: FloatArray,
        day_rest: FloatArray,
        bend: FloatArray,
        later: FloatArray,
        settings: FitSettings,
    ) -> FloatArray:
        """Log of the reps available in each set.

        Parameters
        ----------
        strength, log_k, log_rate, day_rest : array that broadcasts to (points, sessions)
            Of the day, natural log of endurance and of the recovery rate, and how much longer its rests were, in sds.
        parameters
            Of the form.
        usual_rest, bend, later : array, shape (points, 1)
            As in `workbench.fit.unknowns.Unknowns`.
        settings : FitSettings

        Returns
        -------
        array, shape (points, sets, sessions), [ln reps]
        """
        curve = settings.curve.bent(bend)
        form, endurance, rate = self.form, np.exp(log_k), np.exp(log_rate)
        own, given = form.fresh(strength.shape), self.from_others(log_rate)
        found = np.empty((strength.shape[0], *self.log_load.shape))
        for row in range(self.log_load.shape[0]):
            if row:
                longer = np.exp(self.usual_sd[row] * usual_rest + self.day_sd[row] * day_rest)
                own = form.rest(own, self.rest[row] * longer, rate, parameters=parameters)
            before = own if given is None else tuple(a + b for a, b in zip(own, given[row], strict=True))
            headroom = strength - self.log_load[row]
            fresh = curve.fresh_reps(headroom, endurance)
            available, after = form.work(before, headroom, fresh, self.wanted[row], parameters=parameters)
            own = after if given is None else tuple(a - b for a, b in zip(after, given[row], strict=True))
            found[:, row] = np.log(np.maximum(available, _NO_REPS)) + (later if row else 0.0)
        return found
