"""What the lifters of a gym are like, from all their logs at once: middles and spreads, around the published ones.

Every lifter was fitted from a prior of their own. The probability of a log under any other prior is the mean, over the
lifter's draws, of how many times more probable that prior makes them. Summed over the lifters, it is maximised in the
few numbers of the gym and drawn from its curvature there: lifters of the gym, and the one who comes next.

How far a gym may lie from the published middle is how far published groups lie from each other. Its spread between
lifters is about that of the lifters of one published group, within 30 % (`_SPREAD_SD`). A gym of which nothing is known
therefore gives a new lifter the published prior, and each log takes away a part of what is not known of the gym.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import scipy
from scipy.special import logsumexp

from workbench.fit.gym_member import Behind, Member
from workbench.fit.gym_published import MOST_TIED, SHARED_ROOT, Published
from workbench.fit.marginals import LEVELS
from workbench.fit.settings import FitSettings
from workbench.lifter.belief import TENTH
from workbench.lifter.gym_prior import GymPrior, OfGym
from workbench.quantities import SEED, FloatArray, InputError
from workbench.reference.shelf import Shelf

if TYPE_CHECKING:
    from numpy.typing import NDArray


__all__ = ["GymFit", "Gyms", "fit_gym"]

#: How far the spread between a gym's lifters may lie from that of a published group, natural log. Assumed: the sd of
#: fifteen people, of whom published spreads come, is known to 19 % by itself, and gyms choose their lifters otherwise
#: than studies do.
_SPREAD_SD: Final = 0.3
#: Part of the variance of the bias of stated reserves that lies between gyms, not between a gym's lifters. Assumed.
_RESERVE_BETWEEN_GYMS: Final = 0.5
#: Draws of the gym's numbers.
_GYMS: Final = 4000
#: Lifters that are weighed at once: memory does not grow with their number.
_AT_ONCE: Final = 100
#: Step between slopes, in sds of what is believed of a gym; and the wider one of their bending, in sds of what is left.
_STEP: Final = 1e-3
_ROOM_STEP: Final = 0.1


@dataclass(frozen=True)
class _Together:
    """Some lifters side by side; an exercise that somebody has not is of weight 0."""

    log_endurance: FloatArray  # (lifters, draws, exercises)
    of_class: NDArray[np.intp]  # (lifters, exercises)
    has: FloatArray  # (lifters, 1, exercises)
    log_rate: FloatArray  # (lifters, draws)
    reserve_bias: FloatArray
    log_prior: FloatArray
    is_woman: FloatArray  # (lifters, 1)

    @classmethod
    def of(cls, members: Sequence[Member], classes: Sequence[str]) -> _Together:
        log_rate, bias, log_prior = (
            np.stack([getattr(member, name) for member in members])
            for name in ("log_rate", "reserve_bias", "log_prior")
        )
        most = max(len(member.classes) for member in members)
        shape = *log_rate.shape, most
        log_endurance, has, of_class = np.zeros(shape), np.zeros((len(members), 1, most)), np.zeros(shape[::2], np.intp)
        for row, member in enumerate(members):
            count = len(member.classes)
            log_endurance[row, :, :count], has[row, 0, :count] = member.log_endurance, 1.0
            of_class[row, :count] = [classes.index(name) for name in member.classes]
        women = np.array([[float(member.is_woman)] for member in members])
        return cls(log_endurance, of_class, has, log_rate, bias, log_prior, women)


#: Numbers of a gym before those of its classes of exercise, each in sds of what is believed of a gym: endurance of all
#: classes alike, its spread between lifters, the recovery rate, its spread, what women's is more, the tie of both, and
#: the bias of stated reserves with its spread.
_NUMBERS: Final = ("endurance", "endurance spread", "rate", "rate spread", "women", "tie", "reserve", "reserve spread")


@dataclass(frozen=True)
class Gyms:
    """Numbers of a gym as they are, of one gym or of several that are possible (the leading axis).

    Attributes
    ----------
    middle : array, shape (..., classes), [ln 1/rep]
    rate, women, reserve : array, shape (...)
        Middle of the log recovery rate, what the women's is more, and the bias of stated reserves [reps].
    times, rate_sd, reserve_sd : array, shape (...)
        Spread of log endurance between lifters as a factor on the published one, and sds of the other two.
    tie : array, shape (...)
    """

    middle: FloatArray
    times: FloatArray
    rate: FloatArray
    rate_sd: FloatArray
    women: FloatArray
    tie: FloatArray
    reserve: FloatArray
    reserve_sd: FloatArray

    @classmethod
    def of(cls, z: FloatArray, published: Published) -> Gyms:
        """Turn standard normal numbers, shape (..., numbers and classes), into those of gyms."""
        said = dict(zip(_NUMBERS, np.moveaxis(z, -1, 0), strict=False))
        shared, own = said["endurance"][..., None], z[..., len(_NUMBERS) :]
        between, within = np.sqrt(_RESERVE_BETWEEN_GYMS), np.sqrt(1.0 - _RESERVE_BETWEEN_GYMS)
        return cls(
            middle=published.middle + published.between_gyms * SHARED_ROOT * (shared + own),
            times=_spread(said["endurance spread"]),
            rate=published.rate + published.rate_between_gyms * said["rate"],
            rate_sd=published.rate_between_lifters * _spread(said["rate spread"]),
            women=published.women_between_gyms * said["women"],
            tie=np.tanh(published.tie + published.tie_sd * said["tie"]),
            reserve=published.reserve_sd * between * said["reserve"],
            reserve_sd=published.reserve_sd * within * _spread(said["reserve spread"]),
        )


def _spread(z: FloatArray) -> FloatArray:
    """Factor on a published spread; the mean of its square is 1."""
    return np.exp(_SPREAD_SD * (z - _SPREAD_SD))


class _Evidence:
    """How probable the logs of all lifters are under the numbers of a gym, with the slope.

    Numbers of the gym that no log speaks of stay out.
    """

    def __init__(self, members: Sequence[Member], published: Published, unusual: tuple[float, float]) -> None:
        self.published, self.unusual, self.behind = published, unusual, Behind.of(members)
        self.classes = [name for name in published.classes if name in self.behind.by_class]
        at = [published.classes.index(name) for name in self.classes]
        self.within, self.of_gyms = published.between_lifters[at], published.between_gyms[at]
        self.used = np.array([*range(len(_NUMBERS)), *(len(_NUMBERS) + number for number in at)])
        if not self.behind.women:
            self.used = self.used[self.used != _NUMBERS.index("women")]
        self.parts = Shelf(
            _Together.of(members[first : first + _AT_ONCE], self.classes) for first in range(0, len(members), _AT_ONCE)
        )

    def full(self, z: FloatArray) -> FloatArray:
        found = np.zeros(len(_NUMBERS) + len(self.published.classes))
        found[self.used] = z
        return found

    def __call__(self, z: FloatArray) -> tuple[float, FloatArray]:
        """Minus the log density of a gym's numbers that are used, in sds, and its slope."""
        gym = Gyms.of(self.full(z), self.published)
        found = [self.of_part(part, gym) for part in self.parts]
        slope = self.full(np.zeros(z.size))
        log_evidence = float(sum(value for value, _ in found))
        by = {name: sum(slopes[name] for _, slopes in found) for name in (*_PLAIN, "middle")}
        published = self.published
        # From slopes by the gym's numbers to slopes by what they are in sds.
        moved = {
            "endurance": SHARED_ROOT * float(self.of_gyms @ by["middle"]),
            "endurance spread": _SPREAD_SD * by["times"],
            "rate": published.rate_between_gyms * by["rate"],
            "rate spread": _SPREAD_SD * by["rate_sd"],
            "women": published.women_between_gyms * by["women"],
            "tie": published.tie_sd * (1.0 - gym.tie**2) * by["tie"],
            "reserve": published.reserve_sd * np.sqrt(_RESERVE_BETWEEN_GYMS) * by["reserve"],
            "reserve spread": _SPREAD_SD * by["reserve_sd"],
        }
        slope[: len(_NUMBERS)] = [moved[name] for name in _NUMBERS]
        at = [len(_NUMBERS) + published.classes.index(name) for name in self.classes]
        slope[at] = SHARED_ROOT * self.of_gyms * by["middle"]
        return 0.5 * float(z @ z) - log_evidence, z - slope[self.used]

    def of_part(self, part: _Together, gym: Gyms) -> tuple[float, dict[str, Any]]:
        """Log evidence of some lifters, and its slopes by the gym's numbers (of spreads, by their logs)."""
        chance, times = self.unusual
        usual = _of_lifters(part, gym, self, 1.0)
        far = _of_lifters(part, gym, self, times)
        with np.errstate(divide="ignore"):  # where nobody is unusual
            logs = np.stack([np.log1p(-chance) + usual[0], np.log(chance) + far[0]]) - part.log_prior
        of_each = logsumexp(logs, axis=(0, 2))
        weights = np.exp(logs - of_each[:, None])
        slopes = {name: (weights[0] * usual[1][name]).sum() + (weights[1] * far[1][name]).sum() for name in _PLAIN}
        by_exercise = weights[0][:, :, None] * usual[1]["middle"] + weights[1][:, :, None] * far[1]["middle"]
        of_exercise = by_exercise.sum(axis=1).ravel()
        slopes["middle"] = np.bincount(part.of_class.ravel(), of_exercise, minlength=len(self.classes))
        return float(of_each.sum()) - part.log_rate.shape[0] * np.log(part.log_rate.shape[1]), slopes


