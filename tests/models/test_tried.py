"""An own curve or form is refused before it is used where it cannot be one, and says what to change."""

import functools
import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

import workbench
from workbench.evidence.scoring import curve_from, register
from workbench.models.fatigue import FORMS
from workbench.models.fatigue_form import FatigueForm
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import CURVES
from workbench.models.tried import tried_curve, tried_form
from workbench.quantities import InputError


def predict(**model):
    return workbench.predict_sets("bench press", [0.75], [0], draws=10, **model)


def straight(load_fraction, endurance):
    return 1 + (1 - load_fraction) / endurance


def in_python_alone(load_fraction, endurance):
    return 1 + math.log(1 / load_fraction) / endurance


def nothing(load_fraction, endurance):
    pass


@pytest.mark.parametrize("curve", [*CURVES.values(), curve_from(straight)], ids=lambda curve: curve.name)
def test_curves_that_are_some_pass(curve):
    assert tried_curve(curve) is curve


@pytest.mark.parametrize(
    ("reps", "said"),
    [
        (lambda x, k: 1 - (1 - x) / k, "fewer reps at 99 than at 100 % of 1RM; make the reps grow"),
        # Grows down to 60 % and falls from there: the first lighter load with fewer is 59 %.
        (lambda x, k: 1 + (0.4 - abs(x - 0.6)) / k, "fewer reps at 59 than at 60 % of 1RM"),
        (lambda x, k: np.where(x < 0.695, np.nan, straight(x, k)), "no number of reps at 69 % of 1RM; .*np.inf"),
        (lambda x, k: 2 + (1 - x) / k, "gives 2 reps at the 1RM; make it give 1"),
        # 1 rep of the more enduring, 2 of who tires sooner than the usual 0.03.
        (lambda x, k: 1 + (k > 0.04) + (1 - x) / k, "gives 2 reps at the 1RM; make it give 1"),
        (lambda x, k: straight(x, 0.03), "same reps whatever the endurance; divide"),
        (lambda x: straight(x, 0.03), r"takes 1 positional argument.*write it as reps\(load_fraction, endurance\)"),
        (lambda x, k: 1.0 if x > 0.9 else straight(x, k), "np.where for if"),
        (in_python_alone, "curve in_python_alone: .*np.exp for math.exp"),
        (nothing, "curve nothing: gives no number"),
    ],
)
def test_a_function_that_is_no_curve_is_refused_wherever_it_goes(reps, said):
    for take in (register, workbench.score, lambda curve: predict(curve=curve)):
        with pytest.raises(InputError, match=said):
            take(reps)


def test_a_curve_may_have_no_limit_below_a_floor_and_a_flat_part():
    def floor_reps(x, k):
        with np.errstate(divide="ignore"):
            return np.where(x > 0.4, 1 + np.maximum(0.9 - x, 0) / (k * np.maximum(x - 0.4, 0)), np.inf)

    floor = curve_from(floor_reps)
    assert tried_curve(floor) is floor


def test_a_curve_object_is_tried_as_a_function_is():
    falls = replace(CURVES["power"], reps=lambda load_fraction, *, parameters: np.asarray(load_fraction, dtype=float))
    with pytest.raises(InputError, match="curve power law: gives fewer reps at 99"):
        workbench.score(falls)


# One pool of tiredness; each fault of a form is one change of it.
@dataclass(frozen=True)
class Tired:
    cost_share: float = 0.4
    tau_s: float = 150.0


def work(state, headroom, fresh_reps, reps_wanted=np.inf, *, parameters):
    available = fresh_reps * (1 - state[0])
    done = np.minimum(available, reps_wanted) / fresh_reps
    return available, (state[0] + parameters.cost_share * (1 - state[0]) * done,)


FORM = FatigueForm("tired", ("tau_s",), work, Tired())


def with_reps(change):
    def changed(state, headroom, fresh_reps, reps_wanted=np.inf, *, parameters):
        reps, after = work(state, headroom, fresh_reps, reps_wanted, parameters=parameters)
        return change(reps, state[0], fresh_reps), after

    return replace(FORM, work=changed)


@pytest.mark.parametrize("form", [*FORMS.values(), *RIVALS.values(), FORM], ids=lambda form: form.name)
def test_forms_that_are_some_pass(form):
    # A twin has a function of its own, so the form of the workbench is tried too.
    twin = replace(form, work=functools.partial(form.work))
    assert tried_form(twin) is twin
    assert tried_form(form) is form


@pytest.mark.parametrize(
    ("form", "said"),
    [
        (with_reps(lambda reps, state, fresh: -reps), "fresh lifter -3, -10, -25 of 3, 10, 25 reps"),
        (with_reps(lambda reps, state, fresh: reps * np.nan), "fresh lifter nan"),
        # A fresh lifter has what is asked for, a tired one 2.4 times as many: 7.2 of 3.
        (with_reps(lambda reps, state, fresh: fresh * (1 + 3.5 * state)), "7.2, 24, 60 of 3, 10, 25 reps 0 s after"),
        (with_reps(lambda reps, state, fresh: fresh * (1 - 4 * state)), "-1.8, -6, -15 of 3, 10, 25 reps 0 s after"),
        (replace(FORM, parameters=Tired(tau_s=-1.0)), "60 s after failure; .*never less after a longer rest"),
        (replace(FORM, time_constants=("tau",)), r"time constants are \('tau',\); .*tau_s"),
        (replace(FORM, time_constants="tau_s"), "in a tuple"),
        (replace(FORM, parameters=Tired), r"no dataclass; give one with its values, as Tired\(\)"),
        (replace(FORM, parameters={"tau_s": 150.0}), "no dataclass"),
        (replace(FORM, work=lambda *given, **named: work(*given, **named)[0]), "unpack.*return the reps and the state"),
        (replace(FORM, work=lambda *given, **named: (work(*given, **named)[0], ())), "no tuple of 1"),
        (replace(FORM, work=lambda state, load, reps: (reps, state)), r"write it as work\(state, headroom, fresh_reps"),
    ],
)
def test_what_is_no_form_is_refused_wherever_it_goes(form, said):
    for take in (register, workbench.score, lambda form: predict(form=form)):
        with pytest.raises(InputError, match=said):
            take(form)


def test_a_form_that_recovers_and_tires_again_is_refused():
    # Half is left at once, all is back after 60 s, and less again after 300 s.
    state_after = {1.0: 0.5, math.exp(-60 / 150): 1.0, math.exp(-300 / 150): 0.9, 0.0: 1.0}

    def waves(state, headroom, fresh_reps, reps_wanted=np.inf, *, parameters):
        pool = np.broadcast_to(state[0], fresh_reps.shape)
        left = np.array([next(part for known, part in state_after.items() if abs(one - known) < 1e-9) for one in pool])
        return fresh_reps * left, (np.ones_like(fresh_reps),)

    with pytest.raises(InputError, match=r"2\.7, 9, 22\.5 of 3, 10, 25 reps 300 s after failure"):
        tried_form(replace(FORM, work=waves))
