"""The base of every answer: tidy tables, notes, a short text for a terminal, a small page for a notebook, records."""

from __future__ import annotations

import dataclasses
import datetime
import math
import numbers
from collections.abc import Iterable, Mapping
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final

from workbench.present.pages import part
from workbench.present.tables import Table, frame_table, plain_text
from workbench.present.words import in_words

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Answer", "records"]

#: An answer in a terminal or a notebook's cell is shorter than this, characters.
_LONGEST_REPR: Final = 2000
#: Rows of the table on a notebook's page: with the sentences about one screen.
_MOST_ROWS: Final = 12
#: Sentences, and notes, on a notebook's page; the others are counted.
_MOST_LINES: Final = 8
#: A sentence on a notebook's page, characters; names in files have no such bound.
_LONGEST_SENTENCE: Final = 300


class Answer:
    """What a question returns: tables, sentences and notes, shown alike in terminal, notebook and file.

    A kind of answer is a dataclass with DataFrames among its fields, and says what a colleague would say first in
    `sentences`.
    """

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Tidy tables by name, the main one first."""
        values = {one.name: getattr(self, one.name) for one in dataclasses.fields(self)}  # type: ignore[arg-type]
        return {name: value for name, value in values.items() if hasattr(value, "itertuples")}

    @property
    def notes(self) -> tuple[str, ...]:
        """What was left out, extrapolated or assumed, and what to ask, in sentences."""
        return ()

    def sentences(self) -> list[str]:
        """Return what a colleague would say first."""
        raise NotImplementedError

    def small_table(self) -> Table | None:
        """Return the smallest table that has rows, its first rows only; None where all are empty."""
        filled = {name: table for name, table in self.tables.items() if len(table)}
        if not filled:
            return None
        name = min(filled, key=lambda key: filled[key].size)
        frame = filled[name]
        count = f" (first {_MOST_ROWS} of {len(frame)} rows)" if len(frame) > _MOST_ROWS else ""
        rows = frame.head(_MOST_ROWS).reset_index(drop=True)
        for column in rows.columns[rows.columns.str.startswith("chance")]:
            rows[column] = rows[column].map(in_words)
        return frame_table(f"{_spaced(name)}{count}", rows.rename(columns=_spaced))

    def text(self) -> str:
        """Return the answer as plain text: the sentences, the notes, then the smallest table."""
        shown = self.small_table()
        lines = [*self.sentences(), *(f"Note: {_sentence(note)}" for note in self.notes)]
        return plain_text(lines, *([] if shown is None else [shown]))

    def __repr__(self) -> str:
        """Return `text`, cut at the end of a line where it is long."""
        text = self.text()
        if len(text) < _LONGEST_REPR:
            return text
        rest = "\n... (all of it: .text(), .tables)"
        kept = text[: _LONGEST_REPR - len(rest) - 1]
        return kept[: kept.rfind("\n")] + rest if "\n" in kept else kept + rest

    def _repr_html_(self) -> str:
        said = _first(self.sentences(), ".sentences()")
        return part("answer", said, _first(map(_sentence, self.notes), ".notes"), self.small_table())

    def to_records(self) -> dict[str, Any]:
        """Return the whole answer ready for JSON: no NaN or infinity (None), dates as text.

        Returns
        -------
        dict
            ``sentences``, ``notes``, and ``tables``: by name, a list of rows.
        """
        return {
            "sentences": self.sentences(),
            "notes": list(self.notes),
            "tables": {name: records(table) for name, table in self.tables.items()},
        }


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table ready for JSON.

    >>> import pandas as pd
    >>> records(pd.DataFrame({"reps": [5.0, float("inf")], "date": [datetime.date(2026, 1, 5), None]}))
    [{'reps': 5.0, 'date': '2026-01-05'}, {'reps': None, 'date': None}]
    """
    return [{str(key): _plain(value) for key, value in row.items()} for row in table.to_dict("records")]


def _plain(value: Any) -> Any:
    """Return a cell as JSON has it."""
    if value is None or isinstance(value, bool | str):
        return value
    if hasattr(value, "tolist"):  # a numpy scalar or array
        return _plain(value.tolist())
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, Iterable) and not isinstance(value, PurePath):
        return [_plain(inner) for inner in value]
    if isinstance(value, datetime.date):
        return None if value != value else value.isoformat()  # NaT
    return None if value != value else str(value)


def _spaced(name: object) -> str:
    return str(name).replace("_", " ")


def _sentence(note: str) -> str:
    return note if note.endswith((".", "?", "!")) else f"{note}."


def _first(lines: Iterable[str], where: str) -> list[str]:
    """Return as many lines as a screen holds beside a table, and where the others are."""
    every = [_cut(line) for line in lines]
    more = [f"{len(every) - _MOST_LINES} more in {where}"] if len(every) > _MOST_LINES else []
    return every[:_MOST_LINES] + more


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_SENTENCE else f"{text[: _LONGEST_SENTENCE - 3]}..."
