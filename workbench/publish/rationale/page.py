"""The rationale of a committed block: one page that opens anywhere, offline, and says what was decided and why."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Final

from plotly.offline import get_plotlyjs

from workbench.answers.exchange import left_out_of_block
from workbench.gym.catalogue import cautions, cautions_for, general_cautions
from workbench.present.colours import dark_for_light, variables
from workbench.present.pages import render
from workbench.present.tables import Table
from workbench.present.words import in_words
from workbench.publish.commit import Committed, read_committed
from workbench.publish.rationale.sections import sections_of
from workbench.publish.sheets import always_shown
from workbench.publish.track_record import track_record
from workbench.reference.sources import Source, sources
from workbench.reference.toml_files import MAX_BYTES
from workbench.reference.whole_files import check_free, read_whole, write_whole

if TYPE_CHECKING:
    from workbench.gym.catalogue.vocabulary import Exercise

__all__ = ["rationale_html", "write_rationale"]

#: Figures are drawn for so many lifters; the others have their row in the table of chances, and their sheets.
_PEOPLE_WITH_FIGURES: Final = 12
#: Sources of what the comparison and the volume section rest on, besides those of the parameters used.
_OTHER_SOURCES: Final = {
    *("ralston_2017", "latella_2020", "latella_2024", "ahtiainen_2016", "pelland_2024", "robinson_2024")
}


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
        Show all lifters one below the other, and all detail open, as for paper, instead of the one that is chosen.
    """
    block, decision, catalogue = committed.block, committed.decision, committed.room.catalogue
    names = dict.fromkeys(slot.exercise for session in block.expanded_sessions() for slot in session.exercises)
    exercises = [catalogue.exercise(name) for name in names]
    situations = [caution for caution in cautions().values() if caution.kind == "situation"]
    chances = committed.manifest["chance_of_block"]
    numbers, cited = _numbers_used(committed, exercises)
    return render(
        "rationale.html",
        committed=committed,
        manifest=committed.manifest,
        block=block,
        decision=decision,
        everybody=everybody,
        people=[
            {"name": lifter.name, "sections": sections_of(committed, lifter)}
            for lifter in committed.lifters[:_PEOPLE_WITH_FIGURES]
        ],
        left_out=left_out_of_block(block, committed.lifters, catalogue),
        always_shown=always_shown(),
        chances=Table(
            "Chance that every rep of the block is made",
            ("lifter", "chance"),
            tuple((lifter.name, in_words(float(chances[lifter.name]))) for lifter in committed.lifters),
        ),
        cautions=[f"{one.sentence} Ask: {one.who_to_see}." for one in (*general_cautions(), *situations)],
        cautions_of_exercises=[
            f"{', '.join(concerned)}: {caution.sentence} Ask: {caution.who_to_see}."
            for caution, concerned in cautions_for(exercises).items()
        ],
        numbers=numbers,
        cited=cited,
        block_text=read_whole(committed.path / "block.toml", MAX_BYTES).decode("utf-8-sig"),
        record=track_record(committed.path.parent).sentences(),
        drawing_library=get_plotlyjs(),
        colours=variables(dark=""),
        dark_for_light=dark_for_light(),
    )


def _numbers_used(committed: Committed, exercises: list[Exercise]) -> tuple[Table, list[Source]]:
    """Return the parameters that predicted, as they were committed, and the sources behind the page."""
    classes = {exercise.endurance_class for exercise in exercises}
    kept = read_whole(committed.path / "parameters" / "parameters.csv", MAX_BYTES).decode("utf-8")
    rows = [
        row
        for row in csv.DictReader(io.StringIO(kept, newline=""))
        if row["quantity"] != "endurance" or row["group"] in classes
    ]
    columns = ("quantity", "group", "value", "spread", "unit", "grade")
    cells = tuple(
        (*(row[column].replace("_", " ") for column in columns), row["source"].replace(";", "; ")) for row in rows
    )
    keys = {key.strip() for row in rows for key in row["source"].replace(",", ";").split(";")}
    cited = [sources()[key] for key in sorted(keys | _OTHER_SOURCES) if key in sources()]
    return Table("Numbers used", (*columns, "source"), cells, texts=(0, 1, 4, 5, 6)), cited
