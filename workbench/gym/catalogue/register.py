"""The exercises: names, muscles, implements, times and joint positions, and the spellings that lead to them.

Read from ``data/exercises.csv`` and its neighbours. A catalogue is a value: a coach's own TOML files make another one,
carried by the room, the lifter and the plan; no call changes what a later one finds. Most of the catalogue is
trade knowledge and graded "assumed"; where a study speaks, the number carries its source and grade.
"""

from __future__ import annotations

import difflib
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Self

import numpy as np
from pydantic import PrivateAttr

from workbench.gym.catalogue.own_file import read_own_exercises
from workbench.gym.catalogue.spelling import key_of, words_of
from workbench.gym.catalogue.vocabulary import MUSCLES, Exercise, Muscle, MuscleShare, Parts, shipped
from workbench.quantities import FloatArray, InputError
from workbench.reference.sources import read_rows
from workbench.reference.toml_files import Strict

__all__ = [
    "Catalogue",
    "NamesExercises",
    "OwnFiles",
    "built_in",
    "catalogue_for",
    "exercise",
    "exercises",
]

#: Folders of a gym whose files are read with the own exercises in ``exercises/`` beside them.
_GYM_FOLDERS = ("rooms", "lifters")


class Catalogue:
    """A set of exercises under unique names, and the spellings that lead to them; it never changes.

    Spellings that are ``unclear`` may mean several exercises; asking for one is an error that lists them. InputError
    where a name or an alias is already taken. Pickled, a catalogue that was made from the built-in one takes only its
    ``own`` exercises along; None for one that was not made from it.
    """

    own: tuple[Exercise, ...] | None = None

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

    def with_own(self, exercises: Iterable[Exercise]) -> Catalogue:
        """Return a catalogue with more exercises, InputError where a spelling is taken; those added before stay."""
        added = tuple(member for member in exercises if member not in (self.own or ()))
        if not added:
            return self
        wider = Catalogue([*self._by_name.values(), *added], self.unclear)
        wider.own = None if self.own is None else (*self.own, *added)
        return wider

    def __reduce__(self) -> tuple[Any, ...]:
        """Take along what the built-in catalogue lacks."""
        if self.own is None:
            return Catalogue, (tuple(self._by_name.values()), self.unclear)
        return _built_in_with, (self.own,)

    def __eq__(self, other: object) -> bool:
        """Whether both hold the same exercises."""
        return isinstance(other, Catalogue) and (self._by_name, self.unclear) == (other._by_name, other.unclear)

    def __hash__(self) -> int:
        """Return the hash of the names."""
        return hash(tuple(self._by_name))

    @property
    def exercises(self) -> Mapping[str, Exercise]:
        """Exercises by name, in the order of the file."""
        return MappingProxyType(self._by_name)

    def exercise(self, name: str) -> Exercise:
        """Return the exercise that a name, an alias or another spelling of either means.

        Case, hyphens, spaces, plurals, the order of words and short forms (DB, BB, KB, single-arm) do not matter.

        Raises
        ------
        InputError
            Unknown: with up to three close names. A word that may mean several exercises: with their names.

        Examples
        --------
        >>> [built_in().exercise(text).name for text in ("DB curls", "Pullups", "RDL")]
        ['dumbbell curl', 'pull-up', 'Romanian deadlift']
        """
        candidates = self._meant(name)
        if len(candidates) == 1:
            return self._by_name[candidates[0]]
        shown = repr(name if len(name) <= 60 else name[:57] + "...")
        if candidates:
            choice = ", ".join(candidates[:-1]) + " or " + candidates[-1]
            raise InputError(None, "exercise", f"{shown} may mean several exercises", f"write {choice}")
        close = self._close(name)
        remedy = f"did you mean {' or '.join(close)}?" if close else "search the catalogue, or add an own exercise file"
        raise InputError(None, "exercise", f"unknown exercise {shown}", remedy)

    def knows(self, name: str) -> bool:
        """Whether a spelling means exactly one exercise."""
        return len(self._meant(name)) == 1

    def hands_of(self, name: str) -> int:
        """Return in how many hands the load is halved: 2 for two dumbbells; 1 for names not known, too.

        >>> [built_in().hands_of(name) for name in ("dumbbell curl", "goblet squat", "no such exercise")]
        [2, 1, 1]
        """
        return self.exercise(name).hands if self.knows(name) else 1

    def check_each_hand(self, name: str, each_hand: bool | None, keys: str) -> None:
        """Refuse a load that could be one dumbbell or both; ValueError with the remedy. Names not known pass.

        >>> built_in().check_each_hand("dumbbell curl", None, "kg")
        Traceback (most recent call last):
        ValueError: dumbbell curl: kg could be one dumbbell or both; add each_hand = true (one hand) or false (both)
        """
        if not self.knows(name):
            return
        if self.hands_of(name) == 1 and each_hand is not None:
            raise ValueError(f"{name}: is not done with two dumbbells; remove each_hand")
        if self.hands_of(name) == 2 and each_hand is None:
            raise ValueError(
                f"{name}: {keys} could be one dumbbell or both; add each_hand = true (one hand) or false (both)"
            )

    def _meant(self, name: str) -> tuple[str, ...]:
        """Return the names of the exercises that a spelling may mean."""
        key = key_of(name)
        if key in self._by_key:
            return (self._by_key[key],)
        return self._unclear_keys.get(key) or self._by_sorted_words.get(tuple(sorted(words_of(name))), ())

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
        matcher = difflib.SequenceMatcher(None, "", key)
        spellings: list[tuple[str, tuple[str, ...]]] = [(text, (target,)) for text, target in self._by_key.items()]
        for spelling, targets in [*spellings, *self._unclear_keys.items()]:
            needed = 0.6 if spelling == key_of(targets[0]) else 0.82
            matcher.set_seq1(spelling)
            if matcher.real_quick_ratio() < needed or matcher.quick_ratio() < needed:
                continue
            ratio = matcher.ratio()
            if ratio >= needed:
                found.update({target: max(ratio, found.get(target, 0.0)) for target in targets})
        return sorted(found, key=lambda target: -found[target])[:3]

    def search(self, text: str) -> list[Exercise]:
        """Exercises whose name, aliases, pattern, implement, equipment or muscles hold all words of a text.

        What the text means comes first, then what trains a muscle of that name directly ("abs", "lower back": the words
        of ``data/muscle_words.csv``), names before aliases before the rest; if nothing is found, up to three close
        names. An empty text finds all.

        >>> [found.name for found in built_in().search("kettlebell squat")]
        ['kettlebell goblet squat']
        """
        words, meant, muscles = words_of(text), self._meant(text), _muscles_by_word().get(key_of(text), set())
        ranked: list[tuple[int, Exercise]] = []
        for member, names, rest, everything in self._searched:
            is_meant = member.name in meant
            trains = bool(muscles) and not muscles.isdisjoint(member.direct_muscles)
            if not (is_meant or trains or _all_begin(words, everything)):
                continue
            ranks = (
                is_meant,
                trains,
                _all_begin(words, names[0]),
                any(_all_begin(words, spelling) for spelling in names),
                _all_begin(words, names[0] + rest),
            )
            if any(ranks):
                ranked.append((ranks.index(True), member))
        if not ranked:
            return [self._by_name[name] for name in self._close(text)]
        return [member for _, member in sorted(ranked, key=lambda entry: entry[0])]

    @cached_property
    def _searched(self) -> list[tuple[Exercise, list[str], str, str]]:
        """Return each exercise with its name and aliases in one spelling, the rest that is searched, and all of it."""
        searched = []
        for member in self._by_name.values():
            names = [_spaced(words_of(spelling)) for spelling in (member.name, *member.aliases)]
            others = (member.movement_pattern, member.implement, member.sides, *member.equipment)
            rest = [word for other in (*others, *(part.muscle for part in member.muscles)) for word in words_of(other)]
            searched.append((member, names, _spaced(rest), "".join(names) + _spaced(rest)))
        return searched

    def shares_of(self, names: Iterable[str]) -> FloatArray:
        """Share of each muscle in exercises of these catalogue names, shape (exercises, muscles), [1]."""
        return self.muscle_shares[2][[self._rows[name] for name in names]]

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {name: number for number, name in enumerate(self._by_name)}

    @cached_property
    def equipment(self) -> frozenset[str]:
        """All that any exercise needs besides its load: racks, benches, machines."""
        return frozenset(item for exercise in self._by_name.values() for item in exercise.equipment)

    @cached_property
    def muscle_shares(self) -> tuple[tuple[str, ...], tuple[Muscle, ...], FloatArray]:
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
        matrix = np.zeros((len(self._by_name), len(MUSCLES)))
        for row, member in enumerate(self._by_name.values()):
            for part in member.muscles:
                matrix[row, MUSCLES.index(part.muscle)] = part.share
        matrix.flags.writeable = False
        return tuple(self._by_name), MUSCLES, matrix


