"""What the reader of a log may be told beforehand, and the shape of what it hands back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, get_args, get_type_hints

from workbench.log.cells import MAX_WRITTEN, text_of
from workbench.log.dates import read_date
from workbench.quantities import InputError
from workbench.reference.sources import read_rows

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["COLUMNS", "FIELDS", "NOT_DONE", "LogReading", "Question", "ReadOptions", "places_by_reason", "questions"]

#: Columns of the tidy table, in the order in which the canonical log has them; unknown columns follow.
COLUMNS: Final = (
    "date", "time", "lifter", "exercise", "exercise_as_written", "set_number", "load_kg", "load_as_written", "unit",
    "reps", "reps_as_written", "outcome", "reps_in_reserve", "effort_as_written", "rest_s", "rest_as_written", "notes",
    "reading_notes", "source_sheet", "source_row",
)  # fmt: skip

#: What a column of a log can be. Any heading can be mapped to one of them with ``ReadOptions(columns=...)``.
FIELDS: Final = {
    "date": "date of the session",
    "time": "time of day",
    "lifter": "lifter",
    "exercise": "exercise",
    "set_number": "number of the set",
    "set_count": "how many sets the row stands for",
    "load": "load",
    "unit": "unit of the load",
    "reps": "reps done",
    "sets_by_reps": "sets x reps",
    "load_by_reps": "load x reps",
    "set_result": "result of one set",
    "outcome": "how the set ended",
    "done_mark": "mark: the set was done",
    "failed_mark": "mark: the set was failed",
    "rpe": "rating of perceived exertion",
    "rir": "reps in reserve",
    "rest": "rest before the set",
    "rest_after": "rest after the set",
    "notes": "notes",
    "body_mass": "body mass of the lifter",
    "keep": "kept as it is",
}


#: Rows that are named for each reason.
_SHOWN: Final = 8
#: Why the row of a set that was planned is no set.
NOT_DONE: Final = "no load and no reps: the set was not done, or not written down"


@cache
def questions() -> dict[str, tuple[str, str, str]]:
    """Return what a log may leave open: what cannot be told (empty where the file says it better), and two remedies.

    The first is for who types keys and options, the second for who has a page.
    """
    return {row["about"]: (row["problem"], row["remedy"], row["page"]) for row in read_rows("log_questions.csv")}


#: What an answer that is not chosen from a list must be.
_KINDS: Final[dict[str, tuple[Any, str]]] = {
    "columns": (Mapping, "a mapping of heading to field"),
    "dates": (Mapping, "a mapping of session to date"),
    "leave_out": (tuple | list, "a list of questions"),
    **dict.fromkeys(("year", "header_row", "max_rows"), (int, "a whole number")),
    **dict.fromkeys(("body_mass_kg", "pause_s"), (int | float, "a number")),
    **dict.fromkeys(("delimiter", "encoding", "sheet", "lifter"), (str, "a text")),
}


@cache
def _words_allowed() -> dict[str, list[str]]:
    """Return the words that an answer may be, by the name of the answer; only those that are one of a few words."""
    found = {
        name: [text for part in (hint, *get_args(hint)) for text in get_args(part) if isinstance(text, str)]
        for name, hint in get_type_hints(ReadOptions).items()
    }
    return {name: words for name, words in found.items() if words}


@dataclass(frozen=True, kw_only=True)
class ReadOptions:
    """Answers given beforehand, so that nothing has to be asked or guessed.

    Attributes
    ----------
    columns : mapping of str to str
        Heading (any language, case and spaces do not matter) to a field of :data:`FIELDS`, for instance
        ``{"Gewicht": "load", "Wdh.": "reps"}``. ``"keep"`` keeps a column as it is, unread.
    date_order : {"dmy", "mdy", "ymd"}, optional
        Order of day, month and year where the dates themselves do not settle it.
    dates : mapping of str to date
        Date of each session that has none, as a date or as ``"2026-01-05"``, by the name that the question calls it.
    year : int, optional
        The year of dates that are written without one.
    real_dates : {"as_is", "swapped"}, optional
        Whether a spreadsheet program has taken month for day in the dates that it recognised.
    unit : {"kg", "lb"}, optional
        Unit of loads that state none, in the cell, in a unit column or in the heading.
    dumbbells : {"one_hand", "both"}, optional
        Whether loads of two dumbbells are those of one hand or of both, where neither cell nor heading says so.
    decimal : {".", ","}, optional
        Decimal mark, for numbers such as 1,250 where nothing else in the file settles it.
    delimiter, encoding : str, optional
        Of a text file. Found from the content otherwise.
    sheet : str, optional
        The one sheet of a workbook to read; otherwise every sheet that looks like a log.
    header_row : int, optional
        Row number (first row is 1) of the headings. Found from the content otherwise.
    lifter : str
        The lifter of rows that name none.
    lifter_from_sheet : bool
        Each sheet is named after its lifter.
    body_mass_kg : float, optional
        [kg] Stands for "BW" in a load where the file has no column of body mass.
    rest_unit : {"s", "min"}, optional
        Unit of bare numbers in a rest column.
    rest_is : {"before", "after"}, optional
        Whether a plain "Rest" column is the rest before the row's set (taken so unless said) or after it.
    plus_means : {"pause", "assisted"}
        ``8+2``: 8 reps, a short pause, 2 reps (two sets); or 8 reps alone and 2 with help (8 reps, then failed).
    pause_s : float
        [s] Assumed length of that short pause, and of the one before a drop ("2, drop 1") whose rest is not given.
    pair_means : {"sets", "sides", "of_plan"}, optional
        ``8/8``: two sets; left and right side; or reps done out of reps planned.
    times_order : {"sets_first", "reps_first"}
        ``3x8``: three sets of eight, as nearly everyone writes it, or three reps in eight sets.
    sets_column : {"number", "count"}, optional
        Whether a "Sets" column numbers the sets or counts them.
    fill_down : bool
        A blank date, lifter or exercise is that of the row above, as in grouped and merged tables.
    odd_dates : {"as_written"}, optional
        Dates out of order or far from all others are right as they stand. Dates after today never are.
    leave_out : tuple of str
        Questions (by ``Question.about``) that stay without an answer: what they concern is left out.
    max_rows : int
        More rows than this are refused with one error.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    date_order: Literal["dmy", "mdy", "ymd"] | None = None
    dates: Mapping[str, date | str] = field(default_factory=dict)
    year: int | None = None
    real_dates: Literal["as_is", "swapped"] | None = None
    unit: Literal["kg", "lb"] | None = None
    dumbbells: Literal["one_hand", "both"] | None = None
    decimal: Literal[".", ","] | None = None
    delimiter: str | None = None
    encoding: str | None = None
    sheet: str | None = None
    header_row: int | None = None
    lifter: str = ""
    lifter_from_sheet: bool = False
    body_mass_kg: float | None = None
    rest_unit: Literal["s", "min"] | None = None
    rest_is: Literal["before", "after"] | None = None
    plus_means: Literal["pause", "assisted"] = "pause"
    pause_s: float = 15.0
    pair_means: Literal["sets", "sides", "of_plan"] | None = None
    times_order: Literal["sets_first", "reps_first"] = "sets_first"
    sets_column: Literal["number", "count"] | None = None
    fill_down: bool = True
    odd_dates: Literal["as_written"] | None = None
    leave_out: tuple[str, ...] = ()
    max_rows: int = 500_000

    def __post_init__(self) -> None:
        """Refuse an answer that is none of the possible ones."""
        for name, allowed in _words_allowed().items():
            value = getattr(self, name)
            if value is not None and value not in allowed:
                raise InputError(None, name, f"{value!r} is not an answer", f"use {' or '.join(map(repr, allowed))}")
        for name, (kind, wanted) in _KINDS.items():
            value = getattr(self, name)
            if value is not None and (isinstance(value, bool) or not isinstance(value, kind)):
                raise InputError(None, name, f"{value!r} is not an answer", f"give {wanted}")
        for name in self.leave_out:
            if name not in questions():
                raise InputError(None, "leave_out", f"no question is called {name!r}", f"use {', '.join(questions())}")
        for heading, name in self.columns.items():
            if name not in FIELDS:
                raise InputError(None, f"columns[{heading!r}]", f"unknown field {name!r}", f"use {', '.join(FIELDS)}")
        for session, day in self.dates.items():
            if not read_date(str(day)).dates.get(""):
                problem = f"{text_of(day)[:MAX_WRITTEN]!r} is not a date"
                raise InputError(None, f"dates[{session!r}]", problem, "write it as 2026-01-05")
        if self.body_mass_kg is not None and not 20 <= self.body_mass_kg <= 350:
            raise InputError(None, "body_mass_kg", f"{self.body_mass_kg:g} kg is out of range", "use 20 to 350 kg")
        if not 0 < self.pause_s <= 120:
            raise InputError(None, "pause_s", f"{self.pause_s:g} s is out of range", "use more than 0 to 120 s")


