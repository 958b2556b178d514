"""The steps by which a fit narrows its grids down, each by hand; and in which order, and how often, they are taken."""

from __future__ import annotations

import datetime
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from workbench.fit import learning
from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet
from workbench.fit.filtering import Filtered
from workbench.fit.learning import _Counts, _middles, _reach, _Reading, _Run, _Search, _start, fit_log
from workbench.fit.likelihood import Course
from workbench.fit.marginals import LogNormal
from workbench.fit.range import Range
from workbench.fit.settings import FitSettings
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.sharing import CARRY, NO_CARRY
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

DAY_0 = datetime.date(2026, 1, 5)
#: Of a few operations on doubles.
ROUNDING = 1e-12
SETTINGS = FitSettings()


def day(number):
    return DAY_0 + datetime.timedelta(days=number)


def log_of(*days, count=2):
    one = LoggedSet(0, 80.0, 5, "completed", float("nan"), 0.0)
    return LiftLog("back squat", tuple(LoggedSession(day(number), (one,) * count) for number in days))


def prior_of(known_on=None):
    one_rm = SimpleNamespace(log_mean=4.6, log_sd=0.05, date=known_on)
    return SimpleNamespace(one_rm=one_rm, endurance=LogNormal(-3.5, 0.3))


def search_of(strength=(4.6, 0.4), endurance=(-3.5, 1.2), weeks=3.0):
    ranges = Range(*endurance), Range(*strength)
    return _Search(log_of(0, 7, 14), prior_of(), *ranges, weeks, 4.6, -3.5)


# ---- where to begin --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("known_on", "weeks"),
    # From the first session (day 7) or from when the 1RM was tested, whichever is earlier, to day 35.
    [(None, 4.0), (day(0), 5.0), (day(7), 4.0), (day(21), 4.0)],
)
@pytest.mark.parametrize("points", [([], []), ([5.4, 5.5, 5.9], []), ([4.0, 4.1], [3.2, 3.3]), ([4.4], [4.7])])
def test_the_first_range_reaches_what_is_believed_and_what_the_log_points_at(monkeypatch, known_on, weeks, points):
    from_below, about = (np.array(values) for values in points)
    asked = []

    def rough(log, per_rep, curve):
        asked.append((log, per_rep, float(curve.fresh_reps(np.array([0.3]), 0.03)[0])))
        return (from_below if from_below.size else np.array([4.0])), about

    monkeypatch.setattr(learning, "rough_strengths", rough)
    log, settings = log_of(7, 14), replace(SETTINGS, wrong_file_chance=0.01, wrong_file_log_sd=0.6)
    found = _start(log, prior_of(known_on), settings, day(35), 0.4)
    sd = np.sqrt(0.05**2 + SETTINGS.drift_sd**2 * weeks + SETTINGS.day_sd**2)
    low, high = 4.6 - 4 * sd, 4.6 + 4 * sd
    if from_below.size:
        high = max(high, np.median(from_below) + 0.3)
    if about.size:
        low = min(low, np.median(about) - 0.3)
    assert found.strength.centre - found.strength.half == pytest.approx(low, abs=ROUNDING)
    assert found.strength.centre + found.strength.half == pytest.approx(high, abs=ROUNDING)
    assert (found.endurance.centre, found.endurance.half) == (-3.5, pytest.approx(4 * 0.3))
    assert (found.weeks, found.log_one_rm, found.log_endurance) == (pytest.approx(weeks), 4.6, -3.5)
    assert found.course == Course(bend=0.4)
    assert found.log is log
    ((of_log, per_rep, reps),) = asked
    bent = settings.curve.bent(0.4).fresh_reps(np.array([0.3]), 0.03)[0]
    assert (of_log, per_rep, reps) == (log, pytest.approx(np.exp(-3.5)), pytest.approx(bent))


def test_a_file_that_cannot_be_wrong_is_not_looked_beyond(monkeypatch):
    monkeypatch.setattr(learning, "rough_strengths", lambda *_: pytest.fail("asked of the log"))
    found = _start(log_of(0), prior_of(), replace(SETTINGS, wrong_file_chance=0.0), day(0))
    assert found.strength.half == pytest.approx(4 * np.hypot(0.05, SETTINGS.day_sd), abs=ROUNDING)
    assert found.course == Course()


