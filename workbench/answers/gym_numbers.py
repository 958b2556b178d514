"""What do our own lifters say? Endurance and recovery of a gym's lifters from all its logs, and where a new one starts.

The numbers that are kept hold spreads and counts: no name, no date, no set. Whose logs could not be used is said here,
and kept nowhere.
"""

from __future__ import annotations

import functools
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.lifter_words import SHARE
from workbench.answers.workers import Progress, seed_of, work_through
from workbench.fit import fit_log
from workbench.fit.gym_member import Member, member_of
from workbench.fit.gym_prior import GymFit, fit_gym
from workbench.fit.reading import load
from workbench.fit.settings import FitSettings
from workbench.lifter import Lifter, read_lifter
from workbench.lifter.belief import TENTH
from workbench.lifter.gym_prior import FEWEST_SHARED, GymPrior, OfGym
from workbench.log import ReadOptions, folded, read_log, rows_by_name, rows_of
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.present.answer import Answer
from workbench.present.words import percent_said, reps_range
from workbench.quantities import SEED, FloatArray, InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.parameters import endurance_prior, recovery_of_lifter
from workbench.reference.shelf import Shelf
from workbench.reference.toml_files import toml_text

__all__ = [
    "GymNumbers",
    "LogOfLifter",
    "gym_numbers",
    "gym_text",
    "logs_of_gym",
    "logs_of_lifters",
    "numbers_of",
    "shared_text",
]

#: Lifters that a worker fits before it gives them back.
_BLOCK: Final = 5
#: Quantities in words.
_WHAT: Final = {
    ("recovery rate", "all"): "recovery rate, 1 is average",
    ("recovery rate", "women"): "recovery rate of women",
    ("stated reserve", "all"): "reps left beyond what is usual for what is said",
}
#: Ends and middle of an 80 % interval, in sds.
_ENDS: Final = TENTH * np.array([-1.0, 0.0, 1.0])


@dataclass(frozen=True)
class LogOfLifter:
    """A lifter, as before any log, and the rows of all logs that are the lifter's."""

    lifter: Lifter
    rows: pd.DataFrame

    @classmethod
    def of(cls, lifter: Lifter, logs: Sequence[pd.DataFrame]) -> LogOfLifter:
        """Put the rows of several logs of a lifter together.

        The same set may lie in two logs; sets alike in one log are several, as when somebody trains twice on a day.
        """
        keys = [name for name in ("date", "exercise", "set_number", "load_kg", "reps") if name in logs[0].columns]
        counted = [rows.assign(_alike=rows.groupby(keys, dropna=False).cumcount()) for rows in logs]
        rows = pd.concat(counted, ignore_index=True).drop_duplicates([*keys, "_alike"], ignore_index=True)
        return cls(lifter, rows.drop(columns="_alike"))


@dataclass(frozen=True, repr=False)
class GymNumbers(Answer):
    """A gym's own numbers beside the published ones.

    Attributes
    ----------
    table : DataFrame
        One row a quantity: quantity ("endurance", "recovery rate", "stated reserve"), of (class of exercise, or whom);
        unit; published_p10, published_p50, published_p90, p10, p50, p90 [the row's unit] (of a lifter of whom nothing
        is known, as published and from the gym's numbers); lifters (how many logs speak of it); narrowed [1] (width of
        the second over the first, on the scale of natural logs where the quantity has one).
    left_out : DataFrame
        Logs and lifters that say nothing: what (file or lifter), reason.
    fit : GymFit
    finished : bool
        False where the work was stopped; lifters not reached are then missing.
    """

    table: pd.DataFrame
    left_out: pd.DataFrame
    fit: GymFit
    finished: bool = True

    @property
    def prior(self) -> GymPrior:
        """The numbers as they are kept."""
        return self.fit.prior

    @property
    def notes(self) -> tuple[str, ...]:
        """How far to believe the numbers, and what was left out."""
        notes = ["endurance and recovery by this model of load, reps and rests; it clears nobody to train"]
        if self.prior.lifters < FEWEST_SHARED:
            notes.append(f"{self.prior.said} say little of the next: the start is still about as wide as in studies")
        return (*notes, *(f"left out: {row['what']}: {row['reason']}" for row in self.left_out.to_dict("records")))

    def said(self) -> list[tuple[str, str, str, str]]:
        """Return in words, of each quantity that logs speak of: what, as published, the gym, of whom."""
        return [_words(row) for row in self.table.to_dict("records") if row["lifters"] > 0]

    def sentences(self) -> list[str]:
        """Say how many stand behind the numbers, and how far they moved a new lifter's start."""
        prior = self.prior
        lines = [f"{prior.said}, {prior.sets} sets, stand behind these numbers."]
        lines += [
            f"{what[0].upper()}{what[1:]}: a new lifter starts at {after}; as published {before} ({behind})."
            for what, before, after, behind in self.said()
        ]
        return lines if self.finished else [*lines, "Stopped before the end."]


