"""``workbench fit`` and ``workbench log``, as a coach types them."""

import json
from pathlib import Path

import pytest

from workbench.__main__ import command_line
from workbench.lifter import read_lifter
from workbench.quantities import InputError
from workbench.reference.sources import data_path

pytestmark = pytest.mark.usefixtures("compiled_sets")

DEMO = data_path("demo")
LOG = str(DEMO / "logs" / "emre_sandoval_weeks_1_2.csv")
BY_HAND = str(DEMO / "logs" / "dorit_halloran_by_hand.xlsx")
LIFTER = ["--lifter", str(DEMO / "lifters" / "emre_sandoval.toml")]
PLAN = ["--block", str(DEMO / "block.toml"), "--room", str(DEMO / "rooms" / "boathouse_hall.toml"), "--week", "3"]


def run(*words):
    arguments = command_line().parse_args(words)
    return arguments.run(arguments)


@pytest.fixture(scope="module")
def one_day(tmp_path_factory):
    """Return a log of the last day alone: ten sets of three exercises."""
    path = tmp_path_factory.mktemp("log") / "one_day.csv"
    heading, *lines = (DEMO / "logs" / "emre_sandoval_weeks_1_2.csv").read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([heading, *lines[-10:]]) + "\n", encoding="utf-8")
    return str(path)


def test_fit_prints_what_was_learned_and_what_comes(capsys):
    assert run("fit", LOG, *LIFTER, *PLAN, "--draws", "200", "--seed", "1") == 0
    printed = capsys.readouterr().out
    for words in ("72 sets used", "before the log", "recovery rate", "A test set that would teach most", "week 3"):
        assert words in printed
    assert "clears nobody to train" in printed
    assert "Proposed only" in printed


def test_fit_as_json_is_the_same_twice(one_day, capsys):
    words = ("fit", one_day, *LIFTER, *PLAN, "--draws", "20", "--seed", "2", "--json")
    run(*words)
    first = capsys.readouterr().out
    run(*words)
    assert capsys.readouterr().out == first
    answer = json.loads(first)
    assert answer["sets_used"] == 10
    assert {row["quantity"] for row in answer["learned"]} == {"1RM", "endurance", "recovery rate", "carry-over"}
    assert answer["next_week"]["weeks"][0]["week"] == 3


def test_fit_writes_a_lifter_that_reads_back_and_never_overwrites(one_day, capsys, tmp_path):
    path = tmp_path / "emre.toml"
    assert run("fit", one_day, *LIFTER, "-o", str(path), "--seed", "1") == 0
    assert read_lifter(path).name == "Emre Sandoval"
    with pytest.raises(InputError, match="is there already"):
        run("fit", one_day, *LIFTER, "-o", str(path), "--seed", "1")


def test_a_second_fit_with_the_new_file_counts_no_set_twice(one_day, capsys, tmp_path):
    path = tmp_path / "emre.toml"
    run("fit", one_day, *LIFTER, "-o", str(path), "--seed", "1")
    capsys.readouterr()
    again = ("fit", one_day, "--lifter", str(path), *PLAN, "--draws", "20", "--seed", "1")
    assert run(*again) == 0
    printed = capsys.readouterr().out
    assert "Emre Sandoval: 0 sets used" in printed
    assert "10 sets of 2026-01-16 are in the lifter file already" in printed
    assert run(*again, "--json", "-o", str(tmp_path / "third.toml")) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["sets_used"] == 0
    assert "already" in answer["notes"][0]
    assert read_lifter(tmp_path / "third.toml") == read_lifter(path)


def test_fit_asks_about_a_learned_day_that_was_edited(one_day, capsys, tmp_path):
    path, log_path = tmp_path / "emre.toml", tmp_path / "edited.csv"
    run("fit", one_day, *LIFTER, "-o", str(path), "--seed", "1")
    lines = Path(one_day).read_text(encoding="utf-8").splitlines()
    log_path.write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")  # the last set is gone
    capsys.readouterr()
    run("fit", str(log_path), "--lifter", str(path), "--seed", "1")
    asked = [line for line in capsys.readouterr().out.splitlines() if line.startswith("Please answer")]
    assert len(asked) == 1
    assert "2026-01-16" in asked[0]
    assert "edited" in asked[0]


def test_fit_names_surprises(capsys):
    run("fit", BY_HAND, "--lifter", str(DEMO / "lifters" / "dorit_halloran.toml"), "--seed", "1")
    assert "165 lb noted as kilograms" in capsys.readouterr().out


def test_a_block_without_a_room_is_refused():
    with pytest.raises(InputError, match="add --room FILE"):
        run("fit", LOG, *LIFTER, "--block", str(DEMO / "block.toml"))


def test_log_previews_and_writes_the_canonical_log(capsys, tmp_path):
    path = tmp_path / "canonical.csv"
    assert run("log", BY_HAND, "-o", str(path)) == 0
    printed = capsys.readouterr().out
    assert "88 sets" in printed
    assert "'RPE' is read as" in printed
    assert path.read_text(encoding="utf-8-sig").count("\n") == 89
    with pytest.raises(InputError, match="is there already"):
        run("log", BY_HAND, "-o", str(path))


def test_log_asks_about_dates_that_could_be_two_and_takes_the_answer(capsys, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("date,exercise,kg,reps\n03/04/2026,back squat,100,5\n05/04/2026,back squat,100,5\n")
    assert run("log", str(path)) == 1
    assert "Please answer" in capsys.readouterr().out
    assert run("log", str(path), "--date-order", "dmy", "--json") == 0
    assert json.loads(capsys.readouterr().out)["totals"]["sets"] == 2


def test_a_mapping_that_maps_nothing_is_explained():
    with pytest.raises(InputError, match="HEADING=FIELD"):
        run("log", BY_HAND, "--column", "Gewicht")


def test_fit_asks_whose_rows_they_are_and_takes_the_answer(capsys, tmp_path):
    path = tmp_path / "team.csv"
    path.write_text(
        "date,lifter,exercise,kg,reps\n2026-05-04,Ana Lind,back squat,100,5\n2026-05-04,Ben,back squat,60,5\n"
    )
    with pytest.raises(InputError, match=r"1 set of Ana Lind, 1 set of Ben.*--lifter-rows"):
        run("fit", str(path), *LIFTER, "--seed", "1")
    assert run("fit", str(path), *LIFTER, "--seed", "1", "--lifter-rows", "ana lind") == 0
    assert "Emre Sandoval: 1 sets used" in capsys.readouterr().out


def test_no_canonical_log_is_written_while_a_question_is_open(capsys, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("date,exercise,kg,reps\n03/04/2026,back squat,100,5\n2026-04-05,back squat,100,5\n")
    written = tmp_path / "canonical.csv"
    assert run("log", str(path), "-o", str(written)) == 1
    assert "Not written" in capsys.readouterr().out
    assert not written.exists()
    assert run("log", str(path), "-o", str(written), "--leave-out", "date order") == 0
    assert written.read_text(encoding="utf-8-sig").count("\n") == 2
