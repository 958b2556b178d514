"""What the evidence notebook shows, read from the results that ``python -m workbench.evidence`` wrote."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.population import Between, expected_reps, lifters, women_share
from workbench.evidence.read import read_sets
from workbench.evidence.scoring import inside
from workbench.evidence.sets import HYPER, coordinates, predict_rows
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, run_sets
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import endurance_prior, fatigue_typical, group_draws, one_rm_spread
from workbench.reference.sources import data_path

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["checks", "comparison", "fitted_table", "left_out", "near_failure", "percent_of_first", "worst"]

_TABLES: Final = (
    *("curves", "forms", "spread", "near_failure", "effective", "rules", "values", "correlation"),
    *("left_out_sets", "left_out_reps", "left_out_spread"),
)
#: Pauses up to here tell of strength itself, s.
_SHORT_PAUSE_S: Final = 40.0


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

    A third of the group are women, as in the studies, and its lifters differ as people do: who has most reps loses most
    of them, so a group keeps less than its typical lifter. At 70 % of 1RM and an endurance of 0.031, a fresh set is 12
    whole reps.

    >>> percent_of_first()[0]
    100.0
    """
    _, group = group_draws(2000, np.random.default_rng(0), form)
    typical = {name: float(np.median(values)) for name, values in group.items()}
    people, parameters = lifters(64), fatigue_typical(form)
    rate = np.exp(
        women_share(None) * typical["female"] + Between(typical["people_sd"], typical["tie"]).log_rate(people)
    )
    endurance = 0.031 * np.exp(endurance_prior("other").log_sd_between_lifters * people.endurance)
    headroom = np.log(1.0 / 0.70) + one_rm_spread() * people.day
    rests = np.array([60.0, 120.0, 180.0])[:, None]
    sets = ((rests, headroom, np.inf) for _ in range(6))
    capacity = np.stack(list(run_sets(sets, np.tile(endurance, (3, 1)), rate, form=form, parameters=parameters)))
    mean = expected_reps(capacity, np.array(np.inf)).mean(axis=(1, 2))
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
            **{name: [getattr(row, name) for row in rows] for name in ("source", "exercise", "family")},
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
    return table.assign(**{form.name: predict_rows(form, _coordinates(form, draws), rows).mean for form in forms})


def _coordinates(form: FatigueForm, draws: int) -> FloatArray:
    """Unbounded coordinates of shipped draws, shape (draws, parameters + 6)."""
    drawn, group = group_draws(draws, np.random.default_rng(1), form)
    unbounded = {"group_sd": np.log, "misfit": np.log, "people_sd": np.log, "tie": np.arctanh}
    hyper = [unbounded.get(name, np.asarray)(group[name]) for name in HYPER]
    return np.vstack([coordinates(drawn)[..., 0], hyper]).T
