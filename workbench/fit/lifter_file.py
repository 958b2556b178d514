"""The lifter file after the log: a new file beside the old one, never over it."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import scipy
import tomli_w
from scipy.special import ndtri

from workbench.fit.marginals import LEVELS
from workbench.lifter import Lift, Lifter
from workbench.lifter.belief import ALL, PLAIN, TENTH, Quantity, lower_triangle, off_scale, on_scale
from workbench.lifter.file import BEND, CARRIED, RECOVERY, SHARED
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import KG_PER_LB, SEED, FloatArray
from workbench.reference.toml_files import validate
from workbench.reference.whole_files import write_whole
from workbench.simulate.draws import lifts_given

if TYPE_CHECKING:
    from workbench.fit.learned import Learned, LearnedDraws
    from workbench.gym.catalogue import Catalogue

__all__ = ["lifter_text", "others_given", "updated_lifter", "write_lifter"]

_ENDURANCE_LIMITS: Final = (0.003, 0.3)
_FACTOR_LIMITS: Final = (0.2, 5.0)
#: Possible lifters whose spread and correlations are written down. Of so many, an end of an interval is known to 0.01
#: of an sd, a correlation to 0.007.
_DRAWS: Final = 20_000
#: On its scale, the ends of the interval of a fatigue form's parameter lie at least so far from its middle: a long log
#: may lead to the edge of what published sets leave possible, where middle and end are one.
_APART: Final = 0.01
#: What has a key of its own in the file.
_STATED: Final = (RECOVERY[1], CARRIED[1])
#: An sd below this is none: the fit took the value as given.
_EXACT: Final = 1e-9
#: Of a 1RM below this a tenth of a kilogram is no longer small beside what is not known of it.
_LIGHT_KG: Final = 20.0


@lru_cache(maxsize=4)
def updated_lifter(learned: Learned) -> Lifter:
    """Return the lifter with all that the log taught.

    Of logged exercises 1RM, endurance and date; the recovery rate, the carry-over where the log speaks of it, and the
    part of endurance that all exercises share: each with its 80 % interval, and how they go together. Exercises that an
    earlier log taught move along. ``learned`` gains the sets of the log, so that no later fit counts them twice.
    Everything else stays as it was.
    """
    before = learned.lifter
    if not learned.exercises:
        return before
    content: dict[str, Any] = before.model_dump(mode="python", exclude_none=True)
    lifts: dict[str, Any] = {name: _as_written(lift) for name, lift in before.lifts.items()}
    written = {before.catalogue.exercise(name).name: name for name in before.lifts}
    drawn = learned.draws(_DRAWS, np.random.default_rng(SEED))
    kept, columns = _kept(learned, drawn)
    for exercise in dict.fromkeys(name for name, _ in kept if name != ALL):
        name = written.get(exercise, exercise)
        one_rm, endurance = kept[exercise, "1RM"], kept[exercise, "endurance"]
        lifts[name] = _learned_lift(learned, exercise, one_rm, endurance, before.lifts.get(name))
    content["lifts"] = lifts
    content |= _factor("recovery_rate", "recovery_interval", kept[RECOVERY])
    if CARRIED in kept:
        content |= _factor("carry_over", "carry_over_interval", kept[CARRIED])
    others = {kind: values for (exercise, kind), values in kept.items() if exercise == ALL and kind not in _STATED}
    content["together"] = {
        "form": learned.fit.form.name if drawn.tiring is not None else "",
        "others": {name: [float(f"{value:.4g}") for value in values] for name, values in others.items()},
        "quantities": [kind if exercise == ALL else f"{exercise}, {kind}" for exercise, kind in kept],
        "correlations": lower_triangle(_correlations(columns)),
    }
    known = {name: dict(days) for name, days in (before.learned or {}).items()}
    for log in learned.fit.log.lifts:
        known.setdefault(log.exercise, {}).update({str(one.date): one.stamp for one in log.sessions})
    content["learned"] = {name: dict(sorted(days.items())) for name, days in known.items()}
    return validate(content, Lifter, context=before.catalogue)


def others_given(
    learned: Learned,
    drawn: LearnedDraws,
    exercises: tuple[str, ...],
    rng: np.random.Generator,
    catalogue: Catalogue | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Draw log 1RM and log endurance of exercises that are not in the log, as they go with what it taught.

    Parameters
    ----------
    learned : Learned
    drawn : LearnedDraws
        Possible lifters after the log.
    exercises : tuple of str
        The lifter file names them.
    rng : numpy.random.Generator
    catalogue : Catalogue, optional
        It knows the exercises; the lifter's where not given.

    Returns
    -------
    log_one_rm, log_endurance : array, shape (draws, exercises), [ln kg], [ln 1/rep]
    """
    before = learned.lifter
    of_all = {SHARED: drawn.shared, RECOVERY: np.log(drawn.recovery_rate), CARRIED: np.log(drawn.carry_over)}
    one_rm, own = rng.standard_normal((2, drawn.shared.size, len(exercises)))
    curve = learned.fit.curve.bent(drawn.bend)
    return lifts_given(before, exercises, of_all, one_rm, own, curve=curve, catalogue=catalogue)


