"""What systematic misses mean: said where the log shows it, with evidence and remedy, and else not said."""

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from workbench.answers.review.misses import what_misses_mean
from workbench.fit.marginals import Normal

MONDAY = datetime.date(2026, 1, 5)


class Known:
    """A quantity of which 10, 50 and 90 % are given."""

    def __init__(self, *ends):
        self.ends = ends

    def quantile(self, levels):
        assert list(levels) == [0.1, 0.5, 0.9]
        return np.array(self.ends)


def learned(*, bias=(0.0, 0.5), one_rm=(98.0, 100.0, 102.0), rate=(0.7, 1.0, 1.4), endings=("stated",) * 12, rests=""):
    """What a log taught of somebody whose file says 100 kg."""
    lift = SimpleNamespace(exercise="back squat", prior=SimpleNamespace(guessed=False))
    log = SimpleNamespace(sets=[SimpleNamespace(ending=ending) for ending in endings], rests_said=rests)
    return SimpleNamespace(
        fit=SimpleNamespace(log=log, lifts=[lift]),
        lifter=SimpleNamespace(
            lift=lambda name: SimpleNamespace(one_rm=100.0), catalogue=SimpleNamespace(hands_of=lambda name: 1)
        ),
        reserve_bias=Normal(*bias),
        one_rm=lambda name: Known(*one_rm),
        recovery_rate=Known(*rate),
    )


def scores(chances, made, *, sets=1, week=1, width=np.nan, error=np.nan):
    """Scores of the workbench, one a day."""
    count = len(chances)
    inside = 1.0 if np.isfinite(width) else np.nan
    return pd.DataFrame(
        {
            "lifter": "Ada",
            "forecaster": "workbench",
            "exercise": "back squat",
            "set": sets,
            "week": week,
            "date": [MONDAY + datetime.timedelta(days=day) for day in range(count)],
            "chance": chances,
            "made": made,
            "inside_80": inside,
            "low_80": 5.0,
            "high_80": 5.0 + width,
            "error": error,
        }
    )


NOTHING = scores([0.9], [1.0])


def kinds(found):
    return [miss.kind for miss in found]


def test_nothing_is_said_where_nothing_is_missed():
    assert what_misses_mean(NOTHING, {"Ada": learned()}) == ()


def test_a_reserve_stated_too_high_is_named_with_its_interval():
    # 1.2 fewer left than said, sd 0.3: 80 % lie within 1.2816 sds, 0.8 to 1.6.
    (miss,) = what_misses_mean(NOTHING, {"Ada": learned(bias=(-1.2, 0.3))})
    assert miss.kind == "reserve"
    assert miss.evidence == "Ada states about 1.2 reps in reserve too many (0.8 to 1.6, from 12 statements)."
    assert "that much less" in miss.remedy
    (more,) = what_misses_mean(NOTHING, {"Ada": learned(bias=(1.2, 0.3))})
    assert "too few" in more.evidence
    assert "that much more" in more.remedy
    # Not known to differ from none; too little to act on; too few statements.
    for unsaid in ({"bias": (-1.2, 1.0)}, {"bias": (-0.4, 0.1)}, {"bias": (-1.2, 0.3), "endings": ("stated",) * 9}):
        assert what_misses_mean(NOTHING, {"Ada": learned(**unsaid)}) == ()


def test_an_old_1rm_is_named_where_its_interval_leaves_the_file():
    (miss,) = what_misses_mean(NOTHING, {"Ada": learned(one_rm=(104.0, 108.0, 112.0))})
    assert miss.evidence == (
        "Ada's 1RM of back squat is old: 100 kg in the file, 108 kg by the log (104 kg to 112 kg)."
    )
    assert miss.remedy == "Keep what was learned: loads by percent are too light by 8 %."
    (less,) = what_misses_mean(NOTHING, {"Ada": learned(one_rm=(88.0, 92.0, 96.0))})
    assert "too heavy by 8 %" in less.remedy
    # 80 % reach to within two and a half percent of the file.
    assert what_misses_mean(NOTHING, {"Ada": learned(one_rm=(102.0, 106.0, 110.0))}) == ()


