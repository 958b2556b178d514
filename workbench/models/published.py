"""The published rep-max equations side by side, each callable as ``brzycki_1993(load, reps)``.

`workbench.models.rep_max` says what an equation can answer and holds the rule of validity: NaN outside the stated range
unless ``extrapolate=True``. Each says below it its formula (load in kg) and source, with the DOI where our list of
sources has one; the papers' numbers of the equations are not known to us. ``data/equations.csv`` holds the same formula
as text, the reported error and remarks.

Most coefficients are graded ``recalled``: we have not read them in the paper itself. To add one, write an `Equation`
below, and give it a row in the data file and five hand-worked values in the tests.

>>> round(float(brzycki_1993(100, 5)), 1)
112.5
>>> round(float(brzycki_1993.load_fraction(5)), 4)
0.8888
>>> float(brzycki_1993(100, 12))
nan
>>> round(float(brzycki_1993(100, 12, extrapolate=True)), 1)
144.1
"""

from __future__ import annotations

from math import inf
from typing import Final

from workbench.models.rep_max import Equation, cubic, decaying, falling, power, regression, rising
from workbench.quantities import KG_PER_LB

# General, or one curve for all loads, in the order of first publication.

berger_1970: Final = Equation(
    "berger_1970",
    "Berger 1970",
    "berger1970",
    decaying(0.0, 1.0261, 0.0262),
    grade="recalled",
    population="bench press",
)
"""``load / (1.0261 * exp(-0.0262 * reps))``.

Berger RA. 1970. Relationship between dynamic strength and dynamic endurance. Res Q 41:115-116.
"""

epley_1985: Final = Equation("epley_1985", "Epley 1985", "epley1985", rising(1.0, 0.0333), grade="recalled")
"""``load * (1 + 0.0333 * reps)``. Epley B. 1985. Poundage chart. Lincoln, NE."""

lander_1985: Final = Equation(
    "lander_1985", "Lander 1985", "lander1985", falling(1.013, 0.0267123), grade="recalled", validity_grade="recalled"
)
"""``100 * load / (101.3 - 2.67123 * reps)``. Lander J. 1985. Maximum based on reps. NSCA Journal 6(6):60-61."""

lombardi_1989: Final = Equation("lombardi_1989", "Lombardi 1989", "lombardi1989", power(0.10), grade="recalled")
"""``load * reps ** 0.10``. Lombardi VP. 1989. Beginning Weight Training. WC Brown."""

oconner_1989: Final = Equation(
    "oconner_1989", "O'Conner et al. 1989", "oconner1989", rising(1.0, 0.025), grade="recalled"
)
"""``load * (1 + 0.025 * reps)``. O'Conner B, Simmons J, O'Shea P. 1989. Weight Training Today. West Publ."""

brown_1992: Final = Equation("brown_1992", "Brown 1992", "brown1992", rising(0.9849, 0.0328), grade="recalled")
"""``load * (0.9849 + 0.0328 * reps)``. Brown HL. 1992. Lifetime Fitness."""

#: Validity: up to 15 reps, as a later paper describes it (reynolds2006_cp5, introduction).
mayhew_1992: Final = Equation(
    "mayhew_1992",
    "Mayhew et al. 1992",
    "mayhew1992",
    decaying(0.522, 0.419, 0.055),
    grade="recalled",
    population="bench press; college men and women",
    reps_high=15.0,
    validity_grade="published",
)
"""``100 * load / (52.2 + 41.9 * exp(-0.055 * reps))``.

Mayhew JL, Ball TE, Arnold MD, Bowen JC. 1992. Relative muscular endurance performance as a predictor of bench press
strength in college men and women. J Appl Sport Sci Res 6(4):200-206.
"""

#: Validity: the most accurate of six up to ten reps in 220 men's bench press (valid_mayhew1995).
brzycki_1993: Final = Equation(
    "brzycki_1993", "Brzycki 1993", "brzycki1993", falling(1.0278, 0.0278), grade="recalled", validity_grade="published"
)
"""``load / (1.0278 - 0.0278 * reps)``.

Brzycki M. 1993. Strength testing: predicting a one-rep max from reps-to-fatigue. JOPERD 64(1):88-90.
"""