@pytest.mark.parametrize(
    ("half", "count"),
    # In steps of half a sd of the day: at least 25 points, at most 161, one more than the steps that reach across.
    [(0.1, 25), (4.79, 25), (4.81, 26), (8.1, 42), (31.9, 161), (32.1, 161), (90.0, 161)],
)
def test_points_of_strength_lie_close_to_each_other_against_a_day(half, count):
    settings = replace(SETTINGS, day_sd=0.8)
    search = search_of(strength=(4.6, half), endurance=(-3.0, 1.0))
    grid = search.grid(np.array([0.0, 0.1]), _Counts(2, 7, 0.5, 0.2), settings)
    assert grid.log_strength.size == count
    assert grid.log_strength[[0, -1]] == pytest.approx([4.6 - half, 4.6 + half], abs=ROUNDING)
    # Seven points of endurance would lie a third apart: eleven at most a fifth.
    assert grid.log_endurance == pytest.approx(np.linspace(-4.0, -2.0, 11), abs=ROUNDING)
    assert grid.log_rate.tolist() == [0.0, 0.1]


# ---- what a run says of where the lifter lies ------------------------------------------------------------------------

RATES, ENDURANCES, STRENGTHS = np.linspace(-0.6, 0.6, 7), np.linspace(-4.1, -2.9, 9), np.linspace(4.3, 4.9, 31)


def bell(points, mean, sd):
    return np.exp(-0.5 * ((points - mean) / sd) ** 2)


def lift_of(usual=None, at=4.62, sd=0.04):
    """A lift whose strength is a bell that moves a little with rate and endurance."""
    rate, k, strength = np.ix_(RATES, ENDURANCES, STRENGTHS)
    today = bell(strength, at + 0.02 * rate - 0.01 * (k + 3.5), sd)
    filtered = Filtered(np.zeros((7, 9)), today / today.sum(axis=2, keepdims=True), usual)
    grid = SimpleNamespace(log_strength=STRENGTHS, log_endurance=ENDURANCES, strength_step=0.02)
    return SimpleNamespace(grid=grid, filtered=filtered)


USUAL = bell(RATES, 0.1, 0.15)


def joint_of(*weights, rate=USUAL):
    weights = weights or (np.outer(rate, bell(ENDURANCES, -3.4, 0.16)),)
    return SimpleNamespace(log_rate=RATES, rate=rate / rate.sum(), lifts=tuple(one / one.sum() for one in weights))


def mean_of(points, weights):
    mean = sum(p * w for p, w in zip(points, weights, strict=True)) / sum(weights)
    return mean, sum((p - mean) ** 2 * w for p, w in zip(points, weights, strict=True)) / sum(weights)


def strengths_by_hand(lift, weights):
    return [(weights * lift.filtered.today[:, :, s]).sum() for s in range(STRENGTHS.size)]


def reading_of(*searches, used=None, **keys):
    used = SimpleNamespace(set_count=10, lifts=[search.log for search in searches]) if used is None else used
    return _Reading(
        used, list(searches), Range(0.0, 0.6), LogNormal(0.0, 0.2), day(20), DEFAULT_FORM, None, SETTINGS, **keys
    )


def test_the_middles_of_a_run_are_means_over_its_weights():
    lifts, joint = [lift_of(), lift_of(at=4.5)], joint_of()
    lean = joint.lifts[0] * (1 + np.arange(9.0))
    joint.lifts = (joint.lifts[0], lean / lean.sum())
    expected = []
    for lift, weights in zip(lifts, joint.lifts, strict=True):
        expected.append(mean_of(STRENGTHS, strengths_by_hand(lift, weights))[0])
        expected.append(mean_of(ENDURANCES, weights.sum(axis=0))[0])
    expected.append(mean_of(RATES, joint.rate)[0])
    assert _middles(lifts, joint) == pytest.approx(expected, abs=ROUNDING)


def test_the_reach_of_all_days_is_from_the_lowest_to_the_highest_that_counts():
    """On the first day points 3 to 9 are likely, on the second 12 to 20; one that is a millionth as likely is none."""
    usual = np.zeros((2, 7, 9, 31))
    usual[0, :, :, 3:10], usual[1, :, :, 12:21] = 0.5, 1.0
    usual[1, :, :, 25], usual[1, :, :, 21], usual[0, :, :, 1] = 1e-6, 1.1e-6, 0.9e-6
    weights = joint_of().lifts[0]
    centre, half = _reach(lift_of(usual), weights, 0.03)
    low, high = STRENGTHS[3], STRENGTHS[21]
    assert centre == pytest.approx((low + high) / 2, abs=ROUNDING)
    assert half == pytest.approx((high - low) / 2 + 4 * 0.03, abs=ROUNDING)


