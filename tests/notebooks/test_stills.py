"""A still is put beside what a cell shows, in place of the one before, and moves no cell."""

from __future__ import annotations

import nbformat
import pytest

from workbench.reference.copies import copy_files

stills = pytest.importorskip("tests.browser.stills", reason="playwright is not installed: pip install '.[test]'")
#: "first" and "second" in base64.
FIRST, SECOND = "Zmlyc3Q=", "c2Vjb25k"


def cell(kind: str) -> nbformat.NotebookNode:
    shown = nbformat.v4.new_output("display_data", {kind: {"model_id": "1"}, "text/plain": "not run"})
    return nbformat.v4.new_code_cell("panel.show()", outputs=[nbformat.v4.new_output("stream", text="read\n"), shown])


def test_the_still_of_a_widget_is_an_output_behind_it() -> None:
    one = cell(stills.WIDGET)
    stills.put_still(one, b"first")
    stills.put_still(one, b"second")
    assert [output.get("data") for output in one.outputs] == [
        None,
        {stills.WIDGET: {"model_id": "1"}, "text/plain": "not run"},
        {"image/png": SECOND, "text/plain": stills.SAID},
    ]


def test_the_still_of_a_figure_is_another_form_of_it() -> None:
    one = cell(stills.FIGURE)
    stills.put_still(one, b"first")
    assert len(one.outputs) == 2
    assert one.outputs[1].data == {stills.FIGURE: {"model_id": "1"}, "text/plain": "not run", "image/png": FIRST}


def test_a_copy_is_untouched_whatever_stills_it_holds(tmp_path) -> None:
    """So a later version renews it: what counts are its cells."""
    notebook = nbformat.v4.new_notebook(cells=[cell(stills.WIDGET)])
    original, copy = tmp_path / "original.ipynb", tmp_path / "mine" / "a.ipynb"
    nbformat.write(notebook, original)
    files = {"a.ipynb": original}
    copy_files(files, copy.parent, tmp_path / "ledger")
    mine = nbformat.read(copy, as_version=4)
    stills.put_still(mine.cells[0], b"first")
    nbformat.write(mine, copy)
    notebook.cells.append(nbformat.v4.new_markdown_cell("What is new."))
    nbformat.write(notebook, original)
    assert copy_files(files, copy.parent, tmp_path / "ledger") == (("a.ipynb",), ())
    assert len(nbformat.read(copy, as_version=4).cells) == 2
