"""What every load-reps curve and every fatigue form keeps, tried on a few loads before one of a person's own is used.

A curve that gives more reps with a heavier load, or a form that gives a tired lifter more than a fresh one, would make
a plan look safer than any lifter is; a value that is no number would come to light far from the line that made it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import is_dataclass
from typing import Any, Final

import numpy as np

from workbench.models.fatigue import FORMS
from workbench.models.fatigue_form import FatigueForm
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import Curve
from workbench.quantities import FloatArray, InputError

__all__ = ["tried_curve", "tried_form", "tried_reps"]

#: Shares of 1RM from the heaviest down: every percent at which a published row or a plan may lie.
_LOADS: Final = np.arange(100, 29, -1) / 100.0
#: Endurances [1/rep] of a tireless, a usual and an easily tired lifter.
_ENDURANCES: Final = np.array([0.02, 0.03, 0.05])
#: Fresh reps of a heavy, a usual and a light load, and their headrooms at an endurance of 0.03 (r - 1) / rep.
_FRESH: Final = np.array([3.0, 10.0, 25.0])
_HEADROOM: Final = 0.03 * (_FRESH - 1.0)
#: Rests [s] from none to one as long as any that was studied.
_RESTS: Final = (0.0, 60.0, 300.0)
#: Rounding of a few operations on reps.
_ROUNDING: Final = 1e-6
_SHIPPED: Final = {form.work for form in (*FORMS.values(), *RIVALS.values())}


def tried_curve(curve: Curve) -> Curve:
    """Return a curve that gives reps: 1 at the 1RM, and never fewer with a lighter load.

    Raises
    ------
    InputError
        One that does not, saying where.
    """
    reps = np.asarray(curve.reps(_LOADS, parameters=curve.start), dtype=np.float64)
    _refuse_falling(f"curve {curve.name}", np.broadcast_to(reps, _LOADS.shape)[:, None])
    return curve


def tried_reps(name: str, reps: Callable[[FloatArray, FloatArray], Any]) -> None:
    """Refuse a plain function that is no ``reps(load_fraction, endurance)``.

    Parameters
    ----------
    name : str
    reps : callable
        Takes arrays that broadcast, the load over 1RM [1] and the endurance [1/rep]; gives reps, infinite where nothing
        limits them: 1 at the 1RM, more with a lighter load, fewer with a larger endurance.

    Raises
    ------
    InputError
        One that cannot be worked out, gives no reps, or is the same for every lifter.
    """
    place = f"curve {name}"
    try:
        table = np.asarray(reps(_LOADS[:, None], _ENDURANCES), dtype=np.float64)
        table = np.broadcast_to(table, (_LOADS.size, _ENDURANCES.size))
    except (TypeError, ValueError) as error:
        wanted = "write it as reps(load_fraction, endurance), of numpy arrays: np.exp for math.exp, np.where for if"
        raise InputError(None, place, f"cannot be worked out ({error})", wanted) from error
    _refuse_falling(place, table)
    if np.array_equal(table, np.broadcast_to(table[:, :1], table.shape)):
        remedy = "divide what lies beyond the first rep by it, as in 1 + (1 - load_fraction) / endurance"
        raise InputError(None, place, "gives the same reps whatever the endurance", remedy)


def _refuse_falling(place: str, table: FloatArray) -> None:
    """Refuse reps, a row a load of `_LOADS`, that are no number, not 1 at the 1RM, or fewer with a lighter load."""
    unknown, fewer = np.isnan(table).any(axis=1), (table[1:] < table[:-1] - _ROUNDING).any(axis=1)
    if unknown.any():
        problem = f"gives no number of reps at {100 * _LOADS[unknown][0]:.0f} % of 1RM"
        raise InputError(None, place, problem, "make it give one, np.inf where nothing limits the reps")
    if not np.all(np.abs(table[0] - 1.0) < _ROUNDING):
        problem = f"gives {table[0].max():g} reps at the 1RM"
        raise InputError(None, place, problem, "make it give 1 rep at a load fraction of 1")
    if fewer.any():
        at = int(np.argmax(fewer))
        problem = f"gives fewer reps at {100 * _LOADS[at + 1]:.0f} than at {100 * _LOADS[at]:.0f} % of 1RM"
        raise InputError(None, place, problem, "make the reps grow as the load falls")


def tried_form(form: FatigueForm) -> FatigueForm:
    """Return a form that keeps the rules of `workbench.models.fatigue_form`.

    Raises
    ------
    InputError
        One whose parts do not fit together, that gives a fresh lifter other than the fresh reps, a tired one more than
        those or less than none, or fewer after a longer rest.
    """
    if form.work in _SHIPPED:
        return form
    place = f"form {form.name}"
    if not is_dataclass(form.parameters) or isinstance(form.parameters, type):
        raise InputError(None, place, "its parameters are no dataclass", "give one with its values, as Tired()")
    names: Any = form.time_constants  # a text where the comma was forgotten
    if isinstance(names, str) or not set(names) <= set(form.parameter_names):
        problem = f"its time constants are {names!r}"
        raise InputError(None, place, problem, f'name them in a tuple, as ("tau_s",), of {list(form.parameter_names)}')
    fresh, after = _worked(form, form.fresh(_FRESH.shape))
    if not np.allclose(fresh, _FRESH, rtol=_ROUNDING):
        problem = f"gives a fresh lifter {_said(fresh)} of {_said(_FRESH)} reps"
        raise InputError(None, place, problem, "make it give all of fresh_reps where the state is 0")
    least = np.zeros_like(_FRESH)
    for seconds in _RESTS:
        left, _ = _worked(form, form.rest(after, seconds))
        if not np.all((left >= least - _ROUNDING) & (left <= _FRESH + _ROUNDING)):
            problem = f"gives {_said(left)} of {_said(_FRESH)} reps {seconds:.0f} s after failure"
            remedy = "make it give 0 to fresh_reps, and never less after a longer rest"
            raise InputError(None, place, problem, remedy)
        least = left
    return form


def _worked(form: FatigueForm, state: Any) -> tuple[FloatArray, Any]:
    """Return the reps of a set to failure and the state after it."""
    try:
        reps, after = form.work(state, _HEADROOM, _FRESH, np.inf, parameters=form.parameters)
        reps, after = np.broadcast_to(np.asarray(reps, dtype=np.float64), _FRESH.shape), tuple(after)
        if len(after) != form.pools or any(np.shape(pool) not in {(), _FRESH.shape} for pool in after):
            raise ValueError(f"the state after a set is no tuple of {form.pools}, one a time constant")
    except (TypeError, ValueError) as error:
        wanted = (
            "write it as work(state, headroom, fresh_reps, reps_wanted, *, parameters), of numpy arrays, and return "
            "the reps and the state"
        )
        raise InputError(None, f"form {form.name}", f"work cannot be worked out ({error})", wanted) from error
    return reps, after


def _said(reps: FloatArray) -> str:
    return ", ".join(f"{value:.3g}" for value in reps)
