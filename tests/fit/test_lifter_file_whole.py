"""The whole lifter file after a log: from possible lifters drawn by hand to the text and back."""

from __future__ import annotations

import datetime
import tomllib
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit import lifter_file
from workbench.fit.learned_draws import LearnedDraws
from workbench.fit.lifter_file import _as_written, _kept, lifter_text, others_given, updated_lifter, write_lifter
from workbench.gym.catalogue import built_in
from workbench.lifter import Lift, Lifter
from workbench.lifter.belief import ALL, TENTH
from workbench.lifter.file import CARRIED, RECOVERY, SHARED
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.draws import lifts_given

TODAY = datetime.date(2026, 2, 3)
#: The newest day of the file before: no 1RM of it moved on since.
TESTED = datetime.date(2026, 1, 20)
#: Of 20,000 draws an end of an interval is known to 1.7 / root 20,000 sds, 0.012; three times that.
FEW = 0.036


def interval(middle, sd):
    return [float(middle * np.exp(side * TENTH * sd)) for side in (-1, 1)]


def taught(**more):
    """Return one whose squat, press and recovery go together, with a row of which no log told."""
    lifts = {
        "squat": {"one_rm_kg": 100.0, "one_rm_interval": interval(100.0, 0.03), "note": "belt"},
        "bench press": {
            "one_rm_kg": 80.0,
            "one_rm_interval": interval(80.0, 0.05),
            "endurance": 0.04,
            "endurance_interval": interval(0.04, 0.2),
            "tested": TESTED,
        },
        "barbell row": {"one_rm_kg": 70.0},
    }
    together = {
        "quantities": ["recovery rate", "bench press, 1RM", "bench press, endurance"],
        "correlations": [[0.7], [-0.5, -0.2]],
    }
    content = {
        "name": "Invented",
        "lifts": lifts,
        "recovery_rate": 1.0,
        "recovery_interval": interval(1.0, 0.3),
        "together": together,
        "learned": {
            "bench press": {"2025-12-01": "4 sets, 0123456789ab"},
            "back squat": {"2026-01-20": "3 sets, aaaaaaaaaaaa"},
        },
    }
    return validate({**content, **more}, Lifter)


def possible(count, rng, **more):
    """Possible lifters whose squat of 110 kg goes with endurance at 0.5 and with recovery at -0.6."""
    strong, tires, quick, shared, bias, gain = rng.standard_normal((6, count))
    drawn = {
        "log_one_rm": np.log(110.0) + 0.02 * strong[:, None],
        "endurance": 0.03 * np.exp(0.1 * (0.5 * strong + np.sqrt(0.75) * tires))[:, None],
        "recovery_rate": 1.2 * np.exp(0.25 * (-0.6 * strong + 0.8 * quick)),
        "shared": 0.2 + 0.7 * shared,
        "carry_over": np.ones(count),
        "gain": 0.002 + 0.001 * gain[:, None],
        "reserve_bias": 0.3 + 0.4 * bias,
    }
    return LearnedDraws(("back squat",), **{**drawn, **more})


def learned_of(before, draws=possible, sessions=(("2026-02-03", 5), ("2026-01-27", 3)), **more):
    """Return what a log of the back squat taught; everything of it that the file asks for."""

    def median(value):
        return SimpleNamespace(quantile=lambda level: value if level == 0.5 else np.nan, median=value)

    days = [
        SimpleNamespace(date=datetime.date.fromisoformat(date), stamp=f"{count} sets, {count:012x}")
        for date, count in sessions
    ]
    return SimpleNamespace(
        lifter=before,
        exercises=("back squat",),
        today=TODAY,
        draws=draws,
        one_rm=lambda name: median(110.0),
        endurance=lambda name: median(0.03),
        recovery_rate=median(1.2),
        carry_over=None,
        fit=SimpleNamespace(
            curve=DEFAULT_CURVE,
            form=DEFAULT_FORM,
            log=SimpleNamespace(lifts=[SimpleNamespace(exercise="back squat", sessions=days)]),
        ),
        **more,
    )


@pytest.fixture(scope="module")
def after():
    return updated_lifter.__wrapped__(learned_of(taught()))


def test_what_was_lifted_stands_under_the_name_that_the_file_has_for_it(after):
    assert list(after.lifts) == ["squat", "bench press", "barbell row"]
    squat = after.lifts["squat"]
    assert (squat.one_rm_kg, squat.endurance, squat.tested, squat.note) == (110.0, 0.03, TODAY, "belt")
    for found, middle, sd in ((squat.one_rm_interval, 110.0, 0.02), (squat.endurance_interval, 0.03, 0.1)):
        assert np.log(np.array(found) / middle) == pytest.approx([-TENTH * sd, TENTH * sd], abs=FEW * sd)
    assert after.recovery_rate == 1.2
    assert np.log(np.array(after.recovery_interval) / 1.2) == pytest.approx(
        [-TENTH * 0.25, TENTH * 0.25], abs=FEW * 0.25
    )


