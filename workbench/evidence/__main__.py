"""``python -m workbench.evidence``: refit everything from ``data/evidence/`` and print the table of left-out scores."""

from __future__ import annotations

import argparse

from workbench.evidence.refit import refit

__all__ = ["main"]


def main() -> None:
    """Refit, write ``data/parameters.csv`` and ``data/fitted/``, print the tables."""
    parser = argparse.ArgumentParser(prog="python -m workbench.evidence", description=__doc__)
    parser.add_argument("--workers", type=int, default=2, help="processes (default 2)")
    tables = refit(lambda line: print(line, flush=True), workers=parser.parse_args().workers)
    titles = {
        "curves": "Load-reps curves: left-out error in reps, by load",
        "forms": "Fatigue forms: left-out error in the unit of each family",
        "spread": "Spread between people: predicted over published sd, study left out (geometric mean)",
        "near_failure": "Right after failure: what is known, and what every form predicts",
        "effective": "Effective draws behind the fitted constants",
        "rules": "Where the first set is known: error in reps per later set",
        "values": "Fitted values: median and 80 % interval",
        "correlation": "Posterior correlation of the default form",
    }
    for name, title in titles.items():
        print(f"\n{title}\n{tables[name].round(3).to_string(index=name == 'correlation')}")


if __name__ == "__main__":
    main()
