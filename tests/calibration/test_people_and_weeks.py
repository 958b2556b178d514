"""The simulator itself: steps as in the models, people as in the files, logs as they are kept."""

import ast
import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from tests.calibration.body import Body, fresh_reps
from tests.calibration.forecasts import ROOM
from tests.calibration.people import EXERCISES, constants, drawn_person, lifter_file
from tests.calibration.rows import ROWS, Row
from tests.calibration.weeks import Life, habits, kept_log, said_reserve
from workbench.models.fatigue import FORMS
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import CURVES
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

ALL_FORMS = {**FORMS, **RIVALS}
#: Both sides are some tens of products and exponentials in doubles: 1e-9 leaves six digits for their rounding.
SAME = 1e-9


def a_person(row=None, number=0, exercises=("bench press", "overhead press")):
    """A person with two exercises that share muscles."""
    for seed in range(200):
        person = drawn_person(np.random.default_rng([number, seed]), row or ROWS["constants drawn"])
        if set(exercises) <= set(person.stated):
            return person
    raise AssertionError("nobody trains these")


def alternating(person):
    """Two exercises, one after the other, the first once more after the second, stopping short or failing."""
    one, two = list(person.stated)[:2]
    slots = []
    for name, percent in ((one, 75), (two, 70), (one, 62)):
        groups = [{"count": 2, "reps": 4, "percent": percent, "rest_s": 45}]
        groups.append({"count": 3, "reps": "failure", "percent": percent + 3, "rest_s": 100})
        slots.append({"exercise": name, "sets": groups})
    return validate({"name": "B", "weeks": 1, "sessions": [{"name": "S", "exercises": slots}]}, Block)


@pytest.mark.parametrize("name", ALL_FORMS)
def test_sets_step_as_in_the_simulation_of_blocks(name):
    row = dataclasses.replace(ROWS["constants drawn"], form=name)
    person = a_person(row)
    plan = make_plan(alternating(person), lifter_file(person), ROOM, form=person.form)
    drawn = dataclasses.replace(
        draw_for(plan, draws=1, seed=1),
        log_one_rm=np.array([[person.log_one_rm[name] for name in plan.exercises]]),
        endurance=np.array([[person.endurance[name] for name in plan.exercises]]),
        recovery_rate=np.array([person.recovery_rate]),
        carry=np.array([[person.carry_over]]),
        fatigue=type(person.constants)(**{key: np.array([[v]]) for key, v in vars(person.constants).items()}),
    )
    drawn = dataclasses.replace(
        drawn, day=np.zeros_like(drawn.day), set_noise=np.ones_like(drawn.set_noise), form=person.form
    )
    outcome = simulate(plan, drawn)
    body, before = Body(person), None
    for planned, simulated in zip(plan.sessions[0].sets, outcome.sessions[0], strict=True):
        start, end = float(planned.start_s[0]), float(planned.end_s[0])
        body.rest(planned.exercise, 0.0 if before is None else start - before)
        headroom = person.log_one_rm[planned.exercise] - math.log(float(planned.load_kg[0]))
        fresh = fresh_reps("exponential", headroom, person.endurance[planned.exercise])
        assert body.available(headroom, fresh) == pytest.approx(float(simulated.available[0, 0]), abs=SAME)
        body.do(headroom, fresh, float(planned.reps_high[0]), end - start)
        before = end
    assert len(plan.sessions[0].sets) == 15


def test_curves_agree_at_three_quarters_and_at_the_maximum():
    # At 75 % the exponential has 1 + 0.28768 / 0.02 reps. The root: at half the headroom a quarter of the reps beyond
    # the first. Of the power law x = r ** -b, 0.75 is reached at r = 0.75 ** -8.
    headroom = math.log(1 / 0.75)
    for curve in ("exponential", "square root", *CURVES):
        assert fresh_reps(curve, headroom, 0.02) == pytest.approx(15.384, abs=1e-3), curve
        assert fresh_reps(curve, 0.0, 0.02) == pytest.approx(1.0), curve
    assert fresh_reps("square root", headroom / 2, 0.02) == pytest.approx(1 + 14.384 / 4, abs=1e-3)
    assert fresh_reps("square root", -1.0, 0.02) == 0.0


@pytest.mark.parametrize(
    ("left", "to_failure", "z", "said"),
    [
        # 12 reps: 0.32 more left than said; 4 - 0.32 rounds to 4. At 20: 0.32 + 8 * 0.47 = 4.08; 8 - 4.08 is near 4.
        (4, 12, 0, 4),
        (8, 20, 0, 4),
        # 8 reps, two left: 0.32 - 0.24 = 0.08, sd 0.74 + 0.38 = 1.12: two sds up 4.16, two down is below none.
        (2, 8, 2, 4),
        (2, 8, -2, 0),
    ],
)
def test_reserves_are_stated_as_published(left, to_failure, z, said):
    assert said_reserve(left, to_failure, z, ROWS["constants drawn"]) == said


