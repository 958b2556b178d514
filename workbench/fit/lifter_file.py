"""The lifter file after the log: a new file beside the old one, never over it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomli_w

from workbench.lifter import Lift, Lifter
from workbench.quantities import KG_PER_LB
from workbench.reference.toml_files import validate
from workbench.reference.whole_files import write_whole

if TYPE_CHECKING:
    from workbench.fit.learned import Learned

__all__ = ["lifter_text", "updated_lifter", "write_lifter"]

#: A posterior narrower than this part of its prior has learned something worth writing down.
_LEARNED = 0.9
_ENDURANCE_LIMITS = (0.003, 0.3)
_FACTOR_LIMITS = (0.2, 5.0)


def updated_lifter(learned: Learned) -> Lifter:
    """Return the lifter with the medians that the log taught.

    1RMs of logged exercises, with their uncertainty and date; endurance, recovery rate and the carry-over between
    exercises where the log narrowed them. ``learned`` gains the sets of the log, so that no later fit counts them
    twice. Everything else stays as it was.
    """
    before = learned.lifter
    content: dict[str, Any] = before.model_dump(mode="python", exclude_none=True)
    lifts: dict[str, Any] = {name: _as_written(lift) for name, lift in before.lifts.items()}
    written = {before.catalogue.exercise(name).name: name for name in before.lifts}
    for number, exercise in enumerate(learned.exercises):
        name = written.get(exercise, exercise)
        lifts[name] = _learned_lift(learned, number, before.lifts.get(name))
    content["lifts"] = lifts
    known = {name: dict(days) for name, days in (before.learned or {}).items()}
    for log in learned.fit.log.lifts:
        known.setdefault(log.exercise, {}).update({str(one.date): one.stamp for one in log.sessions})
    content["learned"] = {name: dict(sorted(days.items())) for name, days in known.items()}
    rate = learned.recovery_rate
    if rate.sd < _LEARNED * learned.fit.rate.log_sd:
        content["recovery_rate"] = round(_clipped(float(rate.quantile(0.5)), _FACTOR_LIMITS), 2)
    carried = learned.carry_over
    if carried is not None and carried.learned.sd < _LEARNED * carried.prior.log_sd:
        content["carry_over"] = round(_clipped(carried.median, _FACTOR_LIMITS), 2)
    return validate(content, Lifter, context=before.catalogue)


def _learned_lift(learned: Learned, number: int, before: Lift | None) -> dict[str, Any]:
    exercise = learned.exercises[number]
    one_rm, endurance = learned.one_rm(exercise), learned.endurance(exercise)
    kg = float(one_rm.quantile(0.5))
    lift = _as_written(before) if before is not None else {}
    if before is None and learned.lifter.catalogue.exercise(exercise).hands == 2:
        lift["each_hand"] = True
    if lift.get("each_hand"):
        kg /= 2.0
    if lift.pop("one_rm_lb", None) is not None:
        lift["one_rm_lb"] = round(kg / KG_PER_LB, 1)
    else:
        lift["one_rm_kg"] = round(kg, 1)
    lift["uncertainty_percent"] = round(min(100.0 * one_rm.sd, 40.0), 1)
    lift["tested"] = learned.today
    if endurance.sd < _LEARNED * learned.fit.lifts[number].prior.endurance.log_sd:
        lift.pop("reps_at", None)
        lift["endurance"] = round(_clipped(float(endurance.quantile(0.5)), _ENDURANCE_LIMITS), 4)
    return lift


def _clipped(value: float, limits: tuple[float, float]) -> float:
    return min(max(value, limits[0]), limits[1])


def _as_written(model: Lift | Lifter) -> dict[str, Any]:
    """Return what is worth writing down; the learned sets have a place of their own."""
    content = model.model_dump(exclude_none=True, exclude={"learned"})
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
        f"{tomli_w.dumps(content)}\n"
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