@dataclass(frozen=True)
class Question:
    """Something the file does not settle and the reader will not guess.

    Attributes
    ----------
    about : str
        Short key: ``date order``, ``unit``, ...
    problem : str
        What cannot be told, with an example from the file.
    remedy : str
        How to answer: the option to set, or what to change in a copy of the file.
    rows : tuple of str
        Places that wait for the answer, at most ten named.
    waiting : int
        How many rows wait in the quarantine for the answer; 0 where the rows are used without the doubtful value.
    sessions : tuple of str
        The sessions of which each wants an answer of its own.
    """

    about: str
    problem: str
    remedy: str
    rows: tuple[str, ...]
    waiting: int
    sessions: tuple[str, ...] = ()

    @property
    def page_remedy(self) -> str:
        """How to answer where there is a page with a field for it, in words without a key."""
        return questions()[self.about][2]

    def __str__(self) -> str:
        """Return the question in one line."""
        return f"{self.about}: {self.problem}; {self.remedy}"


@dataclass(frozen=True)
class LogReading:
    """A training log as read: what is used, what is set aside and why, and how each column was understood.

    Every row of the file is in exactly one of ``rows`` (by ``source_sheet`` and ``source_row``; one row of the file may
    stand for several sets), ``quarantine`` and ``ignored``; that is checked before this object is handed out.

    Attributes
    ----------
    path : Path
        The file read. It is never written to.
    so_far : DataFrame
        One row per set, columns :data:`COLUMNS` (load_kg [kg]; reps, reps_in_reserve [reps]; rest_s [s]; those that
        end in ``as_written`` are text), then every unknown column of the file as text; without what waits for an
        answer. To look at: what is fitted or kept are the ``rows``.
    quarantine : DataFrame
        Rows that cannot be used as they are: ``sheet``, ``row``, ``reason``, ``cells`` (the original, heading = cell).
    ignored : DataFrame
        Blank, title, heading, repeated-header and total rows: ``sheet``, ``row``, ``rows`` (how many; more than one
        only for runs of blank rows and for sheets that are no logs), ``reason``, ``cells``.
    questions : tuple of Question
        What must be answered before the rest of the rows can be used.
    understood : DataFrame
        The preview, in plain words: ``sheet``, ``heading``, ``read_as``, ``how``.
    file_rows : int, [rows]
        Rows in the file, up to the last one that holds anything.
    rows_used : int, [rows]
        Rows of the file that ``rows`` stands for.
    """

    path: Path
    so_far: pd.DataFrame
    quarantine: pd.DataFrame
    ignored: pd.DataFrame
    questions: tuple[Question, ...]
    understood: pd.DataFrame
    file_rows: int
    rows_used: int

    @property
    def rows(self) -> pd.DataFrame:
        """The sets, once every question has its answer; InputError with the question and the remedy until then."""
        if self.questions:
            first, *others = self.questions
            more = f" (and {len(others)} more: {', '.join(other.about for other in others)})" if others else ""
            raise InputError(
                self.path,
                f"open question ({first.about})",
                f"{first.problem}{more}",
                f"{first.remedy}; to do without what waits, leave_out=({first.about!r},) "
                f"(in a terminal --leave-out {first.about!r})",
            )
        return self.so_far

    @property
    def totals(self) -> dict[str, int]:
        """Rows in the file, and where each of them went."""
        return {
            "rows in the file": self.file_rows,
            "rows used": self.rows_used,
            "rows in quarantine": len(self.quarantine),
            "rows ignored": int(self.ignored["rows"].sum()),
            "sets": len(self.so_far),
        }

    def preview(self) -> str:
        """Return the whole reading in plain words, for a terminal."""
        totals = self.totals
        lines = [f"{self.path.name}: " + ", ".join(f"{count} {name}" for name, count in totals.items()), ""]
        told: dict[tuple[str, ...], list[str]] = {}
        for sheet, *said in self.understood.astype(str).itertuples(index=False, name=None):
            told.setdefault(tuple(said), []).append(sheet)
        for (heading, read_as, how), sheets in told.items():
            more = f" and {len(sheets) - 1} more" if len(sheets) > 1 else ""
            place = f"{sheets[0]}{more}: " if sheets[0] else ""
            name = f"{heading!r} is read as {read_as}" if heading else read_as
            lines.append(f"  {place}{name}{': ' if how else ''}{how}")
        for title, table in (("Set aside", self.quarantine), ("Ignored", self.ignored)):
            if len(table):
                lines += ["", f"{title}:", *(f"  {line}" for line in places_by_reason(table))]
        if self.questions:
            lines += ["", "Please answer:", *(f"  {question}" for question in self.questions)]
        return "\n".join(lines)


def places_by_reason(table: pd.DataFrame) -> list[str]:
    """Say which rows were set aside or ignored, a line for each reason; what was not done comes last.

    Parameters
    ----------
    table : DataFrame
        `LogReading.quarantine` or `LogReading.ignored`.
    """
    lines = {}
    for reason, rows in table.groupby("reason", sort=False):
        places = [f"{sheet} row {row}".strip() for sheet, row in zip(rows["sheet"], rows["row"], strict=True)]
        more = f" and {len(places) - _SHOWN} more" if len(places) > _SHOWN else ""
        lines[reason] = f"{', '.join(places[:_SHOWN])}{more}: {reason}"
    return [lines[reason] for reason in sorted(lines, key=lambda reason: reason == NOT_DONE)]
