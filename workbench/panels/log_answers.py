"""What a log leaves open, asked in a coach's words: a list or a line for each question, one date for each session."""

from __future__ import annotations

import datetime
import json
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, Final

import ipywidgets as widgets
import traitlets

from workbench.log import Question, ReadOptions, lifters_of
from workbench.log.typed import date_said, typed_date, typed_number, typed_whole
from workbench.panels.fields import Field
from workbench.panels.frame import control_style, quiet
from workbench.quantities import KG_PER_LB, InputError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LogAnswers", "SessionDates"]

_OPEN: Final = "as the log says"
_CHOICES: Final = {
    "unit": ("loads without unit", (("kilograms", "kg"), ("pounds", "lb"))),
    "date_order": ("order of dates", (("day first", "dmy"), ("month first", "mdy"), ("year first", "ymd"))),
    "rest_unit": ("rests without unit", (("seconds", "s"), ("minutes", "min"))),
    "dumbbells": ("loads of two dumbbells", (("in each hand", "one_hand"), ("both together", "both"))),
    "odd_dates": ("odd dates", (("right as written", "as_written"),)),
    "real_dates": ("day and month", (("right as they stand", "as_is"), ("have changed places", "swapped"))),
    "decimal": ("decimals stand behind", (("a point", "."), ("a comma", ","))),
    "pair_means": ("two numbers, 8/8", (("two sets", "sets"), ("two sides", "sides"), ("done, of planned", "of_plan"))),
    "sets_column": ("column of sets", (("counts the sets", "count"), ("numbers the sets", "number"))),
}
#: Width of the longest label among them.
_LABEL_PX: Final = 150
_YEARS: Final = (1950, 2100)
#: Body masses that a reading takes [kg].
_BODY_KG: Final = (20.0, 350.0)
#: Where a question is answered, if not in what is called like it.
_WHERE: Final = {
    "pair of reps": "pair_means",
    "swapped dates": "real_dates",
    "body mass": "body_mass_kg",
    "date": "dates",
}


class SessionDates(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A line for the date of each session that has none.

    Attributes
    ----------
    value : dict of str to str
        The dates that were typed, as 2026-01-05, by session.
    lines : dict of str to Field
    """

    value = traitlets.Dict()

    def __init__(self) -> None:
        self.lines: dict[str, Field] = {}
        super().__init__([])

    def ask(self, sessions: Sequence[str]) -> None:
        """Show a line for each of these sessions, and for those that were dated already."""
        for session in dict.fromkeys((*self.value, *sessions)):
            if session not in self.lines:
                line = Field(
                    session,
                    typed_date,
                    partial(self._take, session),
                    show=date_said,
                    needed=False,
                    example="5 Jan 2026",
                )
                day = self.value.get(session)
                line.put(None if day is None else datetime.date.fromisoformat(day))
                self.lines[session] = line
        self.children = list(self.lines.values())

    def forget(self) -> None:
        """Take all dates back."""
        self.lines, self.children = {}, []
        self.value = {}

    def _take(self, session: str, day: datetime.date | None) -> None:
        others = {name: kept for name, kept in self.value.items() if name != session}
        self.value = others if day is None else {**others, session: day.isoformat()}


class LogAnswers:
    """What a log leaves open: each at first as the log says; only what is asked, or was answered, is seen.

    Attributes
    ----------
    lists : dict of str to ipywidgets.Dropdown
        By option of `ReadOptions` that is chosen from a list.
    typed : dict of str to Field
        By option that is typed: year, body_mass_kg.
    dates : SessionDates
    rows : ipywidgets.Dropdown
        The name in the log whose rows are those of the chosen lifter.
    box : ipywidgets.VBox
        All of these.
    """

    def __init__(self) -> None:
        self.lists = {
            name: widgets.Dropdown(options=[(_OPEN, None), *answers], description=label, **control_style(_LABEL_PX))
            for name, (label, answers) in _CHOICES.items()
        }
        self.typed = {
            "year": Field("year of the dates", lambda text: typed_whole(text, *_YEARS), needed=False),
            "body_mass_kg": Field(
                "body mass, kg", _body_mass, show="{:g}".format, needed=False, example="74 or 163 lb"
            ),
        }
        self.dates = SessionDates()
        self.rows = widgets.Dropdown(options=[(_OPEN, None)], description="lifter's rows", **control_style(_LABEL_PX))
        self._nothing = quiet("Nothing.")
        self.box = widgets.VBox([self.rows, self.dates, *self.lists.values(), *self.typed.values(), self._nothing])
        self.ask(())

    @property
    def controls(self) -> list[Any]:
        """Everything that can be set."""
        return [self.rows, self.dates, *self._of_log().values()]

    def options(self) -> ReadOptions:
        """Return the answers that a reading takes."""
        return ReadOptions(dates=self.dates.value, **{name: part.value for name, part in self._of_log().items()})

    def called(self) -> list[str]:
        """Return the names in the log that are said to be the lifter's."""
        return [] if self.rows.value is None else [self.rows.value]

    def offer(self, rows: pd.DataFrame) -> None:
        """List the lifters of a log."""
        kept, names = self.rows.value, [(name or "rows without a name", name) for name in lifters_of(rows)]
        self.rows.options = [(_OPEN, None), *names]
        self.rows.value = kept if kept in [name for _, name in names] else None

    def ask(self, questions: Sequence[Question]) -> None:
        """Show what answers these questions, and what was answered."""
        asked = {_WHERE.get(question.about, question.about.replace(" ", "_")) for question in questions}
        self.dates.ask([session for question in questions for session in question.sessions])
        seen = {name for name, part in self._of_log().items() if name in asked or part.value is not None}
        for name, part in self._of_log().items():
            part.layout.display = None if name in seen else "none"
        several = len(self.rows.options) > 2 or self.rows.value is not None
        self.rows.layout.display = None if several else "none"
        self._nothing.layout.display = "none" if seen or several or self.dates.lines else None

    def forget(self, *, log: bool) -> None:
        """Take back whose rows they are, and with another log every answer."""
        self.rows.value = None
        if log:
            self.take("{}")

    def text(self) -> str:
        """Return the answers about the log as one text, to be kept."""
        answers = {name: part.value for name, part in self._of_log().items() if part.value is not None}
        return json.dumps(answers | ({"dates": self.dates.value} if self.dates.value else {}), sort_keys=True)

    def take(self, kept: str) -> None:
        """Take answers that were kept; one that is none any more is left out."""
        try:
            answers = json.loads(kept)
            known = answers if isinstance(answers, dict) else {}
            ReadOptions(**known)
        except (ValueError, TypeError, InputError):
            known = {}
        for name, control in self.lists.items():
            control.value = known.get(name)
        for name, line in self.typed.items():
            line.put(known.get(name))
        self.dates.forget()
        self.dates.value = dict(sorted(known.get("dates", {}).items(), key=lambda dated: str(dated[1])))

    def _of_log(self) -> dict[str, Any]:
        return {**self.lists, **self.typed}


def _body_mass(text: str) -> float:
    pounds = dict.fromkeys(("lb", "lbs", "pounds"), KG_PER_LB)
    return typed_number(text, *_BODY_KG, unit="kg", words={"kgs": 1.0, **pounds}, example="74 or 163 lb")