def _words(row: dict[Any, Any]) -> tuple[str, str, str, str]:
    """Say a row of the table: what, as published, where a new lifter starts, how many lifters stand behind it."""
    behind = f"{row['lifters']} lifter{'s' if row['lifters'] != 1 else ''}"
    if row["quantity"] == "endurance":
        before, after = (reps_range(*_reps(row, prefix)) for prefix in ("published_", ""))
        return f"{row['of']}, reps at {percent_said(SHARE)}", before, after, behind
    digits = 1 if row["unit"] == "reps" else 2
    before, after = (
        f"{row[f'{prefix}p50']:z.{digits}f} ({row[f'{prefix}p10']:z.{digits}f} to {row[f'{prefix}p90']:z.{digits}f})"
        for prefix in ("published_", "")
    )
    return _WHAT.get((row["quantity"], row["of"]), row["quantity"]), before, after, behind


def _reps(row: dict[Any, Any], prefix: str) -> tuple[float, float]:
    """Few and many reps at 70 % of 1RM: the more endurance costs, the fewer."""
    ends = np.array([row[f"{prefix}p90"], row[f"{prefix}p10"]])
    few, many = np.floor(DEFAULT_CURVE.fresh_reps(-np.log(SHARE), ends))
    return float(few), float(many)


def logs_of_gym(
    folder: str | Path, options: ReadOptions | None = None
) -> tuple[Sequence[LogOfLifter], list[tuple[str, str]]]:
    """Put the rows of all logs of a gym's folder to its lifters, as these were before anything was learned.

    Rows go by the name in the log; those of a log that names nobody to the lifter whose file begins its name, as
    ``logs/ann_march.csv`` to ``lifters/ann.toml``.

    Parameters
    ----------
    folder : str or Path
        A gym's folder, with ``lifters/`` and ``logs/``.
    options : ReadOptions, optional
        Answers to what the logs may leave open, the same for all.

    Returns
    -------
    of_lifters : sequence of LogOfLifter
        Those with any row, in the order of their files; memory holds no more than one log of them.
    left_out : list of (str, str)
        File or lifter, and why it says nothing.

    Raises
    ------
    InputError
        No folder of a gym, or a lifter's file that cannot be used.
    """
    gym = GymFolder(folder)
    if not os.path.isdir(folder):  # noqa: PTH112 - false for what can be no name of a folder too
        raise InputError(folder, "", "is no folder", "give a gym's folder, with lifters/ and logs/")
    lifters = {path: _before_any_log(gym, path) for path in gym.files("lifters")}
    if not lifters:
        raise InputError(gym.path, "lifters", "holds no lifter files", "give a gym's folder, with lifters/ and logs/")
    return logs_of_lifters(lifters, gym.files("logs"), options)


def logs_of_lifters(
    lifters: Mapping[Path, Lifter], logs: Iterable[Path], options: ReadOptions | None = None
) -> tuple[Sequence[LogOfLifter], list[tuple[str, str]]]:
    """Put the rows of some logs to lifters by the paths of their files, as `logs_of_gym` does those of a folder."""
    rows, places = Shelf[pd.DataFrame](), {path: list[int]() for path in lifters}
    by_name, left_out = _by_name(lifters), []
    for log in logs:
        try:
            of_log = _rows_by_lifter(log, lifters, by_name, options)
        except InputError as error:
            left_out.append((log.name, "; ".join(part for part in (error.problem, error.remedy) if part)))
            continue
        for path, of_lifter in of_log.items():
            places[path].append(len(rows))
            rows.append(of_lifter)
        if not of_log:
            left_out.append((log.name, "is nobody's of whom there is a lifter's file, by its rows or by its name"))
    left_out += [(lifters[path].name, "has no log here") for path, at in places.items() if not at]
    of_lifters = (LogOfLifter.of(lifters[path], [rows[one] for one in at]) for path, at in places.items() if at)
    return Shelf(of_lifters), left_out


