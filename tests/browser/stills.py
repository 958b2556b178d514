"""Keep a still picture of every panel and figure in the notebooks: ``python -m tests.browser.stills [NOTEBOOK ...]``.

A page that lists a repository, and JupyterLab before a notebook is run, show no widget. So each notebook is run in
JupyterLab, and the picture of what its cells then show is put beside their outputs; nothing else of the file changes.
"""

from __future__ import annotations

import base64
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import nbformat
from playwright.sync_api import Browser, sync_playwright

from workbench.commands.notebook_server import RunningLab, refresh_copy, running_lab
from workbench.reference.sources import notebooks_path

WIDGET: Final = "application/vnd.jupyter.widget-view+json"
FIGURE: Final = "application/vnd.plotly.v1+json"
PICTURE: Final = "image/png"
#: What the picture says of itself; it looks as if it could be worked.
SAID: Final = "Still picture. To work it, run the page: menu Run, then Run All Cells."
_SAID_CLASS: Final = "workbench-still-said"
_WAIT_MS: Final = 600_000

_IDLE: Final = """(name) => {
  const context = window.jupyterapp?.shell?.currentWidget?.sessionContext;
  return context?.path === name && context.session?.kernel?.status === "idle";
}"""
#: Outputs go first, and the numbers of runs with them: what has a number again has been run.
_RUN: Final = """async () => {
  await window.jupyterapp.commands.execute("notebook:clear-all-cell-outputs");
  await window.jupyterapp.commands.execute("notebook:run-all-cells");
}"""
_ALL_RUN: Final = """() => window.jupyterapp.shell.currentWidget.content.widgets
  .filter((cell) => cell.model.type === "code").every((cell) => cell.model.executionCount)"""
_CELL: Final = "(at) => window.jupyterapp.shell.currentWidget.content.widgets[at].node"
_DRAWN: Final = """(cell) => cell.querySelector(".workbench-panel, .js-plotly-plot")
  && !cell.querySelector(".workbench-busy")
  && [...cell.querySelectorAll(".workbench-figure:not([hidden])")].every((one) => one.querySelector(".main-svg"))"""
#: A panel that waits for a press says of which button; the picture is to show its answer.
_PRESS: Final = r"""(cell) => {
  const asked = [...cell.querySelectorAll(".workbench-panel .widget-html-content")]
    .map((one) => one.textContent.match(/^Press (.+)\.$/)?.[1]).find(Boolean);
  [...cell.querySelectorAll("button")].find((one) => asked && one.textContent.trim() === asked)?.click();
  return asked ?? null;
}"""
_ANSWERED: Final = """([cell, asked]) => ![...cell.querySelectorAll(".widget-html-content")]
  .some((one) => one.textContent === `Press ${asked}.`)"""
_SAY: Final = """([cell, name, said]) => {
  const line = document.createElement("div");
  line.className = name;
  line.textContent = said;
  Object.assign(line.style, { width: "100%", padding: "4px 8px", font: "italic 13px sans-serif", color: "#5c6670",
    background: "#eef2f4" });
  cell.querySelector(".workbench-panel")?.prepend(line);
}"""


def shows(output: Any) -> str | None:
    """Return what an output shows that no viewer of files can: the type of a widget, of a figure, or None."""
    return next((kind for kind in (WIDGET, FIGURE) if kind in output.get("data", {})), None)


def put_still(cell: Any, picture: bytes) -> None:
    """Put the picture of a cell beside its output, in place of the one before.

    Of a figure it is another form, for viewers that know no figures. Of a widget it is an output of its own: where
    widgets are known, as in JupyterLab, one that does not run shows nothing, whatever other form it has.
    """
    text = base64.b64encode(picture).decode("ascii")
    cell.outputs = [one for one in cell.outputs if set(one.get("data", {})) != {PICTURE, "text/plain"}]
    at, kind = next((at, shows(one)) for at, one in enumerate(cell.outputs) if shows(one))
    if kind == FIGURE:
        cell.outputs[at].data[PICTURE] = text
        return
    still = nbformat.v4.new_output("display_data", {PICTURE: text, "text/plain": SAID})
    cell.outputs.insert(at + 1, still)


@contextmanager
def lab_in_browser() -> Iterator[tuple[Browser, RunningLab]]:
    """Return a browser and a JupyterLab over a copy of the notebooks."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        refresh_copy(Path(folder) / "notebooks")
        with running_lab(Path(folder) / "notebooks", options=["--LabApp.expose_app_in_browser=True"]) as lab:
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
            yield browser, lab
            browser.close()


def take(browser: Browser, lab: RunningLab, path: Path) -> None:
    """Run one notebook and put its stills into the original."""
    notebook = nbformat.read(path, as_version=4)
    wanted = [at for at, cell in enumerate(notebook.cells) if any(map(shows, cell.get("outputs", [])))]
    if not wanted:
        return
    page = browser.new_page(viewport={"width": 1150, "height": 5000})  # taller than any panel
    page.set_default_timeout(_WAIT_MS)
    page.goto(lab.address.replace("/lab?", f"/lab/tree/{path.name}?reset&"))
    page.wait_for_function(_IDLE, arg=path.name)
    page.evaluate("() => { window.jupyterapp.shell.collapseLeft(); }")
    page.evaluate(_RUN)
    page.wait_for_function(_ALL_RUN)
    page.wait_for_function(_IDLE, arg=path.name)
    for at in wanted:
        cell = page.evaluate_handle(_CELL, at).as_element()
        assert cell is not None
        cell.scroll_into_view_if_needed()
        if asked := page.evaluate(_PRESS, cell):
            page.wait_for_function(_ANSWERED, arg=[cell, asked])
        page.wait_for_function(_DRAWN, arg=cell)
        page.evaluate(_SAY, [cell, _SAID_CLASS, SAID])
        shown = cell.query_selector(".workbench-panel, .js-plotly-plot")
        assert shown is not None
        put_still(notebook.cells[at], shown.screenshot())
    page.close()
    nbformat.write(notebook, path)
    print(f"{path.name}: {len(wanted)} stills, {path.stat().st_size / 1000:.0f} kB")


def main() -> None:
    """Renew the stills of the notebooks that are named, by the beginning of their names; of all where none is."""
    named = tuple(sys.argv[1:]) or ("",)
    with lab_in_browser() as (browser, lab):
        for path in sorted(notebooks_path().glob("*.ipynb")):
            if path.name.startswith(named):
                take(browser, lab, path)


if __name__ == "__main__":
    main()
