"""What do our own lifters say? Logs put to lifters, numbers kept without a name, and a start that every door takes."""

from __future__ import annotations

import json
import os
import signal
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.alive import Alive
from tests.hand_made import lifter_of
from workbench.__main__ import main
from workbench.answers import gym_numbers as gym_numbers_module
from workbench.answers.block_check import check_block
from workbench.answers.gym_numbers import (
    GymNumbers,
    LogOfLifter,
    gym_numbers,
    gym_text,
    logs_of_gym,
    numbers_of,
    shared_text,
)
from workbench.answers.team import read_roster
from workbench.answers.workers import local_cluster
from workbench.fit.gym_member import Member
from workbench.fit.gym_prior import fit_gym
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.lifter.gym_prior import GYM_FILE, GymPrior, read_gym_prior
from workbench.prescription.block import read_block
from workbench.publish.commit import Decision, commit_block, read_committed
from workbench.publish.commit.verification import verify
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.shelf import Shelf
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text

ROOM = data_path("demo", "rooms", "boathouse_hall.toml")
NAMES = ("Anouk Tervo", "Bela Quist", "Caro Imhof", "Dara Lund", "Edda Fenn", "Falk Orre")
FEW = {"draws": 60}
BLOCK = (
    'name = "Small"\nweeks = 1\n[[sessions]]\nname = "One"\n[[sessions.exercises]]\nexercise = "back squat"\n'
    "sets = [{ count = 3, reps = 8, percent = 70, rest_s = 90 }]\n"
)


def lifter_text(name, sex="male"):
    return f'name = "{name}"\nsex = "{sex}"\n[lifts."back squat"]\none_rm_kg = 100\n'


def log_text(name, reps, exercise="back squat"):
    rows = [f"2026-01-05,{name},{exercise},{70},{one},{'failed'},120" for one in reps]
    return "\n".join(["date,lifter,exercise,kg,reps,outcome,rest s", *rows, ""])


def made(folder, names=NAMES[:2], women=()):
    """A gym's folder of lifters who went to failure three times each."""
    gym = GymFolder(folder)
    gym.make()
    for number, name in enumerate(names):
        stem = name.split()[0].lower()
        sex = "female" if name in women else "male"
        (gym.path / "lifters" / f"{stem}.toml").write_text(lifter_text(name, sex), encoding="utf-8")
        text = log_text(name, (14 + number, 9 + number, 7 + number))
        (gym.path / "logs" / f"{number}.csv").write_text(text, encoding="utf-8")
    (gym.path / "lifters" / "new.toml").write_text(lifter_text("New Here"), encoding="utf-8")
    (gym.path / "blocks" / "small.toml").write_text(BLOCK, encoding="utf-8")
    (gym.path / "rooms" / "hall.toml").write_bytes(Path(ROOM).read_bytes())
    return gym.path


@pytest.fixture(scope="module")
def gym(tmp_path_factory):
    return made(tmp_path_factory.mktemp("gym"))


@pytest.fixture(scope="module")
def found(gym):
    return gym_numbers(gym, **FEW)


@pytest.fixture
def with_numbers(tmp_path, found):
    folder = made(tmp_path / "gym")
    (folder / GYM_FILE).write_text(gym_text(found.prior), encoding="utf-8")
    return folder


# ---- whose logs ------------------------------------------------------------------------------------------------------


def rows_by_lifter(folder):
    return {one.lifter.name: len(one.rows) for one in logs_of_gym(folder)[0]}


def test_rows_go_to_the_lifter_they_name_and_the_others_are_said(gym):
    assert rows_by_lifter(gym) == {NAMES[0]: 3, NAMES[1]: 3}
    assert logs_of_gym(gym)[1] == [("New Here", "has no log here")]


