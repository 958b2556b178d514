"""From the published data to ``data/parameters.csv`` and ``data/fitted/``: fits, draws and left-out scores, in one go.

The order matters. The spread between people in one fresh set comes first, then the endurance of each class, since the
runs of sets need both; then every fatigue form, with how recovery differs between groups and between the lifters of a
group. Published means and sds are each used once.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, astuple, dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.curves import fit_curve
from workbench.evidence.read import LoadReps, read_load_reps, read_sets
from workbench.evidence.report import near_failure
from workbench.evidence.sampling import posterior
from workbench.evidence.scoring import SHIPPED_FORMS, Score, rule_errors, score
from workbench.evidence.sets import HYPER, FatigueFit, parameters_at
from workbench.evidence.spread import Spread, fit_spread, pooled_endurance
from workbench.evidence.spread_table import spread_rows, spread_table
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
#: Draws kept of each form.
_KEPT: Final = 1000
#: A class known from recalled tables only is known within this log sd at best (assumed).
_RECALLED_LOG_SD: Final = 0.2
#: "No difference" between two exercises in 30 men (ferrari_2017) still leaves this much (assumed).
_EQUALITY_LOG_SD: Final = 0.2
#: What recovery is taken to be until a form is fitted (assumed).
_FIRST_RECOVERY: Final = {"group_sd": 0.5, "female": 1.6, "legs": 1.4, "people_sd": 0.6, "tie": 0.3}
#: From the coordinates of a fit to the numbers in a table of draws; the others are logs and stay so.
_NATURAL: Final[dict[str, Callable[[Any], FloatArray]]] = {
    "group_sd": np.exp,
    "misfit": np.exp,
    "people_sd": np.exp,
    "tie": np.tanh,
}
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


def endurance_rows(spread: Spread) -> list[Parameter]:
    """Rows of ``parameters.csv`` on the endurance of each class, from the exponential curve.

    Where a pool of studies tells of a class, it is believed: the single studies are among its own. They tell how
    classes without a pool compare with those that have one, and how studies differ. All these are means of 1/k over
    lifters and groups, which count the enduring more: the median lifter's k is higher by half of the squared log sd.
    """
    rows = _fresh_rows()
    pooled = pooled_endurance(read_load_reps("pooled"))
    fit = fit_curve(CURVES["exponential"], read_load_reps(), {name: value for name, (value, _) in pooled.items()})
    between = float(np.hypot(fit.spreads["study"], fit.spreads["group"]))
    notes = {"assumed": "no study of this class: the pooled value, wider", "recalled": "from a recalled table only"}
    found: dict[str, Parameter] = {}
    for name in ENDURANCE_CLASSES:
        value, error = fit.class_value(name)
        error = float(np.hypot(error, pooled.get(name, pooled["other"])[1]))
        here = rows.endurance_class == name
        grade = next((grade for grade in ("published", "derived", "recalled") if grade in rows.grade[here]), "assumed")
        error = max(error, _RECALLED_LOG_SD if grade == "recalled" else 0.0)
        lifters = spread.endurance.get(name, spread.endurance["other"])
        found[name] = Parameter(
            "endurance",
            name,
            f"{np.exp(value + 0.5 * (lifters**2 + between**2 + error**2)):.5f}",
            spread=f"{lifters:.3f}",
            group_spread=f"{between:.3f}",
            uncertainty=f"{error:.3f}",
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
            spread=found[like].spread,
            uncertainty=f"{_EQUALITY_LOG_SD:.3f}",
            grade="derived",
            source="ferrari_2017",
            note=f"as many reps as the {like} at 60, 75 and 90 % of 1RM in 30 men",
        )
    return list(found.values())


def _fresh_rows() -> LoadReps:
    """Single fresh sets that are fitted, pools of studies among them."""
    rows = read_load_reps(None)
    return rows.where(rows.use != "check")


def _noise_rows(spread: Spread) -> list[Parameter]:
    note = "reproduces the repeatability of reps in bench press, SEM 1.1 at 70 % and 0.7 at 90 % of 1RM; {}"
    said = (("day_strength_sd", _DAY_SD, "strength between days"), ("set_reps_sd", _SET_SD, "the reps of one set"))
    scatter = [
        Parameter(name, "all", f"{sd:.3f}", source="mitter2022", note=note.format(f"log sd of {what}"))
        for name, sd, what in said
    ]
    telling = "nuzzo_2024_reps;wolfe2024;mayhew2011_90pre;mayhew2011_90post;hoeger1990_MT;hoeger1990_FU"
    known = "what is not known of a 1RM in a study, test and day together: from sds of reps at several loads"
    return scatter + [
        Parameter("one_rm_log_sd", name, f"{sd:.3f}", source=telling, note=known) for name, sd in spread.one_rm.items()
    ]


def _recovery_rows(values: dict[str, float]) -> list[Parameter]:
    """Rows on the recovery rate, from what the fit of a form found besides the form's own parameters."""
    everyone = Parameter(
        "recovery_rate",
        "all",
        "1.000",
        spread=f"{values['people_sd']:.3f}",
        group_spread=f"{values['group_sd']:.3f}",
        source="faigenbaum_2008;heredia_2022;ratamess_2010;ratamess_2012;rbme_ke_2007;senna_order",
        note="spread between lifters from the sds of later sets and totals",
    )
    tie = replace(
        everyone,
        quantity="recovery_endurance_tie",
        value=f"{values['tie']:.3f}",
        spread="",
        group_spread="",
        note="correlation of log recovery with log endurance: above 0, who has more reps loses more of them",
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
    return [everyone, replace(everyone, group="male"), tie, women, legs]


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
    own = [np.asarray(values) for values in asdict(parameters_at(fit.form, thetas.T)).values()]
    hyper = zip(HYPER, thetas[:, -len(HYPER) :].T, strict=True)
    return [*fit.names], np.column_stack([*own, *(_NATURAL.get(name, np.asarray)(value) for name, value in hyper)])


@dataclass(frozen=True)
class _Fitted:
    """A form with its left-out scores, draws of shape (draws, coordinates), and how many independent ones these are."""

    score: Score
    fit: FatigueFit
    thetas: FloatArray
    effective: float


def _fitted_form(form: FatigueForm) -> _Fitted:
    scored = score(form)
    assert isinstance(scored.fit, FatigueFit)
    return _Fitted(scored, scored.fit, *posterior(scored.fit, read_sets(), seed=SEED))


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
    say("spread and endurance by class")
    spread = fit_spread(_fresh_rows(), _SET_SD)
    rows = [*endurance_rows(spread), *_noise_rows(spread)]
    _write_parameters(rows + _recovery_rows(_FIRST_RECOVERY))
    forms, curves = [], []
    with ProcessPoolExecutor(workers) as pool:
        pending, others = pool.map(_fitted_form, SHIPPED_FORMS.values()), pool.map(score, CURVES.values())
        for fitted in pending:
            forms.append(fitted)
            say(f"fitted and left out: {fitted.score.name}, {fitted.effective:.0f} effective draws")
        for scored in others:
            curves.append(scored)
            say(f"fitted and left out: {scored.name}")
    default = next(fitted for fitted in forms if fitted.score.name == DEFAULT_FORM.name)
    _write_parameters(rows + _recovery_rows(default.fit.values))
    return _write_tables(forms, default, curves)


def _write_tables(forms: list[_Fitted], default: _Fitted, curves: list[Score]) -> dict[str, pd.DataFrame]:
    """Write the draws of every form, and all tables of ``data/fitted/``; return those that are printed."""
    import pandas as pd

    values = []
    for fitted in forms:
        names, drawn = draws_table(fitted.fit, fitted.thetas)
        keep = np.linspace(0, len(drawn) - 1, min(_KEPT, len(drawn))).astype(int)
        draws = drawn[keep]
        lines = [[f"{value:.6g}" for value in line] for line in draws]
        _write(["fitted", shipped.draws_file(fitted.score.name)], names, lines)
        quantiles = np.quantile(draws, [0.5, 0.1, 0.9], axis=0)
        table = pd.DataFrame(quantiles.T, columns=["median", "low", "high"])
        table.insert(0, "parameter", names)
        table.insert(0, "model", fitted.score.name)
        values.append(table)
    shipped.forget()
    names = [*default.fit.names]
    tables = {
        "curves": pd.concat([scored.table for scored in curves], ignore_index=True),
        "forms": pd.concat([fitted.score.table for fitted in forms], ignore_index=True),
        "spread": spread_table(_fresh_rows(), _SET_SD, default.score.rows),
        "near_failure": near_failure([fitted.fit.form for fitted in forms]),
        "effective": pd.DataFrame([{"model": fitted.score.name, "effective": fitted.effective} for fitted in forms]),
        "rules": rule_errors(read_sets(), default.score.rows["predicted"].to_numpy()),
        "values": pd.concat(values, ignore_index=True),
        "correlation": pd.DataFrame(np.corrcoef(default.thetas.T), index=names, columns=names),
    }
    left_out = {
        "left_out_sets": pd.concat([fitted.score.rows for fitted in forms], ignore_index=True),
        "left_out_spread": spread_rows(_fresh_rows(), _SET_SD, default.score.rows),
        "left_out_reps": pd.concat([scored.rows for scored in curves], ignore_index=True),
    }
    for name, table in {**tables, **left_out}.items():
        text = table.to_csv(index=name == "correlation", float_format="%.4g")
        write_whole(data_path("fitted", f"{name}.csv"), text, replace=True)
    return tables
