"""The exercises: names, muscles, implements, times, joint positions and cautions.

``exercise("DB row")`` finds one, ``exercises()`` lists all, of the built-in catalogue. A coach's own TOML file makes
another: ``catalogue_for(exercises="ours.toml")``.
"""

from workbench.gym.catalogue.register import (
    Catalogue,
    NamesExercises,
    OwnFiles,
    built_in,
    catalogue_for,
    exercise,
    exercises,
)
from workbench.gym.catalogue.traits import (
    Caution,
    cautions,
    cautions_for,
    general_cautions,
    joint_positions,
    kept_part,
    limiters,
    reach_of,
)
from workbench.gym.catalogue.vocabulary import (
    IMPLEMENTS,
    MOVEMENT_PATTERNS,
    MUSCLES,
    Exercise,
)

__all__ = [
    "IMPLEMENTS",
    "MOVEMENT_PATTERNS",
    "MUSCLES",
    "Catalogue",
    "Caution",
    "Exercise",
    "NamesExercises",
    "OwnFiles",
    "built_in",
    "catalogue_for",
    "cautions",
    "cautions_for",
    "exercise",
    "exercises",
    "general_cautions",
    "joint_positions",
    "kept_part",
    "limiters",
    "reach_of",
]
