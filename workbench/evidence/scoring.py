"""Left-out scores of any model on the published data, the rules of thumb to beat, and a register of students' models.

``score(model)`` takes a fatigue form (`workbench.models.fatigue.FatigueForm`), a load-reps curve
(`workbench.models.load_reps.Curve`) or a plain function ``reps(load_fraction, endurance)``. All get the same fit, the
same left-out predictions and the same columns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, overload

import numpy as np

from workbench.evidence.curves import HALF_REP, CurveFit, bisected, fit_curve, left_out_curve
from workbench.evidence.read import FAMILIES, LoadReps, SetRow, read_load_reps, read_sets
from workbench.evidence.sets import FatigueFit, fit_form, left_out_form
from workbench.evidence.studies import load_reps_from, sets_from
from workbench.models.fatigue import FORMS, FatigueForm
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import CURVES, Curve, Exponential
from workbench.models.tried import tried_curve, tried_form, tried_reps
from workbench.quantities import FloatArray

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "BANDS",
    "SHIPPED_FORMS",
    "Score",
    "curve_from",
    "inside",
    "models",
    "register",
    "rule_errors",
    "score",
    "summary",
    "tried",
]

#: Load bands in which curves are compared.
BANDS: Final = (("under 65 %", 0.0, 0.65), ("65 to 90 %", 0.65, 0.9001), ("over 90 %", 0.9001, 1.01))
#: Percent of the first set in later sets, over 29 studies (nuzzo_2024_sets).
_PERCENT_RULE: Final = (1.0, 0.70, 0.55, 0.50, 0.45, 0.45)
_NORMAL_80: Final = 1.2815515655446004

Model = FatigueForm | Curve
#: The fatigue forms of the workbench by name: those that can be chosen, then the rivals.
SHIPPED_FORMS: Final[dict[str, FatigueForm]] = {**FORMS, **RIVALS}
_REGISTERED: dict[str, Model] = {}


@dataclass(frozen=True)
class Score:
    """How a model predicts studies that it was not fitted on.

    Attributes
    ----------
    name : str
    kind : str
        "fatigue" or "curve".
    rows : pandas.DataFrame
        A row a published number: source, group, family (or load band); observed, predicted, low, high [reps] (80 %);
        grade.
    table : pandas.DataFrame
        By family: n; rmse, bias [reps]; cover [1] (share of observed values inside the 80 % interval).
    fit : FatigueFit or CurveFit
        Fit of all rows.
    """

    name: str
    kind: str
    rows: pd.DataFrame
    table: pd.DataFrame
    fit: FatigueFit | CurveFit


def curve_from(reps: Callable[[FloatArray, FloatArray], FloatArray], name: str | None = None) -> Curve:
    """Make a load-reps curve of a plain function ``reps(load_fraction, endurance)``.

    The function must fall with the load, and with endurance, and give 1 rep at a load fraction of 1.

    >>> import numpy as np
    >>> linear = curve_from(lambda x, k: 1 + (1 - x) / k, "straight line")
    >>> steady = linear.parameters([0.03])
    >>> round(float(linear.reps(0.7, parameters=steady)), 9)
    11.0
    >>> round(float(linear.load_fraction(11.0, parameters=steady)), 9)
    0.7
    """

    def forward(load_fraction: Any, *, parameters: Exponential) -> FloatArray:
        return np.asarray(reps(np.asarray(load_fraction, dtype=float), np.asarray(parameters.endurance)))

    def backward(wanted: Any, *, parameters: Exponential) -> FloatArray:
        def more(load_fraction: FloatArray) -> Any:
            return forward(load_fraction, parameters=parameters) > wanted

        return bisected(more, np.full(np.shape(wanted), 1e-4), np.full(np.shape(wanted), 1.0), 50)

    name = name or str(getattr(reps, "__name__", "own curve"))
    tried_reps(name, reps)
    return Curve(name, forward, backward, Exponential(endurance=0.03), {"endurance": (1e-4, 5.0)})


def tried(model: Any, name: str | None = None) -> Model:
    """Return a form or a curve that keeps the rules of its kind; a plain function becomes a curve."""
    if isinstance(model, FatigueForm):
        return tried_form(model)
    return tried_curve(model) if isinstance(model, Curve) else curve_from(model, name)


@overload
def register(model: Model) -> Model: ...
@overload
def register(model: Callable[..., FloatArray], name: str | None = None) -> Model: ...
def register(model: Any, name: str | None = None) -> Model:
    """Add a model to those that the comparison shows; a plain function becomes a curve. Usable as a decorator."""
    made = tried(model, name)
    _REGISTERED[made.name] = made
    return made


def models(kind: str | None = None) -> dict[str, Model]:
    """All models by name: those of the workbench, then those registered; of one kind if it is given."""
    every: dict[str, Model] = {
        **SHIPPED_FORMS,
        **{curve.name: curve for curve in CURVES.values()},
        **_REGISTERED,
    }
    if kind is None:
        return every
    wanted = FatigueForm if kind == "fatigue" else Curve
    return {name: model for name, model in every.items() if isinstance(model, wanted)}


def score(model: Any, data: Any = None) -> Score:
    """Fit a model to published data and predict every study from a fit of the others.

    Parameters
    ----------
    model : FatigueForm, Curve or callable
        A callable is read as ``reps(load_fraction, endurance)``: of arrays that broadcast, the load over 1RM [1] and
        one number that differs between lifters [1/rep], 0.02 to 0.05 for most and smaller for the more enduring; gives
        reps, 1 at the 1RM.
    data : DataFrame or path of a CSV file, optional
        Rows to fit and predict, in the columns of `workbench.studies`: of "sets" for a form, of "reps_at_load" for a
        curve. The published rows where left out; a study of one's own is added to them. Also a list of SetRow, or
        LoadReps, as they are read.

    Returns
    -------
    Score
        ``table``: errors [reps] and the share [1] of published numbers inside the 80 % interval, by kind of study;
        ``rows``: each published number beside its prediction.

    Raises
    ------
    InputError
        A model that cannot be one (`workbench.models.tried`), or rows that cannot be read, saying which.

    Notes
    -----
    The studies: ``data/evidence/sets.csv`` for a form, ``data/evidence/reps_at_load.csv`` for a curve, each row with
    its source key and grade.
    """
    model = tried(model)
    if isinstance(model, FatigueForm):
        return _score_form(model, read_sets() if data is None else data if isinstance(data, list) else sets_from(data))
    if data is None:
        data = read_load_reps()
    return _score_curve(model, data if isinstance(data, LoadReps) else load_reps_from(data))


def _score_form(form: FatigueForm, rows: Sequence[SetRow]) -> Score:
    import pandas as pd

    fit = fit_form(form, rows)
    out = left_out_form(form, rows, fit)
    same = ("source", "group", "fold", "exercise", "sex", "family")
    table = pd.DataFrame(
        {
            "model": form.name,
            **{name: [getattr(row, name) for row in rows] for name in same},
            "rests_s": ["/".join(f"{rest:g}" for rest in row.rests_s) for row in rows],
            "sets": [f"{row.set_from}-{row.set_to}" if row.set_from < row.set_to else str(row.set_to) for row in rows],
            "observed": [row.value for row in rows],
            "predicted": out.mean,
            "low": out.low,
            "high": out.high,
            "grade": [row.grade for row in rows],
            "load": ["percent of 1RM" if row.load_fractions else "repetition maximum" for row in rows],
            "published_person_sd": [row.sd if row.grade != "assumed" else np.nan for row in rows],
            "person_sd": out.person_sd,
        }
    )
    return Score(form.name, "fatigue", table, summary(table, FAMILIES), fit)


def _score_curve(curve: Curve, rows: LoadReps) -> Score:
    import pandas as pd

    fit = fit_curve(curve, rows)
    predicted, log_sd = left_out_curve(curve, rows)
    beyond = np.maximum(predicted - 1.0 + HALF_REP, 0.05)
    band = [next(name for name, low, high in BANDS if low <= fraction < high) for fraction in rows.load_fraction]
    table = pd.DataFrame(
        {
            "model": curve.name,
            **{name: getattr(rows, name) for name in ("source", "group", "fold", "exercise", "load_fraction")},
            "family": band,
            "observed": rows.reps_mean,
            "predicted": predicted,
            "low": 1.0 - HALF_REP + beyond * np.exp(-_NORMAL_80 * log_sd),
            "high": 1.0 - HALF_REP + beyond * np.exp(_NORMAL_80 * log_sd),
            "grade": rows.grade,
        }
    )
    return Score(curve.name, "curve", table, summary(table, [name for name, _, _ in BANDS]), fit)


def summary(rows: pd.DataFrame, families: Sequence[str]) -> pd.DataFrame:
    """Table by family, and over all: n, rmse, bias (predicted minus observed) and cover of the 80 % interval."""
    import pandas as pd

    by_family = {family: some for family, some in rows.groupby("family") if len(some)}
    lines = [{"family": name, **_measures(by_family[name])} for name in families if name in by_family]
    studies = rows[rows["grade"] != "assumed"]
    # Families have units of their own: over all, only the cover of their intervals means something.
    lines.append({"family": "all studies", "n": len(studies), "rmse": np.nan, "bias": np.nan, "cover": _cover(studies)})
    table = pd.DataFrame(lines)
    table.insert(0, "model", rows["model"].iloc[0])
    return table


def _measures(rows: pd.DataFrame) -> dict[str, float]:
    error = (rows["predicted"] - rows["observed"]).to_numpy()
    return {"n": len(rows), **_size(error), "cover": _cover(rows)}


def _size(error: FloatArray) -> dict[str, float]:
    return {"rmse": float(np.sqrt(np.mean(error**2))), "bias": float(np.mean(error))}


def _cover(rows: pd.DataFrame) -> float:
    return float(inside(rows).mean())


def inside(rows: pd.DataFrame) -> pd.Series:
    """Whether each observed value lies in its 80 % interval, of rows with observed, low and high."""
    return (rows["observed"] >= rows["low"]) & (rows["observed"] <= rows["high"])


def rule_errors(rows: Sequence[SetRow], predicted: FloatArray) -> pd.DataFrame:
    """Compare predictions with three rules of thumb where the first set is known, in reps per later set.

    The rules: no loss; the mean percent of set 1 over 29 studies; a fixed loss of reps per set, the one that suits the
    other studies best. Rows of the 29 studies themselves are left out, since the second rule is made of them.

    Parameters
    ----------
    rows : list of SetRow
    predicted : array, shape (rows,)
        Left-out predictions, in the unit of each row.

    Returns
    -------
    pandas.DataFrame
        ``rule``, ``n``, ``rmse``, ``bias`` in reps per later set.
    """
    import pandas as pd

    known = [
        (row, _first(row), later, float(value))
        for row, value in zip(rows, predicted, strict=True)
        if (later := _later_sets(row))
    ]
    folds = np.array([row.fold for row, *_ in known])
    truth = np.array([_per_set(row, row.value, first, len(later)) for row, first, later, _ in known])

    def by(rule: Callable[[float, int], float]) -> FloatArray:
        return np.array(
            [np.mean([min(max(rule(first, rank), 0.0), row.cap) for rank in later]) for row, first, later, _ in known]
        )

    answers = {
        "model": np.array([_per_set(row, value, first, len(later)) for row, first, later, value in known]),
        "no loss": by(lambda first, rank: first),
        "mean percent of set 1": by(lambda first, rank: first * _PERCENT_RULE[min(rank, 6) - 1]),
        "fixed loss per set": np.full(truth.size, np.nan),
    }
    losses = np.linspace(0.0, 6.0, 121)
    options = np.array([by(lambda first, rank, loss=loss: first - loss * (rank - 1)) for loss in losses])  # type: ignore[misc]
    for name in np.unique(folds):
        here, others = folds == name, folds != name
        if others.any():
            best = int(np.argmin(((options[:, others] - truth[others]) ** 2).mean(axis=1)))
            answers["fixed loss per set"][here] = options[best, here]
    return pd.DataFrame([{"rule": name, "n": truth.size, **_size(value - truth)} for name, value in answers.items()])


def _first(row: SetRow) -> float:
    return row.first_set if not np.isnan(row.first_set) else row.rep_max


def _later_sets(row: SetRow) -> tuple[int, ...]:
    """Numbers of the later sets that a row tells of; none where its first set is unknown or it tells of no reps."""
    if row.grade == "assumed" or row.groups > 1 or np.isnan(_first(row)) or row.load_cut > 0.0:
        return ()
    if row.family in {"set reps", "percent of set 1"}:
        return (row.set_to,)
    if row.family in {"total", "capped total"}:
        return tuple(range(2, row.set_to + 1))
    return ()


def _per_set(row: SetRow, value: float, first: float, later: int) -> float:
    if row.family == "percent of set 1":
        return value / 100.0 * first
    if row.family in {"total", "capped total"}:
        return (value - first) / later
    return value
