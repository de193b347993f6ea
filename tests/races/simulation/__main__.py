"""`python -m tests.races.simulation --seeds 2000`: many seeds on the database that DATABASE_URL
names, SQLite in memory by default.
"""

import argparse
import os
import sys
import time
from collections import Counter

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("LEVARE_LOG", "CRITICAL")  # every fault thrown in would be a line

import django

django.setup()

from django.db import connection  # noqa: E402  the settings come first


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.races.simulation", description=__doc__)
    parser.add_argument("--seeds", type=int, default=100, help="how many seeds")
    parser.add_argument("--first", type=int, default=0, help="the first of them")
    parser.add_argument("--steps", type=int, default=60, help="steps of each")
    parser.add_argument(
        "--keep-going", action="store_true", help="do not stop at the first seed that fails"
    )
    asked = parser.parse_args()
    name = (
        ":memory:"
        if connection.vendor == "sqlite"
        else f"test_{connection.settings_dict['NAME']}_{os.getpid()}"
    )
    connection.settings_dict["TEST"]["NAME"] = name
    connection.creation.create_test_db(verbosity=0)
    try:
        return _play(asked)
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


def _play(asked: argparse.Namespace) -> int:
    from tests.races.simulation.school import School
    from tests.races.simulation.shrink import play_seed

    school, began, failed, done, seen = School(), time.monotonic(), [], 0, Counter[str]()
    for seed in range(asked.first, asked.first + asked.seeds):
        done += 1
        report = play_seed(school, seed, asked.steps, seen)
        if report:
            failed.append(seed)
            print(report, flush=True)
            if not asked.keep_going:
                break
        if sys.stderr.isatty():
            print(f"\r{done} seeds", end="", file=sys.stderr)
    seconds = time.monotonic() - began
    print(
        f"{connection.vendor}: {done} seeds of {asked.steps} steps, {len(failed)} failed "
        f"{failed or ''} in {seconds:.0f} s"
    )
    print(", ".join(f"{what} {count}" for what, count in seen.most_common()))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
