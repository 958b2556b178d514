"""Shares of the spread: against sums worked by hand, and against a decomposition that freezes one source at a time.

All five blocks, printed: ``python -m tests.answers.test_spread``.
"""

from __future__ import annotations

import dataclasses
import itertools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from tests.answers.invented_blocks import invented_gym
from workbench.answers.spread import END, shares_of, spread_of
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate
from workbench.simulate.sources import halves

pytestmark = pytest.mark.usefixtures("compiled_sets")

#: Where each source stands in the draws, written out again.
FIELDS = {
    "1RM": ["log_one_rm"],
    "endurance": ["endurance"],
    "recovery": ["recovery_rate"],
    "fatigue constants": ["fatigue", "carry"],
    "day": ["day"],
    "set": ["set_noise"],
}


# --- by hand ---------------------------------------------------------------------------------------------------------


def runs_of(function, sources, count=200_000):
    """Values of a function of some independent normals: as drawn, each exchanged, the last two exchanged as luck."""
    drawn = np.random.default_rng(5).standard_normal((count, sources))
    partner = halves(count)
    runs = [function(*drawn.T)]
    for taken in ([one] for one in range(sources)):
        changed = drawn.copy()
        changed[:, taken] = drawn[partner][:, taken]
        runs.append(function(*changed.T))
    luck = drawn.copy()
    luck[:, -2:] = drawn[partner][:, -2:]
    return np.stack([*runs, function(*luck.T)])[:, :, None], partner


#: Four times 1 / 200,000 ** 0.5, for values that are no heavier in the tails than products of two normals.
CLOSE = 0.01


def test_shares_of_a_sum_and_a_product_by_hand():
    """Of 2 a + b + a c, a, b, c, d normal: variances 4 + 1 + 1 = 6, of which a and c together cause the last."""
    found = shares_of(*runs_of(lambda a, b, c, d: 2 * a + b + a * c, 4))
    assert found.alone[:, 0] == pytest.approx([4 / 6, 1 / 6, 0, 0], abs=CLOSE)
    assert found.total[:, 0] == pytest.approx([5 / 6, 1 / 6, 1 / 6, 0], abs=CLOSE)
    pairs = np.zeros((4, 4))
    pairs[0, 2] = pairs[2, 0] = 1 / 6
    assert found.pairs[:, :, 0] == pytest.approx(pairs, abs=2 * CLOSE)
    # c and d are luck here: without them a and b explain 5 of 6.
    assert found.unknown[0] == pytest.approx(5 / 6, abs=CLOSE)
    # Half of what a and c cause together goes to each.
    assert found.share[:, 0] == pytest.approx([4.5 / 6, 1 / 6, 0.5 / 6, 0], abs=CLOSE)


def test_luck_has_its_share_where_what_is_not_known_goes_together():
    """Of (a - b) + d with a and b one and the same: all luck, though each of a and b moved alone would matter."""
    count = 200_000
    drawn = np.random.default_rng(5).standard_normal((count, 2))
    partner = halves(count)
    a, d = drawn.T
    other, lucky = drawn[partner].T
    runs = [a - a + d, other - a + d, a - other + d, d, lucky, lucky]
    found = shares_of(np.stack(runs)[:, :, None], partner)
    assert found.luck[0] == pytest.approx(1.0, abs=CLOSE)
    assert found.unknown[0] == pytest.approx(0.0, abs=CLOSE)
    assert found.share[2:, 0].sum() == pytest.approx(1.0, abs=CLOSE)
    assert found.total[0, 0] > 0.5


def test_a_chance_that_takes_both_of_two_sources_by_hand():
    """Both of two even chances: variance 1/4 x 3/4 = 3/16; each alone (1/2)^2 x 1/4 = 1/16, and 1/16 together."""
    found = shares_of(*runs_of(lambda a, b: 1.0 * ((a > 0) & (b > 0)), 2))
    assert found.alone[:, 0] == pytest.approx([1 / 3, 1 / 3], abs=CLOSE)
    assert found.total[:, 0] == pytest.approx([2 / 3, 2 / 3], abs=CLOSE)
    assert found.pairs[0, 1, 0] == pytest.approx(1 / 3, abs=2 * CLOSE)
    assert found.share[:, 0] == pytest.approx([1 / 2, 1 / 2], abs=CLOSE)


def test_what_does_not_vary_has_no_shares():
    found = shares_of(*runs_of(lambda a, b: 0.0 * a + 7.0, 2, count=10))
    assert np.isnan([*found.alone.ravel(), *found.total.ravel(), *found.share.ravel(), *found.unknown]).all()


def test_a_source_without_effect_has_no_part_at_all():
    """Not nearly none: the run with the source exchanged is the same run."""
    found = shares_of(*runs_of(lambda a, b: np.exp(a), 2, count=100))
    assert found.total[1, 0] == pytest.approx(0.0, abs=1e-12)
    assert found.total[0, 0] == pytest.approx(1.0, abs=0.5)


