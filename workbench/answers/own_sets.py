"""A lifter's own sets to failure, typed in one line, as points beside a curve."""

from __future__ import annotations

import re
from typing import Final

import pandas as pd

from workbench.quantities import InputError, to_kg

__all__ = ["own_sets_table"]

_SET = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(kg|lb)?\s*[x×*]\s*(\d+)\s*", re.IGNORECASE)
_MOST_SETS: Final = 50
_MOST_REPS: Final = 100


def own_sets_table(text: str, one_rm_kg: float) -> pd.DataFrame:
    """Read sets to failure written as load x reps, parted by semicolons.

    Parameters
    ----------
    text : str
        For instance ``"80 x 8; 72.5 kg x 11; 150 lb x 12"``; kilograms where no unit is given. A comma in a number is a
        decimal comma.
    one_rm_kg : float
        The believed 1RM, [kg], > 0.

    Returns
    -------
    DataFrame
        One row a set: percent (of the believed 1RM), reps, text. Empty for an empty text.

    Raises
    ------
    InputError
        Where a set cannot be read, or its load or reps are out of range.

    Examples
    --------
    >>> own_sets_table("80 x 8; 72,5 kg x 11", 100.0).to_dict("records")[1]
    {'percent': 72.5, 'reps': 11, 'text': '72.5 kg x 11 (72 % of 1RM)'}
    """
    rows = []
    written = [part for part in text.split(";") if part.strip()]
    if len(written) > _MOST_SETS:
        raise InputError(None, "own sets", f"{len(written)} sets are too many", f"give at most {_MOST_SETS}")
    for part in written:
        found = _SET.fullmatch(part)
        if found is None:
            raise InputError(
                None, "own sets", f"{part.strip()!r} is not a set", "write load x reps, such as 80 x 8; 72.5 x 11"
            )
        load = float(to_kg(float(found[1].replace(",", ".")), (found[2] or "kg").lower()))
        reps = int(found[3])
        percent = 100.0 * load / one_rm_kg
        if not 1 <= reps <= _MOST_REPS or not 20 <= percent <= 120:
            raise InputError(
                None,
                "own sets",
                f"{part.strip()!r} is {percent:.0f} % of the 1RM for {reps} reps",
                f"give sets of 20 to 120 % for 1 to {_MOST_REPS} reps",
            )
        rows.append((percent, reps, f"{load:g} kg x {reps} ({percent:.0f} % of 1RM)"))
    return pd.DataFrame(rows, columns=["percent", "reps", "text"])
