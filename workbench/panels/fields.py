"""Fields of an editor: what is typed or chosen is taken only where it can be, and what is wrong stands at the field."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any, Final

import ipywidgets as widgets
import traitlets

from workbench.panels.frame import quiet
from workbench.quantities import InputError

__all__ = ["Choice", "Field", "Tick", "button"]

#: Marks a field whose text was not taken.
_WRONG: Final = "workbench-wrong"
Apply = Callable[[Any], None]


def button(words: str, press: Callable[[], None], *, tooltip: str = "") -> widgets.Button:
    """Return a button that does something, as wide as its words."""
    made = widgets.Button(description=words, tooltip=tooltip or words, layout=widgets.Layout(width="auto"))
    made.on_click(lambda _button: press())
    return made


class _Applied(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A control that hands on what it was set to, and keeps what it had where that is refused.

    Attributes
    ----------
    value
        The last that was taken.
    said : HTML
        What was understood, or why it was not taken and what would be.
    problem : str
        The reason in plain text; empty where all is well.
    """

    value = traitlets.Any()

    def __init__(self, control: widgets.Widget, apply: Apply | None) -> None:
        self.control, self._apply = control, apply
        self.said, self.problem, self._filling = quiet(), "", False
        self.said.add_class("workbench-said")
        super().__init__([control, self.said])
        self.add_class("workbench-field")

    def _take(self, value: Any) -> None:
        """Hand a value on; InputError where it is refused."""
        if self._apply is not None:
            self._apply(value)
        self.value = value
        self._say("")

    def _say(self, text: str, problem: str = "") -> None:
        self.problem, self.said.value = problem, escape(problem or text)
        (self.add_class if problem else self.remove_class)(_WRONG)

    def _refused(self, error: InputError) -> None:
        # What was typed stands above; a place in a file or a block says nothing here.
        known = not error.place or error.place.startswith(("'", '"')) or any(mark in error.place for mark in ".,")
        place = "" if known else f"{error.place}: "
        remedy = f"; {error.remedy}" if error.remedy else ""
        self._say("", f"Not taken: {place}{error.problem}{remedy}.")


class Field(_Applied):
    """A line to type into.

    Parameters
    ----------
    label : str
    read : callable
        Makes a value of what is typed; InputError where it cannot.
    apply : callable, optional
        Takes a value; InputError where it cannot.
    show : callable
        Makes what stands in the line of a value.
    needed : bool
        Blank is no value; otherwise blank is None.
    example : str
        Stands in the empty line.
    lines : bool
        Whether it may be several lines.

    Attributes
    ----------
    typed : ipywidgets.Text or Textarea
    """

    # More than seven parameters: what most fields leave to its default is a keyword.
    def __init__(
        self,
        label: str,
        read: Callable[[str], Any],
        apply: Apply | None = None,
        *,
        show: Callable[[Any], str] = str,
        needed: bool = True,
        example: str = "",
        width: str = "100%",
        lines: bool = False,
    ) -> None:
        self._read, self._show, self._needed = read, show, needed
        kind = widgets.Textarea if lines else widgets.Text
        self.typed = kind(
            description=label, placeholder=example, continuous_update=False, layout=widgets.Layout(width="100%")
        )
        super().__init__(self.typed, apply)
        self.layout.width = width
        self.typed.observe(self._type, "value")

    @property
    def label(self) -> str:
        """What stands above the line."""
        return str(self.typed.description)

    @label.setter
    def label(self, text: str) -> None:
        self.typed.description = text

    def read_as(self, read: Callable[[str], Any], show: Callable[[Any], str] = str) -> None:
        """Read and show another kind of value from now on."""
        self._read, self._show = read, show

    def put(self, value: Any) -> None:
        """Show a value that is so already; hands nothing on. What was understood of it stays said."""
        said = "" if value != self.value or self.problem else self.said.value
        self._filling = True
        try:
            self.value, self.typed.value = value, "" if value is None else self._show(value)
        finally:
            self._filling = False
        self._say("")
        self.said.value = said

    def _type(self, change: Any) -> None:
        if self._filling:
            return
        text = change["new"]
        try:
            value = None if not text.strip() and not self._needed else self._read(text)
            self._take(value)
        except InputError as error:
            self._refused(error)
            return
        shown = "" if value is None else self._show(value)
        if _as_written(text) != _as_written(shown) and value is not None:
            self._say(f"{text.strip()}: read as {shown}")


def _as_written(text: str) -> str:
    """Return a text without its case and spaces: a decimal comma, or a raised figure, is another text."""
    return " ".join(text.split()).casefold()


#: Stands in a list for None, which a list would show as if nothing were chosen.
_NONE: Final = ""


def _options(pairs: Sequence[tuple[str, Any]]) -> list[tuple[str, Any]]:
    return [(words, _NONE if value is None else value) for words, value in pairs]


class Choice(_Applied):
    """A list to choose one of.

    Parameters
    ----------
    label : str
    options : sequence of pairs
        Words and value.
    apply : callable, optional
    """

    def __init__(
        self, label: str, options: Sequence[tuple[str, Any]], apply: Apply | None = None, *, width: str = "100%"
    ) -> None:
        self.choice = widgets.Dropdown(
            options=_options(options), description=label, layout=widgets.Layout(width="100%")
        )
        super().__init__(self.choice, apply)
        self.value = self.chosen
        self.layout.width = width
        self.choice.observe(self._choose, "value")

    @property
    def chosen(self) -> Any:
        """What is chosen in the list, taken or not yet."""
        return None if self.choice.value == _NONE else self.choice.value

    def put(self, value: Any, options: Sequence[tuple[str, Any]] | None = None) -> None:
        """Show a value that is so already, of other options where they are given; hands nothing on."""
        self._filling = True
        try:
            if options is not None:
                self.choice.options = _options(options)
            self.choice.value, self.value = _NONE if value is None else value, value
        finally:
            self._filling = False
        self._say("")

    def _choose(self, _change: Any) -> None:
        if self._filling:
            return
        before = self.value
        try:
            self._take(self.chosen)
        except InputError as error:
            self.put(before)
            self._refused(error)


class Tick(_Applied):
    """A box to tick."""

    def __init__(self, label: str, apply: Apply | None = None) -> None:
        self.box = widgets.Checkbox(description=label, indent=False, layout=widgets.Layout(width="auto"))
        super().__init__(self.box, apply)
        self.value = False
        self.box.observe(self._choose, "value")

    def put(self, value: bool) -> None:
        """Show a value that is so already; hands nothing on."""
        self._filling = True
        try:
            self.box.value = self.value = value
        finally:
            self._filling = False
        self._say("")

    def _choose(self, change: Any) -> None:
        if self._filling:
            return
        before = self.value
        try:
            self._take(change["new"])
        except InputError as error:
            self.put(before)
            self._refused(error)
