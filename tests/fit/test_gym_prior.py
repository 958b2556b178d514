"""A gym's numbers: against slow forms, at the limits, and what a lifter who starts from them is like."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from tests.alive import Alive
from tests.fit.gym_people import drawn_gym, invented
from workbench.fit import fit_log, gym_prior
from workbench.fit.gym_member import Member, log_prior_of, member_of
from workbench.fit.gym_prior import Gyms, _Evidence, fit_gym
from workbench.fit.gym_published import Published
from workbench.lifter import Lifter
from workbench.lifter.gym_prior import GymPrior
from workbench.reference.parameters import endurance_prior, recovery_of_lifter, shared_tie
from workbench.reference.shelf import Shelf
from workbench.reference.toml_files import validate

#: Natural-log sds are said to four digits.
ROUNDED = 2e-3
USUAL = (0.03, 2.5)


@functools.cache
def published():
    return Published.of()


def known(classes, log_endurance, log_rate, bias=0.0, *, woman=False, states=True):
    """Return what a lifter says of whom all is known."""
    return Member(
        classes=tuple(classes),
        log_endurance=np.array([log_endurance], dtype=float),
        log_rate=np.array([log_rate], dtype=float),
        reserve_bias=np.array([bias], dtype=float),
        log_prior=np.zeros(1),
        is_woman=woman,
        sets=10,
        states_reserve=states,
    )


def by_chance(rng, classes, draws, likelihood):
    """Return what a lifter says of whom a few points are possible, each so likely."""
    base = [np.log(endurance_prior(name).median) for name in classes]
    return Member(
        classes=tuple(classes),
        log_endurance=base + 0.3 * rng.standard_normal((draws, len(classes))),
        log_rate=0.6 * rng.standard_normal(draws),
        reserve_bias=0.7 * rng.standard_normal(draws),
        log_prior=-np.log(likelihood),
        is_woman=bool(rng.random() < 0.5),
        sets=10,
        states_reserve=True,
    )


def evidence_slowly(member, gym, wider):
    """Mean over the points, one by one, of the density of a lifter: one multivariate normal of all at once."""
    p, total = published(), 0.0
    at = [p.classes.index(name) for name in member.classes]
    sds = wider * np.append(gym.times * p.between_lifters[at], gym.rate_sd)
    count = len(at)
    correlations = np.full((count + 1, count + 1), 0.5)
    # Half of the variance of log endurance is what exercises share, and that part goes with recovery.
    correlations[-1, :] = correlations[:, -1] = np.sqrt(0.5) * gym.tie
    np.fill_diagonal(correlations, 1.0)
    middle = np.append(gym.middle[at], gym.rate + gym.women * member.is_woman)
    for draw in range(member.log_rate.size):
        point = np.append(member.log_endurance[draw], member.log_rate[draw])
        density = multivariate_normal.pdf(point, middle, np.outer(sds, sds) * correlations)
        density *= norm.pdf(member.reserve_bias[draw], gym.reserve, gym.reserve_sd)
        total += density / np.exp(member.log_prior[draw])
    return total / member.log_rate.size


def test_the_evidence_is_that_of_a_plain_sum_over_lifters_and_points():
    rng = np.random.default_rng(1)
    members = [
        by_chance(rng, ("squat", "arm curl", "squat"), 7, rng.random(7)),
        by_chance(rng, ("hinge",), 7, rng.random(7)),
        replace(by_chance(rng, ("hinge", "squat"), 7, rng.random(7)), is_woman=True),
    ]
    evidence = _Evidence(members, published(), USUAL)
    first = None
    for z in 0.8 * rng.standard_normal((4, evidence.used.size)):
        gym = Gyms.of(evidence.full(z), published())
        slowly = sum(
            np.log((1 - USUAL[0]) * evidence_slowly(one, gym, 1.0) + USUAL[0] * _with_tail(one, gym)) for one in members
        )
        off = evidence(z)[0] - (0.5 * z @ z - slowly)
        first = off if first is None else first
        # Constant factors are left out, so that the difference is the same everywhere, to the digits of a sum.
        assert off == pytest.approx(first, abs=1e-8)


def _with_tail(member, gym):
    """Somebody unusual, in endurance and recovery; how far one states otherwise has no tails."""
    return evidence_slowly(member, gym, USUAL[1])


def test_the_slope_is_that_of_small_steps():
    rng = np.random.default_rng(2)
    members = [by_chance(rng, ("squat", "arm curl"), 9, rng.random(9)) for _ in range(3)]
    members += [replace(by_chance(rng, ("hinge",), 9, rng.random(9)), is_woman=True)]
    evidence, step = _Evidence(members, published(), USUAL), 1e-5
    z = 0.5 * rng.standard_normal(evidence.used.size)
    slopes = [(evidence(z + one)[0] - evidence(z - one)[0]) / (2 * step) for one in step * np.eye(z.size)]
    # An error of the step squared, and of 1e-14 / 1e-5 of rounding.
    assert evidence(z)[1] == pytest.approx(slopes, abs=1e-6)


def test_blocks_of_lifters_change_nothing_but_the_last_digits(monkeypatch):
    rng = np.random.default_rng(3)
    members = [by_chance(rng, ("squat", "hinge")[: 1 + n % 2], 5, rng.random(5)) for n in range(5)]
    whole = fit_gym(members)
    monkeypatch.setattr("workbench.fit.gym_prior._AT_ONCE", 2)
    assert fit_gym(members).z == pytest.approx(whole.z, abs=1e-6)


@pytest.mark.parametrize("lifters", [9, 36])
def test_lifters_are_weighed_some_at_a_time(monkeypatch, lifters):
    rng, alive = np.random.default_rng(3), Alive()
    member = by_chance(rng, ("squat",), 5, rng.random(5))
    alive.watch(monkeypatch)
    monkeypatch.setattr(gym_prior, "_AT_ONCE", 3)
    evidence = _Evidence(Shelf(member for _ in range(lifters)), published(), USUAL)
    evidence(np.zeros(evidence.used.size))
    # Three at once, and of those of the block before at most as many.
    assert 3 <= alive.most <= 6


def test_a_gym_of_which_logs_say_nothing_is_the_published_one():
    """One lifter whose points are draws of the published prior itself, so that each gym makes them as likely as not."""
    p, rng, draws = published(), np.random.default_rng(4), 20_000
    prior, rate = endurance_prior("squat"), recovery_of_lifter("male")
    u, v = rng.standard_normal((2, draws))
    nothing = Member(
        classes=("squat",),
        log_endurance=np.log(prior.median) + prior.log_sd * u[:, None],
        log_rate=rate.log_sd * v,
        reserve_bias=0.7 * rng.standard_normal(draws),
        log_prior=np.zeros(draws),
        is_woman=False,
        sets=1,
        states_reserve=True,
    )
    density = norm.logpdf(u) - np.log(prior.log_sd) + norm.logpdf(v) - np.log(rate.log_sd)
    nothing = replace(nothing, log_prior=density + norm.logpdf(nothing.reserve_bias, 0.0, 0.7))
    found = fit_gym([nothing], published=p).prior
    for name in ("squat", "leg press", "trunk"):
        median, log_sd = found.endurance_of(name)
        # 20,000 points say the mean of their weights to about a hundredth of an sd.
        assert np.log(median) == pytest.approx(np.log(endurance_prior(name).median), abs=0.02)
        assert log_sd == pytest.approx(endurance_prior(name).log_sd, rel=0.03)
    for sex in ("male", "female"):
        median, log_sd = found.recovery_of(sex)
        assert np.log(median) == pytest.approx(0.0, abs=0.03)
        assert log_sd == pytest.approx(recovery_of_lifter(sex).log_sd, rel=0.03)
    assert found.stated_reserve.normal == pytest.approx((0.0, 0.7), abs=0.03)
    # Published is a tie of 0.57 with one exercise; a gym's may be any around it, which draws the mean in.
    assert found.tie == pytest.approx(shared_tie(), abs=0.12)


@functools.cache
def crowd(count, *, middle=0.3, times=1.2, rate=0.4, rate_sd=0.6, tie=0.5, reserve=-0.5, reserve_sd=0.4):
    """Lifters of a gym of whom all is known, two exercises each."""
    rng, p, members = np.random.default_rng(5), published(), []
    for number in range(count):
        classes = (("squat", "arm curl"), ("squat", "hinge"), ("hinge", "arm curl"))[number % 3]
        at = [p.classes.index(name) for name in classes]
        shared, own, other, bias = rng.standard_normal(4)
        z = np.sqrt(0.5) * shared + np.sqrt(0.5) * np.array([own, other])
        log_endurance = p.middle[at] + middle + times * p.between_lifters[at] * z
        log_rate = rate + rate_sd * (tie * shared + np.sqrt(1 - tie**2) * rng.standard_normal())
        members.append(known(classes, log_endurance, log_rate, reserve + reserve_sd * bias))
    return members


def test_many_lifters_tell_the_truth():
    fit = fit_gym(crowd(900))
    gyms = fit.gyms
    for name in ("squat", "hinge", "arm curl"):
        at = fit.published.classes.index(name)
        off = gyms.middle[:, at] - fit.published.middle[at] - 0.3
        # Three standard errors of what 900 lifters say; as far as the curvature says, too.
        assert abs(off.mean()) < 3 * off.std() < 0.06
    # (1 - 0.25) / 30 where the shared part is seen itself; two exercises show two thirds of its variance.
    tie_se = 0.025 / np.sqrt(2 / 3)
    for name, truth, se in (
        ("times", 1.2, 1.2 / np.sqrt(2 * 1800)),  # an sd of n numbers is known to 1 / sqrt(2 n) of itself
        ("rate", 0.4, 0.6 / 30),
        ("rate_sd", 0.6, 0.6 / np.sqrt(1800)),
        ("tie", 0.5, tie_se),
        ("reserve", -0.5, 0.4 / 30),
        ("reserve_sd", 0.4, 0.4 / np.sqrt(1800)),
    ):
        values = getattr(gyms, name)
        assert abs(values.mean() - truth) < 3.5 * se, name
        # The tails of unusual lifters and what exercises share make a number less sure, by no more than half.
        assert 0.7 * se < values.std() < 1.6 * se, name
    # A new lifter's start then is the gym itself.
    median, log_sd = fit.prior.recovery_of("male")
    assert (np.log(median), log_sd) == pytest.approx((0.4, 0.6), abs=0.08)


def test_fewer_lifters_leave_a_wider_start():
    """The same lifters again and again: the spread that is seen stays, what is not known of the gym goes."""
    some = crowd(9)
    starts = [fit_gym(some * times).prior for times in (1, 3, 9)]
    for of in (lambda one: one.endurance_of("squat")[1], lambda one: one.recovery.log_normal[1]):
        widths = [of(one) for one in starts]
        assert widths[0] > widths[1] > widths[2]
    for prior in starts:
        for one in (*prior.endurance.values(), prior.recovery):
            # Never narrower than lifters of the gym differ.
            assert one.log_normal[1] > one.spread[1] * (1 - ROUNDED)
            low, _, high = one.middle
            assert one.start[0] < low < high < one.start[2]


def test_no_lifter_moves_the_gym_by_more_than_one_lifter_says():
    """Somebody far out counts as unusual: the spread does not run after a single log."""
    usual = crowd(12)
    far = known(("squat",), [published().middle[published().classes.index("squat")] + 1.6], 0.4)
    times = [fit_gym([*usual, *more]).gyms.times.mean() for more in ([], [far])]
    assert times[1] < 1.25 * times[0]


def test_women_of_a_gym_are_told_apart_only_as_far_as_there_are_any():
    men = crowd(20)
    women = [replace(one, is_woman=True, log_rate=one.log_rate + 0.5) for one in men]
    none = fit_gym(men).prior
    assert none.recovery_of("female")[1] > none.recovery_of("male")[1]
    assert none.recovery_of("female")[0] == pytest.approx(none.recovery_of("male")[0], rel=0.02)
    both = fit_gym([*men, *women]).prior
    moved = np.log(both.recovery_of("female")[0] / both.recovery_of("male")[0])
    # Of the true 0.5, what is believed of women before (none, sd 0.4) takes some back.
    assert 0.3 < moved < 0.55


# ---- from logs -------------------------------------------------------------------------------------------------------


@functools.cache
def of_the_gym():
    rng = np.random.default_rng(6)
    gym = drawn_gym(rng)
    return [invented(gym, number, rng.spawn(1)[0], weeks=2) for number in range(3)]


@functools.cache
def learned_of(number):
    one = of_the_gym()[number]
    return fit_log(one.log, one.lifter)


@functools.cache
def members():
    return [member_of(learned_of(number), draws=600, rng=np.random.default_rng(number)) for number in range(3)]


def numbers_of(**changes):
    """Return some gym's numbers, tied to nothing."""
    start = {"lifters": 9, "middle": [0.024, 0.025, 0.026], "spread": [0.1, 0.2, 0.3]}
    content = {
        "lifters": 9,
        "sets": 900,
        "tie": 0.01,
        "endurance": {
            name: {**start, "start": [0.02, 0.026, 0.0338]} for name in ("squat", "horizontal press", "arm curl")
        },
        "recovery": {**start, "start": [0.8, 1.2, 1.8]},
        **changes,
    }
    return validate(content, GymPrior)


