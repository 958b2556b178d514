"""The fit: its pieces against forms worked out by hand, and what it must never do."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest
from scipy.stats import multivariate_normal, norm

from tests.simulated_logs import invented_lifter, simulated_log
from workbench.fit import FitSettings, fit_log, read_sets
from workbench.fit.evidence_sets import LoggedSession, LoggedSet
from workbench.fit.filtering import OneRMPrior, filter_sessions
from workbench.fit.likelihood import Grid, SetReader, failures, probability
from workbench.fit.marginals import Marginal
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.published import EQUATIONS
from workbench.reference.toml_files import validate

#: Sums on a grid against closed forms, in posterior sds.
GRID = 0.02
DAY_0 = datetime.date(2026, 1, 5)
#: What is believed before the log as normal distributions, without their tails.
NORMAL = {"wrong_file_chance": 0.0, "unusual_chance": 0.0}


def lifter(one_rm=100.0, uncertainty=5.0, **more):
    lifts = {"bench press": {"one_rm_kg": one_rm, "uncertainty_percent": uncertainty, **more}}
    return validate({"name": "Invented", "lifts": lifts}, Lifter)


def rows(*sets, exercise="bench press"):
    """Build rows from (day, load, reps, outcome, reserve, rest)."""
    records = [
        {
            "date": pd.Timestamp(DAY_0 + datetime.timedelta(days=day)),
            "lifter": "Invented",
            "exercise": exercise,
            "set_number": 1,
            "load_kg": load,
            "reps": reps,
            "outcome": outcome,
            "reps_in_reserve": reserve,
            "rest_s": rest,
        }
        for day, load, reps, outcome, reserve, rest in sets
    ]
    return pd.DataFrame(records)


EASY = rows(*[(7 * week, 65.0, 5, "completed", np.nan, 180.0) for week in range(5) for _ in range(3)])


# The chance of a set


def test_a_failed_set_by_hand():
    """Ten reps expected, 7 % scatter: between 9 and 10 lies from -1.505 to 0 sds, which is 43.4 %."""
    one = LoggedSet(0, 80.0, 9, "failed", np.nan, 0.0)
    chance = probability(one, np.log(np.array([10.0])), np.array([0.07]), FitSettings())
    assert chance[0] == pytest.approx(0.5 - norm.cdf(np.log(0.9) / 0.07), abs=1e-12)
    assert chance[0] == pytest.approx(0.434, abs=0.0005)


def test_all_failures_at_once_are_each_of_them():
    log_available = np.log(np.array([[0.3, 1.0, 2.5], [9.5, 12.0, 1e-6]]))
    each = [LoggedSet(0, 80.0, reps, "failed", np.nan, 0.0) for reps in range(15)]
    expected = np.stack([probability(one, log_available, 0.07, FitSettings()) for one in each], axis=-1)
    assert np.array_equal(failures(15, log_available, 0.07), expected)


def test_a_completed_set_by_hand():
    """At least 9 of 10 expected: 93.4 %; a set that was completed says nothing against more."""
    one = LoggedSet(0, 80.0, 9, "completed", np.nan, 0.0)
    chance = probability(one, np.log(np.array([10.0, 30.0])), np.array([0.07, 0.07]), FitSettings())
    assert chance[0] == pytest.approx(0.934, abs=0.0005)
    assert chance[1] == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("ending", ["stated", "felt"])
def test_statements_of_a_set_add_up(ending):
    """Over all statements after given reps, or over all reps at which one stops, the chances sum to one at most."""
    reps = [5] if ending == "stated" else range(1, 60)
    reserves = range(11) if ending == "stated" else [2]
    total = np.zeros(3)
    for n in reps:
        for reserve in reserves:
            one = LoggedSet(0, 80.0, n, ending, float(reserve), 0.0)
            total += probability(one, np.log(np.array([9.0, 12.0, 18.0])), np.full(3, 0.05), FitSettings())
    assert np.all(total <= 1.0 + 1e-9)
    assert np.all(total > 0.8), total


def test_a_set_later_in_the_session_is_read_through_the_rest():
    """Fewer reps after a short rest say nothing against the 1RM: the likelihood peaks at the same strength."""
    grid = Grid(np.array([0.0]), np.log(np.array([0.03])), np.linspace(np.log(80), np.log(120), 201))
    reader = SetReader(grid, DEFAULT_FORM, DEFAULT_FORM.parameters, FitSettings())
    fresh, _ = DEFAULT_FORM.work(DEFAULT_FORM.fresh(()), np.log(100 / 75), 1 + np.log(100 / 75) / 0.03)
    state = DEFAULT_FORM.work(DEFAULT_FORM.fresh(()), np.log(100 / 75), fresh)[1]
    second, _ = DEFAULT_FORM.work(DEFAULT_FORM.rest(state, 90.0), np.log(100 / 75), fresh)
    sets = [
        LoggedSet(0, 75.0, int(fresh), "failed", np.nan, 0.0),
        LoggedSet(1, 75.0, int(second), "failed", np.nan, 90.0),
    ]
    assert int(second) < int(fresh) - 2
    peak = grid.log_strength[np.argmax(reader.session(LoggedSession(DAY_0, tuple(sets)))[0][0, 0])]
    assert np.exp(peak) == pytest.approx(100.0, rel=0.02)


def test_a_long_session_is_the_sum_of_the_logs_of_its_sets():
    """1,200 sets with a chance of 0.45 each at best: the product, 10 to the -411, is less than the smallest number."""
    grid = Grid(np.array([0.0]), np.log(np.array([0.03])), np.log(np.array([95.0, 100.0, 105.0])))
    reader = SetReader(grid, DEFAULT_FORM, DEFAULT_FORM.parameters, FitSettings())
    sets = tuple(LoggedSet(number, 75.0, 9, "failed", np.nan, 1200.0) for number in range(1200))
    session = LoggedSession(DAY_0, sets)
    logs = sum(np.log(reader.of(*(state[at] for at in (0, 2, 3)))) for state in reader.states(session))
    assert logs.max() < -750.0, "no sum that a plain product could not have"
    found, log_factor = reader.session(session)
    # Rounding of some thousand products.
    assert np.log(found.max()) + log_factor == pytest.approx(logs.max(), abs=1e-9)


# Through time


def test_filter_against_a_multivariate_normal():
    """With normal likelihoods, 1RM and days are one multivariate normal: mean, sd and evidence in closed form."""
    settings = FitSettings(day_sd=0.02, set_log_sd=0.07, drift_sd=0.012)
    days, seen, noise_sd = [0, 7, 10, 24], np.array([4.62, 4.60, 4.66, 4.65]), 0.015
    prior = OneRMPrior(4.6, 0.05)
    grid = Grid(np.array([0.0]), np.array([-3.5]), np.linspace(4.3, 4.95, 131))
    likelihoods = np.stack([norm.pdf(value, grid.log_strength, noise_sd)[None, None, :] for value in seen])
    dates = [DAY_0 + datetime.timedelta(days=day) for day in days]
    filtered = filter_sessions(grid, likelihoods, dates, prior, settings, today=dates[-1], backward=True)

    weeks = np.array(days) / 7
    usual = prior.log_sd**2 + settings.drift_sd**2 * np.minimum.outer(weeks, weeks)
    data = usual + np.eye(4) * (settings.day_sd**2 + noise_sd**2)
    gain = usual @ np.linalg.inv(data)
    mean = prior.log_mean + gain @ (seen - prior.log_mean)
    sd = np.sqrt(np.diag(usual - gain @ usual))
    for index, weights in enumerate(filtered.usual[:, 0, 0]):
        found = Marginal(grid.log_strength, weights)
        assert found.mean == pytest.approx(mean[index], abs=GRID * sd[index])
        assert found.sd == pytest.approx(sd[index], rel=GRID)
    assert Marginal(grid.log_strength, filtered.today[0, 0]).mean == pytest.approx(mean[-1], abs=GRID * sd[-1])
    # The evidence of two data sets, as a ratio: constants drop out.
    other = likelihoods[::-1]
    again = filter_sessions(grid, other, dates, prior, settings, today=dates[-1])
    expected = [multivariate_normal.logpdf(x, np.full(4, prior.log_mean), data) for x in (seen, seen[::-1])]
    assert (filtered.log_evidence - again.log_evidence)[0, 0] == pytest.approx(expected[0] - expected[1], abs=0.02)


def test_quantiles_of_a_normal_from_few_points():
    points = np.linspace(-4, 4, 9)
    found = Marginal(points, norm.pdf(points))
    assert found.log_quantile([0.1, 0.5, 0.9]) == pytest.approx(norm.ppf([0.1, 0.5, 0.9]), abs=0.01)
    assert found.below(1.0) == pytest.approx(norm.cdf(1.0), abs=0.002)


# What it must never do


def test_an_easy_log_never_lowers_a_one_rm_and_a_rep_max_formula_does():
    """Nobody failed: the 1RM and the reps at a load can only go up, compared with as much time without a log."""
    settings = FitSettings(**NORMAL, gain_sd=0.0)
    found = fit_log(EASY, lifter(), settings=settings).one_rm("bench press")
    levels = np.linspace(0.05, 0.95, 19)
    # Without evidence the 1RM drifts for four weeks and stays where it was.
    drifted = np.log(100) + np.sqrt(0.05**2 + 4 * settings.drift_sd**2) * norm.ppf(levels)
    assert np.all(found.log_quantile(levels) >= drifted - GRID * found.sd)
    assert fit_log(EASY, lifter()).one_rm("bench press").quantile(0.5) >= 100.0
    naive = max(float(EQUATIONS["epley_1985"](row["load_kg"], row["reps"])) for row in EASY.to_dict("records"))
    assert naive == pytest.approx(65 * (1 + 0.0333 * 5), rel=1e-9)  # 75.8 kg: a quarter off the 1RM
    assert naive < 80.0


@pytest.mark.parametrize("level", [0.1, 0.5, 0.9])
def test_a_hard_completed_set_raises_and_one_rep_more_raises_more(level):
    before = fit_log(EASY, lifter()).one_rm("bench press").quantile(level)
    once = fit_log(rows((0, 90.0, 6, "completed", np.nan, 0.0)), lifter()).one_rm("bench press").quantile(level)
    more = fit_log(rows((0, 90.0, 8, "completed", np.nan, 0.0)), lifter()).one_rm("bench press").quantile(level)
    assert before < once < more


def test_a_file_that_is_plainly_wrong_gives_way_and_is_named():
    """Eight hard sets with 150 kg against 100 kg in the file: the file is wrong, not eight rows of the log."""
    learned = fit_log(rows(*[(7 * week, 150.0, 8, "failed", np.nan, np.nan) for week in range(8)]), lifter())
    row = learned.summary().iloc[0]
    assert row["p10"] > 160.0
    assert "far from the lifter file" in row["note"]
    # One such set is a slip of the pen, and the file stands.
    once = fit_log(rows((0, 150.0, 8, "failed", np.nan, np.nan)), lifter()).summary().iloc[0]
    assert once["p50"] == pytest.approx(100.0, rel=0.02)
    assert once["note"] == ""


def test_a_log_that_leaves_a_1rm_as_unknown_as_it_was_says_so():
    """Easy sets narrow nothing, of a 1RM known to 5 %; one made at 104 and missed at 106 leaves a day's scatter."""
    told = "This log tells little of the 1RM of bench press."
    assert any(note.startswith(told) for note in fit_log(EASY, lifter()).notes)
    tested = rows((0, 104.0, 1, "completed", np.nan, 0.0), (0, 106.0, 0, "failed", np.nan, 300.0))
    assert not any(told in note for note in fit_log(tested, lifter()).notes)


