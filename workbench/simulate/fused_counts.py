"""What the draws of a session come to, counted in one pass over them; compiled like `workbench.simulate.fused_sets`."""

from __future__ import annotations

from typing import Final

import numpy as np

from workbench.quantities import FloatArray
from workbench.simulate.fused_series import compiled, compiled_counts

__all__ = ["count_reps", "pick_out", "warm_up"]

#: Bins that the values of a row are laid out in to pick some of them out, a power of two, and most that one may hold.
_BINS, _IN_A_BIN = 512, 64
#: Counts that are kept: the highest value has a bin of its own, and a power of two takes whatever comes.
_COUNTS: Final = 2 * _BINS
#: Values looked at side by side for the lowest and the highest.
_BESIDE = 64


@compiled
def pick_out(rows: FloatArray, ranks: np.ndarray, found: FloatArray) -> None:
    """Pick out the values of some ranks, in rising order, in each row: those of the few bins that they fall into.

    A row of which a bin holds too many, as of values that are all the same, is left as it is.
    """
    size, most = rows.shape[1], ranks.size
    lows, highs = np.empty(_BESIDE), np.empty(_BESIDE)
    bins, counts, asked = np.empty(size, np.int32), np.empty(_COUNTS, np.int32), np.empty(_COUNTS, np.int32)
    parts, held, below = np.empty((most, _IN_A_BIN)), np.empty(most, np.int64), np.empty(most, np.int64)
    of = np.empty(most, np.int64)
    for row in range(rows.shape[0]):
        values = rows[row]
        lows.fill(np.inf)
        highs.fill(-np.inf)
        for first in range(0, size, _BESIDE):
            for i in range(min(_BESIDE, size - first)):
                lows[i], highs[i] = min(lows[i], values[first + i]), max(highs[i], values[first + i])
        low, high = lows.min(), highs.max()
        if not 0.0 < high - low < np.inf:
            continue
        scale = _BINS / (high - low)
        for i in range(size):
            bins[i] = np.int32((values[i] - low) * scale) & (_COUNTS - 1)
        counts.fill(0)
        for i in range(size):
            counts[np.uint64(bins[i])] += 1
        asked.fill(-1)  # which of the asked bins it is
        at, until, number = -1, 0, 0
        for rank in range(most):
            while until <= ranks[rank]:
                at += 1
                before, until = until, until + counts[at]
            if asked[at] < 0:
                asked[at], below[number], held[number] = number, before, 0
                number += 1
            of[rank] = asked[at] if counts[at] <= _IN_A_BIN else -1
        if of.min() < 0:
            found[row, 0] = np.nan
            continue
        for i in range(size):
            part = asked[np.uint64(bins[i])]
            if part >= 0:
                place = held[part]
                while place > 0 and parts[part, place - 1] > values[i]:
                    parts[part, place] = parts[part, place - 1]
                    place -= 1
                parts[part, place] = values[i]
                held[part] += 1
        for rank in range(most):
            found[row, rank] = parts[of[rank], ranks[rank] - below[of[rank]]]


# More than seven parameters: compiled functions take arrays and numbers as they are.
@compiled_counts
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
    for number in range(reps.shape[0]):
        for week in range(reps.shape[1]):
            row, least, most = reps[number, week], low[number, week], high[number, week]
            of_made = of_missed = of_done = 0.0
            for i in range(row.size):
                whole = np.floor(row[i])
                of_done += min(whole, most)
                of_made += 1.0 if row[i] >= least else 0.0
                of_missed += 0.0 if row[i] >= least else least - whole
            done[number, week] = of_done
            if counted[number, week]:
                made[number, week], missed[number, week] = of_made, of_missed
                for i in range(row.size):
                    lowest[week, i] = min(lowest[week, i], row[i] - least)


def warm_up() -> None:
    """Compile, or fetch what was compiled before, by counting nothing."""
    one = np.ones((1, 1))
    pick_out(one, np.zeros(1, dtype=np.int64), np.empty((1, 1)))
    count_reps(np.ones((1, 1, 1)), one, one, one.astype(bool), *np.ones((4, 1, 1)))
