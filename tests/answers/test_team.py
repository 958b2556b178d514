"""A block over a roster: right rows, digits that depend on the lifter alone, and workers that may die."""

import inspect
import os
import signal
import tracemalloc

import numpy as np
import pandas as pd
import pytest

from tests.hand_made import lifter_of
from tests.own_gyms import make_gym
from workbench.answers.block_check import check_block
from workbench.answers.mend import mends
from workbench.answers.team import COLUMNS, Team, read_roster, team_check
from workbench.answers.workers import local_cluster
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.panels import TeamPanel
from workbench.prescription.block import Block, ExerciseSlot, Session, SetGroup, read_block
from workbench.prescription.edit import Where, change
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.present.words import in_words
from workbench.publish.commit import commit_block
from workbench.publish.sheets import write_sheets
from workbench.quantities import SEED, InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DEMO = data_path("demo")
DRAWS = 40


@pytest.fixture(scope="module")
def room():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def block():
    return exercise_block("barbell bench pull", constant_step(percent=72, sets=3, rest_s=90), weeks=3, days=(1,))


def invented_roster(size):
    """Invented lifters: one of the demonstration's, weaker and stronger by turns."""
    base = read_lifter(DEMO / "lifters" / "emre_sandoval.toml")
    roster = []
    for number in range(size):
        factor = 0.6 + 0.7 * ((number * 37) % 100) / 100
        lifts = {
            name: lift.model_copy(update={"one_rm_kg": round(lift.one_rm * factor, 1), "each_hand": None})
            for name, lift in base.lifts.items()
        }
        roster.append(base.model_copy(update={"name": f"Invented {number}", "lifts": lifts}))
    return roster


def test_a_row_says_what_the_check_of_that_lifter_says(room, block):
    team = team_check(block, invented_roster(6), room, draws=DRAWS, seed=4)
    assert tuple(team.table.columns) == COLUMNS
    for one, row in zip(invented_roster(6), team.table.to_dict("records"), strict=True):
        check = check_block(block, one, room, draws=DRAWS, seed=4)
        assert row["lifter"] == one.name
        assert row["chance_of_block"] == check.chance_of_block
        assert row["lowest_chance"] == check.sets["chance"].min()
        assert row["first_break"] == ("" if check.first_break is None else check.first_break.below(team.limit))
    assert team.finished


def test_unless_told_otherwise_a_team_its_sheets_and_the_check_of_a_lifter_are_drawn_alike():
    asked = [
        inspect.signature(ask).parameters for ask in (team_check, write_sheets, commit_block, TeamPanel, check_block)
    ]
    assert {(of["draws"].default, of["seed"].default) for of in asked} == {(2000, SEED)}


def test_the_mend_named_is_enough(room, block):
    """The rest that is named, given by hand, lifts the group of the first set that breaks up to the limit."""
    for limit in np.arange(0.85, 0.2, -0.05):  # until a longer rest alone is enough for somebody
        team = team_check(block, invented_roster(8), room, draws=200, seed=4, limit=limit)
        short = team.falling_short()
        mended = short[short["mend"].str.match(r"\d+ s more rest after each set \(\d+ s\) \(")]
        if len(mended):
            break
    assert len(mended) >= 1, "nobody is mended by rest alone: the case tests nothing"
    for row in mended.to_dict("records"):
        one = next(one for one in invented_roster(8) if one.name == row["lifter"])
        more = int(row["mend"].split()[0])
        changed = change(block, Where(1, 1, 1), rest_by=more)
        check = check_block(changed, one, room, draws=200, seed=4, limit=limit)
        assert check.first_break is None
        assert f"least likely set then {in_words(check.sets['chance'].min())};" in row["mend"]


def test_order_and_company_and_cutting_change_no_digit(room, block):
    roster = invented_roster(9)
    whole = team_check(block, roster, room, draws=DRAWS, seed=4, mend=False, block_size=25).table
    turned = team_check(block, roster[::-1], room, draws=DRAWS, seed=4, mend=False, block_size=2).table
    few = team_check(block, roster[3:5], room, draws=DRAWS, seed=4, mend=False).table
    pd.testing.assert_frame_equal(turned[::-1].reset_index(drop=True), whole, check_exact=True)
    pd.testing.assert_frame_equal(few, whole[3:5].reset_index(drop=True), check_exact=True)
    other = team_check(block, roster, room, draws=DRAWS, seed=5, mend=False).table
    assert not other["lowest_chance"].equals(whole["lowest_chance"])


