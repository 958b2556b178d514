"""What can go: sessions worked by hand, brute force over subsets, and the clock and gains of a real session."""

import itertools

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from workbench.answers.session import session_question
from workbench.answers.what_can_go import Option, ways_to_save, what_can_go
from workbench.gym.catalogue import MUSCLES
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

NOTHING = Option((0,), 0.0, np.zeros(2))


def one(removed: int, seconds: float, *hard: float) -> Option:
    return Option((removed,), seconds, np.array(hard, dtype=float))


#: Two muscles, A and B. Three exercises: one of A (two sets of 100 s, each a hard set of A), one of B (the same for B),
#: one of both (one set of 150 s: half a hard set of each).
OF_A = [NOTHING, one(1, 100, 1, 0), one(2, 200, 2, 0)]
OF_B = [NOTHING, one(1, 100, 0, 1), one(2, 200, 0, 2)]
OF_BOTH = [NOTHING, one(1, 150, 0.5, 0.5)]
EVERYTHING = [OF_A, OF_B, OF_BOTH]


@pytest.mark.parametrize(
    ("wanted_s", "hard", "targets", "removed", "cost"),
    [
        # A has 6 of 4: two sets of it may go for nothing. 100 s: one set of A.
        (100, (6, 3), (4, 4), (1, 0, 0), 0.0),
        (200, (6, 3), (4, 4), (2, 0, 0), 0.0),
        # 250 s: with both sets of A the set of both costs 0.5 of A (3.5 of 4 are left) and 0.5 of B: 1. With one of A:
        # A has 4.5, free; B loses 0.5. So 0.5.
        (250, (6, 3), (4, 4), (1, 0, 1), 0.5),
        # B has more than enough, A too little: B goes.
        (100, (2, 9), (4, 4), (0, 1, 0), 0.0),
        (200, (2, 9), (4, 4), (0, 2, 0), 0.0),
        # Both far above: what loses fewest hard sets. 150 s: the set of both loses one, two of A or B lose two.
        (150, (9, 9), (4, 4), (0, 0, 1), 0.0),
        # A below the target: a set of it costs 1. B has 4.2 of 4: a set of it costs 0.8.
        (100, (2, 4.2), (4, 4), (0, 1, 0), 0.8),
        # 120 s: a set of A is not enough; the set of both costs 1.
        (120, (2, 2), (4, 4), (0, 0, 1), 1.0),
        # A is wanted for nothing: A goes whatever it is.
        (200, (2, 2), (0, 4), (2, 0, 0), 0.0),
        # A 4.5 of 4: half a set may go for nothing, so one set of A costs 0.5; B exactly on target, so one costs 1.
        (100, (4.5, 4), (4, 4), (1, 0, 0), 0.5),
    ],
)
def test_ten_sessions_by_hand(wanted_s, hard, targets, removed, cost):
    best = ways_to_save(EVERYTHING, wanted_s, 550, np.array(hard, float), np.array(targets, float))[0]
    assert tuple(option.removed[0] for option in best.options) == removed
    assert best.cost == pytest.approx(cost)
    assert best.seconds >= wanted_s


def test_not_everything_may_go():
    """All of it is 550 s; the most that may go is 450 s."""
    ways = ways_to_save(EVERYTHING, 0, 550, np.full(2, 9.0), np.full(2, 4.0))
    assert max(way.seconds for way in ways) < 550
    assert ways_to_save(EVERYTHING, 451, 550, np.full(2, 9.0), np.full(2, 4.0)) == []
    assert len(ways_to_save(EVERYTHING, 450, 550, np.full(2, 9.0), np.full(2, 4.0))) > 0


@pytest.mark.parametrize("seed", range(20))
def test_the_best_of_all_subsets(seed):
    """Plain loops over every way of small invented sessions."""
    rng = np.random.default_rng(seed)
    options = []
    for _ in range(4):
        times, hard = rng.integers(30, 200, 3), rng.random((3, 5))
        options.append([Option((count,), float(times[:count].sum()), hard[:count].sum(axis=0)) for count in range(4)])
    week, targets, wanted_s = rng.random(5) * 8, rng.random(5) * 8, float(rng.integers(50, 600))
    whole_s = sum(each[-1].seconds for each in options)
    best = np.inf
    for way in itertools.product(*options):
        seconds, lost = sum(each.seconds for each in way), sum(each.hard for each in way)
        if seconds < wanted_s or all(each.removed == (3,) for each in way):
            continue
        cost = sum(min(week[m], targets[m]) - min(max(week[m] - lost[m], 0), targets[m]) for m in range(5))
        best = min(best, cost + 0.01 * lost.sum())
    found = ways_to_save(options, wanted_s, whole_s, week, targets)[0]
    assert found.cost + 0.01 * found.hard.sum() == pytest.approx(best, abs=1e-6)


