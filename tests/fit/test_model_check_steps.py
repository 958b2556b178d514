"""How a log is held against wider models, step by step: what is asked, of which exercises, and what counts as found."""

from __future__ import annotations

import datetime
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit import FitSettings, model_check
from workbench.fit.likelihood import Course, Grid
from workbench.fit.marginals import LogNormal
from workbench.fit.model_check import _conflicts, _departures, _Evidence, _fitted, _z, check_model
from workbench.models.fatigue import DEFAULT_FORM

#: How large a plausible departure is.
SIZES = {"from set to set": 0.05, "from week to week": 0.03, "from load to load": 2.5, "scatter": 0.3}


def checked(monkeypatch, rows, level=0.05):
    """Return the check of some departures and conflicts: exercise, kind and z."""
    monkeypatch.setattr(model_check, "_departures", lambda fit: [row for row in rows if row[1] in SIZES])
    monkeypatch.setattr(model_check, "_conflicts", lambda *learned: [row for row in rows if row[1] not in SIZES])
    return check_model(None, [], [], None, level=level)


def test_chances_are_of_both_sides_and_of_scatter_of_the_upper_one(monkeypatch):
    rows = [("a", kind, z) for z in (-2.2, -0.3, 1.7, 2.5) for kind in (*SIZES, "endurance", "1RM", "recovery")]
    table = checked(monkeypatch, rows).departures
    assert len(table) == len(rows)
    for row in table.itertuples():
        expected = norm.sf(row.z) if row.kind == "scatter" else 2.0 * norm.sf(abs(row.z))
        assert row.chance == pytest.approx(expected, rel=1e-9)
    assert table["chance"].is_monotonic_increasing
    assert table.index.tolist() == list(range(len(rows)))


def test_departures_as_clear_as_each_other_keep_their_order(monkeypatch):
    rows = [(name, "endurance", 1.0) for name in "edcab"]
    assert checked(monkeypatch, rows).departures["exercise"].tolist() == list("edcab")


def test_the_level_is_shared_out_within_the_file_and_within_the_rest(monkeypatch):
    """Of 0.1, two 1RMs have 0.05 each, 1.96 sds; five others 0.02 each, 2.326 sds."""
    rows = [("a", "1RM", 1.95), ("b", "1RM", -1.97)]
    rows += [("a", "endurance", 2.32), ("b", "endurance", -2.33), ("all", "recovery", 0.0)]
    rows += [("a", "scatter", 2.05), ("b", "scatter", 2.06)]  # of one side, 2.054 sds
    check = checked(monkeypatch, rows, level=0.1)
    found = {(row.exercise, row.kind) for row in check.found.itertuples()}
    assert found == {("b", "1RM"), ("b", "endurance"), ("b", "scatter")}
    assert check.level == 0.1


def test_the_accepted_chance_is_one_in_twenty(monkeypatch):
    for z, found in ((1.95, 0), (1.97, 1)):
        monkeypatch.setattr(model_check, "_departures", lambda fit: [])
        monkeypatch.setattr(model_check, "_conflicts", lambda *learned, z=z: [("a", "1RM", z)])
        assert len(check_model(None, [], [], None).found) == found


def test_a_note_says_the_three_clearest_and_which_way(monkeypatch):
    rows = [
        ("squat", "from set to set", -6.04),
        ("all", "scatter", 7.0),
        ("row", "1RM", 5.0),
        ("row", "endurance", -4.9),
    ]
    (note,) = checked(monkeypatch, rows).notes
    assert note == (
        "The log contradicts the model: all exercises together: reps scatter more from set to set than it takes for "
        "usual (7.0 sd); squat: later sets of a day give fewer reps than its fatigue explains (6.0 sd); row: the sets "
        "speak of a higher 1RM than the lifter file, by more than it allows for (5.0 sd). 1RM, endurance and recovery "
        "are then less sure than their intervals say: plan from sets really done."
    )
    assert checked(monkeypatch, [("squat", "scatter", 0.1)]).notes == ()


# Which wider models


