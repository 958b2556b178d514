"""The rationale: complete, offline, small, alive in a browser with the network cut, and deaf to hostile names."""

import datetime
import html
import html.parser
import json
import re

import pytest

from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.prescription.schemes import constant_step, exercise_block, wave
from workbench.publish.commit import Alternative, Decision, commit_block, read_committed
from workbench.publish.rationale import find_chromium, rationale_html, write_pdf, write_rationale
from workbench.quantities import InputError
from workbench.reference.sources import data_path

DEMO = data_path("demo")
NOW = datetime.datetime(2026, 1, 4, 18, 0, tzinfo=datetime.UTC)
MAX_BYTES = 8_000_000
#: Each of these would do something in a page or a spreadsheet that took it for more than text.
NAMES = ("<script>document.title='owned'</script>", "=cmd()", "</script><img src=x onerror=document.title='owned'>")


@pytest.fixture(scope="module")
def room():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def people():
    return [read_lifter(DEMO / "lifters" / f"{name}.toml") for name in ("emre_sandoval", "asta_lindqvist")]


@pytest.fixture(scope="module")
def committed(tmp_path_factory, room, people):
    block = read_block(DEMO / "block.toml")
    other = block.model_copy(update={"name": "Four weeks", "weeks": 4, "lighter_weeks": []})
    decision = Decision(
        "Strong pulls before the spring races.\nThe legs keep.", "C. Oach", (Alternative("four", other),)
    )
    folder = tmp_path_factory.mktemp("committed")
    return commit_block(block, people, room, decision, seed=3, folder=folder, draws=60, now=NOW)


@pytest.fixture(scope="module")
def page_text(committed):
    return rationale_html(committed)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory, room, people):
    script, formula, closing = NAMES
    block = exercise_block("back squat", constant_step(sets=2), weeks=2, name=script)
    session = block.sessions[0].model_copy(update={"name": closing})
    block = block.model_copy(update={"sessions": [session], "note": formula})
    other = exercise_block("back squat", wave(sets=2), weeks=2, name=closing)
    named = [one.model_copy(update={"name": name}) for one, name in zip(people, (script, formula), strict=True)]
    decision = Decision(script, closing, (Alternative(closing, other, script), Alternative(formula, other, formula)))
    folder = tmp_path_factory.mktemp("hostile")
    return commit_block(block, named, room, decision, seed=3, folder=folder, draws=40, now=NOW)


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.elements, self.code, self._in_code = [], [], False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self._in_code = tag == "code"

    def handle_endtag(self, tag):
        self._in_code = False

    def handle_data(self, data):
        if self._in_code:
            self.code.append(data)


def without_library(text):
    """The page without the drawing library, which is not ours to check."""
    return re.sub(r"<script>/\*\*.*?plotly\.js.*?</script>", "", text, flags=re.DOTALL)


def test_everything_is_in_it(page_text, committed):
    text = html.unescape(page_text)
    for part in (
        "The decision",
        "The alternatives",
        "Predictions",
        "Volume and intensity",
        "Cautions",
        "How to reproduce",
    ):
        assert part in text
    assert "Strong pulls before the spring races." in text
    looked_at = re.sub(r"<[^>]*>", "|", text.partition('id="alternatives"')[2].partition("<h2")[0])
    assert re.search(r"\|four\|+no reason recorded\|", looked_at), "the alternative and why it was not taken"
    assert committed.fingerprint in text
    assert "Stop on pain" in text
    assert "ralston_2017" in text
    assert f"seed {committed.manifest['seed']}" in text
    for one in committed.lifters:
        assert one.name in text
    assert "What is not known, and what is luck" in text
    assert "is the luck of the day and the set." in text


def test_it_is_small_and_asks_nobody(page_text):
    assert len(page_text.encode()) < MAX_BYTES
    page = Page(page_text)
    for tag, attributes in page.elements:
        assert "src" not in attributes, tag
        assert tag != "link", attributes
        assert attributes.get("href", "#").startswith("#")
    policies = [a["content"] for t, a in page.elements if t == "meta" and "http-equiv" in a]
    assert policies
    assert policies[0].startswith("default-src 'none'")
    assert page_text.count("<script>/**") <= 1, "the drawing library stands in it once"


def test_the_code_is_there_and_makes_the_figures(page_text, committed):
    """Every hidden listing runs as it stands and gives the very figure that the page shows."""
    listings = [text for text in Page(page_text).code if "read_committed(" in text]
    shown = re.findall(r'<script type="application/json">(.*?)</script>', page_text, flags=re.DOTALL)
    assert len(listings) == len(shown) == 2 * (3 + 4)
    for listing, figure in zip(listings, shown, strict=True):
        names = {}
        exec(compile(listing.replace("FOLDER", str(committed.path)), "listing", "exec"), names)
        assert json.loads(names["figure"].to_json()) == json.loads(figure)


