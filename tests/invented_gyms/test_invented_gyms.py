"""Invented gyms: what is written reads back as what was lived, and ``data/demo_gym`` is what the generator writes."""

import io
import math
import zipfile

import numpy as np
import pytest

from tests.calibration.people import EXERCISES, median_endurance
from tests.invented_gyms import Common, invent_gym
from tests.invented_gyms.__main__ import COMMON, DEMO, demo_gym
from tests.invented_gyms.months import BLOCK, PHASES, load_of, phase_in
from tests.invented_gyms.people import LB, drawn_lifters
from tests.invented_gyms.written import gym_files
from workbench.fit import fit_log
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.log import ReadOptions, read_log
from workbench.models.fatigue import FORMS
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import CURVES
from workbench.prescription.block import read_block
from workbench.simulate.plan import make_plan

#: Rows in which some hands slip.
SLIPS = (57, 211)
#: A log of the demo gym as each hand keeps it; what the log leaves open.
ASKED = {"arne_holtby.csv": {"unit": "kg"}}
HANDS = (
    "alva_brandt.csv",
    "dagny_pell.csv",
    "bea_castellan.csv",
    "boris_lunde.csv",
    "kaia_redfern.xlsx",
    "arne_holtby.csv",
)


@pytest.fixture(scope="module")
def gym():
    """The demo gym, lived through again."""
    return demo_gym()


def unpacked(name, content):
    """Content without what a version of zlib does to it."""
    if not name.endswith(".xlsx"):
        return content
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        return {item: book.read(item) for item in book.namelist()}


def test_the_demo_gym_is_what_the_generator_writes(gym):
    files, answers = gym_files(gym.trainees, gym.sets)
    there = {path.relative_to(DEMO).as_posix(): path.read_bytes() for path in DEMO.rglob("*") if path.is_file()}
    assert set(files) == set(there)
    for name, content in files.items():
        assert unpacked(name, content) == unpacked(name, there[name]), f"{name}: python -m tests.invented_gyms"
    assert answers == ASKED
    assert sum(map(len, there.values())) < 1_500_000
    assert {lifter.sex for lifter in gym.lifters.values()} == {"female", "male"}
    assert len(gym.lifters) == 24


@pytest.mark.slow
def test_the_logs_of_the_demo_gym_say_what_was_lived(gym):
    for trainee in gym.trainees:
        stem = trainee.name.lower().replace(" ", "_")
        (path,) = (DEMO / "logs").glob(f"{stem}.*")
        assert_read_back(path, gym.log_of(trainee.name))


def assert_read_back(path, lived):
    """A log reads back as what was lived, but for the few rows with a slip."""
    reading = read_log(path, options=ReadOptions(**ASKED.get(path.name, {})))
    assert reading.questions == ()
    slips = [at for at in SLIPS if reading.totals["rows in quarantine"] and at < len(lived)]
    assert len(slips) == reading.totals["rows in quarantine"]
    read, lived = reading.rows, lived.drop(index=slips)
    assert len(read) == len(lived)
    for column in ("date", "exercise", "reps", "outcome"):
        assert read[column].tolist() == lived[column].tolist(), column
    # Pounds are written whole; a ten-digit decimal for kg.
    np.testing.assert_allclose(read["load_kg"], lived["load_kg"], rtol=1e-9)
    # What is written of reserves and rests is what was stated and meant; some write none.
    for column in ("reps_in_reserve", "rest_s"):
        said = read[column].notna().to_numpy()
        np.testing.assert_array_equal(read[column].to_numpy()[said], lived[column].to_numpy()[said])
    assert read["reps_in_reserve"].notna().sum() == lived["reps_in_reserve"].notna().sum()


@pytest.mark.parametrize("name", HANDS)
def test_each_hand_is_read_with_no_question_but_the_one_that_is_meant(gym, name):
    reading = read_log(DEMO / "logs" / name)
    assert [question.about for question in reading.questions] == list(ASKED.get(name, {}))
    name = name.partition(".")[0].replace("_", " ").title()
    assert_read_back(reading.path, gym.log_of(name))


