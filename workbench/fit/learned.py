"""What a log taught: distributions, tables, sentences, draws."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from workbench.fit.carried import CarryOver
from workbench.fit.filtering import Filtered
from workbench.fit.joint import Fit, FittedLift, Joint, combine
from workbench.fit.learned_draws import LearnedDraws, draw_strength, inside, pick
from workbench.fit.marginals import LEVELS, LogNormal, Marginal, Normal, refine
from workbench.fit.model_check import ModelCheck, check_model
from workbench.fit.priors import carry_prior, shared_nodes
from workbench.gym.catalogue import Catalogue, built_in
from workbench.lifter.file import BEND, SHARED
from workbench.present.answer import Answer
from workbench.quantities import KG_PER_LB, InputError, Unit

if TYPE_CHECKING:
    from workbench.lifter import Lifter
    from workbench.models.load_reps import Curve
    from workbench.quantities import FloatArray

__all__ = ["Learned", "LearnedDraws", "learned_in"]

#: The same levels of a standard normal distribution.
_NORMAL_LEVELS = np.array([-1.2815515655446004, 0.0, 1.2815515655446004])
_PRIOR, _AFTER = ("prior_p10", "prior_p50", "prior_p90"), ("p10", "p50", "p90")
_REFINED = 4
#: A posterior this many prior sds away says that the file or the log is wrong.
_FAR_FROM_FILE = 3.0
#: A posterior narrower than this part of its prior is worth a sentence.
_NARROWED = 0.8
#: Of a 1RM that keeps more than this part of its spread the log tells little.
_HARDLY = 0.9
#: What no grid holds is shown where the log left no more than this part of its spread.
_SPOKEN = 0.9
#: Logs of probabilities below this are as good as none.
_NOTHING = -600.0
_GUESSED = "first guess from the log: the lifter file does not name this exercise"
_FAR = "far from the lifter file: check the 1RM there and the units of the log"
_NOT_REPEATED = "no set followed another of the same exercise: nothing is learned of recovery"


@dataclass(frozen=True, repr=False, eq=False)
class Learned(Answer):
    """The posterior of a lifter: what `fit_log` returns.

    Attributes
    ----------
    fit : Fit
        The grids and everything the fit was given.
    """

    fit: Fit

    @property
    def lifter(self) -> Lifter:
        """The lifter as before the log."""
        return self.fit.lifter

    @property
    def exercises(self) -> tuple[str, ...]:
        """Exercises of the log, by their names in the catalogue."""
        return tuple(lift.exercise for lift in self.fit.lifts)

    @property
    def today(self) -> datetime.date:
        """When the 1RMs hold."""
        return self.fit.today

    @property
    def notes(self) -> tuple[str, ...]:
        """What to know before these numbers are believed, in sentences."""
        skipped, said = self.fit.log.skipped, (*self.model_check.notes, *self._hardly_told)
        if not skipped:
            return said
        count, dates = sum(len(session.sets) for session in skipped), sorted(session.date for session in skipped)
        days = " to ".join(dict.fromkeys((str(dates[0]), str(dates[-1]))))
        text = f"{count} sets of {days} are in the lifter file already and are skipped."
        return (text, *said)

    @cached_property
    def _hardly_told(self) -> tuple[str, ...]:
        """A sentence on the 1RMs that no log has told of yet; none where there are none."""
        told = self.lifter.goes_together
        stated = [lift for lift in self.fit.lifts if not (lift.prior.guessed or told((lift.exercise, "1RM")))]
        kept = (self.one_rm(lift.exercise).sd > _HARDLY * lift.prior.one_rm.log_sd for lift in stated)
        names = [lift.exercise for lift, as_before in zip(stated, kept, strict=True) if as_before]
        if not names:
            return ()
        alike = "Where loads are alike, a 1RM that is too high looks like reps that change otherwise with the load"
        known = "a heavy set near failure tells them apart"
        return (f"This log tells little of the 1RM of {', '.join(names)}. {alike}; {known}.",)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Prior and posterior of every quantity, and what of the log was left out."""
        return {"summary": self.summary(), "left_out": self.fit.log.left_out}

    def sentences(self, unit: Unit = "kg") -> list[str]:
        """Say how much was read, what is to be answered, and what changed most."""
        used = self.fit.log
        lines = [f"{self.lifter.name}: {used.set_count} sets used, as of {self.today}."]
        lines += [f"Please answer: {question}." for question in self.questions]
        lines += _what_changed(learned_in(self.summary(), unit, self.lifter.catalogue))
        if used.rests_said:
            lines.append(used.rests_said)
        left_out = used.left_out.head(10).to_dict("records")
        return [*lines, *(f"Left out: {row['exercise']}, {row['reason']}." for row in left_out)]

    @cached_property
    def model_check(self) -> ModelCheck:
        """Whether the log contradicts the model, at the usual level."""
        return self.check_model()

    def check_model(self, *, level: float = 0.05) -> ModelCheck:
        """Ask whether the log contradicts the model; see `workbench.fit.model_check.check_model`."""
        one_rm, endurance = ([of(name) for name in self.exercises] for of in (self.one_rm, self.endurance))
        return check_model(self.fit, one_rm, endurance, self.recovery_rate, level=level)

    @property
    def questions(self) -> tuple[str, ...]:
        """What to ask: days that the lifter file has learned from, and of which the log now says otherwise."""
        return self.fit.log.questions

    @cached_property
    def _ridge(self) -> tuple[tuple[FittedLift, ...], Joint]:
        """The fit on finer points of endurance: 1RM and endurance can lie on a ridge narrower than its points."""
        lifts = []
        for lift in self.fit.lifts:
            filtered = lift.filtered
            with np.errstate(divide="ignore"):
                both = np.log(filtered.today) + (filtered.log_evidence - filtered.log_evidence.max())[:, :, None]
            log_endurance, both = refine(lift.grid.log_endurance, np.maximum(both, _NOTHING), 1, _REFINED)
            density = np.exp(both)
            total = density.sum(axis=2)
            grid = replace(lift.grid, log_endurance=log_endurance)
            lifts.append(replace(lift, grid=grid, filtered=Filtered(np.log(total), density / total[:, :, None])))
        return tuple(lifts), combine(lifts, self.fit.rate, self.fit.joint.log_rate)

    @cached_property
    def _fine(self) -> tuple[tuple[FittedLift, ...], Joint]:
        """The same on finer points of the recovery rate too, without the 1RM."""
        lifts, log_rate = [], self.fit.joint.log_rate
        for lift in self._ridge[0]:
            log_rate, evidence = refine(lift.grid.log_rate, lift.filtered.log_evidence, 0, _REFINED)
            filtered = replace(lift.filtered, log_evidence=evidence)
            lifts.append(replace(lift, grid=replace(lift.grid, log_rate=log_rate), filtered=filtered))
        return tuple(lifts), combine(lifts, self.fit.rate, log_rate)

    def one_rm(self, exercise: str) -> Marginal:
        """Distribution of the log of the usual 1RM at the fit's date, kg."""
        number, (lifts, joint) = self._number(exercise), self._ridge
        lift = lifts[number]
        weights = np.tensordot(joint.lifts[number], lift.filtered.today, 2)
        return Marginal(lift.grid.log_strength + self._beyond(number, 0), weights).widened(self._unseen(number, 0))

    def endurance(self, exercise: str) -> Marginal:
        """Distribution of the log of endurance, 1/rep."""
        number, (lifts, joint) = self._number(exercise), self._fine
        weights = joint.lifts[number].sum(axis=0)
        points = lifts[number].grid.log_endurance + self._beyond(number, 1)
        return Marginal(points, weights).widened(self._unseen(number, 1))

    @property
    def recovery_rate(self) -> Marginal:
        """Distribution of the log of the recovery rate."""
        joint, carried, unknowns = self._fine[1], self.carry_over, self.fit.unknowns
        by_others = 0.0 if carried is None else carried.with_rate * carried.sd
        beyond, by_unseen = (0.0, 0.0) if unknowns is None else unknowns.of_rate()
        return Marginal(joint.log_rate + beyond, joint.rate).widened(float(np.hypot(by_others, by_unseen)))

    @property
    def carry_over(self) -> CarryOver | None:
        """What the log says of the carry-over between exercises; None where it cannot say anything."""
        return self.fit.carry_over

    def gain(self, exercise: str) -> Normal:
        """Steady gain of the 1RM of an exercise over the log, natural log in a week."""
        assert self.fit.unknowns is not None
        return self.fit.unknowns.learned("gain", self._number(exercise))

    @property
    def reserve_bias(self) -> Normal:
        """Reps that are left beyond what is usual for the reserve that this lifter states."""
        mean, sd = self.fit.settings.reserve_bias_mean, self.fit.settings.reserve_bias_sd
        return Normal(mean, sd) if self.fit.unknowns is None else self.fit.unknowns.learned("reserve")

    def _beyond(self, number: int, column: int) -> float:
        """How far the log of the 1RM (column 0) or the endurance (1) lies beyond the grids: see `Unknowns.of_lift`."""
        unknowns = self.fit.unknowns
        return 0.0 if unknowns is None else unknowns.of_lift(number, column)[0]

    def _unseen(self, number: int, column: int) -> float:
        """Scatter that all adds to the log of the 1RM (column 0) or the endurance (1) that the grids do not hold."""
        unknowns = self.fit.unknowns
        other = 0.0 if unknowns is None else unknowns.of_lift(number, column)[1]
        return float(np.hypot(self._with_carry_over(number, column), other))

    def _with_carry_over(self, number: int, column: int) -> float:
        """Scatter that the carry-over adds to the log of the 1RM (column 0) or of the endurance (1) of an exercise."""
        carried = self.carry_over
        return 0.0 if carried is None else abs(float(carried.with_lifts[number, column])) * carried.sd

    @property
    def bent_curve(self) -> Curve:
        """The curve of the lifter in the middle of what the log says."""
        unknowns = self.fit.unknowns
        return self.fit.curve.bent(
            self.lifter.bend(self.fit.curve) if unknowns is None else unknowns.learned("bend").mean
        )

    def _bend_of_file(self, count: int, rng: np.random.Generator) -> FloatArray | None:
        """Draw the bend that the lifter file keeps, where the log says nothing; None where it keeps none."""
        if self.fit.unknowns is not None or self.lifter.bend(self.fit.curve) is None:
            return None
        return self.lifter.of_all[BEND].at(rng.standard_normal(count))

    def _number(self, exercise: str) -> int:
        if exercise not in self.exercises:
            known = ", ".join(self.exercises)
            raise InputError(None, "exercise", f"{exercise!r} is not in the log", f"use one of: {known}")
        return self.exercises.index(exercise)

    def summary(self) -> pd.DataFrame:
        """Prior and posterior of every quantity.

        Returns
        -------
        DataFrame
            exercise ("all" for recovery rate, carry-over and reserve bias), quantity, unit; prior_p10, prior_p50,
            prior_p90, p10, p50, p90 [the row's unit]; sets (number of sets that inform it); narrowed [1] (posterior
            over prior sd, of the natural log where the quantity has one; 1: nothing learned); note. Bias of stated
            reserves and gains only where the log speaks of them.
        """
        rows: list[dict[str, Any]] = []
        for log, lift in zip(self.fit.log.lifts, self.fit.lifts, strict=True):
            one_rm, prior, sets = self.one_rm(lift.exercise), lift.prior.one_rm, log.set_count
            far = abs(one_rm.mean - prior.log_mean) > _FAR_FROM_FILE * prior.log_sd
            note = _FAR if far else _GUESSED if lift.prior.guessed else ""
            rows.append(_row((lift.exercise, "1RM", "kg"), prior, one_rm, sets, note))
            endurance = self.endurance(lift.exercise)
            rows.append(_row((lift.exercise, "endurance", "1/rep"), lift.prior.endurance, endurance, sets))
        later = sum(len(session.sets) - 1 for log in self.fit.log.lifts for session in log.sessions)
        of_rate = ("all", "recovery rate", "1")
        note = self.lifter.recovery_note if later else _NOT_REPEATED
        rows.append(_row(of_rate, self.fit.rate, self.recovery_rate, later, note))
        carried = self.carry_over
        if carried is not None:
            rows.append(_row(("all", "carry-over", "1"), carried.prior, carried.learned, carried.sets))
        return pd.DataFrame([*rows, *self._spoken_of()])

    def _spoken_of(self) -> list[dict[str, Any]]:
        """Rows of the summary for the bias of stated reserves and for gains, where the log speaks of them."""
        unknowns, rows = self.fit.unknowns, []
        if unknowns is None:
            return []
        said = [("all", sum(one.ending in ("stated", "felt") for one in self.fit.log.sets), 0)]
        gains = [(log.exercise, log.set_count, number) for number, log in enumerate(self.fit.log.lifts)]
        for of_what, sets, number in [*said, *gains]:
            quantity, unit, times = ("reserve bias", "reps", 1.0) if of_what == "all" else ("gain", "%/week", 100.0)
            usual, name = (self.fit.settings.reserve_bias_mean, "reserve") if of_what == "all" else (0.0, "gain")
            prior = Normal(usual, float(unknowns.prior_sd[unknowns.of(name)[number]]))
            after = unknowns.learned(name, number)
            if after.sd < _SPOKEN * prior.sd:
                rows.append(_row((of_what, quantity, unit), prior, after, sets, times=times))
        return rows

    def draws(self, count: int, rng: np.random.Generator) -> LearnedDraws:
        """Draw possible lifters."""
        lifts, joint = self._fine
        node, rate = np.divmod(rng.choice(joint.shared.size, count, p=joint.shared.ravel()), joint.log_rate.size)
        log_rate = joint.log_rate[rate] + inside(joint.log_rate, count, rng)
        log_one_rm, endurance = np.empty((count, len(lifts))), np.empty((count, len(lifts)))
        for number, (fine, coarse) in enumerate(zip(lifts, self._ridge[0], strict=True)):
            picked = pick(joint.given_shared[number][node, rate], rng)
            log_k = fine.grid.log_endurance[picked] + inside(fine.grid.log_endurance, count, rng)
            endurance[:, number] = np.exp(log_k)
            log_one_rm[:, number] = draw_strength(coarse, log_rate, log_k, rng)
        carried = self.carry_over
        if carried is None:
            usual = carry_prior(self.lifter)
            log_carry = usual.log_mean + usual.log_sd * rng.standard_normal(count)
        else:
            log_carry = carried.learned.log_quantile(rng.random(count))
            off = np.exp(log_carry) - carried.median
            log_one_rm += carried.with_lifts[:, 0] * off[:, None]
            endurance *= np.exp(carried.with_lifts[:, 1] * off[:, None])
            log_rate = log_rate + carried.with_rate * off
        shared = self.lifter.of_all[SHARED].shifted(shared_nodes()[0][node])
        gain, bias, tiring = np.zeros((count, len(lifts))), np.zeros(count), None
        bend = self._bend_of_file(count, rng)
        unknowns = self.fit.unknowns
        if unknowns is not None:
            values, moved, rate_moved = unknowns.draws(count, rng)
            log_one_rm += moved[..., 0]
            endurance *= np.exp(moved[..., 1])
            log_rate = log_rate + rate_moved
            gain = values[:, unknowns.of("gain")]
            bias, bend = (values[:, unknowns.of(name)[0]] for name in ("reserve", "bend"))
            tiring = None if unknowns.constants is None else unknowns.tiring(values[:, np.newaxis])
        return LearnedDraws(
            exercises=self.exercises,
            log_one_rm=log_one_rm,
            endurance=endurance,
            recovery_rate=np.exp(log_rate),
            shared=shared,
            carry_over=np.exp(log_carry),
            gain=gain,
            reserve_bias=bias,
            bend=bend,
            tiring=tiring,
        )


