"""Every number has a birthplace: each source key in the data is listed, once, with a citation."""

import csv
import re

import pytest

from workbench.reference.sources import code_path, data_path, read_rows, sources

GRADES = {"published", "derived", "recalled", "assumed"}
TABLES = sorted([*data_path().glob("*.csv"), *data_path("evidence").glob("*.csv")])


def test_every_source_is_listed_once_with_a_citation():
    keys = [row["key"] for row in read_rows("sources.csv")]
    assert len(keys) == len(set(keys))
    assert all(sources()[key].citation.strip() for key in keys)


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.name)
def test_every_key_and_grade_is_known(path):
    known = {row["key"] for row in read_rows("sources.csv")}
    with path.open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            for key in (row.get("source") or "").split(";"):
                assert key.strip() in known | {""}, f"{path.name}: {key}"
            if row.get("grade"):
                assert row["grade"] in GRADES, f"{path.name}: {row['grade']}"


@pytest.mark.parametrize("path", sorted(code_path().joinpath("models").glob("*.py")), ids=lambda path: path.stem)
def test_a_model_gives_the_doi_of_every_source_that_has_one(path):
    text = " ".join(path.read_text(encoding="utf-8").split())
    cited = dict(re.findall(r"(\w+), doi ([^\s;,]*\w)", text))
    listed = {key: known.doi for key, known in sources().items() if known.doi and re.search(rf"(?<!\")\b{key}\b", text)}
    in_full = {key for key, doi in listed.items() if f"doi {doi}" in text}  # after a citation, not after its key
    assert listed.keys() - cited.keys() - in_full == set()
    assert {key: cited[key] for key in listed if key in cited} == {key: listed[key] for key in listed if key in cited}
