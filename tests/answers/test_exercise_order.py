"""The carry-over between exercises against the published studies of exercise order."""

import csv

import pytest

from workbench.answers.exercise_order import WITHIN_ERRORS, exercise_order_table
from workbench.models.sharing import NO_CARRY, Carry
from workbench.reference.sources import data_path


@pytest.fixture(scope="module")
def table():
    return exercise_order_table(draws=300, seed=1)


def test_every_study_is_met_in_direction_and_size(table):
    assert len(table) == 7
    assert table["agrees"].all(), table.loc[~table["agrees"]].to_string()


def test_the_sizes_are_the_published_ones(table):
    # senna_order: 25.85 of 34.36 reps are 24.8 % fewer, 27.85 of 33.5 are 16.9 %. augustsson_2003: 7.9 of 9.3, 15 %.
    sized = table.dropna(subset="published_percent")
    by_hand = [100 * (25.85 / 34.36 - 1), 100 * (27.85 / 33.5 - 1), 100 * (7.9 / 9.3 - 1)]
    printed_digit = 0.1
    assert sized["published_percent"].tolist() == pytest.approx(by_hand, abs=printed_digit)
    # Error of a ratio b / a, from the standard errors sd / sqrt(n) of both: (b / a) sqrt((sb / b)^2 + (sa / a)^2).
    errors = [
        100 * b / a * ((sb / n**0.5 / b) ** 2 + (sa / n**0.5 / a) ** 2) ** 0.5
        for a, sa, b, sb, n in (
            (34.36, 4.68, 25.85, 6.73, 14),
            (33.5, 4.11, 27.85, 6.52, 14),
            (9.3, 2.2, 7.9, 1.4, 17),
        )
    ]
    assert sized["error_percent"].tolist() == pytest.approx(errors, abs=printed_digit)
    assert (sized["errors_off"].abs() <= WITHIN_ERRORS).all()


def test_the_table_can_fail():
    without = exercise_order_table(draws=50, seed=1, carry=NO_CARRY)
    assert not without.loc[without["direction"] == "fewer", "agrees"].any()
    far_too_much = exercise_order_table(draws=50, seed=1, carry=Carry(1.0, 3.0))
    assert not far_too_much["agrees"].all()


def test_the_carry_in_use_fits_about_as_well_as_any():
    """Misfit, summed over the three sizes, within one unit of the best on a coarse grid of both pools."""

    def misfit(carry):
        return (exercise_order_table(draws=60, seed=1, carry=carry)["errors_off"] ** 2).sum()

    best = min(misfit(Carry(s, m)) for s in (0.0, 0.25, 0.5) for m in (0.5, 0.75, 1.0, 1.25))
    one_more = 1.0  # a change of one in the sum of squares is one standard error
    assert misfit(Carry()) <= best + one_more


def test_what_alternates_is_said_to_and_nothing_else():
    with (data_path("evidence") / "exercise_order.csv").open(encoding="utf-8") as file:
        shipped = list(csv.DictReader(file))
    said = exercise_order_table(draws=20, seed=1)["before"].tolist()
    assert [text.startswith("alternating with ") for text in said] == [row["alternating"] == "yes" for row in shipped]
    assert [text.removeprefix("alternating with ") for text in said] == [
        row["first"].replace(";", ", ") for row in shipped
    ]
    assert 0 < sum(row["alternating"] == "yes" for row in shipped) < len(shipped)