def test_biased_reserves_are_off_by_one_and_noisier():
    many, few = ROWS["reserves 1 too many"], ROWS["reserves 1 too few"]
    assert said_reserve(4, 8, 0, many) - said_reserve(4, 8, 0, ROWS["constants drawn"]) == 1
    assert said_reserve(4, 8, 0, few) - said_reserve(4, 8, 0, ROWS["constants drawn"]) == -1
    # One sd up: 4 - 0.08 + 0.74 + 0.76 = 5.42; with a fifth of a rep for each rep left, and one too many, 7.22.
    assert said_reserve(4, 8, 1, ROWS["constants drawn"]) == 5
    assert said_reserve(4, 8, 1, many) == 7


def logs(name, count=40):
    row = ROWS[name]
    found = []
    for number in range(count):
        drawn, lived, kept = np.random.default_rng([3, number]).spawn(3)
        person = drawn_person(drawn, row)
        life = Life(person, row, lived)
        found.append((person, life, kept_log(life, habits(person, kept), row)))
    return found


def test_logs_are_as_people_keep_them():
    every = logs("constants drawn")
    for person, _, log in every:
        days = log["date"].nunique()
        assert 12 <= days <= 18  # two or three days in each of six weeks
        assert set(log["exercise"]) == set(person.stated)
        first = log["set_number"] == 1
        assert log.loc[first, "rest_s"].isna().all()
        assert log.loc[~first, "rest_s"].isin([90, 120, 150, 180, 240]).all()
    whole = [log for _, _, log in every]
    outcomes = {outcome for log in whole for outcome in log["outcome"]}
    assert outcomes == {"completed", "stopped", "failed"}


def test_rests_are_missing_where_a_row_says_so():
    share = []
    for _, _, log in logs("60 % without rests"):
        later = log[log["set_number"] > 1]
        share += [day["rest_s"].isna().all() for _, day in later.groupby(["date", "exercise"])]
        assert all(
            day["rest_s"].isna().all() or day["rest_s"].notna().all() for _, day in later.groupby(["date", "exercise"])
        )
    # About 1,500 exercises on a day each: an sd of 0.013.
    assert np.mean(share) == pytest.approx(0.6, abs=0.05)


def test_strength_rises_and_falls_as_a_row_says():
    def changes(row):
        quiet = dataclasses.replace(row)
        gained, days = [], {}
        for number in range(60):
            person = a_person(number=number)
            life = Life(person, quiet, np.random.default_rng(number))
            for day in range(42):
                life.wake_up(1)
                days.setdefault(day + 1, []).append(life.today)
            gained += [life.log_one_rm[name] - person.log_one_rm[name] for name in person.stated]
        return np.mean(gained), {day: np.mean(values) for day, values in days.items()}

    # Drift of 1 % a week: over six weeks 2.4 %, over some 150 lifts a standard error of 0.2 %.
    assert changes(ROWS["constants drawn"])[0] == pytest.approx(0.0, abs=0.01)
    assert changes(ROWS["+1 % a week"])[0] == pytest.approx(0.06, abs=0.01)
    _, days = changes(ROWS["bad fortnight"])
    # Days of 2 %, over 60 people: 0.3 % each.
    assert np.mean([days[day] for day in range(14, 28)]) == pytest.approx(-0.05, abs=0.005)
    assert np.mean([days[day] for day in [*range(1, 14), *range(28, 43)]]) == pytest.approx(0.0, abs=0.005)


def test_lifter_files_err_by_what_they_state_or_by_ten_percent():
    errors = []
    for number in range(200):
        person = drawn_person(np.random.default_rng(number), ROWS["constants drawn"])
        for name, (kg, percent) in person.stated.items():
            errors.append((person.log_one_rm[name] - math.log(kg)) / (percent / 100))
    # Some 500 standard normal numbers: mean within 0.15, sd within 0.1.
    assert np.mean(errors) == pytest.approx(0.0, abs=0.15)
    assert np.std(errors) == pytest.approx(1.0, abs=0.1)
    person = drawn_person(np.random.default_rng(1), ROWS["file 10 % high"])
    for name, (kg, percent) in person.stated.items():
        assert percent == 4.0
        assert kg == pytest.approx(1.10 * math.exp(person.log_one_rm[name]), rel=1e-3)


def test_constants_are_the_middle_ones_or_a_row_of_the_file():
    form = FORMS["effort"]
    assert constants(form) == constants(form)
    drawn = {constants(form, np.random.default_rng(seed)).depletion_tau_s for seed in range(20)}
    assert len(drawn) > 5
    assert min(drawn) < constants(form).depletion_tau_s < max(drawn)


def test_classes_are_those_of_the_catalogue():
    from workbench.gym import catalogue

    assert {name: catalogue.exercise(name).endurance_class for name in EXERCISES} == EXERCISES


def test_people_and_logs_are_made_without_the_fit():
    """No prior, likelihood or draw of the product stands behind the truth."""
    for name in ("people", "body", "weeks", "scores", "rows"):
        tree = ast.parse((Path(__file__).parent / f"{name}.py").read_text(encoding="utf-8"))
        imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        imported |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        assert not [
            module
            for module in imported
            if module.startswith(("workbench.fit", "workbench.simulate", "workbench.reference.parameters"))
        ], name


def test_every_form_has_a_row():
    assert {row.form for row in ROWS.values()} == set(ALL_FORMS)
    assert isinstance(ROWS["as assumed"], Row)
