"""The exercises: names, muscles, implements, times, joint positions and cautions.

``exercise("DB row")`` finds one, ``exercises()`` lists all, ``muscle_shares()`` gives the matrix of muscles. A coach's
own TOML file adds to them: ``use_own_exercises(read_exercise_file("ours.toml"))``.
"""

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
    check_each_hand,
    exercise,
    exercises,
    hands_of,
    implement_of,
    muscle_shares,
    read_exercise_file,
    search,
    use_own_exercises,
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
    "Sides",
    "cautions",
    "cautions_for",
    "check_each_hand",
    "exercise",
    "exercises",
    "general_cautions",
    "hands_of",
    "implement_of",
    "joint_positions",
    "kept_part",
    "limiters",
    "muscle_shares",
    "reach_of",
    "read_exercise_file",
    "search",
    "use_own_exercises",
]
