"""The answer of a search: the plan found, the trade-off around it, and why it cannot be more."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from workbench.answers.decide.limits import label_of, of_chance
from workbench.answers.decide.trial import Bench, Trial
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import amount

__all__ = ["Decision", "answer_of", "front_of"]


@dataclass(frozen=True, repr=False)
class Decision(Answer):
    """What was found.

    Attributes
    ----------
    chosen : Block or None
        The most demanding plan within the limits; None where no plan tried keeps them.
    settings : str
        Its knobs in words; of the plan that comes closest where none keeps the limits.
    demand : float, [the unit of demand_label]
        Of that plan.
    chance : float, [1]
        That all reps of the block are made.
    weakest : str
        Where the least likely set of the whole block is in that plan, whether a knob turns it or not, and its chance.
    candidates : DataFrame
        One row a plan tried at full precision: settings; demand [its own unit]; chance [1]; allowed; then one column
        for each limit's quantity [its own unit].
    front : DataFrame
        Plans within all limits but those on the chance, of which none is both more demanding and more likely:
        settings; demand [its own unit]; chance [1]; allowed, chosen. From least to most demanding.
    limits : DataFrame
        One row a limit: limit; value, bound [its own unit]; binds, reason (what would be possible without it).
    steps : DataFrame
        One row for each knob one value harder: change; demand [its own unit]; breaks (which limits, and by what value;
        empty where it is no more demanding).
    demand_label : str
    tried : int, [1]
        Plans tried in all.
    finished : bool
        False where the search was stopped.
    method : str
        "every plan" or "search".
    """

    chosen: Block | None
    settings: str
    demand: float
    chance: float
    weakest: str
    candidates: pd.DataFrame
    front: pd.DataFrame
    limits: pd.DataFrame
    steps: pd.DataFrame
    demand_label: str
    tried: int
    finished: bool
    method: str

    @property
    def notes(self) -> tuple[str, ...]:
        """The limits that bind, and what would be possible without each."""
        return tuple(f"{row['limit']}: {row['reason']}" for row in self.limits.to_dict("records") if row["binds"])

    def sentences(self) -> list[str]:
        """Say the plan that was found, or the one that comes closest, and how it was searched for."""
        found = "Most demanding plan within the limits" if self.chosen else "No plan keeps the limits; closest"
        return [
            f"{found}: {self.settings}",
            f"{self.demand_label}: {amount(self.demand)}",
            f"chance that all reps of the block are made: {self.chance:.0%}",
            f"least likely set of the block: {self.weakest}",
            f"{self.tried} plans tried ({self.method})" + ("" if self.finished else "; stopped before the end"),
        ]


def front_of(trials: Iterable[Trial]) -> list[Trial]:
    """Return the trials of which no other is both at least as demanding and more likely, or the reverse."""
    kept: list[Trial] = []
    best_chance = -1.0
    for one in sorted(trials, key=lambda trial: (-trial.demand, -trial.chance, trial.place)):
        if one.chance > best_chance:
            kept.append(one)
            best_chance = one.chance
    return kept[::-1]


def answer_of(bench: Bench, *, tried: int, finished: bool, method: str) -> Decision:
    """Sum up the trials of a bench."""
    best = bench.best
    if best is None:
        raise RuntimeError("nothing was tried")
    trials = list(bench.trials.values())
    fixed = [number for number, limit in enumerate(bench.limits) if not of_chance(limit.quantity)]
    eligible = [
        one for one in trials if all(bench.limits[number].shortfall(one.values[number]) == 0 for number in fixed)
    ]
    front = front_of([*eligible, best] if best.allowed else eligible)
    rows = [(bench.words(one.place), one.demand, one.chance, one.allowed, *one.values) for one in trials]
    columns = ["settings", "demand", "chance", "allowed", *(limit.quantity for limit in bench.limits)]
    front_rows = [
        (bench.words(one.place), one.demand, one.chance, one.allowed, best.allowed and one.place == best.place)
        for one in front
    ]
    return Decision(
        chosen=bench.changed(best.place) if best.allowed else None,
        settings=bench.words(best.place),
        demand=best.demand,
        chance=best.chance,
        weakest=best.weakest,
        candidates=pd.DataFrame(rows, columns=columns),
        front=pd.DataFrame(front_rows, columns=["settings", "demand", "chance", "allowed", "chosen"]),
        limits=_limits(bench, best, trials),
        steps=_steps(bench, best),
        demand_label=label_of(bench.demand, bench.room.unit),
        tried=tried,
        finished=finished,
        method=method,
    )


def _limits(bench: Bench, best: Trial, trials: list[Trial]) -> pd.DataFrame:
    rows = []
    for number, limit in enumerate(bench.limits):
        kept = limit.shortfall(best.values[number]) == 0
        if not best.allowed:
            reason = (
                "kept by the plan that comes closest" if kept else "no plan tried keeps it together with the others"
            )
            if not kept and limit.quantity in {"set_chance", "all_reps"}:
                reason += f"; least likely here: {best.weakest}"
            rows.append((str(limit), best.values[number], limit.bound, not kept, reason))
            continue
        others = [
            one
            for one in trials
            if one.demand > best.demand
            and all(other.shortfall(one.values[at]) == 0 for at, other in enumerate(bench.limits) if at != number)
        ]
        if not others:
            rows.append(
                (str(limit), best.values[number], limit.bound, False, "nothing more demanding was kept out by it")
            )
            continue
        most = max(others, key=lambda one: one.demand)
        where = f" ({most.weakest})" if limit.quantity in {"set_chance", "all_reps"} else ""
        reason = (
            f"without it: {bench.words(most.place)}; demand {amount(most.demand)} in place of {amount(best.demand)}, "
            f"but {label_of(limit.quantity, bench.room.unit)} {amount(most.values[number])}{where}"
        )
        rows.append((str(limit), best.values[number], limit.bound, True, reason))
    return pd.DataFrame(rows, columns=["limit", "value", "bound", "binds", "reason"])


def _steps(bench: Bench, best: Trial) -> pd.DataFrame:
    """Each knob moved by one value, either way, where that demands more: which limits that breaks."""
    rows = []
    for place in bench.neighbours(best.place):
        one = bench.trials.get(place)
        if one is None or one.demand <= best.demand:
            continue
        at = next(number for number, (a, b) in enumerate(zip(place, best.place, strict=True)) if a != b)
        broken = [
            f"{label_of(limit.quantity, bench.room.unit)} {amount(value)}, limit {limit.bound:g}"
            for limit, value in zip(bench.limits, one.values, strict=True)
            if limit.shortfall(value) > 0
        ]
        knob = bench.knobs[at]
        rows.append((knob.shown(knob.values[place[at]]), one.demand, "; ".join(broken)))
    return pd.DataFrame(rows, columns=["change", "demand", "breaks"])
