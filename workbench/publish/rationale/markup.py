"""Small pieces of HTML. Every one escapes what it is given; nothing else on the page writes text from a file."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from html import escape

import plotly.graph_objects as go

__all__ = ["code", "data_script", "figure_place", "items", "paragraph", "table"]


def paragraph(text: str, *, quiet: bool = False) -> str:
    """Return a paragraph of plain text."""
    return f'<p class="quiet">{escape(text)}</p>' if quiet else f"<p>{escape(text)}</p>"


def items(texts: Iterable[str]) -> str:
    """Return a list of plain texts; nothing for none."""
    entries = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<ul>{entries}</ul>" if entries else ""


def table(caption: str, headings: Sequence[str], rows: Iterable[Sequence[str]], *, texts: Sequence[int] = (0,)) -> str:
    """Return a table of plain texts; ``texts`` are the columns set to the left."""
    head = "".join(
        f'<th scope="col" class="text">{escape(text)}</th>'
        if number in texts
        else f'<th scope="col">{escape(text)}</th>'
        for number, text in enumerate(headings)
    )
    body = "".join(
        "<tr>"
        + "".join(
            f'<td class="text">{escape(cell)}</td>' if number in texts else f"<td>{escape(cell)}</td>"
            for number, cell in enumerate(row)
        )
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="table"><table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def code(title: str, text: str) -> str:
    """Return code behind a line that opens it."""
    return f"<details><summary>{escape(title)}</summary><pre><code>{escape(text)}</code></pre></details>"


def figure_place(name: str, label: str) -> str:
    """Return the place that a figure is drawn into; its data stand in `data_script` of the same name."""
    return f'<div class="figure" data-figure="{escape(name)}" role="img" aria-label="{escape(label)}"></div>'


def data_script(name: str, figure: go.Figure) -> str:
    """Return a figure as data in the page.

    No angle bracket is left in it, so that no text inside can end the script element or begin another.
    """
    content = figure.to_plotly_json()
    text = json.dumps(json.loads(go.Figure(content).to_json(validate=False)), separators=(",", ":"))
    for character, written in (("<", "\\u003c"), (">", "\\u003e"), ("&", "\\u0026")):
        text = text.replace(character, written)
    return f'<script type="application/json" id="{escape(name)}">{text}</script>'
