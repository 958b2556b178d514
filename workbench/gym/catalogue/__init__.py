"""The exercises: names, muscles, implements, times, joint positions and cautions.

``exercise("DB row")`` finds one, ``exercises()`` lists all, ``muscle_shares()`` gives the matrix of muscles, all of the
built-in catalogue. A coach's own TOML file makes another: ``built_in().with_own(read_exercise_file("ours.toml"))``.
"""

from workbench.gym.catalogue.carried import NamesExercises
from workbench.gym.catalogue.limiters import Limiter, kept_part, limiters, reach_of
from workbench.gym.catalogue.positions import (
    Caution,
    JointPosition,
    cautions,
    cautions_for,
    general_cautions,
    joint_positions,
)
from workbench.gym.catalogue.register import (
    Catalogue,
    OwnFiles,
    built_in,
    catalogue_for,
    exercise,
    exercises,
    muscle_shares,
    read_exercise_file,
    search,
)
from workbench.gym.catalogue.vocabulary import (
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

__all__ = [
    "ENDURANCE_CLASSES",
    "IMPLEMENTS",
    "MOVEMENT_PATTERNS",
    "MUSCLES",
    "SIDES",
    "Catalogue",
    "Caution",
    "EnduranceClass",
    "Exercise",
    "Implement",
    "JointPosition",
    "Limiter",
    "MovementPattern",
    "Muscle",
    "MuscleShare",
    "NamesExercises",
    "OwnFiles",
    "Sides",
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
    "muscle_shares",
    "reach_of",
    "read_exercise_file",
    "search",
]
