"""The simulation written as the plainest possible loop over numbers: slow, obvious, and the oracle of the fast form.

It uses nothing of `workbench.models`: the equations are written out again, with `math` only.
"""

import dataclasses
import math

from workbench.gym import catalogue

#: Of the depletion that shared muscles ask for, what passes on.
PASSED_ON = 0.7


def exponential_slowly(headroom, k):
    """Reps of a fresh set on the anchored exponential."""
    return max(1.0 + headroom / k, 0.0)


def simulate_slowly(plan, draws, count=None, fresh_reps=exponential_slowly):
    """Reps available in every set, as ``{(session, set, draw, week): reps}``, for the first ``count`` draws.

    ``fresh_reps(headroom, k)``: reps of a fresh set.
    """
    parameters = {
        field.name: [float(value) for value in _column(getattr(draws.fatigue, field.name), draws.count)]
        for field in dataclasses.fields(draws.fatigue)
    }
    work = {"two states": work_slowly, "effort": effort_slowly, "steep end": steep_slowly}[draws.form.name]
    overlap = [[overlap_slowly(one, other) for other in plan.exercises] for one in plan.exercises]
    carried = [1.0] * draws.count if draws.carry is None else _column(draws.carry, draws.count)
    reps = {}
    for draw in range(draws.count if count is None else count):
        p = {name: values[draw] for name, values in parameters.items()}
        rate = float(draws.recovery_rate[draw])
        offset = 0
        for s, session in enumerate(plan.sessions):
            for week in range(plan.weeks):
                own, ended, at_work, got = {}, {}, None, [0.0, 0.0, 0.0]
                for i, planned in enumerate(session.sets):
                    lane, start = planned.lane, float(planned.start_s[week])
                    headroom = (
                        float(draws.log_one_rm[draw, lane])
                        + float(draws.day[s, draw, week])
                        - math.log(float(planned.load_kg[week]))
                    )
                    k = float(draws.endurance[draw, lane])
                    usual = catalogue.exercise(planned.exercise).seconds_per_rep
                    if planned.seconds_per_rep > usual:
                        k *= (planned.seconds_per_rep / usual) ** float(draws.slow_reps[draw])
                    fresh = fresh_reps(headroom, k) * float(draws.set_noise[offset + i, draw, week])
                    mine = recovered(own.get(lane, (0.0, 0.0, 0.0)), (start - ended.get(lane, start)) * rate, p)
                    if lane == at_work:
                        got = recovered(got, (start - ended[lane]) * rate, p)
                    else:
                        # What returns within seconds stays with its exercise; the rest goes with the muscles.
                        got = [0.0, 0.0, 0.0]
                        for other in own:
                            if other != lane:
                                left = recovered(own[other], (start - ended[other]) * rate, p)
                                for pool in (1, 2):
                                    got[pool] += PASSED_ON * overlap[lane][other] * carried[draw] * left[pool]
                    before = [mine[pool] + got[pool] for pool in range(3)]
                    available, after = work(*before, headroom, fresh, float(planned.reps_high[week]), p)
                    added = [after[pool] - before[pool] if planned.active[week] else 0.0 for pool in range(3)]
                    own[lane] = [mine[pool] + added[pool] for pool in range(3)]
                    ended[lane], at_work = float(planned.end_s[week]), lane
                    reps[s, i, draw, week] = available
            offset += len(session.sets)
    return reps


def overlap_slowly(one, other):
    """What counts of ``other``'s work in ``one``: muscle by muscle."""
    mine = {part.muscle: part.share for part in catalogue.exercise(one).muscles}
    theirs = {part.muscle: part.share for part in catalogue.exercise(other).muscles}
    shared = sum(mine[muscle] * theirs.get(muscle, 0.0) for muscle in mine)
    return shared / sum(share * share for share in mine.values())


def recovered(pools, time, p):
    """Return the pools of one exercise after a rest."""
    names = ("strength_tau_s", "depletion_tau_s", "slow_tau_s")
    return [pool * math.exp(-time / p[name]) for pool, name in zip(pools, names, strict=True)]


def work_slowly(loss, quick, slow, headroom, fresh, wanted, p):
    """One set of the two-state form, by the quadratic as a schoolbook solves it."""
    c = p["depletion_gain"]
    room = max(headroom, 1e-12)
    left = max(1.0 - loss / room, 0.0)
    b = 1.0 + c * (quick + slow)
    root = math.sqrt(b * b + 2.0 * c * (1.0 + c / 2.0) * left)
    share = (root - b) / c if c else left / b
    first = min(fresh, 1.0) if left > 1e-9 else 0.0
    available = first + share * (fresh - first)
    done = min(available, wanted) / max(fresh, 1e-12)
    weight = 1.0 - 1.0 / fresh if fresh > 2.0 else fresh / 4.0
    loss += room * done * (b + c / 2.0 * done) / (1.0 + c / 2.0)
    quick += (1.0 - p["slow_share"]) * weight * done
    slow += p["slow_share"] * weight * done
    return available, (loss, quick, slow)


def effort_slowly(loss, quick, slow, headroom, fresh, wanted, p):
    """One set of the effort form: ``1 + c e`` grows by the same factor with every part of a fresh set."""
    c = p["depletion_gain"]
    room = max(headroom, 1e-12)
    left = max(1.0 - loss / room, 0.0)
    weight = fresh / (fresh + p["half_reps"])
    factor = 1.0 + c * weight  # over a whole fresh set
    level = 1.0 + c * (quick + slow)
    share = math.log((level + c * weight * left) / level) / math.log(factor) if fresh else 0.0
    first = min(fresh, 1.0) if left > 1e-9 else 0.0
    available = first + share * (fresh - first)
    done = min(available, wanted) / fresh if fresh else 0.0
    spent = level * (factor**done - 1.0) / c
    loss += room * spent / weight if fresh else 0.0
    quick += (1.0 - p["slow_share"]) * spent
    slow += p["slow_share"] * spent
    return available, (loss, quick, slow)


def steep_slowly(loss, quick, slow, headroom, fresh, wanted, p):
    """One set of the steep-end form: the share of a fresh set between two losses y is the integral of
    1 / ((1 + c e) (1 + b y)), split into partial fractions; where the set ends is found by halving.
    """
    b, c = p["end_gain"], p["depletion_gain"]
    room = max(headroom, 1e-12)
    lost = min(loss / room, 1.0)
    weight = fresh / (fresh + p["half_reps"])
    level = 1.0 + c * (quick + slow)

    def share_of(y, y0, level0):
        """Integral from y0 to y; ``1 + c e`` is ``level0 + c w (y - y0)``."""
        start = level0 - c * weight * y0
        rate = b * start - c * weight
        steeper = math.log((1.0 + b * y) / (1.0 + b * y0))
        deeper = math.log((start + c * weight * y) / level0)
        return (steeper - deeper) / rate

    whole = share_of(1.0, 0.0, 1.0)
    share = share_of(1.0, lost, level) / whole
    first = min(fresh, 1.0) if 1.0 - lost > 1e-9 else 0.0
    available = first + share * (fresh - first)
    done = min(min(available, wanted) / fresh if fresh else 0.0, share)
    low, high = lost, 1.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if share_of(middle, lost, level) < done * whole else (low, middle)
    spent = weight * (high - lost)
    loss += room * (high - lost)
    quick += (1.0 - p["slow_share"]) * spent
    slow += p["slow_share"] * spent
    return available, (loss, quick, slow)


def _column(value, count):
    try:
        flat = [row[0] for row in value]
    except TypeError:
        return [value] * count
    return flat if len(flat) == count else flat * count
