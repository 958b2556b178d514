"""The command line: each command calls the same functions as the notebooks and prints what they return."""
