"""Say whether a committed block is still what was committed, and whether its predicted digits come out again."""

from __future__ import annotations

import csv
import hashlib
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from workbench.commit.predictions import predict
from workbench.commit.record import (
    MANIFEST,
    Committed,
    data_digests,
    fingerprint_of,
    manifest_text,
    read_committed,
    version,
)
from workbench.quantities import InputError
from workbench.sources import data_path

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
        Files that are not what was committed, each in a sentence; empty where all are.
    differing : tuple of str
        Predictions that come out otherwise now, the first few of each table in a sentence.
    since : tuple of str
        What of this installation is not as it was then: version, data files.
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
        """Return the finding in a few lines."""
        lines = [f"{self.path.name}: {'same' if self.same else 'NOT the same'}"]
        lines += [f"  {text}" for text in self.changed]
        lines += [f"  {text}" for text in self.differing]
        lines += [f"  since then: {text}" for text in self.since]
        if self.same:
            lines.append("  every file is as committed, and every predicted digit comes out again")
        return "\n".join(lines)


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
    if not (path / MANIFEST).is_file():
        raise InputError(path, "", "is no committed block", f"give a folder that holds {MANIFEST}")
    try:
        committed = read_committed(path)
    except InputError as error:
        return Verification(path, (str(error),), (), (), recomputed=False)
    changed = _changed(committed)
    manifest = committed.manifest
    since = _since(committed)
    try:
        again = predict(
            committed.block,
            committed.lifters,
            committed.room,
            draws=int(manifest["draws"]),
            seed=int(manifest["seed"]),
            form=committed.form,
        )
        differing = _differing(path / "predicted_sets.csv", again.sets) + _differing(
            path / "predicted_weeks.csv", again.weeks
        )
        if again.chances() != manifest["chance_of_block"]:
            differing.append(f"chance of the block: {manifest['chance_of_block']} then, {again.chances()} now")
    except (InputError, KeyError, OSError) as error:
        return Verification(path, (*changed, f"cannot be worked out again: {error}"), (), since, recomputed=False)
    return Verification(path, changed, tuple(differing), since, recomputed=True)


def _changed(committed: Committed) -> tuple[str, ...]:
    path, manifest = committed.path, committed.manifest
    found = []
    if (path / MANIFEST).read_bytes() != manifest_text(manifest).encode():
        found.append(f"{MANIFEST} was changed: it is not written as it was")
    if fingerprint_of(manifest) != manifest.get("fingerprint"):
        found.append(f"{MANIFEST} was changed: it does not give its fingerprint")
    listed = dict(manifest["files"])
    there = {one.relative_to(path).as_posix() for one in path.rglob("*") if not one.is_dir()} - {MANIFEST}
    found.extend(f"{name} is missing" for name in sorted(set(listed) - there))
    found.extend(f"{name} was added" for name in sorted(there - set(listed)))
    found.extend(
        f"{name} was changed"
        for name in sorted(there & set(listed))
        if hashlib.sha256((path / name).read_bytes()).hexdigest() != listed[name]
    )
    return tuple(found)


def _since(committed: Committed) -> tuple[str, ...]:
    found = []
    if committed.manifest["version"] != version():
        found.append(f"the workbench was version {committed.manifest['version']}, here it is {version()}")
    then, now = committed.manifest["data"], data_digests()
    for name in sorted(set(then) | set(now)):
        if then.get(name) == now.get(name):
            continue
        text = f"data file {name} is not the one used then"
        if name == "parameters.csv":
            text += _parameter_changes(committed.path / "parameters" / "parameters.csv")
        found.append(text)
    return tuple(found)


def _parameter_changes(then_path: Path) -> str:
    def rows(path: Path) -> dict[tuple[str, str], dict[str, Any]]:
        with path.open(encoding="utf-8", newline="") as handle:
            return {(row["quantity"], row["group"]): row for row in csv.DictReader(handle)}

    try:
        then, now = rows(then_path), rows(data_path("parameters.csv"))
    except (OSError, KeyError, UnicodeDecodeError):
        return ""
    names = [
        f"{quantity} of {group}" for quantity, group in then if then[quantity, group] != now.get((quantity, group))
    ]
    shown = ", ".join(names[:_SHOWN]) + (f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else "")
    return f" ({shown})" if names else ""


def _differing(then_path: Path, now: str) -> list[str]:
    try:
        then = then_path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return [f"{then_path.name} cannot be read"]
    if then == now:
        return []
    old, new = (list(csv.DictReader(io.StringIO(text))) for text in (then, now))
    if len(old) != len(new):
        return [f"{then_path.name}: {len(old)} rows then, {len(new)} now"]
    cells = [
        (before, column, before[column], after[column])
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