def test_every_range_is_narrowed_to_where_the_run_says():
    search = search_of(strength=(4.6, 3.0), endurance=(-3.5, 0.6))
    lift, joint, reading = lift_of(), joint_of(), reading_of(search)
    assert reading.narrow((lift,), joint)
    mean, variance = mean_of(RATES, joint.rate)
    low, high = max(mean - 4 * variance**0.5, -0.6), min(mean + 4 * variance**0.5, 0.6)
    assert [reading.rates.centre, reading.rates.half] == pytest.approx(
        [(low + high) / 2, (high - low) / 2], abs=ROUNDING
    )
    mean, variance = mean_of(ENDURANCES, joint.lifts[0].sum(axis=0))
    low, high = max(mean - 4 * variance**0.5, -4.1), min(mean + 4 * variance**0.5, -2.9)
    assert search.endurance.centre == search.log_endurance == pytest.approx((low + high) / 2, abs=ROUNDING)
    assert search.endurance.half == pytest.approx((high - low) / 2, abs=ROUNDING)
    mean, variance = mean_of(STRENGTHS, strengths_by_hand(lift, joint.lifts[0]))
    # Three weeks of drift and a day on top, five of those sds, and a step.
    spread = (variance + 3 * SETTINGS.drift_sd**2 + SETTINGS.day_sd**2) ** 0.5
    assert search.log_one_rm == pytest.approx(mean, abs=ROUNDING)
    assert search.strength.centre == pytest.approx(mean, abs=1e-9)
    assert search.strength.half == pytest.approx(5 * spread + 0.02, abs=1e-9)


def test_days_that_are_known_bound_the_strengths_too():
    usual = np.zeros((1, 7, 9, 31))
    usual[..., 14:18] = 1.0
    search = search_of(strength=(4.6, 0.3))
    assert reading_of(search).narrow((lift_of(usual),), joint_of())
    assert search.strength.centre == pytest.approx((STRENGTHS[14] + STRENGTHS[17]) / 2, abs=1e-9)
    assert search.strength.half == pytest.approx(0.03 + 4 * SETTINGS.day_sd, abs=1e-9)


EDGES = {
    "rate": ({"rate": bell(RATES, 0.6, 0.15)}, {}),
    "endurance": ({"weights": np.outer(USUAL, bell(ENDURANCES, -4.1, 0.16))}, {}),
    "strength": ({}, {"at": 4.88}),
    "coarse endurance": ({"weights": np.outer(USUAL, bell(ENDURANCES, -3.4, 0.05))}, {}),
}


@pytest.mark.parametrize(("joint", "lift"), EDGES.values(), ids=EDGES.keys())
def test_a_range_that_is_leaned_on_is_not_settled(joint, lift):
    """Of two exercises the first leans, the second does not; what leans is widened, what is coarse is not."""
    plain = joint_of().lifts[0]
    weights = joint.get("weights", plain)
    together = joint_of(weights, plain, **({"rate": joint["rate"]} if "rate" in joint else {}))
    lifts = (lift_of(**lift), lift_of())
    searches = [search_of(strength=(4.6, 0.3), endurance=(-3.5, 0.6)) for _ in range(2)]
    assert not reading_of(*searches).narrow(lifts, together)
    searches = [search_of(strength=(4.6, 0.3), endurance=(-3.5, 0.6)) for _ in range(2)]
    reading = reading_of(*searches)
    assert reading.widen(lifts, together) == (weights is plain or weights[0, 0] > weights[0, 1])
    halves = [reading.rates.half, searches[0].endurance.half, searches[0].strength.half, searches[1].strength.half]
    wider = [0.9 if "rate" in joint else 0.6, 0.9 if weights[0, 0] > weights[0, 1] else 0.6, 0.45 if lift else 0.3, 0.3]
    assert halves == pytest.approx(wider, abs=ROUNDING)


def test_strength_that_leans_on_an_edge_is_widened_and_its_middle_moves():
    search, lift, joint = search_of(strength=(4.6, 0.3)), lift_of(at=4.88), joint_of()
    reading_of(search).narrow((lift,), joint)
    assert [search.strength.centre, search.strength.half] == pytest.approx([4.75, 0.45], abs=ROUNDING)
    assert search.log_one_rm == pytest.approx(
        mean_of(STRENGTHS, strengths_by_hand(lift, joint.lifts[0]))[0], abs=ROUNDING
    )
    assert not reading_of(search_of()).widen((lift_of(),), joint)


# ---- in which order --------------------------------------------------------------------------------------------------


