"""From the published data to ``data/parameters.csv`` and ``data/fitted/``: fits, draws and left-out scores, in one go.

The order matters. The endurance of each class comes first, since the runs of sets need it; then how much recovery
differs between lifters; then every fatigue form.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, astuple, dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.curves import CurveFit, fit_curve, lifter_spread
from workbench.evidence.population import lifter_recovery_spread
from workbench.evidence.read import read_load_reps, read_sets
from workbench.evidence.scoring import SHIPPED_FORMS, Score, rule_errors, score
from workbench.evidence.sets import HYPER, FatigueFit, fit_form, parameters_at, posterior
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import CURVES
from workbench.quantities import ENDURANCE_CLASSES, FloatArray
from workbench.reference import parameters as shipped
from workbench.reference.sources import data_path
from workbench.reference.whole_files import write_whole

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["SEED", "Parameter", "draws_table", "endurance_rows", "refit"]

SEED: Final = 20
#: Draws kept of each form, and Metropolis steps behind them.
_KEPT: Final = 1000
_STEPS: Final = 4000
#: Steps for the rivals, which are shown rather than used.
_RIVAL_STEPS: Final = 1600
#: Bench press at 80 % of 1RM scatters from 6 to 14 reps between laboratories: about 2.5 sd either way (derived).
_LABORATORY_LOG_SD: Final = 0.18
#: A class known from recalled tables only is known within this log sd at best (assumed).
_RECALLED_LOG_SD: Final = 0.2
#: "No difference" between two exercises in 30 men (ferrari_2017) still leaves this much (assumed).
_EQUALITY_LOG_SD: Final = 0.2
#: Recovery spread between lifters with which the first fit begins (assumed).
_FIRST_RECOVERY_SD: Final = 0.6
#: Scatter of strength between days and of the reps of single sets, natural-log sds (derived from mitter2022).
_DAY_SD, _SET_SD = 0.02, 0.07


@dataclass(frozen=True)
class Parameter:
    """One row of ``parameters.csv``, as text: what is known of a quantity for a group."""

    quantity: str
    group: str
    value: str
    spread: str = ""
    group_spread: str = ""
    uncertainty: str = ""
    unit: str = "1"
    grade: str = "derived"
    source: str = ""
    note: str = ""


def endurance_rows(fit: CurveFit) -> list[Parameter]:
    """Rows of ``parameters.csv`` on the endurance of each class, from a fit of the exponential curve.

    The fit finds the mean of 1/k, which counts the enduring more; the median lifter's k is ``exp(sd**2 / 2)`` higher.
    """
    rows = read_load_reps()
    spread = lifter_spread(rows, _DAY_SD, _SET_SD)
    between = float(np.hypot(fit.spreads["study"], fit.spreads["group"]))
    notes = {"assumed": "no study of this class: the pooled value, wider", "recalled": "from a recalled table only"}
    found: dict[str, Parameter] = {}
    for name in ENDURANCE_CLASSES:
        value, error = fit.class_value(name)
        here = rows.endurance_class == name
        grade = next((grade for grade in ("published", "derived", "recalled") if grade in rows.grade[here]), "assumed")
        lifters = spread.get(name, spread["other"] * (1.0 if grade != "assumed" else 1.15))
        found[name] = Parameter(
            "endurance",
            name,
            f"{np.exp(value + 0.5 * lifters**2):.5f}",
            spread=f"{lifters:.3f}",
            group_spread=f"{max(between, _LABORATORY_LOG_SD):.3f}",
            uncertainty=f"{max(error, _RECALLED_LOG_SD if grade == 'recalled' else 0.0):.3f}",
            unit="1/rep",
            grade=grade,
            source=";".join(sorted(set(rows.source[here]))),
            note=notes.get(grade, ""),
        )
    # Two classes without data of their own get the value of those in which the same people did as many reps.
    for name, like in (("arm extension", "horizontal press"), ("horizontal pull", "arm curl")):
        found[name] = replace(
            found[name],
            value=found[like].value,
            spread=found["other"].spread,
            uncertainty=f"{_EQUALITY_LOG_SD:.3f}",
            grade="derived",
            source="ferrari_2017",
            note=f"as many reps as the {like} at 60, 75 and 90 % of 1RM in 30 men",
        )
    return list(found.values())


def _noise_rows() -> list[Parameter]:
    note = "reproduces the repeatability of reps in bench press, SEM 1.1 at 70 % and 0.7 at 90 % of 1RM; {}"
    said = (("day_strength_sd", _DAY_SD, "strength between days"), ("set_reps_sd", _SET_SD, "the reps of one set"))
    return [
        Parameter(name, "all", f"{sd:.3f}", source="mitter2022", note=note.format(f"log sd of {what}"))
        for name, sd, what in said
    ]


def _recovery_rows(values: dict[str, float], lifters_sd: float) -> list[Parameter]:
    """Rows on the recovery rate, from what the fit of a form found besides the form's own parameters."""
    everyone = Parameter(
        "recovery_rate",
        "all",
        "1.000",
        spread=f"{lifters_sd:.3f}",
        group_spread=f"{values['group_sd']:.3f}",
        source="faigenbaum_2008;heredia_2022;rbme_ke_2007;senna_order",
        note="spread between lifters from the sds of later sets",
    )
    women = replace(
        everyone,
        group="female",
        value=f"{values['female']:.3f}",
        source="ratamess_2010;ratamess_2012;petropolis_2024",
        note="women lose fewer reps between sets in these studies; sexes_2013 found no difference",
    )
    legs = Parameter(
        "recovery_rate",
        "legs",
        f"{values['legs']:.3f}",
        source="mckusick_2015;petropolis_2024;willardson_burkett_2005",
        note="times the rate of the sex, in squats, leg presses and hinges",
    )
    return [everyone, replace(everyone, group="male"), women, legs]


