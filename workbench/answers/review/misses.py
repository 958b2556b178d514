"""What systematic misses mean: named with their evidence, and with what to do about them on Monday."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from workbench.answers.review.walk import WORKBENCH
from workbench.answers.surprises import find_surprises
from workbench.present.words import in_words, percent_said, say_load

if TYPE_CHECKING:
    from workbench.fit import Learned
    from workbench.quantities import Unit

__all__ = ["Miss", "what_misses_mean"]

#: Sets, and statements, of which fewer say nothing (assumed).
_FEW: Final = 30
_FEW_STATED: Final = 10
#: Smallest misses worth a coach's Monday (assumed): reps of a stated reserve, share of a 1RM, share of sets made.
_RESERVE, _ONE_RM, _SHARE = 0.5, 0.025, 0.05
#: Standard errors beyond which a difference is said: with some ten looked for, one in ten reviews says one too many.
_ERRORS: Final = 2.5
#: Recovery slower than this part of the usual is that of few lifters.
_SLOW: Final = 0.8
#: Sets called less are missed more often than made.
_UNLIKELY: Final = 0.5
_LATE_SET: Final = 3
#: A smaller tail probability surprises no more.
_LEAST_TAIL: Final = 1e-12
#: From this week of a log on a lifter is known; bands so much wider before are worth a test (assumed).
_SETTLED_WEEK: Final = 5
_MUCH_WIDER: Final = 1.4


@dataclass(frozen=True)
class Miss:
    """One systematic miss.

    Attributes
    ----------
    lifter : str
        "all" where it is that of everybody reviewed.
    kind : str
        "reserve", "1RM", "rests", "unspoken", "model", "surprise"; "later sets", "exercise", "asked too much", "new
        lifters".
    evidence, remedy : str
        Sentences.
    size : float
        By which misses are ordered, [1]: how often the smallest one worth a word.
    """

    lifter: str
    kind: str
    evidence: str
    remedy: str
    size: float

    @property
    def said(self) -> str:
        """Both as one text."""
        return f"{self.evidence} {self.remedy}"


def what_misses_mean(
    scores: pd.DataFrame, learned: Mapping[str, Learned], unit: Unit = "kg", *, closely: bool = False
) -> tuple[Miss, ...]:
    """Name systematic misses of a review, the largest first.

    Parameters
    ----------
    scores : DataFrame
        As `workbench.answers.review.scored` gives them, with lifter and week.
    learned : mapping of str to Learned
        By lifter, what the log taught.
    unit : "kg" or "lb"
        In which loads are said.
    closely : bool
        Whether each log is held against wider models (`workbench.fit.model_check`), and each set against all others
        (`workbench.answers.surprises`) too; takes some seconds a lifter.

    Returns
    -------
    tuple of Miss
        What may be behind it is no finding: where it could be two things, the remedy begins with what tells them apart.
    """
    mine = scores[scores["forecaster"] == WORKBENCH]
    told = mine[mine["made"].notna()]
    found = [*_asked_too_much(told), *_later_sets(told), *_exercises(told)]
    found += _new_lifters(mine[mine["inside_80"].notna()])
    for name, one in learned.items():
        found += [*_reserve(name, one), *_one_rms(name, one, unit), *_recovery(name, one)]
        found += _unspoken(name, one)
        if closely:
            found += [*_model(name, one), *_surprises(name, one, unit)]
    return tuple(sorted(found, key=lambda miss: -miss.size))


def _interval(marginal: Any) -> tuple[float, float, float]:
    """10, 50 and 90 % of what was learned."""
    low, middle, high = marginal.quantile(np.array([0.1, 0.5, 0.9]))
    return float(low), float(middle), float(high)


def _reserve(name: str, learned: Learned) -> Iterator[Miss]:
    stated = sum(one.ending in ("stated", "felt") for one in learned.fit.log.sets)
    low, middle, high = _interval(learned.reserve_bias)
    if stated < _FEW_STATED or abs(middle) < _RESERVE or low * high < 0.0:
        return
    many = middle < 0.0
    least, most = sorted((abs(low), abs(high)))
    yield Miss(
        name,
        "reserve",
        f"{name} states about {abs(middle):.1f} reps in reserve too {'many' if many else 'few'} ({least:.1f} to "
        f"{most:.1f}, from {stated} statements).",
        f"Take what {name} says is left as that much {'less' if many else 'more'}; the last set of one exercise to "
        "failure, with spotters, shows the lifter how far it was.",
        abs(middle) / _RESERVE,
    )


def _one_rms(name: str, learned: Learned, unit: Unit) -> Iterator[Miss]:
    for lift in learned.fit.lifts:
        if lift.prior.guessed:
            continue
        was = float(learned.lifter.lift(lift.exercise).one_rm)
        low, middle, high = _interval(learned.one_rm(lift.exercise))
        if low <= was * (1.0 + _ONE_RM) and high >= was * (1.0 - _ONE_RM):
            continue
        hands = learned.lifter.catalogue.hands_of(lift.exercise)
        of_file, of_log, *ends = (say_load(kg, unit, hands=hands, digits=0) for kg in (was, middle, low, high))
        off = abs(middle / was - 1.0)
        yield Miss(
            name,
            "1RM",
            f"{name}'s 1RM of {lift.exercise} is old: {of_file} in the file, {of_log} by the log "
            f"({ends[0]} to {ends[1]}).",
            f"Keep what was learned: loads by percent are too {'light' if middle > was else 'heavy'} by "
            f"{percent_said(off)}.",
            off / _ONE_RM,
        )


def _recovery(name: str, learned: Learned) -> Iterator[Miss]:
    low, middle, high = _interval(learned.recovery_rate)
    if high >= _SLOW:
        return
    assumed = bool(learned.fit.log.rests_said)
    yield Miss(
        name,
        "rests",
        f"Reps of {name} come back slowly between sets: {middle:.2f} of the usual rate ({low:.2f} to {high:.2f}). "
        f"It may be so, or rests are shorter than {'is assumed where the log has none' if assumed else 'written'}.",
        f"Time {name}'s rests for a session and write them down; where they are as written, rest longer before set "
        f"{_LATE_SET} and later.",
        _SLOW / high,
    )


def _model(name: str, learned: Learned) -> Iterator[Miss]:
    check = learned.model_check
    for note in check.notes:
        yield Miss(name, "model", f"{name}: {note}", "", float(check.found["z"].abs().max()) / 3.0)


def _asked_too_much(told: pd.DataFrame) -> Iterator[Miss]:
    """Find sets that had been called unlikely, and were prescribed all the same."""
    unlikely = told[told["chance"] < _UNLIKELY]
    if len(unlikely) < _FEW or len(unlikely) < _SHARE * len(told):
        return
    most = unlikely["lifter"].value_counts().index[:3]
    where = f"; most for {', '.join(most)}" if told["lifter"].nunique() > 1 else ""
    yield Miss(
        "all",
        "asked too much",
        f"{len(unlikely)} of {len(told)} prescribed sets had been called under {percent_said(_UNLIKELY)}, and "
        f"{int(unlikely['made'].sum())} of them were made{where}.",
        "Before a sheet is handed out, take a rep or a step of load off every set called under half, or rest longer "
        "before it.",
        len(unlikely) / (_SHARE * len(told)),
    )


def _off(told: pd.DataFrame) -> tuple[float, float] | None:
    """Share made and mean chance of some sets, where they differ by more than chance and by what is worth a word."""
    if len(told) < _FEW:
        return None
    off = (told["made"] - told["chance"]).astype(float)
    mean = float(off.mean())
    # A day goes well or badly as a whole.
    of_days = (off - mean).groupby([told["lifter"], told["date"]]).sum()
    error = float(np.sqrt((of_days**2).sum())) / len(told)
    if abs(mean) < max(_SHARE, _ERRORS * error):
        return None
    return float(told["made"].mean()), float(told["chance"].mean())


def _later_sets(told: pd.DataFrame) -> Iterator[Miss]:
    """Say where later sets are made less, or more, often than called."""
    late = told[told["set"] >= _LATE_SET]
    found = _off(late)
    if found is None:
        return
    made, called = found
    yield Miss(
        "all",
        "later sets",
        f"From set {_LATE_SET} on {percent_said(made)} of {len(late)} sets were made; {in_words(called)} had been "
        "called.",
        "Have rests timed, they may be shorter than written; until then ask a rep less from there on."
        if made < called
        else "Have rests timed, they may be longer than written; if they are not, these sets can take more.",
        abs(made - called) / _SHARE,
    )


def _exercises(told: pd.DataFrame) -> Iterator[Miss]:
    """Say of which exercises sets are made less, or more, often than called."""
    for exercise, sets in told.groupby("exercise"):
        found = _off(sets)
        if found is None:
            continue
        made, called = found
        yield Miss(
            "all",
            "exercise",
            f"{str(exercise).capitalize()}: {percent_said(made)} of {len(sets)} sets were made; {in_words(called)} had "
            "been called.",
            "Look at how it is set up and logged (range, machine, rests); until that is known take a step of load off."
            if made < called
            else "It can take a step of load more than is asked, if it is done and logged as meant.",
            abs(made - called) / _SHARE,
        )


def _unspoken(name: str, learned: Learned) -> Iterator[Miss]:
    """Say whose log tells little: nothing failed, and nothing said of what was left."""
    sets = learned.fit.log.sets
    if len(sets) < _FEW or any(one.ending != "completed" for one in sets):
        return
    yield Miss(
        name,
        "unspoken",
        f"None of the {len(sets)} sets of {name} failed, and no reserve was written down: the log says only at least.",
        f"Have {name} write what was left after the last set of each exercise; a single hard set says more than all.",
        len(sets) / _FEW,
    )


def _surprises(name: str, learned: Learned, unit: Unit) -> Iterator[Miss]:
    found = find_surprises(learned)
    for row, said in zip(found.found.to_dict("records"), found.sentences(unit), strict=False):
        size = -float(np.log(max(row["tail"], _LEAST_TAIL)))
        yield Miss(name, "surprise", f"{name}, {said}", "Ask, and correct the row where it is wrong.", size)


def _new_lifters(to_failure: pd.DataFrame) -> Iterator[Miss]:
    """Where bands are much wider in the first weeks of a log than later."""
    parts = [to_failure[to_failure["week"] == 1], to_failure[to_failure["week"] >= _SETTLED_WEEK]]
    if min(map(len, parts)) < _FEW:
        return
    wide, narrow = (float((part["high_80"] - part["low_80"]).mean()) for part in parts)
    if wide < _MUCH_WIDER * narrow:
        return
    early, later = (float(part["error"].abs().mean()) for part in parts)
    yield Miss(
        "all",
        "new lifters",
        f"In a lifter's first week bands are {wide:.1f} reps wide, and off by {early:.1f}; from week {_SETTLED_WEEK} "
        f"on {narrow:.1f} and {later:.1f}.",
        "Begin a new lifter with one set to failure of each main lift, at a load lifted before, with spotters.",
        wide / narrow / _MUCH_WIDER,
    )
