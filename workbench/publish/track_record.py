"""What committed forecasts were worth: sets that came back scored against the predictions of the commit, and kept.

The scores stand beside the committed folder, in ``NAME-r01.record.csv``; the folder itself is never written again. Only
what was committed is scored, not what would be forecast today, and only sets done on the day of the commit or later.
"""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from workbench.answers.gym_numbers import LogOfLifter
from workbench.answers.review.scores import brier, log_score
from workbench.answers.review.tables import FEW, calls, calls_said
from workbench.gym.catalogue import built_in
from workbench.log.cells import neutralised
from workbench.log.session_log import PLACE_IN_BLOCK
from workbench.present.answer import Answer
from workbench.present.words import percent_said
from workbench.publish.commit import list_committed
from workbench.publish.commit.contents import LARGEST_FILE, read_manifest
from workbench.quantities import InputError
from workbench.reference.whole_files import read_whole, write_whole

__all__ = ["TrackRecord", "keep_scores", "scored_sets", "track_record"]

#: What tells a set of a committed block from all others.
_SET: Final = ["lifter", "week", "session", "exercise", "set"]
_SAID: Final = ("chance", "reps_low", "reps_high", "reps_p10", "reps_p50", "reps_p90")
_COLUMNS: Final = (*_SET, "date", "load_kg", "reps", "failed", *_SAID, "made", "brier", "log_score", "inside_80")
_ENDING: Final = ".record.csv"
_WEEK: Final = re.compile(r"week (\d{1,2})", re.IGNORECASE)
#: A load nearer than this to the planned one is the planned one; the rest is rounding to other plates.
_SAME_LOAD: Final = 0.01
#: No simulated share is certain: with 2,000 runs, half a run from either end.
_LEAST: Final = 0.00025
_REPS_OF_FAILURE: Final = "failure"


@dataclass(frozen=True, repr=False)
class TrackRecord(Answer):
    """What the forecasts of a gym's committed blocks were worth so far.

    Attributes
    ----------
    scores : DataFrame
        One row a set that came back: block (folder), lifter, week, session, exercise, set, date, load_kg, reps, failed;
        chance [1], reps_low, reps_high (prescribed), reps_p10, reps_p50, reps_p90 [reps] (as committed); made, brier,
        log_score [1] of sets with prescribed reps, inside_80 of sets to failure.
    """

    scores: pd.DataFrame

    def sentences(self) -> list[str]:
        """Say the record so far in plain words, with the number behind it; too few to say is said."""
        if self.scores.empty:
            return ["No set of a committed block has come back yet."]
        inside = self.scores["inside_80"].dropna()
        said = calls_said(calls(self.scores))
        if len(inside) >= FEW:
            said.append(
                f"Of {len(inside)} sets to failure {percent_said(float(inside.mean()))} lay in their 80 % bands."
            )
        return said


def track_record(folder: str | Path) -> TrackRecord:
    """Return the record kept beside the committed blocks of a folder.

    Raises
    ------
    InputError
        A record is damaged.
    """
    folder = Path(folder)
    paths = sorted(folder.glob(f"*{_ENDING}")) if folder.is_dir() else []
    tables = [_read(path).assign(block=path.name.removesuffix(_ENDING)) for path in paths]
    columns = ["block", *_COLUMNS]
    return TrackRecord(pd.concat(tables, ignore_index=True)[columns] if tables else pd.DataFrame(columns=columns))


def keep_scores(folder: str | Path, logs: Iterable[LogOfLifter]) -> TrackRecord:
    """Score what came back of the committed blocks of a folder, and keep it beside them.

    A set that came back before keeps its row, unless the log now says otherwise of it.

    Parameters
    ----------
    folder : str or Path
        Where committed blocks lie.
    logs : iterable of LogOfLifter
        As `workbench.answers.gym_numbers.logs_of_gym` gives them.

    Returns
    -------
    TrackRecord
        Of all blocks of the folder.

    Raises
    ------
    InputError
        A committed block or a record is damaged, or a record cannot be written.
    """
    folder, logs = Path(folder), list(logs)
    for path in list_committed(folder):
        forecast = _Forecast.of(path)
        found = [forecast.scored(one.lifter.name, one.rows) for one in logs]
        new = pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=list(_COLUMNS))
        if new.empty:
            continue
        kept = path.with_name(f"{path.name}{_ENDING}")
        both = pd.concat([_read(kept), new], ignore_index=True) if kept.is_file() else new
        both = both.drop_duplicates(_SET, keep="last").sort_values([*_SET], kind="stable")
        write_whole(kept, both.to_csv(index=False, lineterminator="\n"), replace=True)
    return track_record(folder)