wathan_1994: Final = Equation(
    "wathan_1994", "Wathan 1994", "wathan1994", decaying(0.488, 0.538, 0.075), grade="recalled"
)
"""``100 * load / (48.8 + 53.8 * exp(-0.075 * reps))``.

Wathan D. 1994. Load assignment. In: Baechle T (ed) Essentials of Strength Training and Conditioning.
"""

adams_1998: Final = Equation("adams_1998", "Adams 1998", "adams1998", falling(1.0, 0.02), grade="recalled")
"""``load / (1 - 0.02 * reps)``. Adams GM. 1998. Exercise Physiology Laboratory Manual."""

kemmler_2006: Final = Equation(
    "kemmler_2006",
    "Kemmler et al. 2006",
    "kemmler2006",
    cubic(0.988, 0.0104, 0.00190, 0.0000584),
    grade="published",
    population="four machine exercises; trained postmenopausal women, n = 70",
    reps_low=3.0,
    reps_high=20.0,
    validity_grade="published",
)
"""``load * (0.988 + 0.0104 * reps + 0.00190 * reps**2 - 0.0000584 * reps**3)``.

Kemmler WK, Lauber D, Wassermann A, Mayhew JL. 2006. Predicting maximal strength in trained postmenopausal woman. J
Strength Cond Res 20(4):838-842.
"""

reynolds_2006_chest_press: Final = Equation(
    "reynolds_2006_chest_press",
    "Reynolds et al. 2006, chest press, curve",
    "reynolds2006_cp_nl",
    decaying(0.4847, 0.5551, 0.0723),
    grade="recalled",
    population="flat barbell bench press; 34 men and 36 women, 18 to 69 years",
    reps_high=20.0,
    validity_grade="published",
)
"""``100 * load / (48.47 + 55.51 * exp(-0.0723 * reps))``.

Reynolds JM, Gordon TJ, Robergs RA. 2006. Prediction of one repetition maximum strength from multiple repetition maximum
testing and anthropometry. J Strength Cond Res 20(3):584-592, doi 10.1519/R-15304.1.
"""

reynolds_2006_leg_press: Final = Equation(
    "reynolds_2006_leg_press",
    "Reynolds et al. 2006, leg press, curve",
    "reynolds2006_lp_nl",
    decaying(0.2641, 0.7817, 0.0569),
    grade="recalled",
    population="plate-loaded leg press; 34 men and 36 women, 18 to 69 years",
    reps_high=20.0,
    validity_grade="published",
)
"""``100 * load / (26.41 + 78.17 * exp(-0.0569 * reps))``.

Reynolds JM, Gordon TJ, Robergs RA. 2006. Prediction of one repetition maximum strength from multiple repetition maximum
testing and anthropometry. J Strength Cond Res 20(3):584-592, doi 10.1519/R-15304.1.
"""

# Regressions of one sample, one load or one number of reps.

cummings_finn_1998: Final = Equation(
    "cummings_finn_1998",
    "Cummings and Finn 1998",
    "cummings_finn1998",
    regression(-4.29787, per_load=1.175, per_rep=0.839),
    grade="recalled",
    population="bench press; untrained women, n = 57",
    reps_low=4.0,
    reps_high=8.0,
    validity_grade="published",
)
"""``1.175 * load + 0.839 * reps - 4.29787``.

Cummings B, Finn KJ. 1998. Estimation of a one repetition maximum bench press for untrained women. J Strength Cond Res
12(4):262-265.
"""

#: In pounds as published: 1RM = 226.7 + 7.1 reps with 225 lb.
mayhew_1999: Final = Equation(
    "mayhew_1999",
    "Mayhew et al. 1999, 225 lb",
    "mayhew_225",
    regression(226.7 * KG_PER_LB, per_rep=7.1 * KG_PER_LB),
    grade="recalled",
    population="bench press with 225 lb; college football players, men",
    reps_high=inf,
    validity_grade="published",
    fixed_load=225.0 * KG_PER_LB,
)
"""``0.45359237 * (226.7 + 7.1 * reps)``.

Mayhew JL, et al. 1999. Using absolute endurance with 225 lb to predict 1RM (college football).
"""