def test_an_easily_tired_lifter_is_one_in_ten():
    """Of two things that count alike: the sum of two normals at its tenth, each at 1 / 2 ** 0.5 of that."""
    assert pytest.approx(norm.cdf(norm.ppf(0.1) / np.sqrt(2)), abs=1e-4) == END


def test_lifters_at_either_end_by_hand():
    """A first set alone: 1 + ln(1RM / load) / k at the k that 18.25 % of the draws lie beyond, either way."""
    plan = invented(1)
    draws = draw_for(plan, draws=1000, seed=2)
    steady = replace(draws, day=np.zeros_like(draws.day), set_noise=np.ones_like(draws.set_noise))
    place = spread_of(simulate(plan, steady)).places.iloc[0]
    one = plan.sessions[0].sets[0]
    assert (place["week"], place["slot"], place["set"]) == (1, one.slot, one.label)
    log_one_rm = np.log(np.median(np.exp(draws.log_one_rm[:, one.lane])))
    k = draws.endurance[:, one.lane]
    for end, share in (("tired", 1 - END), ("tireless", END)):
        expected = 1 + (log_one_rm - np.log(one.load_kg[0])) / np.quantile(k, share)
        assert place[f"reps_{end}"] == pytest.approx(expected, rel=1e-3)


# --- one source at a time --------------------------------------------------------------------------------------------


def invented(number):
    block, lifter, room = invented_gym(number)
    of_room = validate(room, Room)
    return make_plan(validate(block, Block), validate(lifter, Lifter), of_room)


def values_of(plan, draws):
    """Reps of every set and week, whether all of each are made, and whether all of the block: (draws, values)."""
    outcome = simulate(plan, draws)
    columns = []
    for _, sets in outcome:
        for one in sets:
            for week in np.flatnonzero(one.planned.active):
                columns.append(np.broadcast_to(one.available, (draws.count, plan.weeks))[:, week])
                if one.planned.prescribed[week]:
                    columns.append(one.made[:, week].astype(float))
    return np.stack([*columns, outcome.made_by_session.all(axis=(0, 2)).astype(float)], axis=1)


def held(draws, sources, rows):
    """Draws of which some sources are those of other draws: picked row by row, in the test's own way."""
    changed = {}
    for name in itertools.chain.from_iterable(FIELDS[source] for source in sources):
        value = getattr(draws, name)
        if name == "fatigue":
            columns = {one.name: getattr(value, one.name)[rows] for one in dataclasses.fields(value)}
            changed[name] = type(value)(**columns)
        elif name in ("day", "set_noise"):
            changed[name] = np.stack([part[rows] for part in value])
        else:
            changed[name] = value[rows]
    return replace(draws, **changed)


def explained(plan, draws, sources, inner):
    """Share of the variance between groups that have the same frozen sources: one-way analysis of variance."""
    groups = draws.count // inner
    rows = np.repeat(np.arange(groups) * inner, inner)
    values = values_of(plan, held(draws, sources, rows)).reshape(groups, inner, -1)
    within = values.var(axis=1, ddof=1).mean(axis=0)
    between = values.mean(axis=1).var(axis=0, ddof=1) - within / inner
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(between + within > 1e-12, between / (between + within), np.nan)


def fast_of(plan, draws):
    """The same values' shares by exchange, as tables with a row a value in the order of `values_of`."""
    found = spread_of(simulate(plan, draws))
    places = found.places.reset_index(names="place")
    sets = {(r.session_number, r.slot, r.set, r.drop, r.week): r.place for r in places.itertuples() if r.level == "set"}
    rows = []
    for number, session in enumerate(plan.sessions, start=1):
        for one in session.sets:
            for week in np.flatnonzero(one.active):
                place = sets[number, one.slot, one.label, one.drop, week + 1]
                rows.append((place, found.reps))
                if one.prescribed[week]:
                    rows.append((place, found.chance))
    rows.append((len(places) - 1, found.chance))
    taken = {
        name: np.stack([getattr(of, name)[..., place] for place, of in rows])
        for name in ("alone", "total", "pairs", "share", "unknown", "luck")
    }
    return taken, np.array([of is found.chance for _, of in rows])


def apart(draws):
    """Draws in which recovery goes with nothing else: what a source does alone has one meaning only there."""
    return replace(draws, recovery_rate=np.random.default_rng(7).permutation(draws.recovery_rate))