def test_draws_weighed_by_another_prior_are_what_that_prior_would_have_found():
    """The heart of it: a log fitted from the published prior says the same under a gym's as one fitted from there."""
    number = 2  # the one of whom the log says least, so that the start says much
    one, published_start = of_the_gym()[number], learned_of(number)
    gym = numbers_of(tie=0.3)
    again = fit_log(one.log, one.lifter.model_copy(update={"gym": gym}))
    before = member_of(published_start, draws=6000, rng=np.random.default_rng(1))
    # The same draws under the gym's start: its densities are those that the second fit began with.
    under = log_prior_of(
        [lift.prior.endurance for lift in again.fit.lifts], again.fit.rate, before.log_endurance, before.log_rate
    )
    plain = log_prior_of(
        [lift.prior.endurance for lift in published_start.fit.lifts],
        published_start.fit.rate,
        before.log_endurance,
        before.log_rate,
    )
    weights = np.exp(under - plain)
    weights /= weights.sum()
    found = {"rate": (before.log_rate, again.recovery_rate)}
    found |= {
        name: (before.log_endurance[:, column], again.endurance(name))
        for column, name in enumerate(published_start.exercises)
    }
    for name, (values, after) in found.items():
        mean = weights @ values
        sd = np.sqrt(weights @ (values - mean) ** 2)
        # Of 6000 draws, weighed as about 3000, a mean is known to 0.02 sd; what no grid holds moves a little with the
        # start, and is taken as normal in both fits.
        assert mean == pytest.approx(after.mean, abs=0.08 * sd), name
        assert sd == pytest.approx(after.sd, rel=0.08), name
        # The start did say much: without the weights they are far apart.
        assert name != "rate" or abs(values.mean() - after.mean) > 0.5 * values.std()


