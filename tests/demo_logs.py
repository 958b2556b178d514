"""The demonstration logs: invented lifters of ``data/demo`` living through sessions, from fixed seeds.

``python -m tests.demo_logs`` writes them again. Each is written the way some people keep a log; none shares code with
the inference that reads it.
"""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pandas as pd
from openpyxl import Workbook

from tests.simulated_logs import Body, Day, TrueLifter, simulated_log
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.models.fatigue import TWO_STATE, TwoState
from workbench.models.stated_reserve import StatedReserve
from workbench.prescription.block import read_block
from workbench.reference.parameters import Noise
from workbench.simulate.plan import make_plan

DATA = Path(__file__).resolve().parent.parent / "data" / "demo"
NOTE = "invented"
#: How these invented people tire, vary and say what is left, the less surely the more that is. Written down here, so
#: that the logs stay as they are when fits move on.
TIRING = {
    "form": TWO_STATE,
    "parameters": TwoState(
        depletion_gain=4.0, strength_tau_s=23.0, depletion_tau_s=220.0, slow_share=0.1, slow_tau_s=3000.0
    ),
    "scatter": Noise(day_sd=0.02, set_log_sd=0.07),
    "states": StatedReserve(
        bias_at_turn=0.32,
        turn_reps=12.0,
        slope_short=0.06,
        slope_long=0.47,
        longest_reps=20.0,
        sd_at_failure=0.74,
        sd_per_rep=0.19,
        sd_reps=8.0,
        farthest=np.inf,
    ),
}
#: Load of the demo block's sets that are prescribed by reps in reserve, kg.
BY_RESERVE = {"lat pulldown": 67.5}


def lifter_and_truth(name, *, one_rm, endurance, rate):
    """Read a demo lifter and give it a truth: factors on the 1RMs of the file, endurance by exercise."""
    lifter = read_lifter(DATA / "lifters" / f"{name}.toml")
    log_one_rm = {exercise: np.log(lifter.lift(exercise).one_rm * one_rm.get(exercise, 1.0)) for exercise in endurance}
    return lifter, TrueLifter(log_one_rm, dict(endurance), rate)


def two_weeks_of_the_block():
    """Weeks 1 and 2 of the demo block as done: the reserve is stated after the last set of each exercise."""
    lifter, truth = lifter_and_truth(
        "emre_sandoval",
        one_rm={"barbell bench pull": 0.96, "back squat": 1.03},
        endurance={
            "barbell bench pull": 0.027,
            "back squat": 0.021,
            "lat pulldown": 0.026,
            "Romanian deadlift": 0.022,
            "leg press": 0.016,
            "seated cable row": 0.024,
            "dumbbell curl": 0.028,
        },
        rate=0.85,
    )
    rng = np.random.default_rng(11)
    plan = make_plan(read_block(DATA / "block.toml"), lifter, read_room(DATA / "rooms" / "boathouse_hall.toml"))
    rows = []
    for week in range(2):
        for session in plan.sessions:
            date = datetime.date(2026, 1, 5) + datetime.timedelta(days=7 * week + (session.day or 1) - 1)
            today = TIRING["scatter"].day_sd * rng.standard_normal()
            done = {}
            body = Body(truth.recovery_rate, truth.carry_over, TIRING["parameters"], TIRING["form"])
            active = [one for one in session.sets if one.active[week]]
            for number, one in enumerate(active):
                day = done.get(one.exercise)
                if day is None:
                    strength = truth.log_one_rm[one.exercise] + today
                    day = done[one.exercise] = Day(rng, truth, one.exercise, date, strength, body=body, **TIRING)
                last = number + 1 == len(active) or active[number + 1].exercise != one.exercise
                reps = np.inf if np.isinf(one.reps_high[week]) else int(one.reps_high[week])
                load = BY_RESERVE.get(one.exercise, float(one.load_kg[week]))
                day.do(load, float(one.rest_s[week]), reps=reps, say=last and np.isfinite(reps))
            rows += [row for day in done.values() for row in day.rows]
        for exercise in truth.log_one_rm:
            truth.log_one_rm[exercise] += 0.003
    return pd.DataFrame(rows)


def eight_weeks():
    """Eight weeks of the usual mixture: straight sets, hard last sets, felt reserves, drops, a test now and then."""
    lifter, truth = lifter_and_truth(
        "bram_okafor",
        one_rm={"barbell bench pull": 1.04, "back squat": 0.97, "bench press": 1.02},
        endurance={"barbell bench pull": 0.036, "back squat": 0.033, "bench press": 0.034},
        rate=0.7,
    )
    return simulated_log(np.random.default_rng(12), lifter, truth, sessions=20, gap_days=(2, 4), **TIRING)


