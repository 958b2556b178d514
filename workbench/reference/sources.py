"""Where the data lie and where each number comes from. The only module that knows the data directory."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from workbench.quantities import InputError

__all__ = ["Claim", "Source", "claims", "code_path", "data_path", "notebooks_path", "read_rows", "sources"]


_PACKAGE = Path(__file__).resolve().parents[1]


def _shipped(folder: str) -> Path:
    inside = _PACKAGE / f"_{folder}"  # in an installed wheel
    return inside if inside.is_dir() else _PACKAGE.parent / folder  # in a checkout


def data_path(*parts: str) -> Path:
    """Path of a shipped data file or folder, in a checkout as in an installed wheel."""
    return _shipped("data").joinpath(*parts)


def code_path() -> Path:
    """Folder of this package's modules."""
    return _PACKAGE


def notebooks_path() -> Path:
    """Folder of the shipped notebooks (originals: work on a copy)."""
    return _shipped("notebooks")


def read_rows(*parts: str) -> list[dict[str, str]]:
    """Rows of a shipped CSV file (UTF-8, comma, header in the first line), every value as text."""
    path = data_path(*parts)
    try:
        with path.open(encoding="utf-8", newline="") as handle:
            return list(csv.DictReader(handle))
    except OSError as error:
        raise InputError(path, "file", f"cannot be read ({error.strerror})", "reinstall the package") from error


@dataclass(frozen=True)
class Source:
    """One row of ``data/sources.csv``.

    Attributes
    ----------
    key : str
        The short name that data files and docstrings cite.
    citation : str
        Authors, year, title, journal.
    doi : str
        Digital object identifier, empty where none is known.
    """

    key: str
    citation: str
    doi: str


@cache
def sources() -> dict[str, Source]:
    """All sources by key."""
    return {
        row["key"]: Source(key=row["key"], citation=row["citation"], doi=row["doi"]) for row in read_rows("sources.csv")
    }


@dataclass(frozen=True)
class Claim:
    """One row of ``data/evidence/claims.csv``: what studies say, or leave open, where a figure rests on it.

    Attributes
    ----------
    topic, claim : str
    caveat : str
        What to hold against it; may be empty.
    source : str
        Source keys with ";" between them; empty where no study says it.
    grade : str
    """

    topic: str
    claim: str
    caveat: str
    source: str
    grade: str

    def __str__(self) -> str:
        """Return the claim with its sources and grade."""
        if not self.source:
            return f"{self.grade.capitalize()}: {self.claim}"
        caveat = f"; {self.caveat}" if self.caveat else ""
        return f"{self.claim} ({self.source.replace(';', ', ')}, {self.grade}{caveat})"


@cache
def claims() -> dict[str, Claim]:
    """All claims by topic.

    >>> str(claims()["drops"])
    'Assumed: no study that could be read reports reps per drop'
    """
    return {row["topic"]: Claim(**row) for row in read_rows("evidence", "claims.csv")}