def test_a_tested_maximum_is_a_window():
    """Made at 104, missed at 106: the strength of that day lies between, the usual 1RM a day's scatter about it."""
    learned = fit_log(rows((0, 104.0, 1, "completed", np.nan, 0.0), (0, 106.0, 0, "failed", np.nan, 300.0)), lifter())
    low, middle, high = learned.one_rm("bench press").quantile([0.1, 0.5, 0.9])
    assert 102.0 < middle < 106.5
    assert np.log(high / low) / 2.563 < 0.03


def test_recovery_stays_at_its_prior_without_later_sets():
    sets = [(7 * week, 80.0, 7, "failed", np.nan, np.nan) for week in range(6)]
    learned = fit_log(rows(*sets), lifter(), settings=FitSettings(**NORMAL))
    assert learned.recovery_rate.mean == pytest.approx(learned.fit.rate.log_mean, abs=GRID * learned.fit.rate.log_sd)
    assert learned.recovery_rate.sd == pytest.approx(learned.fit.rate.log_sd, rel=GRID)
    assert "nothing is learned of recovery" in learned.summary().set_index("quantity")["note"]["recovery rate"]


def test_a_woman_starts_average_and_the_note_says_that_the_sexes_conflict():
    sets = [(7 * w, 75.0, r, "failed", np.nan, 90.0) for w in range(2) for r in (9, 6)]
    table = fit_log(rows(*sets), lifter().model_copy(update={"sex": "female"})).summary().set_index("quantity")
    assert table["prior_p50"]["recovery rate"] == pytest.approx(1.0, rel=1e-9)
    assert "disagree" in table["note"]["recovery rate"]
    table = (
        fit_log(rows(*sets), lifter().model_copy(update={"sex": "female", "recovery_rate": 1.4}))
        .summary()
        .set_index("quantity")
    )
    assert table["note"]["recovery rate"] == ""


