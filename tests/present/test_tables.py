"""Tables as text and HTML: every cell is there, and no line is wider than a page."""

import numpy as np
import pandas as pd

from workbench.present.tables import Table, frame_table, plain_text

PAGE = 100


def wide_table() -> Table:
    headings = ("exercise", *(f"measure number {number}" for number in range(12)))
    rows = tuple((name, *(f"{name[0]}{number}" for number in range(12))) for name in ("squat", "press"))
    return Table("Everything", headings, rows)


def test_a_wide_table_is_shared_out_over_pages_that_each_begin_with_the_first_column():
    table = wide_table()
    lines = table.text().splitlines()
    assert max(map(len, lines)) <= PAGE
    heads = [line for line in lines if line.startswith("exercise")]
    assert len(heads) > 1
    assert "".join(heads).count("measure number") == 12
    cells = [cell for line in lines if line.startswith("squat") for cell in line.split()[1:]]
    assert cells == [f"s{number}" for number in range(12)]


def test_a_column_wider_than_a_page_is_still_given_whole():
    long = "x" * (2 * PAGE)
    assert long in Table("Notes", ("set", "note", "kg"), (("1", long, "60"),)).text()


def test_columns_line_up_at_the_right_end():
    lines = Table("Loads", ("set", "kg"), (("warm-up", "60"), ("1", "102.5"))).text().splitlines()
    assert lines == ["Loads", "set         kg", "warm-up     60", "1        102.5"]


def test_a_notebook_gets_text_and_html_with_every_cell():
    shown = wide_table()._repr_mimebundle_()
    assert shown["text/plain"] == wide_table().text()
    assert shown["text/html"].count("<td>") == 2 * 12


def test_a_frame_becomes_a_table_with_its_named_index_and_blanks_for_missing_numbers():
    frame = pd.DataFrame({"error": [0.126, np.nan], "n": [3, 4]}, index=pd.Index(["one", "two"], name="model"))
    table = frame_table("Errors", frame)
    assert table.headings == ("model", "error", "n")
    assert table.rows == (("one", "0.13", "3"), ("two", "", "4"))


def test_sentences_are_wrapped_between_words_and_empty_parts_leave_no_gap():
    sentence = "a word " * 40
    text = plain_text([sentence], [], wide_table())
    assert max(map(len, text.splitlines())) <= PAGE
    assert text.split("\n\n")[0].split() == sentence.split()
    assert text.split("\n\n")[1].startswith("Everything")
