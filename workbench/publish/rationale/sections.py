"""What the rationale shows of one person: the short answers first, then the figures and tables behind them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.compare import Comparison, compare_blocks
from workbench.answers.exchange import left_out_of_plan
from workbench.answers.opening import how_sure, where_it_breaks
from workbench.answers.unsure import Unsure, unsure_check
from workbench.answers.volume import VolumeAnswer, volume_question
from workbench.figures.block_map import block_map, reserve_bands
from workbench.figures.compare import difference_bands, scheme_bands
from workbench.figures.figure import Figure
from workbench.figures.volume import muscle_sets_figure, zones_figure
from workbench.prescription.block import WHOLE_WEEK
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
from workbench.quantities import InputError
from workbench.reference.sources import claims

if TYPE_CHECKING:
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block
    from workbench.publish.commit import Committed

__all__ = ["Drawn", "Section", "sections_of"]

#: Outcomes of which the page shows the difference on the same days.
_PAIRED: Final = ("lowest_reserve", "missed_reps", "hard_sets", "tonnage", "strength_change")
#: Outcomes by which blocks stand beside each other at the top of the page, and how each is headed there.
_BESIDE: Final = {
    "missed_reps": "reps missed",
    "all_reps": "all reps made",
    "hard_sets": "hard sets a week (assumed)",
    "minutes": "minutes a week",
}
#: From here on decimals of a count are noise.
_WHOLE_FROM: Final = 10.0


@dataclass(frozen=True)
class Drawn:
    """A figure of the page: its label, the call that makes it (shown behind it), its data."""

    label: str
    call: str
    content: dict[str, Any]

    @classmethod
    def of(cls, label: str, call: str, figure: Figure) -> Drawn:
        """Return a figure ready for the page."""
        return cls(label, call, json.loads(figure.to_json()))


@dataclass(frozen=True)
class Section:
    """What a section shows of one person; ``folded``: tables that open on a click, by what to click on."""

    figures: tuple[Drawn, ...] = ()
    said: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    folded: Mapping[str, Table] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def sections_of(committed: Committed, lifter: Lifter) -> dict[str, Section]:
    """Return the sections of one person, worked out with the seed and the draws that were committed.

    Parameters
    ----------
    committed : Committed
    lifter : Lifter
        One of those that the block was committed for.

    Returns
    -------
    dict of str to Section
        In short: "beside" (where other blocks were looked at), "expected", "unsure"; in detail: "alternatives" (as
        "beside"), "predictions", "volume".
    """
    manifest, room = committed.manifest, committed.room
    run: dict[str, Any] = {"draws": manifest["draws"], "seed": manifest["seed"], "form": committed.form}
    check = check_block(committed.block, lifter, room, **run)
    unsure, volume = unsure_check(check), volume_question(check.outcome)
    sections = {
        "expected": _expected(check, volume),
        "unsure": _unsure(check, unsure),
        "predictions": _predictions(check, unsure),
        "volume": _volume(volume),
    }
    blocks = _named_blocks(committed)
    if len(blocks) > 1:
        try:
            comparison = compare_blocks(blocks, lifter, room, **run)
        except InputError as error:  # an alternative may ask for a lift that this lifter does not have
            sections["beside"] = Section(said=(f"Not compared: {error}",))
        else:
            sections["beside"] = _beside(comparison)
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


def _beside(comparison: Comparison) -> Section:
    """Return the chosen block and the others in a few numbers."""
    rows = []
    for name, values in comparison.values.items():
        means = {key: float(values[key].mean()) for key in _BESIDE}
        rows.append((name, *(in_words(mean) if key == "all_reps" else _count(mean) for key, mean in means.items())))
    headings = ("block", *_BESIDE.values())
    return Section(tables=(Table("The block taken, and the others, on the same days", headings, tuple(rows)),))


def _expected(check: BlockCheck, volume: VolumeAnswer) -> Section:
    """Return what will be missed and where, and the weeks in a few numbers."""
    weeks = check.weeks[check.weeks["session"] == WHOLE_WEEK].merge(volume.weeks, on="week")
    rows = tuple(
        (
            f"{row['week']}",
            f"{row['sets']:.0f}",
            f"{row['intensity_percent']:.0f}",
            _count(row["missed"]),
            in_words(row["chance"]),
            "" if np.isnan(row["reserve"]) else reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"]),
        )
        for row in weeks.to_dict("records")
    )
    headings = ("week", "sets", "mean % of 1RM", "reps missed", "all reps made", "fewest reps in reserve")
    where = where_it_breaks(check.sets, check.limit, check.first_break)
    rules = () if check.rules is None else check.rules.sentences()
    return Section(
        said=tuple(line for line in (check.headline, where, *rules) if line),
        tables=(Table("Week by week", headings, rows),),
    )


def _unsure(check: BlockCheck, unsure: Unsure) -> Section:
    """Return how sure the forecast is, what would settle most, and what else to know before acting on it."""
    known = how_sure(check.outcome, check.sets)
    said = unsure.sentences() if unsure.about is None else [known, unsure.settles()]
    with_cautions = left_out_of_plan(check.plan)  # they head the cautions
    notes = tuple(f"Note: {note}." for note in check.notes if note not in with_cautions)
    return Section(said=tuple(line for line in said if line), notes=notes)


def _count(value: float) -> str:
    """Return a count without decimals that are noise; nothing where there is none."""
    if np.isnan(value):
        return ""
    return f"{value:.0f}" if value >= _WHOLE_FROM else f"{value:.1f}"


def _alternatives(comparison: Comparison, chosen: str) -> Section:
    pairs = comparison.pairs
    reserves = pairs[pairs["outcome"] == "lowest_reserve"]
    figures = [
        Drawn.of(
            f"Schemes by {outcome.replace('_', ' ')}",
            f'scheme_bands(comparison.ordered("{outcome}"))',
            scheme_bands(comparison.ordered(outcome)),
        )
        for outcome in ("all_reps", "lowest_reserve")
    ]
    figures.append(
        Drawn.of(
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
    return Section(tuple(figures), tables=(means, against))


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


def _predictions(check: BlockCheck, unsure: Unsure) -> Section:
    weeks = Table(
        "Weeks and sessions",
        ("week", "session", "all reps", "reps missed", "fewest reps in reserve", "minutes"),
        tuple(
            (
                f"{row['week']}",
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
    folded = {
        "Table of weeks": weeks,
        "Table of every set": sets,
        "What is not known, and what is luck": unsure.share_table(),
    }
    bands = Drawn.of("Fewest reps in reserve by week", "reserve_bands(check.weeks)", reserve_bands(check.weeks))
    said = () if unsure.about is None else (unsure.where(), unsure.why(), unsure.ends())
    return Section((*_maps(check), bands), said=said, folded=folded)


def _maps(check: BlockCheck) -> list[Drawn]:
    """Return a map for each session, which fits on a sheet of paper; a whole block does not."""
    maps = []
    for number, session in enumerate(check.plan.sessions, start=1):
        of_session = check.sets[check.sets["session_number"] == number]
        call = (
            f'block_map(check.sets[check.sets["session_number"] == {number}], '
            f"title=escape(check.plan.sessions[{number - 1}].name), wanted=check.limit)"
        )
        figure = block_map(of_session, title=escape(session.name), wanted=check.limit)
        maps.append(Drawn.of(f"Chance that every rep is made, {session.name}", call, figure))
    return maps


def _set_cells(row: Mapping[Any, Any]) -> tuple[str, ...]:
    return (
        f"{row['week']}",
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


def _volume(answer: VolumeAnswer) -> Section:
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
    return Section(
        figures=(
            Drawn.of(
                title,
                f'muscle_sets_figure(answer.muscles, claims(), week={fullest}, title="{title}")',
                muscle_sets_figure(answer.muscles, claims(), week=fullest, title=title),
            ),
            Drawn.of(
                "Lifts by zone of intensity",
                "zones_figure(answer.zones, claims())",
                zones_figure(answer.zones, claims()),
            ),
        ),
        tables=(weeks, zones),
    )
