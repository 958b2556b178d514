"""Put the page together: sections, figures, the code behind each, and the drawing library, all in one file."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Final

import plotly.graph_objects as go
from plotly.offline import get_plotlyjs

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.compare import Comparison, compare_blocks
from workbench.answers.volume import volume_question
from workbench.figures.block_map import block_map, reserve_bands
from workbench.figures.compare import difference_bands, scheme_bands
from workbench.figures.volume import muscle_sets_figure, zones_figure
from workbench.publish.commit import Committed, read_committed
from workbench.publish.rationale import sections
from workbench.publish.rationale.look import POLICY, SCRIPT, STYLE
from workbench.publish.rationale.markup import code, data_script, figure_place, paragraph
from workbench.quantities import InputError
from workbench.reference.toml_files import MAX_BYTES
from workbench.reference.whole_files import check_free, read_whole, write_whole

if TYPE_CHECKING:
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["rationale_html", "write_rationale"]

#: Figures are drawn for so many lifters; the others have their row in the table of chances, and their sheets.
_PEOPLE_WITH_FIGURES: Final = 12


@dataclass
class _Figures:
    """Figures collected for the page: where each stands, and its data."""

    scripts: list[str] = field(default_factory=list)

    def place(self, figure: go.Figure, label: str, source: str) -> str:
        name = f"figure-{len(self.scripts) + 1}"
        self.scripts.append(data_script(name, figure))
        return figure_place(name, label) + code("Code of this figure", source)


def write_rationale(committed: str | Path, output: str | Path, *, replace: bool = False) -> Path:
    """Write the rationale of a committed block as one HTML file.

    Parameters
    ----------
    committed : str or Path
        Folder of a committed block.
    output : str or Path
        The file to write.
    replace : bool
        Write over a file that is there already.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the folder is no committed block, or the file is there already or cannot be written.
    """
    check_free(output, replace=replace)
    return write_whole(output, rationale_html(read_committed(committed)), replace=replace)


def rationale_html(committed: Committed, *, everybody: bool = False) -> str:
    """Return the page.

    Parameters
    ----------
    committed : Committed
    everybody : bool
        Show all lifters one below the other, as for paper, instead of the one that is chosen.
    """
    figures = _Figures()
    people = committed.lifters[:_PEOPLE_WITH_FIGURES]
    checks = [_check(committed, one) for one in people]
    blocks = _named_blocks(committed)
    comparisons = [_compare(committed, blocks, one) for one in people] if len(blocks) > 1 else []
    body = [
        sections.head(committed),
        sections.decision(committed),
        _chooser(committed, people) if len(people) > 1 and not everybody else "",
        '<h2 id="alternatives">The alternatives</h2>',
        sections.alternatives_table(committed),
        *(
            _person(one, _alternatives(figures, comparison, next(iter(blocks)), number))
            for number, (one, comparison) in enumerate(zip(people, comparisons, strict=False))
        ),
        '<h2 id="predictions">Predictions</h2>',
        paragraph("Bands are the middle 80 % of the simulated days. They are predictions, not promises."),
        *(
            _person(one, _predictions(figures, check, n))
            for n, (one, check) in enumerate(zip(people, checks, strict=True))
        ),
        '<h2 id="volume">Volume and intensity</h2>',
        *(_person(one, _volume(figures, check, n)) for n, (one, check) in enumerate(zip(people, checks, strict=True))),
        sections.cautions(committed),
        sections.models(committed),
        sections.reproduce(committed, read_whole(committed.path / "block.toml", MAX_BYTES).decode("utf-8-sig")),
    ]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f"<title>{escape(committed.block.name)}: why this block</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        + "\n".join(part for part in body if part)
        + "\n"
        + "\n".join(figures.scripts)
        + f"\n<script>{get_plotlyjs()}</script>\n<script>{SCRIPT}</script>\n</body>\n</html>\n"
    )


def _check(committed: Committed, lifter: Lifter) -> BlockCheck:
    manifest = committed.manifest
    return check_block(
        committed.block,
        lifter,
        committed.room,
        draws=int(manifest["draws"]),
        seed=int(manifest["seed"]),
        form=committed.form,
    )


def _named_blocks(committed: Committed) -> dict[str, Block]:
    """Return the chosen block first, then the others, each under a name of its own."""
    blocks = {committed.block.name: committed.block}
    for one in committed.decision.alternatives:
        name, number = one.name, 2
        while name in blocks:
            name, number = f"{one.name} ({number})", number + 1
        blocks[name] = one.block
    return blocks


def _compare(committed: Committed, blocks: dict[str, Block], lifter: Lifter) -> Comparison | InputError:
    manifest = committed.manifest
    try:
        return compare_blocks(
            blocks,
            lifter,
            committed.room,
            draws=int(manifest["draws"]),
            seed=int(manifest["seed"]),
            form=committed.form,
        )
    except InputError as error:  # an alternative may ask for a lift that this lifter does not have
        return error


def _chooser(committed: Committed, people: tuple[Lifter, ...]) -> str:
    options = "".join(f'<option value="{number}">{escape(one.name)}</option>' for number, one in enumerate(people))
    rest = len(committed.lifters) - len(people)
    more = f" Figures are drawn for the first {len(people)}; {rest} more are in the table above." if rest else ""
    return (
        f'<p class="choose"><label for="person">Show the figures of</label> <select id="person">{options}</select>'
        f"{escape(more)}</p>"
    )


def _person(lifter: Lifter, numbered: tuple[int, str]) -> str:
    number, content = numbered
    return f'<section class="person" data-person="{number}"><h3>{escape(lifter.name)}</h3>{content}</section>'


def _start(number: int) -> str:
    return (
        "from workbench.publish.commit import read_committed\n\n"
        'committed = read_committed("FOLDER")  # the folder of the committed block\n'
        f"lifter = committed.lifters[{number}]\n"
        'run = {"draws": committed.manifest["draws"], "seed": committed.manifest["seed"], "form": committed.form}\n'
    )


def _checked(number: int) -> str:
    return (
        _start(number)
        + "\nfrom workbench.answers.block_check import check_block\n\n"
        + "check = check_block(committed.block, lifter, committed.room, **run)\n"
    )


def _alternatives(figures: _Figures, comparison: Comparison | InputError, chosen: str, number: int) -> tuple[int, str]:
    if isinstance(comparison, InputError):
        return number, paragraph(f"Not compared: {comparison}")
    compared = (
        _start(number)
        + "\nfrom workbench.answers.compare import compare_blocks\nfrom workbench.figures.compare import "
        + "difference_bands, scheme_bands\n\n"
        + "blocks = {committed.block.name: committed.block}\n"
        + "blocks |= {one.name: one.block for one in committed.decision.alternatives}\n"
        + "comparison = compare_blocks(blocks, lifter, committed.room, **run)\n"
    )
    parts = []
    for outcome in ("all_reps", "lowest_reserve"):
        figure = scheme_bands(comparison.ordered(outcome))
        source = compared + f'figure = scheme_bands(comparison.ordered("{outcome}"))\n'
        parts.append(figures.place(figure, f"Schemes by {outcome.replace('_', ' ')}", source))
    pairs = comparison.pairs[comparison.pairs["outcome"] == "lowest_reserve"]
    source = compared + 'rows = comparison.pairs[comparison.pairs["outcome"] == "lowest_reserve"]\n'
    source += "figure = difference_bands(rows)\n"
    parts.append(figures.place(difference_bands(pairs), "Differences of the lowest reps in reserve", source))
    return number, "".join(parts) + sections.difference_table(comparison, chosen)


def _predictions(figures: _Figures, check: BlockCheck, number: int) -> tuple[int, str]:
    source = _checked(number) + "\nfrom workbench.figures.block_map import block_map, reserve_bands\n\n"
    return number, (
        figures.place(
            block_map(check.sets), "Chance that every rep is made", source + "figure = block_map(check.sets)\n"
        )
        + figures.place(
            reserve_bands(check.weeks),
            "Fewest reps in reserve by week",
            source + "figure = reserve_bands(check.weeks)\n",
        )
        + sections.prediction_tables(check)
    )


def _volume(figures: _Figures, check: BlockCheck, number: int) -> tuple[int, str]:
    answer = volume_question(check.outcome)
    fullest = int(answer.weeks.sort_values("sets", kind="stable")["week"].iloc[-1])
    source = (
        _checked(number)
        + "\nfrom workbench.figures.volume import muscle_sets_figure, zones_figure\n"
        + "from workbench.answers.volume import volume_question\n\n"
        + "answer = volume_question(check.outcome)\n"
    )
    title = f"Sets for each muscle, week {fullest}"
    muscles = figures.place(
        muscle_sets_figure(answer.muscles, week=fullest, title=title),
        title,
        source + f'figure = muscle_sets_figure(answer.muscles, week={fullest}, title="{title}")\n',
    )
    zones = figures.place(
        zones_figure(answer.zones), "Lifts by zone of intensity", source + "figure = zones_figure(answer.zones)\n"
    )
    return number, muscles + zones + sections.volume_tables(answer)
