"""An editing program that is killed at any moment loses at most its last edit, and breaks no file."""

from __future__ import annotations

import random
import subprocess
import sys
import time

import pytest

from workbench.reference.gym_folder import GymFolder

KILLS = 30
#: Long enough that writing it takes a while; every line says the number of the edit.
LINES = 20_000

_EDITS = """
import sys
from pathlib import Path
from workbench.reference.gym_folder import GymFolder
gym = GymFolder(sys.argv[1])
edited = gym.edit(Path(sys.argv[2]))
number = int(sys.argv[3])
while True:
    number += 1
    edited.write(f"{number}\\n" * int(sys.argv[4]))
    gym.remember(page=str(number))
    print(number, flush=True)
"""


@pytest.mark.slow
def test_no_moment_of_a_kill_breaks_a_file_or_costs_more_than_the_last_edit(tmp_path):
    gym = GymFolder(tmp_path)
    gym.make()
    path = gym.add("blocks", "killed", "0\n" * LINES)
    moments, number = random.Random(1), 0
    for _ in range(KILLS):
        process = subprocess.Popen(
            [sys.executable, "-c", _EDITS, str(tmp_path), str(path), str(number), str(LINES)], stdout=subprocess.PIPE
        )
        assert process.stdout is not None
        said = [process.stdout.readline()]  # it has begun
        time.sleep(moments.uniform(0, 0.05))
        process.kill()
        said += process.communicate()[0].splitlines()
        finished = int([line for line in said if line.strip()][-1])
        lines = path.read_text(encoding="utf-8").split()
        assert len(lines) == LINES, "a file of other length than any that was written"
        assert set(lines) in ({str(finished)}, {str(finished + 1)})
        assert gym.remembered()["page"] in {str(finished), str(finished + 1)}
        number = int(lines[0])
    edited = gym.edit(path)
    edited.write("after all\n")
    assert edited.undo().split()[0] == str(number).encode()