def _kept(learned: Learned, drawn: LearnedDraws) -> tuple[dict[Quantity, FloatArray], FloatArray]:
    """Return low end, middle and high end of every quantity that is kept, and their draws as columns."""
    before = learned.lifter
    found: dict[Quantity, tuple[float | None, FloatArray]] = {}
    for column, name in enumerate(drawn.exercises):
        found[name, "1RM"] = (float(learned.one_rm(name).quantile(0.5)), drawn.log_one_rm[:, column])
        found[name, "endurance"] = (float(learned.endurance(name).quantile(0.5)), np.log(drawn.endurance[:, column]))
    others = tuple(
        name
        for name in (before.catalogue.exercise(written).name for written in before.lifts)
        if name not in drawn.exercises and before.goes_together((name, "1RM"))
    )
    log_one_rm, log_endurance = others_given(learned, drawn, others, np.random.default_rng([SEED, 1]))
    for column, name in enumerate(others):
        found[name, "1RM"] = (None, log_one_rm[:, column])
        found[name, "endurance"] = (None, log_endurance[:, column])
    found[RECOVERY] = (float(learned.recovery_rate.quantile(0.5)), np.log(drawn.recovery_rate))
    if learned.carry_over is not None or before.goes_together(CARRIED):
        median = None if learned.carry_over is None else learned.carry_over.median
        found[CARRIED] = (median, np.log(drawn.carry_over))
    found[SHARED] = (None, drawn.shared)
    found[ALL, "stated reserve"] = (None, drawn.reserve_bias)
    found[ALL, "gain"] = (None, 100.0 * drawn.gain.mean(axis=1))
    if drawn.bend is not None and learned.fit.curve.name == DEFAULT_CURVE.name:
        found[BEND] = (None, drawn.bend)
    for name, values in vars(drawn.tiring).items() if drawn.tiring is not None else ():
        found[ALL, name] = (None, on_scale(name, values[:, 0]))
    found = {name: one for name, one in found.items() if one[1].std() > _EXACT}
    kept = {}
    for (exercise, kind), (median, values) in found.items():
        low, middle, high = np.quantile(values, LEVELS)
        if kind == SHARED[1]:  # drawn on few points: its mean and sd are known better than its quantiles
            low, middle, high = values.mean() + values.std() * TENTH * np.array([-1.0, 0.0, 1.0])
        if exercise == ALL and kind not in _STATED:
            if kind not in PLAIN:
                low, high = min(low, middle - _APART), max(high, middle + _APART)
            kept[exercise, kind] = off_scale(kind, np.array([low, middle, high]))
        else:
            factors = np.exp([low - middle, 0.0, high - middle])
            kept[exercise, kind] = factors * (np.exp(middle) if median is None else median)
    return kept, np.column_stack([values for _, values in found.values()])


def _correlations(columns: FloatArray) -> FloatArray:
    """Return the correlations of the normal scores of the draws of each quantity."""
    return np.asarray(np.corrcoef(ndtri((scipy.stats.rankdata(columns, axis=0) - 0.5) / len(columns)), rowvar=False))