def test_hostile_names_are_text(hostile):
    text = without_library(rationale_html(hostile))
    known = {
        *("html", "head", "meta", "title", "style", "body", "h1", "h2", "h3", "p", "nav", "a", "blockquote", "div"),
        *("table", "caption", "thead", "tbody", "tr", "th", "td", "details", "summary", "pre", "code", "section"),
        *("ul", "li", "label", "select", "option", "script"),
    }
    elements = Page(text).elements
    assert {tag for tag, _ in elements} <= known
    assert not any(name.startswith("on") for _, attributes in elements for name in attributes)
    figures = [attributes for tag, attributes in elements if tag == "script" and "type" in attributes]
    assert all(attributes["type"] == "application/json" for attributes in figures)
    assert sum(tag == "script" for tag, _ in elements) == len(figures) + 1
    for name in ("predicted_sets.csv", "predicted_weeks.csv"):
        for line in (hostile.path / name).read_text(encoding="utf-8").splitlines()[1:]:
            assert not line.lstrip('"').startswith(("=", "+", "-", "@"))


def test_what_cannot_be_compared_is_said(tmp_path, room, people):
    """An alternative that asks for a lift one lifter does not have leaves the rest of the page whole."""
    block = exercise_block("back squat", constant_step(sets=1), weeks=1)
    other = exercise_block("overhead press", constant_step(sets=1), weeks=1)
    decision = Decision("r", alternatives=(Alternative("presses", other),))
    found = commit_block(block, people[:1], room, decision, seed=1, folder=tmp_path, draws=20, now=NOW)
    assert "Not compared: scheme presses" in rationale_html(found)


def test_what_cannot_be_written_is_explained(committed, tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        write_rationale(committed.path, tmp_path / "nowhere" / "r.html")
    with pytest.raises(InputError, match="folder of a committed block"):
        write_rationale(tmp_path, tmp_path / "r.html")


@pytest.mark.browser
@pytest.mark.parametrize("which", ["committed", "hostile"])
def test_it_lives_in_a_browser_with_the_network_cut(which, request, page):
    found = request.getfixturevalue(which)
    address = "http://127.0.0.1/rationale.html"
    asked, failed, errors = [], [], []
    page.on("request", lambda one: asked.append(one.url))
    page.on("requestfailed", lambda one: failed.append(one.url))
    page.on("pageerror", lambda one: errors.append(str(one)))
    page.on("console", lambda one: errors.append(one.text) if one.type == "error" else None)
    page.context.set_offline(True)
    # The page itself is handed over without a network; anything else it asks for would fail and be counted.
    page.route(address, lambda route: route.fulfill(body=rationale_html(found), content_type="text/html"))
    page.goto(address)
    page.wait_for_selector('.person[data-person="0"] .main-svg')
    assert [url for url in asked if not url.startswith(("data:", "blob:"))] == [address]
    assert failed == []
    # Figures respond: pointing at one shows its numbers; choosing another person draws theirs.
    figure = page.locator('.person[data-person="0"] .figure').first
    figure.scroll_into_view_if_needed()
    point = page.locator('.person[data-person="0"] .figure .point').first
    point.hover(force=True)
    page.wait_for_selector(".hoverlayer .hovertext")
    assert not page.locator('.person[data-person="1"]').first.is_visible()
    page.select_option("#person", "1")
    page.wait_for_selector('.person[data-person="1"] .main-svg')
    assert not page.locator('.person[data-person="0"]').first.is_visible()
    drawn = page.locator('.person[data-person="1"] .figure[data-drawn]').count()
    assert drawn == page.locator('.person[data-person="1"] .figure').count() > 0
    assert page.title() != "owned"
    assert page.locator("h1").inner_text() == f"{found.block.name}: why this block"
    assert errors == []


@pytest.mark.browser
@pytest.mark.slow
def test_it_prints_to_pdf(committed, tmp_path, chromium):
    assert find_chromium() is not None
    path = write_pdf(committed.path, tmp_path / "r.pdf")
    assert path.read_bytes().startswith(b"%PDF")


def test_without_chromium_the_way_out_is_named(committed, tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(InputError, match="no Chromium"):
        write_pdf(committed.path, tmp_path / "r.pdf")


def test_a_read_page_is_the_same_again(committed, page_text):
    assert rationale_html(read_committed(committed.path)) == page_text
