"""The table of faults: each has a test that is there, and no kind is left out."""

import ast
import csv
import functools
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KINDS = {
    "file", "kept files", "disk", "permission", "clock", "two writers", "killed", "server", "worker", "network",
    "fonts", "Chromium", "versions",
}  # fmt: skip


def read():
    with (Path(__file__).parent / "faults.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


FAULTS = read()


@functools.cache
def defined_in(path):
    """Names of the tests that pytest collects from a file."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}


def test_there_are_faults_of_every_kind():
    assert len(FAULTS) >= 40
    assert set(Counter(row["kind"] for row in FAULTS)) == KINDS


def test_every_row_is_whole_and_no_fault_stands_twice():
    assert all(all(cell.strip() for cell in row.values()) for row in FAULTS)
    assert max(Counter((row["kind"], row["fault"]) for row in FAULTS).values()) == 1
    assert max(Counter(row["test"] for row in FAULTS).values()) == 1


@pytest.mark.parametrize("row", FAULTS, ids=lambda row: row["test"].partition("::test_")[2])
def test_the_test_that_a_fault_names_is_there(row):
    path, _, name = row["test"].partition("::")
    assert name in defined_in(path)
