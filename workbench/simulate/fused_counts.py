"""What the draws of a session come to, counted in one pass over them; compiled like `workbench.simulate.fused_sets`."""

from __future__ import annotations

import numpy as np

from workbench.quantities import FloatArray
from workbench.simulate.fused_series import compiled
from workbench.simulate.fused_sets import BLOCK

__all__ = ["count_reps", "pick_out", "warm_up"]

#: Bins that the values of a row are laid out in to pick some of them out, and most that one may hold.
_BINS, _IN_A_BIN = 512, 64


@compiled
def pick_out(rows: FloatArray, ranks: np.ndarray, found: FloatArray) -> None:
    """Pick out the values of some ranks, in rising order, in each row: those of the few bins that they fall into.

    A row of which a bin holds too many, as of values that are all the same, is left as it is.
    """
    counts, first, part = np.empty(_BINS + 1, np.int64), np.empty(_BINS + 1, np.int64), np.empty(_IN_A_BIN)
    for row in range(rows.shape[0]):
        low = high = rows[row, 0]
        for value in rows[row]:
            low, high = min(low, value), max(high, value)
        if not 0.0 < high - low < np.inf:
            continue
        scale = _BINS / (high - low)
        counts.fill(0)
        for value in rows[row]:
            counts[int((value - low) * scale)] += 1
        below = 0
        for number in range(_BINS + 1):
            first[number] = below
            below += counts[number]
        at, rank = -1, 0
        while rank < ranks.size:
            while at < _BINS and (at < 0 or first[at] + counts[at] <= ranks[rank]):
                at += 1
            if counts[at] > _IN_A_BIN:
                found[row, 0] = np.nan
                break
            held = 0
            for value in rows[row]:
                if int((value - low) * scale) == at:
                    place = held
                    while place > 0 and part[place - 1] > value:
                        part[place] = part[place - 1]
                        place -= 1
                    part[place] = value
                    held += 1
            while rank < ranks.size and ranks[rank] < first[at] + held:
                found[row, rank] = part[ranks[rank] - first[at]]
                rank += 1


# More than seven parameters: compiled functions take arrays and numbers as they are.
@compiled
def count_reps(
    reps: FloatArray,
    low: FloatArray,
    high: FloatArray,
    counted: np.ndarray,
    lowest: FloatArray,
    made: FloatArray,
    missed: FloatArray,
    done: FloatArray,
) -> None:
    """Count over the draws, set by set and week by week, and take the fewest reps to spare of each draw and week.

    ``reps``: shape (sets, weeks, draws); ``low`` and ``high``: fewest to be made and most that are done, shape
    (sets, weeks), as is ``counted``, where reps are to be made. Brought down is ``lowest``, shape (weeks, draws);
    written are the draws in which the reps are made, the reps missed and those done, all whole numbers.
    """
    sums = np.empty(3 * BLOCK)
    for number in range(reps.shape[0]):
        for week in range(reps.shape[1]):
            row, least, most = reps[number, week], low[number, week], high[number, week]
            sums.fill(0.0)
            for first in range(0, row.size, BLOCK):
                for i in range(min(BLOCK, row.size - first)):
                    spare, whole = row[first + i] - least, np.floor(row[first + i])
                    sums[i] += min(whole, most)
                    sums[BLOCK + i] += 1.0 if spare >= 0.0 else 0.0
                    sums[2 * BLOCK + i] += 0.0 if spare >= 0.0 else least - whole
                if counted[number, week]:
                    for i in range(first, min(first + BLOCK, row.size)):
                        lowest[week, i] = min(lowest[week, i], row[i] - least)
            done[number, week] = sums[:BLOCK].sum()
            if counted[number, week]:
                made[number, week], missed[number, week] = sums[BLOCK : 2 * BLOCK].sum(), sums[2 * BLOCK :].sum()


def warm_up() -> None:
    """Compile, or fetch what was compiled before, by counting nothing."""
    one = np.ones((1, 1))
    pick_out(one, np.zeros(1, dtype=np.int64), np.empty((1, 1)))
    count_reps(np.ones((1, 1, 1)), one, one, one > 0.0, *np.ones((4, 1, 1)))