def test_more_reps_after_the_same_rest_mean_faster_recovery():
    def rate(second):
        sets = [(7 * w, 75.0, r, "failed", np.nan, 90.0) for w in range(5) for r in (9, second)]
        return fit_log(rows(*sets), lifter()).recovery_rate.quantile(0.5)

    assert rate(4) < rate(6) < rate(8)


def test_what_is_said_counts_with_its_bias():
    """Two in reserve after six of a set is one more than one in reserve, and moves the 1RM up."""

    def one_rm(reserve):
        return fit_log(rows(*[(7 * w, 82.5, 6, "stopped", reserve, 0.0) for w in range(4)]), lifter()).one_rm(
            "bench press"
        )

    assert one_rm(0.0).mean < one_rm(1.0).mean < one_rm(2.0).mean < one_rm(4.0).mean


def test_a_load_in_pounds_hardly_moves_the_fit():
    """One set of a hundred with 2.2 times the load is taken for a mistake."""
    rng = np.random.default_rng(4)
    who, truth = invented_lifter(rng, ["back squat"])
    log = simulated_log(rng, who, truth, sessions=12)
    before = fit_log(log, who).one_rm("back squat")
    wrong = log.copy()
    wrong.loc[log.index[10], "load_kg"] /= 0.45359237
    after = fit_log(wrong, who).one_rm("back squat")
    assert after.mean == pytest.approx(before.mean, abs=0.5 * before.sd)


