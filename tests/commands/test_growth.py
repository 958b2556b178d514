"""How costs grow: the exponent by hand, and what the command prints; what it times is never judged in a test."""

import json

import pytest

from workbench.__main__ import main
from workbench.commands import growth
from workbench.commands.growth import Growth, exponent

#: A few logarithms.
ROUNDING = 1e-9


@pytest.mark.parametrize("power", [0.0, 0.5, 1.0, 2.0])
def test_the_exponent_is_the_power_that_a_cost_goes_with(power):
    sizes = (3, 6, 12, 24)
    assert exponent(sizes, [0.2 * size**power for size in sizes]) == pytest.approx(power, abs=ROUNDING)


def test_the_exponent_is_fitted_to_all_sizes():
    # Logs to base 2: sizes 0, 1, 2 and costs 0, 1, 4. Least squares: (-1 * -5/3 + 1 * 7/3) / 2 = 2.
    assert exponent((1, 2, 4), (1.0, 2.0, 16.0)) == pytest.approx(2.0, abs=ROUNDING)


def test_the_command_prints_each_size_with_its_power_and_costs(monkeypatch, capsys):
    measured = [Growth("draws", "a block", (500, 1000), (0.02, 0.04)), Growth("weeks", "a block", (4, 8), (0.3, 0.3))]
    monkeypatch.setattr(growth, "growth", lambda: iter(measured))
    assert main(["bench", "--growth"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].split() == ["draws", "1.00", "a", "block;", "ms", "at", "500:", "20,", "1,000:", "40"]
    assert lines[2].split()[:2] == ["weeks", "0.00"]
    assert main(["bench", "--growth", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [(one["size"], one["exponent"]) for one in told] == [("draws", 1.0), ("weeks", 0.0)]


def test_every_case_is_twice_as_large_as_the_one_before(monkeypatch):
    asked = []
    monkeypatch.setattr(growth, "_shortest", lambda work: 1.0)
    found = growth._measured("sets", "a block", 3, lambda size: asked.append(size) or (lambda: None))
    assert list(found.sizes) == asked == [3, 6, 12, 24]


def test_the_cases_are_of_the_sizes_that_they_say():
    assert growth.block_case(sets=2).set_count == 4 * 4 * 2
    assert growth.block_case(weeks=3).weeks == 3
    assert len(growth._roster(2).args[1]) == 2
    assert len(growth.refit_case(2)[0]) == 2 * 25
    # Two plates of one kind on either side: none, one or two. Of two kinds: 3 x 3 ways, no two of which weigh alike.
    assert [len(growth._loads_of(kinds, stock=7)) for kinds in (1, 2)] == [3, 9]