def everything_easy():
    """Six weeks in which everything was made with ease and nobody wrote down how much was left."""
    lifter, truth = lifter_and_truth(
        "cato_venn",
        one_rm={"barbell bench pull": 1.08, "back squat": 1.1, "lat pulldown": 1.06},
        endurance={"barbell bench pull": 0.024, "back squat": 0.02, "lat pulldown": 0.025},
        rate=1.1,
    )

    def easy(day, believed, rng):
        load = round(believed * rng.uniform(0.58, 0.68) / 2.5) * 2.5
        for _ in range(3):
            day.do(load, 150, reps=5)

    return simulated_log(np.random.default_rng(13), lifter, truth, sessions=12, gap_days=(3, 4), how=easy, **TIRING)


def with_slips():
    """A log as kept by hand, with three slips: pounds among kilograms, a digit swapped, and one bad day."""
    lifter, truth = lifter_and_truth(
        "dorit_halloran",
        one_rm={"back squat": 1.02, "barbell bench pull": 0.98},
        endurance={"back squat": 0.019, "barbell bench pull": 0.03},
        rate=1.3,
    )
    rng = np.random.default_rng(14)
    dates = []

    def steady(day, believed, rng):
        dates.append(day.date)
        if len(set(dates)) == 8:
            day.strength -= 0.09  # the bad day
        load = round(believed * rng.uniform(0.68, 0.8) / 2.5) * 2.5
        for number in range(4):
            day.do(load, 150, reps=np.inf if number == 3 else 5, say=number == 2)

    log = simulated_log(rng, lifter, truth, sessions=11, gap_days=(3, 4), how=steady, **TIRING)
    squat = log.index[log["exercise"] == "back squat"]
    pull = log.index[log["exercise"] == "barbell bench pull"]
    log.loc[squat[9], "load_kg"] = round(log.loc[squat[9], "load_kg"] / 0.45359237)
    for at in pull:
        text = f"{log.loc[at, 'load_kg']:g}"
        if text[1] > text[0] and log.loc[at, "outcome"] == "failed":
            log.loc[at, "load_kg"] = float(text[1] + text[0] + text[2:])
            break
    return log


#: Exercises with two dumbbells: their load is written by one hand.
PAIRS = {"dumbbell curl"}


def written(log, columns, *, decimal=".", date="%Y-%m-%d"):
    """Turn a log into rows of text: column headings and how each is filled."""
    headings = list(columns)
    table = [headings]
    for row in log.to_dict("records"):
        cells = []
        for name in columns.values():
            value = row.get(name, name)
            if name == "rpe":
                value = np.nan if np.isnan(row["reps_in_reserve"]) else 10 - row["reps_in_reserve"]
                value = np.nan if value < 5 else value
            if name == "note":
                value = NOTE
            if isinstance(value, pd.Timestamp):
                cells.append(value.strftime(date))
            elif isinstance(value, float):
                pair = name == "load_kg" and row["exercise"] in PAIRS
                text = f"2x{value / 2:.10g}" if pair else f"{value:.10g}"
                cells.append("" if np.isnan(value) else text.replace(".", decimal))
            else:
                cells.append(str(value))
        table.append(cells)
    return table


PLAIN = {
    "date": "date",
    "exercise": "exercise",
    "set": "set_number",
    "load kg": "load_kg",
    "reps": "reps",
    "outcome": "outcome",
    "RIR": "reps_in_reserve",
    "rest s": "rest_s",
    "notes": "note",
}
BY_HAND = {
    "Date": "date",
    "Exercise": "exercise",
    "Weight (kg)": "load_kg",
    "Reps": "reps",
    "Outcome": "outcome",
    "RPE": "rpe",
    "Rest (s)": "rest_s",
    "Notes": "note",
}


def as_text(table, delimiter):
    """Return the rows as the text of a file."""
    return "".join(delimiter.join(row) + "\n" for row in table)


def files():
    """Return every text log: name and content."""
    return {
        "emre_sandoval_weeks_1_2.csv": as_text(written(two_weeks_of_the_block(), PLAIN), ","),
        "bram_okafor_eight_weeks.csv": as_text(written(eight_weeks(), PLAIN), ","),
        "cato_venn_all_easy.csv": as_text(written(everything_easy(), BY_HAND, decimal=",", date="%d.%m.%Y"), ";"),
    }


def workbook():
    """Return the log that is kept as a workbook: a title above the table, dates as dates, numbers as numbers."""
    book = Workbook()
    sheet = book.active
    sheet.title = "log"
    sheet.append(["Dorit Halloran, training log (an invented person)"])
    sheet.append([])
    table = written(with_slips(), BY_HAND)
    sheet.append(table[0])
    for row in table[1:]:
        values = [datetime.datetime.fromisoformat(row[0]), row[1], float(row[2]), int(row[3]), row[4]]
        sheet.append([*values, float(row[5]) if row[5] else None, float(row[6]) if row[6] else None, row[7]])
    return book


def main():
    """Write all demonstration logs."""
    folder = DATA / "logs"
    folder.mkdir(exist_ok=True)
    for name, text in files().items():
        (folder / name).write_text(text, encoding="utf-8")
    workbook().save(folder / "dorit_halloran_by_hand.xlsx")


if __name__ == "__main__":
    main()
