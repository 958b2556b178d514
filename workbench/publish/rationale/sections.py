"""The sections of the page: what was decided, against what, what is predicted, with which numbers, how to repeat it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.gym.catalogue import cautions as known_cautions
from workbench.gym.catalogue import cautions_for, general_cautions
from workbench.present.words import amount, in_words, load_said, mass_in, percent_said, reps_said, reserve_said
from workbench.publish.rationale.markup import code, items, paragraph, table
from workbench.publish.sheets import always_shown
from workbench.reference.sources import sources
from workbench.reference.toml_files import MAX_BYTES
from workbench.reference.whole_files import read_whole

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_check import BlockCheck
    from workbench.answers.compare import Comparison
    from workbench.answers.volume import VolumeAnswer
    from workbench.publish.commit import Committed

__all__ = [
    "alternatives_table",
    "cautions",
    "decision",
    "difference_table",
    "head",
    "models",
    "prediction_tables",
    "reproduce",
    "volume_tables",
]

_MODELS: Final = """\
Load and reps, fresh: each rep costs the same share of strength; endurance differs between lifters and exercises.
Within a session: {form}. A set takes strength that returns in seconds and the ability to repeat that returns in \
minutes; exercises that share muscles pass fatigue on.
Each run of the simulation is one possible lifter living through one possible run of days. Other blocks are met by the \
same lifters and days, so differences are not luck.
Drops rest on the same model; no study that could be read reports reps for each drop (grade: assumed).
Strength change is a rough prior by years of training and weekly sets; it knows nothing of load.
Loads below 60 % or above 95 % of 1RM, rests under a minute and sets of more than about 20 reps lie at or beyond the \
edge of what was studied: extrapolations."""
#: Sources of what the comparison and the volume section rest on, besides those of the parameters used.
_OTHER_SOURCES: Final = (
    "ralston_2017",
    "latella_2020",
    "latella_2024",
    "ahtiainen_2016",
    "pelland_2024",
    "robinson_2024",
)


def head(committed: Committed) -> str:
    """Return title, what this is, and the navigation."""
    manifest = committed.manifest
    by = committed.decision.decided_by
    who = f" by {by}" if by else ""
    return (
        f"<h1>{escape(committed.block.name)}: why this block</h1>"
        + paragraph(
            f"Revision {committed.revision}, committed {manifest['committed_at']}{who}. "
            f"Fingerprint {committed.fingerprint[:16]}.",
            quiet=True,
        )
        + '<p class="cautions">'
        + escape(" ".join(always_shown()))
        + "</p>"
        + '<nav><a href="#decision">Decision</a><a href="#alternatives">Alternatives</a>'
        '<a href="#predictions">Predictions</a><a href="#volume">Volume and intensity</a>'
        '<a href="#cautions">Cautions</a><a href="#models">Models and sources</a>'
        '<a href="#reproduce">How to reproduce</a></nav>'
    )


def decision(committed: Committed) -> str:
    """Return the reason in the coach's words, and the chance for each lifter."""
    block = committed.block
    parts = ['<h2 id="decision">The decision</h2>', f"<blockquote>{escape(committed.decision.reason)}</blockquote>"]
    parts.append(
        paragraph(
            f"{block.name}: {block.weeks} weeks, {len(block.sessions)} sessions a week, in {committed.room.name}."
            + (f" {block.note}" if block.note else "")
        )
    )
    chances = committed.manifest["chance_of_block"]
    rows = [(one.name, in_words(float(chances[one.name]))) for one in committed.lifters]
    parts.append(table("Chance that every rep of the block is made", ("lifter", "chance"), rows))
    parts.append(
        paragraph(
            "A block in which a rep is missed here and there is not a bad block. The chance is that of no miss at all, "
            f"in {committed.manifest['draws']:,} simulated runs of the block.",
            quiet=True,
        )
    )
    return "".join(parts)


def alternatives_table(committed: Committed) -> str:
    """Return what else was looked at, and why it was not taken."""
    looked_at = committed.decision.alternatives
    if not looked_at:
        return paragraph("No other block was recorded with this decision.")
    rows = [(one.name, one.why_not or "no reason recorded") for one in looked_at]
    return table("Looked at and not taken", ("block", "why not"), rows, texts=(0, 1))