@pytest.mark.parametrize(
    ("count", "groups"), [(1, [(0,)]), (2, [(0,), (1,), (0, 1)]), (3, [(0,), (1,), (2,), (0, 1, 2)]), (0, [])]
)
def test_every_departure_is_looked_for_in_each_exercise_and_in_all_together(monkeypatch, count, groups):
    asked = []
    fit = SimpleNamespace(lifts=[SimpleNamespace(exercise=f"lift {number}") for number in range(count)])
    monkeypatch.setattr(model_check, "_Evidence", lambda fit: "evidence")

    def z(evidence, kind, group):
        asked.append((kind, group))
        return None if (kind, group) == ("scatter", (0,)) else float(len(asked))

    monkeypatch.setattr(model_check, "_z", z)
    found = list(_departures(fit))
    assert asked == [(kind, group) for kind in SIZES for group in groups]
    expected = [
        (f"lift {group[0]}" if len(group) == 1 else "all", kind, float(number))
        for number, (kind, group) in enumerate(asked, start=1)
        if (kind, group) != ("scatter", (0,))
    ]
    assert found == expected


@pytest.mark.parametrize("kind", SIZES)
def test_only_the_exercises_of_a_group_depart_by_so_many_plausible_sizes(monkeypatch, kind):
    """Each exercise in each of its ways is fitted once, however often it is asked for."""
    asked = []

    def fitted(fit, number, kind, by):
        asked.append((number, kind, by))
        return number, kind, by

    monkeypatch.setattr(model_check, "_fitted", fitted)
    monkeypatch.setattr(
        model_check, "combine", lambda lifts, rate, log_rate: SimpleNamespace(log_evidence=(lifts, rate, log_rate))
    )
    fit = SimpleNamespace(lifts=[None] * 3, rate="rate", joint=SimpleNamespace(log_rate="points"))
    evidence = _Evidence(fit)
    none = [(number, "", 0.0) for number in range(3)]
    assert evidence("", (), 0.0) == (none, "rate", "points")
    assert evidence(kind, (1,), -0.5)[0] == [none[0], (1, kind, -0.5 * SIZES[kind]), none[2]]
    departing = [(number, kind, SIZES[kind]) for number in (0, 2)]
    assert evidence(kind, (0, 2), 1.0)[0] == [departing[0], none[1], departing[1]]
    evidence(kind, (0, 1, 2), 1.0)
    assert asked == [*none, (1, kind, -0.5 * SIZES[kind]), *departing, (1, kind, SIZES[kind])]


@pytest.mark.parametrize(
    ("slope", "bend", "z"),
    [
        # A bend of one says as much as one sd of plausible size: from there on it is read.
        (1.5, 1.05, 1.5 / 1.05**0.5),
        (1.5, 0.95, None),
        # Otherwise a step of plausible size has to gain 2.
        (2.1, 0.0, 4.2**0.5),
        (1.9, 0.0, None),
        (-2.6, 0.95, -((2.0 * 2.125) ** 0.5)),
        (-2.4, 0.95, None),
    ],
)
def test_a_departure_of_which_the_log_says_next_to_nothing_is_not_looked_for(slope, bend, z):
    found = _z(lambda kind, group, size: 3.0 + slope * size - 0.5 * bend * size**2, "scatter", (0,))
    assert found is None if z is None else found == pytest.approx(z, rel=1e-6)


def test_a_bend_of_just_one_is_enough():
    """A step of a twentieth below loses its square, one above nothing: slope -1/40 over root of one."""
    values = {0.0: 0.0, -0.05: 0.0, 0.05: -(0.05**2), -1.0: 0.0}
    assert _z(lambda kind, group, size: values[size], "scatter", (0,)) == pytest.approx(-0.025)


def test_the_slope_and_bend_are_read_near_the_model():
    """A cubic adds its third power of the step, a twentieth, over the step: 4 / 400 to a slope of 3."""
    found = _z(lambda kind, group, size: 3.0 * size - 2.0 * size**2 + 4.0 * size**3, "scatter", (0,))
    assert found == pytest.approx((3.0 + 4.0 * 0.05**2) / 4.0**0.5, rel=1e-4)