def _spaced(words: Iterable[str]) -> str:
    return "".join(f" {word}" for word in words)


def _all_begin(words: list[str], within: str) -> bool:
    # Asked of every exercise: a loop takes a third of the time of `all` over a generator.
    for word in words:  # noqa: SIM110
        if f" {word}" not in within:
            return False
    return True


@cache
def _muscles_by_word() -> Mapping[str, set[str]]:
    """Muscles that a word means in a gym, by its spelling; every muscle by its own name too."""
    spoken = {key_of(row["word"]): set(row["muscles"].split(";")) for row in read_rows("muscle_words.csv")}
    itself: dict[str, set[str]] = {key_of(muscle): {muscle} for muscle in MUSCLES}
    return itself | spoken


@cache
def built_in() -> Catalogue:
    """Return the shipped catalogue."""
    muscles: dict[str, list[MuscleShare]] = {}
    for row, share in zip(read_rows("muscle_shares.csv"), shipped(MuscleShare, "muscle_shares.csv"), strict=True):
        muscles.setdefault(row["exercise"], []).append(share)
    aliases: dict[str, list[str]] = {}
    unclear: dict[str, tuple[str, ...]] = {}
    for alias in shipped(_Alias, "exercise_aliases.csv"):
        if len(alias.exercise) == 1:
            aliases.setdefault(alias.exercise[0], []).append(alias.alias)
        else:
            unclear[alias.alias] = alias.exercise
    members = (
        replace(member, muscles=tuple(muscles.get(member.name, ())), aliases=tuple(aliases.get(member.name, ())))
        for member in shipped(Exercise, "exercises.csv")
    )
    catalogue = Catalogue(members, unclear)
    catalogue.own = ()
    return catalogue


