"""The rationale: complete, offline, small, alive in a browser with the network cut, and deaf to hostile names."""

import datetime
import html
import html.parser
import json
import re

import pytest

from workbench.answers.block_check import check_block
from workbench.answers.compare import compare_blocks
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.prescription.schemes import constant_step, exercise_block, wave
from workbench.present.words import in_words
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


def read_first(text):
    """The page's sections down to the detail, by heading: tables as rows of cells, then the other words."""
    found = {}
    for section in text.partition('<h2 class="detail">')[0].split("<h2")[1:]:
        heading = re.search(r">(.*?)</h2>", section)[1]
        rows = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in re.findall(r"<tr>(.*?)</tr>", section)]
        prose = re.sub(r"<table.*?</table>", " ", section.partition("</h2>")[2], flags=re.DOTALL)
        found[heading] = (
            [[html.unescape(cell) for cell in row] for row in rows],
            html.unescape(re.sub(r"<[^>]*>", " ", prose)),
        )
    return found


def test_what_a_colleague_reads_comes_first_and_takes_two_minutes(page_text):
    first = read_first(page_text)
    assert list(first) == ["The decision", "Looked at and not taken", "What to expect", "What is unsure", "Cautions"]
    assert "Strong pulls before the spring races." in first["The decision"][1]
    assert re.search(r"four\s+: no reason recorded", first["Looked at and not taken"][1])
    assert "reps will be missed" in first["What to expect"][1]
    assert "What would settle most" in first["What is unsure"][1]
    assert "Stop on pain" in first["Cautions"][1]
    # Two minutes at 200 words a minute; the page says what it says for two people, of whom one is shown.
    said = {name: len(prose.split()) for name, (_, prose) in first.items()}
    said["What to expect"], said["What is unsure"] = said["What to expect"] / 2, said["What is unsure"] / 2
    assert sum(said.values()) < 400
    assert "figure" not in page_text.partition("</style>")[2].partition('<h2 class="detail">')[0]


def test_the_weeks_and_the_blocks_are_told_in_the_numbers_of_the_questions(page_text, committed, room):
    """Against `check` and `compare` of the second person."""
    person, run = committed.lifters[1], {"draws": 60, "seed": 3}
    check = check_block(committed.block, person, room, **run)
    whole = check.weeks[check.weeks["session"] == "whole week"]
    first = read_first(page_text)
    rows = first["What to expect"][0][-committed.block.weeks :]
    assert [row[0] for row in rows] == ["1", "2", "3", "4", "5"]
    assert [row[4] for row in rows] == [in_words(chance) for chance in whole["chance"]]
    missed = [f"{value:.0f}" if value >= 10 else f"{value:.1f}" for value in whole["missed"]]
    assert [row[3] for row in rows] == missed
    sets = check.sets[check.sets["drop"] == 0].groupby("week").size()
    assert [row[1] for row in rows] == [str(count) for count in sets]
    four = committed.decision.alternatives[0].block
    values = compare_blocks({committed.block.name: committed.block, "four": four}, person, room, **run).values
    beside = first["Looked at and not taken"][0][-2:]
    assert [row[0] for row in beside] == list(values)
    for row, of_block in zip(beside, values.values(), strict=True):
        assert row[2] == in_words(of_block["all_reps"].mean())
        means = [of_block[name].mean() for name in ("missed_reps", "hard_sets", "minutes")]
        assert [float(row[at]) for at in (1, 3, 4)] == pytest.approx(means, abs=0.5), "shown to whole numbers"


def test_the_detail_is_folded_but_for_the_cautions_and_all_open_on_paper(page_text, committed):
    def parts(text):
        elements = Page(text).elements
        return {a["id"]: "open" in a for tag, a in elements if tag == "details" and "id" in a}

    names = ["all-cautions", "alternatives", "predictions", "volume", "models", "reproduce"]
    assert parts(page_text) == dict.fromkeys(names, False) | {"all-cautions": True}
    for_paper = rationale_html(committed, everybody=True)
    assert parts(for_paper) == dict.fromkeys(names, True)
    assert "<select" not in for_paper
    code = [a for tag, a in Page(for_paper).elements if tag == "details" and a.get("class") == "code"]
    assert code
    assert not any("open" in attributes for attributes in code)


