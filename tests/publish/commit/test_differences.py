"""What changed between two revisions, sentence by sentence, each written out by hand."""

import csv
import io
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pytest

from workbench.answers.block_check import check_block
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.prescription.block import Block
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.publish.commit.contents import _inside, predict
from workbench.publish.commit.difference import block_differences
from workbench.publish.commit.verification import _differing
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DEMO = data_path("demo")
GROUP = {"count": 3, "reps": 5, "percent": 70, "rest_s": 120}
SQUAT = {"exercise": "back squat", "sets": [GROUP]}
ROW = {"exercise": "barbell row", "sets": [GROUP]}


def block_of(slots=(SQUAT, ROW), day=1, sessions=None, **keys):
    sessions = sessions or [{"name": "A", "day": day, "exercises": list(slots)}]
    return validate({"name": "N", "weeks": 4, "sessions": sessions, **keys}, Block)


def with_group(**changes):
    group = {key: value for key, value in {**GROUP, **changes}.items() if value is not None}
    return block_of([{**SQUAT, "sets": [group]}, ROW])


TWO = [{"name": "A", "exercises": [SQUAT]}, {"name": "B", "exercises": [ROW]}]
CASES = [
    (with_group(count=4), ["A: back squat: sets 3 became 4."]),
    (with_group(reps=[5, 8]), ["A: back squat: reps 5 became 5 to 8."]),
    (with_group(reps="failure"), ["A: back squat: reps 5 became to failure."]),
    (with_group(percent=72.5), ["A: back squat: load 70 % became 72.5 %."]),
    (with_group(rest_s=90), ["A: back squat: rest 120 s became 90 s."]),
    (with_group(percent=None, kg=80), ["A: back squat: load 70 % became none; load none became 80 kg."]),
    (with_group(percent=None, lb=180), ["A: back squat: load 70 % became none; load none became 180 lb."]),
    (
        with_group(percent=None, reps_in_reserve=2),
        ["A: back squat: load 70 % became none; reps in reserve none became 2."],
    ),
    (with_group(seconds_per_rep=4), ["A: back squat: tempo none became 4 s a rep."]),
    (with_group(note="slow"), ["A: back squat: the note changed."]),
    (
        with_group(drops={"sizes": [20, 25], "change_s": 15}),
        ["A: back squat: drops: none became 20 % and 25 % (to failure reps, 15 s to change)."],
    ),
    (
        with_group(progression={"rule": "step", "step": 2.5}),
        ["A: back squat: from week to week: no change became +2.5 every week."],
    ),
    (
        with_group(progression={"rule": "by week", "load": [70, 72, 74, 60]}),
        ["A: back squat: from week to week: no change became by week 70, 72, 74, 60."],
    ),
    (
        block_of([{**SQUAT, "sets": [GROUP, {**GROUP, "reps": 8}]}, ROW]),
        ["A: back squat, group 2: added (3 x 8, rest 120 s)."],
    ),
    (block_of([SQUAT]), ["A: barbell row was taken out."]),
    (block_of([SQUAT, ROW, SQUAT]), ["A: back squat was added."]),
    (block_of([ROW, SQUAT]), ["A: the exercises come in another order: barbell row, back squat."]),
    (block_of([{**SQUAT, "ramp": False}, ROW]), ["A: back squat: without ramp sets."]),
    (block_of([{**SQUAT, "equipment": "rack"}, ROW]), ["A: back squat: done with rack."]),
    (block_of([{**SQUAT, "note": "deep"}, ROW]), ["A: back squat: note changed."]),
    (block_of([{**SQUAT, "alternate_with_next": True}, ROW]), ["A: back squat: alternate with next changed."]),
    (block_of(day=3), ["A: moved from day 1 to day 3 of the week."]),
    (block_of(day=None), ["A: moved from day 1 to day open of the week."]),
    (block_of(name="M"), ["The block is now called M (N before)."]),
    (block_of(weeks=5), ["Weeks: 4 became 5."]),
    (block_of(note="x"), ["The note of the block changed."]),
    (
        block_of(lighter_weeks=[{"week": 4, "load": 0.8, "sets": 0.5}]),
        ["Week 4 is now lighter: 80 % of the load, 50 % of the sets."],
    ),
    (block_of(limits={"chance_of_reps": 0.7}), ["Lowest accepted chance of a set: 85 % became 70 %."]),
    (block_of(limits={"session_minutes": 60}), ["Longest session: no limit became 60 min."]),
    (block_of(), []),
]


@pytest.mark.parametrize(("new", "said"), CASES, ids=[said[0][:40] if said else "nothing" for _, said in CASES])
def test_a_change_of_a_block_is_one_sentence(new, said):
    assert block_differences(block_of(), new) == said