def test_a_log_of_several_and_one_that_names_nobody(tmp_path):
    folder = made(tmp_path)
    both = log_text(NAMES[0], (5, 4)) + "\n".join(log_text(NAMES[1], (6,)).splitlines()[1:]) + "\n"
    (folder / "logs" / "both.csv").write_text(both.replace("2026-01-05", "2026-01-12"), encoding="utf-8")
    plain = log_text("", (3,)).replace("2026-01-05", "2026-01-19")
    (folder / "logs" / "bela_march.csv").write_text(plain, encoding="utf-8")
    (folder / "logs" / "whose.csv").write_text(plain, encoding="utf-8")
    (folder / "logs" / "stranger.csv").write_text(log_text("Some Body", (3,)), encoding="utf-8")
    (folder / "logs" / "damaged.csv").write_text("nothing,here\n1,2\n", encoding="utf-8")
    assert rows_by_lifter(folder) == {NAMES[0]: 5, NAMES[1]: 5}
    out = dict(logs_of_gym(folder)[1])
    assert set(out) == {"whose.csv", "stranger.csv", "damaged.csv", "New Here"}


def test_the_same_set_in_two_exports_counts_once(tmp_path):
    folder = made(tmp_path)
    (folder / "logs" / "again.csv").write_bytes((folder / "logs" / "0.csv").read_bytes())
    # Three sets of 14, 9 and 7 reps, told apart by their numbers.
    assert rows_by_lifter(folder)[NAMES[0]] == 3


def test_sets_alike_in_one_log_are_several_however_many_logs_there_are(tmp_path):
    """Twice on one day somebody numbers the sets from 1 again: 2 in each of 2 sessions, and 1 a week later."""
    folder = made(tmp_path, names=NAMES[:1])
    day = "".join(f"2026-01-12,{NAMES[0]},back squat,{number},70,5,completed\n" for number in (1, 2, 1, 2))
    heading = "date,lifter,exercise,set,kg,reps,outcome\n"
    (folder / "logs" / "0.csv").write_text(heading + day, encoding="utf-8")
    (folder / "logs" / "1.csv").write_text(heading + day.replace("01-12", "01-19").splitlines()[0], encoding="utf-8")
    (folder / "logs" / "2.csv").write_text(heading + day, encoding="utf-8")
    assert rows_by_lifter(folder) == {NAMES[0]: 4 + 1}


def test_a_lifter_is_taken_as_before_the_logs_that_the_file_has_learned_from(tmp_path):
    folder = made(tmp_path, names=NAMES[:1])
    gym, path = GymFolder(folder), folder / "lifters" / "anouk.toml"
    edited = gym.edit(path)
    edited.write(lifter_text(NAMES[0]).replace("100", "105"))
    before = read_lifter(path)
    for learned in ("05", "12"):  # and then learned on, under the name in other letters
        days = f'[learned."back squat"]\n"2026-01-{learned}" = "3 sets, 0123456789ab"\n'
        edited.write(lifter_text(NAMES[0].upper()).replace("100", "111") + days)
    gym.versions(path)[-1].write_text("damaged", encoding="utf-8")
    now = read_lifter(path)
    assert now.learned
    assert logs_of_gym(folder)[0][0].lifter == before.model_copy(update={"name": now.name})
    # Without its versions the file is all that there is.
    for version in gym.versions(path):
        version.unlink()
    assert logs_of_gym(folder)[0][0].lifter == now


def test_no_lifter_or_no_usable_set_is_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="holds no lifter files"):
        gym_numbers(tmp_path)
    folder = made(tmp_path / "gym", names=())
    with pytest.raises(InputError, match="no lifter with a log"):
        gym_numbers(folder)


# ---- what is said ----------------------------------------------------------------------------------------------------


def test_it_says_how_many_stand_behind_and_how_far_a_start_moved(found):
    assert found.sentences()[0] == "2 lifters of this gym, 6 sets, stand behind these numbers."
    squat = found.table.set_index("of").loc["squat"]
    assert squat["lifters"] == 2
    # Two logs narrow the start, by less than half.
    assert 0.5 < squat["narrowed"] < 1.0
    # 14 and 15 reps at 70 % of what the file says, less than the published 17: each rep costs more.
    assert squat["p50"] > squat["published_p50"]
    assert [what for what, *_ in found.said()] == ["squat, reps at 70 %", "recovery rate, 1 is average"]
    assert found.table.query("lifters == 0")["of"].str.contains("leg press").any()