def _before_any_log(gym: GymFolder, path: Path) -> Lifter:
    """Return a lifter as the folder had the file last before it learned from a log; as it is, where it has no more."""
    now = read_lifter(path, gym_numbers=False)
    for version in reversed(gym.versions(path)) if now.learned else ():
        with suppress(InputError):  # a damaged version says nothing
            before = read_lifter(version, now.catalogue, gym_numbers=False)
            if not before.learned:
                return before.model_copy(update={"name": now.name})
    return now


def _by_name(lifters: Mapping[Path, Lifter]) -> dict[str, list[Path]]:
    """Return the files of the lifters whom a name in a log may mean, by that name as `folded` has it."""
    found: dict[str, list[Path]] = {}
    for path, lifter in lifters.items():
        found.setdefault(folded(lifter.name), []).append(path)
    return found


def _rows_by_lifter(
    log: Path, lifters: Mapping[Path, Lifter], by_name: Mapping[str, list[Path]], options: ReadOptions | None
) -> dict[Path, pd.DataFrame]:
    """Return the rows of each lifter in a log, by the lifter's file."""
    reading = read_log(log, exercises=next(iter(lifters.values())).catalogue, options=options)
    named = rows_by_name(reading.rows)
    if any(named):
        of_log = ((path, rows) for name, rows in named.items() for path in by_name.get(name, ()))
        return {path: rows.assign(lifter=lifters[path].name) for path, rows in of_log}
    stems = (path for path in lifters if log.stem.startswith(path.stem))
    whose = max(stems, key=lambda path: len(path.stem), default=None)
    return {} if whose is None else {whose: rows_of(reading, lifters[whose].name)}


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def gym_numbers(
    folder: str | Path,
    *,
    options: ReadOptions | None = None,
    draws: int = 600,
    seed: int = SEED,
    cluster: str | None = None,
    workers: int = 2,
    progress: Progress | None = None,
) -> GymNumbers:
    """Learn what a gym's lifters are like from all logs in its folder, and where a new one starts.

    Parameters
    ----------
    folder : str or Path
        A gym's folder, with ``lifters/`` and ``logs/``. Nothing in it is changed.
    options : ReadOptions, optional
        Answers to what the logs may leave open, the same for all.
    draws : int, [1], 10 to 100,000
        Of each lifter; see `workbench.fit.gym_prior`.
    seed : int, [1], >= 0
        The same seed gives the same digits, whoever works them out.
    cluster : str, optional
        As for `workbench.answers.team.team_check`.
    workers : int, [1], >= 1
        How many, for "local".
    progress : callable, optional
        Called with lifters done and lifters in all; returning False stops the work.

    Returns
    -------
    GymNumbers
        Reps at 70 % of 1RM, recovery rate [1] and bias of stated reserves [reps] of a lifter of whom nothing is known,
        beside the published ones.

    Raises
    ------
    InputError
        No folder of a gym, a lifter's file that cannot be used, no lifter with a set that can, or a cluster that cannot
        be reached. Logs that cannot be read are named in the answer.

    Notes
    -----
    Around the published numbers of ``data/parameters.csv``, each with its source key and grade.
    """
    of_lifters, left_out = logs_of_gym(folder, options)
    return numbers_of(
        of_lifters, left_out=left_out, draws=draws, seed=seed, cluster=cluster, workers=workers, progress=progress
    )


# More than seven parameters: those of the question, with what was read.
def numbers_of(
    of_lifters: Sequence[LogOfLifter],
    *,
    left_out: Iterable[tuple[str, str]] = (),
    draws: int = 600,
    seed: int = SEED,
    cluster: str | None = None,
    workers: int = 2,
    progress: Progress | None = None,
) -> GymNumbers:
    """Learn what a gym's lifters are like from all their logs at once; the others as for `gym_numbers`.

    Parameters
    ----------
    of_lifters : sequence of LogOfLifter
        As `logs_of_gym` gives them.
    left_out : iterable of (str, str)
        Said with the answer.
    """
    work = functools.partial(_members, draws=draws, seed=seed)
    members, unusable = Shelf[Member](), []
    for found in work_through(work, of_lifters, _BLOCK, cluster=cluster, workers=workers, progress=progress):
        if isinstance(found, Member):
            members.append(found)
        else:
            unusable.append(found)
    fit = fit_gym(members)
    out = pd.DataFrame([*left_out, *unusable], columns=["what", "reason"])
    finished = len(members) + len(unusable) == len(of_lifters)
    return GymNumbers(pd.DataFrame(_rows(fit.prior)), out, fit, finished)


