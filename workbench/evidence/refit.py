"""From the published data to ``data/parameters.csv`` and ``data/fitted/``: fits, draws and left-out scores, in one go.

The order matters. The endurance of each class comes first, since the runs of sets need it; then how much recovery
differs between lifters; then every fatigue form.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.curves import CurveFit, fit_curve, lifter_spread
from workbench.evidence.population import lifter_recovery_spread
from workbench.evidence.read import read_load_reps, read_sets
from workbench.evidence.scoring import Score, models, rule_errors, score
from workbench.evidence.sets import HYPER, FatigueFit, fit_form, parameters_at, posterior
from workbench.models.fatigue import DEFAULT_FORM, FORMS, FatigueForm
from workbench.models.load_reps import CURVES
from workbench.quantities import ENDURANCE_CLASSES, FloatArray
from workbench.reference import parameters as shipped
from workbench.reference.sources import data_path
from workbench.reference.whole_files import write_whole

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["SEED", "draws_table", "endurance_rows", "refit"]

SEED: Final = 20
#: Draws kept of each form, and Metropolis steps behind them.
_KEPT: Final = 1000
_STEPS: Final = 4000
#: Steps for the rivals, which are shown rather than used.
_RIVAL_STEPS: Final = 1600
#: Bench press at 80 % of 1RM scatters from 6 to 14 reps between laboratories: about 2.5 sd either way.
_LABORATORY_LOG_SD: Final = 0.18
#: A class known from recalled tables only is known within this log sd at best.
_RECALLED_LOG_SD: Final = 0.2
#: "No difference" between two exercises in 30 men still leaves this much.
_EQUALITY_LOG_SD: Final = 0.2
#: Recovery spread between lifters with which the first fit begins.
_FIRST_RECOVERY_SD: Final = 0.6
_DAY: Final = ("day_strength_sd", 0.02, "log sd of strength between days")
_SET: Final = ("set_reps_sd", 0.07, "log sd of the reps of one set")
_HEADER: Final = (
    "quantity",
    "group",
    "value",
    "spread",
    "group_spread",
    "uncertainty",
    "unit",
    "grade",
    "source",
    "note",
)


def endurance_rows(fit: CurveFit) -> list[dict[str, Any]]:
    """Rows of ``parameters.csv`` on the endurance of each class, from a fit of the exponential curve.

    The fit finds the mean of 1/k, which counts the enduring more; the median lifter's k is ``exp(sd**2 / 2)`` higher.
    """
    rows = read_load_reps()
    spread = lifter_spread(rows, _DAY[1], _SET[1])
    between = float(np.hypot(fit.spreads["study"], fit.spreads["group"]))
    out = []
    for name in ENDURANCE_CLASSES:
        value, error = fit.class_value(name)
        here = rows.endurance_class == name
        grades = set(rows.grade[here])
        grade = next((one for one in ("published", "derived", "recalled") if one in grades), "assumed")
        lifters = spread.get(name, spread["other"] * (1.0 if grade != "assumed" else 1.15))
        note = {
            "assumed": "no study of this class: the pooled value, wider",
            "recalled": "from a recalled table only",
        }.get(grade, "")
        out.append(
            {
                "quantity": "endurance",
                "group": name,
                "value": f"{np.exp(value + 0.5 * lifters**2):.5f}",
                "spread": f"{lifters:.3f}",
                "group_spread": f"{max(between, _LABORATORY_LOG_SD):.3f}",
                "uncertainty": f"{max(error, _RECALLED_LOG_SD if grade == 'recalled' else 0.0):.3f}",
                "unit": "1/rep",
                "grade": grade,
                "source": ";".join(sorted(set(rows.source[here]))),
                "note": note,
            }
        )
    return out


def _as_good_as(rows: list[dict[str, Any]]) -> None:
    """Give two classes without data the value of classes in which the same people did as many reps (ferrari_2017)."""
    found = {row["group"]: row for row in rows}
    for name, like in (("arm extension", "horizontal press"), ("horizontal pull", "arm curl")):
        found[name].update(
            value=found[like]["value"],
            spread=found["other"]["spread"],
            uncertainty=f"{_EQUALITY_LOG_SD:.3f}",
            grade="derived",
            source="ferrari_2017",
            note=f"as many reps as the {like} at 60, 75 and 90 % of 1RM in 30 men",
        )


def _noise_rows() -> list[dict[str, Any]]:
    note = "reproduces the repeatability of reps in bench press, SEM 1.1 at 70 % and 0.7 at 90 % of 1RM; {}"
    return [
        _row(name, "all", value, "", source="mitter2022", note=note.format(text)) for name, value, text in (_DAY, _SET)
    ]


def _row(
    quantity: str,
    group: str,
    value: float,
    spread: float | str,
    *,
    source: str,
    note: str,
    between: Any = "",
) -> dict[str, Any]:
    number = [f"{one:.3f}" if isinstance(one, float) else one for one in (value, spread, between)]
    return dict(zip(_HEADER, [quantity, group, *number, "", "1", "derived", source, note], strict=True))


def _recovery_rows(fit: FatigueFit | None, lifters_sd: float) -> list[dict[str, Any]]:
    values = fit.values if fit else {"group_sd": 0.5, "female": 1.6, "legs": 1.4}
    groups = float(values["group_sd"])
    common: dict[str, Any] = {
        "between": groups,
        "source": "faigenbaum_2008;heredia_2022;rbme_ke_2007;senna_order",
        "note": "spread between lifters from the sds of later sets",
    }
    return [
        _row("recovery_rate", "all", 1.0, lifters_sd, **common),
        _row("recovery_rate", "male", 1.0, lifters_sd, **common),
        _row(
            "recovery_rate",
            "female",
            float(values["female"]),
            lifters_sd,
            between=groups,
            source="ratamess_2010;ratamess_2012;petropolis_2024",
            note="women lose fewer reps between sets in these studies; sexes_2013 found no difference",
        ),
        _row(
            "recovery_rate",
            "legs",
            float(values["legs"]),
            "",
            source="mckusick_2015;petropolis_2024;willardson_burkett_2005",
            note="times the rate of the sex, in squats, leg presses and hinges",
        ),
    ]


def _write(name: Sequence[str], header: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    path = data_path(*name)
    path.parent.mkdir(exist_ok=True)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    write_whole(path, text.getvalue(), replace=True)


def _write_parameters(rows: list[dict[str, Any]]) -> None:
    _write(["parameters.csv"], _HEADER, [[row[name] for name in _HEADER] for row in rows])
    shipped.forget()


def draws_table(fit: FatigueFit, thetas: FloatArray) -> tuple[list[str], FloatArray]:
    """Names and values, shape (draws, columns), of posterior draws in their own units, spreads included."""
    size = thetas.shape[1] - len(HYPER)
    own = parameters_at(fit.form, thetas.T)
    columns = [np.asarray(getattr(own, field.name)) for field in fields(own)]
    columns += [np.exp(thetas[:, size]), np.exp(thetas[:, size + 1]), thetas[:, size + 2], thetas[:, size + 3]]
    return [*fit.names], np.column_stack(columns)


def _form_work(name: str) -> tuple[Score, FloatArray]:
    form = models("fatigue")[name]
    assert isinstance(form, FatigueForm)
    scored = score(form)
    assert isinstance(scored.fit, FatigueFit)
    steps = _STEPS if form.name == DEFAULT_FORM.name else _RIVAL_STEPS
    return scored, posterior(scored.fit, read_sets(), steps=steps, seed=SEED)


def _curve_work(name: str) -> Score:
    return score(models("curve")[name])


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
    import pandas as pd

    say("endurance by class")
    rows = endurance_rows(fit_curve(CURVES["exponential"], read_load_reps()))
    _as_good_as(rows)
    rows += _noise_rows()
    _write_parameters(rows + _recovery_rows(None, _FIRST_RECOVERY_SD))
    default = DEFAULT_FORM
    say("recovery between lifters")
    first = fit_form(default, read_sets(), curvature=False)
    between = lifter_recovery_spread(read_sets(), default, parameters_at(default, first.theta), first.values)
    _write_parameters(rows + _recovery_rows(first, between))
    curves: list[Score] = []
    forms: list[tuple[Score, FloatArray]] = []
    with ProcessPoolExecutor(workers) as pool:
        pending = [pool.submit(_form_work, name) for name in models("fatigue") if name in _shipped_forms()]
        others = [pool.submit(_curve_work, CURVES[name].name) for name in CURVES]
        for job in pending:
            forms.append(job.result())
            say(f"fitted and left out: {forms[-1][0].name}")
        for other in others:
            curves.append(other.result())
            say(f"fitted and left out: {curves[-1].name}")
    values = []
    correlation = pd.DataFrame()
    for scored, thetas in forms:
        assert isinstance(scored.fit, FatigueFit)
        names, drawn = draws_table(scored.fit, thetas)
        keep = np.linspace(0, len(drawn) - 1, min(_KEPT, len(drawn))).astype(int)
        file = f"fatigue_{scored.name.replace(' ', '_').replace(',', '')}.csv"
        _write(["fitted", file], names, [[f"{value:.6g}" for value in line] for line in drawn[keep]])
        low, middle, high = np.quantile(drawn, [0.1, 0.5, 0.9], axis=0)
        values += [
            {"model": scored.name, "parameter": name, "median": m, "low": a, "high": b}
            for name, a, m, b in zip(names, low, middle, high, strict=True)
        ]
        if scored.name == default.name:
            _write_parameters(rows + _recovery_rows(scored.fit, between))
            correlation = pd.DataFrame(np.corrcoef(thetas.T), index=names, columns=names)
    default_score = next(scored for scored, _ in forms if scored.name == default.name)
    tables = {
        "curves": pd.concat([scored.table for scored in curves], ignore_index=True),
        "forms": pd.concat([scored.table for scored, _ in forms], ignore_index=True),
        "rules": rule_errors(read_sets(), default_score.rows["predicted"].to_numpy()),
        "values": pd.DataFrame(values),
        "correlation": correlation,
    }
    left_out = {
        "left_out_sets": pd.concat([scored.rows for scored, _ in forms], ignore_index=True),
        "left_out_reps": pd.concat([scored.rows for scored in curves], ignore_index=True),
    }
    for name, table in {**tables, **left_out}.items():
        text = table.to_csv(index=name == "correlation", float_format="%.4g")
        write_whole(data_path("fitted", f"{name}.csv"), text, replace=True)
    return tables


def _shipped_forms() -> set[str]:
    from workbench.models.fatigue_rivals import RIVALS

    return {form.name for form in (*FORMS.values(), *RIVALS.values())}
