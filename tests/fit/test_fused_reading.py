"""Sessions read in one pass over the points of a grid: the same as by arrays; and when they are read so."""

import datetime
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import erfcx, ndtr

from tests.fit.test_agreement import short_log
from workbench.fit import FitSettings, fit_log, fused_reading, reading
from workbench.fit.evidence_sets import LARGEST_RESERVE, LiftLog, LoggedSession, LoggedSet
from workbench.fit.likelihood import Course, Grid, SetReader
from workbench.fit.rests import LOGGED, RestSpread
from workbench.models.fatigue import EFFORT, FORMS, STEEP_END
from workbench.models.load_reps import CURVES
from workbench.simulate.fused_sets import BLOCK

#: Some hundred operations a set, in another order, over some five sets that each may be near their mistakes.
ROUNDING = 1e-12
DAY_0 = datetime.date(2026, 1, 5)
#: Rates, endurances and strengths from below most of the loads to above them, as near to each other as those of a fit.
GRID = Grid(np.log([0.5, 1.0, 2.5]), np.log([0.015, 0.04]), np.log(78.0) + 0.02 * np.arange(12))
#: One with more points than are worked on together.
LARGE_GRID = Grid(np.log([0.7, 1.5]), np.log([0.02, 0.05]), np.linspace(np.log(70), np.log(120), BLOCK // 2 + 1))
SETTINGS = FitSettings(stopped_by_feel=True)
#: Where how a cell lies about the 1RM counts, since single sets scatter less.
WIDE_CELLS = replace(SETTINGS, set_log_sd=1e-3)


@pytest.fixture(scope="module")
def by_points(core):
    """The module that reads point by point."""
    return core(fused_reading)


def set_of(reps, ending, reserve=np.nan, *, load=80.0, rest=120.0, unsure=LOGGED):
    return LoggedSet(0, load, reps, ending, reserve, rest, unsure=unsure)


#: Every way in which a set is read, at loads that stay and that change, a failed single and a rep that was none.
SESSIONS = (
    [set_of(5, "completed"), set_of(5, "stated", 2.0), set_of(5, "stated", 0.0), set_of(6, "failed")],
    [set_of(8, "felt", 1.0, load=70.0), set_of(1, "felt", 0.5, load=85.0, rest=0.0), set_of(0, "failed", load=110.0)],
    [set_of(3, "stated", LARGEST_RESERVE, load=50.0), set_of(25, "completed", load=50.0, rest=30.0)],
    [set_of(6, "completed"), set_of(6, "failed", unsure=RestSpread(0.35, 0.3)), set_of(5, "stated", 1.0)],
    [set_of(4, "stated", 0.5), set_of(4, "stated", 0.4, rest=60.0), set_of(1, "felt", 4.0), set_of(2, "felt", 4.0)],
    [set_of(1, "felt", 2.0, load=95.0), set_of(1, "completed", load=95.0), set_of(0, "failed", load=95.0, rest=20.0)],
)


def log_of(sessions):
    days = [DAY_0 + datetime.timedelta(days=3 * number) for number in range(len(sessions))]
    return LiftLog(
        "back squat", tuple(LoggedSession(day, tuple(sets)) for day, sets in zip(days, sessions, strict=True))
    )


def read_both_ways(monkeypatch, by_points, log, given=None, **more):
    """Natural log of the chance of each session at each point, up to that of the likeliest, and of all factors."""
    form, grid = more.pop("form", STEEP_END), more.pop("grid", GRID)
    fields = {"rest_nodes": 3, "course": Course(0.004, log.sessions[-1].date, 0.7)} | more
    reader = SetReader(grid, form, form.parameters, fields.pop("settings", SETTINGS), **fields)
    given = np.zeros((log.set_count, form.pools, grid.log_rate.size)) if given is None else given
    found = []
    for module in (None, by_points):
        monkeypatch.setattr(reading, "_compiled", module)
        likelihood, log_factor = reading.read_lift(reader, log, given)
        largest = likelihood.max(axis=(1, 2, 3), keepdims=True)
        all_of_it = np.log(likelihood).sum(axis=0) + log_factor
        found.append(np.concatenate([np.log(likelihood / largest), all_of_it[None]]))
    assert likelihood.max(axis=(1, 2, 3)).tolist() == [1.0] * len(log.sessions), "no product of days is out of range"
    return found


@pytest.mark.parametrize("form", [STEEP_END, EFFORT])
@pytest.mark.parametrize("number", range(len(SESSIONS)))
def test_a_session_as_by_arrays(monkeypatch, by_points, form, number):
    arrays, points = read_both_ways(monkeypatch, by_points, log_of(SESSIONS[number : number + 1]), form=form)
    assert points == pytest.approx(arrays, abs=ROUNDING)


def test_a_log_as_by_arrays_with_what_others_had_left(monkeypatch, by_points):
    log = log_of(SESSIONS)
    given = 0.2 * np.random.default_rng(1).random((log.set_count, 3, GRID.log_rate.size))
    given[[0, 5]] = 0.0
    given[2, 0], given[3, :, 0] = 0.0, 0.0  # of one pool, and at one rate, nothing
    arrays, points = read_both_ways(monkeypatch, by_points, log, given)
    assert points == pytest.approx(arrays, abs=ROUNDING)
    untouched, _ = read_both_ways(monkeypatch, by_points, log)
    assert np.abs(untouched - arrays).max() > 1.0, "what was left counts"


@pytest.mark.parametrize("bend", [-0.8, 1.0, 8.0])
def test_a_curve_that_bends_as_by_arrays(monkeypatch, by_points, bend):
    """How steep it is is read over a step of 1e-4, so that rounding comes out some 1e4 times as large."""
    log = log_of(SESSIONS)
    course = Course(0.004, log.sessions[-1].date, 0.7, bend)
    arrays, points = read_both_ways(monkeypatch, by_points, log, course=course)
    assert points == pytest.approx(arrays, abs=1e4 * ROUNDING)
    straight, _ = read_both_ways(monkeypatch, by_points, log)
    assert np.abs(straight - arrays).max() > 1.0, "the bend counts"


def test_where_the_curve_ends_its_slope_is_that_of_both_sides(monkeypatch, by_points):
    """At the 1RM, over which nothing bends: a step of the headroom to one side decides what the slope is."""
    grid = replace(GRID, log_strength=np.log(80.0) + np.array([-5e-3, -1.05e-4, -0.95e-4, 0.0, 0.95e-4, 1.05e-4]))
    log = log_of([[set_of(1, "completed"), set_of(1, "failed")]])
    course = Course(bend=8.0)
    arrays, points = read_both_ways(monkeypatch, by_points, log, course=course, grid=grid, settings=WIDE_CELLS)
    assert points == pytest.approx(arrays, abs=1e4 * ROUNDING)


def test_more_points_than_are_worked_together(monkeypatch, by_points):
    assert LARGE_GRID.log_endurance.size * LARGE_GRID.log_strength.size > BLOCK
    log = log_of([[set_of(5, "completed"), set_of(5, "stated", 1.0), set_of(5, "failed", load=90.0)]])
    arrays, points = read_both_ways(monkeypatch, by_points, log, grid=LARGE_GRID)
    assert points == pytest.approx(arrays, abs=ROUNDING)


def test_only_the_points_that_are_asked_for_are_read(monkeypatch, by_points):
    """Each thread reads some of them."""
    log = log_of(SESSIONS[:1])
    whole, _ = both = read_both_ways(monkeypatch, by_points, log)
    assert both[1] == pytest.approx(whole, abs=ROUNDING)
    asked = []

    def in_parts(work, points, size):
        asked.append((points, size))
        work(3, 7)
        work(0, 3)
        work(7, points)

    monkeypatch.setattr(reading.fused, "share_out", in_parts)
    arrays, points = read_both_ways(monkeypatch, by_points, log)
    assert points == pytest.approx(arrays, abs=ROUNDING)
    assert asked == [(2 * 12, 4 * 3 * 2 * 12)]


def test_a_departure_as_by_arrays(monkeypatch, by_points):
    log = log_of(SESSIONS)
    arrays, points = read_both_ways(
        monkeypatch, by_points, log, departure=lambda session, number, logged: 0.05 * number - 0.01 * logged.reps
    )
    assert points == pytest.approx(arrays, abs=ROUNDING)


def test_other_settings_as_by_arrays(monkeypatch, by_points):
    reserve = replace(SETTINGS.reserve, bias_at_turn=1.3, turn_reps=9.0, sd_at_failure=0.4, farthest=3.0)
    settings = replace(SETTINGS, reserve=reserve, set_log_sd=0.12, mistake_chance=0.03)
    arrays, points = read_both_ways(monkeypatch, by_points, log_of(SESSIONS), settings=settings)
    assert points == pytest.approx(arrays, abs=ROUNDING)


def test_the_polynomial_of_the_tail_is_as_near_as_it_is_said_to_be():
    x = np.linspace(0.0, 27.0, 4001)
    middle = fused_reading._MIDDLE
    found = np.polynomial.polynomial.polyval((x - middle) / (x + middle), fused_reading._TAIL)
    assert found == pytest.approx(erfcx(x) * (1.0 + 2.0 * x), rel=4e-15, abs=0.0)


def test_what_is_compiled_is_compiled_once(monkeypatch):
    """What is loaded is what is used, whatever the log."""
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    monkeypatch.setattr(reading, "_compiled", None)
    monkeypatch.setattr(reading.fused, "_compiled", None)
    monkeypatch.delenv("WORKBENCH_FUSED", raising=False)
    assert reading.load()
    read_both_ways(monkeypatch, fused_reading, log_of(SESSIONS))
    assert len(fused_reading.read_sessions.signatures) <= 1, "none, where compiling is switched off"


def test_reading_nothing_is_reading(by_points):
    by_points.warm_up()


def test_the_normal_distribution_far_out(by_points):
    """Against scipy, whose own error in the far tail is some 1e-14; farther than 37 sds there is as good as nothing."""
    z = np.linspace(-36.9, 36.9, 7381)
    found = z.copy()
    by_points.normal_below(found)
    assert found == pytest.approx(ndtr(z), rel=5e-14, abs=0.0)
    far = np.array([-np.inf, -50.0, 50.0, np.inf])
    by_points.normal_below(far)
    assert far == pytest.approx([0.0, 0.0, 1.0, 1.0], abs=1e-298)


@pytest.mark.parametrize(
    ("form", "curve", "mistakes", "sets"),
    [
        (FORMS["two states"], "exponential", 0.005, 1),
        (replace(STEEP_END, time_constants=("slow_tau_s",) * 3), "exponential", 0.005, 1),
        (STEEP_END, "power", 0.005, 1),
        (STEEP_END, "exponential", 0.0, 1),
        (STEEP_END, "exponential", 0.005, 80),
    ],
    ids=["another form", "other pools", "another curve", "no mistakes", "a long session"],
)
def test_what_is_read_by_arrays_all_the_same(monkeypatch, form, curve, mistakes, sets):
    """Where the equations are others, or a plain product of the sets could be less than the smallest number."""
    monkeypatch.setattr(reading, "_compiled", object())  # which can read nothing
    settings = replace(SETTINGS, curve=CURVES[curve], mistake_chance=mistakes)
    log = log_of([[set_of(5, "failed")] * sets])
    reader = SetReader(GRID, form, form.parameters, settings)
    likelihood, _ = reading.read_lift(reader, log, np.zeros((sets, 3, 3)))
    assert np.array_equal(likelihood[0], reader.session(log.sessions[0])[0])


def test_a_fit_comes_out_the_same(monkeypatch):
    """Its slopes are read over steps of 1e-5, so that rounding comes out some 1e5 times as large."""
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    log, lifter = short_log(0, sessions=3)
    found = []
    for module in (None, fused_reading):
        monkeypatch.setattr(reading, "_compiled", module)
        found.append(fit_log(log, lifter, settings=SETTINGS).summary().select_dtypes("number").to_numpy())
    assert found[1] == pytest.approx(found[0], rel=1e-6, nan_ok=True)


@pytest.mark.parametrize(("sets", "sessions_loaded", "wanted"), [(1999, False, []), (2000, False, ["load"])])
def test_who_loads_it(monkeypatch, sets, sessions_loaded, wanted):
    asked = []
    monkeypatch.setattr(reading, "load", lambda: asked.append("load"))
    monkeypatch.setattr(reading, "load_soon", lambda: asked.append("soon"))
    monkeypatch.setattr(reading.fused, "loaded", lambda: sessions_loaded)
    reading.load_for(sets)
    assert asked == wanted


def test_compiled_sessions_have_it_loaded_beside_other_work(monkeypatch):
    asked = []
    monkeypatch.setattr(reading, "load", lambda: asked.append("load"))
    monkeypatch.setattr(reading, "load_soon", lambda: asked.append("soon"))
    monkeypatch.setattr(reading.fused, "loaded", lambda: True)
    for sets in (1, 2000):
        reading.load_for(sets)
    assert asked == ["soon", "load"]


@pytest.fixture
def other(monkeypatch):
    """A module to be loaded that counts how often it is, and is warmed up."""
    found = SimpleNamespace(asked=[], warm=0)

    def warm_up():
        found.warm += 1

    module = SimpleNamespace(warm_up=warm_up)
    monkeypatch.setattr(reading, "_compiled", None)
    monkeypatch.setattr(reading.fused, "load", lambda: True)
    imports = SimpleNamespace(import_module=lambda name: found.asked.append(name) or module)
    monkeypatch.setattr(reading, "importlib", imports)
    found.module = module
    return found


def test_it_is_loaded_once(other, monkeypatch):
    assert reading.load()
    assert reading._compiled is other.module
    monkeypatch.setattr(reading.fused, "load", lambda: pytest.fail("is there already"))
    assert reading.load()
    assert (other.asked, other.warm) == (["workbench.fit.fused_reading"], 1)


def test_it_is_not_loaded_again_where_another_thread_was_faster(other, monkeypatch):
    def meanwhile():
        reading._compiled = "that of the other thread"
        return True

    monkeypatch.setattr(reading.fused, "load", meanwhile)
    assert reading.load()
    assert (reading._compiled, other.asked) == ("that of the other thread", [])


def test_it_is_asked_for_once_beside_other_work(monkeypatch):
    """In a thread that keeps no process from its end."""
    started = []

    def thread(target, daemon):
        return SimpleNamespace(start=lambda: started.append((target, daemon)))

    monkeypatch.setattr(reading, "_asked", False)
    monkeypatch.setattr(reading, "threading", SimpleNamespace(Thread=thread))
    reading.load_soon()
    reading.load_soon()
    assert started == [(reading.load, True)]


def test_the_chance_of_a_session_that_is_told_from_none(monkeypatch):
    """Each set may be a mistake by one in ten thousand: 65 of them are e to the -599, 66 e to the -608."""
    read = []
    monkeypatch.setattr(reading, "_compiled", "compiled")
    monkeypatch.setattr(reading, "_by_points", lambda *_: read.append("by points") or "found")
    monkeypatch.setattr(reading, "mistake_probability", lambda logged, settings: 1e-4)
    log = log_of([[set_of(5, "failed")] * 65, [set_of(5, "failed")] * 3])
    reader = SetReader(GRID, STEEP_END, STEEP_END.parameters, SETTINGS)
    assert reading.read_lift(reader, log, np.zeros((68, 3, 3))) == "found"
    log = log_of([[set_of(5, "failed")] * 3, [set_of(5, "failed")] * 66])
    reading.read_lift(reader, log, np.zeros((69, 3, 3)))
    assert read == ["by points"]


def test_it_stays_away_where_compiled_sets_do(monkeypatch):
    monkeypatch.setattr(reading, "_compiled", None)
    monkeypatch.setattr(reading.fused, "_compiled", None)
    monkeypatch.setenv("WORKBENCH_FUSED", "0")
    assert not reading.load()