kravitz_2003_squat: Final = Equation(
    "kravitz_2003_squat",
    "Kravitz et al. 2003, squat",
    "kravitz2003_sq",
    regression(159.9, per_rep=-11.552, per_product=0.103),
    grade="published",
    population="squat at 70 % of 1RM; 18 male high-school lifters",
    reps_high=inf,
    validity_grade="published",
    fixed_load_fraction=0.70,
)
"""``159.9 + 0.103 * reps * load - 11.552 * reps``.

Kravitz L, Akalan C, Nowicki K, Kinzey SJ. 2003. Prediction of 1 repetition maximum in high-school power lifters. J
Strength Cond Res 17(1):167-172.
"""

kravitz_2003_bench_press: Final = Equation(
    "kravitz_2003_bench_press",
    "Kravitz et al. 2003, bench press",
    "kravitz2003_bp",
    regression(90.66, per_rep=-5.306, per_product=0.085),
    grade="published",
    population="bench press at 70 % of 1RM; 18 male high-school lifters",
    reps_high=inf,
    validity_grade="published",
    fixed_load_fraction=0.70,
)
"""``90.66 + 0.085 * reps * load - 5.306 * reps``.

Kravitz L, Akalan C, Nowicki K, Kinzey SJ. 2003. Prediction of 1 repetition maximum in high-school power lifters. J
Strength Cond Res 17(1):167-172.
"""

kravitz_2003_deadlift: Final = Equation(
    "kravitz_2003_deadlift",
    "Kravitz et al. 2003, deadlift",
    "kravitz2003_dl",
    regression(156.08, per_rep=-12.106, per_product=0.098),
    grade="published",
    population="deadlift at 80 % of 1RM; 18 male high-school lifters",
    reps_high=inf,
    validity_grade="published",
    fixed_load_fraction=0.80,
)
"""``156.08 + 0.098 * reps * load - 12.106 * reps``.

Kravitz L, Akalan C, Nowicki K, Kinzey SJ. 2003. Prediction of 1 repetition maximum in high-school power lifters. J
Strength Cond Res 17(1):167-172.
"""

reynolds_2006_chest_press_5rm: Final = Equation(
    "reynolds_2006_chest_press_5rm",
    "Reynolds et al. 2006, chest press, 5RM",
    "reynolds2006_cp5",
    regression(0.6999, per_load=1.1307),
    grade="published",
    population="flat barbell bench press; 34 men and 36 women, 18 to 69 years",
    reps_low=5.0,
    reps_high=5.0,
    validity_grade="published",
)
"""``1.1307 * load + 0.6999``.

Reynolds JM, Gordon TJ, Robergs RA. 2006. Prediction of one repetition maximum strength from multiple repetition maximum
testing and anthropometry. J Strength Cond Res 20(3):584-592, doi 10.1519/R-15304.1.
"""

reynolds_2006_leg_press_5rm: Final = Equation(
    "reynolds_2006_leg_press_5rm",
    "Reynolds et al. 2006, leg press, 5RM",
    "reynolds2006_lp5",
    regression(14.2546, per_load=1.0970),
    grade="published",
    population="plate-loaded leg press; 34 men and 36 women, 18 to 69 years",
    reps_low=5.0,
    reps_high=5.0,
    validity_grade="published",
)
"""``1.0970 * load + 14.2546``.

Reynolds JM, Gordon TJ, Robergs RA. 2006. Prediction of one repetition maximum strength from multiple repetition maximum
testing and anthropometry. J Strength Cond Res 20(3):584-592, doi 10.1519/R-15304.1.
"""

#: Every equation above by name.
EQUATIONS: Final = {value.name: value for value in tuple(globals().values()) if isinstance(value, Equation)}

__all__ = ["EQUATIONS", *EQUATIONS]  # noqa: PLE0604 - the keys are strings