def test_everything_is_in_it(page_text, committed):
    text = html.unescape(page_text)
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
    maps = len(committed.block.sessions)
    assert len(listings) == len(shown) == 2 * (3 + maps + 1 + 2)
    for listing, figure in zip(listings, shown, strict=True):
        names = {}
        exec(compile(listing.replace("FOLDER", str(committed.path)), "listing", "exec"), names)
        assert json.loads(names["figure"].to_json()) == json.loads(figure)


def test_hostile_names_are_text(hostile):
    text = without_library(rationale_html(hostile))
    known = {
        *("html", "head", "meta", "title", "style", "body", "h1", "h2", "h3", "p", "b", "a", "blockquote", "div"),
        *("table", "caption", "thead", "tbody", "tr", "th", "td", "details", "summary", "pre", "code", "section"),
        *("ul", "li", "label", "select", "option", "script", "span"),
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
    page.locator("#predictions summary").first.click()
    page.wait_for_selector('#predictions .person[data-person="0"] .main-svg')
    assert [url for url in asked if not url.startswith(("data:", "blob:"))] == [address]
    assert failed == []
    # Figures respond: pointing at one shows its numbers; choosing another person draws theirs.
    page.locator("#alternatives summary").first.click()
    page.wait_for_selector('#alternatives .person[data-person="0"] .main-svg')
    point = page.locator('#alternatives .person[data-person="0"] .figure .point').first
    point.scroll_into_view_if_needed()
    for _ in range(400):  # it answers to a pointer a little after it is seen
        point.hover(force=True)
        if page.locator(".hoverlayer .hovertext").count():
            break
        page.mouse.move(0, 0)
        page.wait_for_timeout(50)
    page.wait_for_selector(".hoverlayer .hovertext")
    assert not page.locator('.person[data-person="1"]').first.is_visible()
    page.select_option("#person", "1")
    page.wait_for_selector('#predictions .person[data-person="1"] .main-svg')
    page.locator('.person[data-person="0"]').first.wait_for(state="hidden")
    # Before it is printed all but code opens, and every figure of the chosen person fits between the margins of A4 and
    # Letter, 186 mm and 251 mm, at 96 px an inch; after it all is folded again.
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("details:not([open]):not(.code)").count() == 0
    figures = page.locator('.person[data-person="1"] .figure')
    size = "(one) => one.querySelector('.main-svg').getBoundingClientRect()"
    sizes = figures.evaluate_all(f"(all) => all.map({size}).map((box) => [box.width, box.height])")
    assert len(sizes) == figures.count() > 0
    assert max(width for width, _ in sizes) <= 186 / 25.4 * 96
    assert max(height for _, height in sizes) <= 251 / 25.4 * 96
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    # On paper the detail follows the cautions on the same sheet, wherever that begins.
    page.emulate_media(media="print")
    assert page.locator(".detail").evaluate("(one) => getComputedStyle(one).breakBefore") == "auto"
    page.emulate_media(media="screen")
    assert page.locator("details.part[open]").count() == 3
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


def test_what_a_lifter_file_leaves_out_heads_the_cautions(room, people, tmp_path):
    """A squat bends the knee deep; it stands there for the one whose file avoids that, and for nobody else."""
    sore = people[0].model_copy(update={"avoid_positions": ["deep knee flexion"]})
    block = exercise_block("back squat", constant_step(sets=1), weeks=1, name="Sore")
    made = commit_block(block, [sore, people[1]], room, Decision("r"), seed=3, folder=tmp_path, draws=20, now=NOW)
    said = read_first(rationale_html(made))["Cautions"][1].split()
    head = "In this block though left out: exchange it, or have it cleared by a licensed professional first."
    left_out = "back squat: the lifter file leaves it out (joint position left out: deep knee flexion). For healthy"
    assert " ".join(said).startswith(f"{head} {sore.name}: {left_out}")
