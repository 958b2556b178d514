"""A session worked out as the plainest possible loop over numbers: slow, obvious, and the oracle of the planner.

It uses no equation of `workbench.models`, and nothing of `workbench.simulate`; what the room, the catalogue and the
lifter file say is read from them. Every value stands in a list, one for each week.
"""

import math

from tests.scalar_oracle import PASSED_ON, exponential_slowly, overlap_slowly, recovered, steep_slowly
from workbench.models.fatigue import STEEP_END
from workbench.reference.parameters import fatigue_typical
from workbench.reference.tempo import slow_rep_prior

LB_IN_KG = 0.45359237
#: Of the working load, and reps; the last where the working load is at least this part of the 1RM.
RAMP = [(0.45, 8), (0.65, 5), (0.8, 3), (0.9, 1)]
HEAVY = 0.85
AFTER_A_RAMP_SET_S = 60
#: Enough for the last digit that the planner's forty leave.
HALVINGS = 45


class Body:
    """The median lifter's fatigue in one week of a session."""

    def __init__(self, lifter):
        self.p = vars(lifter.tiring(STEEP_END) or fatigue_typical(STEEP_END))
        self.rate, self.carried = lifter.recovery_rate or 1.0, lifter.carry_over or 1.0
        self.own, self.ended, self.at_work, self.got = {}, {}, None, [0.0, 0.0, 0.0]

    def stands(self, name, now):
        """Return the pools of an exercise: its own, and what the others gave it."""
        mine = recovered(self.own.get(name, [0.0] * 3), (now - self.ended.get(name, now)) * self.rate, self.p)
        if name == self.at_work:
            return mine, recovered(self.got, (now - self.ended[name]) * self.rate, self.p)
        got = [0.0, 0.0, 0.0]
        for other in self.own:
            if other != name:
                left = recovered(self.own[other], (now - self.ended[other]) * self.rate, self.p)
                for pool in (1, 2):
                    got[pool] += PASSED_ON * overlap_slowly(name, other) * self.carried * left[pool]
        return mine, got

    def work(self, name, now, fraction, k, reps):
        """Return the reps available, and the pools as they are before and after."""
        mine, got = self.stands(name, now)
        before = [a + b for a, b in zip(mine, got, strict=True)]
        headroom = -math.log(fraction)
        return *steep_slowly(*before, headroom, exponential_slowly(headroom, k), reps, self.p), before, mine, got

    def does(self, name, worked, active, end):
        """Take over what a set left."""
        _, after, before, mine, got = worked
        self.own[name] = [m + (a - b if active else 0.0) for m, a, b in zip(mine, after, before, strict=True)]
        self.ended[name], self.at_work, self.got = end, name, got


class Slot:
    """One exercise of a session."""

    def __init__(self, block, lifter, room, number, slot):
        self.number, self.slot, self.block = number, slot, block
        self.exercise = exercise = room.catalogue.exercise(slot.exercise)
        self.name = exercise.name
        self.table = room.loads_for(exercise, slot.equipment)
        self.body_kg = exercise.body_mass_share * (lifter.body_mass_kg or 0)
        self.one_rm, self.k = lifter.lifts[slot.exercise].one_rm_kg, lifter.lifts[slot.exercise].endurance
        self.asked = [self.weekly(group) for group in slot.sets]
        self.done_in = [any(asked["count"][w] > 0 for asked in self.asked) for w in range(block.weeks)]
        self.wanted_of_group = []

    def weekly(self, group):
        """What a group asks for in every week."""
        first, rule, weeks = getattr(group, group.way), group.progression, range(self.block.weeks)
        load, low, high = ([value for _ in weeks] for value in (first, *group.reps))
        count, share = [group.count for _ in weeks], [1.0 for _ in weeks]
        if rule is not None and rule.rule == "step":
            load = [first + w * rule.step for w in weeks]
            low, high = ([bound + w * rule.reps_step for w in weeks] for bound in group.reps)
        if rule is not None and rule.rule == "by week":
            load, low, high = rule.load, rule.reps or low, rule.reps or high
            count = rule.sets or count
        else:
            for lighter in self.block.lighter_weeks:
                count[lighter.week - 1] = max(round(group.count * lighter.sets), 1)
                share[lighter.week - 1] = lighter.load
        return {"load": load, "low": low, "high": high, "count": count, "share": share}

    def rounded(self, wanted):
        """Return the nearest load that the room has, the lighter of two as near."""
        loads = [load + self.body_kg for load in self.table.kg]
        return min(loads, key=lambda load: (abs(load - wanted), load))

    def seconds(self, group):
        return group.seconds_per_rep or self.exercise.seconds_per_rep

    def endurance(self, group):
        slower = max(self.seconds(group) / self.exercise.seconds_per_rep, 1.0)
        return self.k * slower ** slow_rep_prior().mean

    def wanted(self, group, w, body, now):
        """Return the load that a group asks for in a week."""
        asked = self.asked[self.slot.sets.index(group)]
        load, share = asked["load"][w], asked["share"][w]
        if group.part is not None:
            return load * self.wanted_of_group[group.part_of_group - 1][w]
        if group.percent is not None:
            return load / 100 * self.one_rm * share
        if group.reps_in_reserve is None:
            return load * (LB_IN_KG if group.lb else 1) * (2 if group.each_hand else 1) * share
        low, high = 0.05, 1.0
        reps = (asked["low"][w] + asked["high"][w]) / 2 + load
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            enough = body.work(self.name, now, middle, self.endurance(group), math.inf)[0] >= reps
            low, high = (middle, high) if enough else (low, middle)
        return low * self.one_rm * share