def _learned_lift(
    learned: Learned, exercise: str, one_rm: FloatArray, endurance: FloatArray, before: Lift | None
) -> dict[str, Any]:
    """Return one exercise as it is written, of low end, middle and high end of its 1RM, kg, and of its endurance."""
    lift = _as_written(before) if before is not None else {}
    for gone in ("uncertainty_percent", "reps_at", "from_set"):
        lift.pop(gone, None)
    if before is None and learned.lifter.catalogue.exercise(exercise).hands == 2:
        lift["each_hand"] = True
    low, middle, high = one_rm / (2.0 if lift.get("each_hand") else 1.0)
    if before is not None and before.kept_low_percent is not None:
        low, middle, high = (value * (1.0 - before.kept_low_percent / 100.0) for value in (low, middle, high))
    else:
        lift["known_from"] = "the log"
    unit, key = (KG_PER_LB, "one_rm_lb") if before is not None and before.in_pounds else (1.0, "one_rm_kg")
    lift[key] = round(middle / unit, 1 if middle >= _LIGHT_KG else 2)
    lift["one_rm_interval"] = _around(lift[key], one_rm)
    if exercise in learned.exercises:
        lift["tested"] = learned.today
    lift["endurance"] = round(_clipped(float(endurance[1]), _ENDURANCE_LIMITS), 4)
    lift["endurance_interval"] = _around(lift["endurance"], endurance)
    return lift


def _factor(name: str, interval: str, values: FloatArray) -> dict[str, Any]:
    middle = round(_clipped(float(values[1]), _FACTOR_LIMITS), 2)
    return {name: middle, interval: _around(middle, values)}


def _around(middle: float, values: FloatArray) -> list[float]:
    """Return the ends of an interval about its middle as it is written, so far off as those of three values."""
    return [float(f"{middle * values[end] / values[1]:.4g}") for end in (0, 2)]


def _clipped(value: float, limits: tuple[float, float]) -> float:
    return min(max(value, limits[0]), limits[1])


def _as_written(model: Lift | Lifter) -> dict[str, Any]:
    """Return what is worth writing down; the learned sets and what goes together have a place of their own."""
    content = model.model_dump(exclude_none=True, exclude={"learned", "together"})
    return {key: value for key, value in content.items() if value not in ("", [])}


def lifter_text(learned: Learned) -> str:
    """Return the updated lifter as the text of a TOML file."""
    lifter = updated_lifter(learned)
    known = lifter.learned or {}
    stamps = {(date, name): stamp for name, days in known.items() for date, stamp in days.items()}
    count = sum(int(stamp.partition(" ")[0]) for stamp in stamps.values())
    content = _as_written(lifter) | {"lifts": {name: _as_written(lift) for name, lift in lifter.lifts.items()}}
    return (
        f"# {lifter.name}, as learned from {count} logged sets, {min(stamps)[0]} to {max(stamps)[0]}.\n"
        "# They are listed at the end; a fit with this file skips them by itself.\n"
        "# An interval holds four in five: one in ten lies below its low end, one in ten above its high end.\n"
        f"{tomli_w.dumps(content)}\n"
        f"{_together_text(lifter)}"
        "# Sets that are in the numbers above: how many, and a digest of what the log said of them.\n"
        f"{tomli_w.dumps({'learned': known})}"
    )


def write_lifter(learned: Learned, path: str | Path, *, replace: bool = False) -> Path:
    """Write the updated lifter as a new TOML file.

    Raises
    ------
    InputError
        If there is a file of that name already (unless ``replace``), or it cannot be written.
    """
    return write_whole(path, lifter_text(learned), replace=replace)


def _together_text(lifter: Lifter) -> str:
    """Return how the numbers go together as TOML, a row of correlations a line."""
    if lifter.together is None:
        return ""
    quantities = ",\n".join(f"    {json.dumps(name, ensure_ascii=False)}" for name in lifter.together.quantities)
    rows = ",\n".join(f"    {row}" for row in lifter.together.correlations)
    others = "\n".join(f"{json.dumps(name)} = {values}" for name, values in lifter.together.others.items())
    return (
        "# How the numbers with an interval go together: a row is the correlation of one with all those before it.\n"
        "# A number that you type anew stands alone once you remove its interval.\n"
        f"[together]\nform = {json.dumps(lifter.together.form, ensure_ascii=False)}\n"
        f"quantities = [\n{quantities},\n]\ncorrelations = [\n{rows},\n]\n\n"
        "# What else the log spoke of: low end, middle and high end. Gain in % a week, stated reserve in reps.\n"
        "# Bend: how reps go otherwise than on the usual curve; above 0 more with light loads, fewer with heavy ones.\n"
        f"[together.others]\n{others}\n\n"
    )
