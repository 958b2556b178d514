"""The colours of pages and figures: readable in light and dark, told apart, and from one place."""

from __future__ import annotations

import itertools
import re

import pytest

from workbench.present.colours import colour, dark_for_light, faint, variables
from workbench.reference.sources import code_path

HEXADECIMAL = re.compile(r"#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b|\brgba?\(\s*\d")
#: Text needs 4.5 to 1 with what is behind it, lines and edges of controls 3 to 1: WCAG 2.1, 1.4.3 and 1.4.11.
TEXT, LINE = 4.5, 3.0
ON = [
    *(("ink", ground, TEXT) for ground in ("paper", "page", "raised", "next-ground", "trouble-ground")),
    *(("ink", f"scale-{percent}", TEXT) for percent in (0, 50, 85, 100)),
    *(("quiet", ground, TEXT) for ground in ("paper", "page", "raised")),
    *((text, "paper", TEXT) for text in ("mark", "trouble")),
    *((line, "paper", LINE) for line in ("line-1", "line-2", "line-3", "line-4", "focus")),
    ("focus", "raised", LINE),
    ("trouble", "trouble-ground", LINE),
]


def luminance(hexadecimal: str) -> float:
    """Return relative luminance as WCAG 2.1 defines it."""
    channels = [int(hexadecimal[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(("front", "ground", "least"), ON)
@pytest.mark.parametrize("dark", [False, True])
def test_what_is_read_stands_out_from_what_is_behind_it(front: str, ground: str, least: float, dark: bool) -> None:
    pair = [colour(front), colour(ground)]
    if dark:
        pair = [dark_for_light()[one] for one in pair]
    brighter, darker = sorted(map(luminance, pair), reverse=True)
    assert (brighter + 0.05) / (darker + 0.05) >= least


@pytest.mark.parametrize("names", [[f"scale-{n}" for n in (0, 50, 85, 100)], [f"zone-{n}" for n in range(1, 7)]])
def test_shades_that_stand_for_an_order_change_steadily_in_both_looks(names: list[str]) -> None:
    light = [luminance(colour(name)) for name in names]
    dark = [luminance(dark_for_light()[colour(name)]) for name in names]
    assert light == sorted(light, reverse=True)
    assert dark == sorted(dark)
    # A tenth more light, the 0.05 of WCAG's ratio included, is the least that two neighbours need.
    for shades in (light, dark):
        assert all(abs(a - b) / (min(a, b) + 0.05) > 0.1 for a, b in itertools.pairwise(shades))


def test_a_light_colour_stands_for_one_dark_one_and_is_none_itself() -> None:
    pairs = dark_for_light()
    assert pairs["#22303c"] == "#e4e9ed"
    assert pairs["31, 95, 139"] == "125, 182, 224"  # 1f 5f 8b and 7d b6 e0
    # One after the other in a text: what was put in must not be taken for a light colour again.
    assert not set(pairs) & set(pairs.values())
    assert len(pairs) % 2 == 0


def test_a_faint_colour_keeps_its_channels() -> None:
    assert faint("mark", 0.18) == "rgba(31, 95, 139, 0.18)"


def test_style_sheets_use_only_colours_that_there_are_and_none_of_their_own() -> None:
    named = set(re.findall(r"(--wb-[a-z0-9-]+):", variables()))
    sheets = [path for path in code_path().rglob("*.css") if path.name != "sheet.css"]  # sheets are black on white
    assert len(sheets) >= 3
    for path in sheets:
        text = path.read_text(encoding="utf-8")
        assert set(re.findall(r"var\((--wb-[a-z0-9-]+)\)", text)) <= named, path.name
        assert not HEXADECIMAL.findall(text), path.name


def test_no_figure_and_no_panel_brings_a_colour_of_its_own() -> None:
    modules = [path for folder in ("figures", "panels", "publish") for path in (code_path() / folder).rglob("*.py")]
    own = {path.name: HEXADECIMAL.findall(path.read_text(encoding="utf-8")) for path in modules}
    assert {name for name, found in own.items() if found} == set()


def test_a_page_is_dark_where_it_says_so_or_where_the_machine_asks() -> None:
    said, asked = variables(), variables(dark="")
    assert (
        said.index("--wb-ink: #22303c") < said.index('[data-jp-theme-light="false"]') < said.index("--wb-ink: #e4e9ed")
    )
    assert asked.index("@media screen and (prefers-color-scheme: dark)") < asked.index("--wb-ink: #e4e9ed")
