"""The simulation written as the plainest possible loop over numbers: slow, obvious, and the oracle of the fast form.

It uses nothing of `workbench.models`: the equations are written out again, with `math` only.
"""

import math


def simulate_slowly(plan, draws, count=None):
    """Reps available in every set, as ``{(session, set, draw, week): reps}``, for the first ``count`` draws."""
    parameters = {
        name: [float(value) for value in _column(getattr(draws.fatigue, name), draws.count)]
        for name in ("depletion_gain", "strength_tau_s", "depletion_tau_s", "slow_share", "slow_tau_s")
    }
    reps = {}
    for draw in range(draws.count if count is None else count):
        p = {name: values[draw] for name, values in parameters.items()}
        rate = float(draws.recovery_rate[draw])
        offset = 0
        for s, session in enumerate(plan.sessions):
            for week in range(plan.weeks):
                state = {}
                for i, planned in enumerate(session.sets):
                    lane = planned.lane
                    headroom = (
                        float(draws.log_one_rm[draw, lane])
                        + float(draws.day[s, draw, week])
                        - math.log(float(planned.load_kg[week]))
                    )
                    k = float(draws.endurance[draw, lane])
                    fresh = max(1.0 + headroom / k, 0.0) * float(draws.set_noise[offset + i, draw, week])
                    loss, quick, slow = state.get(lane, (0.0, 0.0, 0.0))
                    time = float(planned.rest_s[week]) * rate
                    loss *= math.exp(-time / p["strength_tau_s"])
                    quick *= math.exp(-time / p["depletion_tau_s"])
                    slow *= math.exp(-time / p["slow_tau_s"])
                    available, after = work_slowly(
                        loss, quick, slow, headroom, fresh, float(planned.reps_high[week]), p
                    )
                    state[lane] = after if planned.active[week] else (loss, quick, slow)
                    reps[s, i, draw, week] = available
            offset += len(session.sets)
    return reps


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


def _column(value, count):
    try:
        flat = [row[0] for row in value]
    except TypeError:
        return [value] * count
    return flat if len(flat) == count else flat * count
