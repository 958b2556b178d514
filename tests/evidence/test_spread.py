"""Spread between people: each part found from invented lifters, studies left out of their own prediction, the table."""

import numpy as np
import pandas as pd
import pytest

from workbench.evidence.read import LoadReps
from workbench.evidence.spread import Spread, fit_spread, left_out_spread, pooled_endurance
from workbench.evidence.spread_table import spread_table

SET = 0.07


def rows(source, fraction, mean, sd=None, *, training="mixed", groups=1.0, n=60.0, low=np.nan, high=np.nan):
    source, fraction, mean = np.broadcast_arrays(np.array(source), np.array(fraction, float), np.array(mean, float))
    shape = source.shape
    return LoadReps(
        source=source,
        group=np.full(shape, "all"),
        fold=source,
        exercise=np.full(shape, "bench press"),
        endurance_class=np.full(shape, "horizontal press"),
        grade=np.full(shape, "published"),
        use=np.full(shape, "fit"),
        n=np.full(shape, n),
        load_fraction=fraction,
        reps_mean=mean,
        reps_sd=np.full(shape, np.nan) if sd is None else np.broadcast_to(np.array(sd, float), shape),
        training=np.full(shape, training),
        groups=np.full(shape, groups),
        mean_low=np.broadcast_to(np.array(low, float), shape),
        mean_high=np.broadcast_to(np.array(high, float), shape),
    )


def invented_study(name, endurance_sd, one_rm_sd, *, training="mixed", people=40_000, seed=0):
    """Independent slow form: lifters with an endurance and an unknown of the 1RM do one set and count whole reps."""
    rng = np.random.default_rng(seed)
    fractions = np.array([0.6, 0.7, 0.8, 0.9])
    k = 0.027 * np.exp(endurance_sd * rng.standard_normal(people))
    means, sds = [], []
    for fraction in fractions:
        capacity = 1.0 + (np.log(1.0 / fraction) + one_rm_sd * rng.standard_normal(people)) / k
        reps = np.floor(np.maximum(capacity * (1.0 + SET * rng.standard_normal(people)), 0.0))
        means.append(reps.mean())
        sds.append(reps.std())
    return rows(name, fractions, means, sds, training=training, n=float(people))


def joined(*parts):
    return LoadReps(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in parts[0].__dict__})


def test_sd_of_a_row_by_hand():
    # h = ln(1/0.7) = 0.356675; 10.5 whole reps are 10 beyond the first. Endurance 0.2, 1RM 0.04:
    # (1 + (0.04/0.356675)**2) exp(0.04) - 1 = 1.0125770 * 1.0408108 - 1 = 0.0539011, times 100 = 5.390106;
    # the set (0.07 * 11)**2 = 0.5929; whole reps 1/12 = 0.083333. Sum 6.066339, root 2.462994.
    spread = Spread({"other": 0.2}, {"trained": 0.04, "untrained": 0.04, "mixed": 0.04}, SET)
    assert spread.sd(rows("a", [0.7], [10.5])) == pytest.approx([2.462994], abs=1e-5)


def test_endurance_and_one_rm_are_told_apart():
    every = [invented_study(f"s{i}", 0.22, 0.05, training="trained", seed=i) for i in range(8)]
    fit = fit_spread(joined(*every), SET)
    # A weak prior pulls towards 0.20 and 0.045, and reps near 4 are coarse: within a tenth.
    within_a_tenth = 0.1
    assert fit.endurance["horizontal press"] == pytest.approx(0.22, rel=within_a_tenth)
    assert fit.one_rm["trained"] == pytest.approx(0.05, rel=within_a_tenth)


def test_untrained_people_know_their_one_rm_less_well():
    every = [invented_study(f"t{i}", 0.22, 0.03, training="trained", seed=i) for i in range(4)]
    every += [invented_study(f"u{i}", 0.22, 0.08, training="untrained", seed=9 + i) for i in range(4)]
    fit = fit_spread(joined(*every), SET)
    # They are 0.03 and 0.08: what is found must lie nearer its own.
    assert fit.one_rm["trained"] < np.sqrt(0.03 * 0.08) < fit.one_rm["untrained"]


def test_a_study_does_not_predict_itself_and_the_pool_not_its_members():
    narrow = [invented_study(f"s{i}", 0.15, 0.04, seed=i) for i in range(4)]
    pool = rows("pool", [0.6, 0.7, 0.8], [19.5, 14.0, 8.8], [8.0, 6.0, 4.0], groups=200.0)
    before = left_out_spread(joined(*narrow, pool), SET)
    spoilt = rows("s0", narrow[0].load_fraction, narrow[0].reps_mean, 3.0 * narrow[0].reps_sd, n=40_000.0)
    after = left_out_spread(joined(spoilt, *narrow[1:], pool), SET)
    assert after[:4] == pytest.approx(before[:4])
    # The pool is left out of single studies, and they alone predict it: 0.15 gives far less than 6 at 14 reps.
    wider = rows("pool", [0.6, 0.7, 0.8], [19.5, 14.0, 8.8], [16.0, 12.0, 8.0], groups=200.0)
    assert left_out_spread(joined(*narrow, wider), SET)[:16] == pytest.approx(before[:16])
    assert before[17] < 4.0


def test_the_pooled_value_has_its_largest_miss_as_small_as_can_be():
    # Points of one exponential curve, half a rep below capacity: no miss at all at its own value.
    fractions = np.array([0.6, 0.75, 0.9])
    mean = np.log(1.0 / fractions) / 0.026 + 0.5
    (value, error) = pooled_endurance(rows("pool", fractions, mean, low=0.9 * mean, high=mean / 0.9))[
        "horizontal press"
    ]
    assert np.exp(value) == pytest.approx(0.026, rel=1e-4)
    # ln(1/0.81) / (2 * 1.959964) = 0.053757
    assert error == pytest.approx(0.053757, abs=1e-5)
    # One point 8 % high: the value moves until that miss and the largest on the other side are equal.
    bent = mean * np.array([1.0, 1.0, 1.08])
    value, _ = pooled_endurance(rows("pool", fractions, bent, low=0.9 * bent, high=bent / 0.9))["horizontal press"]
    off = np.log((np.log(1.0 / fractions) / np.exp(value) + 0.5) / bent)
    assert off.max() == pytest.approx(-off.min(), abs=1e-4)


def test_the_table_takes_geometric_means_by_family():
    fresh = rows("a", [0.7], [12.0])
    runs = pd.DataFrame(
        {
            "source": ["b", "b", "c"],
            "fold": ["b", "b", "c"],
            "family": ["set reps", "total", "capped total"],
            "load": ["percent of 1RM", "percent of 1RM", "repetition maximum"],
            "published_person_sd": [2.0, 4.0, 2.0],
            "person_sd": [4.0, 4.0, 1.0],
        }
    )
    table = spread_table(fresh, SET, runs).set_index("family")["ratio"]
    # 2 and 1: root of 2. 1 and 1/2: root of 1/2.
    assert table["percent of 1RM"] == pytest.approx(np.sqrt(2.0))
    assert table["totals"] == pytest.approx(np.sqrt(0.5))
    assert table["later sets"] == pytest.approx(2.0)
    assert table["repetition maximum"] == pytest.approx(0.5)
    # Two studies of totals, ln 1 and ln 1/2: sd ln 2 / sqrt 2, over sqrt 2 half of ln 2.
    assert spread_table(fresh, SET, runs).set_index("family")["factor"]["totals"] == pytest.approx(np.sqrt(2.0))
