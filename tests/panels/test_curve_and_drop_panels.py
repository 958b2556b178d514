"""The curve and the drop panel: moving a control by code changes figure, table and sentence as it should."""

from __future__ import annotations

import pytest

from workbench.panels import CurvePanel, DropPanel

SEED, DRAWS = 3, 400


@pytest.fixture
def curve() -> CurvePanel:
    made = CurvePanel(seed=SEED, draws=DRAWS)
    assert made.trouble.value == ""
    return made


@pytest.fixture
def drop() -> DropPanel:
    made = DropPanel(seed=SEED, draws=DRAWS)
    assert made.trouble.value == ""
    return made


def named(panel: CurvePanel | DropPanel, name: str) -> object:
    """Trace of a panel's main figure by its name; None where there is none."""
    return next((trace for trace in panel.figure.shown.data if trace.name == name), None)


def test_a_heavier_load_leaves_fewer_reps_and_moves_the_dot(curve: CurvePanel) -> None:
    loads = [kg for _, kg in curve.controls.load.options]
    curve.controls.load.value = loads[0]
    light = named(curve, "chosen load").y[0]
    curve.controls.load.value = loads[-1]
    heavy = named(curve, "chosen load").y[0]
    assert heavy < light
    assert f"At {loads[-1]:g} kg" in curve.answer.value


def test_more_reps_wanted_are_less_likely(curve: CurvePanel) -> None:
    chances = []
    for reps in (2, 8, 20):
        curve.controls.reps.value = reps
        assert curve.last is not None
        chances.append(float(curve.last.at_load["chance"].iloc[0]))
        assert f"{reps} reps or more" in curve.answer.value
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[-1]


def test_equations_come_and_go(curve: CurvePanel) -> None:
    curve.controls.equations.value = ()
    assert named(curve, "Epley 1985") is None
    assert "Epley" not in curve.rows.value
    curve.controls.equations.value = ("epley_1985",)
    assert named(curve, "Epley 1985") is not None
    assert "Epley 1985" in curve.rows.value


def test_own_sets_are_drawn_and_nonsense_is_one_plain_line(curve: CurvePanel) -> None:
    curve.controls.own_sets.value = "72 x 9; 63 kg x 14"
    own = named(curve, "own sets")
    assert list(own.y) == [9, 14]
    assert list(own.x) == pytest.approx([80.0, 70.0])  # of this lifter's 90 kg
    curve.controls.own_sets.value = "<b>many</b>"
    assert "is not a set" in curve.trouble.value
    assert "<b>" not in curve.trouble.value
    curve.controls.own_sets.value = ""
    assert curve.trouble.value == ""
    assert named(curve, "own sets") is None


def test_extrapolation_is_marked(curve: CurvePanel) -> None:
    dotted = named(curve, "extrapolated")
    drawn = [x for x, y in zip(dotted.x, dotted.y, strict=True) if y == y]
    assert drawn
    assert all(x < 60 or x > 95 for x in drawn)
    assert dotted.line.dash == "dot"


@pytest.mark.parametrize("made", [CurvePanel, DropPanel])
def test_every_exercise_of_every_lifter_answers_or_says_why_not(made: type[CurvePanel | DropPanel]) -> None:
    panel = made(seed=SEED, draws=20)
    answered = 0
    for lifter in [path for _, path in panel.controls.lifter.choice.options if path][:2]:
        for room in [path for _, path in panel.controls.room.choice.options if path]:
            panel.controls.lifter.choice.value, panel.controls.room.choice.value = lifter, room
            for exercise in panel.controls.exercise.options:
                panel.controls.exercise.value = exercise
                assert panel.trouble.value == "" or panel.trouble.value.startswith("This cannot be used")
                answered += panel.trouble.value == ""
    assert answered > 20


def test_the_drop_advice_is_a_load_of_the_room_with_the_reps_wanted(drop: DropPanel) -> None:
    for reps in (4, 10):
        drop.controls.reps.value = reps
        assert drop.last is not None
        advised = drop.last.advised
        assert advised["reps_p50"] >= reps
        assert f"drop to {advised['load_kg']:g} kg" in drop.answer.value
        assert advised["load_kg"] in list(drop.last.drops["load_kg"])


def test_a_faster_change_of_load_gives_no_more_reps(drop: DropPanel) -> None:
    drop.controls.change.value = 60
    slow = list(named(drop, "worth it").y)
    drop.controls.change.value = 0
    assert drop.last is not None
    fast = list(drop.last.drops["reps_p50"])
    assert sum(fast) < sum(slow)


def test_a_chain_has_as_many_bars_as_drops_and_ends_at_zero(drop: DropPanel) -> None:
    for sizes, bars in (((20, 20, 20), 4), ((20, 0, 20), 2), ((0, 20, 20), 1)):
        for slider, size in zip(drop.controls.drops, sizes, strict=True):
            slider.value = size
        assert len(drop.chain.shown.data[0].x) == bars
    assert drop.chain.shown.data[0].x[0].startswith("first set")


def test_drops_always_say_that_they_are_assumed(drop: DropPanel) -> None:
    assert "assumed" in drop.answer.value
    assert "assumed" in drop.rows.value
    assert "Assumed" in drop.figure.shown.layout.annotations[-1].text
    assert "Assumed" in drop.chain.shown.layout.annotations[-1].text
    assert "assumed" in drop.text()
