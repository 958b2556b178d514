"""Predictions for a group that nobody measured: what is known is kept, what is unknown is marked."""

import itertools

import numpy as np
import pytest

from workbench.evidence.predict import predict_sets
from workbench.quantities import InputError
from workbench.reference.parameters import endurance_prior, noise, one_rm_spread

DRAWS = 200


def bench(rest, **options):
    return predict_sets("bench press", [0.75] * 4, [0, rest, rest, rest], draws=DRAWS, **options)


def test_the_known_first_set_is_the_first_row():
    table = bench(120, first_set_reps=11.3)
    first = table.iloc[0]
    assert (first["mean"], first["sd"], first["low"], first["high"]) == (11.3, 0.0, 11.3, 11.3)


def test_the_first_set_carries_over_to_later_sets():
    few, many = bench(120, first_set_reps=8), bench(120, first_set_reps=14)
    assert np.all(many["mean"].to_numpy() > few["mean"].to_numpy())


def test_columns_order_and_interval():
    table = bench(120)
    assert list(table.columns[:1]) == ["set"]
    assert {"mean", "sd", "low", "high"} <= set(table.columns)
    assert list(table["set"]) == [1, 2, 3, 4]
    assert np.all(table["low"] <= table["mean"])
    assert np.all(table["mean"] <= table["high"])


def test_reps_fall_and_a_longer_rest_is_never_worse():
    means = [bench(rest, first_set_reps=10)["mean"].to_numpy() for rest in (60, 120, 180, 300)]
    assert all(np.all(np.diff(mean) <= 1e-9) for mean in means)
    assert all(np.all(long >= short - 1e-9) for short, long in itertools.pairwise(means))


def test_nobody_passes_the_cap():
    table = bench(60, reps_cap=10)
    assert np.all(table["high"] <= 10)
    assert np.all(table["mean"] <= 10)
    per_set = predict_sets("bench press", [0.7] * 2, [0, 300], reps_cap=[6, 20], draws=DRAWS)
    assert per_set["mean"][0] <= 6 < per_set["mean"][1]


def test_a_lighter_load_gives_reps_back():
    kept = predict_sets("leg press", [0.75] * 3, [0, 60, 60], first_set_reps=10, draws=DRAWS)["mean"]
    cut = predict_sets("leg press", [0.75, 0.675, 0.6075], [0, 60, 60], first_set_reps=10, draws=DRAWS)["mean"]
    assert np.all(cut[1:] > kept[1:])


def test_women_lose_no_more_than_men_in_the_studies_behind_it():
    assert bench(60, first_set_reps=10, sex="female")["mean"][3] > bench(60, first_set_reps=10, sex="male")["mean"][3]


def test_an_unknown_exercise_falls_back_and_says_so():
    table = predict_sets("quite unknown lift", [0.75] * 2, [0, 120], draws=DRAWS)
    assert "not in the catalogue" in table.attrs["fallback"]
    assert all("not in the catalogue" in mark for mark in table["mark"])
    assert bench(120).attrs["fallback"] == ""


def test_extrapolation_is_marked():
    marks = predict_sets("bench press", [0.40, 0.75, 0.75], [0, 10, 120], draws=DRAWS)["mark"]
    assert "load outside" in marks[0]
    assert "rest outside" in marks[1]
    assert marks[2] == ""


def test_the_same_seed_gives_the_same_digits():
    one, two, other = bench(120, seed=4), bench(120, seed=4), bench(120, seed=5)
    assert one["mean"].tolist() == two["mean"].tolist()
    assert one["mean"].tolist() != other["mean"].tolist()


def test_more_people_make_a_narrower_interval():
    small, large = bench(120, group_size=5), bench(120, group_size=200)
    assert np.all((large["high"] - large["low"]) < (small["high"] - small["low"]))


def test_people_of_a_study_differ_as_one_set_of_many_lifters_does():
    # Independent slow form: lifters with an endurance and an unknown of the 1RM each, one set, whole reps. The group is
    # the typical one.
    prior, scatter = endurance_prior("horizontal press"), noise()
    rng = np.random.default_rng(8)
    for fraction in (0.6, 0.75, 0.85):
        k = prior.median * np.exp(prior.log_sd_between_lifters * rng.standard_normal(200_000))
        k = k / np.exp(0.5 * (prior.log_sd_between_groups**2 + prior.log_sd_of_median**2))
        capacity = 1 + (np.log(1 / fraction) + one_rm_spread() * rng.standard_normal(200_000)) / k
        reps = np.floor(np.maximum(capacity * (1 + scatter.set_log_sd * rng.standard_normal(200_000)), 0))
        table = predict_sets("bench press", [fraction], [0], draws=DRAWS)
        # Groups differ in their mean and so in their sd: the square root of a mean square is a few percent above.
        assert table["person_sd"][0] == pytest.approx(reps.std(), rel=0.08)
        assert table.attrs["total"]["person_sd"] == pytest.approx(table["person_sd"][0])


def test_a_person_is_less_certain_than_a_mean_and_the_total_holds_together():
    table = bench(120)
    assert np.all(table["person_high"] - table["person_low"] > table["high"] - table["low"])
    total = table.attrs["total"]
    assert total["mean"] == pytest.approx(table["mean"].sum())
    # Sets of one lifter go together, though not wholly.
    assert np.sqrt((table["person_sd"] ** 2).sum()) < total["person_sd"] < table["person_sd"].sum()


def test_a_load_found_as_a_repetition_maximum_is_done_by_everyone():
    by_max = predict_sets("bench press", [0.75] * 3, [0, 120, 120], rep_max=10, draws=DRAWS)
    by_percent = predict_sets("bench press", [0.75] * 3, [0, 120, 120], draws=DRAWS)
    # What is left is the step of load, set to set, and whole reps: about 1 rep.
    assert by_max["person_sd"][0] < 1.2 < by_percent["person_sd"][0]
    assert by_max["mean"][0] == pytest.approx(10, abs=0.5)
    assert by_max.attrs["total"]["person_sd"] < by_percent.attrs["total"]["person_sd"]


def test_who_is_untrained_knows_the_one_rm_less_well():
    trained, untrained = bench(120, training="trained"), bench(120, training="untrained")
    assert np.all(untrained["person_sd"] > trained["person_sd"])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rests_s": [0, 60]}, "rests_s"),
        ({"load_fractions": [0.7, 0.7, -0.1]}, "load_fractions"),
        ({"rests_s": [0, 60, -5]}, "rests_s"),
        ({"reps_cap": 0}, "reps_cap"),
        ({"sex": "x"}, "sex"),
        ({"first_set_reps": 12.0, "reps_cap": 10}, "first_set_reps"),
        ({"rep_max": 0.5}, "rep_max"),
        ({"training": "expert"}, "training"),
    ],
)
def test_bad_input_gets_one_clear_error(change, message):
    good = {"load_fractions": [0.7] * 3, "rests_s": [0, 60, 60]}
    with pytest.raises(InputError, match=message):
        predict_sets("bench press", **{**good, **change}, draws=10)