def test_a_lifter_without_the_lift_is_told_and_stops_nobody(room, block):
    roster = invented_roster(2)
    lifts = {name: lift for name, lift in roster[0].lifts.items() if name != "barbell bench pull"}
    roster[0] = roster[0].model_copy(update={"lifts": lifts})
    table = team_check(block, roster, room, draws=DRAWS, seed=1, mend=False).table
    assert "has no 1RM for barbell bench pull" in table["problem"][0]
    assert np.isnan(table["lowest_chance"][0])
    assert table["problem"][1] == ""
    assert table["lowest_chance"][1] > 0


def test_the_notes_of_each_lifter_are_those_of_check(room):
    """One avoids the exercise, one has a lower maximum than the load, one neither: each is told what `check` tells."""
    heavy = SetGroup(reps=1, kg=90, rest_s=180)
    block = Block(
        name="Heavy",
        weeks=1,
        sessions=[Session(name="Day", exercises=[ExerciseSlot(exercise="barbell bench pull", sets=[heavy])])],
    )
    roster = invented_roster(4)
    roster[0] = roster[0].model_copy(update={"avoid_exercises": ["barbell bench pull"]})
    for number, one_rm in enumerate((120.0, 70.0, 120.0, 130.0)):
        lift = roster[number].lift("barbell bench pull").model_copy(update={"one_rm_kg": one_rm, "one_rm_lb": None})
        lifts = {**roster[number].lifts, "barbell bench pull": lift}
        roster[number] = roster[number].model_copy(update={"lifts": lifts})
    team = team_check(block, roster, room, draws=20, seed=4, mend=False)
    for one, row in zip(roster, team.table.to_dict("records"), strict=True):
        assert row["notes"] == check_block(block, one, room, draws=20, seed=4).notes
    notes = dict(team.shared_notes())
    told = {name: [note for note, names in notes.items() if name in names] for name in team.table["lifter"]}
    assert any("leaves it out" in note for note in told["Invented 0"])
    # 90 kg of 70 kg is 129 %.
    assert any("129 % of 1RM in week 1, more than the lifter's maximum" in note for note in told["Invented 1"])
    assert not any("leaves it out" in note or "more than" in note for note in told["Invented 2"])
    lines = team.note_lines()
    assert any(line.startswith("Invented 0: barbell bench pull: the lifter file leaves it out") for line in lines)


def test_a_note_of_all_is_said_once(room):
    block = exercise_block("barbell bench pull", constant_step(percent=40, sets=1), weeks=1)
    lines = team_check(block, invented_roster(3), room, draws=20, mend=False).note_lines()
    assert len(lines) == 1
    assert lines[0].startswith("All lifters: below 60 or above 95 % of 1RM")


def test_it_can_be_stopped(room, block):
    told = []

    def progress(done, of):
        told.append((done, of))
        return done < 4

    team = team_check(block, invented_roster(8), room, draws=20, seed=1, mend=False, block_size=2, progress=progress)
    assert told == [(2, 8), (4, 8)]
    assert not team.finished
    assert len(team.table) == 4


def test_what_cannot_be_done_is_explained(room, block, tmp_path):
    with pytest.raises(InputError, match="roster: is empty"):
        team_check(block, [], room)
    with pytest.raises(InputError, match="two lifters are named 'Invented 0'"):
        team_check(block, [*invented_roster(1), *invented_roster(1)], room)
    with pytest.raises(InputError, match="holds no lifter files"):
        read_roster(tmp_path)
    with pytest.raises(InputError, match="is no folder"):
        read_roster(tmp_path / "nowhere")
    assert len(read_roster(DEMO / "lifters")) >= 8


@pytest.mark.slow
def test_memory_is_flat(room, block):
    """Ten times the lifters take no more memory but their rows; what they cost in time is in `workbench bench`."""
    run = {"draws": 20, "seed": 1, "mend": False, "block_size": 10}
    team_check(block, invented_roster(10), room, **run)  # what is loaded once is loaded
    peak = []
    for size in (10, 100):
        roster = invented_roster(size)
        tracemalloc.start()
        team_check(block, roster, room, **run)
        peak.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    print(f"\nten times the lifters: peak {peak[0] / 1e6:.2f} to {peak[1] / 1e6:.2f} MB")
    # A row is a dozen short values, well under 4 kB.
    assert peak[1] - peak[0] < 90 * 4000


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_a_worker_killed_midway_changes_no_digit(room, block):
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    roster = invented_roster(48)
    run = {"draws": DRAWS, "seed": 4, "mend": False, "block_size": 4}
    alone = team_check(block, roster, room, **run).table
    killed = []
    with (
        local_cluster(2) as cluster,
        distributed.Client(cluster) as client,
    ):
        workers = client.run(os.getpid)

        def progress(done, of):
            if not killed:
                killed.append(next(iter(workers.values())))
                os.kill(killed[0], signal.SIGKILL)

        team = team_check(block, roster, room, **run, cluster=cluster.scheduler_address, progress=progress)
        assert len(killed) == 1
        assert killed[0] not in client.run(os.getpid).values(), "the worker is still there: nothing was tested"
    assert team.finished
    pd.testing.assert_frame_equal(team.table, alone, check_exact=True)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_workers_of_this_computer_give_the_same_digits(room, block):
    pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    roster = invented_roster(6)
    run = {"draws": DRAWS, "seed": 4, "mend": False, "block_size": 2}
    here, there = (team_check(block, roster, room, **run, cluster=one).table for one in (None, "local"))
    pd.testing.assert_frame_equal(there, here, check_exact=True)


