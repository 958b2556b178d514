"""Predicted over published spread between people, by kind of row, each study left out of its own prediction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.evidence.read import LoadReps
from workbench.evidence.spread import left_out_spread

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["spread_rows", "spread_table"]

_KINDS = {"set reps": "later sets", "total": "totals", "capped total": "totals"}


def spread_rows(fresh: LoadReps, set_log_sd: float, runs: pd.DataFrame) -> pd.DataFrame:
    """One row a published sd between people.

    Parameters
    ----------
    fresh : LoadReps
        Single fresh sets, pooled rows among them.
    set_log_sd : float
        Log sd of single sets.
    runs : pandas.DataFrame
        `workbench.evidence.scoring.Score.rows` of a fatigue form.

    Returns
    -------
    pandas.DataFrame
        ``source``, ``fold``, ``kind`` ("fresh set", "later sets", "totals"), ``load`` ("percent of 1RM", "repetition
        maximum"), ``published``, ``predicted`` [reps].
    """
    import pandas as pd

    single = pd.DataFrame(
        {
            "source": fresh.source,
            "fold": fresh.fold,
            "kind": "fresh set",
            "load": "percent of 1RM",
            "published": fresh.reps_sd,
            "predicted": left_out_spread(fresh, set_log_sd),
        }
    )
    later = runs[["source", "fold"]].assign(
        kind=runs["family"].map(_KINDS),
        load=runs["load"],
        published=runs["published_person_sd"],
        predicted=runs["person_sd"],
    )
    return pd.concat([single, later], ignore_index=True).dropna().reset_index(drop=True)


def spread_table(fresh: LoadReps, set_log_sd: float, runs: pd.DataFrame) -> pd.DataFrame:
    """Geometric mean of predicted over published sd by family; arguments as `spread_rows`.

    Families overlap: loads as a percent of 1RM or as a repetition maximum, and fresh sets, later sets or totals.

    Returns
    -------
    pandas.DataFrame
        ``family``, ``n`` (sds), ``studies``, ``ratio`` [1] (geometric mean over rows), ``ratio_of_studies`` [1] (over
        the geometric means of studies) and ``factor`` [1], what one standard error of that is worth.
    """
    import pandas as pd

    rows = spread_rows(fresh, set_log_sd, runs)
    rows = rows.assign(off=np.log(rows["predicted"] / rows["published"]))
    families = {
        "percent of 1RM": rows["load"] == "percent of 1RM",
        "repetition maximum": rows["load"] == "repetition maximum",
        "fresh set": rows["kind"] == "fresh set",
        "later sets": rows["kind"] == "later sets",
        "totals": rows["kind"] == "totals",
    }
    lines = []
    for name, some in families.items():
        by_study = rows[some].groupby("fold")["off"].mean()
        lines.append(
            {
                "family": name,
                "n": int(some.sum()),
                "studies": by_study.size,
                "ratio": float(np.exp(rows[some]["off"].mean())),
                "ratio_of_studies": float(np.exp(by_study.mean())),
                "factor": float(np.exp(by_study.std() / np.sqrt(by_study.size))),
            }
        )
    return pd.DataFrame(lines)
