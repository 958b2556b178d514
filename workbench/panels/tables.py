"""Small tables: the same cells as HTML in a panel and as plain text in a notebook."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import ipywidgets as widgets

__all__ = ["Table", "table_box"]


@dataclass(frozen=True)
class Table:
    """Cells as text, units in the headings.

    Attributes
    ----------
    caption : str
    headings : tuple of str
    rows : tuple of tuple of str
    """

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def html(self) -> str:
        """Return the table as HTML; every cell is escaped.

        >>> "<b>" in Table("a", ("x",), (("<b>",),)).html()
        False
        """
        head = "".join(f'<th scope="col">{escape(text)}</th>' for text in self.headings)
        body = "".join(
            f'<tr><th scope="row">{escape(cells[0])}</th>'
            + "".join(f"<td>{escape(text)}</td>" for text in cells[1:])
            + "</tr>"
            for cells in self.rows
        )
        return (
            f'<table class="workbench"><caption>{escape(self.caption)}</caption>'
            f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
        )

    def text(self) -> str:
        """Return the table as aligned lines.

        >>> print(Table("Loads", ("set", "kg"), (("1", "60"), ("2", "62.5"))).text())
        Loads
        set    kg
        1      60
        2    62.5
        """
        widths = [max(map(len, cells)) for cells in zip(self.headings, *self.rows, strict=True)]
        lines = [self.caption]
        for cells in (self.headings, *self.rows):
            first = cells[0].ljust(widths[0])
            rest = (text.rjust(width) for text, width in zip(cells[1:], widths[1:], strict=True))
            lines.append("  ".join([first, *rest]).rstrip())
        return "\n".join(lines)


def table_box() -> widgets.HTML:
    """Return an empty place for a table, that scrolls sideways where the page is narrow."""
    box = widgets.HTML(layout=widgets.Layout(width="100%"))
    box.add_class("workbench-table")
    return box
