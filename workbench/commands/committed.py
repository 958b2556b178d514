"""``workbench commit``, ``verify``, ``sheet`` and ``rationale``: what is frozen, handed out and looked at again."""

from __future__ import annotations

import argparse
from collections.abc import Iterable

from workbench.answers.block_check import check_block
from workbench.answers.start_loads import with_ratios
from workbench.commands.arguments import CLOSING, lifter_and_room, room_of
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.present.words import in_words
from workbench.publish.commit import (
    Alternative,
    Decision,
    commit_block,
    differences,
    earlier_revisions,
    read_committed,
)
from workbench.publish.commit import verify as verified
from workbench.publish.rationale import write_pdf, write_rationale
from workbench.publish.sheets import make_sheet, write_page, write_workbook
from workbench.quantities import InputError
from workbench.reference.whole_files import check_free

__all__ = ["commit", "rationale", "sheet", "verify"]


def commit(arguments: argparse.Namespace) -> int:
    """Freeze a block with its lifters, predictions and the reason; print where."""
    if len(arguments.why_not) > len(arguments.instead_of):
        raise InputError(None, "--why-not", "is given more often than --instead-of", "give each block looked at first")
    block = read_block(arguments.block)
    looked_at = [read_block(path) for path in arguments.instead_of]
    reasons = arguments.why_not + [""] * (len(looked_at) - len(arguments.why_not))
    alternatives = tuple(Alternative(other.name, other, why) for other, why in zip(looked_at, reasons, strict=True))
    room = room_of(arguments)
    read = (read_lifter(path, room.catalogue, gym_numbers=not arguments.published_start) for path in arguments.lifter)
    lifters = [with_ratios(lifter, room, block) for lifter in read]
    committed = commit_block(
        block,
        lifters,
        room,
        Decision(reason=arguments.reason, decided_by=arguments.by, alternatives=alternatives),
        seed=arguments.seed,
        folder=arguments.to,
        draws=arguments.draws,
        start=arguments.start,
    )
    print(f"Committed: {committed.path} (fingerprint {committed.fingerprint[:16]})")
    for name, chance in committed.manifest["chance_of_block"].items():
        print(f"  {name}: {in_words(chance)} chance that all reps of the block are made")
    earlier = earlier_revisions(committed)
    if earlier:
        print(f"Changed since {earlier[-1].name}:")
        try:
            told = differences(read_committed(earlier[-1]), committed)
        except InputError as error:  # of the earlier one; this one is committed
            told = [f"cannot be told: {error}"]
        _print_indented(told or ["nothing"])
    for lifter in lifters:
        # What there is to note does not depend on the draws.
        for note in check_block(block, lifter, room, draws=10, seed=arguments.seed).notes:
            print(f"Note for {lifter.name}: {note}.")
    print(f"Sheets: {committed.path / 'sheets'}")
    print(CLOSING)
    return 0


def verify(arguments: argparse.Namespace) -> int:
    """Say whether committed blocks are what was committed, and their digits come out again; 1 where not."""
    found = [verified(path) for path in arguments.committed]
    print("\n".join(map(str, found)))
    if arguments.against:
        old = read_committed(arguments.against)
        for path in arguments.committed:
            new = read_committed(path)
            print(f"From {old.path.name} to {new.path.name}:")
            _print_indented(differences(old, new) or ["nothing changed"])
    return 0 if all(committed.same for committed in found) else 1


def sheet(arguments: argparse.Namespace) -> int:
    """Write the sheet of a block for one lifter; print the names."""
    output, kind = arguments.output, arguments.output.suffix.lower()
    writers = {".xlsx": write_workbook, ".html": write_page}
    if kind and kind not in writers:
        raise InputError(output, "output", f"{output.suffix} is no kind of sheet", "end the name in .xlsx or .html")
    if not output.name:
        raise InputError(output, "output", "is no name of a file", "give name.xlsx or name.html")
    paths = [output.with_suffix(ending) for ending in writers if kind in ("", ending)]
    for path in paths:
        check_free(path, replace=arguments.replace)
    block = read_block(arguments.block)
    lifter, room = lifter_and_room(arguments, block)
    check = check_block(block, lifter, room, draws=arguments.draws, seed=arguments.seed)
    options = {"if_then": not arguments.no_if_then, "forecast": arguments.forecast, "seed": arguments.seed}
    content = make_sheet(check, room, start=arguments.start, **options)
    for path in paths:
        print(writers[path.suffix](content, path, replace=arguments.replace))
    for note in check.notes:
        print(f"Note: {note}.")
    return 0


def rationale(arguments: argparse.Namespace) -> int:
    """Write the page that says what was decided, against what, and how sure it is; print its name."""
    kind = arguments.output.suffix.lower()
    writers = {".html": write_rationale, ".pdf": write_pdf}
    if kind not in writers:
        problem = f"{kind or 'no ending'} is not a kind of page"
        raise InputError(arguments.output, "output", problem, "end the name in .html or .pdf")
    written = writers[kind](arguments.committed, arguments.output, replace=arguments.replace)
    print(f"{written} ({written.stat().st_size / 1e6:.1f} MB)")
    return 0


def _print_indented(lines: Iterable[str]) -> None:
    print("\n".join(f"  {line}" for line in lines))