class SessionSlowly:
    """One session: ``sets``, ``ramps`` and ``set_ups`` as dicts, and the time ``now`` at its end."""

    def __init__(self, block, lifter, room, session):
        self.weeks = range(block.weeks)
        self.now, self.rest, self.last_end = [0.0 for _ in self.weeks], [0.0 for _ in self.weeks], {}
        self.bodies = [Body(lifter) for _ in self.weeks]
        self.sets, self.ramps, self.set_ups = [], [], []
        together = []
        for number, slot in enumerate(session.exercises, start=1):
            together.append(Slot(block, lifter, room, number, slot))
            if not slot.alternate_with_next:
                self.chain(together)
                together = []

    def passes(self, seconds, where):
        self.now = [now + (seconds[w] if where[w] else 0.0) for w, now in enumerate(self.now)]

    def chain(self, slots):
        """Do one exercise, or several in turn."""
        self.rest = [0.0 for _ in self.weeks]
        for one in slots:
            start = self.now
            self.passes([one.exercise.setup_s for _ in self.weeks], one.done_in)
            self.set_ups.append({"exercise": one.name, "slot": one.number, "start_s": start, "end_s": self.now})
        for one in slots:
            if one.slot.ramp:
                self.ramp(one)
        turns = [self.turns(one) for one in slots]
        while turns:
            turns = [turn for turn in turns if next(turn, "no more") != "no more"]

    def ramp(self, one):
        """Climb: a ramp set that in no week leads on is left out."""
        group = one.slot.sets[0]
        working = [one.rounded(one.wanted(group, w, self.bodies[w], self.now[w])) for w in self.weeks]
        last = [0.0 for _ in self.weeks]
        for part, reps in RAMP if max(working) >= HEAVY * one.one_rm else RAMP[:-1]:
            load = [one.rounded(part * kg) for kg in working]
            if any(load[w] < working[w] for w in self.weeks) and any(load[w] > last[w] for w in self.weeks):
                start = self.now
                self.passes([reps * one.seconds(group) for _ in self.weeks], one.done_in)
                row = {"exercise": one.name, "slot": one.number, "reps": reps, "start_s": start, "end_s": self.now}
                self.ramps.append(row | {"load_kg": [min(load[w], working[w]) for w in self.weeks]})
                self.passes([AFTER_A_RAMP_SET_S for _ in self.weeks], one.done_in)
                last = load

    def turns(self, one):
        """Do the sets of an exercise, one at each call of next, its drops with it."""
        number = 0
        for at, (group, asked) in enumerate(zip(one.slot.sets, one.asked, strict=True), start=1):
            for index in range(max(asked["count"])):
                number += 1
                active = [index < count for count in asked["count"]]
                self.passes(self.rest, active)
                wanted = [one.wanted(group, w, self.bodies[w], self.now[w]) for w in self.weeks]
                if index == 0:
                    one.wanted_of_group.append(wanted)
                reps = asked["low"], asked["high"]
                leaves = asked["load"] if group.reps_in_reserve is not None else None
                self.do(one, group, wanted, reps, active, group=at, number=number, drop=0, leaves=leaves)
                for drop, size in enumerate(group.drops.sizes if group.drops else (), start=1):
                    wanted = [kg * (1 - size / 100) for kg in wanted]
                    self.passes([group.drops.change_s for _ in self.weeks], active)
                    reps = [[bound for _ in self.weeks] for bound in group.drops.reps]
                    self.do(one, group, wanted, reps, active, group=at, number=number, drop=drop, leaves=None)
                self.rest = [group.rest_s if active[w] else rest for w, rest in enumerate(self.rest)]
                yield

    def do(self, one, of, wanted, reps, active, leaves, **row):
        low, high = reps
        load = [one.rounded(kg) if one.rounded(kg) > 0 else one.one_rm for kg in wanted]
        start, before = self.now, self.last_end.get(one.name, self.now)
        worked = [
            self.bodies[w].work(one.name, self.now[w], load[w] / one.one_rm, one.endurance(of), high[w])
            for w in self.weeks
        ]
        done = [high[w] if math.isfinite(high[w]) else math.floor(worked[w][0]) for w in self.weeks]
        self.passes([one.seconds(of) * count for count in done], active)
        for w in self.weeks:
            self.bodies[w].does(one.name, worked[w], active[w], self.now[w])
        self.last_end[one.name] = [self.now[w] if active[w] else before[w] for w in self.weeks]
        row |= {"exercise": one.name, "slot": one.number, "wanted_kg": wanted, "load_kg": load, "body_kg": one.body_kg}
        row |= {"load_fraction": [kg / one.one_rm for kg in load], "reps_low": low, "reps_high": high}
        row |= {"active": active, "start_s": start, "end_s": self.now}
        row |= {"rest_s": [start[w] - before[w] for w in self.weeks], "seconds_per_rep": one.seconds(of)}
        row |= {"slowness": max(math.log(one.seconds(of) / one.exercise.seconds_per_rep), 0.0)}
        row |= {"leaves": leaves, "unit": one.table.unit, "hands": one.table.hands}
        self.sets.append(row)