def test_what_a_lifter_says_holds_no_name_date_or_set():
    for member, one in zip(members(), of_the_gym(), strict=True):
        assert one.lifter.name not in repr(member)
        assert {type(value) for value in vars(member).values()} == {tuple, np.ndarray, bool, int}


def test_the_same_logs_give_the_same_digits():
    assert fit_gym(members()).prior == fit_gym(members()).prior


def test_a_lifter_starts_from_the_gym_and_a_stated_number_goes_before():
    gym = numbers_of()
    lifter = validate({"name": "New", "lifts": {"back squat": {"one_rm_kg": 100}}, "gym": gym.model_dump()}, Lifter)
    belief = lifter.endurance_belief("back squat")
    # Low end 0.02 and high end 0.0338 of an 80 % interval: ln(1.3) / 1.2816 of spread about 0.026.
    assert (np.exp(belief.middle), belief.sd) == pytest.approx((0.026, 0.2047), rel=1e-3)
    rate = lifter.of_all["all", "recovery rate"]
    assert (np.exp(rate.middle), rate.sd) == pytest.approx((1.2, np.log(1.5) / 1.2816), rel=1e-3)
    names = [("all", "shared endurance"), ("all", "recovery rate")]
    assert lifter.correlations(names)[0, 1] == pytest.approx(0.01)
    assert lifter.endurance_belief("leg press").sd == pytest.approx(endurance_prior("leg press").log_sd)
    stated = lifter.model_copy(update={"recovery_rate": 2.0})
    assert np.exp(stated.of_all["all", "recovery rate"].middle) == pytest.approx(2.0)


