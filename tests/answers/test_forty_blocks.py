"""Rules for what is said of forty blocks: no mend beyond its bounds, none by luck alone, none without a reason."""

import re

import numpy as np
import pytest

from tests.answers.forty_blocks import CASES, LIFTERS, forty_blocks
from tests.hand_made import hall
from workbench.answers.block_check import check_block
from workbench.answers.mend import mends
from workbench.answers.small_changes import clashes
from workbench.prescription.edit import change, group_at

pytestmark = pytest.mark.usefixtures("compiled_sets")

#: Not the seed of the check, 1, nor that of the other days of a mend, 2.
FRESH_SEED, FRESH_DRAWS = 101, 4000
#: Standard errors by which the fresh days may differ from what is true of all days.
ERRORS = 2.0
#: What still is a small change: points of percent, s, reps, sets, part of a climb that is left, points of a drop.
POINTS, REST_S, REPS, SETS, CLIMB, DROP = 5, 60, 1, 1, 0.5, 5
ROUNDING = 1e-9
#: Part of the work that a mend keeps at least.
KEPT = 0.7
CASES_HERE, MARKED = (
    [
        pytest.param(who, block, marks=[] if hardness == "right" else [pytest.mark.slow], id=f"{kind}-{hardness}-{who}")
        for kind, hardness, who, block in forty_blocks(important=important)
    ]
    for important in (False, True)
)


@pytest.fixture(scope="module")
def room():
    return hall()


@pytest.fixture(scope="module")
def found(room):
    """The check of a case, and its mends: worked out once."""
    known = {}

    def of(who, block):
        if (who, block.name) not in known:
            check = check_block(block, LIFTERS[who], room)
            known[who, block.name] = check, mends(check)
        return known[who, block.name]

    return of


def test_there_are_forty_of_ten_kinds():
    found = list(forty_blocks())
    assert len(found) == 40
    assert len({kind for kind, *_ in found}) == 10
    assert {(hardness, who) for _, hardness, who, _ in found} == set(CASES)


@pytest.mark.parametrize(("who", "block"), CASES_HERE)
def test_what_is_said_first_is_what_a_colleague_would_say(who, block, found):
    check, mending = found(who, block)
    headline, where, how_sure = check.sentences()
    made = check.sets[check.sets["chance"].notna()]
    assert f"the {len(made)} sets that are meant to be made" in headline
    assert re.search(r"chance that none is missed: [<>]?\d+ %\)\.$", headline)
    if "hardly" not in headline:
        assert f"about {made['missed'].sum():.0f} of {made['reps_low'].sum():.0f} reps" in headline
    if check.first_break is None:
        assert where == "Every set has at least the wanted chance of 85 %."
        assert mending.sentences() == ["Nothing needs to change."]
    else:
        said = float(re.search(r"First under 85 %: .*: [<>]?([\d.]+) % chance", where)[1])
        assert said < 85
    assert ("not known" in how_sure) == (who == "unknown")
    for sentence in (headline, where, how_sure, *mending.sentences()):
        assert "nan" not in sentence
        assert "  " not in sentence
        assert not re.search(r"\b([3-9]\d|\d{3,}) reps? (in|at|fewer)", sentence)  # 30 or more, and no number
        assert not re.search(r"\b1 (points|reps|sets|weeks)\b", sentence)


@pytest.mark.parametrize(("who", "block"), CASES_HERE)
def test_a_mend_is_small_enough_and_no_luck(who, block, room, found):
    check, mending = found(who, block)
    assert bool(mending.found) <= (check.first_break is not None)
    assert len(mending.found) <= 4
    for mend in mending.found:
        assert len(mend.what) <= 2
        assert not clashes(*mend.kind.split(" + ")) if " + " in mend.kind else len(mend.what) == 1
        within_bounds(block, mend)
        # What was missed may be done now: with every rep made, the work is that of the prescription.
        asked, missed = of_group(check.sets, mending.broken)[["reps_low", "missed"]].sum()
        assert KEPT <= mend.kept < 1.1 * asked / (asked - missed)
        fresh = check_block(mend.block, LIFTERS[who], room, seed=FRESH_SEED, draws=FRESH_DRAWS).sets
        group = of_group(fresh, mending.broken)
        error = np.sqrt(check.limit * (1 - check.limit) / FRESH_DRAWS)
        assert group["chance"].min() >= check.limit - ERRORS * error


def of_group(sets, broken):
    """Sets of the group that broke, in all weeks: its drops where a drop did."""
    return sets[
        (sets["session_number"] == broken.session_number)
        & (sets["slot"] == broken.slot)
        & (sets["group"] == broken.group)
        & ((sets["drop"] > 0) == (broken.drop > 0))
    ]


def within_bounds(block, mend):
    """Every value of the changed group lies within its bound of the value before; all other groups stay."""
    before, after = (group_at(one, mend.where) for one in (block, mend.block))
    assert change(block, mend.where, **mend.what) == mend.block
    unit = {"percent": 1.0, "part": 0.01}.get(before.way, 0.01 * before.load_in_week_one)
    assert 0 <= after.rest_s - before.rest_s <= REST_S
    assert 0 <= before.count - after.count <= SETS
    if not before.to_failure:
        assert 0 <= before.reps_in_week_one - after.reps_in_week_one <= REPS
    if before.drops is not None:
        assert all(0 <= new - old <= DROP for old, new in zip(before.drops.sizes, after.drops.sizes, strict=True))
        assert 0 <= before.drops.reps[0] - after.drops.reps[0] <= REPS
    loads = [group.weekly(block.weeks)[0] for group in (before, after)]
    if "step" in mend.what:
        assert after.load_in_week_one == before.load_in_week_one
        assert CLIMB * before.progression.step - ROUNDING <= after.progression.step < before.progression.step
    else:
        less = loads[0] - loads[1]
        assert (less >= -ROUNDING).all()
        assert (less <= POINTS * unit + ROUNDING).all()
        if "by_week" in mend.what:
            assert 0 < (less > ROUNDING).sum() <= block.weeks / 2


@pytest.mark.parametrize(("who", "block"), MARKED)
def test_what_is_marked_as_most_important_is_not_lowered(who, block, room):
    mending = mends(check_block(block, LIFTERS[who], room), test=False)
    assert {mend.kind for mend in mending.found} <= {"rest"}
    assert mending.important == (mending.broken is not None)