@pytest.mark.parametrize(("kind", "by"), [("scatter", 0.3), ("scatter", -0.015), ("from set to set", 0.05), ("", 0.0)])
def test_an_exercise_is_read_on_every_other_point_with_what_departs(monkeypatch, kind, by):
    grid = Grid(np.linspace(-1, 1, 5), np.linspace(-4, -3, 7), np.linspace(4, 5, 9))
    prior, course, settings = object(), Course(gain=0.01), FitSettings(set_log_sd=0.08)
    lifts = [None, SimpleNamespace(grid=grid, course=course, prior=prior)]
    session = SimpleNamespace(date=datetime.date(2026, 1, 5), sets=[])
    log = SimpleNamespace(sessions=[session])
    fit = SimpleNamespace(
        lifts=lifts,
        log=SimpleNamespace(lifts=[None, log]),
        settings=settings,
        form=DEFAULT_FORM,
        parameters=DEFAULT_FORM.parameters,
        given=[None, "given"],
        today="today",
    )
    monkeypatch.setattr(model_check, "fit_lift", lambda *asked: asked)
    reader, of_log, of_prior, given, today = _fitted(fit, 1, kind, by)
    assert (of_log, of_prior, given, today) == (log, prior, "given", "today")
    assert reader.grid.same_as(
        Grid(grid.log_rate, grid.log_endurance[[0, 2, 4, 6]], grid.log_strength[[0, 2, 4, 6, 8]])
    )
    assert reader.settings.set_log_sd == pytest.approx(0.08 * np.exp(by if kind == "scatter" else 0.0))
    assert (reader.course, reader.form, reader.parameters) == (course, DEFAULT_FORM, DEFAULT_FORM.parameters)
    assert reader.settings.day_sd == settings.day_sd
    if kind == "from set to set":
        assert reader.departure(session, 3, None) == pytest.approx(3 * by)
    else:
        assert reader.departure is None


# What was learned against the file and all lifters


def test_what_was_learned_is_held_against_where_it_started():
    """Prior sds 0.1, 0.2 and 0.3, what was learned 0.06, 0.12 and 0.18: means scatter by 0.08, 0.16 and 0.24."""
    day = datetime.date(2026, 1, 5)
    one_rm = SimpleNamespace(log_mean=4.0, log_sd=0.1, date=day)
    endurance = LogNormal(-3.5, 0.2)
    lifts = [
        SimpleNamespace(exercise="a", prior=SimpleNamespace(one_rm=one_rm, endurance=endurance, guessed=False)),
        SimpleNamespace(exercise="b", prior=SimpleNamespace(one_rm=one_rm, endurance=endurance, guessed=True)),
    ]
    log = SimpleNamespace(sessions=[SimpleNamespace(date=day)])
    fit = SimpleNamespace(
        lifts=lifts,
        rate=LogNormal(0.1, 0.3),
        log=SimpleNamespace(lifts=[log, log]),
        today=day + datetime.timedelta(weeks=9),
        settings=SimpleNamespace(drift_sd=0.02),
        unknowns=None,
    )

    def learned(mean, sd):
        return SimpleNamespace(mean=mean, sd=sd)

    strong, lasting = [learned(4.1, 0.06), learned(9.0, 0.01)], [learned(-3.34, 0.12), learned(-3.66, 0.12)]
    found = list(_conflicts(fit, strong, lasting, learned(0.34, 0.18)))
    assert [row[:2] for row in found] == [("a", "endurance"), ("a", "1RM"), ("b", "endurance"), ("all", "recovery")]
    # The 1RM may have drifted by 0.06 in nine weeks: root of 0.1^2 + 0.06^2 - 0.06^2.
    assert [row[2] for row in found] == pytest.approx([1.0, 1.0, -1.0, 1.0])
    fit.lifts = []
    assert list(_conflicts(fit, [], [], None)) == []