def test_what_goes_with_recovery_moves_along_and_what_does_not_stays(after):
    """The press goes with recovery at 0.7, of sd 0.3: at 0.61 sds above it (ln 1.2), 0.43 of its own sd of 5 %."""
    press = after.lifts["bench press"]
    assert np.log(press.one_rm_kg / 80.0) == pytest.approx(0.7 * np.log(1.2) / 0.3 * 0.05, abs=FEW * 0.05)
    # What recovery said is 0.49 of its variance, and of recovery (0.25 / 0.3)^2 is left.
    wide = 0.05 * np.sqrt(0.51 + 0.49 * (0.25 / 0.3) ** 2)
    assert np.log(press.one_rm_interval[1] / press.one_rm_kg) == pytest.approx(TENTH * wide, abs=FEW * wide)
    assert np.log(press.endurance / 0.04) == pytest.approx(-0.5 * np.log(1.2) / 0.3 * 0.2, abs=2 * FEW * 0.2)
    assert press.tested == TESTED
    assert after.lifts["barbell row"] == taught().lifts["barbell row"]


def test_what_else_was_taught_and_how_all_goes_together(after):
    quantities = [
        "back squat, 1RM",
        "back squat, endurance",
        "bench press, 1RM",
        "bench press, endurance",
        "recovery rate",
        "shared endurance",
        "stated reserve",
        "gain",
    ]
    assert after.together.quantities == quantities
    assert after.together.form == ""
    found = after.together.others
    assert list(found) == quantities[-3:]
    # Gain in % a week.
    for name, mean, sd in (("shared endurance", 0.2, 0.7), ("stated reserve", 0.3, 0.4), ("gain", 0.2, 0.1)):
        assert found[name] == pytest.approx([mean - TENTH * sd, mean, mean + TENTH * sd], abs=FEW * sd)
        assert found[name] == [float(f"{value:.4g}") for value in found[name]]
    matrix = after.together.matrix()
    # Of the press's 0.7 with recovery, less is left where the log knows recovery better: cov over sds.
    with_press = 0.7 * (0.25 / 0.3) / np.sqrt(0.51 + 0.49 * (0.25 / 0.3) ** 2)
    for first, second, expected in (
        (0, 1, 0.5),
        (0, 4, -0.6),
        (1, 4, -0.3),
        (2, 4, with_press),
        (0, 5, 0.0),
        (6, 7, 0.0),
    ):
        # 20,000 draws know a correlation to 0.007.
        assert matrix[first, second] == pytest.approx(expected, abs=0.021)


def test_the_days_learned_from_join_those_before_in_order(after):
    assert after.learned == {
        "bench press": {"2025-12-01": "4 sets, 0123456789ab"},
        "back squat": {
            "2026-01-20": "3 sets, aaaaaaaaaaaa",
            "2026-01-27": "3 sets, 000000000003",
            "2026-02-03": "5 sets, 000000000005",
        },
    }
    assert list(after.learned["back squat"]) == ["2026-01-20", "2026-01-27", "2026-02-03"]


def test_a_carry_over_of_which_the_log_spoke_is_written_with_its_interval():
    def draws(count, rng):
        return possible(count, rng, carry_over=1.5 * np.exp(0.2 * rng.standard_normal(count)))

    learned = learned_of(taught(), draws)
    learned.carry_over = SimpleNamespace(median=1.5)
    found = updated_lifter.__wrapped__(learned)
    assert found.carry_over == 1.5
    assert np.log(np.array(found.carry_over_interval) / 1.5) == pytest.approx(
        [-TENTH * 0.2, TENTH * 0.2], abs=FEW * 0.2
    )
    assert "carry-over" in found.together.quantities
    assert "carry-over" not in found.together.others


def test_parameters_of_the_form_are_named_with_their_form():
    def draws(count, rng):
        values = {name: np.full((count, 1), value) for name, value in vars(DEFAULT_FORM.parameters).items()}
        values["strength_tau_s"] = 20.0 * np.exp(0.1 * rng.standard_normal((count, 1)))
        return possible(count, rng, tiring=type(DEFAULT_FORM.parameters)(**values))

    found = updated_lifter.__wrapped__(learned_of(taught(), draws)).together
    assert found.form == DEFAULT_FORM.name
    assert found.others["strength_tau_s"] == pytest.approx(
        [20.0 * np.exp(0.1 * z) for z in (-TENTH, 0, TENTH)], rel=0.004
    )


def test_a_log_of_nothing_leaves_the_lifter_as_it_was():
    learned = learned_of(taught())
    learned.exercises = ()
    assert updated_lifter.__wrapped__(learned) is learned.lifter


