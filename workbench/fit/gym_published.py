"""What is believed of any gym before its logs: the published prior, taken apart into what a gym shares and what not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.quantities import SEED
from workbench.reference.parameters import (
    SHARED_ENDURANCE,
    endurance_classes,
    endurance_prior,
    group_draws,
    recovery_of_lifter,
    recovery_prior,
)

if TYPE_CHECKING:
    from workbench.quantities import FloatArray

__all__ = ["MOST_TIED", "SHARED_ROOT", "Published"]

#: A tie beyond this cannot be told from 1.
MOST_TIED: Final = 0.95
#: Root of the part of the variance of log endurance that a lifter's exercises share; it is half, so that the other
#: root is the same.
SHARED_ROOT: Final = float(np.sqrt(SHARED_ENDURANCE))


@dataclass(frozen=True)
class Published:
    """The published prior taken apart: what a gym shares, and what its lifters differ in.

    Attributes
    ----------
    classes : tuple of str
    middle, between_gyms, between_lifters : array, shape (classes,)
        Of log endurance: the median, and sds.
    rate, rate_between_gyms, rate_between_lifters, women_between_gyms : float
        Of the log recovery rate; how far women of a gym may lie from its men.
    tie, tie_sd : float
        Inverse hyperbolic tangent of the correlation, between lifters of a gym, of the log recovery rate with the part
        of log endurance that a lifter's exercises share; and how far a gym's may lie from it.
    reserve_sd : float
        Spread of the bias of stated reserves between all lifters, reps.
    """

    classes: tuple[str, ...]
    middle: FloatArray
    between_gyms: FloatArray
    between_lifters: FloatArray
    rate: float
    rate_between_gyms: float
    rate_between_lifters: float
    women_between_gyms: float
    tie: float
    tie_sd: float
    reserve_sd: float

    @classmethod
    def of(cls, form: FatigueForm = DEFAULT_FORM, reserve_sd: float = 0.7) -> Published:
        """Read it; ``form`` has draws of the tie."""
        priors = [endurance_prior(name) for name in endurance_classes()]
        recovery, women = recovery_prior(), recovery_of_lifter("female")
        drawn = group_draws(4000, np.random.default_rng(SEED), form)[1]["tie"]
        # Published of one exercise, which shares but a part with the others.
        tied = np.arctanh(np.clip(drawn / SHARED_ROOT, -MOST_TIED, MOST_TIED))
        return cls(
            classes=tuple(prior.endurance_class for prior in priors),
            middle=np.log([prior.median for prior in priors]),
            between_gyms=np.array([np.hypot(one.log_sd_between_groups, one.log_sd_of_median) for one in priors]),
            between_lifters=np.array([prior.log_sd_between_lifters for prior in priors]),
            rate=float(np.log(recovery.median)),
            rate_between_gyms=recovery.log_sd_between_groups,
            rate_between_lifters=recovery.log_sd_between_lifters,
            women_between_gyms=float(np.sqrt(women.log_sd_between_groups**2 - recovery.log_sd_between_groups**2)),
            tie=float(np.arctanh(min(recovery.tie / SHARED_ROOT, MOST_TIED))),
            tie_sd=float(tied.std()),
            reserve_sd=reserve_sd,
        )