def gym(sets=4):
    """Two presses that share the triceps, and a row that does not."""
    lifts = {"bench press": 100.0, "close-grip bench press": 85.0, "seated cable row": 80.0}
    slots = [
        {"exercise": name, "ramp": False, "sets": [{"count": sets, "reps": 8, "percent": 72.5, "rest_s": 120}]}
        for name in lifts
    ]
    block = {"name": "b", "weeks": 2, "sessions": [{"name": "one", "exercises": slots}]}
    return validate(block, Block), lifter_of(lifts), hall()


def test_minutes_are_those_of_the_shorter_session():
    """The session without the sets that go, planned anew by another door, is as much shorter as is said."""
    block, lifter, room = gym()
    found = what_can_go(block, lifter, room, minutes=6)
    best = found.ways.iloc[0]
    assert best["minutes"] >= 6
    name = best["leave_out"].rpartition(" of ")[2]
    count = 1 if best["leave_out"].startswith("the last") else int(best["leave_out"].split()[0])
    slot = [each.exercise for each in block.sessions[0].exercises].index(name)
    content = block.model_dump(exclude_none=True)
    content["sessions"][0]["exercises"][slot]["sets"][0]["count"] -= count
    shorter = validate(content, Block)
    before, after = (session_question(each, lifter, room, draws=50).minutes for each in (block, shorter))
    assert before - after == pytest.approx(best["minutes"], abs=0.01)


def test_what_stays_gains_from_less_carry_over():
    """Without the bench press the close-grip press finds fresh triceps; the row shares nothing of weight with it."""
    block, lifter, room = gym()
    wanted = dict.fromkeys(MUSCLES, 0.0) | {"lats": 20.0, "upper back": 20.0}
    keep = ["close-grip bench press", "seated cable row"]
    found = what_can_go(
        block, lifter, room, minutes=8, targets={k: v for k, v in wanted.items() if k in MUSCLES}, keep=keep
    )
    assert found.ways.iloc[0]["leave_out"] == "bench press"
    gain = (found.gains["after"] - found.gains["before"]).groupby(found.gains["exercise"]).max()
    assert gain["close-grip bench press"] > 0.5
    assert abs(gain["seated cable row"]) < 0.3
    assert "bench press" not in set(found.gains["exercise"])


def test_what_is_kept_or_done_cannot_go():
    block, lifter, room = gym()
    found = what_can_go(block, lifter, room, minutes=4, keep=["bench press", "close-grip bench press"])
    assert all("row" in text and "press" not in text for text in found.ways["leave_out"])
    half = what_can_go(
        block, lifter, room, minutes=1, done={"bench press": 3, "close-grip bench press": 4, "seated cable row": 4}
    )
    assert list(half.ways["leave_out"]) == ["the last set of bench press"]
    none = what_can_go(
        block, lifter, room, minutes=10, keep=["bench press", "close-grip bench press", "seated cable row"]
    )
    assert not len(none.ways)
    assert "Nothing short of the whole session" in none.sentences()[0]


def test_hard_sets_of_the_week_are_those_of_the_volume_page():
    """Hard sets before anything goes: a mean within the middle 80 % of the volume page, and beside its median."""
    from workbench.public import volume

    block, lifter, room = gym()
    found = what_can_go(block, lifter, room, minutes=10)
    counted = volume(block, lifter, room).muscles.query("week == 1").set_index("muscle")
    for row in found.muscles.to_dict("records"):
        one = counted.loc[row["muscle"]]
        assert one["hard_low"] < row["before"] < one["hard_high"]
        assert row["before"] == pytest.approx(one["hard"], rel=0.3)
        assert row["after"] < row["before"]


@pytest.mark.parametrize(
    ("more", "said"),
    [({"targets": {"heart": 3}}, "heart"), ({"keep": ["no such lift"]}, "no such lift"), ({"week": 9}, "week")],
)
def test_what_cannot_be_is_refused(more, said):
    block, lifter, room = gym(sets=2)
    with pytest.raises(InputError, match=said):
        what_can_go(block, lifter, room, minutes=3, **more)
