"""All sessions of an exercise read on a grid: by arrays, or in one pass over its points where that is compiled."""

from __future__ import annotations

import importlib
import threading
from types import ModuleType
from typing import TYPE_CHECKING, Final

import numpy as np

from workbench.fit.evidence_sets import LARGEST_RESERVE
from workbench.fit.likelihood import CELL_SD, mistake_probability, rest_lengths
from workbench.models.load_reps import exponential_reps
from workbench.simulate import fused

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.fit.likelihood import SetReader
    from workbench.quantities import FloatArray

__all__ = ["load", "load_for", "load_soon", "read_lift"]

#: Sets of a log that repay loading at once.
_MANY_SETS: Final = 2000
#: Natural log of the least chance of a session that is told from none.
_LEAST_LOG_CHANCE: Final = -600.0

_compiled: ModuleType | None = None
_asked = False
_loading = threading.Lock()


def load() -> bool:
    """Load the compiled reading, from now on used by every fit of this process; say whether it is there.

    As `workbench.simulate.fused.load`, which it includes: compiled the first time after an installation, and kept.
    """
    global _compiled  # noqa: PLW0603 - what a process has loaded is a fact of the process
    if _compiled is None and fused.load():
        with _loading:
            if _compiled is None:
                module = importlib.import_module("workbench.fit.fused_reading")
                module.warm_up()
                _compiled = module
    return _compiled is not None


def load_soon() -> None:
    """Load the compiled reading beside other work; what is read meanwhile is read by arrays."""
    global _asked  # noqa: PLW0603 - as for `load`
    if not _asked:
        _asked = True
        threading.Thread(target=load, daemon=True).start()


def load_for(sets: int) -> None:
    """Load the compiled reading where a log of so many sets repays it, or where compiled sessions are there already."""
    if sets >= _MANY_SETS:
        load()
    elif fused.loaded():
        load_soon()


def read_lift(reader: SetReader, log: LiftLog, given: FloatArray) -> tuple[FloatArray, float]:
    """Read all sessions of an exercise.

    Parameters
    ----------
    reader : SetReader
    log : LiftLog
    given : array, shape (sets, pools, rates), [1]
        What other exercises had left when each set began.

    Returns
    -------
    likelihood : array, shape (sessions, rates, endurances, strengths)
        Probability of the sets of each session, up to a factor.
    log_factor : float
        Natural log of the product of these factors.
    """
    mistaken = np.array([mistake_probability(logged, reader.settings) for logged in log.sets])
    if _compiled is not None and _known(reader) and mistaken.min() > 0.0:
        least = np.add.reduceat(np.log(mistaken), log.first[:-1])
        if least.min() > _LEAST_LOG_CHANCE:
            return _by_points(_compiled, reader, log, given, mistaken)
    read = [reader.session(session, given[at]) for session, at in zip(log.sessions, log.places, strict=True)]
    return np.stack([likelihood for likelihood, _ in read]), sum(log_factor for _, log_factor in read)


def _known(reader: SetReader) -> bool:
    curve = reader.settings.curve
    return fused.form_named(reader.form) is not None and curve.reps is exponential_reps and curve.bend is None


def _by_points(
    compiled: ModuleType, reader: SetReader, log: LiftLog, given: FloatArray, mistaken: FloatArray
) -> tuple[FloatArray, float]:
    grid, settings, parameters, told = reader.grid, reader.settings, reader.parameters, log.told
    behind = np.array([reader.course.behind(session.date) for session in log.sessions])
    lengths, share = rest_lengths(reader.rest_nodes)
    longer = told["usual"] * reader.course.usual_rest + told["day"] * lengths[:, None]
    easy = [logged.ending == "stated" and logged.reserve >= LARGEST_RESERVE for logged in log.sets]
    endings = ["easy" if of else logged.ending for of, logged in zip(easy, log.sets, strict=True)]
    sessions = compiled.Sessions(
        first=log.first,
        unsure=np.add.reduceat(told["day"], log.first[:-1]) > 0.0,
        tired=given.any(axis=(1, 2)),
        ending=np.array([compiled.ENDINGS.index(ending) for ending in endings]),
        reps=told["reps"],
        reserve=told["reserve"],
        log_load=np.log(told["load_kg"]) - np.repeat(behind, np.diff(log.first)),
        added=reader.departures(log),
        mistaken=mistaken,
        rest_s=told["rest_s"] * np.exp(longer),
        share=share,
        given=given,
    )
    names = ("depletion_gain", "end_gain", "slow_share", "half_reps")
    rate = np.exp(grid.log_rate)
    points = compiled.Points(
        strength=np.tile(grid.log_strength, grid.log_endurance.size),
        per_headroom=np.repeat(np.exp(-grid.log_endurance), grid.log_strength.size),
        pace=np.stack([-rate / getattr(parameters, name) for name in reader.form.time_constants]),
        tiring=np.array([float(getattr(parameters, name, 0.0)) for name in names]),
        scatter=(settings.set_log_sd, CELL_SD * grid.strength_step, 1.0 - settings.mistake_chance),
        said=tuple(float(value) for value in vars(settings.reserve).values()),
        bend=reader.course.bend,
    )
    found = np.empty((len(log.sessions), *grid.shape))
    form = getattr(compiled, fused.form_named(reader.form) or "")
    written = found.reshape(len(found), rate.size, -1)
    fused.share_out(
        lambda low, high: compiled.read_sessions(form, sessions, points, low, high, written),
        points.strength.size,
        len(log.sets) * found[0].size,
    )
    largest = found.max(axis=(1, 2, 3))
    found /= largest[:, None, None, None]
    return found, float(np.log(largest).sum())