def _row(
    of: tuple[str, str, str],
    prior: LogNormal | Normal,
    after: Marginal | Normal,
    sets: int,
    note: str = "",
    times: float = 1.0,
) -> dict[str, Any]:
    """Return one row of the summary; ``of``: exercise, quantity and unit; ``times``: of the unit in the one here."""
    if isinstance(prior, Normal):
        before, sd = prior.quantile(LEVELS), prior.sd
    else:
        before, sd = np.exp(prior.log_mean + prior.log_sd * _NORMAL_LEVELS), prior.log_sd
    return {
        **dict(zip(("exercise", "quantity", "unit"), of, strict=True)),
        **dict(zip(_PRIOR, times * before, strict=True)),
        **dict(zip(_AFTER, times * after.quantile(LEVELS), strict=True)),
        "sets": sets,
        "narrowed": after.sd / sd,
        "note": note,
    }


def learned_in(summary: pd.DataFrame, unit: Unit, catalogue: Catalogue | None = None) -> pd.DataFrame:
    """Return `workbench.fit.learned.Learned.summary` with 1RMs in the room's unit, of two dumbbells in each hand.

    ``catalogue`` knows the exercises: the lifter's; the built-in one where not given.
    """
    table = summary.copy()
    of_mass = table["quantity"] == "1RM"
    hands = table["exercise"].map((catalogue or built_in()).hands_of)
    for name in table.columns.intersection([*_PRIOR, *_AFTER]):
        table[name] = table[name].where(~of_mass, table[name] / hands / (KG_PER_LB if unit == "lb" else 1.0))
    said = hands.map(lambda number: f"{unit} each hand" if number == 2 else unit)
    table["unit"] = table["unit"].where(~of_mass, said)
    return table


