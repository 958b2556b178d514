"""The exercises: names, muscles, implements, times and joint positions, and the spellings that lead to them.

Read from ``data/exercises.csv`` and its neighbours; a coach's own TOML file adds to them. Most of the catalogue is
trade knowledge and graded "assumed"; where a study speaks, the number carries its source and grade.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import cache, cached_property
from types import MappingProxyType
from typing import Final, cast

import numpy as np

from workbench.exercise_types import (
    ENDURANCE_CLASSES,
    IMPLEMENTS,
    MOVEMENT_PATTERNS,
    MUSCLES,
    SIDES,
    EnduranceClass,
    Exercise,
    Implement,
    MovementPattern,
    Muscle,
    MuscleShare,
    Sides,
)
from workbench.joint_cautions import cautions, cautions_for, general_cautions, joint_positions
from workbench.quantities import FloatArray, InputError
from workbench.sources import Grade, read_rows

__all__ = [
    "ENDURANCE_CLASSES",
    "IMPLEMENTS",
    "MOVEMENT_PATTERNS",
    "MUSCLES",
    "SIDES",
    "Catalogue",
    "EnduranceClass",
    "Exercise",
    "Implement",
    "MovementPattern",
    "Muscle",
    "MuscleShare",
    "Sides",
    "cautions",
    "cautions_for",
    "exercise",
    "exercises",
    "general_cautions",
    "joint_positions",
    "muscle_shares",
    "search",
    "use_own_exercises",
]

# One spelling for words that logs write in several ways. Applied after a plural's ending is gone.
_WORDS: Final = {
    "db": "dumbbell",
    "dumbell": "dumbbell",
    "bb": "barbell",
    "barbel": "barbell",
    "kb": "kettlebell",
    "1": "one",
    "single": "one",
    "2": "two",
    "armed": "arm",
    "legged": "leg",
    "flye": "fly",
    "calve": "calf",
    "bicep": "biceps",
    "tricep": "triceps",
}


def _words(text: str) -> list[str]:
    """Words of a name in one spelling: no case, accents, punctuation, plural or short form.

    >>> _words("Single-Arm DB Rows"), _words("Flyes"), _words("Calf Presses")
    (['one', 'arm', 'dumbbell', 'row'], ['fly'], ['calf', 'press'])
    """
    plain = unicodedata.normalize("NFKD", text).casefold()
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = re.sub("['`\u2018\u2019\u00b4]s?(?![^\\W_])", "", plain)
    return [_singular(word) for word in re.findall(r"[^\W_]+", plain)]


def _singular(word: str) -> str:
    if word.endswith(("sses", "ches", "shes")):
        word = word[:-2]
    elif word.endswith("ies") and len(word) > 4:
        word = word[:-3] + "y"
    elif word.endswith("s") and not word.endswith("ss") and len(word) > 2:
        word = word[:-1]
    return _WORDS.get(word, word)


def _key(text: str) -> str:
    """Spelling that is the same for "Pull ups", "pull-up" and "PULLUP"."""
    return "".join(_words(text))


class Catalogue:
    """A set of exercises under unique names, and the spellings that lead to them.

    Parameters
    ----------
    members : iterable of Exercise
        Names and aliases must not lead to two exercises.
    unclear : mapping of str to tuple of str
        Spellings that may mean several exercises; asking for one is an error that lists them.

    Raises
    ------
    InputError
        Where a name or an alias is already taken.
    """

    def __init__(self, members: Iterable[Exercise], unclear: Mapping[str, tuple[str, ...]] | None = None) -> None:
        self._by_name: dict[str, Exercise] = {}
        self._by_key: dict[str, str] = {}
        self.unclear = dict(unclear or {})
        for member in members:
            self._add(member)

    def _add(self, member: Exercise) -> None:
        for spelling in (member.name, *member.aliases):
            key = _key(spelling)
            taken = self._by_key.get(key)
            if not key or (taken is not None and taken != member.name) or member.name in self._by_name:
                problem = f"{spelling!r} already means {taken or member.name}" if key else f"{spelling!r} holds no word"
                raise InputError(None, f"exercise {member.name}", problem, "choose another name or alias")
            self._by_key[key] = member.name
        self._by_name[member.name] = member

    def with_own(self, own: Iterable[Exercise]) -> Catalogue:
        """Return a catalogue with more exercises; InputError if one would take the place of another."""
        return Catalogue([*self._by_name.values(), *own], self.unclear)

    @property
    def exercises(self) -> Mapping[str, Exercise]:
        """Exercises by name, in the order of the file."""
        return MappingProxyType(self._by_name)

    def exercise(self, name: str) -> Exercise:
        """Return the exercise that a spelling means (see the function of the same name)."""
        found = self._by_key.get(_key(name))
        if found is not None:
            return self._by_name[found]
        candidates = self._unclear_keys.get(_key(name)) or self._by_sorted_words.get(tuple(sorted(_words(name))), ())
        if len(candidates) == 1:
            return self._by_name[candidates[0]]
        shown = repr(name if len(name) <= 60 else name[:57] + "...")
        if candidates:
            choice = ", ".join(candidates[:-1]) + " or " + candidates[-1]
            raise InputError(None, "exercise", f"{shown} may mean several exercises", f"write {choice}")
        close = self._close(name)
        remedy = f"did you mean {' or '.join(close)}?" if close else "search the catalogue, or add an own exercise file"
        raise InputError(None, "exercise", f"unknown exercise {shown}", remedy)

    @cached_property
    def _unclear_keys(self) -> dict[str, tuple[str, ...]]:
        return {_key(spelling): names for spelling, names in self.unclear.items()}

    @cached_property
    def _by_sorted_words(self) -> dict[tuple[str, ...], tuple[str, ...]]:
        # "Bench press (barbell)" and "Press, bench, barbell" are met by the words without their order.
        found: dict[tuple[str, ...], tuple[str, ...]] = {}
        spellings = [(text, (one.name,)) for one in self._by_name.values() for text in (one.name, *one.aliases)]
        for spelling, names in [*spellings, *self.unclear.items()]:
            words = tuple(sorted(_words(spelling)))
            found[words] = tuple(dict.fromkeys((*found.get(words, ()), *names)))
        return found

    def _close(self, name: str) -> list[str]:
        # Twelve nearest spellings, as several may lead to the same exercise.
        near = difflib.get_close_matches(_key(name[:200]), list(self._by_key), n=12, cutoff=0.6)
        return list(dict.fromkeys(self._by_key[key] for key in near))[:3]

    def search(self, text: str) -> list[Exercise]:
        """Return the exercises that a text finds, best first (see the function of the same name)."""
        words = _words(text)
        ranked: list[tuple[int, int, Exercise]] = []
        for order, one in enumerate(self._by_name.values()):
            names = [_words(spelling) for spelling in (one.name, *one.aliases)]
            rest = _words(" ".join((one.movement_pattern, one.implement, one.sides, *one.equipment)))
            rest += [word for part in one.muscles for word in _words(part.muscle)]
            if any(_key(text) == "".join(spelling) for spelling in names):
                rank = 0
            elif _all_begin(words, names[0]):
                rank = 1
            elif any(_all_begin(words, spelling) for spelling in names):
                rank = 2
            elif _all_begin(words, [*names[0], *rest]):
                rank = 3
            else:
                continue
            ranked.append((rank, order, one))
        if not ranked:
            return [self._by_name[name] for name in self._close(text)]
        return [one for _, _, one in sorted(ranked, key=lambda item: item[:2])]

    @cached_property
    def muscle_shares(self) -> tuple[tuple[str, ...], tuple[Muscle, ...], FloatArray]:
        """Exercise names, muscles and the matrix of shares (see the function of the same name)."""
        column = {muscle: index for index, muscle in enumerate(MUSCLES)}
        matrix = np.zeros((len(self._by_name), len(MUSCLES)))
        for row, one in enumerate(self._by_name.values()):
            for part in one.muscles:
                matrix[row, column[part.muscle]] = part.share
        matrix.flags.writeable = False
        return tuple(self._by_name), MUSCLES, matrix


def _all_begin(words: list[str], within: list[str]) -> bool:
    return all(any(other.startswith(word) for other in within) for word in words)


def _parts(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


@cache
def _shipped() -> Catalogue:
    shares: dict[str, list[MuscleShare]] = {}
    for row in read_rows("muscle_shares.csv"):
        shares.setdefault(row["exercise"], []).append(
            MuscleShare(
                muscle=cast("Muscle", row["muscle"]),
                share=float(row["share"]),
                grade=cast("Grade", row["grade"]),
                source=row["source"],
                reason=row["reason"],
            )
        )
    aliases: dict[str, list[str]] = {}
    unclear: dict[str, tuple[str, ...]] = {}
    for row in read_rows("exercise_aliases.csv"):
        names = _parts(row["exercise"])
        if len(names) == 1:
            aliases.setdefault(names[0], []).append(row["alias"])
        else:
            unclear[row["alias"]] = names
    return Catalogue((_from_row(row, shares, aliases) for row in read_rows("exercises.csv")), unclear)


def _from_row(
    row: dict[str, str], shares: Mapping[str, list[MuscleShare]], aliases: Mapping[str, list[str]]
) -> Exercise:
    return Exercise(
        name=row["name"],
        movement_pattern=cast("MovementPattern", row["movement_pattern"]),
        implement=cast("Implement", row["implement"]),
        sides=cast("Sides", row["sides"]),
        equipment=_parts(row["equipment"]),
        endurance_class=cast("EnduranceClass", row["endurance_class"]),
        range_of_motion=row["range_of_motion"],
        joint_positions=_parts(row["joint_positions"]),
        setup_s=float(row["setup_s"]),
        change_load_s=float(row["change_load_s"]),
        seconds_per_rep=float(row["seconds_per_rep"]),
        body_mass_share=float(row["body_mass_share"]),
        source=row["source"],
        grade=cast("Grade", row["grade"]),
        body_mass_source=row["body_mass_source"],
        body_mass_grade=cast("Grade", row["body_mass_grade"]),
        muscles=tuple(shares.get(row["name"], ())),
        aliases=tuple(aliases.get(row["name"], ())),
    )


_own: list[Catalogue] = []


def _current() -> Catalogue:
    return _own[0] if _own else _shipped()


def use_own_exercises(own: Iterable[Exercise]) -> None:
    """Add a coach's own exercises to the catalogue of this process, in place of those added before.

    Parameters
    ----------
    own : iterable of Exercise
        As from ``workbench.own_exercises.read_exercise_file``; empty to go back to the shipped catalogue.

    Raises
    ------
    InputError
        Where a name or alias already means another exercise. The catalogue then stays as it was.
    """
    added = tuple(own)
    merged = _shipped().with_own(added) if added else None
    _own[:] = [merged] if merged is not None else []


def exercises() -> Mapping[str, Exercise]:
    """All exercises by name, own ones last."""
    return _current().exercises


def exercise(name: str) -> Exercise:
    """Return the exercise that a name, an alias or another spelling of either means.

    Case, hyphens, spaces, plurals, the order of words and short forms (DB, BB, KB, single-arm) do not matter.

    Raises
    ------
    InputError
        Unknown: with up to three close names. A word that may mean several exercises: with their names.

    Examples
    --------
    >>> exercise("DB curls").name, exercise("Pullups").name, exercise("RDL").name
    ('dumbbell curl', 'pull-up', 'Romanian deadlift')
    """
    return _current().exercise(name)


def search(text: str) -> list[Exercise]:
    """Exercises whose name, aliases, pattern, implement, equipment or muscles hold all words of a text.

    Names come before aliases, aliases before the rest; if nothing is found, up to three close names. An empty
    text finds all.

    Examples
    --------
    >>> [one.name for one in search("kettlebell squat")]
    ['kettlebell goblet squat']
    """
    return _current().search(text)


def muscle_shares() -> tuple[tuple[str, ...], tuple[Muscle, ...], FloatArray]:
    """Share of each muscle in each exercise.

    Returns
    -------
    names : tuple of str
        Exercises, one a row.
    muscles : tuple of str
        One a column: ``MUSCLES``.
    shares : array, shape (exercises, muscles), [1], 0 to 1
        1 direct, 0.5 indirect where nothing better is known, 0 where the muscle does not count. Read-only. Source
        and grade of each number stand in ``Exercise.muscles``.
    """
    return _current().muscle_shares