def _write(name: Sequence[str], header: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    path = data_path(*name)
    path.parent.mkdir(exist_ok=True)
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows([header, *rows])
    write_whole(path, text.getvalue(), replace=True)


def _write_parameters(rows: list[Parameter]) -> None:
    _write(["parameters.csv"], [field.name for field in fields(Parameter)], [astuple(row) for row in rows])
    shipped.forget()


def draws_table(fit: FatigueFit, thetas: FloatArray) -> tuple[list[str], FloatArray]:
    """Names and values, shape (draws, columns), of posterior draws in their own units, spreads included."""
    own = parameters_at(fit.form, thetas.T)
    spread, misfit, *others = thetas[:, -len(HYPER) :].T
    columns = [np.asarray(values) for values in asdict(own).values()]
    return [*fit.names], np.column_stack([*columns, np.exp(spread), np.exp(misfit), *others])


def _fitted_form(form: FatigueForm) -> tuple[Score, FatigueFit, FloatArray]:
    scored = score(form)
    assert isinstance(scored.fit, FatigueFit)
    steps = _STEPS if form.name == DEFAULT_FORM.name else _RIVAL_STEPS
    return scored, scored.fit, posterior(scored.fit, read_sets(), steps=steps, seed=SEED)


def refit(say: Callable[[str], None] = print, *, workers: int = 2) -> dict[str, pd.DataFrame]:
    """Fit everything, write ``data/parameters.csv`` and ``data/fitted/``, return the tables that are printed.

    Parameters
    ----------
    say : callable
        Called with one line of progress at a time.
    workers : int
        Processes.

    Returns
    -------
    dict of str to DataFrame
        ``curves`` and ``forms`` (scores by model and family), ``rules`` (rules of thumb), ``values`` (fitted values)
        and ``correlation`` (posterior correlation of the default form).
    """
    say("endurance by class")
    rows = [*endurance_rows(fit_curve(CURVES["exponential"], read_load_reps())), *_noise_rows()]
    _write_parameters(rows + _recovery_rows({"group_sd": 0.5, "female": 1.6, "legs": 1.4}, _FIRST_RECOVERY_SD))
    say("recovery between lifters")
    first = fit_form(DEFAULT_FORM, read_sets(), curvature=False)
    at_mode = parameters_at(DEFAULT_FORM, first.theta)
    between = lifter_recovery_spread(read_sets(), DEFAULT_FORM, at_mode, first.values)
    _write_parameters(rows + _recovery_rows(first.values, between))
    forms, curves = [], []
    with ProcessPoolExecutor(workers) as pool:
        pending, others = pool.map(_fitted_form, SHIPPED_FORMS.values()), pool.map(score, CURVES.values())
        for fitted in pending:
            forms.append(fitted)
            say(f"fitted and left out: {fitted[0].name}")
        for scored in others:
            curves.append(scored)
            say(f"fitted and left out: {scored.name}")
    default = next(fit for scored, fit, _ in forms if scored.name == DEFAULT_FORM.name)
    _write_parameters(rows + _recovery_rows(default.values, between))
    return _write_tables(forms, curves)


def _write_tables(forms: list[tuple[Score, FatigueFit, FloatArray]], curves: list[Score]) -> dict[str, pd.DataFrame]:
    """Write the draws of every form, and all tables of ``data/fitted/``; return those that are printed."""
    import pandas as pd

    values, correlation, predicted = [], pd.DataFrame(), np.empty(0)
    for scored, fit, thetas in forms:
        names, drawn = draws_table(fit, thetas)
        keep = np.linspace(0, len(drawn) - 1, min(_KEPT, len(drawn))).astype(int)
        draws = [[f"{value:.6g}" for value in line] for line in drawn[keep]]
        _write(["fitted", shipped.draws_file(scored.name)], names, draws)
        quantiles = np.quantile(drawn, [0.5, 0.1, 0.9], axis=0)
        table = pd.DataFrame(quantiles.T, columns=["median", "low", "high"])
        table.insert(0, "parameter", names)
        table.insert(0, "model", scored.name)
        values.append(table)
        if scored.name == DEFAULT_FORM.name:
            correlation = pd.DataFrame(np.corrcoef(thetas.T), index=names, columns=names)
            predicted = scored.rows["predicted"].to_numpy()
    tables = {
        "curves": pd.concat([scored.table for scored in curves], ignore_index=True),
        "forms": pd.concat([scored.table for scored, *_ in forms], ignore_index=True),
        "rules": rule_errors(read_sets(), predicted),
        "values": pd.concat(values, ignore_index=True),
        "correlation": correlation,
    }
    left_out = {
        "left_out_sets": pd.concat([scored.rows for scored, *_ in forms], ignore_index=True),
        "left_out_reps": pd.concat([scored.rows for scored in curves], ignore_index=True),
    }
    for name, table in {**tables, **left_out}.items():
        text = table.to_csv(index=name == "correlation", float_format="%.4g")
        write_whole(data_path("fitted", f"{name}.csv"), text, replace=True)
    return tables
