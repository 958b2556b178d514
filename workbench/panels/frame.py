"""What stands in a panel and how it looks: rows, headings, small print, tables, figures; names for screen readers."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from html import escape
from pathlib import Path
from typing import Final

import anywidget
import ipywidgets as widgets
import traitlets

from workbench.figures.figure import Figure
from workbench.panels.figure import LiveFigure
from workbench.present.colours import variables

__all__ = [
    "SEVERAL",
    "NameControls",
    "column",
    "control_style",
    "empty",
    "fields",
    "first_bold",
    "folded",
    "heading",
    "help_sentences",
    "listed",
    "live",
    "look",
    "parts_of",
    "quiet",
    "refresh",
    "row",
    "show_only",
    "table_box",
    "wide",
]


#: Said below a list in which several can be chosen.
SEVERAL: Final = "Several: hold Ctrl (or Cmd) and click; by keyboard, Shift and an arrow."


def look(name: str) -> str:
    """Return a style sheet of this folder, with the colours that it names."""
    return variables() + Path(__file__).with_name(name).read_text(encoding="utf-8")


@cache
def help_sentences() -> dict[str, str]:
    """Return what a control is for, by its label: one sentence, shown on hover and where the keyboard is."""
    text = Path(__file__).with_name("help.csv").read_text(encoding="utf-8")
    return {row["label"]: row["sentence"] for row in csv.DictReader(text.splitlines())}


class NameControls(anywidget.AnyWidget):
    """Invisible: gives the panel it stands in its look, and its controls their names and a sentence of help."""

    _esm = Path(__file__).with_name("panel.js")
    _css = look("panel.css")

    help = traitlets.Dict().tag(sync=True)

    def __init__(self) -> None:
        super().__init__(help=help_sentences())


def column(*children: widgets.Widget, flex: str = "1 1 auto") -> widgets.VBox:
    """Children one below the other, never wider than their place."""
    return widgets.VBox(list(children), layout=widgets.Layout(flex=flex, min_width="0", margin="0 12px 0 0"))


def row(*children: widgets.Widget) -> widgets.Box:
    """Children side by side, wrapped where the page is narrow."""
    return widgets.Box(list(children), layout=widgets.Layout(display="flex", flex_flow="row wrap"))


def fields(*children: widgets.Widget) -> widgets.Box:
    """Return fields in as many columns as there is room for; what is `wide` takes a line of its own."""
    box = widgets.Box(list(children), layout=widgets.Layout(width="100%"))
    box.add_class("workbench-fields")
    return box


def wide(widget: widgets.Widget) -> widgets.Widget:
    """Return a widget that takes the whole width among the controls."""
    widget.add_class("workbench-wide")
    return widget


def show_only(box: widgets.Box, shown: Iterable[widgets.Widget]) -> None:
    """Show some of what a box holds and hide the rest; nothing is made anew, so the keyboard stays where it is."""
    kept = set(shown)
    for child in box.children:
        child.layout.display = None if child in kept else "none"


def heading(text: str) -> widgets.HTML:
    """Return a line above the controls that follow."""
    return wide(widgets.HTML(f'<b role="heading" aria-level="2">{escape(text)}</b>'))


def quiet(text: str = "") -> widgets.HTML:
    """Return a line in small print."""
    line = widgets.HTML(escape(text))
    line.add_class("workbench-quiet")
    return line


def table_box() -> widgets.HTML:
    """Return an empty place for a table, that scrolls sideways where the page is narrow."""
    box = widgets.HTML(layout=widgets.Layout(width="100%"))
    box.add_class("workbench-table")
    return box


def folded(title: str, part: widgets.Widget) -> widgets.Accordion:
    """Return a part that opens on a click, and stays as it is while what it holds changes."""
    return widgets.Accordion(children=[part], titles=(title,), selected_index=None)


def control_style(label_px: int = 72) -> dict[str, object]:
    """Keywords that give a control the width of its column; made anew for each, so that hiding one hides no other."""
    return {"style": {"description_width": f"{label_px}px"}, "layout": widgets.Layout(width="98%", max_width="440px")}


def listed(lines: Sequence[str], title: str = "") -> str:
    """Return sentences as a list in HTML."""
    head = f"<b>{escape(title)}</b>" if title else ""
    return f"{head}<ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul>"


def first_bold(lines: Sequence[str]) -> str:
    """Return sentences as lines in HTML, the first one in bold."""
    first, *others = map(escape, lines)
    return "<br>".join([f"<b>{first}</b>", *others])


def live() -> LiveFigure:
    """Return a figure that can be drawn again where it is shown: as wide as its place, without the tool bar."""
    return LiveFigure()


def refresh(widget: LiveFigure, figure: Figure | None) -> None:
    """Show a newly built figure in place of the one before.

    Parameters
    ----------
    widget : LiveFigure
        From `live`.
    figure : Figure or None
        Built by one of `workbench.figures`; None shows nothing.
    """
    widget.draw(figure)


def parts_of(widget: widgets.Widget) -> Iterator[widgets.Widget]:
    """Return a widget and all that stands in it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from parts_of(child)


def empty(part: widgets.Widget, reason: str) -> None:
    """Empty one part of an answer, with all that stands in it; the sentence that answers becomes the reason."""
    if isinstance(part, widgets.HTML):
        part.value = reason if "workbench-answer" in part._dom_classes else ""
    elif isinstance(part, LiveFigure):
        part.draw(None)
    elif isinstance(part, widgets.Box):
        if any(isinstance(child, widgets.Button) for child in part.children):  # buttons that act on the old answer
            part.children = ()
        for child in part.children:
            empty(child, reason)
