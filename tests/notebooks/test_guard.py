"""What nbval cannot see: cells without outputs pass its comparison, so here every notebook must have been run."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any

import nbformat
import pytest

from workbench.reference.sources import notebooks_path

NOTEBOOKS = sorted(notebooks_path().glob("*.ipynb"))
SKIPS_COMPARISON = "nbval-ignore-output"
WIDGET = "application/vnd.jupyter.widget-view+json"
#: What a person sees and a comparison of text does not: widgets, and figures with their random names.
SHOWN = {WIDGET, "application/vnd.plotly.v1+json"}
#: Written for students: their code is the point of it, shown and defining things.
FOR_STUDENTS = {"08_add_your_own_model"}
#: Words of the cautions that every notebook must carry: who it is for, pain, near failure, who asks first.
CAUTIONS = ("qualified coach", "stop on pain", "spotters", "licensed professional")
#: What a viewer of a repository shows: a still picture beside what only a running page can show.
PICTURE = "image/png"
#: What a page with widgets says first: JupyterLab keeps no widget beyond its server, and says only this of it.
WHEN_A_WIDGET_IS_GONE = "*Error displaying widget*"
#: Of the notebook without its stills, and with them: a repository's viewer still opens that at once.
LARGEST_BYTES, LARGEST_WITH_STILLS = 200_000, 1_000_000


def read(path: Path) -> Any:
    return nbformat.read(path, as_version=4)


def tags(cell: Any) -> list[str]:
    return cell.metadata.get("tags", [])


def faults(notebook: Any, *, for_students: bool = False) -> list[str]:
    """Everything that is wrong with a notebook, in words; empty where nothing is."""
    found = []
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    prose = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown").lower()
    for number, cell in enumerate(code, start=1):
        if cell.execution_count != number:
            found.append(f"cell {number} was not run in order")
        if not cell.outputs:
            found.append(f"cell {number} has no output")
        if not for_students and not cell.metadata.get("jupyter", {}).get("source_hidden"):
            found.append(f"cell {number} shows its code")
        if any(output.output_type == "error" or output.get("name") == "stderr" for output in cell.outputs):
            found.append(f"cell {number} failed or warned")
        shows = any(SHOWN & set(output.get("data", {})) for output in cell.outputs)
        if shows != (SKIPS_COMPARISON in tags(cell)):
            found.append(f"cell {number}: exactly the cells that show a widget or figure carry {SKIPS_COMPARISON}")
        if shows and not any(PICTURE in output.get("data", {}) for output in cell.outputs):
            found.append(f"cell {number} has no still picture: python -m tests.browser.stills")
        if "nbval-skip" in tags(cell) or "raises-exception" in tags(cell):
            found.append(f"cell {number} is kept from being checked")
        definitions = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
        if not for_students and any(isinstance(node, definitions) for node in ast.walk(ast.parse(cell.source))):
            found.append(f"cell {number} defines something")
    if not any(SKIPS_COMPARISON not in tags(cell) and cell.outputs for cell in code):
        found.append("no cell prints numbers that are checked")
    widgets = any(WIDGET in output.get("data", {}) for cell in code for output in cell.outputs)
    if widgets and WHEN_A_WIDGET_IS_GONE not in notebook.cells[0].source:
        found.append("the opening does not say what to do where a widget is gone")
    if "widgets" in notebook.metadata:
        found.append("widget state is saved")
    found.extend(f"no caution says {words!r}" for words in CAUTIONS if words not in prose)
    text = nbformat.writes(notebook)
    if re.search(r"(?<![\w.:/])(/home/|/Users/|/root/|/tmp/|/work/|[A-Za-z]:\\\\)", text):
        found.append("holds an absolute path")
    pictures = sum(len(output.get("data", {}).get(PICTURE, "")) for cell in code for output in cell.outputs)
    if len(text) - pictures > LARGEST_BYTES or len(text) > LARGEST_WITH_STILLS:
        found.append("is too large")
    return found


def test_the_questions_have_their_notebooks() -> None:
    assert [path.name[:2] for path in NOTEBOOKS][:3] == ["01", "02", "03"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_is_run_checked_and_fit_for_a_coach(path: Path) -> None:
    assert faults(read(path), for_students=path.stem in FOR_STUDENTS) == []


@pytest.mark.parametrize(
    ("damage", "fault"),
    [
        (lambda cell: cell.update(execution_count=None), "not run"),
        (lambda cell: cell.update(outputs=[]), "no output"),
        (lambda cell: cell.metadata.update(tags=[SKIPS_COMPARISON]), "exactly the cells"),
        (lambda cell: cell.metadata.update(tags=["nbval-skip"]), "kept from being checked"),
        (lambda cell: cell.metadata.update(jupyter={}), "shows its code"),
        (lambda cell: cell.update(source="def f(): pass"), "defines"),
        (lambda cell: cell.update(source='print("/home/me/block.toml")'), "absolute path"),
    ],
)
def test_the_guard_sees_what_is_wrong(damage: Any, fault: str) -> None:
    notebook = read(NOTEBOOKS[0])
    printing = [cell for cell in notebook.cells if cell.cell_type == "code" and SKIPS_COMPARISON not in tags(cell)]
    damage(printing[0])
    assert any(fault in found for found in faults(notebook)), faults(notebook)


def test_the_guard_misses_no_still() -> None:
    notebook = read(NOTEBOOKS[0])
    for cell in notebook.cells:
        cell.outputs = [one for one in cell.get("outputs", []) if PICTURE not in one.get("data", {})]
    assert [found for found in faults(notebook) if "still" in found]


def test_the_guard_misses_no_word_on_widgets_that_are_gone() -> None:
    notebook = read(NOTEBOOKS[0])
    notebook.cells[0].source = "# A question"
    assert [found for found in faults(notebook) if "widget is gone" in found]


def test_the_guard_misses_no_caution() -> None:
    notebook = read(NOTEBOOKS[0])
    notebook.cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert len([found for found in faults(notebook) if "caution" in found]) == len(CAUTIONS)
