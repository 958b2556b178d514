"""Every command as data: what its help says, what it takes, and where the function lies that does it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from workbench.commands.arguments import Command, argument, date, number, whole
from workbench.commands.shared_options import (
    BLOCK,
    LIFTER_AND_ROOM,
    LIFTER_ROWS,
    LOG,
    OWN,
    PUBLISHED,
    READING,
    REPLACE,
    ROOM,
    VIEWS,
    as_json,
    first_monday,
    simulation,
)

__all__ = ["COMMANDS", "REVIEW_TABLES"]

#: Tables of a review that can be asked for, as `workbench.answers.review.Review.tables` has them.
REVIEW_TABLES: Final = ("table", "against", "calls", "by_set", "by_exercise", "by_week", "by_distance", "left_out")

# ---- the commands ---------------------------------------------------------------------------------------------------

_SEARCH = Command(
    "search",
    "find exercises by name, muscle, movement or implement",
    None,
    "exercises:search",
    argument("text WORD", "words to look for; none lists all", nargs="*"),
    OWN,
    as_json("a table"),
)
_EXCHANGE = Command(
    "exchange",
    "what else trains the same muscles in this room?",
    None,
    "exercises:exchange",
    argument("exercise EXERCISE", "the exercise to exchange"),
    *LIFTER_AND_ROOM,
    *(
        argument(f"--{name} NAME", f"leave out {what}; may be given again", repeated=True)
        for name, what in (
            ("position", "a joint position, or a joint for all its positions"),
            ("movement", "a movement pattern"),
            ("implement", "an implement"),
            ("without", "an exercise"),
        )
    ),
    argument("--most N", "most exchanges (default 6)", whole(1, 50), default=6),
    as_json("a table"),
)

#: In the order in which the help lists them.
COMMANDS: Final = (
    Command(
        "open",
        "open the app, or the notebooks",
        "Open the app on a gym's folder, or JupyterLab on a working copy of the notebooks.",
        "notebook_server:open_workbench",
        argument(
            "folder FOLDER",
            "the gym's folder (default: the one opened last on the start page, else workbench-gym), or that of the "
            "notebooks (default: workbench-notebooks)",
            Path,
            nargs="?",
        ),
        argument("--notebooks", "open the notebooks in JupyterLab"),
        argument("--no-browser", "print the address, open no browser"),
        argument(
            "--phone",
            "also let phones in this network open today's page, with a token and without the means to run code; "
            "without this, nothing but this computer can reach the workbench",
        ),
        argument("--port N", "port on this machine (default: a free one)", whole(1, 65535)),
    ),
    Command(
        "check",
        "will every rep of a block be made?",
        "Simulate a block for one lifter in one room: what is missed, what breaks first, how sure that is, what would "
        "mend it.",
        "check:check",
        BLOCK,
        *LIFTER_AND_ROOM,
        *simulation(),
        as_json("tables"),
        VIEWS,
    ),
    Command(
        "compare",
        "which of these schemes?",
        "Compare blocks, or the library of schemes on one exercise, on the same simulated days.",
        "plans:compare",
        argument("blocks BLOCK", "block files (TOML); none: the library of schemes", nargs="*"),
        *LIFTER_AND_ROOM,
        argument("--exercise NAME", "compare the library's schemes on this exercise"),
        argument("--percent P", "library: first percent of 1RM", number(20, 100), default=70.0),
        argument("--step P", "library: points a week", number(-10, 10), default=2.5),
        argument("--sets N", "library: sets", whole(1, 20), default=5),
        argument("--reps N", "library: reps", whole(1, 50), default=5),
        argument("--rest S", "library: rest, s", number(0, 1800), default=150.0),
        argument("--weeks N", "library: weeks", whole(1, 52), default=4),
        argument("--without-rules", "beside each block with rules of its set groups, the same block without them"),
        argument(
            "--outcome KEY",
            "outcome to show, as missed_reps or hard_sets:biceps (another word lists them); may be given again "
            "(default: all)",
            repeated=True,
        ),
        argument("--order-by KEY", "outcome that orders the schemes (default: the first)"),
        *simulation(),
        as_json("tables"),
    ),
    Command(
        "decide",
        "the most demanding plan within your limits",
        "Search what may change in a block for the most demanding plan that keeps the limits. Interrupt to stop the "
        "search and see the best so far.",
        "plans:decide",
        BLOCK,
        *LIFTER_AND_ROOM,
        argument(
            "--turn KNOB",
            "what may change: knob=first:last:step or knob=value,value, then perhaps ' of EXERCISE'; may come again",
            repeated=True,
            required=True,
        ),
        argument(
            "--limit LIMIT",
            "quantity>=value or quantity<=value (default: the block's own, for every set of the block, turned or not)",
            repeated=True,
        ),
        argument("--demand KEY", "what to have most of (default: tonnage)", default="tonnage"),
        *simulation(seed="same seed, same answer"),
        argument("-o --output FILE", "write the block found to this file (TOML)"),
        REPLACE,
        as_json("tables"),
        epilog="Knobs: percent, step, reps, sets, rest, drop, lighter week. Example: --turn 'percent=60:80:2.5' "
        "--turn 'rest=90,120,180 of back squat' --limit 'set_chance:back squat>=0.85' --limit 'session_minutes<=60' "
        "--limit 'fractional_sets:biceps<=15'",
    ),
    Command(
        "team",
        "does the block suit the whole team?",
        "Check a block for every lifter of a roster: who misses what, and what would mend it.",
        "plans:team",
        BLOCK,
        argument("--roster FOLDER", "folder of lifter files (TOML)", required=True),
        PUBLISHED,
        *ROOM,
        argument("--no-mend", "do not look for mends: several times as fast"),
        argument("--sheets FOLDER", "also write a sheet for each lifter into this folder"),
        first_monday("sheets"),
        REPLACE,
        argument("--cluster WHERE", "'local' or the address of a Dask scheduler"),
        argument("--workers N", "workers of a local cluster", whole(1, 256), default=2),
        *simulation(seed="same seed, same digits"),
        as_json("a table"),
    ),
    Command(
        "log",
        "how was this training log understood?",
        "Read a training log (CSV or XLSX), say how every column was understood and what was set aside, and write it "
        "in one canonical form where wanted. The log itself is never changed.",
        "logs:log",
        LOG,
        OWN,
        READING,
        argument("-o --output FILE", "write the canonical log (a new CSV file)", Path),
        argument("--set-aside FILE", "write the rows set aside (a new CSV file)", Path),
        REPLACE,
        as_json("text"),
    ),
    Command(
        "fit",
        "what did the log teach about the lifter?",
        "Learn 1RM, endurance and recovery of a lifter from a training log, with intervals; say what was not "
        "expected, what it means for the rest of a block, and which test set would teach most.",
        "logs:fit",
        LOG,
        argument("--lifter FILE", "lifter file (TOML), as before the log", required=True),
        PUBLISHED,
        LIFTER_ROWS,
        argument("--today DATE", "date for which the 1RM shall hold", date),
        argument("--block FILE", "block under way (TOML); needs --room"),
        argument("--room FILE", "room file (TOML)"),
        argument("--week N", "first week to come (default 1)", whole(1, 52), default=1),
        argument("-o --output FILE", "write the updated lifter (a new TOML file)", Path),
        REPLACE,
        as_json("tables"),
        *simulation(),
        OWN,
        READING,
    ),
    Command(
        "gym",
        "what do our own lifters say?",
        "Learn from all logs in a gym's folder how endurance and recovery differ between its lifters; a lifter of whom "
        "nothing is known then starts from that, in place of studies. Names and sets are kept nowhere.",
        "gym:gym",
        argument("folder FOLDER", "the gym's folder, with lifters/ and logs/", Path),
        argument("--keep", "write the numbers into the folder (gym.toml), where every command finds them"),
        argument(
            "--share FILE", "write what colleagues may have (a new TOML file): nothing of fewer than 5 lifters", Path
        ),
        REPLACE,
        argument("--cluster WHERE", "'local' or the address of a Dask scheduler"),
        argument("--workers N", "workers of a local cluster", whole(1, 256), default=2),
        *simulation(draws=600, seed="same seed, same digits"),
        as_json("sentences"),
        READING,
    ),
    Command(
        "review",
        "were the forecasts worth anything?",
        "Go through logs as if each week were still to come: learn, forecast, compare with what was done, beside the "
        "simple rules that a coach would use instead; and say what systematic misses mean.",
        "review:review",
        argument("logs LOGS", "a gym's folder, with lifters/ and logs/; or logs (CSV or XLSX)", Path, nargs="+"),
        argument("--lifter FILE", "with logs: lifter file (TOML), as before them; may be given again", repeated=True),
        LIFTER_ROWS,
        argument("--table NAME", "also print this table; may be given again", repeated=True, choices=REVIEW_TABLES),
        argument(
            "--model NAME",
            "another fatigue form, or load-reps curve, to be held beside the others; may be given again",
            repeated=True,
        ),
        argument("--no-rules", "leave the simple rules out"),
        argument("--all", "print every systematic miss, not the ten largest alone"),
        argument(
            "--every", "learn before each week (the default), or each day", choices=("week", "day"), default="week"
        ),
        *simulation(draws=1000, seed="same seed, same digits"),
        as_json("text"),
        OWN,
        READING,
    ),
    Command(
        "today",
        "what now, in the middle of a session?",
        "Work out the rest of a session from the sets done so far: today's form, and the loads that keep the limit. No "
        "load goes above the plan's unless that is asked for.",
        "today:today",
        BLOCK,
        *LIFTER_AND_ROOM,
        argument("--log FILE", "log with the sets done so far (CSV or XLSX); without it, before the first set"),
        argument("--date DATE", "day of the log that is today (default: its last)", date),
        LIFTER_ROWS,
        argument("--session S", "the session: its name, or its number counted from 1 (default 1)", default="1"),
        argument("--week N", "week of the block (default 1)", whole(1, 52), default=1),
        argument("--skip EXERCISE", "an exercise that will not be done today; may be given again", repeated=True),
        argument("--limit P", "chance wanted for every set (default 0.85)", number(0, 1), default=0.85),
        argument("--up PERCENT", "how far a load may go above the plan's (default 0)", number(0, 20), default=0.0),
        argument("--save MINUTES", "which sets can go, when time is short", number(1, 600)),
        argument("--keep EXERCISE", "with --save: nothing of it may go; may be given again", repeated=True),
        argument("--target MUSCLE=SETS", "with --save: hard sets a week wanted; may be given again", repeated=True),
        argument("--if-then", "for paper: what to do after the first sets of each group, in advance"),
        as_json("tables"),
        *simulation(),
        READING,
    ),
    Command(
        "exercises",
        "search the exercises, or exchange one",
        "Search the catalogue of exercises, or find an exchange for one that is left out.",
        "",
        actions=(_SEARCH, _EXCHANGE),
    ),
    Command(
        "commit",
        "freeze a block, with predictions, reason and sheets",
        "Freeze a block in a folder of its own, whole or not at all. Never overwrites: revisions count up.",
        "committed:commit",
        BLOCK,
        argument("--lifter FILE", "lifter file (TOML); may be given again", repeated=True, required=True),
        PUBLISHED,
        *ROOM,
        argument("--reason TEXT", "why this block, in a sentence or two", required=True),
        argument("--by NAME", "who decided", default=""),
        argument("--instead-of FILE", "a block looked at and not taken; may be given again", repeated=True),
        argument("--why-not TEXT", "why not, once for each --instead-of, in order", repeated=True),
        first_monday("sheets"),
        argument("--to FOLDER", "where committed blocks lie (default: committed)", default="committed"),
        *simulation(seed="of the predictions"),
    ),
    Command(
        "verify",
        "is a committed block unchanged, and predicted the same?",
        "Compare committed blocks with their fingerprints and work out their predictions again. Exit code 1 where "
        "anything is not the same.",
        "committed:verify",
        argument("committed COMMITTED", "folder of a committed block", nargs="+"),
        argument("--against COMMITTED", "also tell what changed since this revision"),
    ),
    Command(
        "sheet",
        "sheets to hand out: a workbook to fill in, a page to print",
        "Write the sheet of a block for one lifter. Once filled in, the workbook reads back as a log.",
        "committed:sheet",
        BLOCK,
        *LIFTER_AND_ROOM,
        argument(
            "-o --output FILE",
            "name.xlsx or name.html; without an ending, both are written",
            Path,
            required=True,
        ),
        argument("--forecast", "also print the reps in reserve to expect"),
        argument("--no-if-then", "leave out what to do after the first sets of each group"),
        first_monday("sessions"),
        REPLACE,
        *simulation(),
    ),
    Command(
        "rationale",
        "one offline page that says why this block",
        "Write the rationale of a committed block as one HTML file that opens offline, or as PDF where Chromium is "
        "installed.",
        "committed:rationale",
        argument("committed COMMITTED", "folder of a committed block"),
        argument("-o --output FILE", "name.html or name.pdf", Path, required=True),
        REPLACE,
    ),
    Command(
        "bench",
        "measure speed, as ratios within one run",
        "Measure speed, as ratios within one run.",
        "benchmark:bench",
        as_json("a table"),
        argument("--growth", "how the cost grows with each size, as exponents, in place of the ratios"),
    ),
)