def test_the_same_digits_whoever_and_however_they_are_worked_out(gym, found):
    assert gym_numbers(gym, **FEW).prior == found.prior
    of_lifters, _ = logs_of_gym(gym)
    assert numbers_of(of_lifters, **FEW, progress=lambda _done, _all: None).prior == found.prior


def test_what_was_stopped_says_so(gym):
    of_lifters, _ = logs_of_gym(gym)
    stopped = numbers_of([*of_lifters] * 3, **FEW, progress=lambda done, _all: done < 5)
    assert not stopped.finished
    assert stopped.prior.lifters == 5
    assert stopped.sentences()[-1] == "Stopped before the end."


# ---- nobody's name or sets -------------------------------------------------------------------------------------------


def test_what_is_kept_holds_spreads_and_counts_and_nothing_else(found):
    text = gym_text(found.prior)
    for word in (*NAMES, *(name.split()[0].lower() for name in NAMES), "back squat", "2026-01", ".csv"):
        assert word not in text
    content = tomllib.loads(text)
    assert set(content) <= set(GymPrior.model_fields)
    assert {key for one in content["endurance"].values() for key in one} == {"lifters", "start", "middle", "spread"}
    assert all(len(one[key]) == 3 for one in content["endurance"].values() for key in ("start", "middle", "spread"))


def test_it_reads_back_the_same(with_numbers, found):
    assert read_gym_prior(with_numbers / GYM_FILE) == found.prior


def test_nothing_of_fewer_than_five_lifters_is_shared(tmp_path, found):
    with pytest.raises(InputError, match="too few to be shared"):
        shared_text(found)
    folder = made(tmp_path, NAMES, women=NAMES[:2])
    # One of them does a second exercise, of which nobody else speaks.
    (folder / "logs" / "press.csv").write_text(log_text(NAMES[0], (8, 6), "leg press"), encoding="utf-8")
    six = gym_numbers(folder, **FEW)
    assert six.prior.endurance["leg press"].lifters == 1
    assert six.prior.recovery_of_women.lifters == 2
    shared = tomllib.loads(shared_text(six))
    assert shared["lifters"] == 6
    assert set(shared["endurance"]) == {"squat"}
    assert {"recovery_of_women", "stated_reserve"} & set(shared) == set()
    # Women are not told apart, so that nothing is said of the two.
    assert shared["recovery"]["lifters"] == 6
    (tmp_path / "shared.toml").write_text(shared_text(six), encoding="utf-8")
    assert read_gym_prior(tmp_path / "shared.toml").lifters == 6


def numbers_of_some(lifters, women=0, squatting=99, stating=99):
    """Return what a gym of so many lifters is like, of whom so many are women, squat, or state reserves."""
    rng, members = np.random.default_rng(1), []
    for number in range(lifters):
        classes = ("hinge", "squat") if number < squatting else ("hinge",)
        log_endurance, log_rate, bias = (rng.standard_normal(shape) for shape in ((8, len(classes)), 8, 8))
        members.append(
            Member(
                classes,
                -3.5 + 0.3 * log_endurance,
                0.4 * log_rate,
                0.7 * bias,
                np.zeros(8),
                is_woman=number < women,
                sets=10,
                states_reserve=number < stating,
            )
        )
    return GymNumbers(pd.DataFrame(), pd.DataFrame(columns=["what", "reason"]), fit_gym(members))


def test_five_lifters_are_shared_and_four_are_not():
    with pytest.raises(InputError, match="4 lifters are too few"):
        shared_text(numbers_of_some(4))
    assert tomllib.loads(shared_text(numbers_of_some(5)))["lifters"] == 5


