"""What was learned, said and shown: notes, rows of the summary and sentences, each from distributions made by hand."""

from __future__ import annotations

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from workbench.fit import learned as module
from workbench.fit.learned import Learned, _what_changed
from workbench.fit.marginals import LogNormal, Marginal, Normal
from workbench.models.load_reps import DEFAULT_CURVE

SQUAT, BENCH = "back squat", "bench press"
LEVELS = (10, 50, 90)
#: One in ten lies beyond so many sds of a normal distribution.
TENTH = 1.2815515655446004
#: Of quantiles that are read off eighty points.
READ_OFF = 1e-3


def bell(mean, sd):
    points = mean + sd * np.linspace(-6.0, 6.0, 81)
    return Marginal(points, np.exp(-0.5 * ((points - mean) / sd) ** 2))


def quantiles(mean, sd):
    return [mean - TENTH * sd, mean, mean + TENTH * sd]


class Made(Learned):
    """What was learned, of which the distributions are given."""

    one_rms: dict
    endurances: dict
    rate: Marginal
    carried: SimpleNamespace | None = None

    def one_rm(self, exercise):
        return self.one_rms[exercise]

    def endurance(self, exercise):
        return self.endurances[exercise]

    @property
    def recovery_rate(self):
        return self.rate

    @property
    def carry_over(self):
        return self.carried


def session(date, *endings):
    return SimpleNamespace(date=datetime.date(2026, 1, date), sets=[SimpleNamespace(ending=one) for one in endings])


def log_of(exercise, *sessions):
    sets = [one for each in sessions for one in each.sets]
    return SimpleNamespace(exercise=exercise, sessions=sessions, sets=sets, set_count=len(sets))


def lift_of(exercise, log_mean=4.6, log_sd=0.05, *, guessed=False):
    prior = SimpleNamespace(one_rm=LogNormal(log_mean, log_sd), endurance=LogNormal(-3.5, 0.3), guessed=guessed)
    return SimpleNamespace(exercise=exercise, prior=prior)


def made(*, one_rms=None, unknowns=None, guessed=False, told=(), skipped=(), sessions=None, carried=None):
    sessions = sessions or (session(1, "completed", "stated", "felt"), session(3, "failed"))
    logs = (log_of(SQUAT, *sessions), log_of(BENCH, session(1, "stated")))
    sets = [one for log in logs for one in log.sets]
    fit = SimpleNamespace(
        lifts=(lift_of(SQUAT), lift_of(BENCH, 4.2, 0.1, guessed=guessed)),
        log=SimpleNamespace(lifts=logs, sets=sets, skipped=skipped, left_out="left out"),
        rate=LogNormal(0.0, 0.2),
        lifter=SimpleNamespace(recovery_note="a note", goes_together=lambda quantity: quantity in told),
        settings=SimpleNamespace(reserve_bias_mean=0.3, reserve_bias_sd=0.8),
        unknowns=unknowns,
        curve=DEFAULT_CURVE,
    )
    found = Made(fit)
    values = {"one_rms": one_rms or {SQUAT: bell(4.62, 0.02), BENCH: bell(4.25, 0.05)}, "rate": bell(0.1, 0.15)}
    values["endurances"] = {SQUAT: bell(-3.4, 0.1), BENCH: bell(-3.6, 0.2)}
    vars(found).update(values, carried=carried, model_check=SimpleNamespace(notes=("of the model",)))
    return found


def unknowns_of(reserve=(0.6, 0.3), gains=((0.002, 0.001), (0.001, 0.0039))):
    """Prior sds are 0.8 reps of the reserve, and 0.4 % a week of each gain."""
    places = {"reserve": np.array([0]), "gain": np.array([1, 2]), "bend": np.array([3])}
    after = {("reserve", 0): reserve, ("gain", 0): gains[0], ("gain", 1): gains[1], ("bend", 0): (0.4, 0.1)}
    return SimpleNamespace(
        of=places.__getitem__,
        prior_sd=np.array([0.8, 0.004, 0.004, 1.0]),
        learned=lambda name, number=0: Normal(*after[name, number]),
    )


# ---- the summary -----------------------------------------------------------------------------------------------------


def rows_of(learned):
    return {(row["exercise"], row["quantity"]): row for row in learned.summary().to_dict("records")}


def assert_row(row, unit, sets, prior, after, note=""):
    """``prior`` and ``after``: mean and sd of what is normal."""
    assert (row["unit"], row["sets"], row["note"]) == (unit, sets, note)
    exact = {"abs": READ_OFF * prior[1]} if unit in ("reps", "%/week") else {"rel": READ_OFF}
    turned = (lambda values: values) if "abs" in exact else np.exp
    assert [row[f"prior_p{level}"] for level in LEVELS] == pytest.approx(turned(quantiles(*prior)), **exact)
    assert [row[f"p{level}"] for level in LEVELS] == pytest.approx(turned(quantiles(*after)), **exact)
    assert row["narrowed"] == pytest.approx(after[1] / prior[1], rel=READ_OFF)


