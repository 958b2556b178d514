"""What several commands take, as data."""

from __future__ import annotations

from workbench.commands.arguments import FIRST_YEAR, LAST_YEAR, Adder, argument, grouped, monday, number, whole
from workbench.quantities import SEED

__all__ = [
    "BLOCK",
    "LIFTER_AND_ROOM",
    "LIFTER_ROWS",
    "LOG",
    "OWN",
    "PUBLISHED",
    "READING",
    "REPLACE",
    "ROOM",
    "VIEWS",
    "as_json",
    "first_monday",
    "simulation",
]

BLOCK = argument("block BLOCK", "block file (TOML)")
LOG = argument("log LOG", "training log (CSV or XLSX)")
OWN = argument(
    "--own FILE",
    "a file of own exercises (TOML); may be given again; those in exercises/ of the gym's folder are found",
    repeated=True,
)
ROOM = (argument("--room FILE", "room file (TOML)", required=True), OWN)
PUBLISHED = argument(
    "--published-start",
    "a lifter whom no log taught starts from studies, not from the gym's own numbers (gym.toml in its folder)",
)
LIFTER_AND_ROOM = (argument("--lifter FILE", "lifter file (TOML)", required=True), PUBLISHED, *ROOM)
LIFTER_ROWS = argument(
    "--lifter-rows --name NAME",
    "the lifter's name in the log, where it is not that of the lifter file; may be given again",
    repeated=True,
)
REPLACE = argument("--replace", "write over files that are there already")


def simulation(draws: int = 2000, seed: str = "the same seed gives the same digits") -> tuple[Adder, Adder]:
    """Return how many simulated runs, and the seed of their randomness."""
    return (
        argument("--draws N", f"simulated runs (default {draws})", whole(10, 100_000), default=draws),
        argument("--seed N", f"{seed} (default {SEED})", whole(0, 2**63 - 1), default=SEED),
    )


def as_json(instead: str) -> Adder:
    """Return the option that prints JSON in place of what people read."""
    return argument("--json", f"print JSON in place of {instead}")


def first_monday(what: str) -> Adder:
    """Return the date of the first week."""
    return argument("--start DATE", f"first Monday, as 2026-01-05, to date the {what}", monday)


VIEWS = grouped(
    "views",
    "each shows this in place of the short answer; several may be given",
    argument("--sets", "every set of every week: load, chance, reps in reserve"),
    argument("--unsure", "what is not known of the lifter, what is luck, and the test that settles most"),
    argument("--session S", "one session: its name, or its number counted from 1"),
    argument("--week N", "week of the views (default 1)", whole(1, 52)),
    argument("--order 2,1,3", "with --session: compare with its exercises in this order"),
    argument("--muscles", "weekly sets of each muscle beside the studied range"),
    argument("--zones", "lifts by zone of intensity, and weekly totals"),
    argument("--duration", "predicted minutes of every session"),
    argument("--cautions", "cautions of the block's exercises"),
    argument("--hard-reserve R", "a set is hard with at most R reps in reserve (default 4, assumed)", number(0, 20)),
    argument(
        "--each-drop P",
        "what a drop adds to its set's count (default 0: a set with its drops is one set, assumed)",
        number(0, 1),
    ),
)

#: Answers to what a log may leave open, as `workbench.log.ReadOptions` has them.
READING = grouped(
    "answers to what a log may leave open",
    None,
    argument("--date-order", "order of day, month and year", choices=("dmy", "mdy", "ymd")),
    argument(
        "--session-date SESSION=DATE",
        "when a session without a date was, as it is asked about; may be given again",
        dest="session_dates",
        repeated=True,
    ),
    argument("--year YEAR", "year of dates without one", whole(FIRST_YEAR, LAST_YEAR)),
    argument(
        "--odd-dates",
        "dates out of order, or far from all others, are right as they are",
        choices=("as_written",),
    ),
    argument("--real-dates", "whether recognised dates have day and month swapped", choices=("as_is", "swapped")),
    argument("--unit", "unit of loads that state none", choices=("kg", "lb")),
    argument("--dumbbells", "whether loads of two dumbbells are of one hand or of both", choices=("one_hand", "both")),
    argument("--decimal", "decimal mark", choices=(".", ",")),
    argument("--rest-unit", "unit of bare numbers in a rest column", choices=("s", "min")),
    argument("--rest-is", "whether a rest stands before or after its set", choices=("before", "after")),
    argument("--body-mass KG", "body mass, for loads written as BW", number(25, 300), dest="body_mass_kg"),
    argument("--pair-means", "what reps such as 8/8 are", choices=("sets", "sides", "of_plan")),
    argument("--sets-column", "whether it counts or numbers the sets", choices=("count", "number")),
    argument("--sheet NAME", "the one sheet of a workbook to read"),
    argument(
        "--column HEADING=FIELD",
        "what a column is, for instance Gewicht=load; may be given again",
        dest="columns",
        repeated=True,
    ),
    argument(
        "--leave-out QUESTION",
        "a question to leave open: what it concerns is left out; may be given again",
        repeated=True,
    ),
)
