"""Copies of notebooks: what a person wrote in them is kept, what they show is not taken for it."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from workbench.reference.copies import copy_files, take_out, write_texts


def notebook(*cells: str, shows: str = "") -> str:
    outputs = [{"output_type": "stream", "name": "stdout", "text": [shows]}] if shows else []
    code = [{"cell_type": "code", "source": [cell], "outputs": outputs, "execution_count": 1} for cell in cells]
    return json.dumps({"cells": code, "metadata": {"kernel": shows}, "nbformat": 4, "nbformat_minor": 5})


@pytest.fixture
def copied(tmp_path: Path) -> tuple[Path, Path, Path]:
    """An original, its copy, and the list of copies."""
    original, folder = tmp_path / "shipped.ipynb", tmp_path / "own"
    original.write_text(notebook("1 + 1"))
    assert copy_files({"page.ipynb": original}, folder, folder / "list.json").done == ("page.ipynb",)
    return original, folder / "page.ipynb", folder / "list.json"


def renew(copied: tuple[Path, Path, Path]):
    original, copy, ledger = copied
    return copy_files({"page.ipynb": original}, copy.parent, ledger)


def test_a_page_that_was_only_run_is_renewed_by_a_later_version(copied: tuple[Path, Path, Path]) -> None:
    original, copy, _ = copied
    copy.write_text(notebook("1 + 1", shows="2"))
    original.write_text(notebook("1 + 2"))
    assert renew(copied).done == ("page.ipynb",)
    assert copy.read_text() == original.read_text()


def test_a_page_with_a_changed_cell_is_kept(copied: tuple[Path, Path, Path]) -> None:
    original, copy, _ = copied
    copy.write_text(notebook("1 + 1", "my own line", shows="2"))
    original.write_text(notebook("1 + 2"))
    assert renew(copied).kept == ("page.ipynb",)
    assert "my own line" in copy.read_text()


def test_what_a_page_shows_stays_while_there_is_no_later_version(copied: tuple[Path, Path, Path]) -> None:
    _, copy, _ = copied
    copy.write_text(notebook("1 + 1", shows="2"))
    assert renew(copied) == ((), ())
    assert json.loads(copy.read_text())["cells"][0]["outputs"]


def test_a_page_that_only_shows_something_new_comes_with_the_later_version(copied: tuple[Path, Path, Path]) -> None:
    original, copy, _ = copied
    original.write_text(notebook("1 + 1", shows="two"))
    renew(copied)
    original.write_text(notebook("3", shows="three"))
    assert renew(copied).done == ("page.ipynb",)
    assert "three" in copy.read_text()


def test_a_list_that_knows_the_whole_content_is_understood(copied: tuple[Path, Path, Path]) -> None:
    original, copy, ledger = copied
    write_texts(ledger, {"page.ipynb": hashlib.sha256(copy.read_bytes()).hexdigest()})
    original.write_text(notebook("1 + 2"))
    assert renew(copied).done == ("page.ipynb",)


def test_a_page_that_was_run_is_taken_out_and_one_with_a_changed_cell_stays(copied: tuple[Path, Path, Path]) -> None:
    _, copy, ledger = copied
    copy.write_text(notebook("1 + 1", shows="2"))
    assert take_out(copy.parent, ledger).done == ("page.ipynb",)
    assert not copy.exists()
    renew(copied)
    copy.write_text(notebook("other"))
    assert take_out(copy.parent, ledger).kept == ("page.ipynb",)


@pytest.mark.parametrize("content", ["no notebook", "[]", '{"cells": 3}', '{"cells": [{"source": 1}]}'])
def test_what_is_no_notebook_inside_is_compared_as_a_whole(copied: tuple[Path, Path, Path], content: str) -> None:
    _, copy, _ = copied
    copy.write_text(content)
    assert renew(copied).kept == ("page.ipynb",)
    assert copy.read_text() == content