def difference_table(comparison: Comparison, chosen: str) -> str:
    """Return the mean of every outcome for every scheme, and how the chosen one differs on the same days."""
    names = list(comparison.values)
    rows = []
    for _, of_outcome in comparison.schemes.groupby("outcome", sort=False):
        first = of_outcome.iloc[0]
        share = first["unit"] == "1"
        grade = " (assumed)" if first["grade"] == "assumed" else ""
        records = {str(row["scheme"]): row for row in of_outcome.to_dict("records")}
        cells = [in_words(records[name]["mean"]) if share else _mean_and_band(records[name]) for name in names]
        unit = "" if share else f", {first['unit']}"
        rows.append((f"{first['label']}{unit}{grade}", *cells))
    text = table("Outcomes: mean, and middle 80 % of the simulated runs", ("outcome", *names), rows)
    pairs = comparison.pairs[(comparison.pairs["a"] == chosen) | (comparison.pairs["b"] == chosen)]
    lines = [_pair_words(row, chosen) for row in pairs.to_dict("records") if row["outcome"] in _PAIRED]
    return text + table(
        f"{chosen} against each other block, on the same simulated days",
        ("outcome", "against", "difference", "middle 80 %", "higher in", "the same in"),
        lines,
        texts=(0, 1),
    )


def _mean_and_band(row: Mapping[Any, Any]) -> str:
    return f"{amount(row['mean'])} ({amount(row['p10'])} to {amount(row['p90'])})"


_PAIRED: Final = ("lowest_reserve", "missed_reps", "hard_sets", "tonnage", "strength_change")


def _pair_words(row: Mapping[Any, Any], chosen: str) -> tuple[str, ...]:
    turned = row["a"] != chosen
    sign = -1.0 if turned else 1.0
    low, high = sorted((sign * row["p10"], sign * row["p90"]))
    other, chance = (row["a"], row["chance_b"]) if turned else (row["b"], row["chance_a"])
    return (
        f"{row['label']}, {row['unit']}",
        other,
        amount(sign * row["difference"], signed=True),
        f"{amount(low, signed=True)} to {amount(high, signed=True)}",
        in_words(chance),
        in_words(row["chance_same"]),
    )


def prediction_tables(check: BlockCheck) -> str:
    """Return the weeks, and every set behind a line that opens it."""
    week_rows = [
        (
            f"week {row['week']}",
            row["session"],
            in_words(row["chance"]),
            _reserve(row),
            f"{row['minutes']:.0f}",
        )
        for row in check.weeks.to_dict("records")
    ]
    set_rows = [
        (
            f"week {row['week']}",
            row["session"],
            row["exercise"],
            row["set"],
            load_said(row),
            f"{row['percent']:.1f}",
            reps_said(row["reps_low"], row["reps_high"]),
            f"{row['rest_s']:.0f}",
            "" if np.isnan(row["chance"]) else in_words(row["chance"]),
            f"{row['reps_p50']:.0f} reps"
            if np.isnan(row["reserve"])
            else reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"]),
        )
        for row in check.sets.to_dict("records")
    ]
    broken = (
        f"Every set has at least a {percent_said(check.limit)} chance that all its reps are made."
        if check.first_break is None
        else f"First set under {percent_said(check.limit)}: {check.first_break}."
    )
    weeks = table(
        "Weeks and sessions",
        ("week", "session", "all reps", "fewest reps in reserve", "minutes"),
        week_rows,
        texts=(0, 1),
    )
    sets = table(
        "Sets",
        ("week", "session", "exercise", "set", "load", "% of 1RM", "reps", "rest, s", "all reps", "reps in reserve"),
        set_rows,
        texts=(0, 1, 2, 3),
    )
    notes = items(f"Note: {warning}." for warning in check.notes)
    return (
        paragraph(broken)
        + f"<details><summary>Table of weeks</summary>{weeks}</details>"
        + f"<details><summary>Table of every set</summary>{sets}</details>"
        + notes
    )


def _reserve(row: Mapping[Any, Any]) -> str:
    return _band(row["reserve"], row["reserve_low"], row["reserve_high"])


def _band(middle: float, low: float, high: float) -> str:
    return "" if np.isnan(middle) else f"{middle:.1f} ({low:.1f} to {high:.1f})"