def _what_changed(summary: pd.DataFrame) -> list[str]:
    """Say in a sentence each what the log narrowed, of a summary in the room's unit."""
    narrowed = summary[summary["narrowed"] < _NARROWED].to_dict("records")
    lines = [
        f"1RM of {row['exercise']}: {row['p50']:.1f} {row['unit']} ({row['p10']:.1f} to {row['p90']:.1f}), "
        f"before {row['prior_p50']:.1f}."
        for row in narrowed
        if row["quantity"] == "1RM"
    ]
    for row in narrowed:
        if row["quantity"] == "gain" and row["p10"] * row["p90"] > 0.0:
            lines.append(f"{row['exercise']}: {row['p50']:+.1f} % a week ({row['p10']:+.1f} to {row['p90']:+.1f}).")
        if row["exercise"] != "all":
            continue
        more = row["p50"] > row["prior_p50"]
        if row["quantity"] == "reserve bias":
            span = f"({row['p10']:+.1f} to {row['p90']:+.1f})"
            fewer = f"{abs(row['p50']):.1f} {'more' if row['p50'] > 0.0 else 'fewer'}"
            lines.append(f"Has {fewer} reps left than is usual for what is said to be left {span}.")
            continue
        if row["quantity"] == "recovery rate":
            text = f"Recovers {'faster' if more else 'slower'} between sets than thought: rate"
        else:
            less = "more" if more else "less"
            text = f"Exercises for the same muscles take {less} from each other than thought: factor"
        lines.append(f"{text} {row['p50']:.2f} ({row['p10']:.2f} to {row['p90']:.2f}; 1 is average).")
    return lines
