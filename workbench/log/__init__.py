"""Read a training log that people really keep, say how it was understood, and write it in one canonical form.

>>> from workbench.log import ReadOptions
>>> ReadOptions(unit="lb").unit
'lb'
"""

from workbench.log.canonical import folded, lifters_of, rows_by_name, rows_of, write_canonical, write_quarantine
from workbench.log.options import COLUMNS, FIELDS, LogReading, Question, ReadOptions
from workbench.log.reading import read_log

__all__ = [
    "COLUMNS",
    "FIELDS",
    "LogReading",
    "Question",
    "ReadOptions",
    "folded",
    "lifters_of",
    "read_log",
    "rows_by_name",
    "rows_of",
    "write_canonical",
    "write_quarantine",
]
