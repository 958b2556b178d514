"""The exercises: names, muscles, implements, times and joint positions, and the spellings that lead to them.

Read from ``data/exercises.csv`` and its neighbours; a coach's own TOML file adds to them. Most of the catalogue is
trade knowledge and graded "assumed"; where a study speaks, the number carries its source and grade.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from functools import cache, cached_property
from pathlib import Path
from types import MappingProxyType
from typing import cast

import numpy as np

from workbench.gym.catalogue.own_file import read_own_exercises
from workbench.gym.catalogue.spelling import key_of, words_of
from workbench.gym.catalogue.vocabulary import (
    MUSCLES,
    EnduranceClass,
    Exercise,
    Implement,
    MovementPattern,
    Muscle,
    MuscleShare,
    Sides,
)
from workbench.quantities import FloatArray, Grade, InputError
from workbench.reference.sources import read_rows

__all__ = ["Catalogue", "exercise", "exercises", "muscle_shares", "read_exercise_file", "search", "use_own_exercises"]


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
            key = key_of(spelling)
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
        found = self._by_key.get(key_of(name))
        if found is not None:
            return self._by_name[found]
        candidates = self._unclear_keys.get(key_of(name)) or self._by_sorted_words.get(
            tuple(sorted(words_of(name))), ()
        )
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
        return {key_of(spelling): names for spelling, names in self.unclear.items()}

    @cached_property
    def _by_sorted_words(self) -> dict[tuple[str, ...], tuple[str, ...]]:
        # "Bench press (barbell)" and "Press, bench, barbell" are met by the words without their order.
        found: dict[tuple[str, ...], tuple[str, ...]] = {}
        spellings = [(text, (one.name,)) for one in self._by_name.values() for text in (one.name, *one.aliases)]
        for spelling, names in [*spellings, *self.unclear.items()]:
            words = tuple(sorted(words_of(spelling)))
            found[words] = tuple(dict.fromkeys((*found.get(words, ()), *names)))
        return found

    def _close(self, name: str) -> list[str]:
        # An alias must come nearer than a name: there are many, and some are short.
        key = key_of(name[:200])
        found: dict[str, float] = {}
        spellings: list[tuple[str, tuple[str, ...]]] = [(text, (target,)) for text, target in self._by_key.items()]
        for spelling, targets in [*spellings, *self._unclear_keys.items()]:
            needed = 0.6 if spelling == key_of(targets[0]) else 0.82
            matcher = difflib.SequenceMatcher(None, spelling, key)
            if matcher.real_quick_ratio() < needed or matcher.quick_ratio() < needed:
                continue
            ratio = matcher.ratio()
            if ratio >= needed:
                found.update({target: max(ratio, found.get(target, 0.0)) for target in targets})
        return sorted(found, key=lambda target: -found[target])[:3]

    def search(self, text: str) -> list[Exercise]:
        """Return the exercises that a text finds, best first (see the function of the same name)."""
        words = words_of(text)
        ranked: list[tuple[int, int, Exercise]] = []
        for order, one in enumerate(self._by_name.values()):
            names = [words_of(spelling) for spelling in (one.name, *one.aliases)]
            rest = words_of(" ".join((one.movement_pattern, one.implement, one.sides, *one.equipment)))
            rest += [word for part in one.muscles for word in words_of(part.muscle)]
            if any(key_of(text) == "".join(spelling) for spelling in names):
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
        limited_by=row["limited_by"],
        reach=float(row["reach"]),
        muscles=tuple(shares.get(row["name"], ())),
        aliases=tuple(aliases.get(row["name"], ())),
    )


_own: list[Catalogue] = []


def _current() -> Catalogue:
    return _own[0] if _own else _shipped()


def read_exercise_file(path: str | Path) -> tuple[Exercise, ...]:
    """Read a coach's own exercises from TOML and check that they take no other exercise's place.

    Returns
    -------
    tuple of Exercise
        To hand to ``use_own_exercises``; reading alone changes nothing.

    Raises
    ------
    InputError
        With file, place and remedy: see ``workbench.gym.catalogue.own_file``; also where a name or alias is taken.
    """
    own = read_own_exercises(path)
    try:
        _shipped().with_own(own)
    except InputError as error:
        raise InputError(path, error.place, error.problem, error.remedy) from None
    return own


def use_own_exercises(own: Iterable[Exercise]) -> None:
    """Add a coach's own exercises to the catalogue of this process, in place of those added before.

    Parameters
    ----------
    own : iterable of Exercise
        As from ``read_exercise_file``; empty to go back to the shipped catalogue.

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


def hands_of(name: str) -> int:
    """Return in how many hands the load of an exercise is halved: 2 for two dumbbells; 1 for names not known, too.

    >>> hands_of("dumbbell curl"), hands_of("goblet squat"), hands_of("no such exercise")
    (2, 1, 1)
    """
    return 2 if implement_of(name) == "dumbbells" else 1


def implement_of(name: str) -> str:
    """Return what an exercise is done with; empty for names not known."""
    try:
        return exercise(name).implement
    except InputError:
        return ""


def check_each_hand(name: str, each_hand: bool | None, keys: str) -> None:
    """Refuse a load that could be one dumbbell or both; ValueError with the remedy, for the readers of files.

    >>> check_each_hand("dumbbell curl", None, "kg")
    Traceback (most recent call last):
    ValueError: dumbbell curl: kg could be one dumbbell or both; add each_hand = true (one hand) or false (both)
    """
    if hands_of(name) == 2:
        if each_hand is None:
            raise ValueError(
                f"{name}: {keys} could be one dumbbell or both; add each_hand = true (one hand) or false (both)"
            )
    elif each_hand is not None:
        raise ValueError(f"{name}: is not done with two dumbbells; remove each_hand")


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