def test_the_summary_has_a_row_for_every_quantity():
    carried = SimpleNamespace(prior=LogNormal(0.0, 0.3), learned=bell(0.2, 0.15), sets=3)
    rows = rows_of(made(carried=carried, unknowns=unknowns_of()))
    assert list(rows) == [
        *((name, kind) for name in (SQUAT, BENCH) for kind in ("1RM", "endurance")),
        *(("all", "recovery rate"), ("all", "carry-over"), ("all", "reserve bias"), (SQUAT, "gain")),
    ]
    assert_row(rows[SQUAT, "1RM"], "kg", 4, (4.6, 0.05), (4.62, 0.02))
    assert_row(rows[BENCH, "1RM"], "kg", 1, (4.2, 0.1), (4.25, 0.05))
    assert_row(rows[SQUAT, "endurance"], "1/rep", 4, (-3.5, 0.3), (-3.4, 0.1))
    assert_row(rows[BENCH, "endurance"], "1/rep", 1, (-3.5, 0.3), (-3.6, 0.2))
    # Two sets of the squat followed another of the same day; three sets stated or felt a reserve.
    assert_row(rows["all", "recovery rate"], "1", 2, (0.0, 0.2), (0.1, 0.15), "a note")
    assert_row(rows["all", "carry-over"], "1", 3, (0.0, 0.3), (0.2, 0.15))
    assert_row(rows["all", "reserve bias"], "reps", 3, (0.3, 0.8), (0.6, 0.3))
    assert_row(rows[SQUAT, "gain"], "%/week", 4, (0.0, 0.4), (0.2, 0.1))


def test_without_a_second_set_or_anything_unknown_there_is_nothing_of_them():
    rows = rows_of(made(sessions=(session(1, "failed"), session(3, "failed"))))
    assert rows["all", "recovery rate"]["note"].startswith("no set followed another of the same exercise")
    assert rows["all", "recovery rate"]["sets"] == 0
    assert {kind for _, kind in rows} == {"1RM", "endurance", "recovery rate"}


@pytest.mark.parametrize(("sd", "shown"), [(0.71, True), (0.73, False)])
def test_what_keeps_nine_tenths_of_its_spread_is_not_shown(sd, shown):
    """Nine tenths of 0.8 are 0.72; of 0.4 %, 0.36 %."""
    rows = rows_of(made(unknowns=unknowns_of((0.3, sd), ((0.0, sd / 200), (0.0, 0.004)))))
    assert (("all", "reserve bias") in rows) == shown
    assert ((SQUAT, "gain") in rows) == shown
    assert (BENCH, "gain") not in rows


@pytest.mark.parametrize(("mean", "note"), [(4.46, False), (4.44, True), (4.74, False), (4.76, True)])
@pytest.mark.parametrize("guessed", [False, True])
def test_a_1rm_three_sds_from_the_file_is_marked_as_far(mean, note, guessed):
    learned = made(one_rms={SQUAT: bell(mean, 0.02), BENCH: bell(4.2, 0.05)}, guessed=guessed)
    rows = rows_of(learned)
    far = "far from the lifter file: check the 1RM there and the units of the log"
    assert rows[SQUAT, "1RM"]["note"] == (far if note else "")
    guess = "first guess from the log: the lifter file does not name this exercise"
    assert rows[BENCH, "1RM"]["note"] == (guess if guessed else "")


# ---- notes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sds", "told", "guessed", "names"),
    [
        ((0.046, 0.091), (), False, [SQUAT, BENCH]),
        ((0.046, 0.089), (), False, [SQUAT]),
        ((0.044, 0.091), (), False, [BENCH]),
        ((0.044, 0.089), (), False, []),
        # Where a log told of it before, or the file did not state it, there is nothing that stayed.
        ((0.046, 0.091), ((SQUAT, "1RM"),), False, [BENCH]),
        ((0.046, 0.091), ((SQUAT, "endurance"),), True, [SQUAT]),
    ],
)
def test_a_1rm_that_keeps_nine_tenths_of_its_spread_is_named(sds, told, guessed, names):
    one_rms = {SQUAT: bell(4.6, sds[0]), BENCH: bell(4.2, sds[1])}
    notes = made(one_rms=one_rms, told=told, guessed=guessed).notes
    assert notes[0] == "of the model"
    assert [note.partition(".")[0] for note in notes[1:]] == (
        [f"This log tells little of the 1RM of {', '.join(names)}"] if names else []
    )


def test_what_was_skipped_is_said_with_its_days():
    days = (session(9, "failed", "failed"), session(2, "failed"), session(5, "failed"))
    said = "4 sets of 2026-01-02 to 2026-01-09 are in the lifter file already and are skipped."
    assert made(skipped=days).notes[:2] == (said, "of the model")
    one = "2 sets of 2026-01-09 are in the lifter file already and are skipped."
    assert made(skipped=days[:1]).notes[0] == one
    assert made().tables["left_out"] == "left out"


