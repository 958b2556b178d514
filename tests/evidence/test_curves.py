"""Fit of the load-reps curve: invented studies with a known answer, and rivals told apart."""

import numpy as np
import pytest

from workbench.evidence.curves import fit_curve, left_out_curve
from workbench.evidence.read import LoadReps
from workbench.models.load_reps import CURVES


def invented(curve, classes, *, studies=8, log_sd=0.12, seed=1):
    """Studies of 40 lifters at four loads, each study off by its own factor; whole reps are half a rep below."""
    rng = np.random.default_rng(seed)
    rows = []
    for study in range(studies):
        shift = rng.normal(0, log_sd)
        for name, value in classes.items():
            for fraction in (0.6, 0.7, 0.8, 0.9):
                capacity = float(curve.reps(fraction, parameters=curve.parameters([value * np.exp(shift)])))
                mean = capacity - 0.5 + rng.normal(0, 0.3 * (capacity - 1) / np.sqrt(40))
                rows.append((f"s{study}", name, fraction, mean, 0.3 * (capacity - 1)))
    source, name, fraction, mean, sd = (np.array(column) for column in zip(*rows, strict=True))
    same = np.full(source.shape, "all")
    return LoadReps(
        source=source,
        group=same,
        fold=source,
        exercise=name,
        endurance_class=name,
        training=np.full(source.shape, "unknown"),
        grade=np.full(source.shape, "published"),
        use=np.full(source.shape, "fit"),
        n=np.full(source.shape, 40.0),
        groups=np.ones(source.shape),
        load_fraction=fraction.astype(float),
        reps_mean=mean.astype(float),
        mean_low=np.full(source.shape, np.nan),
        mean_high=np.full(source.shape, np.nan),
        reps_sd=sd.astype(float),
    )


def test_the_fit_finds_what_the_studies_were_made_of():
    rows = invented(CURVES["exponential"], {"squat": 0.020, "leg curl": 0.036})
    fit = fit_curve(CURVES["exponential"], rows)
    # Eight studies with a log sd of 0.12: standard error 0.042 on each class; three of them.
    assert np.exp(fit.class_value("squat")[0]) == pytest.approx(0.020, rel=0.13)
    assert np.exp(fit.class_value("leg curl")[0]) == pytest.approx(0.036, rel=0.13)
    # Their ratio does not carry the studies' shifts: 1.8 within the sampling error of 32 means, 5 % each.
    ratio = np.exp(fit.class_value("leg curl")[0] - fit.class_value("squat")[0])
    assert ratio == pytest.approx(1.8, rel=0.05)


def test_an_unseen_class_is_less_certain_than_any_seen():
    fit = fit_curve(CURVES["exponential"], invented(CURVES["exponential"], {"squat": 0.020, "leg curl": 0.036}))
    _, error = fit.class_value("calf")
    assert error > max(fit.class_value(name)[1] for name in ("squat", "leg curl"))


@pytest.mark.slow
def test_left_out_scores_tell_the_true_shape_from_a_wrong_one():
    rows = invented(CURVES["exponential"], {"squat": 0.022})
    errors = {}
    for name in ("exponential", "power"):
        predicted, _ = left_out_curve(CURVES[name], rows)
        errors[name] = np.sqrt(np.mean((predicted - rows.reps_mean) ** 2))
    assert errors["exponential"] < errors["power"]


def test_settled_classes_stay_and_move_the_others():
    rows = invented(CURVES["exponential"], {"squat": 0.020, "leg curl": 0.036})
    settled = fit_curve(CURVES["exponential"], rows, {"squat": float(np.log(0.024))})
    assert np.exp(settled.class_value("squat")[0]) == pytest.approx(0.024, rel=0.01)
    # The same studies did both: where their squats are believed more tiring, so are their leg curls, in part.
    free = fit_curve(CURVES["exponential"], rows)
    squat, curl = (settled.class_value(name)[0] - free.class_value(name)[0] for name in ("squat", "leg curl"))
    assert 0.3 * squat < curl < squat