def scored_sets(committed: Path, lifter: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Score the sets of one lifter's log that were forecast in a committed block.

    A row of a filled sheet says its week and session, one that was typed on the page of today its block too; of another
    log the date says the week, where the block has a start, and the exercise the session. Drops, loads other than the
    planned ones, and sets done before the commit were not forecast, and are left alone.

    Parameters
    ----------
    committed : Path
        Folder of a committed block.
    lifter : str
        Name, as in the block.
    rows : DataFrame
        As `workbench.log.rows_of` gives them.

    Returns
    -------
    DataFrame
        As `TrackRecord.scores` has them, without ``block``.
    """
    return _Forecast.of(committed).scored(lifter, rows)


@dataclass(frozen=True)
class _Forecast:
    """What was forecast of a committed block: its sets, of all lifters, and since when a set counts."""

    block: str
    start: str | None
    first_day: datetime.date
    sets: pd.DataFrame

    @classmethod
    def of(cls, committed: Path) -> _Forecast:
        manifest = read_manifest(committed)
        sets = pd.read_csv(io.BytesIO(read_whole(committed / "predicted_sets.csv", LARGEST_FILE)), dtype={"set": str})
        sets = sets[sets["set"].str.isdecimal()]
        first_day = datetime.datetime.fromisoformat(manifest["committed_at"]).date()
        return cls(manifest["block"], manifest["start"], first_day, sets.assign(set=sets["set"].astype(int)))

    def scored(self, lifter: str, rows: pd.DataFrame) -> pd.DataFrame:
        """Score the sets of one lifter's log: see `scored_sets`."""
        table = self.sets[self.sets["lifter"] == neutralised(lifter)]
        done = rows[rows["set_number"].notna() & rows["date"].notna() & rows["reps"].notna()]
        done = done[pd.to_datetime(done["date"]) >= pd.Timestamp(self.first_day)]
        if table.empty or done.empty:
            return pd.DataFrame(columns=list(_COLUMNS))
        found = _placed(done, table, self.start, self.block).drop_duplicates(["week", "session", "exercise", "set"])
        both = found.merge(table, on=["week", "session", "exercise", "set"], suffixes=("", "_planned"))
        apart = (both["load_kg"] / both["load_kg_planned"] - 1.0).abs()
        both = both[(apart <= _SAME_LOAD) | both["exercise"].map(_against_body_mass).astype(bool)]
        both["lifter"] = neutralised(lifter)
        scores = [_scored(row) for row in both.to_dict("records")]
        return pd.DataFrame(scores, columns=list(_COLUMNS))


def _against_body_mass(exercise: str) -> bool:
    """Whether a log gives only what is added to the body, which is no share of the planned load."""
    return built_in().knows(exercise) and built_in().exercise(exercise).body_mass_share > 0.0


def _placed(done: pd.DataFrame, table: pd.DataFrame, start: str | None, block: str) -> pd.DataFrame:
    """Return the sets done with their week and session in the block; those without are left out."""
    session = done["Session"].astype(str) if "Session" in done else pd.Series("", index=done.index)
    by_sheet = done["source_sheet"].astype(str).str.extract(_WEEK)[0].astype(float)
    if set(PLACE_IN_BLOCK) <= set(done.columns):
        typed = done["entry"].fillna("").astype(str) != ""
        session = session.where(~typed, done["session"].astype(str).str.partition(" ")[2])
        by_sheet = by_sheet.where(~typed, pd.to_numeric(done["week"], errors="coerce"))
        of_block = ~typed | (done["block"] == block)
        done, session, by_sheet = done[of_block], session[of_block], by_sheet[of_block]
    dates = pd.to_datetime(done["date"])
    of_sheet = session.isin(set(table["session"]))
    week = by_sheet.where(of_sheet)
    if start is not None:
        week = week.fillna((dates - pd.Timestamp(start)).dt.days // 7 + 1.0)
    placed = pd.DataFrame(
        {
            "week": week,
            "session": session.where(of_sheet),
            "exercise": done["exercise"],
            "set": done["set_number"].astype(int),
            "date": dates.dt.date,
            "load_kg": done["load_kg"].astype(float),
            "reps": done["reps"].astype(int),
            "failed": done["outcome"] == "failed",
        }
    )
    placed = placed[placed["week"].isin(table["week"])]  # a log goes on long after a block
    sessions = {
        key: list(dict.fromkeys(names)) for key, names in table.groupby(["week", "exercise"], sort=False)["session"]
    }
    for key, some in placed[placed["session"].isna()].groupby(["week", "exercise"]):
        days = sorted(set(some["date"]))
        names = dict(zip(days, sessions.get(key, []), strict=False))
        placed.loc[some.index, "session"] = some["date"].map(names).astype(placed["session"].dtype)
    return placed.dropna(subset="session")


def _scored(row: Mapping[Any, Any]) -> dict[str, Any]:
    to_failure = str(row["reps_high"]) == _REPS_OF_FAILURE
    scored = {name: row.get(name) for name in _COLUMNS}
    prescribed = pd.notna(row["chance"]) and not to_failure
    low = float(row["reps_low"]) if prescribed else 0.0
    if prescribed and (row["failed"] or row["reps"] >= low):
        chance, made = min(max(float(row["chance"]), _LEAST), 1.0 - _LEAST), float(row["reps"] >= low)
        scored |= {"made": made, "brier": float(brier(chance, made)), "log_score": float(log_score(chance, made))}
    if to_failure and row["failed"]:
        scored["inside_80"] = float(row["reps_p10"] <= row["reps"] <= row["reps_p90"])
    return scored


def _read(path: Path) -> pd.DataFrame:
    """Return a kept record; InputError says how it is damaged."""
    try:
        table = pd.read_csv(io.BytesIO(read_whole(path, LARGEST_FILE)))
    except ValueError as error:
        raise _damaged(path, "it is no table") from error
    missing = [name for name in _COLUMNS if name not in table.columns]
    if missing:
        raise _damaged(path, f"it has no column {missing[0]}")
    return table[list(_COLUMNS)]


def _damaged(path: Path, how: str) -> InputError:
    return InputError(path, "", f"is damaged: {how}", "remove it; it is made again from the logs")
