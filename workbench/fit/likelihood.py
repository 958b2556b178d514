"""How probable each logged set is, for every strength of the day, endurance and recovery rate of a grid.

Sets later in a session are read through the fatigue form with the rests, so that a fifth set is evidence on recovery
and not a poor maximum. Nothing here knows an equation: reps come from `workbench.models`.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.special import ndtr

from workbench.fit.evidence_sets import LARGEST_RESERVE
from workbench.models.stated_reserve import StatedReserve, statement_bias, statement_sd

Departure = Callable[["LoggedSession", int, "LoggedSet"], float]
"""What a departure from the model adds to the log of the reps available: of a session, a set's number and the set."""

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet
    from workbench.fit.settings import FitSettings
    from workbench.models.fatigue import FatigueForm, State
    from workbench.quantities import FloatArray, Numbers

__all__ = [
    "CELL_SD",
    "Course",
    "Departure",
    "Grid",
    "SetReader",
    "failures",
    "kind_of",
    "mistake_probability",
    "probability",
    "probability_in_log",
    "rest_lengths",
    "says_at_most",
]

#: Probability of what was written, given that it is a mistake: spread over about thirty reps, or over yes and no, or
#: over both and ten reps in reserve.
_MISTAKEN: Final = {"failed": 1 / 30, "completed": 0.5, "stated": 0.05, "felt": 1 / 30}
#: Scatter finer than this part of the distance of points cannot be seen on a grid: the sd of a cell, 12 ** -0.5.
CELL_SD: Final = 12**-0.5


@dataclass(frozen=True)
class Grid:
    """Evenly spaced points of the natural logs of recovery rate, endurance and strength of one exercise.

    Attributes
    ----------
    log_rate : array, shape (rates,), [ln 1]
    log_endurance : array, shape (endurances,), [ln 1/rep]
    log_strength : array, shape (strengths,), [ln kg]
    """

    log_rate: FloatArray
    log_endurance: FloatArray
    log_strength: FloatArray

    @property
    def shape(self) -> tuple[int, int, int]:
        """Number of rates, endurances and strengths."""
        return self.log_rate.size, self.log_endurance.size, self.log_strength.size

    def same_as(self, other: Grid) -> bool:
        """Whether both have the same points."""
        return all(np.array_equal(mine, vars(other)[name]) for name, mine in vars(self).items())

    @property
    def strength_step(self) -> float:
        """Distance of neighbouring points of log strength."""
        return float(self.log_strength[1] - self.log_strength[0])


@dataclass(frozen=True)
class Course:
    """What the sets of an exercise are read with that the log teaches but no grid holds.

    Attributes
    ----------
    gain : float
        Of the 1RM in a week, natural log.
    until : datetime.date or None
        The date at whose strength the grid stands: sets before were done with a strength that much smaller.
    usual_rest : float
        How far the usual rest lies from what is believed of it, in its sds; moves the rests that are not in the log.
    bend : float
        Of the lifter's curve: see `workbench.models.load_reps.Curve.bent`.
    """

    gain: float = 0.0
    until: datetime.date | None = None
    usual_rest: float = 0.0
    bend: float = 0.0

    def behind(self, date: datetime.date) -> float:
        """Return the strength of a date against that of the grid, natural log."""
        return 0.0 if self.until is None else -self.gain * (self.until - date).days / 7.0

    def since(self, known_on: datetime.date | None, first: datetime.date) -> float:
        """Return what is gained from a date to the strength of the grid; before the first session that is nothing."""
        base = max(known_on or first, first)
        return 0.0 if self.until is None or base >= self.until else -self.behind(base)