def test_changes_are_told_the_other_way_too():
    lighter = block_of(lighter_weeks=[{"week": 4, "load": 0.8, "sets": 0.5}])
    assert block_differences(lighter, block_of()) == ["Week 4 is no longer a lighter week."]
    other = block_of(lighter_weeks=[{"week": 4, "load": 0.9, "sets": 0.5}])
    assert block_differences(lighter, other) == ["Lighter week 4: load 80 % became 90 %, sets 50 % became 50 %."]
    two_groups = block_of([{**SQUAT, "sets": [GROUP, GROUP]}, ROW])
    assert block_differences(two_groups, block_of()) == ["A: back squat, group 2: taken out."]
    assert block_differences(block_of(sessions=TWO), block_of(sessions=TWO[::-1])) == [
        "The sessions come in another order: B, A."
    ]
    assert block_differences(block_of(sessions=TWO), block_of(sessions=TWO[:1])) == ["Session B was taken out."]
    assert block_differences(block_of(sessions=TWO[:1]), block_of(sessions=TWO)) == ["Session B was added."]


def four_digits(value):
    """At most four digits after the point, by decimal arithmetic, without zeros at the end; nothing for no number."""
    if isinstance(value, float):
        if np.isnan(value):
            return ""
        if np.isinf(value):
            return "failure"
        rounded = Decimal(value).quantize(Decimal("0.0001"), ROUND_HALF_EVEN)
        return f"{rounded.normalize() + 0:f}"
    return str(value)


def test_every_kept_prediction_is_that_of_check():
    """Every cell of both tables, for two lifters, drops and a set to failure."""
    room = read_room(DEMO / "rooms" / "boathouse_hall.toml")
    emre = read_lifter(DEMO / "lifters" / "emre_sandoval.toml")
    lifters = [emre, emre.model_copy(update={"name": "=Second", "body_mass_kg": 70.0})]
    block = exercise_block("barbell bench pull", constant_step(sets=2), weeks=2)
    sets = [*block.sessions[0].exercises[0].sets]
    sets[0] = sets[0].model_copy(update={"reps": (1, float("inf"))})
    slot = block.sessions[0].exercises[0].model_copy(update={"sets": sets})
    first = block.sessions[0].model_copy(update={"exercises": [slot]})
    block = block.model_copy(update={"sessions": [first, *block.sessions[1:]]})
    made = predict(block, lifters, room, draws=30, seed=5, form=DEFAULT_FORM)
    for text, table in ((made.sets, "sets"), (made.weeks, "weeks")):
        rows = list(csv.DictReader(io.StringIO(text)))
        wanted = []
        for lifter in lifters:
            check = check_block(block, lifter, room, draws=30, seed=5)
            # What starts like a formula carries an apostrophe, for spreadsheet programs.
            name = "'=Second" if lifter.name == "=Second" else lifter.name
            wanted += [(name, row) for row in getattr(check, table).to_dict("records")]
        assert len(rows) == len(wanted) > 4
        for row, (name, cells) in zip(rows, wanted, strict=True):
            assert row.pop("lifter") == name
            for column, cell in row.items():
                value = float(cells[column]) if isinstance(cells[column], np.floating) else cells[column]
                assert cell == four_digits(value), column
        assert {"chance", "reserve_low", "reserve", "reserve_high"} <= set(rows[0])
    assert "failure" in made.sets
    assert made.chances() == {
        one.name: float(four_digits(float(check_block(block, one, room, draws=30, seed=5).chance_of_block)))
        for one in lifters
    }


def test_only_the_cells_that_came_out_otherwise_are_told(tmp_path):
    then = tmp_path / "predicted_sets.csv"
    then.write_text("lifter,week,set,load_kg,reps\nAsta,1,1,100,5\nAsta,1,2,100,5\n")
    assert _differing(then, then.read_text()) == []
    now = "lifter,week,set,load_kg,reps\nAsta,1,1,100,5\nAsta,1,2,102.5,5\n"
    assert _differing(then, now) == ["Asta, 1, 2: load_kg 100 then, 102.5 now"]
    assert _differing(then, then.read_text().replace("\n", "\r\n")) == ["predicted_sets.csv is written otherwise"]
    assert _differing(then, now[:40]) == ["predicted_sets.csv: 2 rows then, 1 now"]


@pytest.mark.parametrize("name", ["../block.toml", "lifters/../../x.toml", "./block.toml", "/etc/x", "a//b", ""])
def test_no_name_of_a_manifest_leads_out_of_its_folder(name):
    with pytest.raises(ValueError, match="is no file of this folder"):
        _inside(name)
    assert _inside("lifters/asta.lindqvist.toml") == "lifters/asta.lindqvist.toml"