@pytest.mark.parametrize(("of_some", "shared"), [(4, False), (5, True)])
def test_of_a_quantity_that_fewer_than_five_speak_of_nothing_is_shared(of_some, shared):
    content = tomllib.loads(shared_text(numbers_of_some(8, squatting=of_some, stating=of_some)))
    assert ("squat" in content["endurance"]) == shared
    assert ("stated_reserve" in content) == shared
    assert set(content["endurance"]) <= {"hinge", "squat"}
    assert content["endurance"]["hinge"]["lifters"] == 8


@pytest.mark.parametrize(("lifters", "women", "apart"), [(10, 4, False), (10, 5, True), (10, 6, False), (11, 6, True)])
def test_women_are_told_apart_where_five_of_each_are_there(lifters, women, apart):
    found = numbers_of_some(lifters, women)
    text = shared_text(found)
    content = tomllib.loads(text)
    assert ("recovery_of_women" in content) == apart
    assert content["recovery"]["lifters"] == (lifters - women if apart else lifters)
    if not apart:  # as if nobody's sex were known: what the women's recovery is alone lies nowhere in it
        assert text == shared_text(numbers_of_some(lifters))
        assert content["recovery"] != found.prior.recovery.model_dump()
    counts = [one["lifters"] for one in content["endurance"].values()]
    counts += [one["lifters"] for name, one in content.items() if name.startswith("recovery")]
    assert min(counts) >= 5


# ---- where a lifter starts -------------------------------------------------------------------------------------------


def test_a_lifter_of_the_folder_starts_from_it_and_can_do_without(with_numbers, found):
    new = with_numbers / "lifters" / "new.toml"
    assert read_lifter(new).gym == found.prior
    assert read_lifter(new, gym_numbers=False).gym is None
    assert [one.gym for one in read_roster(with_numbers / "lifters")] == [found.prior] * 3
    assert [one.gym for one in read_roster(with_numbers / "lifters", gym_numbers=False)] == [None] * 3
    (with_numbers / GYM_FILE).write_text(gym_text(found.prior.model_copy(update={"used": False})), encoding="utf-8")
    assert read_lifter(new).gym is None


def test_a_lifter_whom_a_log_taught_keeps_what_it_taught(with_numbers, tmp_path):
    log, lifter = with_numbers / "logs" / "0.csv", with_numbers / "lifters" / "anouk.toml"
    assert main(["fit", str(log), "--lifter", str(lifter), "--published-start", "-o", str(tmp_path / "a.toml")]) == 0
    taught = with_numbers / "lifters" / "taught.toml"
    taught.write_bytes((tmp_path / "a.toml").read_bytes())
    assert read_lifter(taught).gym is None
    assert main(["fit", str(log), "--lifter", str(lifter), "-o", str(tmp_path / "b.toml")]) == 0
    # What it started from is kept with what was learned.
    assert read_lifter(tmp_path / "b.toml").gym == read_lifter(lifter).gym


def test_a_check_says_whose_numbers_stand_for_what_is_not_known(with_numbers):
    block, room = read_block(with_numbers / "blocks" / "small.toml"), read_room(with_numbers / "rooms" / "hall.toml")
    new = with_numbers / "lifters" / "new.toml"
    here, published = (check_block(block, read_lifter(new, gym_numbers=one), room, draws=400) for one in (True, False))
    told = "endurance and recovery, as far as the lifter file says nothing, are those of 2 lifters of this gym"
    assert told in here.notes
    assert told not in published.notes
    widths = [float((one.sets["reps_p90"] - one.sets["reps_p10"]).mean()) for one in (here, published)]
    assert widths[0] < widths[1]