def team_of(gym, **where):
    hall = read_room(gym / "rooms" / "hall.toml")
    roster = read_roster(gym / "lifters", hall.catalogue)
    return team_check(read_block(gym / "block.toml"), roster, hall, draws=DRAWS, seed=4, block_size=1, **where).table


def test_two_teams_with_different_own_exercises(tmp_path):
    """The same name, a longer setting up: the other gym's sessions last longer, whichever is asked first."""
    quick, slow = make_gym(tmp_path, "quick", setup_s=60), make_gym(tmp_path, "slow", setup_s=180)
    assert [*team_of(quick)["problem"], *team_of(slow)["problem"]] == [""] * 4
    for _ in range(2):
        longer = team_of(slow)["minutes"] - team_of(quick)["minutes"]
        assert longer.tolist() == pytest.approx([2.0, 2.0], rel=1e-12)  # 180 s - 60 s


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_a_team_with_own_exercises_on_two_workers(tmp_path):
    """Workers are processes of their own, which read no file: what they know came with the room."""
    pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    gym = make_gym(tmp_path, "gym", kg=60)
    here = team_of(gym)
    there = team_of(gym, cluster="local", workers=2)
    assert there["problem"].tolist() == ["", ""]
    pd.testing.assert_frame_equal(there, here, check_exact=True)


@pytest.mark.slow
def test_a_scheduler_that_is_not_there_is_told(room, block):
    pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    with pytest.raises(InputError, match="cannot be reached"):
        team_check(block, invented_roster(1), room, cluster="no such place")


@pytest.mark.parametrize("address", ["no such place", "tls://nowhere:1", "paper://nowhere:1"])
def test_no_client_is_made_for_what_is_no_address(room, block, address, monkeypatch):
    """A half-made client ends when Python collects it, and can wait for ever beside one that is starting."""
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    made = []
    monkeypatch.setattr(distributed, "Client", lambda *_arguments, **_settings: made.append(1))
    with pytest.raises(InputError, match="cannot be reached"):
        team_check(block, invented_roster(1), room, cluster=address)
    assert not made


def test_every_column_of_a_row_by_hand(room):
    """Two lifts, one of them far too heavy: counted from the check of that lifter."""
    groups = [
        {"count": 2, "reps": 5, "percent": 40, "rest_s": 180},
        {"count": 3, "reps": 5, "percent": 85, "rest_s": 60},
    ]
    content = {
        "name": "b",
        "weeks": 2,
        "sessions": [
            {"name": "long", "exercises": [{"exercise": "back squat", "sets": groups}]},
            {"name": "short", "exercises": [{"exercise": "leg extension", "sets": groups[:1]}]},
        ],
    }
    block = validate(content, Block)
    who = lifter_of({"back squat": 100, "leg extension": 60})
    team = team_check(block, [who], room, draws=DRAWS, seed=4)
    (row,) = team.table.to_dict("records")
    check = check_block(block, who, room, draws=DRAWS, seed=4)
    assert team.limit == block.limits.chance_of_reps == 0.85
    assert row["groups_below"] == 1  # three sets in two weeks, but one group
    assert (row["first_break"], row["break_week"]) == (check.first_break.below(0.85), 1)
    longest = max(float(np.max(one.duration_s)) for one in check.plan.sessions)
    assert row["minutes"] == pytest.approx(longest / 60)
    assert row["notes"] == check.notes
    assert row["problem"] == ""
    assert row["missed_reps"] == pytest.approx(check.outcome.missed.sum(axis=1).mean())
    assert row["mend"] == mends(check, draws=DRAWS, seed=4).short
    assert row["mend"]
    # At the very chance of the least likely set nothing is below the limit.
    just = team_check(block, [who], room, draws=DRAWS, seed=4, limit=check.sets["chance"].min()).table.iloc[0]
    assert (just["groups_below"], just["first_break"], just["break_week"]) == (0, "", 0)


def test_those_that_fall_short_come_least_likely_first():
    table = pd.DataFrame([(f"n{number}", chance) for number, chance in enumerate((0.9, 0.5, 0.85, 0.2, np.nan))])
    table.columns = ["lifter", "lowest_chance"]
    assert Team(table, 0.85, finished=True).falling_short()["lifter"].tolist() == ["n3", "n1"]
