"""Files that name exercises carry the catalogue that knows them."""

from __future__ import annotations

from typing import Any, Self

from pydantic import PrivateAttr

from workbench.gym.catalogue.register import Catalogue, built_in
from workbench.reference.toml_files import Strict

__all__ = ["NamesExercises"]


class NamesExercises(Strict):
    """Base of file models whose exercises are looked up in a catalogue: the context of their validation.

    Copies and pickles keep it; it is no part of the file.
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
