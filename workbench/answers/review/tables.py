"""Scores put together: means of every forecaster, what became of chances, and the workbench against its rivals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
import scipy

from workbench.answers.review.walk import WORKBENCH
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED

__all__ = ["FEW", "SET", "against", "calls", "calls_said", "expected_reserve", "measures", "weeks_of_history"]

#: What tells a set from all others.
SET: Final = ["lifter", "date", "exercise", "set"]
#: Of fewer sets nothing is said (assumed): their share is known to a tenth at best.
FEW: Final = 30
#: Chances that are spoken of together, and what they are called.
_CALLED: Final = (
    (0.0, 0.5, "under 50 %"),
    (0.5, 0.7, "about 60 %"),
    (0.7, 0.9, "about 80 %"),
    (0.9, 1.01, "over 90 %"),
)
#: Weeks of history that are looked at together.
_WEEKS: Final = ((1, 1, "1"), (2, 2, "2"), (3, 4, "3 to 4"), (5, 8, "5 to 8"), (9, 16, "9 to 16"), (17, 9999, "17 on"))
#: Whole reps in reserve to expect of sets with prescribed reps.
_DISTANCES: Final = (
    (-np.inf, -0.5, "short"),
    (-0.5, 0.5, "0"),
    (0.5, 2.5, "1 to 2"),
    (2.5, 4.5, "3 to 4"),
    (4.5, np.inf, "5 or more"),
)
_RESAMPLES: Final = 2000
#: Lifters from which on an interval is taken over lifters; below, over their days.
_LIFTERS: Final = 5
#: What is compared, and the score that tells it.
_COMPARED: Final = (("reps", "crps"), ("made or missed", "brier"))


def measures(scores: pd.DataFrame, by: Sequence[str] = ()) -> pd.DataFrame:
    """Average scores of every forecaster, by some columns.

    Parameters
    ----------
    scores : DataFrame
        As `workbench.answers.review.scored` gives them.
    by : sequence of str

    Returns
    -------
    DataFrame
        The columns of ``by``; forecaster; sets; crps [reps] (of all); to_failure (number of such sets), error (mean of
        its size), bias [reps], inside_50, inside_80 [1], width_50, width_80 [reps]; prescribed (number of such sets),
        made, chance (means), brier, log_score [1].
    """
    open_ended = scores["inside_80"].notna()
    table = scores.assign(
        size=scores["error"].abs(),
        width_50=(scores["high_50"] - scores["low_50"]).where(open_ended),
        width_80=(scores["high_80"] - scores["low_80"]).where(open_ended),
        chance=scores["chance"].where(scores["made"].notna()),
    )
    means = {name: (name, "mean") for name in ("inside_50", "inside_80", "width_50", "width_80")}
    found = table.groupby([*by, "forecaster"], sort=False).agg(
        sets=("crps", "count"),
        crps=("crps", "mean"),
        to_failure=("inside_80", "count"),
        error=("size", "mean"),
        bias=("error", "mean"),
        **means,
        prescribed=("made", "count"),
        **{name: (name, "mean") for name in ("made", "chance", "brier", "log_score")},
    )
    return found.reset_index()


def weeks_of_history(scores: pd.DataFrame) -> pd.Series:
    """Return the weeks of history of each score, in words: those that are looked at together."""
    week = scores["week"]
    said = np.select([week.between(low, high) for low, high, _ in _WEEKS], [name for *_, name in _WEEKS], "")
    return pd.Series(said, index=scores.index)


def expected_reserve(scores: pd.DataFrame) -> pd.Series:
    """Return in words how far from failure the workbench expected each set to end; "" where nothing was prescribed."""
    mine = scores[scores["forecaster"] == WORKBENCH]
    left = mine["middle"] - mine["low"]
    said = np.select(
        [(low < left) & (left <= high) for low, high, _ in _DISTANCES], [name for *_, name in _DISTANCES], ""
    )
    of_set = mine[SET].assign(said=np.where(np.isinf(mine["high"]), "to failure", said))
    found = scores[SET].merge(of_set, on=SET, how="left")["said"].fillna("")
    return pd.Series(found.to_numpy(), index=scores.index)


def calls(scores: pd.DataFrame) -> pd.DataFrame:
    """How often sets were made that were called by a chance.

    Parameters
    ----------
    scores : DataFrame
        Of one forecaster, with chance and made.

    Returns
    -------
    DataFrame
        called (words); sets; chance (mean) [1]; made (number); share [1]; low, high (how many would be made 8 times in
        10 were every chance right).
    """
    told = scores[scores["made"].notna()]
    rows: list[tuple[Any, ...]] = []
    for low, high, name in _CALLED:
        here = told[(told["chance"] >= low) & (told["chance"] < high)]
        count, made = len(here), int(here["made"].sum())
        chance, share = (float(here["chance"].mean()), made / count) if count else (np.nan, np.nan)
        rows.append((name, count, chance, made, share, *scipy.stats.binom.ppf([0.1, 0.9], max(count, 1), chance)))
    return pd.DataFrame(rows, columns=["called", "sets", "chance", "made", "share", "low", "high"])


def calls_said(table: pd.DataFrame) -> list[str]:
    """Say what became of chances; of how many sets too few are known is said too.

    >>> columns = ["called", "sets", "chance", "made", "share", "low", "high"]
    >>> calls_said(pd.DataFrame([("about 80 %", 100, 0.81, 78, 0.78, 76.0, 86.0)], columns=columns))
    ['Of 100 sets called about 80 %, 78 were made (78 %; called 81 % in the mean: as it should be).']
    """
    many = table[table["sets"] >= FEW]
    lines = []
    for row in many.to_dict("records"):
        fewer = "fewer than called" if row["made"] < row["low"] else "more than called"
        how = "as it should be" if row["low"] <= row["made"] <= row["high"] else fewer
        lines.append(
            f"Of {row['sets']} sets called {row['called']}, {row['made']} were made ({percent_said(row['share'])}; "
            f"called {in_words(row['chance'])} in the mean: {how})."
        )
    few = table[(table["sets"] < FEW) & (table["sets"] > 0)]
    if not lines:
        return [f"Too few sets with prescribed reps to say whether chances hold: {int(table['sets'].sum())}."]
    said = ", ".join(f"{row['sets']} called {row['called']}" for row in few.to_dict("records"))
    return [*lines, *([f"Too few to say: {said}."] if said else [])]


def against(scores: pd.DataFrame) -> pd.DataFrame:
    """Hold the workbench against every other forecaster, on the same sets.

    Parameters
    ----------
    scores : DataFrame
        Of sets that all could forecast.

    Returns
    -------
    DataFrame
        rival; of ("reps": crps [reps], or "made or missed": Brier score [1]); sets; difference (the score of the
        workbench less the rival's: below 0 where it is better), low, high (its 95 % interval, over lifters, or over the
        days of fewer than five); better ("yes", "no" or "not known"); from_week (of history, from which on it is better
        in all weeks; none where in none).
    """
    mine = scores[scores["forecaster"] == WORKBENCH]
    rows = []
    for rival in [name for name in scores["forecaster"].unique() if name != WORKBENCH]:
        both = mine.merge(scores.loc[scores["forecaster"] == rival], on=SET, suffixes=("", "_rival"))
        for said, score in _COMPARED:
            pairs = both.assign(less=both[score] - both[f"{score}_rival"]).dropna(subset="less")
            if len(pairs):
                row = {"rival": rival, "of": said, "sets": len(pairs), **_difference(pairs)}
                rows.append(row | {"from_week": _from_week(pairs)})
    columns = ["rival", "of", "sets", "difference", "low", "high", "better", "from_week"]
    return pd.DataFrame(rows, columns=columns)


def _difference(pairs: pd.DataFrame) -> dict[str, Any]:
    """Mean difference with its interval: whole lifters, or days, are drawn again together."""
    by = ["lifter"] if pairs["lifter"].nunique() >= _LIFTERS else ["lifter", "date"]
    sums = pairs.groupby(by)["less"].agg(["sum", "count"]).to_numpy(dtype=np.float64)
    drawn = sums[np.random.default_rng(SEED).integers(0, len(sums), (_RESAMPLES, len(sums)))].sum(axis=1)
    low, high = np.quantile(drawn[:, 0] / drawn[:, 1], [0.025, 0.975])
    better = "yes" if high < 0.0 else "no" if low > 0.0 else "not known"
    return {"difference": float(pairs["less"].mean()), "low": float(low), "high": float(high), "better": better}


def _from_week(pairs: pd.DataFrame) -> float:
    """Return the first week of history from which on the workbench is better in all weeks that are there."""
    found = np.nan
    for low, high, _ in reversed(_WEEKS):
        here = pairs["less"][pairs["week"].between(low, high)]
        if len(here) and float(here.mean()) >= 0.0:
            break
        found = float(low) if len(here) else found
    return found
