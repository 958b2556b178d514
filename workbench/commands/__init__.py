"""The command line, one module a command: ``add_to(subparsers)`` describes it, ``run(arguments)`` does it.

A command calls the same functions as the notebooks and prints what they return.
"""

#: Modules of this package, in the order in which the help lists them.
COMMANDS = (
    "open_notebooks",
    "check",
    "compare",
    "decide",
    "team",
    "log",
    "fit",
    "exercises",
    "commit_block",
    "verify",
    "sheet",
    "rationale",
    "bench",
)
