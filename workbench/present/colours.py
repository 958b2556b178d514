"""The one set of colours of figures, pages and panels, light and dark; each reads in grey and for colour-blind eyes."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from typing import Final

__all__ = ["FONT", "colour", "dark_for_light", "faint", "variables"]

#: The one family of letters of figures, pages and panels, as of sheets: on every machine, and alike in width.
FONT: Final = "'Liberation Sans', 'Helvetica Neue', Arial, sans-serif"


@cache
def _by_role() -> dict[str, tuple[str, str]]:
    """Return the light and the dark colour of every role in ``colours.csv``."""
    text = files("workbench.present").joinpath("colours.csv").read_text(encoding="utf-8")
    return {row["role"]: (row["light"], row["dark"]) for row in csv.DictReader(text.splitlines())}


def colour(role: str) -> str:
    """Return the light colour of a role as ``#rrggbb``; `dark_for_light` finds the dark one."""
    return _by_role()[role][0]


def faint(role: str, opacity: float) -> str:
    """Return the light colour of a role, with an opacity from 0 to 1, as ``rgba(r, g, b, a)``."""
    return f"rgba({_channels(colour(role))}, {opacity:g})"


def dark_for_light() -> dict[str, str]:
    """Return the dark colour in place of each light one, as `colour` and as `faint` write them.

    A figure is drawn in light colours; what shows it on a dark page puts these in their place.
    """
    pairs = _by_role().values()
    return dict(pairs) | {_channels(light): _channels(dark) for light, dark in pairs}


def variables(place: str = "body", dark: str = 'body[data-jp-theme-light="false"]') -> str:
    """Return colours and letters as variables of a style sheet: ``--wb-ink`` and so on, and ``--wb-font``.

    Parameters
    ----------
    place : str
        Selector of what has them.
    dark : str
        Selector of the same where the page is dark; empty: where the reader's machine asks for dark pages.
    """
    light_rule, dark_rule = (
        "; ".join(f"--wb-{role}: {pair[at]}" for role, pair in _by_role().items()) for at in (0, 1)
    )
    light_rule += f"; --wb-font: {FONT}"
    if dark:
        return f"{place} {{ {light_rule} }}\n{dark} {{ {dark_rule} }}\n"
    return (
        f"{place} {{ {light_rule} }}\n@media screen and (prefers-color-scheme: dark) {{ {place} {{ {dark_rule} }} }}\n"
    )


def _channels(hexadecimal: str) -> str:
    """Return red, green and blue, each from 0 to 255."""
    return ", ".join(str(int(hexadecimal[at : at + 2], 16)) for at in (1, 3, 5))