@dataclass
class SetReader:
    """Reads sessions of one exercise on a grid.

    Attributes
    ----------
    grid, form, parameters, settings
        The fatigue form with one value for each of its parameters.
    departure : Departure, optional
        What a lifter who does not follow the model would have more, natural log; the number of a set is from 0.
    course : Course
    rest_nodes : int
        Points at which a day's rests are summed over, where the log does not give them.
    """

    grid: Grid
    form: FatigueForm
    parameters: Any
    settings: FitSettings
    departure: Departure | None = None
    course: Course = field(default_factory=Course)
    rest_nodes: int = 3
    _loads: dict[float, tuple[FloatArray, FloatArray, FloatArray]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Lay out what every set needs: endurance and strength flat on the last axis, rates in front."""
        endurance, strength = np.meshgrid(np.exp(self.grid.log_endurance), self.grid.log_strength, indexing="ij")
        self._endurance, self._strength = endurance.ravel(), strength.ravel()
        self._rate = np.exp(self.grid.log_rate)[:, None]

    def session(self, session: LoggedSession, given: FloatArray | None = None) -> tuple[FloatArray, float]:
        """Probability of all sets of a session.

        Parameters
        ----------
        session : LoggedSession
        given : array, shape (sets, pools, rates), [1], optional
            What other exercises had left in the muscles when each set began.

        Returns
        -------
        likelihood : array, shape (rates, endurances, strengths)
            Up to a factor that is the same everywhere.
        log_factor : float
            Natural log of that factor.

        Where the log does not give the rests, they are summed over: a day's rests are longer or shorter together.
        """
        lengths = np.array([(0.0, 1.0)])
        if any(logged.unsure.day for logged in session.sets):
            lengths = np.transpose(rest_lengths(self.rest_nodes))
        found = [(share, *self._at_rests(session, given, z)) for z, share in lengths]
        log_factor = max(log for _, _, log in found)
        total = sum(share * np.exp(log - log_factor) * part for share, part, log in found)
        full = np.broadcast_to(total, (self._rate.size, self._endurance.size))
        return full.reshape(self.grid.shape), log_factor

    def _at_rests(self, session: LoggedSession, given: FloatArray | None, rested: float) -> tuple[FloatArray, float]:
        """Return the same for one length of the rests."""
        total, log_factor = np.ones(self._endurance.size), 0.0
        for logged, _, log_available, log_sd in self.states(session, given, rested):
            total = total * self.of(logged, log_available, log_sd)
            largest = total.max()
            total /= largest
            log_factor += float(np.log(largest))
        return total, log_factor

    def states(
        self, session: LoggedSession, given: FloatArray | None = None, rested: float = 0.0
    ) -> Iterator[tuple[LoggedSet, State, FloatArray, FloatArray]]:
        """Go through a session: each set with the state before it, the log of the reps available and their log sd.

        A failed set ends at failure; otherwise the state moves by the reps done. ``given`` as for `session`;
        ``rested``: how much longer than usual the rests were that the log does not give, in sds of a day's.
        """
        own = self.form.fresh((1, 1))
        behind = self.course.behind(session.date)
        for number, logged in enumerate(session.sets):
            got = None if given is None or not given[number].any() else given[number][:, :, None]
            if number:
                longer = logged.unsure.usual * self.course.usual_rest + logged.unsure.day * rested
                own = self.form.rest(own, logged.rest_s * np.exp(longer), self._rate, parameters=self.parameters)
            before = own if got is None else tuple(a + b for a, b in zip(own, got, strict=True))
            log_available, log_sd, after = self.work(logged, before, behind)
            own = after if got is None else tuple(a - b for a, b in zip(after, got, strict=True))
            if self.departure is not None:
                log_available = log_available + self.departure(session, number, logged)
            yield logged, before, log_available, log_sd

    def departures(self, log: LiftLog) -> FloatArray:
        """Return what the departure adds in each set of a log, shape (sets,), [1]; nothing without one."""
        told = self.departure or (lambda session, number, logged: 0.0)
        each = ((session, *place) for session in log.sessions for place in enumerate(session.sets))
        return np.array([told(*one) for one in each])

    def work(self, logged: LoggedSet, state: State, behind: float = 0.0) -> tuple[FloatArray, FloatArray, State]:
        """Return the log of the reps available in one set, their log sd, and the state after it.

        ``behind``: strength of its day against that of the grid, natural log.
        """
        headroom, fresh, log_sd = self._at(logged.load_kg * float(np.exp(-behind)))
        wanted = np.inf if logged.ending == "failed" else float(logged.reps)
        available, after = self.form.work(state, headroom, fresh, wanted, parameters=self.parameters)
        with np.errstate(divide="ignore"):
            return np.log(available), log_sd, after

    def of(self, logged: LoggedSet, log_available: FloatArray, log_sd: FloatArray) -> FloatArray:
        """Probability of one set, a mistake in the log allowed for."""
        return probability_in_log(logged, log_available, log_sd, self.settings)

    def _at(self, load_kg: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        if load_kg not in self._loads:
            headroom = self._strength - np.log(load_kg)
            curve = self.settings.curve.bent(self.course.bend or None)
            fresh = curve.fresh_reps(headroom, self._endurance)
            slope = curve.reps_per_headroom(headroom, self._endurance)
            # A point of the grid stands for its whole cell; near 1RM the reps vary more inside it than from set to set.
            cell = CELL_SD * self.grid.strength_step * slope / np.maximum(fresh, 0.5)
            self._loads[load_kg] = headroom, fresh, np.maximum(self.settings.set_log_sd, cell)
        return self._loads[load_kg]


def rest_lengths(nodes: int) -> tuple[FloatArray, FloatArray]:
    """Return lengths of the rests of a day, in sds of their log, to be summed over, and the share of each."""
    lengths, shares = np.polynomial.hermite_e.hermegauss(nodes)
    return lengths, shares / shares.sum()


def probability(
    logged: LoggedSet,
    log_available: FloatArray,
    log_sd: FloatArray | float,
    settings: FitSettings,
    several: tuple[FloatArray, FloatArray] | None = None,
) -> FloatArray:
    """Probability of what was logged, given the reps available.

    Failed after n: at least n and fewer than n + 1 reps were available. Completed: at least n were; never read as a
    failure. Stated: at least n were, and the statement of the reps left is off by its bias and scatter. Felt: stopped
    at the first rep after which no more reps than stated were felt to be left.

    Parameters
    ----------
    logged : LoggedSet
    log_available : array, [ln reps]
        Natural log of the reps available, as the model expects them.
    log_sd : array that broadcasts, [1]
        Natural-log sd of the reps available about that.
    settings : FitSettings
    several : tuple of two arrays that broadcast, optional
        Reps and stated reserves of several sets of the kind of ``logged``: see `kind_of`.

    Returns
    -------
    array, 0 to 1
    """
    done, reserve = (logged.reps, logged.reserve) if several is None else several
    reached = ndtr((log_available - np.log(done)) / log_sd) if logged.reps else np.ones_like(log_available)
    if logged.ending == "completed":
        return np.asarray(reached)
    if logged.ending == "failed":
        return np.asarray(reached - ndtr((log_available - np.log(done + 1.0)) / log_sd))
    available = np.exp(log_available)

    expected, sd = _statement(done, available, log_sd, settings.reserve)

    def says(limit: Numbers) -> FloatArray:
        return np.asarray(ndtr((limit - expected) / sd))

    if logged.ending == "felt":
        felt = says(reserve + 0.5)
        if logged.reps > 1:  # a rep earlier more was felt
            earlier = says_at_most(reserve + 0.5, done - 1, available, log_sd, settings.reserve)
            felt = np.maximum(felt - earlier, 0.0)
        return np.asarray(reached * felt)
    if logged.reserve >= LARGEST_RESERVE:
        return np.asarray(reached * (1.0 - says(reserve - 0.5)))
    said = says(reserve + 0.5)
    if logged.reserve >= 0.5:  # nobody says less than none: all lower opinions end up there
        said = said - says(reserve - 0.5)
    return np.asarray(reached * said)


def failures(most: int, log_available: FloatArray, log_sd: float) -> FloatArray:
    """Probability of failing after 0, 1, ... reps, as `probability` has it of each.

    Parameters
    ----------
    most : int, 1 or more
        Outcomes asked for: the last is failure after ``most - 1`` reps.
    log_available : array, [ln reps]
    log_sd : float, [1]

    Returns
    -------
    array, the shape of ``log_available`` and a last axis of ``most``, 0 to 1
    """
    reached = ndtr((log_available[..., None] - np.log(np.arange(1.0, most + 1.0))) / log_sd)
    return np.concatenate([1.0 - reached[..., :1], reached[..., :-1] - reached[..., 1:]], axis=-1)


def kind_of(logged: LoggedSet) -> tuple[Any, ...]:
    """Return the same for sets whose probability takes the same steps in `probability`."""
    said = logged.ending in ("stated", "felt")
    spoken = (logged.reserve >= LARGEST_RESERVE, logged.reserve >= 0.5) if said else ()
    return logged.ending, min(logged.reps, 2), *spoken


def probability_in_log(
    logged: LoggedSet,
    log_available: FloatArray,
    log_sd: FloatArray | float,
    settings: FitSettings,
    several: tuple[FloatArray, FloatArray] | None = None,
) -> FloatArray:
    """Probability of what was logged, a mistake in the log allowed for; arguments as for `probability`."""
    chance = settings.mistake_chance
    as_logged = probability(logged, log_available, log_sd, settings, several)
    return (1.0 - chance) * as_logged + chance * _MISTAKEN[logged.ending]


def mistake_probability(logged: LoggedSet, settings: FitSettings) -> float:
    """Part of `probability_in_log` that comes from what was written being a mistake."""
    return settings.mistake_chance * _MISTAKEN[logged.ending]


def says_at_most(
    limit: Numbers, reps: Numbers, available: FloatArray, log_sd: FloatArray | float, reserve: StatedReserve
) -> FloatArray:
    """Probability that less than ``limit`` reps are felt to be left after ``reps``.

    Whole reps left are about half a rep fewer than the reps available less those done. The scatter of the set adds to
    that of the statement as far as it moves it.

    Parameters
    ----------
    limit : float or array
        [reps]
    reps : int or array
        Reps done.
    available : array, [reps]
        Reps available, as the model expects them.
    log_sd : array that broadcasts, [1]
    reserve : StatedReserve

    Returns
    -------
    array, 0 to 1
    """
    expected, sd = _statement(reps, available, log_sd, reserve)
    return np.asarray(ndtr((limit - expected) / sd))


def _statement(
    reps: Numbers, available: FloatArray, log_sd: FloatArray | float, reserve: StatedReserve
) -> tuple[FloatArray, FloatArray]:
    """Mean and sd of what is felt to be left."""
    left = np.maximum(available - 0.5 - reps, 0.0)
    expected = left - statement_bias(available, parameters=reserve)
    more = available * (1.0 + log_sd)
    moved = np.maximum(more - 0.5 - reps, 0.0) - statement_bias(more, parameters=reserve) - expected
    sd = statement_sd(left, available, parameters=reserve)
    return expected, np.sqrt(sd * sd + moved * moved)  # numpy's hypot takes four times as long