def _members(part: Sequence[LogOfLifter], *, draws: int, seed: int) -> list[Member | tuple[str, str]]:
    load()  # at once: draws by arrays and by the compiled reading are as good, but other ones
    return [_member(one, draws, seed) for one in part]


def _member(one: LogOfLifter, draws: int, seed: int) -> Member | tuple[str, str]:
    rng = np.random.default_rng(seed_of(seed, one.lifter.name))
    try:
        return member_of(fit_log(one.rows, one.lifter), draws=draws, rng=rng)
    except InputError as error:
        return one.lifter.name, error.problem


def _rows(prior: GymPrior) -> list[dict[str, Any]]:
    """Rows of the table: each quantity as published and in the gym."""
    rows = []
    for name, numbers in prior.endurance.items():
        published = endurance_prior(name)
        ends = published.median * np.exp(published.log_sd * _ENDS)
        rows.append(_row(("endurance", name, "1/rep"), ends, numbers, np.log))
    for of, sex, of_some in (("all", None, prior.recovery), ("women", "female", prior.recovery_of_women)):
        if of_some is not None:
            median, log_sd = recovery_of_lifter(sex)
            rows.append(_row(("recovery rate", of, "1"), median * np.exp(log_sd * _ENDS), of_some, np.log))
    if prior.stated_reserve is not None:
        usual = FitSettings().reserve_bias_sd * _ENDS
        rows.append(_row(("stated reserve", "all", "reps"), usual, prior.stated_reserve, np.asarray))
    return rows


def _row(of: tuple[str, str, str], published: FloatArray, numbers: OfGym, scale: Any) -> dict[str, Any]:
    width, before = (float(np.ptp(scale(np.array(values)))) for values in (numbers.start, published))
    return {
        **dict(zip(("quantity", "of", "unit"), of, strict=True)),
        **dict(zip(("published_p10", "published_p50", "published_p90"), map(float, published), strict=True)),
        **dict(zip(("p10", "p50", "p90"), numbers.start, strict=True)),
        "lifters": numbers.lifters,
        "narrowed": width / before,
    }


#: Three numbers as they are written below each other.
_ROW: Final = re.compile(r"\[\n(?: +\S+,\n)+\]")


def _on_one_line(found: re.Match[str]) -> str:
    return f"[{' '.join(found[0].split()[1:-1]).rstrip(',')}]"


def gym_text(prior: GymPrior) -> str:
    """Return a gym's own numbers as the text of ``gym.toml``."""
    return (
        f"# What {prior.said} are like, from {prior.sets} logged sets: spreads and counts, nobody's name or sets.\n"
        "# A lifter without a log starts from them while this file lies in the gym's folder; used = false leaves them\n"
        "# out. Three numbers are low end, middle and high end of an 80 % interval.\n"
        f"{_ROW.sub(_on_one_line, toml_text(prior))}"
    )


def shared_text(found: GymNumbers) -> str:
    """Return the numbers as colleagues elsewhere may have them: only what at least five lifters stand behind.

    Women are not told apart where they, or the others, are fewer than five.

    Raises
    ------
    InputError
        Fewer than five lifters.
    """
    fit = found.fit
    if fit.behind.lifters < FEWEST_SHARED:
        problem = f"{fit.behind.lifters} lifters are too few to be shared: one who knows the others would know the last"
        raise InputError(None, "gym", problem, f"share the numbers of {FEWEST_SHARED} or more")
    if not FEWEST_SHARED <= fit.behind.women <= fit.behind.lifters - FEWEST_SHARED:
        fit = fit_gym(Shelf(replace(member, is_woman=False) for member in fit.members))
    prior = fit.prior
    enough = {name: one for name, one in prior.endurance.items() if one.lifters >= FEWEST_SHARED}
    of_women, reserve = (
        one if one is not None and one.lifters >= FEWEST_SHARED else None
        for one in (prior.recovery_of_women, prior.stated_reserve)
    )
    return gym_text(
        prior.model_copy(update={"endurance": enough, "recovery_of_women": of_women, "stated_reserve": reserve})
    )