def test_a_commit_keeps_what_was_started_from(with_numbers, tmp_path):
    block, room = read_block(with_numbers / "blocks" / "small.toml"), read_room(with_numbers / "rooms" / "hall.toml")
    lifter = read_lifter(with_numbers / "lifters" / "new.toml")
    made_of = commit_block(block, [lifter], room, Decision("r"), folder=tmp_path / "committed", draws=50)
    (with_numbers / GYM_FILE).unlink()
    assert read_committed(made_of.path).lifters[0].gym == lifter.gym
    assert verify(made_of.path).same


def test_the_command_writes_what_was_asked_for_and_nothing_over(with_numbers, tmp_path, capsys):
    folder, few = str(with_numbers), ["--draws", "60"]
    before = (with_numbers / GYM_FILE).read_bytes()
    assert main(["gym", folder, *few, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["lifters"], said["sets"]) == (2, 6)
    assert (with_numbers / GYM_FILE).read_bytes() == before
    assert main(["gym", folder, *few, "--keep"]) == 2
    assert "already" in capsys.readouterr().err
    assert main(["gym", folder, *few, "--keep", "--replace"]) == 0
    assert (with_numbers / GYM_FILE).read_bytes() == before  # the logs are the same
    shared = tmp_path / "shared.toml"
    assert main(["gym", folder, *few, "--share", str(shared)]) == 2
    assert not shared.exists()


def test_a_damaged_file_of_the_gym_is_named(with_numbers):
    (with_numbers / GYM_FILE).write_text("lifters = 3\n", encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_lifter(with_numbers / "lifters" / "new.toml")
    assert Path(refused.value.file).name == GYM_FILE


def test_a_lifter_file_says_what_it_started_from_and_reads_back(found):
    lifter = read_lifter(data_path("demo", "lifters", "asta_lindqvist.toml")).model_copy(update={"gym": found.prior})
    again = tomllib.loads(toml_text(lifter))
    assert again["gym"]["lifters"] == 2


# ---- on other machines ----------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_workers_give_the_same_digits_and_a_lost_one_changes_none(gym):
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    of_lifters = [*logs_of_gym(gym)[0]] * 15
    here = numbers_of(of_lifters, **FEW).fit
    with local_cluster(2) as cluster, distributed.Client(cluster) as client:
        killed = []

        def progress(_done, _all):
            if not killed:
                killed.append(next(iter(client.run(os.getpid).values())))
                os.kill(killed[0], signal.SIGKILL)

        there = numbers_of(of_lifters, **FEW, cluster=cluster.scheduler_address, progress=progress)
        assert len(killed) == 1
        assert killed[0] not in client.run(os.getpid).values(), "the worker is still there: nothing was tested"
    assert there.finished
    assert there.fit.behind == here.behind
    # Before any rounding of what is kept.
    assert there.fit.z.tolist() == here.z.tolist()
    assert there.fit.covariance.tolist() == here.covariance.tolist()


# ---- however many they are -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lifters", [15, 60])
def test_no_more_lifters_are_in_memory_than_are_worked_on(found, monkeypatch, lifters):
    member, weighed, logs, members = found.fit.members[0], [], Alive(), Alive()
    logs.watch(monkeypatch)
    monkeypatch.setattr(gym_numbers_module, "_member", lambda *_: members.seen(replace(member)))
    monkeypatch.setattr(gym_numbers_module, "fit_gym", lambda found_here: weighed.append(len(found_here)) or found.fit)
    log = LogOfLifter(lifter_of({"back squat": 100}), pd.DataFrame({"reps": [3, 2]}))
    numbers_of(Shelf(log for _ in range(lifters)), **FEW)
    assert weighed == [lifters]
    # Five at once, and of those of the block before at most as many.
    assert 5 <= logs.most <= 10
    assert 5 <= members.most <= 10


def test_one_log_at_a_time_is_read(tmp_path, monkeypatch):
    folder, read, readings = made(tmp_path, NAMES), gym_numbers_module.read_log, Alive()
    monkeypatch.setattr(gym_numbers_module, "read_log", lambda *of, **how: readings.seen(read(*of, **how)))
    assert len(logs_of_gym(folder)[0]) == 6
    assert readings.most == 1