class Recorded(_Reading):
    """A reading whose steps are written down, and answer as they are told."""

    def told(self, *, leans=(), settles=(), tired=(False,), median=1.0):
        self.steps, self.leans, self.settles = [], list(leans), list(settles)
        self.tired, self.carried = tired, SimpleNamespace(median=median)
        return self

    def run(self, counts, carry, before=None, *, day_by_day=False):
        number = sum(step.startswith("run") for step in self.steps)
        name = {id(getattr(learning, f"_{name}")): name for name in ("SEARCH", "NEAR", "FINAL", "FINAL_OF_SHORT")}[
            id(counts)
        ]
        text = f"run {name} carry {carry.minutes_pools:.2f} nodes {self.rest_nodes}"
        self.steps.append(
            text + (" day by day" if day_by_day else "") + ("" if before is None else f" after {before.given}")
        )
        return _Run((number,), SimpleNamespace(log_rate=number), number)

    def widen(self, lifts, joint):
        self.steps.append(f"widen {lifts[0]}")
        return bool(self.leans.pop(0)) if self.leans else False

    def narrow(self, lifts, joint):
        self.steps.append(f"narrow {lifts[0]}")
        return bool(self.settles.pop(0)) if self.settles else True

    def hold(self, given, log_rate, lifter):
        self.steps.append(f"hold {given} {log_rate}")
        return "unknowns"

    def weigh(self, lifts, joint, given, usual, tired):
        self.steps.append(f"weigh {lifts[0]} {joint.log_rate} {given} {tired}")
        return self.carried


def fitted(monkeypatch, *, count=10, carry=CARRY, usual=1.0, **keys):
    used = SimpleNamespace(set_count=count)
    monkeypatch.setattr(learning, "carry_prior", lambda lifter: LogNormal(np.log(usual), 0.3))
    monkeypatch.setattr(learning, "shares_muscles", lambda used: keys.get("tired", (False,)))
    rates, rate = Range(0.0, 0.6), LogNormal(0.0, 0.2)
    reading = Recorded(used, [search_of()], rates, rate, day(20), DEFAULT_FORM, None, SETTINGS).told(**keys)
    return reading.fitted("lifter", carry), reading.steps


SEARCH, NEAR, SHORT = (f"run {name} carry 0.70 nodes" for name in ("SEARCH", "NEAR", "FINAL_OF_SHORT"))


def test_a_fit_that_is_settled_at_once(monkeypatch):
    fit, steps = fitted(monkeypatch)
    assert steps == [f"{SEARCH} 1", "widen 0", "narrow 0", "hold 0 0", f"{SHORT} 3", "widen 1"]
    assert (fit.lifts, fit.joint.log_rate, fit.given, fit.unknowns, fit.carry_over) == ((1,), 1, 1, "unknowns", None)
    assert (fit.lifter, fit.today, fit.form, fit.settings) == ("lifter", day(20), DEFAULT_FORM, SETTINGS)


def test_a_fit_looks_again_where_it_is_not_settled(monkeypatch):
    _, steps = fitted(monkeypatch, settles=[False, False])
    assert steps[3:] == ["hold 0 0", f"{NEAR} 1", "narrow 1", f"{SHORT} 3", "widen 2"]


def test_a_search_is_given_up_after_four_and_an_end_after_three(monkeypatch):
    _, steps = fitted(monkeypatch, leans=[1] * 9)
    assert steps == [
        *(step for number in range(4) for step in (f"{SEARCH} 1", f"widen {number}")),
        *("narrow 3", "hold 3 3"),
        *(f"{SHORT} 3", "widen 4", f"{SHORT} 3 after 4", "widen 5", f"{SHORT} 3 after 5", "widen 6"),
    ]
    _, steps = fitted(monkeypatch, leans=[1, 0, 1, 0])
    assert [step[:10] for step in steps if step.startswith("run")] == ["run SEARCH"] * 2 + ["run FINAL_"] * 2


@pytest.mark.parametrize(("count", "last"), [(120, "FINAL_OF_SHORT"), (121, "FINAL"), (999, "FINAL")])
def test_a_short_log_ends_on_a_finer_grid(monkeypatch, count, last):
    _, steps = fitted(monkeypatch, count=count, settles=[False, False, False])
    assert steps[-2] == f"run {last} carry 0.70 nodes 3"
    assert [step for step in steps if "NEAR" in step] == [f"{NEAR} 1"]


@pytest.mark.parametrize(("settles", "near"), [([False, False, False], 2), ([False, True], 1), ([True], 0)])
def test_a_long_log_looks_near_the_lifter_twice_day_by_day(monkeypatch, settles, near):
    _, steps = fitted(monkeypatch, count=1000, settles=settles)
    assert [step for step in steps if "NEAR" in step] == [f"{NEAR} 1 day by day"] * near
    assert steps[-2] == "run FINAL carry 0.70 nodes 3"


