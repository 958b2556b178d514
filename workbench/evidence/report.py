"""What the evidence notebook shows, read from the results that ``python -m workbench.evidence`` wrote."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.curves import HALF_REP
from workbench.evidence.population import women_share
from workbench.evidence.read import read_sets
from workbench.evidence.scoring import inside
from workbench.evidence.sets import coordinates, predict_rows
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, sequence
from workbench.quantities import InputError
from workbench.reference.parameters import fatigue_typical, group_draws
from workbench.reference.sources import data_path

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["checks", "comparison", "fitted_table", "left_out", "percent_of_first", "worst"]

_TABLES: Final = ("curves", "forms", "rules", "values", "correlation", "left_out_sets", "left_out_reps")


def fitted_table(name: str) -> pd.DataFrame:
    """Read a table of ``data/fitted/``: curves, forms, rules, values, correlation, left_out_sets or left_out_reps.

    >>> sorted(fitted_table("rules")["rule"])
    ['fixed loss per set', 'mean percent of set 1', 'model', 'no loss']
    """
    import pandas as pd

    if name not in _TABLES:
        raise InputError(None, "table", f"no table is called {name!r}", f"use one of: {', '.join(_TABLES)}")
    return pd.read_csv(data_path("fitted", f"{name}.csv"), index_col=0 if name == "correlation" else None)


def comparison(kind: str = "forms", measure: str = "rmse", extra: Sequence[Any] = ()) -> pd.DataFrame:
    """Table of one measure by model (rows) and family or load band (columns).

    Parameters
    ----------
    kind : str
        "forms" or "curves".
    measure : str
        "rmse", "bias", "cover" or "n".
    extra : sequence of Score
        Further models, such as a student's own, each a row.
    """
    import pandas as pd

    table = pd.concat([fitted_table(kind), *(scored.table for scored in extra)], ignore_index=True)
    order = list(dict.fromkeys(table["family"]))
    wide = table.pivot_table(index="model", columns="family", values=measure, sort=False, dropna=False)
    shown = [name for name in order if name in wide.columns]
    return pd.DataFrame(wide[shown].dropna(axis=1, how="all"))


def left_out(model: str, families: Sequence[str] | None = None, rows: pd.DataFrame | None = None) -> pd.DataFrame:
    """Left-out predictions of a model with a label a row, ready to be drawn.

    Parameters
    ----------
    model : str
        Name of a fatigue form or a load-reps curve.
    families : sequence of str, optional
    rows : pandas.DataFrame, optional
        ``Score.rows`` of a model that is not among the shipped ones.
    """
    import pandas as pd

    table = rows
    if table is None:
        table = fitted_table("left_out_sets")
        table = table if model in set(table["model"]) else fitted_table("left_out_reps")
    some = table[table["model"] == model]
    if families is not None:
        some = some[some["family"].isin(list(families))]
    some = some.reset_index(drop=True)
    about = [
        " ".join(f"{source} {'' if group == 'all' else group} {exercise}".split())
        for source, group, exercise in zip(some["source"], some["group"], some["exercise"], strict=True)
    ]
    if "sets" in some.columns:
        detail = [f"{rest} s, set {number}" for rest, number in zip(some["rests_s"], some["sets"], strict=True)]
    else:
        detail = [f"{100 * float(fraction):.0f} %" for fraction in some["load_fraction"]]
    label = pd.Series([f"{who}, {what}" for who, what in zip(about, detail, strict=True)], dtype=object)
    # Equal labels would fall onto one line of a figure: number them.
    numbers = label.groupby(label).cumcount() + 1
    label = label.where(numbers == 1, label + " (" + numbers.astype(str) + ")")
    return some.assign(label=label, inside=inside(some))


def worst(model: str, count: int = 8) -> pd.DataFrame:
    """Rows on which a form misses most, in standard deviations of its own left-out prediction."""
    rows = left_out(model)
    rows = rows[rows["grade"] != "assumed"]
    half_width = np.maximum((rows["high"] - rows["low"]) / (2 * 1.2815515655446004), 1e-9)
    rows = rows.assign(off_by_sd=(rows["observed"] - rows["predicted"]) / half_width)
    order = rows["off_by_sd"].abs().sort_values(ascending=False).index[:count]
    return rows.loc[order, ["label", "observed", "predicted", "low", "high", "off_by_sd"]].reset_index(drop=True)


def percent_of_first(form: FatigueForm = DEFAULT_FORM) -> list[float]:
    """Whole reps of six sets in percent of the first, of a typical group, as the mean over rests of 1, 2 and 3 min.

    A third of the group are women, as in the studies. At 70 % of 1RM and an endurance of 0.031, a fresh set is 12 whole
    reps.

    >>> percent_of_first()[0]
    100.0
    """
    _, group = group_draws(2000, np.random.default_rng(0), form)
    rate = float(np.exp(women_share(None) * np.median(group["female"])))
    rests = np.array([[0.0, *[rest] * 5] for rest in (60.0, 120.0, 180.0)])
    reps = sequence([0.70] * 6, rests, 0.031, recovery_rate=rate, form=form, parameters=fatigue_typical(form))
    mean = np.mean(reps - HALF_REP, axis=0)
    return [float(value) for value in 100.0 * mean / mean[0]]


def checks(form: FatigueForm = DEFAULT_FORM, *, draws: int = 40) -> pd.DataFrame:
    """Predict the published rows that no fit uses, because something about them is not known for sure.

    Returns
    -------
    pandas.DataFrame
        ``source``, ``exercise``, ``family``, ``observed``, ``predicted``, ``low``, ``high`` and ``note``, which says
        what is not known.
    """
    import pandas as pd

    drawn, group = group_draws(draws, np.random.default_rng(1), form)
    spreads = [np.log(group["group_sd"]), np.log(group["misfit"]), group["female"], group["legs"]]
    thetas = np.vstack([coordinates(drawn)[..., 0], spreads]).T
    rows = read_sets("check")
    out = predict_rows(form, thetas, rows)
    return pd.DataFrame(
        {
            **{name: [getattr(row, name) for row in rows] for name in ("source", "exercise", "family")},
            "set": [row.set_to for row in rows],
            "observed": [row.value for row in rows],
            "predicted": out.mean,
            "low": out.low,
            "high": out.high,
            "note": [row.note for row in rows],
        }
    )
