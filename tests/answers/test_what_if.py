"""A block checked again with a change: the same digits as a check from scratch, whatever was checked before."""

import numpy as np
import pandas as pd
import pytest

from workbench.answers.block_check import check_block, draw_for
from workbench.answers.what_if import WhatIf, with_changes
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.prescription.edit import Where
from workbench.reference.sources import data_path
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

DEMO = data_path("demo")
DRAWS, SEED = 60, 5
#: One after the other, as a coach moves sliders: a load, a rest, a set more (all later sets meet other scatter), a set
#: less elsewhere, two at once, and back to the block as it was.
STEPS = (
    {},
    {Where(1, 1, 1): {"load": 70.0}},
    {Where(1, 1, 1): {"load": 70.0, "rest_s": 60.0}},
    {Where(1, 1, 1): {"sets": 6}},
    {Where(2, 2, 1): {"sets": 2}},
    {Where(1, 1, 1): {"load": 70.0}, Where(3, 1, 1): {"reps": 4}},
    {},
)


@pytest.fixture(scope="module")
def demo():
    block = read_block(DEMO / "block.toml")
    lifter = read_lifter(DEMO / "lifters" / "emre_sandoval.toml")
    return block, lifter, read_room(DEMO / "rooms" / "boathouse_hall.toml")


def test_every_step_gives_the_digits_of_a_check_from_scratch(demo):
    block, lifter, room = demo
    asked = WhatIf(block, lifter, room, draws=DRAWS, seed=SEED)
    seen = []
    for changes in STEPS:
        again = asked.check(changes)
        scratch = check_block(with_changes(block, changes), lifter, room, draws=DRAWS, seed=SEED)
        pd.testing.assert_frame_equal(again.sets, scratch.sets, check_exact=True)
        pd.testing.assert_frame_equal(again.weeks, scratch.weeks, check_exact=True)
        assert again.chance_of_block == scratch.chance_of_block
        assert again.first_break == scratch.first_break
        assert again.plan.warnings == scratch.plan.warnings
        seen.append(again.chance_of_block)
    assert seen[0] == seen[-1]
    assert len(set(seen)) > 3  # the steps do change the block


def test_sessions_without_a_change_are_taken_over_and_no_others(demo):
    block, lifter, room = demo
    plan = make_plan(block, lifter, room)
    draws = draw_for(plan, draws=DRAWS, seed=SEED)
    before = simulate(plan, draws)
    changed = with_changes(block, {Where(2, 1, 1): {"rest_s": 200.0}})
    other = make_plan(changed, lifter, room, like=plan)
    assert [one is two for one, two in zip(other.sessions, plan.sessions, strict=True)] == [True, False, True]
    after = simulate(other, draws, like=before)
    assert [one is two for one, two in zip(after.sessions, before.sessions, strict=True)] == [True, False, True]
    # Other draws, or a set more in an earlier session, and nothing may be taken over.
    assert not any(
        one is two
        for one, two in zip(
            simulate(other, draw_for(plan, draws=DRAWS, seed=9), like=before).sessions, before.sessions, strict=True
        )
    )
    longer = make_plan(with_changes(block, {Where(1, 1, 1): {"sets": 7}}), lifter, room, like=plan)
    more = draw_for(longer, draws=DRAWS, seed=SEED)
    first = simulate(plan, more)
    second = simulate(longer, more, like=first)
    assert not any(one is two for one, two in zip(second.sessions, first.sessions, strict=True))
    scratch = simulate(longer, more)
    for one, two in zip(second.sessions, scratch.sessions, strict=True):
        assert all(np.array_equal(a.available, b.available) for a, b in zip(one, two, strict=True))


def test_another_lifter_or_another_length_is_worked_out_anew(demo):
    block, lifter, room = demo
    plan = make_plan(block, lifter, room)
    stronger = lifter.model_copy(update={"name": "Invented"})
    longer = block.model_copy(update={"weeks": block.weeks + 1})
    for other in (make_plan(block, stronger, room, like=plan), make_plan(longer, lifter, room, like=plan)):
        assert not any(one is two for one, two in zip(other.sessions, plan.sessions, strict=True))
