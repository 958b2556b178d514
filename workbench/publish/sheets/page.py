"""The sheet as a page to print: black on white, A4 or Letter, a week to a page."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Final

from workbench.publish.sheets.lines import Sheet, SheetLine, SheetSession, SheetWeek
from workbench.reference.whole_files import write_whole

__all__ = ["page_html", "write_page"]

# No paper size is fixed: the printer's own, A4 or Letter, is used with these margins.
_STYLE: Final = """
@page { size: landscape; margin: 11mm 10mm; }
* { box-sizing: border-box; }
body { font: 10.5pt/1.3 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff; margin: 1rem auto;
  max-width: 68rem; padding: 0 .75rem; }
h1 { font-size: 15pt; margin: 0 0 .2rem; }
h2 { font-size: 12pt; margin: .7rem 0 .25rem; break-after: avoid; }
p { margin: .2rem 0; }
th, td { overflow-wrap: anywhere; }
.cautions { border: 1px solid #000; padding: .25rem .5rem; font-size: 9pt; }
.small { font-size: 9pt; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { border: 1px solid #555; padding: .16rem .35rem; text-align: left; vertical-align: top; }
th { border-bottom: 2px solid #000; font-size: 9pt; }
tr.first td { border-top: 2px solid #000; }
td.number { text-align: right; }
td.load { white-space: nowrap; font-weight: bold; }
section { break-after: page; }
.session { break-inside: avoid; }
section:last-of-type { break-after: auto; }
@media print { body { margin: 0; max-width: none; padding: 0; } }
"""

_HEADINGS: Final = (
    *("Exercise", "Set", "Load", "How to load", "Reps", "RIR asked", "RIR forecast", "Rest before"),
    *("Load done", "Reps done", "RIR done", "Notes"),
)
#: Widths in percent, in the order of the headings.
_COLUMNS: Final = "".join(f'<col style="width: {part}%">' for part in (16, 6, 9, 17, 8, 5, 8, 6, 7, 5.5, 4.5, 8))


def page_html(sheet: Sheet) -> str:
    """Return the page; every text that came from a file is escaped.

    Reps in reserve are abbreviated RIR in the table and spelled out above it.
    """
    title = escape(f"{sheet.block}: {sheet.lifter}")
    weeks = "\n".join(_week(sheet, week) for week in sheet.weeks)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n{weeks}\n</body>\n</html>\n"
    )


def write_page(sheet: Sheet, path: str | Path, *, replace: bool = False) -> Path:
    """Write the page as one HTML file; InputError where it is there (unless ``replace``) or cannot be."""
    return write_whole(path, page_html(sheet), replace=replace)


def _week(sheet: Sheet, week: SheetWeek) -> str:
    sessions = "\n".join(_session(session) for session in week.sessions)
    return (
        f"<section>\n<h1>{escape(sheet.block)}, week {week.number}: {escape(sheet.lifter)}</h1>\n"
        f'<p class="cautions">{escape(" ".join(sheet.cautions))}</p>\n'
        '<p class="small">RIR: reps in reserve, how many more could have been made. Asked: what the coach wants. '
        "Forecast: what to expect, no target. Take less on a bad day. Two dumbbells: write the load of one hand.</p>\n"
        f"{sessions}\n</section>"
    )


def _session(session: SheetSession) -> str:
    date = f", {session.date.isoformat()}" if session.date is not None else ", date: ____________"
    heads = "".join(f"<th>{heading}</th>" for heading in _HEADINGS)
    rows = []
    last: SheetLine | None = None
    for line in session.lines:
        first = last is None or line.exercise != last.exercise
        # The plates are said once for as long as they stay on the bar.
        again = not first and last is not None and (line.load, line.how) == (last.load, last.how)
        rows.append(_row(line, first=first, how="same" if again else line.how))
        last = line
    cautions = "".join(f'<p class="small">{escape(caution)}</p>' for caution in session.cautions)
    return (
        f'<div class="session">\n<h2>{escape(session.name)}{date} (about {session.minutes:.0f} min)</h2>\n'
        f"<table>{_COLUMNS}<thead><tr>{heads}</tr></thead><tbody>\n{''.join(rows)}</tbody></table>\n{cautions}\n</div>"
    )


def _row(line: SheetLine, *, first: bool, how: str) -> str:
    name = f"<b>{escape(line.exercise)}</b>" if first else ""
    if line.before:
        name += f'<br><span class="small">{escape(line.before)}</span>'
    rest = "" if line.rest_s is None else f"{line.rest_s:.0f} s"
    return (
        f'<tr class="{"first" if first else "more"}"><td>{name}</td>'
        f'<td class="number">{line.label}</td><td class="load">{escape(line.said)}</td>'
        f"<td>{escape(how)}</td><td>{escape(line.reps)}</td><td>{escape(line.reserve)}</td>"
        f"<td>{escape(line.forecast)}</td>"
        f'<td class="number">{rest}</td>' + '<td class="write"></td>' * 3 + '<td class="write notes"></td></tr>\n'
    )
