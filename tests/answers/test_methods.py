"""The method page: every model has its place, and what is said of it is what the code computes with."""

import importlib
import math
import pkgutil
import re

import numpy as np
import pytest

import workbench.models
from workbench.answers import methods
from workbench.answers.methods import method_page, method_table
from workbench.evidence.report import fitted_table
from workbench.evidence.scoring import SHIPPED_FORMS
from workbench.fit.settings import FitSettings
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import CURVES, DEFAULT_CURVE
from workbench.models.sharing import CARRY
from workbench.reference.parameters import endurance_prior, fatigue_typical
from workbench.reference.sources import read_rows, sources


@pytest.fixture(scope="module")
def page():
    return method_table().set_index("model")


def test_every_form_and_curve_has_a_row_and_the_default_says_so(page):
    names = {name.split(" (default")[0] for name in page.index}
    assert {*SHIPPED_FORMS, *(curve.name for curve in CURVES.values())} <= names
    assert {name for name in page.index if "(default" in name} == {
        f"{DEFAULT_CURVE.name} (default curve)",
        f"{DEFAULT_FORM.name} (default form)",
    }


def test_no_module_of_models_is_missing(page):
    shown = {code.split(":")[0] for codes in page["code"] for code in codes.split(";")}
    modules = {f"workbench.models.{module.name}" for module in pkgutil.iter_modules(workbench.models.__path__)}
    # What a curve, a form or an equation is, without a number of its own.
    assert modules - shown == {f"workbench.models.{name}" for name in ("fatigue_form", "rep_max", "tried")}


def test_every_row_says_all_and_its_formula_is_that_of_the_code(page):
    for model, row in page.iterrows():
        for said in ("gives", "error", "studied", "limits", "source", "grade", "code"):
            assert row[said], (model, said)
        assert row["formula"] or model == "rep-max equations"
        for code in row["code"].split(";"):
            module, _, name = code.partition(":")
            importlib.import_module(module)
            assert not name or callable(getattr(importlib.import_module(module), name))


def test_every_source_is_known(page):
    known = {*sources(), "trade_prior"}
    for row in page["source"]:
        if not row.startswith("as the default"):
            assert set(row.split(".csv: ")[-1].split(", ")) <= known, row


def test_values_are_those_that_the_code_draws(page):
    said = page.loc[f"{DEFAULT_FORM.name} (default form)", "values"]
    typical = fatigue_typical(DEFAULT_FORM)
    shown = dict(part.split(" ", 2)[:2] for part in said.split(", "))
    for name in DEFAULT_FORM.parameter_names:
        assert float(shown[name]) == pytest.approx(getattr(typical, name), rel=5e-3), name  # three figures
    assert f"drift_sd {FitSettings().drift_sd}" in page.loc["what a log teaches", "values"]
    assert f"minutes_pools {CARRY.minutes_pools}" in page.loc["carry-over between exercises", "values"]


def test_the_interval_of_endurance_is_the_middle_80_percent(page):
    prior = endurance_prior("squat")
    low, high = (prior.median * math.exp(sign * 1.28155 * prior.log_sd) for sign in (-1, 1))
    said = page.loc["anchored exponential (default curve)", "values"]
    assert f"squat {prior.median:.3g} ({low:.3g} to {high:.3g})" in said


def test_errors_are_those_of_the_tables(page):
    forms = fitted_table("forms")
    here = forms[(forms["model"] == DEFAULT_FORM.name) & (forms["family"] == "set reps")]
    said = page.loc[f"{DEFAULT_FORM.name} (default form)", "error"]
    assert f"set reps {here['rmse'].item():.3g}," in said
    ratio = fitted_table("spread").set_index("family").loc["totals"]
    assert f"{ratio['ratio']:.2f} over {ratio['n']:.0f} sds" in page.loc["spread of recovery", "error"]


def test_every_equation_is_written_out(page):
    said = page.loc["rep-max equations", "values"]
    assert all(f"{row['name']}: {row['form']}" in said for row in read_rows("equations.csv"))
    assert "load * (1 + 0.0333 * reps)" in said


def test_the_page_has_a_heading_for_each_model(page):
    headings = [line[4:] for line in method_page().splitlines() if line.startswith("### ")]
    assert headings == list(page.index)
    assert np.all([f"**Limits:** {limits}" in method_page() for limits in page["limits"]])
    # Every key that the page names is cited on it, and no other.
    cited = set(re.findall(r"^- \*\*(\w+):\*\* .{20,}$", method_page().split("#### The sources")[1], re.MULTILINE))
    assert cited == set(sources()) & set(re.findall(r"\w+", " ".join(page["source"])))
    # The reference, which is made of docstrings, shows it too.
    assert str(method_page()) in methods.__doc__