def volume_tables(answer: VolumeAnswer) -> str:
    """Return weekly volume and intensity, and lifts by zone."""
    rows = [
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
    ]
    weeks = table(
        "Volume and intensity by week",
        ("week", "sets", "hard sets", "lifts", f"tonnage, {answer.unit}", "mean % of 1RM", "minutes"),
        rows,
    )
    zones = answer.zones.pivot_table(index="zone", columns="week", values="lifts", sort=False)
    zone_rows = [(str(zone), *(f"{value:.0f}" for value in values)) for zone, values in _rows(zones)]
    return weeks + table(
        "Lifts by zone of intensity", ("zone of 1RM", *(f"week {week}" for week in zones.columns)), zone_rows
    )


def _rows(frame: pd.DataFrame) -> Iterable[tuple[object, Sequence[float]]]:
    return ((index, list(frame.loc[index])) for index in frame.index)


def cautions(committed: Committed) -> str:
    """Return the cautions: general ones, and those of the exercises in the block."""
    names = dict.fromkeys(slot.exercise for one in committed.block.expanded_sessions() for slot in one.exercises)
    chosen = [committed.room.catalogue.exercise(name) for name in names]
    situations = [one for one in known_cautions().values() if one.kind == "situation"]
    general = [f"{one.sentence} Ask: {one.who_to_see}." for one in (*general_cautions(), *situations)]
    special = [
        f"{', '.join(names)}: {caution.sentence} Ask: {caution.who_to_see}."
        for caution, names in cautions_for(chosen).items()
    ]
    return (
        '<h2 id="cautions">Cautions</h2>'
        + items(general)
        + "<h3>Of the exercises in this block</h3>"
        + items(special)
        + paragraph("Nothing here judges a complaint. What hurts is left out, and seen by a professional.", quiet=True)
    )


def models(committed: Committed) -> str:
    """Return which models and numbers predicted, how well each is known, and where it comes from."""
    names = dict.fromkeys(slot.exercise for one in committed.block.expanded_sessions() for slot in one.exercises)
    classes = {committed.room.catalogue.exercise(name).endurance_class for name in names}
    kept = read_whole(committed.path / "parameters" / "parameters.csv", MAX_BYTES).decode("utf-8")
    rows = [
        row
        for row in csv.DictReader(io.StringIO(kept, newline=""))
        if row["quantity"] != "endurance" or row["group"] in classes
    ]
    columns = ("quantity", "group", "value", "spread", "unit", "grade", "source")
    shown = [[row[column].replace("_", " ") for column in columns[:-1]] + [row["source"]] for row in rows]
    keys = {key.strip() for row in rows for key in row["source"].replace(",", ";").split(";") if key.strip()}
    known = sources()
    cited = [known[key] for key in sorted(keys | set(_OTHER_SOURCES)) if key in known]
    return (
        '<h2 id="models">Models and sources</h2>'
        + items(_MODELS.format(form=committed.form.name).splitlines())
        + table(
            "Numbers used",
            columns,
            shown,
            texts=(0, 1, 4, 5, 6),
        )
        + paragraph(
            "Grades: published, read in a paper; derived, computed from published numbers; recalled, remembered and "
            "not checked; assumed, a rule of thumb.",
            quiet=True,
        )
        + "<details><summary>Sources</summary>"
        + items(f"{one.key}: {one.citation}" + (f" doi:{one.doi}" if one.doi else "") for one in cited)
        + "</details>"
    )


def reproduce(committed: Committed, block_text: str) -> str:
    """Return how to get the same digits again."""
    manifest = committed.manifest
    folder = committed.path.name
    first = manifest["lifters"][0]["file"]
    commands = (
        f"workbench verify {folder}\n"
        f"workbench check {folder}/block.toml --lifter {folder}/{first} --room {folder}/room.toml "
        f"--draws {manifest['draws']} --seed {manifest['seed']}\n"
        f"workbench rationale {folder} -o rationale.html"
    )
    return (
        '<h2 id="reproduce">How to reproduce</h2>'
        + paragraph(
            f"Version {manifest['version']}, seed {manifest['seed']}, {manifest['draws']:,} simulated runs. In the "
            "folder that holds the committed block:"
        )
        + f"<pre><code>{escape(commands)}</code></pre>"
        + paragraph(
            "The first command says whether any file was changed and whether every predicted digit comes out again."
        )
        + code("The block as committed (TOML)", block_text)
        + paragraph(f"Fingerprint (SHA-256): {committed.fingerprint}", quiet=True)
    )