@dataclass(frozen=True)
class _Alias:
    """A spelling and the exercises that it may mean."""

    alias: str
    exercise: Parts


@lru_cache(maxsize=16)
def _built_in_with(own: tuple[Exercise, ...]) -> Catalogue:
    return built_in().with_own(own)


#: Where own exercises come from: a catalogue that holds them, or files.
OwnFiles = str | Path | Sequence[str | Path]


def catalogue_for(path: str | Path | None = None, exercises: Catalogue | OwnFiles | None = None) -> Catalogue:
    """Return the catalogue that a file is read with: what ``exercises`` is, or the built-in one and files of own ones.

    Where ``path``, of a room or a lifter, lies in a gym's folder (``GYM/rooms/x.toml``, ``GYM/lifters/x.toml``) the
    files of ``GYM/exercises/`` are found by themselves. InputError where a file of own exercises cannot be used, or two
    give one name to different exercises.
    """
    catalogue, files = (exercises, []) if isinstance(exercises, Catalogue) else (built_in(), exercises or [])
    files = [files] if isinstance(files, str | Path) else list(files)
    folder = Path(path).absolute().parent if path is not None else Path()
    beside = folder.parent / "exercises"
    if folder.name in _GYM_FOLDERS and os.path.isdir(beside):  # noqa: PTH112 - false for what can be no name too
        files = [*sorted(beside.glob("*.toml")), *files]
    for file in dict.fromkeys(Path(file).absolute() for file in files):
        members = read_own_exercises(file)
        try:
            catalogue = catalogue.with_own(members)
        except InputError as error:
            raise InputError(file, error.place, error.problem, error.remedy) from None
    return catalogue


def exercises() -> Mapping[str, Exercise]:
    """All built-in exercises by name."""
    return built_in().exercises


def exercise(name: str) -> Exercise:
    """Return the built-in exercise that a spelling means, as `Catalogue.exercise` does."""
    return built_in().exercise(name)


class NamesExercises(Strict):
    """Base of file models whose exercises are looked up in a catalogue: the context of their validation.

    Copies and pickles keep it; it is no part of the file, and two that state the same are equal.
    """

    _catalogue: Catalogue = PrivateAttr(default_factory=built_in)

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue that knows the exercises named here; the built-in one where no other was given."""
        return self._catalogue

    def with_catalogue(self, catalogue: Catalogue) -> Self:
        """Return a copy that carries another catalogue."""
        copied = self.model_copy()
        copied._catalogue = catalogue
        return copied

    def model_post_init(self, context: Any, /) -> None:
        """Take the catalogue along."""
        if isinstance(context, Catalogue):
            self._catalogue = context

    def __eq__(self, other: object) -> bool:
        """Whether both state the same."""
        return type(self) is type(other) and self.__dict__ == other.__dict__
