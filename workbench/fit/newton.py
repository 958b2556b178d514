"""A normal approximation of all that a log says, at its most probable point: every set bends it by so much.

The slope and bend of each set's log probability by the log of its reps available, and how these move with everything
that is not known, give the slope and bend of the whole (Newton's method). Days know of each other only through the
usual 1RM of their exercise, and exercises only through what they share, so that each is solved for by itself.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.special import expit

from workbench.fit.lift_days import LiftDays
from workbench.fit.likelihood import probability_in_log
from workbench.fit.places import Believed, Likely, Point
from workbench.fit.sets_together import Kind, SetsTogether
from workbench.fit.unknowns import DEPARTURES, Elsewhere, Unknowns, constants_of, start_from
from workbench.lifter.file import BEND
from workbench.reference.parameters import SHARED_ENDURANCE

if TYPE_CHECKING:
    from workbench.fit.carried import GivenByOthers
    from workbench.fit.evidence_sets import UsedLog
    from workbench.fit.settings import FitSettings
    from workbench.quantities import FloatArray

__all__ = ["likeliest_unknowns"]

#: Steps of Newton's method at most, and the step, in prior sds, that ends it.
_MOST_STEPS, _SETTLED = 12, 0.05
#: A step goes no farther than this: of a day's strength, of log endurance, of anything else in prior sds.
_LONGEST: Final = (0.08, 0.25, 1.0)
#: Before a search for another curve sees sets as they are: how many times their scatter it takes, in how many steps.
#: From afar a set that cannot be by this curve is as good as a mistake in the log, and does not pull.
_FROM_AFAR: Final = ((10.0, 6), (4.0, 6), (1.6, 6))
#: What is less probable than this is not gone into.
_LEAST_CHANCE = 0.01
#: Of the logs: where slopes are read, and for the bend of a set's probability a part of the scatter of its reps.
_SLOPE_STEP, _BEND_STEP = 1e-5, 0.7
#: Reps by which a statement is moved to see what that does.
_SAID_STEP = 0.5
#: What is taken as exact still has some spread.
_LEAST_SD = 1e-7


class _Newton:
    """The normal approximation of everything, day by day."""

    def __init__(self, sets: SetsTogether, point: Point, believed: Believed, *, other_curve: bool = False) -> None:
        self.sets, self.settings = sets, believed.settings
        priors, rate, settings = believed.priors, believed.rate, believed.settings
        self.constants = constants = constants_of(believed.form) if believed.parameters is None else None
        self.parameters = believed.parameters
        count = self.lifts = len(priors)
        self.local = [LiftDays.of(sets, number, believed, float(point.log_one_rm[number])) for number in range(count)]
        names = () if constants is None else constants.form.parameter_names
        #: Global unknowns: endurances, recovery rate, then what no grid holds.
        self.names = (*names, "usual rest", *DEPARTURES, "reserve", *("gain",) * count)
        size = self.size = count + 1 + len(self.names)
        self.prior = np.eye(size)
        self.mean = np.zeros(size)
        self.mean[: count + 1] = [*(prior.endurance.log_mean for prior in priors), rate.log_mean]
        # As wide as the priors are where the search found the lifter: their tails are no normal distribution's.
        at = zip(priors, point.log_endurance, strict=True)
        sds = np.array([float(prior.endurance.precision(log_k)) ** -0.5 for prior, log_k in at])
        together = np.full((count, count), SHARED_ENDURANCE) + (1.0 - SHARED_ENDURANCE) * np.eye(count)
        self.prior[:count, :count] = np.outer(sds, sds) * together
        self.prior[count, count] = 1.0 / float(rate.precision(np.array(point.log_rate)))
        self.other_curve = other_curve
        bend_sd = settings.other_curve_sd if other_curve else settings.bend_sd
        self.mean[-count - 3] = settings.other_curve_bend if other_curve else 0.0
        self.mean[-count - 1] = settings.reserve_bias_mean
        for back, sd in ((1, settings.reserve_bias_sd), (2, settings.later_sd), (3, bend_sd)):
            self.prior[-count - back, -count - back] = max(sd, _LEAST_SD) ** 2
        self.prior[-count:, -count:] = max(believed.gain_sd, _LEAST_SD) ** 2 * (0.5 + 0.5 * np.eye(count))
        if believed.kept is not None:
            start_from(believed.kept, sets.lifts, constants, self.mean, self.prior)
        self.information = np.linalg.inv(self.prior)
        self.at = self.mean.copy()
        self.at[: count + 1] = [*point.log_endurance, point.log_rate]
        self.point = point
        self.last, self.pace = np.zeros(size), 1.0

    @property
    def unknown(self) -> slice:
        return slice(self.lifts + 1, None)

    def solve(self) -> Unknowns:
        sds, usual = np.sqrt(np.diag(self.prior)), self.settings
        for times, steps in (*(_FROM_AFAR if self.other_curve else ()), (1.0, _MOST_STEPS)):
            self.settings = replace(usual, set_log_sd=times * usual.set_log_sd)
            self.last, self.pace = np.zeros(self.size), 1.0
            for _ in range(steps):
                step = self.step()
                if float(np.abs(step / sds).max()) < _SETTLED:
                    break
        self.settings = usual
        count = self.lifts
        seen, held = slice(None, count + 1), self.unknown
        moved = -np.linalg.solve(self.curvature[seen, seen], self.curvature[seen, held])
        with_lifts = np.empty((count, 2, len(self.names)))
        for number, local in enumerate(self.local):
            days = local.columns.size
            at_today = -self.through[number][days]
            with_lifts[number, 0] = at_today[held] + at_today[seen] @ moved
            with_lifts[number, 0, -count + number] += local.weeks[-1]
            with_lifts[number, 1] = moved[number]
        covariance = np.linalg.inv(self.curvature)[held, held]
        prior_sd = sds[held]
        return Unknowns(self.names, prior_sd, self.at[held], covariance, with_lifts, moved[-1], self.constants)

    def log_evidence(self, believed: Believed) -> float:
        """Natural log of how probable all makes the log, but for a constant: as high and as wide as found."""
        count, usual = self.lifts, self.settings.reserve
        bias = usual.bias_at_turn + float(self.at[-count - 1])
        settings = replace(self.settings, reserve=replace(usual, bias_at_turn=bias))
        log_available, _ = self.slopes()
        found = 0.0
        for kind in self.sets.kinds:
            chance = probability_in_log(
                kind.logged, log_available[kind.at], settings.set_log_sd, settings, kind.several
            )
            found += float(np.log(chance).sum())
        off = self.at - self.mean
        found -= 0.5 * float(off @ self.information @ off + self.narrowed)
        found += 0.5 * float(np.linalg.slogdet(self.information)[1] - np.linalg.slogdet(self.curvature)[1])
        found -= 0.5 * sum(local.unlikely() for local in self.local)
        # Tails of the priors, which stood in as normal distributions as wide as they are where the search began.
        for prior, log_k, began in zip(believed.priors, self.at, self.point.log_endurance, strict=False):
            precision, far = float(prior.endurance.precision(began)), log_k - prior.endurance.log_mean
            found += float(
                np.log(prior.endurance.weights(np.array(log_k))) + 0.5 * far**2 * precision - 0.5 * np.log(precision)
            )
        return found

    def likely(self, unknowns: Unknowns, held: FloatArray | float) -> Likely:
        count, off = self.lifts, self.at[self.unknown] - held
        moved = unknowns.with_lifts @ off
        gains = self.at[-count:] * np.array([local.weeks[-1] for local in self.local])
        today = np.array([local.at[local.columns.size] for local in self.local]) + gains
        at = Point(today - moved[:, 0], self.at[:count] - moved[:, 1], float(self.at[count] - unknowns.with_rate @ off))
        sds = np.sqrt(np.diag(np.linalg.inv(self.curvature[: count + 1, : count + 1])))
        return Likely(at, sds[:count], float(sds[count]))

    def step(self) -> FloatArray:
        """One step of Newton's method; returns how far the global unknowns would move at full pace."""
        bend, slope = self.of_days()
        #: Natural log of the determinants of what days bend by, over that of their priors.
        self.narrowed = 0.0
        exercises = [self.of_exercise(number, bend, slope) for number in range(self.lifts)]
        #: For each exercise, how far its days move back for each step of the global unknowns.
        self.through = [through for _, _, through, _ in exercises]
        curvature = sum((more for more, _, _, _ in exercises), self.information)
        gradient = sum((more for _, more, _, _ in exercises), -self.information @ (self.at - self.mean))
        self.curvature = curvature
        moved = np.linalg.solve(curvature, gradient)
        days = [kept - through @ moved for _, _, through, kept in exercises]
        sds = np.sqrt(np.diag(self.prior))
        limits = np.concatenate([np.full(self.lifts, _LONGEST[1]), _LONGEST[2] * sds[self.lifts :]])
        far = max(np.abs(moved / limits).max(), *(np.abs(one[: len(one) // 2]).max() / _LONGEST[0] for one in days))
        share = 1.0 / max(float(far), 1.0)
        if float(self.last @ curvature @ moved) < 0.0:  # slower after a way back: else it could go to and fro for ever
            self.pace *= 0.5
        self.last, share = share * moved, share * self.pace
        self.at = self.at + share * moved
        for number, local in enumerate(self.local):
            local.at = local.at + share * days[number]
        return self.last

    def of_exercise(
        self, number: int, bend: FloatArray, slope: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Solve for the days of one exercise.

        Returns
        -------
        curvature, gradient : array, shape (unknowns, unknowns) and (unknowns,)
            What its sets say of the global unknowns, its days summed over.
        through, kept : array, shape (2 days + 1, unknowns) and (2 days + 1,)
            How far its days move back for each step of those, and how far where these stay.
        """
        local = self.local[number]
        days, columns, weeks = local.columns.size, local.columns, local.weeks
        # Per day: strength, length of its rests, then the global unknowns that its sets speak of themselves.
        mine = 2 + np.array([number, *range(self.lifts, self.size - self.lifts)])
        spoken = np.array([0, 1, *mine])
        b, s = np.zeros((days, 2 + self.size, 2 + self.size)), np.zeros((days, 2 + self.size))
        b[:, spoken[:, None], spoken] = bend[columns]
        s[:, spoken] = slope[columns]
        gain = 2 + self.size - self.lifts + number  # through the strength of the day
        b[:, gain] += weeks[:, None] * b[:, 0]
        b[:, :, gain] += weeks[:, None] * b[:, :, 0]
        s[:, gain] += weeks * s[:, 0]
        # What each asks of the global unknowns and, in the last column, of itself.
        strength, rests = np.zeros((days + 1, self.size + 1)), np.column_stack([b[:, 1, 2:], s[:, 1]])
        strength[:days] = np.column_stack([b[:, 0, 2:], s[:, 0]])
        rests[:, -1] -= local.at[days + 1 :]
        asked = np.concatenate([strength, rests])
        # A day's rests move with nothing but its own strength, so that they are solved for first.
        own, both = 1.0 + b[:, 1, 1, None], b[:, 0, 1, None]
        strength[:days] -= both / own * rests
        alone, off = b[:, 0, 0] - (both * both / own)[:, 0], local.at[: days + 1] - local.expected
        strength[:days, -1] += alone * off[:days]  # to where they move, rather than by how much
        solved, narrowed = local.solve(alone, strength)
        solved[:, -1] -= off
        self.narrowed += float(np.log(own).sum()) + narrowed
        solved = np.concatenate([solved, (rests - both * solved[:days]) / own])
        through, kept = solved[:, :-1], solved[:, -1]
        cross = asked[:, :-1]
        curvature = b[:, 2:, 2:].sum(axis=0) - cross.T @ through
        return curvature, s[:, 2:].sum(axis=0) - cross.T @ kept, through, kept

    def of_days(self) -> tuple[FloatArray, FloatArray]:
        """Bend and slope of the log probability of each day.

        Shapes (sessions, directions, directions) and (sessions, directions): strength, length of the day's rests,
        endurance, recovery rate, the form's constants, usual rest, bend, later, reserve.
        """
        log_available, moves = self.slopes()
        directions = moves.shape[0] + 1
        shape = self.sets.log_load.shape
        slope, bend = np.zeros((*shape, 2)), np.zeros((*shape, 2, 2))
        settings, usual = self.settings, self.settings.reserve
        bias = usual.bias_at_turn + float(self.at[-self.lifts - 1])
        moved = np.array([0.0, -_SAID_STEP, _SAID_STEP])[:, None, None]
        biased = replace(settings, reserve=replace(usual, bias_at_turn=bias + moved))
        for kind in self.sets.kinds:
            slope[kind.at], bend[kind.at] = _bent(kind, log_available[kind.at], biased)
        both = np.zeros((*shape, directions, 2))
        both[..., :-1, 0] = np.moveaxis(moves, 0, -1)
        both[..., -1, 1] = 1.0
        bent = np.matmul(both, bend)
        of_days = [np.moveaxis(part, 0, -1).reshape(shape[1], directions, -1) for part in (both, bent)]
        return np.matmul(of_days[1], of_days[0].transpose(0, 2, 1)), np.einsum("nrip,nrp->ri", both, slope)

    def slopes(self) -> tuple[FloatArray, FloatArray]:
        """Log of the reps available in each set, and how it moves in each direction but the last."""
        sets, count = self.sets, self.lifts
        constants = 0 if self.constants is None else self.constants.middle.size
        size = 7 + constants
        step = np.zeros((size + 1, size))
        step[1:] = _SLOPE_STEP * np.eye(size)
        strength, day_rest, log_k = (np.empty(len(sets.dates)) for _ in range(3))
        for number, local in enumerate(self.local):
            days = local.columns.size
            gained = self.at[self.size - count + number] * local.weeks
            strength[local.columns] = local.at[:days] + gained
            day_rest[local.columns] = local.at[days + 1 :]
            log_k[local.columns] = self.at[number]
        tiring = self.at[count + 1 : count + 1 + constants] + step[:, 4 : 4 + constants]
        found = sets.log_available(
            strength + step[:, :1],
            log_k + step[:, 2:3],
            self.at[count] + step[:, 3:4],
            self.parameters if self.constants is None else _upright(self.constants.parameters(tiring)),
            usual_rest=self.at[-count - 4] + step[:, -3:-2],
            day_rest=day_rest + step[:, 1:2],
            bend=self.at[-count - 3] + step[:, -2:-1],
            later=self.at[-count - 2] + step[:, -1:],
            settings=self.settings,
        )
        return found[0], (found[1:] - found[0]) / _SLOPE_STEP


def _upright(parameters: Any) -> Any:
    """Return parameters of shape (points,) as (points, 1)."""
    return type(parameters)(**{name: value[:, None] for name, value in vars(parameters).items()})


def _bent(kind: Kind, log_available: FloatArray, biased: FitSettings) -> tuple[FloatArray, FloatArray]:
    """Slope and bend (downwards) of the log probability of sets of a kind, by log reps available and bias.

    Read over a part of the scatter of a set, so that steps in the probability count as what they are from afar.

    Parameters
    ----------
    kind : Kind
    log_available : array, shape (sets,)
    biased : FitSettings
        With the bias of what is said, less of it and more, shape (3, 1, 1).
    """
    set_log_sd = biased.set_log_sd
    h, said = _BEND_STEP * set_log_sd, kind.logged.ending in ("stated", "felt")
    at = np.stack([log_available - h, log_available, log_available + h])
    logs = np.log(probability_in_log(kind.logged, at, set_log_sd, biased, kind.several))
    middle = logs[0] if said else logs
    slope, bend = np.zeros((log_available.size, 2)), np.zeros((log_available.size, 2, 2))
    slope[:, 0] = (middle[2] - middle[0]) / (2.0 * h)
    bend[:, 0, 0] = -(middle[2] - 2.0 * middle[1] + middle[0]) / h**2
    if said:
        _, less, more = logs
        slope[:, 1] = (more[1] - less[1]) / (2.0 * _SAID_STEP)
        bend[:, 1, 1] = -(more[1] - 2.0 * middle[1] + less[1]) / _SAID_STEP**2
        bend[:, 0, 1] = bend[:, 1, 0] = -(more[2] - more[0] - less[2] + less[0]) / (4.0 * h * _SAID_STEP)
        cups = (np.linalg.det(bend) < 0.0) | (bend[:, 0, 0] + bend[:, 1, 1] < 0.0)
        size, vectors = np.linalg.eigh(bend[cups])
        bend[cups] = np.einsum("nij,nj,nkj->nik", vectors, np.maximum(size, 0.0), vectors)
        return slope, bend
    return slope, np.maximum(bend, 0.0)


def likeliest_unknowns(
    used: UsedLog, given: GivenByOthers, log_rate: FloatArray, point: Point, believed: Believed
) -> tuple[Unknowns, Likely]:
    """Find what no grid holds, from where a search found the lifter.

    Parameters
    ----------
    used : UsedLog
    given : GivenByOthers
        At the log rates ``log_rate``.
    log_rate : array, shape (rates,)
    point : Point
        From where to look.
    believed : Believed

    Returns
    -------
    Unknowns, Likely
    """
    sets, settings = SetsTogether(used, given, log_rate, believed.form), believed.settings
    usual = _Newton(sets, point, believed)
    unknowns = usual.solve()
    likely, chance = usual.likely(unknowns, unknowns.held), settings.other_curve_chance
    if not chance or not settings.bend_sd or (believed.kept is not None and BEND in believed.kept.names):
        return unknowns, likely
    # The usual curve may have led astray: half the way back to what was believed.
    near = usual.likely(unknowns, 0.0).at
    middle = np.array([prior.endurance.log_mean for prior in believed.priors])
    half = Point(near.log_one_rm, 0.5 * (near.log_endurance + middle), 0.5 * (near.log_rate + believed.rate.log_mean))
    other = _Newton(sets, half, believed, other_curve=True)
    found = other.solve()
    more = float(other.log_evidence(believed) - usual.log_evidence(believed) + np.log(chance) - np.log1p(-chance))
    return _more_probable((unknowns, likely), (found, other.likely(found, found.held)), float(expit(more)))


def _more_probable(
    here: tuple[Unknowns, Likely], there: tuple[Unknowns, Likely], chance: float
) -> tuple[Unknowns, Likely]:
    """Return the more probable of two places, the other beside it; ``chance`` is that of the second."""
    if chance > 0.5:
        return _more_probable(there, here, 1.0 - chance)
    (unknowns, likely), (other, elsewhere) = here, there
    at = elsewhere.at
    if chance < _LEAST_CHANCE:
        return unknowns, likely
    lifts = np.column_stack([at.log_one_rm - likely.at.log_one_rm, at.log_endurance - likely.at.log_endurance])
    return replace(unknowns, other=Elsewhere(chance, other, lifts, at.log_rate - likely.at.log_rate)), likely
