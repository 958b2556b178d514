"""A year of simulated use: a coach and some lifters live through it, and every set, version and file is found again.

``python -m tests.faults.year --weeks 52 --lifters 8`` drives the product through the doors that app and commands use.
"""
