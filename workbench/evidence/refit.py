"""From the published data to ``data/parameters.csv`` and ``data/fitted/``: fits, draws and left-out scores, in one go.

The order matters. The spread between people in one fresh set comes first, then the endurance of each class, since the
runs of sets need both; then every fatigue form, with how recovery differs between groups and between the lifters of a
group. Published means and sds are each used once.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench import parameters as shipped
from workbench.evidence.curves import fit_curve
from workbench.evidence.read import read_load_reps, read_sets
from workbench.evidence.report import near_failure
from workbench.evidence.sampling import posterior
from workbench.evidence.scoring import Score, models, rule_errors, score
from workbench.evidence.sets import HYPER, FatigueFit, parameters_at
from workbench.evidence.spread import Spread, fit_spread, pooled_endurance
from workbench.evidence.spread_table import spread_rows, spread_table
from workbench.models.fatigue import DEFAULT_FORM, FORMS, FatigueForm
from workbench.models.load_reps import CURVES
from workbench.parameters import ENDURANCE_CLASSES
from workbench.quantities import FloatArray
from workbench.sources import data_path

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["SEED", "draws_table", "endurance_rows", "refit"]

SEED: Final = 20
#: Draws kept of each form.
_KEPT: Final = 1000
#: A class known from recalled tables only is known within this log sd at best.
_RECALLED_LOG_SD: Final = 0.2
#: "No difference" between two exercises in 30 men still leaves this much.
_EQUALITY_LOG_SD: Final = 0.2
#: From the coordinates of a fit to the numbers in a table of draws; the others are logs and stay so.
_NATURAL: Final[dict[str, Callable[[Any], FloatArray]]] = {
    "group_sd": np.exp,
    "misfit": np.exp,
    "people_sd": np.exp,
    "tie": np.tanh,
}
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


def endurance_rows(spread: Spread) -> list[dict[str, Any]]:
    """Rows of ``parameters.csv`` on the endurance of each class, from the exponential curve.

    Where a pool of studies tells of a class, it is believed: the single studies are among its own. They tell how
    classes without a pool compare with those that have one, and how studies differ. All these are means of 1/k over
    lifters and groups, which count the enduring more: the median lifter's k is higher by half of the squared log sd.
    """
    rows = read_load_reps(None).where(np.isin(read_load_reps(None).use, ["fit", "pooled"]))
    pooled = pooled_endurance(read_load_reps("pooled"))
    fit = fit_curve(CURVES["exponential"], read_load_reps(), {name: value for name, (value, _) in pooled.items()})
    between = float(np.hypot(fit.spreads["study"], fit.spreads["group"]))
    out = []
    for name in ENDURANCE_CLASSES:
        value, error = fit.class_value(name)
        error = float(np.hypot(error, pooled.get(name, pooled["other"])[1]))
        here = rows.endurance_class == name
        grades = set(rows.grade[here])
        grade = next((one for one in ("published", "derived", "recalled") if one in grades), "assumed")
        error = max(error, _RECALLED_LOG_SD if grade == "recalled" else 0.0)
        lifters = spread.endurance.get(name, spread.endurance["other"])
        note = {
            "assumed": "no study of this class: the pooled value, wider",
            "recalled": "from a recalled table only",
        }.get(grade, "")
        out.append(
            {
                "quantity": "endurance",
                "group": name,
                "value": f"{np.exp(value + 0.5 * (lifters**2 + between**2 + error**2)):.5f}",
                "spread": f"{lifters:.3f}",
                "group_spread": f"{between:.3f}",
                "uncertainty": f"{error:.3f}",
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
            spread=found[like]["spread"],
            uncertainty=f"{_EQUALITY_LOG_SD:.3f}",
            grade="derived",
            source="ferrari_2017",
            note=f"as many reps as the {like} at 60, 75 and 90 % of 1RM in 30 men",
        )


def _noise_rows(spread: Spread) -> list[dict[str, Any]]:
    note = "reproduces the repeatability of reps in bench press, SEM 1.1 at 70 % and 0.7 at 90 % of 1RM; {}"
    return [
        _row(name, "all", value, "", source="mitter2022", note=note.format(text)) for name, value, text in (_DAY, _SET)
    ] + [
        _row(
            "one_rm_log_sd",
            name,
            float(value),
            "",
            source="nuzzo_2024_reps;wolfe2024;mayhew2011_90pre;mayhew2011_90post;hoeger1990_MT;hoeger1990_FU",
            note="what is not known of a 1RM in a study, test and day together: from sds of reps at several loads",
        )
        for name, value in spread.one_rm.items()
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


def _recovery_rows(fit: FatigueFit | None) -> list[dict[str, Any]]:
    values = fit.values if fit else {"group_sd": 0.5, "female": 1.6, "legs": 1.4, "people_sd": 0.6, "tie": 0.3}
    groups, lifters_sd = float(values["group_sd"]), float(values["people_sd"])
    common: dict[str, Any] = {
        "between": groups,
        "source": "faigenbaum_2008;heredia_2022;ratamess_2010;ratamess_2012;rbme_ke_2007;senna_order",
        "note": "spread between lifters from the sds of later sets and totals",
    }
    return [
        _row("recovery_rate", "all", 1.0, lifters_sd, **common),
        _row("recovery_rate", "male", 1.0, lifters_sd, **common),
        _row(
            "recovery_endurance_tie",
            "all",
            float(values["tie"]),
            "",
            source=common["source"],
            note="correlation of log recovery with log endurance: above 0, who has more reps loses more of them",
        ),
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
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _write_parameters(rows: list[dict[str, Any]]) -> None:
    _write(["parameters.csv"], _HEADER, [[row[name] for name in _HEADER] for row in rows])
    shipped.forget()


def draws_table(fit: FatigueFit, thetas: FloatArray) -> tuple[list[str], FloatArray]:
    """Names and values, shape (draws, columns), of posterior draws in their own units, spreads included."""
    size = thetas.shape[1] - len(HYPER)
    own = parameters_at(fit.form, thetas.T)
    columns = [np.asarray(getattr(own, field.name)) for field in fields(own)]
    hyper = dict(zip(HYPER, thetas[:, size:].T, strict=True))
    columns += [_NATURAL.get(name, np.asarray)(value) for name, value in hyper.items()]
    return [*fit.names], np.column_stack(columns)


def _form_named(name: str) -> FatigueForm:
    form = models("fatigue")[name]
    assert isinstance(form, FatigueForm)
    return form


def _form_work(name: str) -> tuple[Score, FloatArray, float]:
    scored = score(_form_named(name))
    assert isinstance(scored.fit, FatigueFit)
    thetas, effective = posterior(scored.fit, read_sets(), seed=SEED)
    return scored, thetas, effective


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
        ``curves`` and ``forms`` (scores by model and family), ``spread`` (predicted over published sd between people),
        ``near_failure`` (reps right after failure, every form), ``effective`` (independent draws behind each form),
        ``rules`` (rules of thumb), ``values`` (fitted values) and ``correlation`` (posterior correlation of the default
        form).
    """
    import pandas as pd

    say("spread and endurance by class")
    everyone = read_load_reps(None)
    spread = fit_spread(everyone.where(everyone.use != "check"), _SET[1])
    rows = endurance_rows(spread)
    _as_good_as(rows)
    rows += _noise_rows(spread)
    _write_parameters(rows + _recovery_rows(None))
    default = DEFAULT_FORM
    curves: list[Score] = []
    forms: list[tuple[Score, FloatArray, float]] = []
    with ProcessPoolExecutor(workers) as pool:
        pending = [pool.submit(_form_work, name) for name in models("fatigue") if name in _shipped_forms()]
        others = [pool.submit(_curve_work, CURVES[name].name) for name in CURVES]
        for job in pending:
            forms.append(job.result())
            say(f"fitted and left out: {forms[-1][0].name}, {forms[-1][2]:.0f} effective draws")
        for other in others:
            curves.append(other.result())
            say(f"fitted and left out: {curves[-1].name}")
    values = []
    correlation = pd.DataFrame()
    for scored, thetas, _ in forms:
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
            _write_parameters(rows + _recovery_rows(scored.fit))
            correlation = pd.DataFrame(np.corrcoef(thetas.T), index=names, columns=names)
    shipped.forget()
    default_score = next(scored for scored, *_ in forms if scored.name == default.name)
    tables = {
        "curves": pd.concat([scored.table for scored in curves], ignore_index=True),
        "forms": pd.concat([scored.table for scored, *_ in forms], ignore_index=True),
        "spread": spread_table(everyone.where(everyone.use != "check"), _SET[1], default_score.rows),
        "near_failure": near_failure([_form_named(scored.name) for scored, *_ in forms]),
        "effective": pd.DataFrame([{"model": scored.name, "effective": drawn} for scored, _, drawn in forms]),
        "rules": rule_errors(read_sets(), default_score.rows["predicted"].to_numpy()),
        "values": pd.DataFrame(values),
        "correlation": correlation,
    }
    left_out = {
        "left_out_sets": pd.concat([scored.rows for scored, *_ in forms], ignore_index=True),
        "left_out_spread": spread_rows(everyone.where(everyone.use != "check"), _SET[1], default_score.rows),
        "left_out_reps": pd.concat([scored.rows for scored in curves], ignore_index=True),
    }
    for name, table in {**tables, **left_out}.items():
        table.to_csv(data_path("fitted", f"{name}.csv"), index=name == "correlation", float_format="%.4g")
    return tables


def _shipped_forms() -> set[str]:
    from workbench.models.fatigue_rivals import RIVALS

    return {form.name for form in (*FORMS.values(), *RIVALS.values())}
