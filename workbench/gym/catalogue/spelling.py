"""One spelling for the many ways in which people write the name of an exercise."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final

__all__ = ["key_of", "words_of"]

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


def words_of(text: str) -> list[str]:
    """Words of a name in one spelling: no case, accents, punctuation, plural or short form.

    >>> words_of("Single-Arm DB Rows"), words_of("Flyes"), words_of("Calf Presses")
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


@lru_cache(maxsize=4096)  # a log names the same few exercises again and again
def key_of(text: str) -> str:
    """Spelling that is the same for "Pull ups", "pull-up" and "PULLUP"."""
    return "".join(words_of(text))
