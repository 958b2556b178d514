"""How the page looks and behaves: its style sheet and its few lines of script. No text of its own."""

from __future__ import annotations

from typing import Final

__all__ = ["POLICY", "SCRIPT", "STYLE"]

#: The page may run and show what it brings along, and ask nobody for anything.
POLICY: Final = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; font-src data:"
)

STYLE: Final = """
* { box-sizing: border-box; }
body { font: 16px/1.5 "Liberation Sans", "Helvetica Neue", Arial, sans-serif; color: #22303c; background: #fff;
  margin: 0 auto; max-width: 64rem; padding: 1.2rem 1rem 4rem; }
h1 { font-size: 1.7rem; line-height: 1.25; margin: 0 0 .3rem; }
h2 { font-size: 1.25rem; margin: 2.4rem 0 .5rem; border-bottom: 1px solid #c9d1d7; padding-bottom: .2rem; }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .3rem; }
p, ul { margin: .4rem 0 .7rem; max-width: 48rem; }
blockquote { margin: .6rem 0 .9rem; padding: .3rem 1rem; border-left: 4px solid #1f5f8b; white-space: pre-line;
  overflow-wrap: anywhere; max-width: 48rem; }
.quiet { color: #5c6670; font-size: .88rem; }
.cautions { border: 2px solid #22303c; padding: .5rem 1rem; max-width: none; }
.table { overflow-x: auto; }
table { border-collapse: collapse; font-size: .85rem; margin: .4rem 0 .8rem; }
th, td { text-align: right; padding: .25rem .6rem; border-bottom: 1px solid #dfe4e8; vertical-align: top; }
th.text, td.text { text-align: left; }
thead th { border-bottom: 2px solid #22303c; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
details { margin: .3rem 0 .9rem; }
summary { cursor: pointer; color: #1f5f8b; }
pre { background: #f3f5f7; padding: .7rem; white-space: pre-wrap; overflow-wrap: anywhere;
  font-size: .82rem; line-height: 1.4; }
code { overflow-wrap: anywhere; }
.figure { width: 100%; min-height: 8rem; }
nav { font-size: .92rem; margin: .8rem 0; }
nav a { margin-right: .9rem; color: #1f5f8b; }
label { font-weight: bold; }
select { font: inherit; padding: .2rem; max-width: 100%; }
.person[hidden] { display: none; }
@media print {
  body { font-size: 11pt; max-width: none; padding: 0; }
  nav, .choose { display: none; }
  h2, h3 { break-after: avoid; }
  .figure, tr { break-inside: avoid; }
}
@page { margin: 14mm 12mm; }
"""

# Every figure lies in the page as data; it is drawn when the person it belongs to is first shown, since a hidden
# place has no width to draw into.
SCRIPT: Final = """
"use strict";
(() => {
  const draw = (root) => {
    for (const place of root.querySelectorAll(".figure")) {
      if (place.dataset.drawn || place.closest("[hidden]")) continue;
      place.dataset.drawn = "yes";
      const figure = JSON.parse(document.getElementById(place.dataset.figure).textContent);
      Plotly.newPlot(place, figure.data, figure.layout, { responsive: true, displaylogo: false,
        modeBarButtonsToRemove: ["sendDataToCloud", "lasso2d", "select2d"] });
    }
  };
  const people = [...document.querySelectorAll(".person")];
  const choice = document.getElementById("person");
  const show = () => {
    for (const one of people) one.hidden = choice !== null && one.dataset.person !== choice.value;
    draw(document);
  };
  if (choice) choice.addEventListener("change", show);
  show();
})();
"""
