"""Surprises, the next week and the new lifter file, on logs whose truth is known."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

from tests.demo_logs import DATA, NOTE, files, two_weeks_of_the_block, with_slips, workbook
from tests.simulated_logs import TrueLifter, invented_lifter, simulated_log
from workbench.answers.learned import learned_draws, week_chances
from workbench.answers.next_test import suggest_test
from workbench.answers.next_week import next_week
from workbench.answers.surprises import find_surprises
from workbench.fit import fit_log
from workbench.fit.lifter_file import updated_lifter, write_lifter
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.log import read_log
from workbench.prescription.block import Block, read_block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan

pytestmark = pytest.mark.usefixtures("compiled_sets")

LOGS = DATA / "logs"


def steady(day, believed, rng):
    """Three sets of five, then one to failure, now and then with the reserve said."""
    load = round(believed * rng.uniform(0.68, 0.8) / 2.5) * 2.5
    for number in range(4):
        day.do(load, 150, reps=np.inf if number == 3 else 5, say=number == 2)


def typical():
    """Return a lifter whose file is right: 120 kg, twelve reps at three quarters of it."""
    lifts = {"back squat": {"one_rm_kg": 120.0, "uncertainty_percent": 3.0}}
    truth = TrueLifter({"back squat": np.log(120.0)}, {"back squat": np.log(4 / 3) / 11}, 1.0)
    return validate({"name": "Invented", "lifts": lifts}, Lifter), truth


# Surprises


def test_the_three_slips_of_the_demonstration_log_are_found():
    """Pounds among kilograms, 54 kg written for 45, and a bad day; nothing else."""
    found = find_surprises(fit_log(with_slips(), read_lifter(DATA / "lifters" / "dorit_halloran.toml")), level=0.4)
    pounds, digits = found.found.to_dict("records")
    assert (pounds["exercise"], pounds["direction"]) == ("back squat", "more")
    assert pounds["reading"].startswith("unit mix-up (165 lb noted as kilograms)")
    assert (digits["exercise"], digits["load_kg"]) == ("barbell bench pull", 54.0)
    assert digits["reading"].startswith("typing error (45 kg in place of 54 kg)")
    bad = found.days[found.days["reading"] == "a bad day"]
    assert set(bad["date"]) == {datetime.date(2026, 1, 30)}
    assert set(bad["exercise"]) == {"back squat", "barbell bench pull"}


@pytest.mark.parametrize(
    ("slip", "reading"),
    [
        (lambda load, reps: (load + 20, reps), "typing error"),
        (lambda load, reps: (load, reps + 10), "{} reps in place of"),
        (lambda load, reps: (load * 10, reps), "typing error"),
    ],
)
def test_slips_of_the_pen_are_found(slip, reading):
    rng = np.random.default_rng(8)
    lifter, truth = typical()
    log = simulated_log(rng, lifter, truth, sessions=10, how=steady)
    at = log.index[log["outcome"] == "failed"][5]
    meant = int(log.loc[at, "reps"])
    load, reps = slip(float(log.loc[at, "load_kg"]), meant)
    log.loc[at, ["load_kg", "reps"]] = load, reps
    table = find_surprises(fit_log(log, lifter)).sets
    assert table.iloc[0]["row"] == at
    assert table.iloc[0]["surprising"]
    assert reading.format(meant) in table.iloc[0]["reading"]


@pytest.mark.slow
def test_a_clean_log_rarely_surprises():
    """One false alarm in a log is accepted with a chance of 0.2: in 12 logs, more than 7 would be one in 1,000."""
    alarms = 0
    for seed in range(12):
        rng = np.random.default_rng([9, seed])
        lifter, truth = invented_lifter(rng, ["bench press"])
        log = simulated_log(rng, lifter, truth, sessions=8)
        alarms += not find_surprises(fit_log(log, lifter)).found.empty
    assert alarms <= 7


def test_a_bad_day_is_seen_as_one():
    rng = np.random.default_rng(10)
    lifter, truth = typical()
    bad = []

    def with_a_bad_day(day, believed, rng):
        if len(bad) < 6:
            bad.append(day.date)
            if len(bad) == 6:
                day.strength -= 0.12
        steady(day, believed, rng)

    log = simulated_log(rng, lifter, truth, sessions=11, how=with_a_bad_day)
    days = find_surprises(fit_log(log, lifter)).days
    worst = days.loc[days["z"].idxmin()]
    assert worst["date"] == bad[-1]
    assert worst["reading"] == "a bad day"
    assert worst["effect_percent"] < -4


# The next week


@pytest.fixture(scope="module")
def learned():
    return fit_log(two_weeks_of_the_block(), read_lifter(DATA / "lifters" / "emre_sandoval.toml"))


@pytest.fixture(scope="module")
def answer(learned):
    block, room = read_block(DATA / "block.toml"), read_room(DATA / "rooms" / "boathouse_hall.toml")
    return next_week(learned, block, room, week=3, draws=500, seed=1)


def test_only_the_remaining_weeks_are_shown(answer):
    assert answer.weeks["week"].tolist() == [3, 4, 5]
    assert set(answer.sets["week"]) == {3, 4, 5}


@pytest.fixture(scope="module")
def stronger():
    """One whose file says 100 kg, and who made 120 kg and missed 122.5 kg three times."""
    lifts = {"back squat": {"one_rm_kg": 100.0, "uncertainty_percent": 15.0}, "leg press": {"one_rm_kg": 200.0}}
    singles = [(week, *one) for week in range(3) for one in ((120.0, 1, "completed"), (122.5, 0, "failed"))]
    names = ("date", "load_kg", "reps", "outcome")
    log = pd.DataFrame([dict(zip(names, one, strict=True)) for one in singles])
    log["date"] = pd.Timestamp("2026-01-05") + pd.to_timedelta(7 * log["date"], unit="D")
    log = log.assign(exercise="back squat", reps_in_reserve=np.nan, rest_s=600.0)
    return fit_log(log, validate({"name": "Invented", "sex": "male", "lifts": lifts}, Lifter))


def squats(*loads, reps=5):
    """Return a block of one squat session a week, three sets at these percents."""
    sets = {"count": 3, "reps": reps, "percent": loads[0], "rest_s": 120}
    sets["progression"] = {"rule": "by week", "load": list(loads)}
    sessions = [{"name": "legs", "exercises": [{"exercise": "back squat", "sets": [sets]}]}]
    return validate({"name": "Squats", "weeks": len(loads), "sessions": sessions}, Block)


ROOM = DATA / "rooms" / "boathouse_hall.toml"


def test_loads_follow_the_learned_maximum(stronger):
    """Two thirds, 70 and 75 percent: of 100 kg in the file, and of about 121 kg in the log."""
    found = next_week(stronger, squats(66, 70, 75), read_room(ROOM), week=2, draws=200, seed=1).sets
    rounding = 2.5  # the room's loads lie less than this apart
    for week, percent in ((2, 70), (3, 75)):
        rows = found[found["week"] == week]
        assert rows["load_kg"].to_numpy() == pytest.approx(percent, abs=rounding)
        # Between what was made and what was missed: 120 and 122.5 kg.
        assert rows["load_updated_kg"].to_numpy() == pytest.approx(1.2125 * percent, abs=rounding)
    # The same 70 kg are 58 % of what was learned: with them five reps are sure.
    assert found["chance_now"].min() > 0.99
    assert found["chance_updated"].min() < found["chance_now"].min()


def test_weeks_that_are_past_are_not_judged(stronger):
    """Week 1 asks for six reps at 97 %, which nobody makes; weeks 2 and 3 are easy."""
    block, room = squats(97, 50, 50, reps=6), read_room(ROOM)
    first = next_week(stronger, block, room, week=1, draws=200, seed=1)
    later = next_week(stronger, block, room, week=2, draws=200, seed=1)
    assert first.breaks is not None
    assert first.breaks.week == 1
    assert later.breaks is None
    assert later.proposals == ()
    assert later.weeks["week"].tolist() == [2, 3]
    assert later.weeks["chance_updated"].min() > 0.9


def test_what_mends_the_weeks_to_come_need_not_mend_those_past(stronger):
    """Nothing small mends six reps at 99 % in week 1; in week 2 there is a load that a small change mends."""
    room = read_room(ROOM)
    for percent in range(84, 60, -2):
        block = squats(99, percent, 50, reps=6)
        answer = next_week(stronger, block, room, week=2, draws=300, seed=1)
        if answer.proposals:
            break
    assert next_week(stronger, block, room, week=1, draws=300, seed=1).proposals == ()
    assert answer.breaks is not None
    assert answer.breaks.week == 2
    assert any("load" in proposal.kind for proposal in answer.proposals)
    assert min(proposal.chance for proposal in answer.proposals) >= answer.limit


def test_exercises_that_are_not_in_the_log_keep_the_spread_of_the_file(stronger):
    """Leg press: 4 % of 1RM where the file says nothing else, and of endurance what the table of parameters says."""
    content = squats(70).model_dump(mode="python", exclude_none=True)
    content["sessions"][0]["exercises"].append(
        {"exercise": "leg press", "sets": [{"count": 1, "reps": 8, "percent": 60, "rest_s": 120}]}
    )
    plan = make_plan(validate(content, Block), updated_lifter(stronger), read_room(ROOM))
    drawn = learned_draws(stronger, plan, draws=8000, seed=2)
    lane = plan.exercises.index("leg press")
    few = 0.035  # 8,000 draws know an sd to 0.8 %: four times that
    assert drawn.log_one_rm[:, lane].std() == pytest.approx(0.04, rel=few)
    assert drawn.log_one_rm[:, lane].mean() == pytest.approx(np.log(200.0), abs=0.002)
    # 0.339 between lifters, 0.194 between groups, 0.149 of the median.
    assert np.log(drawn.endurance[:, lane]).std() == pytest.approx((0.339**2 + 0.194**2 + 0.149**2) ** 0.5, rel=few)
    assert np.median(drawn.endurance[:, lane]) == pytest.approx(0.01904, rel=few)
    # Half of the variance is shared with the other exercises.
    other = plan.exercises.index("back squat")
    assert np.corrcoef(np.log(drawn.endurance[:, [lane, other]]).T)[0, 1] == pytest.approx(0.5, abs=0.08)


def test_proposals_mend_and_are_not_applied(answer):
    block = read_block(DATA / "block.toml")
    assert answer.breaks is not None
    assert answer.proposals
    assert answer.breaks.below(answer.limit) in answer.reason
    for proposal in answer.proposals:
        assert proposal.chance >= answer.limit
        assert proposal.block != block
    assert read_block(DATA / "block.toml") == block


def test_a_week_that_is_not_there_is_refused(learned):
    block, room = read_block(DATA / "block.toml"), read_room(DATA / "rooms" / "boathouse_hall.toml")
    with pytest.raises(InputError, match="use 1 to 5"):
        next_week(learned, block, room, week=6)


def test_draws_for_a_plan_are_the_posterior(learned):
    lifter = updated_lifter(learned)
    plan = make_plan(read_block(DATA / "block.toml"), lifter, read_room(DATA / "rooms" / "boathouse_hall.toml"))
    draws = learned_draws(learned, plan, draws=4000, seed=3)
    lane = plan.exercises.index("back squat")
    own = learned.one_rm("back squat")
    # 4,000 draws know the median to about 0.02 sd.
    assert np.median(draws.log_one_rm[:, lane]) == pytest.approx(float(own.log_quantile(0.5)), abs=0.08 * own.sd)
    assert draws.recovery_rate.shape == (4000,)
    again = learned_draws(learned, plan, draws=4000, seed=3)
    assert np.array_equal(draws.endurance, again.endurance)


def test_chances_of_single_lifters_average_to_the_chance_of_the_week(learned, answer):
    drawn = learned.draws(300, np.random.default_rng(5))
    chances = week_chances(learned, answer.plan, drawn, week=5, days=10, seed=5)
    assert chances.shape == (300,)
    expected = answer.weeks.set_index("week").loc[5, "chance_updated"]
    # 300 lifters and 500 draws each know a chance to 0.03.
    assert chances.mean() == pytest.approx(expected, abs=0.1)


def test_the_suggested_test_can_be_for_the_chance_of_a_week(learned, answer):
    found = suggest_test(learned, plan=answer.plan, week=4, draws=60, seed=1)
    assert found.answer == "chance of all reps of week 4"
    assert found.best.exercise in answer.plan.exercises
    assert found.table["sd_after"].iloc[0] <= found.table["sd_now"].iloc[0]


# The lifter file


def test_the_new_file_reads_back_and_never_overwrites(learned, tmp_path):
    path = write_lifter(learned, tmp_path / "emre.toml")
    lifter = read_lifter(path)
    assert lifter.model_dump() == updated_lifter(learned).model_dump()
    for exercise in learned.exercises:
        # Written to a tenth of a kilogram, of two dumbbells that of each hand.
        tenth = 0.101 if lifter.lift(exercise).each_hand else 0.051
        assert lifter.lift(exercise).one_rm == pytest.approx(float(learned.one_rm(exercise).quantile(0.5)), abs=tenth)
        assert lifter.lift(exercise).tested == learned.today
    # Lifts that are not in the log stay as they were.
    before = learned.lifter
    for name, lift in before.lifts.items():
        if name not in learned.exercises:
            assert lifter.lifts[name] == lift
    with pytest.raises(InputError, match="nothing was overwritten"):
        write_lifter(learned, path)


def test_a_file_in_pounds_stays_in_pounds(tmp_path):
    """About 117 kg are learned and written in pounds, of 0.45359237 kg."""
    lifts = {"back squat": {"one_rm_lb": 220.0, "uncertainty_percent": 12.0}}
    who = validate({"name": "Invented", "lifts": lifts}, Lifter)
    log = pd.DataFrame({"date": [pd.Timestamp("2026-01-05")] * 2, "exercise": "back squat", "load_kg": [116.0, 118.0]})
    log = log.assign(reps=[1, 0], outcome=["completed", "failed"], reps_in_reserve=np.nan, rest_s=600.0)
    learned = fit_log(log, who)
    written = write_lifter(learned, tmp_path / "pounds.toml")
    text = written.read_text(encoding="utf-8")
    assert "one_rm_lb" in text
    assert "one_rm_kg" not in text
    lift = read_lifter(written).lift("back squat")
    kg = float(learned.one_rm("back squat").quantile(0.5))
    assert 112.0 < kg < 120.0
    tenth = 0.05  # the file has one digit
    assert lift.one_rm_lb == pytest.approx(kg / 0.45359237, abs=tenth + 1e-9)
    assert lift.one_rm == pytest.approx(kg, abs=tenth)
    # An interval of four in five, as wide as the log left it. The file's is that of 20,000 draws, of two places where
    # another curve may hold; `one_rm` stands for both by one normal distribution of the same sd.
    low, high = learned.one_rm("back squat").quantile([0.1, 0.9])
    assert np.log(lift.one_rm_interval[1] / lift.one_rm_interval[0]) == pytest.approx(np.log(high / low), rel=0.12)
    assert lift.one_rm_interval[0] < lift.one_rm_lb < lift.one_rm_interval[1]
    assert lift.tested == datetime.date(2026, 1, 5)


# The demonstration logs


def test_the_demonstration_logs_are_those_of_the_generator():
    for name, text in files().items():
        assert (LOGS / name).read_text(encoding="utf-8") == text, f"{name}: run python -m tests.demo_logs"
    from openpyxl import load_workbook

    kept = load_workbook(LOGS / "dorit_halloran_by_hand.xlsx").active
    made = workbook().active
    assert [[cell.value for cell in row] for row in kept] == [[cell.value for cell in row] for row in made]


@pytest.mark.parametrize("path", sorted(LOGS.glob("*.*")), ids=lambda path: path.name)
def test_the_demonstration_logs_are_read_whole(path):
    reading = read_log(path)
    assert reading.questions == ()
    assert reading.quarantine.empty
    assert set(reading.rows["notes"]) == {NOTE}
    assert reading.rows["date"].dt.date.min() >= datetime.date(2026, 1, 5)