def test_a_log_of_the_demo_gym_teaches_its_lifter():
    lifter = read_lifter(DEMO / "lifters" / "greta_solano.toml")
    log = read_log(DEMO / "logs" / "greta_solano.csv")
    learned = fit_log(log.rows.head(60), lifter)
    assert set(learned.exercises) <= set(log.rows["exercise"])


def test_blocks_of_the_demo_gym_can_be_loaded_as_they_stand():
    room = read_room(DEMO / "rooms" / "tollgate_hall.toml")
    blocks = sorted((DEMO / "blocks").glob("*.toml"))
    assert len(blocks) >= 2
    for path in blocks:
        lifter = read_lifter(DEMO / "lifters" / f"{path.stem.partition('_weeks')[0]}.toml")
        block = read_block(path)
        planned = [at.load_kg for session in make_plan(block, lifter, room).sessions for at in session.sets]
        asked = [kg_of(group) for session in block.sessions for slot in session.exercises for group in slot.sets]
        np.testing.assert_allclose(planned, np.concatenate(asked), rtol=1e-6)


def kg_of(group):
    """Loads of the sets of a group, shape (sets, weeks)."""
    return [group.weekly(BLOCK.weeks)[0] * (LB if group.way == "lb" else 1.0)] * group.count


def test_blocks_of_the_demo_gym_are_what_was_done(gym):
    before, compared = sum(phase.weeks for phase in PHASES) - BLOCK.weeks, 0
    for path in (DEMO / "blocks").glob("*.toml"):
        done = gym.log_of(path.stem.partition("_weeks")[0].replace("_", " ").title())
        for session in read_block(path).sessions:
            # Some train a day late; sessions lie two days apart.
            on_day = done[done["date"].dt.day_of_week.isin([session.day - 1, session.day])]
            for slot in session.exercises:
                for week in range(BLOCK.weeks):
                    sets = on_day[(on_day["week"] == before + week) & (on_day["exercise"] == slot.exercise)]
                    loads = np.concatenate([kg_of(group) for group in slot.sets])[:, week]
                    if len(sets):
                        compared += 1
                        assert sets["load_kg"].tolist() == pytest.approx(list(loads)), (path.name, week, slot.exercise)
    assert compared > 40


def test_lifter_files_hold_nothing_of_the_truth():
    for path in (DEMO / "lifters").glob("*.toml"):
        lifter = read_lifter(path)
        assert lifter.recovery_rate is None
        assert lifter.carry_over is None
        for lift in lifter.lifts.values():
            assert (lift.endurance, lift.reps_at, lift.uncertainty_percent) == (None, None, None)


@pytest.mark.parametrize("form", [*FORMS, *RIVALS])
@pytest.mark.parametrize("curve", ["exponential", "square root", *list(CURVES)[1:3]])
def test_every_form_and_curve_can_be_the_truth(form, curve):
    gym = invent_gym(3, form=form, curve=curve, lifters=1, weeks=1)
    assert len(gym.sets) > 5
    assert gym.sets["reps"].between(0, 100).all()


def test_the_same_seed_gives_the_same_gym_and_another_another():
    first, second, other = (invent_gym(seed, lifters=2, weeks=2) for seed in (5, 5, 6))
    assert first.sets.equals(second.sets)
    assert first.truth.equals(second.truth)
    assert not first.sets["load_kg"].head(12).equals(other.sets["load_kg"].head(12))


def test_lifters_have_the_means_and_spreads_of_their_gym():
    common = Common(
        endurance_shift=-0.3, endurance_spread=0.2, recovery_shift=0.4, recovery_spread=0.3, reserve_shift=1.0
    )
    many = drawn_lifters(
        np.random.default_rng(2), common, form="two states", curve="power", lifters=500, weeks=26, untidy=True
    )
    endurance = np.array(
        [np.log(value / median_endurance(name)) for one in many for name, value in one.person.endurance.items()]
    )
    recovery = np.array([np.log(one.person.recovery_rate) for one in many])
    shift = np.array([one.row.reserve_shift for one in many])
    # Four standard errors of 500 lifters: sd / sqrt(500) of a mean, sd / sqrt(1000) of an sd.
    for found, mean, sd in ((endurance, -0.3, 0.2), (recovery, 0.4, 0.3), (shift, 1.0, 0.7)):
        assert found.mean() == pytest.approx(mean, abs=4 * sd / math.sqrt(500))
        assert found.std() == pytest.approx(sd, abs=4 * sd / math.sqrt(1000))
    # A twelfth each, of 500: between a half and twice 41.7.
    assert 20 < sum(one.hurt is not None for one in many) < 84
    assert 20 < sum(one.weeks.start > 0 for one in many) < 84
    assert 60 < sum(one.rest_factor < 1 for one in many) < 190