def test_a_fit_starts_from_the_gym_too():
    """A log without a set to failure or a stated reserve leaves recovery and stated reserves where they started."""
    reserve = {"lifters": 9, "start": [0.3, 1.0, 1.7], "middle": [0.9, 1.0, 1.1], "spread": [0.1, 0.2, 0.3]}
    one, gym = of_the_gym()[0], numbers_of(stated_reserve=reserve)
    lifter = one.lifter.model_copy(update={"gym": gym})
    easy = one.log.head(1).assign(reps=1, outcome="completed", reps_in_reserve=np.nan, load_kg=20.0)
    learned = fit_log(easy, lifter)
    assert np.exp(learned.recovery_rate.mean) == pytest.approx(1.2, rel=0.03)
    # 1.4 reps from one end to the other are 2 x 1.2816 sds.
    assert (learned.reserve_bias.mean, learned.reserve_bias.sd) == pytest.approx((1.0, 0.546), rel=0.03)


@pytest.mark.parametrize(
    ("place", "change"),
    [
        ("recovery.start", {"recovery": {"start": [2.0, 1.0, 3.0]}}),
        ("recovery", {"recovery": {"start": [-1.0, 1.0, 3.0]}}),
        ("endurance.squat", {"endurance": {"squat": {"start": [-0.1, 0.02, 0.03]}}}),
        ("endurance.no such class", {"endurance": {"no such class": {}}}),
        ("tie", {"tie": 1.0}),
        ("lifters", {"lifters": 0}),
        ("names", {"names": ["Ann"]}),
    ],
)
def test_a_damaged_file_is_refused_with_its_place(place, change):
    from workbench.quantities import InputError

    content = numbers_of().model_dump(exclude_none=True)
    for name, value in change.items():
        if name == "endurance":
            ((key, inner),) = value.items()
            content[name] = {key: {**content[name]["squat"], **inner}}
        elif isinstance(value, dict):
            content[name] = {**content[name], **value}
        else:
            content[name] = value
    with pytest.raises(InputError) as refused:
        validate(content, GymPrior, "gym.toml")
    assert refused.value.place == place