# ---- sentences -------------------------------------------------------------------------------------------------------


def row(exercise, quantity, p50, prior=1.0, *, narrowed=0.5, wide=0.1, unit="kg"):
    """A row whose interval reaches ``wide`` to both sides."""
    values = dict(zip(("p10", "p50", "p90"), (p50 - wide, p50, p50 + wide), strict=True))
    return {
        "exercise": exercise,
        "quantity": quantity,
        "unit": unit,
        "prior_p50": prior,
        "narrowed": narrowed,
        **values,
    }


THEY = "Exercises for the same muscles take"
SAID = {
    "1RM": (row(SQUAT, "1RM", 140.04, 132.5, wide=4.0), "1RM of back squat: 140.0 kg (136.0 to 144.0), before 132.5."),
    "1RM that stayed": (row(SQUAT, "1RM", 140.0, narrowed=0.8), None),
    "1RM that hardly did not": (
        row(SQUAT, "1RM", 9.0, 8.0, narrowed=0.79),
        "1RM of back squat: 9.0 kg (8.9 to 9.1), before 8.0.",
    ),
    "gain": (row(SQUAT, "gain", 0.25, 0.0), "back squat: +0.2 % a week (+0.1 to +0.3)."),
    "loss": (row(SQUAT, "gain", -0.3, 0.0), "back squat: -0.3 % a week (-0.4 to -0.2)."),
    "gain or loss": (row(SQUAT, "gain", 0.05, 0.0), None),
    "endurance": (row(SQUAT, "endurance", 0.03, 0.04), None),
    "more reps": (
        row("all", "reserve bias", 0.6, 0.2),
        "Has 0.6 more reps left than is usual for what is said to be left (+0.5 to +0.7).",
    ),
    "fewer reps": (
        row("all", "reserve bias", -0.6, 0.2),
        "Has 0.6 fewer reps left than is usual for what is said to be left (-0.7 to -0.5).",
    ),
    "faster": (
        row("all", "recovery rate", 1.25),
        "Recovers faster between sets than thought: rate 1.25 (1.15 to 1.35; 1 is average).",
    ),
    "slower": (
        row("all", "recovery rate", 0.75),
        "Recovers slower between sets than thought: rate 0.75 (0.65 to 0.85; 1 is average).",
    ),
    "more from each other": (
        row("all", "carry-over", 1.25),
        f"{THEY} more from each other than thought: factor 1.25 (1.15 to 1.35; 1 is average).",
    ),
    "less from each other": (
        row("all", "carry-over", 0.75),
        f"{THEY} less from each other than thought: factor 0.75 (0.65 to 0.85; 1 is average).",
    ),
}


@pytest.mark.parametrize(("told", "said"), SAID.values(), ids=SAID.keys())
def test_what_the_log_narrowed_is_said_in_a_sentence(told, said):
    assert _what_changed(pd.DataFrame([told])) == ([] if said is None else [said])


def test_1rms_are_said_first():
    rows = [SAID["gain"][0], SAID["faster"][0], SAID["1RM"][0]]
    assert _what_changed(pd.DataFrame(rows)) == [SAID["1RM"][1], SAID["gain"][1], SAID["faster"][1]]


# ---- what else is known ----------------------------------------------------------------------------------------------


def test_the_bias_of_stated_reserves_is_the_usual_one_until_a_log_speaks():
    usual, spoken = made().reserve_bias, made(unknowns=unknowns_of()).reserve_bias
    assert (usual.mean, usual.sd) == (0.3, 0.8)
    assert (spoken.mean, spoken.sd) == (0.6, 0.3)
    gain = made(unknowns=unknowns_of()).gain(BENCH)
    assert (gain.mean, gain.sd) == (0.001, 0.0039)


def test_the_curve_is_bent_as_the_log_says_or_as_the_file_did(monkeypatch):
    headroom = np.array([0.2, 0.6])
    of_log, of_file = made(unknowns=unknowns_of()), made()
    of_file.lifter.bend = lambda curve: 0.9 if curve is DEFAULT_CURVE else None
    for learned, bend in ((of_log, 0.4), (of_file, 0.9)):
        expected = DEFAULT_CURVE.bent(bend).fresh_reps(headroom, 0.03)
        assert learned.bent_curve.fresh_reps(headroom, 0.03) == pytest.approx(expected)
    # Drawn as the file has it, where the log says nothing of it.
    score = np.array([-1.0, 0.0, 2.0])
    of_file.lifter.of_all = {module.BEND: SimpleNamespace(at=lambda scores: 0.9 + 0.1 * scores)}
    rng = SimpleNamespace(standard_normal=lambda count: score[:count])
    assert of_file._bend_of_file(3, rng) == pytest.approx([0.8, 0.9, 1.1])
    of_log.lifter.bend = of_file.lifter.bend
    assert of_log._bend_of_file(3, rng) is None
    of_file.lifter.bend = lambda curve: None
    assert of_file._bend_of_file(3, rng) is None
