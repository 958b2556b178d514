"""Every number has a birthplace: each source key in the data is listed, once, with a citation."""

import csv

import pytest

from workbench.reference.sources import data_path, read_rows, source

GRADES = {"published", "derived", "recalled", "assumed"}
TABLES = sorted([*data_path().glob("*.csv"), *data_path("evidence").glob("*.csv")])


def test_every_source_is_listed_once_with_a_citation():
    keys = [row["key"] for row in read_rows("sources.csv")]
    assert len(keys) == len(set(keys))
    assert all(source(key).citation.strip() for key in keys)


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.name)
def test_every_key_and_grade_is_known(path):
    known = {row["key"] for row in read_rows("sources.csv")}
    with path.open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            for key in (row.get("source") or "").split(";"):
                assert key.strip() in known | {""}, f"{path.name}: {key}"
            if row.get("grade"):
                assert row["grade"] in GRADES, f"{path.name}: {row['grade']}"
