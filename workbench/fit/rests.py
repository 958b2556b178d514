"""Rests of a log: how long where it does not say, how sure that is, and the clock of a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.fit.settings import FitSettings
from workbench.gym.catalogue import Catalogue

__all__ = ["LOGGED", "Clock", "RestSpread", "usual_rests"]

#: What is taken for usual of the scatter of rests from day to day counts as so many recorded days.
_AS_DAYS: Final = 3.0


@dataclass(frozen=True)
class RestSpread:
    """Natural-log sds of a rest that the log does not give: of the lifter's usual one, and of a day's about it."""

    usual: float = 0.0
    day: float = 0.0


#: Of a rest that is in the log.
LOGGED: Final = RestSpread()


def usual_rests(
    rows: pd.DataFrame, dates: pd.Series, catalogue: Catalogue, settings: FitSettings
) -> dict[str, tuple[float, RestSpread]]:
    """Usual rest of each exercise, s, and how far a rest that is not in the log may lie from it.

    What is recorded of the lifter is weighed against the settings, of the exercise against all exercises: a normal
    distribution of the logs, each day counted once.
    """
    known = {name for name in rows["exercise"].unique() if catalogue.knows(str(name))}
    called = {name: catalogue.exercise(str(name)).name for name in known}
    names = [called.get(name, "") for name in rows["exercise"]]
    table = pd.DataFrame(
        {"name": names, "date": dates.to_numpy(), "rest": rows.get("rest_s", np.nan)}, index=rows.index
    )
    later = table.duplicated(["name", "date"]) & (table["rest"] > 0)
    recorded = table[later].assign(rest=np.log(table["rest"][later].astype(float)))
    days = recorded.groupby(["name", "date"])["rest"].mean()
    day_sd = settings.rest_log_sd
    if len(days):
        off = days - days.groupby("name").transform("mean")
        day_sd = float(np.sqrt((_AS_DAYS * day_sd**2 + (off**2).sum()) / (_AS_DAYS + len(days))))

    def weighed(mean: float, sd: float, logs: pd.Series) -> tuple[float, float]:
        total = 1.0 / sd**2 + len(logs) / day_sd**2
        return (mean / sd**2 + float(logs.sum()) / day_sd**2) / total, total**-0.5

    mean, sd = weighed(float(np.log(settings.unknown_rest_s)), settings.usual_rest_log_sd, days)
    found = {}
    for name in dict.fromkeys(names):
        here = days[days.index.get_level_values("name") == name]
        usual, usual_sd = weighed(mean, float(np.hypot(sd, settings.rest_log_sd if len(days) else 0.0)), here)
        found[name] = float(np.exp(usual)), RestSpread(usual_sd, day_sd)
    return found


class Clock:
    """The clock of one day: how long each exercise has rested."""

    def __init__(self, unknown_rest_s: float, usual: Mapping[str, tuple[float, RestSpread]]) -> None:
        self.now = 0.0
        self.unknown_rest_s, self.usual = unknown_rest_s, usual
        self.last_end: dict[str, float] = {}

    def start(self, exercise: str, rest: Any) -> tuple[float, RestSpread]:
        """Move on by the rest; return the rest of this exercise and how well it is known."""
        last, spread = self.last_end.get(exercise), LOGGED
        if rest is not None and not pd.isna(rest):
            self.now += max(float(rest), 0.0)
        elif last is not None:
            usual, spread = self.usual[exercise]
            self.now += usual
        elif self.last_end:
            self.now += self.unknown_rest_s
        return (0.0 if last is None else self.now - last), spread

    def end(self, exercise: str, seconds: float) -> None:
        """Move on by the set."""
        self.now += seconds
        self.last_end[exercise] = self.now
