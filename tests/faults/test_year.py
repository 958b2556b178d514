"""Four weeks of the simulated year: nothing is lost, and whatever is lost would be noticed."""

from __future__ import annotations

import tempfile

import pytest

from tests.faults.year.books import Watch, apart
from tests.faults.year.costs import Costs
from tests.faults.year.lived import Year


def test_what_is_missing_and_what_is_there_too_often_is_said():
    assert apart("abb", "bba", "letters") == []
    assert apart("abbb", "bbc", "letters") == [
        "letters: 1 times missing: c",
        "letters: 1 times too often: a",
        "letters: 1 times too often: b",
    ]


def test_what_is_written_outside_is_noticed_and_what_is_read_is_not(tmp_path):
    inside, outside = tmp_path / "gym", tmp_path / "gym_2"
    inside.mkdir()
    (tmp_path / "there").touch()
    watch = Watch(inside)
    (inside / "log.csv").write_text("a", encoding="utf-8")
    (tmp_path / "there").read_text(encoding="utf-8")
    assert watch.outside == []
    outside.mkdir()
    (outside / "log.csv").write_text("a", encoding="utf-8")
    (inside / "log.csv").rename(outside / "moved.csv")
    watch.end()
    (outside / "log.csv").unlink()
    assert [line.partition(":")[0] for line in watch.outside] == ["os.mkdir", "open", "os.rename"]


def test_growth_is_the_power_of_the_week():
    costs = Costs()
    for costs.week in range(1, 30):
        costs.note("as the square", 3.0 * costs.week**2)
        costs.note("flat", 2.0)
    assert costs.growth("as the square") == pytest.approx(2.0, abs=1e-9)
    assert costs.growth("flat") == pytest.approx(0.0, abs=1e-9)


@pytest.mark.slow
def test_four_weeks_of_two_lifters_lose_nothing(tmp_path, monkeypatch):
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    year = Year(tmp_path, weeks=4, lifters=2, say=lambda _: None)
    year.live()
    assert year.faults() == []
    assert min(len(done) for done in year.books.sets.values()) > 50
    # What is lost, doubled or changed from here on is noticed.
    (rack,) = year.coach.gym.path.glob("logs/*block_1.csv")
    lines = rack.read_text(encoding="utf-8-sig").splitlines(keepends=True)
    rack.write_text("".join([*lines[:2], *lines[1:-1]]), encoding="utf-8-sig")
    (year.books.committed[0] / "block.toml").write_text("changed", encoding="utf-8")
    told = "\n".join(year.faults())
    for words in ("1 times missing", "1 times too often", "block.toml"):
        assert words in told
