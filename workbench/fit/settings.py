"""What a fit takes for granted: scatter of days and sets, drift, mistakes in the log, unknown rests."""

from __future__ import annotations

from dataclasses import dataclass, field

from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.stated_reserve import STATED_RESERVE, StatedReserve
from workbench.reference.parameters import DRIFT_SD, noise

__all__ = ["FitSettings"]


@dataclass(frozen=True, kw_only=True)
class FitSettings:
    """Assumptions of a fit.

    Attributes
    ----------
    day_sd : float
        Natural-log sd of the strength of one day against the lifter's usual.
    set_log_sd : float
        Natural-log sd of the reps available in one set.
    drift_sd : float
        Natural-log sd of the change of the usual 1RM in one week; grows with the square root of time. Assumed: 1 %,
        some times the steady gain of trained lifters (0.2 to 0.3 % a week, latella_2020).
    mistake_chance : float
        Chance that a row says something else than what happened. Assumed: 1 in 200. It keeps one typing error from
        moving the whole fit.
    wrong_file_chance : float
        Chance that a 1RM in the lifter file is plainly wrong or long out of date. Assumed: 1 in 50. Without it, a log
        that speaks against the file would be taken for a log full of mistakes.
    wrong_file_log_sd : float
        Natural-log sd of the true 1RM about such a wrong one. Assumed.
    unusual_chance, unusual_times : float
        Chance that a value lies `unusual_times` as far from what is believed of it as its spread says: endurance and
        the recovery rate; the 1RM of the lifter file three times as often. Assumed: 3 in 100, two and a half times.
        Without it, a lifter far from all others would not be found.
    unknown_rest_s : float
        The usual rest of a lifter whose log gives none, s. Assumed.
    usual_rest_log_sd : float
        Natural-log sd of that usual rest. Assumed: 95 to 235 s, 80 %.
    rest_log_sd : float
        Natural-log sd of the rest of one day about the lifter's usual, where the log gives too few to tell. Assumed.
    reserve_bias_sd : float
        Spread between lifters of how much more is left than they say, against the usual of ``reserve``, reps. Assumed:
        published studies differ by more, and people within one by less (halperin2022, refalo2023).
    reserve_bias_mean : float
        Middle of the same, where lifters of a gym are known to state otherwise than is usual, reps.
    gain_sd : float or None
        Spread of a steady gain of the 1RM, natural log in a week, about none: what is gained shows in the log alone.
        None: by years of training, from ``data/evidence/gain_rates.csv``.
    unknown_log_sd : float
        Natural-log sd of a first guess of a 1RM, for exercises that the lifter file does not name. Assumed.
    bend_sd, later_sd : float
        How far lifters may depart from the model itself: the bend by which fresh reps go otherwise than on the curve
        (`workbench.models.load_reps.Curve.bent`), and the natural log of the reps of later sets against those of
        the form. A lifter's bend goes into all that is forecast after the log; what later sets may have more widens
        what is reported of the lifter alone. Assumed: 1 is about a curve that levels off at 40 % of 1RM.
    other_curve_chance, other_curve_bend, other_curve_sd : float
        Chance that a lifter's reps follow another curve altogether, and mean and sd of the bend then. Assumed: 1 in
        10; about 5 where strength falls as the root of the reps, 8 on the power law that gives ten reps at 75 %.
    stopped_by_feel : bool
        Whether sets that ended as "stopped" with a stated reserve were ended where the reserve felt so, the reps being
        free. Otherwise the reps are taken as prescribed and the reserve as said afterwards: the safer reading, for most
        logs do not tell the two apart.
    reserve : StatedReserve
        Bias and scatter of stated reps in reserve.
    curve : Curve
        On which fresh sets lie.
    """

    day_sd: float = field(default_factory=lambda: noise().day_sd)
    set_log_sd: float = field(default_factory=lambda: noise().set_log_sd)
    drift_sd: float = DRIFT_SD
    mistake_chance: float = 0.005
    wrong_file_chance: float = 0.02
    wrong_file_log_sd: float = 0.25
    unusual_chance: float = 0.03
    unusual_times: float = 2.5
    unknown_rest_s: float = 150.0
    usual_rest_log_sd: float = 0.35
    rest_log_sd: float = 0.3
    reserve_bias_sd: float = 0.7
    reserve_bias_mean: float = 0.0
    gain_sd: float | None = None
    bend_sd: float = 0.7
    later_sd: float = 0.03
    other_curve_chance: float = 0.1
    other_curve_bend: float = 5.0
    other_curve_sd: float = 3.0
    unknown_log_sd: float = 0.15
    stopped_by_feel: bool = False
    reserve: StatedReserve = STATED_RESERVE
    curve: Curve = DEFAULT_CURVE