def test_the_same_log_gives_the_same_digits_in_any_order_of_exercises():
    rng = np.random.default_rng(5)
    who, truth = invented_lifter(rng, ["back squat", "lat pulldown"])
    log = simulated_log(rng, who, truth, sessions=6)
    first, again = fit_log(log, who).summary(), fit_log(log, who).summary()
    pd.testing.assert_frame_equal(first, again)
    swapped = pd.concat([log[log["exercise"] == name] for name in ("lat pulldown", "back squat")])
    other = fit_log(swapped, who).summary().set_index(["exercise", "quantity"])
    for key, row in first.set_index(["exercise", "quantity"]).iterrows():
        # The clock of the day differs by nothing but the first sets' place; rests are the same.
        assert other.loc[key, "p50"] == pytest.approx(row["p50"], rel=1e-6)


def test_draws_are_those_of_the_marginals():
    rng = np.random.default_rng(6)
    # No lifter drawn departs from the model; what that may be widens the marginals alone.
    settings = FitSettings(bend_sd=0.0, later_sd=0.0)
    who, truth = invented_lifter(rng, ["back squat", "lat pulldown"])
    learned = fit_log(simulated_log(rng, who, truth, sessions=8), who, settings=settings)
    draws = learned.draws(80000, np.random.default_rng(1))
    for lane, name in enumerate(draws.exercises):
        for values, own in (
            (draws.log_one_rm[:, lane], learned.one_rm(name)),
            (np.log(draws.endurance[:, lane]), learned.endurance(name)),
        ):
            # 80,000 draws know a quantile to about 0.006 sd; the rest is the cells of the grid.
            off = np.quantile(values, [0.1, 0.5, 0.9]) - own.log_quantile([0.1, 0.5, 0.9])
            assert np.abs(off).max() < 0.04 * own.sd
    same = learned.draws(50, np.random.default_rng(2)), learned.draws(50, np.random.default_rng(2))
    assert np.array_equal(same[0].log_one_rm, same[1].log_one_rm)


