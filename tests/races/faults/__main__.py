"""`python -m tests.races.faults [--seed N] [--kills N] [--faults N] [--only PART]`: kills, a full
disk and a failing mail server.

PROFILE=long for 200 kills and 500 mail faults. The exit status is 1 where something was lost,
doubled or out of order.
"""

import argparse
import json
import os
import secrets
import sys

from tests.races import faults


def main(arguments: list[str]) -> int:
    read = argparse.ArgumentParser(prog="python -m tests.races.faults", description=__doc__)
    read.add_argument(
        "--seed",
        type=int,
        help="what decides whom and when; printed, and new each time where left out",
    )
    read.add_argument(
        "--kills", type=int, help="kills in all: three in four on PostgreSQL, the rest on SQLite"
    )
    read.add_argument("--faults", type=int, help="faults of the mail server")
    read.add_argument("--only", choices=["K1", "K2", "D1", "M1"], help="one part")
    asked = read.parse_args(arguments)
    seed = secrets.randbelow(1_000_000) if asked.seed is None else asked.seed
    print(f"seed {seed}", flush=True)
    counts: dict[str, int] = {}
    if asked.kills is not None:
        counts |= (
            {"K1": asked.kills, "K2": 0}
            if asked.only == "K1"
            else {"K2": asked.kills, "K1": 0}
            if asked.only
            else {}
        )
        counts = counts or {"K1": asked.kills - asked.kills // 4, "K2": asked.kills // 4}
    if asked.faults is not None:
        counts["M1"] = asked.faults
    if asked.only:
        counts |= {part: 0 for part in faults.PROFILES["quick"] if part != asked.only}
    figures, records = faults.run(os.environ.get("PROFILE") or "quick", seed=seed, counts=counts)
    for record in records:
        wrong = record.pop("violations")
        print(json.dumps(record))
        print(
            "\n".join(f"  {violation['kind']}: {violation['text']}" for violation in wrong[:20]),
            end="\n" if wrong else "",
        )
    print(json.dumps(figures))
    return 1 if any(value for name, value in figures.items() if name not in faults.COUNTS) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
