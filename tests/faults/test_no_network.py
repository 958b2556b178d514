"""No network: every command does its work, and asks nobody for anything."""

import re
import socket
from pathlib import Path

import pytest

from workbench.__main__ import main
from workbench.reference.sources import data_path

PACKAGE = Path(__file__).resolve().parents[2] / "workbench"
DEMO = data_path("demo")
BLOCK = str(DEMO / "block.toml")
WHO = ["--lifter", str(DEMO / "lifters" / "emre_sandoval.toml"), "--room", str(DEMO / "rooms" / "boathouse_hall.toml")]
FEW = ["--draws", "10", "--seed", "1"]
LOG = str(DEMO / "logs" / "emre_sandoval_weeks_1_2.csv")


@pytest.fixture
def cut(monkeypatch):
    """No name is looked up and no connection made; what was tried."""
    tried = []

    def refused(*what, **_):
        tried.append(what)
        raise OSError("Network is unreachable")

    monkeypatch.setattr(socket, "getaddrinfo", refused)
    monkeypatch.setattr(socket, "create_connection", refused)
    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, refused)
    with pytest.raises(OSError, match="unreachable"):
        socket.create_connection(("127.0.0.1", 9))
    tried.clear()
    return tried


@pytest.mark.parametrize(
    "words",
    [
        ["check", BLOCK, *WHO, *FEW],
        ["today", BLOCK, *WHO, *FEW, "--session", "1", "--if-then"],
        pytest.param(["fit", LOG, *WHO[:2], *FEW], marks=pytest.mark.slow),
        ["log", LOG],
        ["exercises", "search", "row"],
        pytest.param(["sheet", BLOCK, *WHO, *FEW, "-o", "SHEET"], marks=pytest.mark.slow),
    ],
    ids=lambda words: words[0],
)
def test_a_command_asks_nobody(words, cut, tmp_path, capsys):
    assert main([str(tmp_path / "sheet") if word == "SHEET" else word for word in words]) == 0, capsys.readouterr().err
    assert cut == []


@pytest.mark.slow
def test_what_is_committed_is_verified_and_explained_alone(cut, tmp_path):
    assert main(["commit", BLOCK, *WHO, *FEW, "--reason", "r", "--to", str(tmp_path)]) == 0
    (committed,) = tmp_path.iterdir()
    assert main(["verify", str(committed)]) == 0
    assert main(["rationale", str(committed), "-o", str(tmp_path / "why.html")]) == 0
    assert cut == []


def styles():
    """Every style and page of the package, by its path."""
    kinds = (".css", ".html", ".tpl", ".j2")
    found = {path: path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*") if path.suffix in kinds}
    assert len(found) >= 5
    return found


def test_no_style_or_page_fetches_anything():
    """No font, style or picture from elsewhere: what is not on this computer is done without."""
    for path, text in styles().items():
        fetched = re.findall(
            r"@import|@font-face|url\(\s*['\"]?(?!data:|#)[^)]*|(?:src|href)=['\"]https?:[^'\"]*", text
        )
        assert fetched == [], path


def test_a_missing_font_falls_back_to_one_that_every_computer_has():
    generic = {"sans-serif", "serif", "monospace", "system-ui", "inherit"}
    named = 0
    for path, text in styles().items():
        lists = re.findall(r"font-family\s*:\s*([^;}]+)", text)
        lists += [found for found in re.findall(r"font\s*:\s*([^;}]+)", text) if "," in found or '"' in found]
        for fonts in lists:
            last = fonts.split(",")[-1].strip().split()[-1]
            assert last in generic or last.startswith(("var(", "--")), (path, fonts)
            named += 1
    assert named >= 4
