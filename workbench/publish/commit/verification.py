"""Say whether a committed block is still what was committed, and whether its predicted digits come out again."""

from __future__ import annotations

import csv
import io
import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from workbench.publish.commit.contents import (
    LARGEST_FILE,
    MANIFEST,
    OWN_EXERCISES,
    code_digest,
    data_digests,
    digest,
    fingerprint_of,
    manifest_text,
    predict,
    read_manifest,
    version,
)
from workbench.publish.commit.record import read_committed
from workbench.quantities import InputError, visible
from workbench.reference.sources import data_path
from workbench.reference.whole_files import read_whole

__all__ = ["Verification", "verify"]

_SHOWN: Final = 5
_KEYS: Final = ("lifter", "week", "session", "exercise", "set")


@dataclass(frozen=True)
class Verification:
    """What `verify` found.

    Attributes
    ----------
    path : Path
    changed : tuple of str
        Files that are not what was committed, or are damaged, and how, each in a sentence; empty where all are.
    differing : tuple of str
        Predictions that come out otherwise now, the first few of each table in a sentence.
    since : tuple of str
        What of this installation is not as it was then: version, code, data files.
    recomputed : bool
        Whether the predictions could be worked out again.
    """

    path: Path
    changed: tuple[str, ...]
    differing: tuple[str, ...]
    since: tuple[str, ...]
    recomputed: bool

    @property
    def same(self) -> bool:
        """Whether no file was changed and every predicted digit comes out the same."""
        return self.recomputed and not self.changed and not self.differing

    def __str__(self) -> str:
        """Return the finding in a few lines; what a damaged file holds can move no cursor."""
        lines = [f"{self.path.name}: {'same' if self.same else 'NOT the same'}"]
        lines += [f"  {text}" for text in (*self.changed, *self.differing)]
        lines += [f"  since then: {text}" for text in self.since]
        if self.differing and not self.changed:
            cause = "what has changed in the workbench since then" if self.since else "another computer or library"
            lines.append(f"  every file is as committed: other digits come from {cause}")
        if self.same:
            lines.append("  every file is as committed, and every predicted digit comes out again")
        return visible("\n".join(lines), kept="\n")


def verify(path: str | Path) -> Verification:
    """Compare a committed block with its fingerprint, then work out its predictions again.

    Parameters
    ----------
    path : str or Path
        The committed folder. Nothing in it is written.

    Returns
    -------
    Verification
    """
    path = Path(path)
    if not os.path.lexists(path / MANIFEST):
        raise InputError(path, "", "is no committed block", f"give a folder that holds {MANIFEST}")
    try:
        manifest = read_manifest(path)
    except InputError as error:
        return Verification(path, (str(error),), (), (), recomputed=False)
    changed, since = _changed(path, manifest), _since(path, manifest)
    try:
        committed = read_committed(path)
        now = predict(
            committed.block,
            committed.lifters,
            committed.room,
            draws=manifest["draws"],
            seed=manifest["seed"],
            form=committed.form,
        )
        differing = _differing(path / "predicted_sets.csv", now.sets) + _differing(
            path / "predicted_weeks.csv", now.weeks
        )
        if now.chances() != manifest["chance_of_block"]:
            differing.append(f"chance of the block: {manifest['chance_of_block']} then, {now.chances()} now")
    # Files that were changed may ask for anything that their readers let pass.
    except (ValueError, LookupError, ArithmeticError, OSError, MemoryError, RecursionError) as error:
        why = str(error) or type(error).__name__
        return Verification(path, (*changed, f"cannot be worked out again: {why}"), (), since, recomputed=False)
    return Verification(path, changed, tuple(differing), since, recomputed=True)