_PLAIN: Final = ("times", "rate", "rate_sd", "women", "tie", "reserve", "reserve_sd")


def _of_lifters(
    part: _Together, gym: Gyms, evidence: _Evidence, wider: float
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Log density of every draw among a gym's lifters, spread ``wider`` times as far, and its slopes.

    With u_e = (ln k_e - middle_e) / sd_e = (s + o_e) / sqrt 2, s and o_e standard normal, v = (ln rate - middle) / sd,
    and the correlation c of s with v: given v, the u_e have mean c v / sqrt 2, a part (1 - c^2) / 2 of their variance
    in common, and 1/2 of their own.
    """
    at = [evidence.published.classes.index(name) for name in evidence.classes]
    sd = wider * gym.times * evidence.within[part.of_class][:, None, :]
    u = part.has * (part.log_endurance - gym.middle[at][part.of_class][:, None, :]) / sd
    rate_sd, women = wider * gym.rate_sd, part.is_woman
    v = (part.log_rate - gym.rate - gym.women * women) / rate_sd
    b = (part.reserve_bias - gym.reserve) / gym.reserve_sd
    count, left = part.has.sum(axis=2), 1.0 - gym.tie**2
    off = part.has * (u - (SHARED_ROOT * gym.tie) * v[:, :, None])
    total, alike = off.sum(axis=2), 1.0 + count * left
    found = -0.5 * v**2 - np.log(rate_sd) - (part.has * np.log(sd)).sum(axis=2) - 0.5 * np.log(alike)
    found = found - (off**2).sum(axis=2) + left / alike * total**2 - 0.5 * b**2 - np.log(gym.reserve_sd)
    by_off = part.has * (-2.0 * off + 2.0 * (left / alike * total)[:, :, None])
    by_total = by_off.sum(axis=2)
    by_v = -v - SHARED_ROOT * gym.tie * by_total
    by_left = -0.5 * count / alike + (total / alike) ** 2
    return found, {
        "middle": -by_off / sd,
        "times": -(by_off * u).sum(axis=2) - count,
        "rate": -by_v / rate_sd,
        "rate_sd": -by_v * v - 1.0,
        "women": -by_v / rate_sd * women,
        "tie": -SHARED_ROOT * v * by_total - 2.0 * gym.tie * by_left,
        "reserve": b / gym.reserve_sd,
        "reserve_sd": b**2 - 1.0,
    }


@dataclass(frozen=True)
class GymFit:
    """What the logs of a gym's lifters say of it.

    Attributes
    ----------
    members : sequence of Member
    behind : Behind
        How many they are.
    published : Published
    z : array, shape (numbers,)
        The likeliest numbers of the gym in sds of what is believed of a gym; see `Gyms`.
    covariance : array, shape (numbers, numbers)
        From the curvature there.
    """

    members: Sequence[Member]
    behind: Behind
    published: Published
    z: FloatArray
    covariance: FloatArray

    @cached_property
    def gyms(self) -> Gyms:
        """Possible numbers of the gym."""
        size, vectors = np.linalg.eigh(self.covariance)
        drawn = np.random.default_rng(SEED).standard_normal((_GYMS, self.z.size))
        drawn -= drawn.mean(axis=0)  # so that the middles are those of the curvature
        return Gyms.of(self.z + drawn @ (vectors * np.sqrt(np.maximum(size, 0.0))).T, self.published)

    @cached_property
    def prior(self) -> GymPrior:
        """The gym's numbers as they are kept, and where a new lifter starts."""
        gyms, published, behind = self.gyms, self.published, self.behind
        sd = published.between_lifters * gyms.times[:, None]
        endurance = {
            name: _of_gym(behind.by_class[name], gyms.middle[:, at], sd[:, at], np.exp)
            for at, name in enumerate(published.classes)
        }
        reserve = _of_gym(behind.stating_reserves, gyms.reserve, gyms.reserve_sd, np.asarray)
        return GymPrior(
            lifters=behind.lifters,
            sets=behind.sets,
            endurance=endurance,
            recovery=_of_gym(behind.lifters - behind.women, gyms.rate, gyms.rate_sd, np.exp),
            recovery_of_women=_of_gym(behind.women, gyms.rate + gyms.women, gyms.rate_sd, np.exp),
            stated_reserve=reserve if behind.stating_reserves else None,
            tie=self._tie(),
        )

    def _tie(self) -> float:
        """Correlation of a new lifter's log recovery rate with the shared part of endurance, over the gym's classes."""
        gyms, published = self.gyms, self.published
        within = published.between_lifters * gyms.times[:, None]
        together = SHARED_ROOT * np.mean(within * (gyms.tie * gyms.rate_sd)[:, None], axis=0)
        together = together + np.mean((gyms.middle - gyms.middle.mean(axis=0)) * gyms.rate[:, None], axis=0)
        endurance_sd = np.sqrt(gyms.middle.var(axis=0) + np.mean(within**2, axis=0))
        rate_sd = np.sqrt(gyms.rate.var() + np.mean(gyms.rate_sd**2))
        found = together / (endurance_sd * rate_sd * SHARED_ROOT)
        weights = np.array([self.behind.by_class[name] for name in published.classes])
        return round(float(np.clip(weights @ found / max(weights.sum(), 1), -MOST_TIED, MOST_TIED)), 3)


def _of_gym(lifters: int, middle: FloatArray, sd: FloatArray, scale: Any) -> OfGym:
    start, start_sd = float(middle.mean()), float(np.sqrt(middle.var() + np.mean(sd**2)))
    ends = np.array([-TENTH, 0.0, TENTH])
    return OfGym(
        lifters=lifters,
        start=_rounded(scale(start + start_sd * ends)),
        middle=_rounded(scale(start + float(middle.std()) * ends)),
        spread=_rounded(np.quantile(sd, LEVELS)),
    )


def _rounded(values: FloatArray) -> list[float]:
    return [float(f"{value:.4g}") for value in values]


def fit_gym(
    members: Sequence[Member], *, published: Published | None = None, settings: FitSettings | None = None
) -> GymFit:
    """Learn a gym's numbers from what the logs of its lifters leave possible.

    Parameters
    ----------
    members : sequence of Member
        All with as many draws; in the same order, the same digits.
    published : Published, optional
        What is believed of gyms; read from ``data/`` where not given.
    settings : FitSettings, optional
        How often a lifter is unusual, in endurance and recovery, and how far.

    Raises
    ------
    InputError
        Nobody.
    """
    if not members:
        raise InputError(None, "gym", "has no lifter with a log that can be used", "add logs of its lifters")
    published, settings = published or Published.of(), settings or FitSettings()
    evidence = _Evidence(members, published, (settings.unusual_chance, settings.unusual_times))
    found = scipy.optimize.minimize(
        evidence, np.zeros(evidence.used.size), jac=True, method="BFGS", options={"gtol": 1e-3}
    )
    used = np.asarray(np.linalg.inv(_curvature(evidence, found.x)), dtype=np.float64)
    size = len(_NUMBERS) + len(published.classes)
    covariance = np.eye(size)
    covariance[np.ix_(evidence.used, evidence.used)] = used
    return GymFit(members, evidence.behind, published, evidence.full(_middle(evidence, found.x, used)), covariance)


def _curvature(evidence: _Evidence, z: FloatArray) -> FloatArray:
    slopes = [(evidence(z + step)[1] - evidence(z - step)[1]) / (2.0 * _STEP) for step in _STEP * np.eye(z.size)]
    return 0.5 * (np.array(slopes) + np.array(slopes).T)


def _middle(evidence: _Evidence, likeliest: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the mean of what is possible, to first order, from the likeliest.

    It lies where there is more room: the likeliest spread goes with middles that fit the very lifters seen, as an sd
    that is divided by n. The room is the determinant of the covariance; its slope is that of the trace of covariance
    times curvature, a sum of second differences of the slope along the axes of the covariance.
    """
    size, vectors = np.linalg.eigh(covariance)
    axes = (vectors * np.sqrt(np.maximum(size, 0.0))).T
    here = evidence(likeliest)[1]
    bends = [evidence(likeliest + step)[1] + evidence(likeliest - step)[1] - 2.0 * here for step in _ROOM_STEP * axes]
    moved: FloatArray = -0.5 * covariance @ np.sum(bends, axis=0) / _ROOM_STEP**2
    farthest = float(np.max(np.abs(moved) / np.sqrt(np.diag(covariance))))
    return likeliest + moved / max(farthest, 1.0)  # a step of more than an sd is none of first order