def test_slow_recovery_may_be_short_rests_and_how_to_tell_is_said():
    (miss,) = what_misses_mean(NOTHING, {"Ada": learned(rate=(0.4, 0.55, 0.7))})
    assert miss.kind == "rests"
    assert "0.55 of the usual rate (0.40 to 0.70)" in miss.evidence
    assert "rests are shorter than written" in miss.evidence
    assert miss.remedy.startswith("Time Ada's rests")
    (assumed,) = what_misses_mean(NOTHING, {"Ada": learned(rate=(0.4, 0.55, 0.7), rests="12 rests are not in the log")})
    assert "assumed where the log has none" in assumed.evidence
    assert what_misses_mean(NOTHING, {"Ada": learned(rate=(0.4, 0.6, 0.8))}) == ()


def test_a_log_that_says_only_at_least_is_named():
    (miss,) = what_misses_mean(NOTHING, {"Ada": learned(endings=("completed",) * 30)})
    assert miss.kind == "unspoken"
    assert what_misses_mean(NOTHING, {"Ada": learned(endings=(*("completed",) * 30, "failed"))}) == ()
    assert what_misses_mean(NOTHING, {"Ada": learned(endings=("completed",) * 29)}) == ()


def test_sets_called_unlikely_and_prescribed_all_the_same():
    # 40 of 100 had been called 30 %, and 12 of these were made, as called.
    table = scores([0.3] * 40 + [0.95] * 60, [1.0] * 12 + [0.0] * 28 + [1.0] * 57 + [0.0] * 3)
    (miss,) = what_misses_mean(table, {})
    assert miss.kind == "asked too much"
    assert miss.evidence == "40 of 100 prescribed sets had been called under 50 %, and 12 of them were made."
    # 29 of them, 9 made, are too few to say.
    assert what_misses_mean(table.drop([0, 1, 2, *range(12, 20)]), {}) == ()


def test_later_sets_that_fall_short_speak_of_rests():
    first, late = scores([0.9] * 40, [1.0] * 36 + [0.0] * 4), scores([0.9] * 40, [1.0] * 20 + [0.0] * 20, sets=3)
    found = what_misses_mean(pd.concat([first, late], ignore_index=True), {})
    by_kind = {miss.kind: miss for miss in found}
    assert by_kind["later sets"].evidence == "From set 3 on 50 % of 40 sets were made; 90 % had been called."
    assert "shorter than written" in by_kind["later sets"].remedy
    # Of all 80, 56 were made: 70 %.
    assert by_kind["exercise"].evidence == "Back squat: 70 % of 80 sets were made; 90 % had been called."
    assert kinds(what_misses_mean(first, {})) == []


def test_an_error_within_its_scatter_is_not_said():
    # 27 of 32 made, called 90 %: short by 5.6 points; the scatter of 32 sets is 6.5 points.
    assert what_misses_mean(scores([0.9] * 32, [1.0] * 27 + [0.0] * 5, sets=4), {}) == ()


def test_wide_bands_of_new_lifters_ask_for_a_hard_set():
    early = scores([np.nan] * 30, [np.nan] * 30, width=10.0, error=4.0)
    later = scores([np.nan] * 30, [np.nan] * 30, width=5.0, error=-1.5, week=5)
    (miss,) = what_misses_mean(pd.concat([early, later], ignore_index=True), {})
    assert miss.evidence == (
        "In a lifter's first week bands are 10.0 reps wide, and off by 4.0; from week 5 on 5.0 and 1.5."
    )
    assert "spotters" in miss.remedy
    narrow = early.assign(high_80=11.9)  # 6.9 against 5: less than 1.4 times
    assert what_misses_mean(pd.concat([narrow, later], ignore_index=True), {}) == ()


def test_the_largest_miss_comes_first():
    found = what_misses_mean(NOTHING, {"Ada": learned(bias=(-1.2, 0.3), one_rm=(118.0, 120.0, 122.0))})
    # 20 % are eight times the smallest 1RM worth a word, 1.2 reps are 2.4 times the smallest reserve.
    assert kinds(found) == ["1RM", "reserve"]
    assert [miss.size for miss in found] == pytest.approx([8.0, 2.4])
