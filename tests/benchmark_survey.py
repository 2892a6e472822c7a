# ruff: noqa: T201 - run by hand, prints a table
"""How long a survey takes beside reading alone; run by hand: `python tests/benchmark_survey.py`.

Writes 20,000 records of `archive` to a file and times, one after the other and the best of three:
`orjson.loads` of each line (orjson is no part of ridgerule: install it for this), `ridgerule
survey` with a warm memo and from the start in one process, and with two jobs.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import subprocess
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import orjson

import archive
from ridgerule.cli.inputs import Asked
from ridgerule.cli.survey import surveyor
from ridgerule.survey.blocks import blocks_of, survey, survey_block

BOOKS = ("demo/tarn-county@2026-04", "code/model-residential@2021")
ROUNDS = 3


def _orjson(path: Path) -> float:
    start = time.perf_counter()
    with path.open("rb") as file:
        for line in file:
            orjson.loads(line)
    return time.perf_counter() - start


def _surveyed(path: Path, jobs: int) -> float:
    made = partial(surveyor, Asked(BOOKS), path.parent, keep_all=False)
    start = time.perf_counter()
    for _ in survey(made, blocks_of(path, path.name), jobs=jobs):
        pass
    return time.perf_counter() - start


def _warm(path: Path) -> float:
    """Return the time of a second run over the same lines by a surveyor that has seen them."""
    made = surveyor(Asked(BOOKS), path.parent, keep_all=False)
    times = []
    for _ in range(2):
        start = time.perf_counter()
        for block in blocks_of(path, path.name):
            survey_block(made, block)
        times.append(time.perf_counter() - start)
    return times[-1]


def _command(path: Path, jobs: int) -> float:
    against = [word for book in BOOKS for word in ("--against", book)]
    command = [
        str(Path(sys.executable).with_name("ridgerule")),
        "survey",
        str(path),
        "--jobs",
        str(jobs),
        *against,
    ]
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - start


def main() -> None:
    """Print the table of times, with a profile if that is asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--records", type=int, default=20_000)
    asked.add_argument("--profile", action="store_true")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "archive.jsonl"
        with path.open("wb") as file:
            file.writelines(archive.lines(given.records))
        size = path.stat().st_size / given.records
        print(f"{given.records} records of {size:.0f} bytes")
        ways = {
            "orjson.loads alone": _orjson,
            "survey, one process": partial(_surveyed, jobs=1),
            "survey, memo warm": _warm,
            "survey, two jobs": partial(_surveyed, jobs=2),
            "the command, one job": partial(_command, jobs=1),
            "the command, two jobs": partial(_command, jobs=2),
        }
        base = 0.0
        for name, way in ways.items():
            best = min(way(path) for _ in range(ROUNDS))
            base = base or best
            each = best / given.records * 1e6
            print(f"{name:24} {best:7.2f} s  {each:7.1f} us a record  {best / base:5.2f} times")
        if given.profile:
            profile = cProfile.Profile()
            profile.runcall(_surveyed, path, 1)
            pstats.Stats(profile).sort_stats("tottime").print_stats(25)


if __name__ == "__main__":
    main()
