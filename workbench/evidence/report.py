"""What the evidence notebook shows, read from the results that ``python -m workbench.evidence`` wrote."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.curves import HALF_REP
from workbench.evidence.population import women_share
from workbench.evidence.read import read_sets
from workbench.evidence.sets import predict_rows
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, sequence
from workbench.parameters import fatigue_typical, group_draws
from workbench.quantities import InputError
from workbench.sources import data_path

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["checks", "comparison", "fitted_table", "left_out", "near_failure", "percent_of_first", "worst"]

_TABLES: Final = (
    *("curves", "forms", "spread", "near_failure", "effective", "rules", "values", "correlation"),
    *("left_out_sets", "left_out_reps", "left_out_spread"),
)
#: Pauses up to here tell of strength itself, s.
_SHORT_PAUSE_S: Final = 40.0
_POOLED_RESTS_S: Final = (60.0, 120.0, 180.0)


def fitted_table(name: str) -> pd.DataFrame:
    """Read a table of ``data/fitted/``.

    Parameters
    ----------
    name : str
        curves, forms, spread, near_failure, effective, rules, values, correlation, left_out_sets, left_out_reps or
        left_out_spread.

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

    table = pd.concat([fitted_table(kind), *(one.table for one in extra)], ignore_index=True)
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
    if rows is None:
        table = fitted_table("left_out_sets")
        if model not in set(table["model"]):
            table = fitted_table("left_out_reps")
    else:
        table = rows
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
    label = [f"{one}, {two}" for one, two in zip(about, detail, strict=True)]
    # Equal labels would fall onto one line of a figure: number them.
    seen: dict[str, int] = {}
    unique = []
    for text in label:
        seen[text] = seen.get(text, 0) + 1
        unique.append(text if seen[text] == 1 else f"{text} ({seen[text]})")
    return some.assign(label=unique, inside=(some["observed"] >= some["low"]) & (some["observed"] <= some["high"]))


def worst(model: str, count: int = 8) -> pd.DataFrame:
    """Rows on which a form misses most, in standard deviations of its own left-out prediction."""
    rows = left_out(model)
    rows = rows[rows["grade"] != "assumed"]
    half_width = np.maximum((rows["high"] - rows["low"]) / (2 * 1.2815515655446004), 1e-9)
    rows = rows.assign(off_by_sd=(rows["observed"] - rows["predicted"]) / half_width)
    order = rows["off_by_sd"].abs().sort_values(ascending=False).index[:count]
    return rows.loc[order, ["label", "observed", "predicted", "low", "high", "off_by_sd"]].reset_index(drop=True)


def percent_of_first(
    form: FatigueForm = DEFAULT_FORM,
    *,
    sets: int = 6,
    load_fraction: float = 0.70,
    endurance: float = 0.031,
    rests_s: Sequence[float] = _POOLED_RESTS_S,
    parameters: Any = None,
) -> list[float]:
    """Whole reps of later sets in percent of the first, of a typical group, as the mean over several rests.

    A third of the group are women, as in the studies. At 70 % of 1RM and an endurance of 0.031, a fresh set is 12 whole
    reps.

    >>> percent_of_first()[0]
    100.0
    """
    used = fatigue_typical(form) if parameters is None else parameters
    _, group = group_draws(2000, np.random.default_rng(0), form)
    rate = float(np.exp(women_share(None) * np.median(group["female"])))
    loads = [load_fraction] * sets
    runs = [
        sequence(loads, [0.0, *[rest] * (sets - 1)], endurance, recovery_rate=rate, form=form, parameters=used)
        - HALF_REP
        for rest in rests_s
    ]
    mean = np.mean(runs, axis=0)
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

    rows = read_sets("check")
    out = predict_rows(form, _coordinates(form, draws), rows)
    return pd.DataFrame(
        {
            "source": [row.source for row in rows],
            "exercise": [row.exercise for row in rows],
            "family": [row.family for row in rows],
            "set": [row.set_to for row in rows],
            "observed": [row.value for row in rows],
            "predicted": out.mean,
            "low": out.low,
            "high": out.high,
            "note": [row.note for row in rows],
        }
    )


def near_failure(forms: Sequence[FatigueForm], *, draws: int = 40) -> pd.DataFrame:
    """Predict, for every form, what is known of reps right after failure: helped reps, drops, cuts, short pauses.

    Returns
    -------
    pandas.DataFrame
        ``source``, ``after`` (what is taken off, and the pause), ``observed``, ``unit``, ``grade`` and a column a form.
        Help at failure is the most in a rep, so its single rep is the least that a cut of that size buys.
    """
    import pandas as pd

    rows = [
        row
        for row in read_sets(None)
        if row.family in {"drop", "load cut"} or (row.family == "submaximal" and row.rests_s[0] <= _SHORT_PAUSE_S)
    ]
    table = pd.DataFrame(
        {
            "source": [row.source for row in rows],
            "after": [f"{100 * row.load_cut:g} % off, {row.rests_s[0]:g} s" for row in rows],
            "observed": [row.value for row in rows],
            "unit": ["share of people" if row.family == "submaximal" else "reps" for row in rows],
            "grade": [row.grade for row in rows],
        }
    )
    for form in forms:
        table[form.name] = predict_rows(form, _coordinates(form, draws), rows).mean
    return table


def _coordinates(form: FatigueForm, draws: int) -> Any:
    """Unbounded coordinates of shipped draws, shape (draws, parameters + 6)."""
    drawn, group = group_draws(draws, np.random.default_rng(1), form)
    columns = []
    for field in fields(drawn):
        value = np.asarray(getattr(drawn, field.name))[:, 0]
        columns.append(np.log(value / (1.0 - value)) if field.name.endswith("_share") else np.log(value))
    columns += [np.log(group["group_sd"]), np.log(group["misfit"]), group["female"], group["legs"]]
    columns += [np.log(group["people_sd"]), np.arctanh(group["tie"])]
    return np.column_stack(columns)
