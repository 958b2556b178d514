"""What figures say of studies stands in the data, agrees with the numbers kept there, and is shown with its source."""

import re

import pytest

from workbench.reference.sources import Claim, claims, code_path, read_rows, sources


@pytest.mark.parametrize("topic", claims())
def test_a_claim_is_said_with_its_sources_and_grade(topic):
    claim = claims()[topic]
    assert claim.claim in str(claim)
    for part in (*filter(None, claim.source.split(";")), claim.caveat):
        assert part in str(claim)
    assert claim.grade in str(claim).lower()


def test_where_no_study_says_it_the_grade_comes_first():
    assert str(Claim("t", "nobody has looked", "", "", "assumed")) == "Assumed: nobody has looked"
    claim = Claim("t", "It rises", "small", "a_2000;b_2001", "derived")
    assert str(claim) == "It rises (a_2000, b_2001, derived; small)"


def test_the_loads_of_the_largest_gain_are_those_of_the_kept_numbers():
    gains = [row for row in read_rows("evidence", "volume_ranges.csv") if "load of the largest gain" in row["measure"]]
    said = re.findall(r"(\w+) near (\d+) %|near (\d+) %", claims()["zones"].claim)
    numbers = [first or second for _, first, second in said]
    assert numbers == [row["value"] for row in gains] == ["80", "60"]
    assert {row["source"] for row in gains} == {claims()["zones"].source}


def test_no_figure_names_a_study_or_the_number_of_studies_itself():
    keys = "|".join(map(re.escape, sources()))
    of_studies = re.compile(rf"\b({keys})\b|\b\d+ studies\b|published losses")
    for path in (code_path() / "figures").glob("*.py"):
        assert not of_studies.search(path.read_text(encoding="utf-8")), path.name
