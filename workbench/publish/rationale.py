"""The rationale of a committed block: one page that opens anywhere, offline, and says what was decided and why."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from plotly.offline import get_plotlyjs

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.compare import Comparison, compare_blocks
from workbench.answers.unsure import unsure_check
from workbench.answers.volume import VolumeAnswer, volume_question
from workbench.figures.block_map import block_map, reserve_bands
from workbench.figures.compare import difference_bands, scheme_bands
from workbench.figures.figure import Figure
from workbench.figures.volume import muscle_sets_figure, zones_figure
from workbench.gym.catalogue import cautions, cautions_for, general_cautions
from workbench.present.colours import dark_for_light, variables
from workbench.present.pages import render
from workbench.present.tables import Table
from workbench.present.words import (
    in_words,
    load_said,
    mass_in,
    mean_and_band,
    outcome_named,
    outcome_said,
    reps_said,
    reserve_said,
    rest_said,
    set_forecast,
)
from workbench.publish.commit import Committed, read_committed
from workbench.publish.sheets import always_shown
from workbench.publish.track_record import track_record
from workbench.quantities import InputError
from workbench.reference.sources import Source, claims, sources
from workbench.reference.toml_files import MAX_BYTES
from workbench.reference.whole_files import check_free, read_whole, write_whole

if TYPE_CHECKING:
    from workbench.gym.catalogue.vocabulary import Exercise
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["find_chromium", "rationale_html", "write_pdf", "write_rationale"]

#: Figures are drawn for so many lifters; the others have their row in the table of chances, and their sheets.
_PEOPLE_WITH_FIGURES: Final = 12
#: Outcomes of which the page shows the difference on the same days.
_PAIRED: Final = ("lowest_reserve", "missed_reps", "hard_sets", "tonnage", "strength_change")
#: Sources of what the comparison and the volume section rest on, besides those of the parameters used.
_OTHER_SOURCES: Final = {
    *("ralston_2017", "latella_2020", "latella_2024", "ahtiainen_2016", "pelland_2024", "robinson_2024")
}
_CHROMIUM: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
_WAIT_S: Final = 180
_LARGEST_PDF: Final = 500_000_000


@dataclass(frozen=True)
class _Drawn:
    """A figure of the page: its label, the call that makes it (shown behind it), its data."""

    label: str
    call: str
    content: dict[str, Any]

    @classmethod
    def of(cls, label: str, call: str, figure: Figure) -> _Drawn:
        return cls(label, call, json.loads(figure.to_json()))


@dataclass(frozen=True)
class _Section:
    """What a section shows of one person; ``folded``: tables that open on a click, by what to click on."""

    figures: tuple[_Drawn, ...] = ()
    said: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    folded: Mapping[str, Table] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


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
    block, decision, catalogue = committed.block, committed.decision, committed.room.catalogue
    names = dict.fromkeys(slot.exercise for session in block.expanded_sessions() for slot in session.exercises)
    exercises = [catalogue.exercise(name) for name in names]
    situations = [caution for caution in cautions().values() if caution.kind == "situation"]
    chances = committed.manifest["chance_of_block"]
    why_not = tuple((other.name, other.why_not or "no reason recorded") for other in decision.alternatives)
    numbers, cited = _numbers_used(committed, exercises)
    blocks = _named_blocks(committed)
    return render(
        "rationale.html",
        committed=committed,
        manifest=committed.manifest,
        block=block,
        decision=decision,
        everybody=everybody,
        people=[
            {"name": lifter.name, "sections": _sections(committed, blocks, lifter)}
            for lifter in committed.lifters[:_PEOPLE_WITH_FIGURES]
        ],
        always_shown=always_shown(),
        chances=Table(
            "Chance that every rep of the block is made",
            ("lifter", "chance"),
            tuple((lifter.name, in_words(float(chances[lifter.name]))) for lifter in committed.lifters),
        ),
        alternatives=Table("Looked at and not taken", ("block", "why not"), why_not, texts=(0, 1)),
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


def _sections(committed: Committed, blocks: dict[str, Block], lifter: Lifter) -> dict[str, _Section]:
    """Return the sections of one person, worked out with the seed and the draws that were committed."""
    manifest, room = committed.manifest, committed.room
    run: dict[str, Any] = {"draws": manifest["draws"], "seed": manifest["seed"], "form": committed.form}
    check = check_block(committed.block, lifter, room, **run)
    sections = {"predictions": _predictions(check), "volume": _volume(volume_question(check.outcome))}
    if len(blocks) > 1:
        try:
            comparison = compare_blocks(blocks, lifter, room, **run)
        except InputError as error:  # an alternative may ask for a lift that this lifter does not have
            sections["alternatives"] = _Section(said=(f"Not compared: {error}",))
        else:
            sections["alternatives"] = _alternatives(comparison, committed.block.name)
    return sections


def _named_blocks(committed: Committed) -> dict[str, Block]:
    """Return the chosen block first, then the others, each under a name of its own."""
    blocks = {committed.block.name: committed.block}
    for other in committed.decision.alternatives:
        name, number = other.name, 2
        while name in blocks:
            name, number = f"{other.name} ({number})", number + 1
        blocks[name] = other.block
    return blocks


def _alternatives(comparison: Comparison, chosen: str) -> _Section:
    pairs = comparison.pairs
    reserves = pairs[pairs["outcome"] == "lowest_reserve"]
    figures = [
        _Drawn.of(
            f"Schemes by {outcome.replace('_', ' ')}",
            f'scheme_bands(comparison.ordered("{outcome}"))',
            scheme_bands(comparison.ordered(outcome)),
        )
        for outcome in ("all_reps", "lowest_reserve")
    ]
    figures.append(
        _Drawn.of(
            "Differences of the lowest reps in reserve",
            'difference_bands(comparison.pairs[comparison.pairs["outcome"] == "lowest_reserve"])',
            difference_bands(reserves),
        )
    )
    names = tuple(comparison.values)
    outcomes = [
        _outcome_cells(rows.to_dict("records"), names) for _, rows in comparison.schemes.groupby("outcome", sort=False)
    ]
    shown = pairs[((pairs["a"] == chosen) | (pairs["b"] == chosen)) & pairs["outcome"].isin(_PAIRED)]
    against = Table(
        f"{chosen} against each other block, on the same simulated days",
        ("outcome", "against", "difference", "middle 80 %", "higher in", "the same in"),
        tuple(_pair_cells(row, chosen) for row in shown.to_dict("records")),
        texts=(0, 1),
    )
    means = Table("Outcomes: mean, and middle 80 % of the simulated runs", ("outcome", *names), tuple(outcomes))
    return _Section(tuple(figures), tables=(means, against))


def _outcome_cells(rows: list[dict[Any, Any]], names: tuple[str, ...]) -> tuple[str, ...]:
    first, by_scheme = rows[0], {row["scheme"]: row for row in rows}
    label = outcome_named(first) + (" (assumed)" if first["grade"] == "assumed" else "")
    return (label, *(outcome_said(by_scheme[name]) for name in names))


def _pair_cells(row: Mapping[Any, Any], chosen: str) -> tuple[str, ...]:
    turned = row["a"] != chosen
    sign = -1.0 if turned else 1.0
    low, high = sorted((sign * row["p10"], sign * row["p90"]))
    other, chance = (row["a"], row["chance_b"]) if turned else (row["b"], row["chance_a"])
    return (
        outcome_named(row),
        other,
        *mean_and_band(sign * row["difference"], low, high, signed=True),
        in_words(chance),
        in_words(row["chance_same"]),
    )


def _predictions(check: BlockCheck) -> _Section:
    unsure = unsure_check(check)
    weeks = Table(
        "Weeks and sessions",
        ("week", "session", "all reps", "reps missed", "fewest reps in reserve", "minutes"),
        tuple(
            (
                f"week {row['week']}",
                row["session"],
                in_words(row["chance"]),
                "" if np.isnan(row["missed"]) else f"{row['missed']:.1f}",
                ""
                if np.isnan(row["reserve"])
                else reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"]),
                f"{row['minutes']:.0f}",
            )
            for row in check.weeks.to_dict("records")
        ),
        texts=(0, 1),
    )
    sets = Table(
        "Sets",
        ("week", "session", "exercise", "set", "load", "% of 1RM", "reps", "rest", "all reps", "reps in reserve"),
        tuple(map(_set_cells, check.sets.to_dict("records"))),
        texts=(0, 1, 2, 3),
    )
    return _Section(
        figures=(
            _Drawn.of(
                "Chance that every rep is made",
                "block_map(check.sets, wanted=check.plan.block.limits.chance_of_reps)",
                block_map(check.sets, wanted=check.plan.block.limits.chance_of_reps),
            ),
            _Drawn.of("Fewest reps in reserve by week", "reserve_bands(check.weeks)", reserve_bands(check.weeks)),
        ),
        said=(*check.sentences(), *unsure.sentences()[1:]),
        folded={
            "Table of weeks": weeks,
            "Table of every set": sets,
            "What is not known, and what is luck": unsure.share_table(),
        },
        notes=tuple(f"Note: {note}." for note in check.notes),
    )


def _set_cells(row: Mapping[Any, Any]) -> tuple[str, ...]:
    return (
        f"week {row['week']}",
        row["session"],
        row["exercise"],
        row["set"],
        load_said(row),
        f"{row['percent']:.1f}",
        reps_said(row["reps_low"], row["reps_high"]),
        rest_said(row["rest_s"]),
        in_words(row["chance"]),
        set_forecast(row),
    )


def _band(middle: float, low: float, high: float) -> str:
    return "" if np.isnan(middle) else f"{middle:.1f} ({low:.1f} to {high:.1f})"


def _volume(answer: VolumeAnswer) -> _Section:
    fullest = int(answer.weeks.sort_values("sets", kind="stable")["week"].iloc[-1])
    title = f"Sets for each muscle, week {fullest}"
    weeks = Table(
        "Volume and intensity by week",
        ("week", "sets", "hard sets", "lifts", f"tonnage, {answer.unit}", "mean % of 1RM", "minutes"),
        tuple(
            (
                f"week {row['week']}",
                f"{row['sets']:.0f}",
                _band(row["hard"], row["hard_low"], row["hard_high"]),
                f"{row['lifts']:.0f}",
                f"{mass_in(row['tonnage_kg'], answer.unit):,.0f}",
                f"{row['intensity_percent']:.1f}",
                f"{row['minutes']:.0f}",
            )
            for row in answer.weeks.to_dict("records")
        ),
    )
    lifts = answer.zones.pivot_table(index="zone", columns="week", values="lifts", sort=False)
    zones = Table(
        "Lifts by zone of intensity",
        ("zone of 1RM", *(f"week {week}" for week in lifts.columns)),
        tuple((str(zone), *(f"{count:.0f}" for count in counts)) for zone, *counts in lifts.itertuples()),
    )
    return _Section(
        figures=(
            _Drawn.of(
                title,
                f'muscle_sets_figure(answer.muscles, claims(), week={fullest}, title="{title}")',
                muscle_sets_figure(answer.muscles, claims(), week=fullest, title=title),
            ),
            _Drawn.of(
                "Lifts by zone of intensity",
                "zones_figure(answer.zones, claims())",
                zones_figure(answer.zones, claims()),
            ),
        ),
        tables=(weeks, zones),
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
    cells = tuple((*(row[column].replace("_", " ") for column in columns), row["source"]) for row in rows)
    keys = {key.strip() for row in rows for key in row["source"].replace(",", ";").split(";")}
    cited = [sources()[key] for key in sorted(keys | _OTHER_SOURCES) if key in sources()]
    return Table("Numbers used", (*columns, "source"), cells, texts=(0, 1, 4, 5, 6)), cited


def find_chromium() -> str | None:
    """Path of a Chromium or one of its relatives; None where there is none."""
    return next((found for name in _CHROMIUM if (found := shutil.which(name))), None)


def write_pdf(committed: str | Path, output: str | Path, *, replace: bool = False) -> Path:
    """Write the rationale of a committed block as PDF, all lifters one below the other, by a Chromium that is there.

    Raises
    ------
    InputError
        Where no Chromium is found, it fails, or the file is there already (unless ``replace``) or cannot be written.
    """
    output = Path(output)
    check_free(output, replace=replace)
    browser = find_chromium()
    if browser is None:
        raise InputError(output, "PDF", "no Chromium is found here", "write the .html and print it from any browser")
    text = rationale_html(read_committed(committed), everybody=True)
    with tempfile.TemporaryDirectory() as folder:
        page, made = Path(folder) / "rationale.html", Path(folder) / "rationale.pdf"
        write_whole(page, text)
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--no-sandbox",  # needed where the user is root, as in containers; the page is our own
            "--disable-background-networking",
            f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer",
            "--virtual-time-budget=20000",
            f"--print-to-pdf={made}",
            page.as_uri(),
        ]
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=_WAIT_S)
            content = read_whole(made, _LARGEST_PDF)
        except (subprocess.SubprocessError, OSError, InputError) as error:
            problem = f"could not be made ({type(error).__name__})"
            raise InputError(output, "PDF", problem, "write the .html and print it from a browser") from error
    return write_whole(output, content, replace=replace)