def compared(number, outer, inner, draws):
    """Rows of what, sources, by exchange, by freezing, over all values of one block that vary enough."""
    plan = invented(number)
    many = apart(draw_for(plan, draws=outer * inner, seed=90 + number))
    fast, chances = fast_of(plan, apart(draw_for(plan, draws=draws, seed=number)))
    base = values_of(plan, many)
    # A chance near 0 or 1 rests on a handful of draws.
    telling = np.where(chances, np.abs(base.mean(axis=0) - 0.5) < 0.4, base.std(axis=0) > 1e-6)
    names = list(FIELDS)
    rows = []

    def add(what, sources, exchanged, frozen):
        rows.extend((what, sources, a, b) for a, b in zip(exchanged[telling], frozen[telling], strict=True))

    for at, name in enumerate(names):
        others = [other for other in names if other != name]
        add("alone", name, fast["alone"][:, at], explained(plan, many, [name], inner))
        add("total", name, fast["total"][:, at], 1.0 - explained(plan, many, others, inner))
    for a, b in (("endurance", "recovery"), ("1RM", "endurance")):
        at, other = names.index(a), names.index(b)
        closed = fast["pairs"][:, at, other] + fast["alone"][:, at] + fast["alone"][:, other]
        add("pair", f"{a} and {b}", closed, explained(plan, many, [a, b], inner))
    add("unknown", "lifter", fast["unknown"], explained(plan, many, names[:4], inner))
    return pd.DataFrame(rows, columns=["what", "sources", "exchanged", "frozen"])


def test_one_block_agrees_with_freezing_one_source_at_a_time():
    found = compared(1, outer=250, inner=16, draws=2000)
    assert len(found) > 100
    off = found["exchanged"] - found["frozen"]
    # 250 groups tell a variance to (2 / 250) ** 0.5 = 9 %, 2,000 pairs a share to 2 points; long tails double it.
    assert np.abs(off).max() < 0.3
    assert np.sqrt((off**2).mean()) < 0.06
    by_source = off.groupby([found["what"], found["sources"]]).mean()
    assert np.abs(by_source).max() < 0.1


@pytest.mark.slow
@pytest.mark.parametrize("number", range(5))
def test_five_blocks_agree_with_freezing_one_source_at_a_time(number):
    found = compared(number, outer=1500, inner=10, draws=8000)
    off = found["exchanged"] - found["frozen"]
    # As above: 1,500 groups to 4 %, 8,000 pairs to 1 point.
    assert np.sqrt((off**2).mean()) < 0.03
    assert np.abs(off.groupby([found["what"], found["sources"]]).mean()).max() < 0.03


@pytest.mark.slow
@pytest.mark.parametrize("number", range(5))
def test_unknown_against_luck_agrees_where_endurance_goes_with_recovery(number):
    """As lifters are: the split inside the lifter is then a matter of definition, that from luck is not."""
    plan = invented(number)
    many = draw_for(plan, draws=15_000, seed=90 + number)
    assert np.corrcoef(np.log(many.endurance[:, 0]), np.log(many.recovery_rate))[0, 1] > 0.25
    fast, chances = fast_of(plan, draw_for(plan, draws=8000, seed=number))
    base = values_of(plan, many)
    telling = np.where(chances, np.abs(base.mean(axis=0) - 0.5) < 0.4, base.std(axis=0) > 1e-6)
    off = (fast["unknown"] - explained(plan, many, list(FIELDS)[:4], 10))[telling]
    assert np.sqrt((off**2).mean()) < 0.03
    assert abs(off.mean()) < 0.01


def test_shares_add_up_with_what_sources_do_together():
    """All shares are one; each lies between what its source does alone and all in which it has a part."""
    plan = invented(1)
    found = spread_of(simulate(plan, draw_for(plan, draws=4000, seed=3)))
    for shares in (found.chance, found.reps):
        told = np.isfinite(shares.unknown)
        assert told.any()
        assert shares.share[:, told].sum(axis=0) == pytest.approx(1.0, abs=1e-9)
        # Good to 1 / 4,000 ** 0.5 = 1.6 points each, four times that here.
        assert (shares.alone - shares.total)[:, told].max() < 0.065
        assert (shares.share - shares.total)[:, told].max() < 0.065
        assert shares.pairs == pytest.approx(shares.pairs.transpose(1, 0, 2), nan_ok=True)
    sets = (found.places["level"] == "set").to_numpy()
    alone, pairs = found.reps.alone.sum(axis=0), found.reps.pairs.sum(axis=(0, 1)) / 2.0
    # Reps of single sets are products of few things: alone and in pairs the sources say nearly all of them.
    assert (alone + pairs)[sets].mean() == pytest.approx(1.0, abs=0.05)


def main():
    """Print the comparison of five blocks."""
    for number in range(5):
        found = compared(number, outer=1500, inner=10, draws=8000)
        off = found["exchanged"] - found["frozen"]
        print(
            f"block {number}: {len(found)} shares, rms {np.sqrt((off**2).mean()):.4f}, largest {np.abs(off).max():.3f}"
        )
        table = found.assign(off=off).groupby(["what", "sources"])[["exchanged", "frozen", "off"]].mean()
        print(table.round(3).to_string())


if __name__ == "__main__":
    main()
