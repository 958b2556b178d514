"""A review learns on from the last time that it read a long log whole, as from a lifter file."""

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from tests.answers.review.test_review import MONDAY, NONE, PRESS, SQUAT, lifter, log
from workbench.answers.review import forecasts, sets_done
from workbench.answers.review.forecasts import Known, Workbench
from workbench.models.fatigue import FORMS

#: Three weeks of twelve sets and three of squats alone; then a day of both.
ROWS = log(
    [
        (7 * week + day, exercise, load, reps + (week + number) % 2, number == 2, NONE)
        for week in range(6)
        for day in (0, 3)
        for exercise, load, reps in ((SQUAT, 105, 7), (PRESS, 75, 8))[: 2 if week < 3 else 1]
        for number in range(3)
    ]
    + [(42, exercise, load, 6, False, NONE) for exercise, load in ((SQUAT, 107.5), (PRESS, 77.5)) for _ in range(2)]
)


def learn(forecaster, weeks, rows=ROWS):
    begins = MONDAY + datetime.timedelta(weeks=weeks)
    sets = sets_done(rows, lifter())
    known = rows[rows["date"] < pd.Timestamp(begins)]
    forecaster.learn(Known(lifter(), known, sets[sets["date"] < begins], begins))
    return sets[sets["date"] >= begins]


def counted(monkeypatch):
    """Let every fit only note which rows it was given."""
    read = []

    def fit(rows, who, *, today, **_):
        read.append(len(rows))
        return SimpleNamespace(today=today, lifter=who, draws=lambda *_: None)

    monkeypatch.setattr(forecasts, "fit_log", fit)
    monkeypatch.setattr(forecasts, "updated_lifter", lambda learned: learned.lifter)
    monkeypatch.setattr(forecasts, "load", lambda: True)
    return read


def walk_through(forecaster, weeks, a_week):
    dates = np.repeat([MONDAY + datetime.timedelta(weeks=week) for week in range(weeks)], a_week)
    table = pd.DataFrame({"date": pd.to_datetime(dates)})
    for week in range(1, weeks + 1):
        known = table.head(week * a_week)
        forecaster.learn(Known(lifter(), known, known, MONDAY + datetime.timedelta(weeks=week)))
        yield known


def test_a_long_log_is_read_whole_only_when_it_has_grown_by_a_quarter(monkeypatch):
    """Weeks of 25 sets: whole up to 300, twelve times; then at 375, 475, 600, 750, 950, 1200, 1500, 1875, 2350."""
    read = counted(monkeypatch)
    forecaster = Workbench("it")
    of_weeks = [len(known) for known in walk_through(forecaster, 100, 25)]
    whole = [rows for rows, known in zip(read, of_weeks, strict=True) if rows == known]
    assert whole == [*range(25, 301, 25), 375, 475, 600, 750, 950, 1200, 1500, 1875, 2350]
    assert all(rows == known or rows <= 0.25 * known for rows, known in zip(read, of_weeks, strict=True))
    # What misses are found in is the whole log.
    assert forecaster.learned.today == MONDAY + datetime.timedelta(weeks=100)
    assert read[-1] == 2500
    assert forecaster.learned is forecaster.learned
    assert len(read) == 101


def test_another_form_is_read_whole_every_time(monkeypatch):
    """A lifter file keeps what the usual form and curve made of a log."""
    read = counted(monkeypatch)
    other = next(form for form in FORMS.values() if form is not forecasts.DEFAULT_FORM)
    assert [len(known) for known in walk_through(Workbench("it", form=other), 20, 25)] == read


def test_learning_on_forecasts_as_the_whole_log_does(monkeypatch):
    """Of both exercises, one of them not done since: a file keeps all as normal distributions, to hundredths of sds.

    1RMs, which loads of 75 % and 8 reps tell to 2 or 3 %, are a rep or so; 2,000 draws know a median to 0.05 reps.
    """
    said = []
    for most in (1e9, 20):
        monkeypatch.setattr(forecasts, "_READ_WHOLE", most)
        monkeypatch.setattr(forecasts, "_GROWN", 2.0)
        forecaster = Workbench("it", draws=2000)
        learn(forecaster, 3)
        day = learn(forecaster, 6)
        assert forecaster._after[0].exercises == ((SQUAT, PRESS) if most == 1e9 else (SQUAT,))
        said.append(forecaster.forecast(day))
    for whole, on in zip(*said, strict=True):
        print(np.median(on), np.median(whole), on.std(), whole.std())
        assert np.median(on) == pytest.approx(np.median(whole), abs=0.3)
        assert on.std() == pytest.approx(whole.std(), rel=0.15)


def test_a_week_without_a_set_that_can_be_used_teaches_nothing(monkeypatch):
    monkeypatch.setattr(forecasts, "_READ_WHOLE", 20)
    forecaster = Workbench("it", draws=50)
    learn(forecaster, 6)
    whole = forecaster._after[0]
    learn(forecaster, 8, ROWS[ROWS["date"] < pd.Timestamp(MONDAY + datetime.timedelta(weeks=6))])
    assert forecaster._after[0] is whole
