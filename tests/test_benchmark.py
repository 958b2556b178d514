"""The benchmark's cases and its judgement; what it times is never judged in a test."""

import pytest

from workbench.commands.benchmark import Row, invented_roster, large_case, what_if_case
from workbench.lifter import read_lifter
from workbench.reference.sources import data_path


@pytest.mark.parametrize(
    ("ratio", "at_most", "met"),
    [(1.5, True, True), (1.51, True, False), (1.5, False, True), (1.49, False, False), (None, True, None)],
)
def test_a_target_is_met_at_its_edge_and_not_past_it(ratio, at_most, met):
    row = Row("name", ratio, 1.5, at_most, "note")
    assert row.met is met
    assert row.as_dict() == {
        "name": "name",
        "ratio": ratio,
        "target": 1.5,
        "at_most": at_most,
        "note": "note",
        "met": met,
    }


def test_the_cases_have_the_sizes_that_the_targets_name():
    plan, draws = what_if_case()
    assert (plan.weeks, len(plan.sessions), plan.set_count, draws.count) == (8, 4, 4 * 20, 2000)
    plan, draws = large_case()
    groups = [len(slot.sets) for session in plan.block.sessions for slot in session.exercises]
    assert (plan.weeks, len(plan.sessions), sum(groups), draws.count) == (12, 5, 5 * 25, 2000)
    assert plan.set_count == 5 * 25 * 3


def test_invented_lifters_are_weaker_and_stronger_by_turns():
    base = read_lifter(data_path("demo", "lifters", "emre_sandoval.toml")).lift("back squat").one_rm
    roster = invented_roster(4)
    assert [one.name for one in roster] == ["Invented 0", "Invented 1", "Invented 2", "Invented 3"]
    # 0.6, then 0.7 % more for each of 37, 74 and 11 (111 less 100), to a tenth of a kilogram.
    factors = (0.6, 0.6 + 0.259, 0.6 + 0.518, 0.6 + 0.077)
    tenth = 0.0501
    assert [one.lift("back squat").one_rm for one in roster] == pytest.approx([base * by for by in factors], abs=tenth)
