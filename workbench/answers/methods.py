"""Every model that a number can come from: its formula, fitted values, source, error and limits.

The formulas are those of the docstrings, the values and errors those that the code reads (``data/parameters.csv``,
``data/fitted/``, ``data/evidence/``, the models' own constants); ``data/methods.csv`` says which belong together, what
each model gives, where it was studied and where it fails.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import asdict
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.evidence.report import fitted_table
from workbench.fit.settings import FitSettings
from workbench.models.load_reps import CURVES
from workbench.reference.sources import read_rows, sources

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["method_page", "method_table"]

#: From the middle to the ends of the middle 80 % of a normal distribution, in sds.
_MIDDLE_80: Final = 1.2815515655446004
#: A formula in a docstring: set in double backticks, with an equals sign between spaces.
_FORMULA: Final = re.compile(r"``([^`]*\s=\s[^`]*)``")
_LETTERS: Final = (
    "`r` reps to failure of a fresh set, `n` those of a tired one, `x` load over 1RM, `k` endurance, smaller for the "
    "more enduring. All others are said in the docstring of what stands under *In the code*, as "
    "`from workbench.models.fatigue_steep import steep_end_work; help(steep_end_work)`."
)
_HEADINGS: Final = {
    "gives": "Gives",
    "formula": "Formula",
    "values": "Values (80 % interval)",
    "error": "Known error",
    "studied": "Studied",
    "limits": "Limits",
    "source": "Source",
    "grade": "Grade",
    "code": "In the code",
}


def method_table() -> pd.DataFrame:
    """Return one row a model that a number can come from.

    Returns
    -------
    DataFrame
        ``model``; ``gives``; ``formula``; ``values`` (with 80 % intervals); ``error`` (on studies left out, where it
        was measured); ``studied`` (range); ``limits``; ``source`` (keys of ``data/sources.csv``); ``grade``; ``code``
        (module and name). All text; units as the formulas and tables say them.

    Notes
    -----
    Made from ``data/methods.csv``, ``data/parameters.csv``, ``data/fitted/`` and ``data/evidence/``.

    >>> method_table().set_index("model").loc["power law", "formula"]
    'r = x ** (-1 / b)'
    """
    import pandas as pd

    rows = [
        {
            "model": row["model"],
            "gives": row["gives"],
            "formula": "; ".join(formula for code in row["code"].split(";") for formula in _formulas(code)),
            "values": "; ".join(map(_said, row["values"].split(";"))),
            "error": "; ".join(map(_said, row["error"].split(";"))),
            "studied": row["studied"],
            "limits": row["limits"],
            "source": _sources(row["based_on"]),
            "grade": row["grade"],
            "code": row["code"],
        }
        for row in read_rows("methods.csv")
    ]
    return pd.DataFrame(rows)


class _Markdown(str):
    """Text that a notebook sets as Markdown."""

    __slots__ = ()

    def __repr__(self) -> str:
        """Return what it is: a notebook shows the text, and keeps this beside it."""
        return "Every model that a number can come from: a page in Markdown, which print() shows."

    def _repr_markdown_(self) -> str:
        return str(self)


def method_page() -> str:
    """Return `method_table` as a page in Markdown: a heading for each model, a line for each thing said of it.

    What its source keys stand for comes last.

    >>> print(method_page().splitlines()[0])
    ### anchored exponential (default curve)
    """
    parts = []
    for row in method_table().to_dict("records"):
        lines = [
            f"- **{heading}:** {'`' + str(row[key]) + '`' if key in ('formula', 'code') else row[key]}"
            for key, heading in _HEADINGS.items()
            if row[key]
        ]
        parts.append("\n".join([f"### {row['model']}", "", *lines]))
    return _Markdown(
        "\n\n".join([*parts, f"#### What the letters mean\n\n{_LETTERS}", _cited(method_table()["source"])])
    )


def _cited(texts: pd.Series) -> str:
    """Return a list of what the source keys in some texts stand for."""
    named = set(re.findall(r"\w+", " ".join(texts)))
    lines = [
        f"- **{source.key}:** {source.citation}{f', doi {source.doi}' if source.doi else ''}"
        for source in sources().values()
        if source.key in named
    ]
    return "\n".join(["#### The sources", "", *lines])


def _object(code: str) -> Any:
    """Return what ``module`` or ``module:name`` stands for."""
    module, _, name = code.partition(":")
    found = import_module(module)
    return getattr(found, name) if name else found


def _formulas(code: str) -> list[str]:
    return [" ".join(formula.split()) for formula in _FORMULA.findall(_object(code).__doc__ or "")]


def _sources(text: str) -> str:
    """Return source keys as they are; those of a data file where it is named, without the rows that are only checks."""
    if not text.endswith(".csv"):
        return text.replace(";", ", ")
    rows = [row for row in read_rows(*text.split("/")) if row.get("use", "fit") != "check"]
    keys = {key.strip() for row in rows for key in row["source"].split(";")} - {""}
    return f"data/{text}: {', '.join(sorted(keys))}"


def _said(key: str) -> str:
    """Return in words what ``kind:name`` stands for; nothing for nothing."""
    kind, _, name = key.partition(":")
    return _SAID[kind](name) if kind else ""


def _fitted_values(model: str) -> str:
    table = fitted_table("values")
    rows = table[table["model"] == model].itertuples()
    return ", ".join(f"{row.parameter} {row.median:.3g} ({row.low:.3g} to {row.high:.3g})" for row in rows)


def _parameters(quantity: str) -> str:
    """Middle 80 % of lifters not seen, where a spread is stated, by group."""
    said = []
    for row in read_rows("parameters.csv"):
        if row["quantity"] == quantity:
            value = float(row["value"])
            parts = [float(row[part] or 0.0) for part in ("spread", "group_spread", "uncertainty")]
            either_way = float(np.exp(_MIDDLE_80 * np.sqrt(np.sum(np.square(parts)))))
            range_80 = f" ({value / either_way:.3g} to {value * either_way:.3g})" if either_way > 1.0 else ""
            said.append(f"{row['group']} {value:.3g}{range_80}")
    unit = next(row["unit"] for row in read_rows("parameters.csv") if row["quantity"] == quantity)
    return f"{quantity} [{unit}]: {', '.join(said)}"


def _numbers(values: dict[str, Any]) -> str:
    plain = (int, float, tuple)
    return ", ".join(f"{name} {value}" for name, value in values.items() if isinstance(value, plain))


def _start(curve: str) -> str:
    return _numbers(asdict(CURVES[curve].start)) + " before any fit; stretched to each lifter"


def _errors(table: str, model: str) -> str:
    """Typical error on studies left out, and how many of them lie inside the 80 % interval."""
    rows = fitted_table(table)
    rows = rows[rows["model"] == model].set_index("family")
    said = ", ".join(f"{family} {error:.3g}" for family, error in rows["rmse"].dropna().items())
    unit = "in reps" if table == "curves" else "in the unit of each family"
    return f"on studies left out, {unit}: {said}; {100 * rows['cover']['all studies']:.0f} % inside the 80 % interval"


def _spread_ratio(family: str) -> str:
    row = fitted_table("spread").set_index("family").loc[family]
    return (
        f"{family}: predicted over published sd {row['ratio']:.2f} over {row['n']:.0f} sds, "
        f"{row['ratio_of_studies']:.2f} over {row['studies']:.0f} studies"
    )


def _evidence(file: str) -> str:
    rows = read_rows("evidence", file)
    return f"data/evidence/{file}: {len(rows)} rows, each with its range, source and grade"


_SAID: Final[dict[str, Callable[[str], str]]] = {
    "text": str,
    "form": _fitted_values,
    "parameter": _parameters,
    "start": _start,
    "constants": lambda name: _numbers(asdict(_object(name))),
    "settings": lambda _: _numbers(asdict(FitSettings())),
    "equations": lambda _: ", ".join(f"{row['name']}: {row['form']}" for row in read_rows("equations.csv")),
    "evidence": _evidence,
    "forms": lambda model: _errors("forms", model),
    "curves": lambda model: _errors("curves", model),
    "spread": _spread_ratio,
}

#: So that the reference shows the page itself.
__doc__ = f"{__doc__}\n{method_page()}\n"