def _changed(path: Path, manifest: Mapping[str, Any]) -> tuple[str, ...]:
    found = []
    # A lone surrogate is text to JSON, and to no file.
    if read_whole(path / MANIFEST, LARGEST_FILE) != manifest_text(manifest).encode("utf-8", "surrogatepass"):
        found.append(f"{MANIFEST} was changed: it is not written as it was")
    if fingerprint_of(manifest) != manifest["fingerprint"]:
        found.append(f"{MANIFEST} was changed: it does not give its fingerprint")
    listed, exercises = manifest["files"], manifest.get("exercises")
    named = {item["file"] for item in (*manifest["lifters"], *manifest["decision"]["alternatives"])}
    named |= {exercises} if exercises else set()
    if named != {name for name in listed if name.startswith(("lifters/", "alternatives/")) or name == OWN_EXERCISES}:
        told = "the lifters, alternatives and own exercises whose files it lists"
        found.append(f"{MANIFEST} was changed: it does not name {told}")
    # A link to a folder is no folder of this one.
    files = [file for file in path.rglob("*") if not stat.S_ISDIR(file.lstat().st_mode)]
    there = {file.relative_to(path).as_posix(): file for file in files if file != path / MANIFEST}
    found.extend(f"{name} is missing" for name in sorted(set(listed) - set(there)))
    found.extend(f"{name} was added" for name in sorted(set(there) - set(listed)))
    for name in sorted(set(there) & set(listed)):
        if there[name].is_symlink():
            found.append(f"{name} was changed: it is a link")
            continue
        try:
            if digest(there[name]) != listed[name]:
                found.append(f"{name} was changed")
        except InputError as error:
            found.append(f"{name} was changed: it {error.problem}")
    return tuple(found)


def _since(path: Path, manifest: Mapping[str, Any]) -> tuple[str, ...]:
    found = []
    if manifest["version"] != version():
        found.append(f"the workbench was version {manifest['version']}, here it is {version()}")
    elif manifest.get("code") not in {None, code_digest()}:
        found.append(f"the code of the workbench is not the one used then, though both are version {version()}")
    then, now = manifest["data"], data_digests()
    for name in sorted(name for name in {*then, *now} if then.get(name) != now.get(name)):
        text = f"data file {name} is not the one used then"
        if name == "parameters.csv":
            text += _parameter_changes(path / "parameters" / "parameters.csv")
        found.append(text)
    return tuple(found)


def _parameter_changes(then_path: Path) -> str:
    def rows(path: Path) -> dict[tuple[str, str], dict[str, Any]]:
        text = read_whole(path, LARGEST_FILE).decode("utf-8")
        return {(row["quantity"], row["group"]): row for row in csv.DictReader(io.StringIO(text, newline=""))}

    try:
        then, now = rows(then_path), rows(data_path("parameters.csv"))
    except (ValueError, KeyError, csv.Error):
        return ""
    names = [
        f"{quantity} of {group}" for quantity, group in then if then[quantity, group] != now.get((quantity, group))
    ]
    shown = ", ".join(names[:_SHOWN]) + (f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else "")
    return f" ({shown})" if names else ""


def _differing(then_path: Path, now: str) -> list[str]:
    try:
        then = read_whole(then_path, LARGEST_FILE).decode("utf-8")
        if then == now:
            return []
        old, new = (list(csv.DictReader(io.StringIO(text))) for text in (then, now))
    except (ValueError, csv.Error):
        return [f"{then_path.name} cannot be read"]
    if len(old) != len(new):
        return [f"{then_path.name}: {len(old)} rows then, {len(new)} now"]
    cells = [
        (before, column, before.get(column), after[column])
        for before, after in zip(old, new, strict=True)
        for column in after
        if before.get(column) != after[column]
    ]
    if not cells:
        return [f"{then_path.name} is written otherwise"]
    lines = [
        f"{', '.join(str(row[key]) for key in _KEYS if row.get(key))}: {column} {was} then, {comes} now"
        for row, column, was, comes in cells[:_SHOWN]
    ]
    if len(cells) > _SHOWN:
        lines.append(f"and {len(cells) - _SHOWN} more differences in {then_path.name}")
    return lines
