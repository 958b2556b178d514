"""Where a search found a lifter, where one is likely, and what is believed before the log."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from workbench.fit.marginals import LogNormal
    from workbench.fit.priors import Kept, LiftPrior
    from workbench.fit.settings import FitSettings
    from workbench.models.fatigue import FatigueForm
    from workbench.quantities import FloatArray

__all__ = ["Believed", "Likely", "Point"]


@dataclass(frozen=True)
class Point:
    """Where the search found a lifter.

    Attributes
    ----------
    log_one_rm, log_endurance : array, shape (exercises,)
    log_rate : float
    """

    log_one_rm: FloatArray
    log_endurance: FloatArray
    log_rate: float


@dataclass(frozen=True)
class Likely:
    """Where a lifter is likely to be found with what no grid holds at its held values.

    Attributes
    ----------
    at : Point
    endurance_sd : array, shape (exercises,)
        Natural-log sds.
    rate_sd : float
    """

    at: Point
    endurance_sd: FloatArray
    rate_sd: float


@dataclass(frozen=True)
class Believed:
    """What is believed before the log.

    Attributes
    ----------
    priors : sequence of LiftPrior
    rate : LogNormal
        Of the recovery rate.
    gain_sd : float
        Spread of the steady gain, natural log in a week.
    form, parameters : FatigueForm and its parameters
        None: the spread that published sets leave is looked through.
    settings : FitSettings
    today : datetime.date
    kept : Kept or None
        What an earlier log left possible.
    """

    priors: Sequence[LiftPrior]
    rate: LogNormal
    gain_sd: float
    form: FatigueForm
    parameters: Any
    settings: FitSettings
    today: datetime.date
    kept: Kept | None = None