def test_a_tidy_gym_has_no_misfortunes():
    tidy = drawn_lifters(
        np.random.default_rng(2), COMMON, form="two states", curve="power", lifters=30, weeks=26, untidy=False
    )
    assert {(one.weeks, one.hurt, one.rest_factor, one.row.reserve_shift, len(one.away)) for one in tidy} == {
        (range(26), None, 1.0, 0.0, 0)
    }


def test_what_happens_to_lifters_shows_in_their_logs(gym):
    hurt, absent = 0, 0
    for trainee in gym.trainees:
        done = gym.log_of(trainee.name)
        assert set(done["week"]) <= set(trainee.weeks) - trainee.away
        assert len(set(trainee.weeks) - trainee.away - set(done["week"])) <= 2  # a week may be missed by chance
        absent += len(trainee.away)
        if trainee.hurt is not None:
            hurt += 1
            name, week = trainee.hurt
            assert not done[done["exercise"] == name]["week"].isin([week, week + 1, week + 2]).any()
            true = gym.truth[(gym.truth["lifter"] == trainee.name) & (gym.truth["exercise"] == name)]
            true = np.log(true.set_index("week")["one_rm_kg"])
            # 12 % weaker, and 2 % of it back in each of six weeks after three; the drift of a week is 1 %.
            assert true[week] - true[week - 1] == pytest.approx(-0.12, abs=0.04)
            assert true[week + 9] - true[week + 2] == pytest.approx(0.12, abs=0.08)
    assert hurt == 2
    assert absent > 24


def test_rests_are_as_short_as_a_lifter_is_hurried(gym):
    for trainee in gym.trainees:
        done = gym.log_of(trainee.name)
        between = done[done["set_number"] > 1]
        ratio = np.log(between["true_rest_s"] / between["rest_s"])
        # A scatter of 0.15 over at least 140 rests: four standard errors are 0.05.
        assert ratio.mean() == pytest.approx(math.log(trainee.rest_factor), abs=0.05)


def test_sets_end_as_they_were_asked_for(gym):
    sets = gym.sets
    made = sets[np.isfinite(sets["asked"]) & (sets["outcome"] != "failed")]
    assert (made["reps"] == made["asked"]).all()
    missed = sets[np.isfinite(sets["asked"]) & (sets["outcome"] == "failed")]
    assert (missed["reps"] < missed["asked"]).all()
    assert (sets[np.isinf(sets["asked"])]["outcome"] == "failed").all()
    to_two = sets[sets["asked"].isna() & (sets["outcome"] != "failed")]
    assert (to_two["reps_in_reserve"] <= 2).all()
    assert sets["reps_in_reserve"].max() == 5  # more are not counted by anybody
    # A plan that is mostly made, and not always.
    assert 0.8 < len(made) / (len(made) + len(missed)) < 0.95


def test_phases_follow_each_other_and_begin_anew():
    assert sum(phase.weeks for phase in PHASES) == 26
    assert [phase_in(week)[0].name for week in (0, 5, 6, 13, 21, 22, 25, 26)] == [
        "volume", "volume", "light", "light", "tests", "block", "block", "volume",
    ]  # fmt: skip
    assert phase_in(24)[1] == 2


def test_loads_are_what_can_be_put_on():
    assert load_of("back squat", 61.2) == 60.0
    assert load_of("back squat", 5.0) == 20.0
    assert load_of("overhead press", 11.0) == 10.0
    assert load_of("lat pulldown", 41.3) == 42.5
    assert load_of("lat pulldown", 1.0) == 5.0
    # 75 lb and steps of 10: 100 kg is 220.46 lb, and the nearest is 215 or 225, that is 225 less 4.54 or 215 plus 5.46.
    assert load_of("leg press", 100.0) == pytest.approx(225 * 0.45359237)
    assert set(EXERCISES) >= {"leg press", "overhead press"}