def test_what_is_kept_beside_the_log_is_what_the_file_told_of():
    """The press goes together and is drawn from the file, the row does not; the squat is the log's own."""
    rng = np.random.default_rng(1)
    found, columns = _kept(learned_of(taught()), possible(2000, rng))
    assert list(found)[:5] == [
        ("back squat", "1RM"),
        ("back squat", "endurance"),
        ("bench press", "1RM"),
        ("bench press", "endurance"),
        RECOVERY,
    ]
    assert columns.shape == (2000, len(found))
    assert found["back squat", "1RM"][1] == 110.0
    assert not any(name == "barbell row" for name, _ in found)


@pytest.mark.parametrize(
    ("ends", "off"), [((0.495, 1.0), (True, False)), ((0.0, 0.505), (False, True)), ((0.5, 0.5), (True, True))]
)
def test_an_end_that_is_the_middle_is_moved_a_hundredth_away(ends, off):
    """Draws drawn to the quantiles ``ends``: where the 10 % or 90 % one is the middle, it is written a little off."""
    count = 2001
    even = np.linspace(0.0, 1.0, count)
    logs = np.clip(even, *ends)
    values = {name: np.full((count, 1), value) for name, value in vars(DEFAULT_FORM.parameters).items()}
    values["strength_tau_s"] = np.exp(logs[:, None] + 1e-6 * even[:, None])
    drawn = possible(count, np.random.default_rng(1), tiring=type(DEFAULT_FORM.parameters)(**values))
    low, middle, high = np.log(_kept(learned_of(taught()), drawn)[0][ALL, "strength_tau_s"])
    expected = np.quantile(logs, [0.1, 0.5, 0.9])
    assert middle == pytest.approx(expected[1], abs=2e-6)
    assert (middle - low) == pytest.approx(max(expected[1] - expected[0], 0.01), abs=2e-6)
    assert (high - middle) == pytest.approx(max(expected[2] - expected[1], 0.01), abs=2e-6)
    assert off == (expected[1] - expected[0] < 0.01, expected[2] - expected[1] < 0.01)


def test_others_are_drawn_as_they_go_with_all_that_the_log_taught():
    """The same scores through `lifts_given`, with recovery, carry-over and the shared part as the log left them."""
    before, drawn = taught(), possible(500, np.random.default_rng(3))
    names = ("bench press", "barbell row")
    found = others_given(learned_of(before), drawn, names, np.random.default_rng(4))
    scores = np.random.default_rng(4).standard_normal((2, 500, 2))
    values = {SHARED: drawn.shared, RECOVERY: np.log(drawn.recovery_rate), CARRIED: np.log(drawn.carry_over)}
    expected = lifts_given(before, names, values, scores[0], scores[1])
    np.testing.assert_array_equal(found, expected)


# The text


def test_the_text_reads_back_as_the_lifter_and_counts_the_sets_behind_it(after, monkeypatch):
    monkeypatch.setattr(lifter_file, "updated_lifter", lambda learned: learned)
    text = lifter_text(after)
    assert text.startswith("# Invented, as learned from 15 logged sets, 2025-12-01 to 2026-02-03.\n")
    assert validate(tomllib.loads(text), Lifter) == after
    # A row of correlations a line, each one longer than that before.
    rows = text.partition("correlations = [\n")[2].partition("\n]")[0].splitlines()
    assert [line.count(",") for line in rows] == list(range(1, len(rows) + 1))
    for heading in ("[together]", "[together.others]", "[learned."):
        assert heading in text
    # What goes together stands once, in a place of its own.
    assert text.count("quantities = ") == text.count("correlations = ") == 1


def test_a_file_that_is_there_is_written_over_only_where_that_is_asked_for(after, monkeypatch, tmp_path):
    monkeypatch.setattr(lifter_file, "updated_lifter", lambda learned: learned)
    path = tmp_path / "invented.toml"
    path.write_text("old", encoding="utf-8")
    with pytest.raises(InputError):
        write_lifter(after, path)
    assert path.read_text(encoding="utf-8") == "old"
    assert write_lifter(after, path, replace=True) == path
    assert path.read_text(encoding="utf-8") == lifter_text(after)


def test_a_lifter_of_whom_nothing_goes_together_is_written_without_a_place_for_it(monkeypatch):
    monkeypatch.setattr(lifter_file, "updated_lifter", lambda learned: learned)
    alone = taught(together=None)
    text = lifter_text(alone)
    assert "together" not in text
    assert validate(tomllib.loads(text), Lifter) == alone
    assert text.startswith("# Invented, as learned from 7 logged sets, 2025-12-01 to 2026-01-20.\n")


def test_what_is_written_of_a_lifter_is_what_is_not_empty():
    lifter = taught(sex="male")
    assert set(_as_written(lifter)) == {"name", "sex", "recovery_rate", "recovery_interval", "test_maximum", "lifts"}
    assert _as_written(Lift(one_rm_kg=50.0, tested=TODAY, note="")) == {"one_rm_kg": 50.0, "tested": TODAY}
    assert built_in().exercise("squat").name == "back squat"