def test_exercises_that_tire_each_other_are_weighed_near_the_lifter(monkeypatch):
    """The prior's median is 1.2, what the log says 1.8: the carry that all is read with goes from 0.84 to 1.26."""
    tired = (False, True)
    fit, steps = fitted(monkeypatch, tired=tired, usual=1.2, median=1.8)
    assert steps == [
        *("run SEARCH carry 0.84 nodes 1", "widen 0", "narrow 0", "hold 0 0"),
        *("run NEAR carry 0.84 nodes 1", "narrow 1", f"weigh 1 1 1 {tired}"),
        *("run FINAL_OF_SHORT carry 1.26 nodes 3", "widen 2"),
    ]
    assert fit.carry_over.median == 1.8
    _, steps = fitted(monkeypatch, tired=tired, carry=NO_CARRY)
    assert not any(step.startswith(("weigh", "run NEAR")) for step in steps)


# ---- what a fit is given ---------------------------------------------------------------------------------------------


def rows(*days, name="Invented"):
    row = {"lifter": name, "exercise": "back squat", "load_kg": 80.0, "reps": 5, "outcome": "completed"}
    return pd.DataFrame([row | {"date": pd.Timestamp(day(number)), "rest_s": 120.0} for number in days])


def lifter_of(**keys):
    return validate({"name": "Invented", "lifts": {"back squat": {"one_rm_kg": 100}}, **keys}, Lifter)


@pytest.fixture
def read(monkeypatch):
    """Fit nothing: return how the log would be read."""
    loaded = []
    monkeypatch.setattr(learning, "load_for", loaded.append)
    monkeypatch.setattr(_Reading, "fitted", lambda self, lifter, carry: (self, lifter, carry, loaded))
    return lambda *args, **keys: fit_log(*args, **keys).fit


def test_a_fit_holds_on_the_last_day_that_is_known(read):
    lifter = lifter_of()
    reading, of, carry, loaded = read(rows(0, 0, 7, 14), lifter)
    assert (reading.today, of, carry, loaded) == (day(14), lifter, CARRY, [4])
    assert reading.settings == SETTINGS
    assert [search.log.set_count for search in reading.searches] == [4]
    assert (reading.rates.centre, reading.rates.half) == (reading.rate.log_mean, 4 * reading.rate.log_sd)
    assert (reading.form, reading.parameters, reading.bend, reading.rest_nodes) == (DEFAULT_FORM, None, 0.0, 1)
    later = lifter_of(learned={"leg press": {f"{day(30)}": "2 sets, 0123456789ab"}})
    assert read(rows(0, 14), later)[0].today == day(30)
    for today in (day(14), day(15)):
        assert read(rows(0, 14), lifter, today=today)[0].today == today
    with pytest.raises(InputError, match="2026-01-18 is before the last session, 2026-01-19"):
        read(rows(0, 14), lifter, today=day(13))


def test_a_fit_takes_the_curve_and_the_settings_that_it_is_given(read):
    from workbench.models.load_reps import CURVES

    own = replace(SETTINGS, day_sd=0.05)
    reading = read(rows(0), lifter_of(), settings=own, curve=CURVES["power"], parameters="given", carry=NO_CARRY)
    assert reading[0].settings == replace(own, curve=CURVES["power"])
    assert (reading[0].parameters, reading[0].held_parameters, reading[2]) == ("given", "given", NO_CARRY)
    assert read(rows(0), lifter_of(), settings=own)[0].settings == own


def test_a_lifter_with_a_bend_is_read_with_it(read):
    together = {
        "others": {"bend": [-0.5, 0.4, 1.5], "gain": [-0.5, 0.1, 1.0]},
        "quantities": ["bend", "gain"],
        "correlations": [[0.1]],
    }
    reading = read(rows(0), lifter_of(together=together))[0]
    assert reading.bend == 0.4
    assert reading.searches[0].course == Course(bend=0.4)


def test_a_log_without_a_set_that_can_be_used_says_why(read):
    table = rows(0, 0, 0, 7)
    table.loc[[0, 1], "load_kg"] = np.nan
    table.loc[[2, 3], "reps"] = -1
    with pytest.raises(InputError, match=r"holds no set that can be used \(no load; fewer than no reps\)"):
        read(table, lifter_of())
    with pytest.raises(InputError, match=r"holds no set that can be used \(it is empty\)"):
        read(table.iloc[:0], lifter_of())