# Reading the rows


def test_rests_run_on_while_another_exercise_is_done():
    """Rest before the second bench set: 60 s, the pull's 10 reps at its seconds per rep, 60 s."""
    from workbench.gym import catalogue

    bench = rows((0, 80.0, 5, "completed", np.nan, np.nan), (0, 80.0, 5, "completed", np.nan, 60.0))
    pull = rows((0, 60.0, 10, "completed", np.nan, 60.0), exercise="barbell bench pull")
    used = read_sets(pd.concat([bench.iloc[:1], pull, bench.iloc[1:]], ignore_index=True))
    press = next(lift for lift in used.lifts if lift.exercise == "bench press")
    seconds = catalogue.exercise("barbell bench pull").seconds_per_rep
    assert press.sessions[0].sets[1].rest_s == pytest.approx(120 + 10 * seconds)


def test_rows_that_cannot_be_used_are_named():
    table = rows(
        (0, np.nan, 5, "completed", np.nan, np.nan),
        (0, 80.0, 0, "completed", np.nan, np.nan),
        (0, 80.0, 5, "completed", np.nan, np.nan),
        (0, 80.0, 5, "completed", np.nan, np.nan),
    )
    table.loc[len(table)] = {**table.iloc[2].to_dict(), "date": pd.NaT}
    used = read_sets(table)
    assert used.set_count == 2
    assert used.set_count + len(used.left_out) == len(table)
    assert set(used.left_out["reason"]) == {
        "no load",
        "no reps done and none failed",
        "no date: the session is not known",
    }
    assert used.rests_assumed == (3,)


def test_an_exercise_that_the_file_does_not_name_starts_from_a_marked_guess():
    learned = fit_log(rows((0, 100.0, 8, "failed", np.nan, 0.0), exercise="back squat"), lifter())
    row = learned.summary().iloc[0]
    assert row["exercise"] == "back squat"
    assert "first guess" in row["note"]
    assert 105 < row["p50"] < 140


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda table: table.drop(columns="reps"), "no column reps"),
        (lambda table: table.assign(lifter=["A"] + ["B"] * (len(table) - 1)), r"1 set of A, \d+ sets of B"),
        (lambda table: table.assign(load_kg=np.nan), "no set that can be used"),
        (lambda table: table.iloc[:0], "no set that can be used"),
    ],
)
def test_a_log_that_cannot_be_fitted_is_explained(change, message):
    from workbench.quantities import InputError

    with pytest.raises(InputError, match=message):
        fit_log(change(EASY), lifter())
