"""What must hold while processes are killed, a disk is full and the mail server fails: nothing
acknowledged is lost, and every intended message arrives, once for each state and in order.

Imported by `make races` without Django; each part runs in a process of its own.
"""

import json
import os
import secrets
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.races.faults import processes, programs
from tests.races.faults.ledgers import FIGURES
from tests.races.faults.small_disk import SmallDisk

# How many kills on PostgreSQL and on SQLite, how often the disk is full, and how many mail faults.
PROFILES = {
    "quick": {"K1": 9, "K2": 3, "D1": 2, "M1": 60},
    "long": {"K1": 150, "K2": 50, "D1": 10, "M1": 500},
}
COUNTS = ("kills", "mail_faults")
ROOT = processes.ROOT


def run(
    profile: str, *, seed: int | None = None, counts: Mapping[str, int] | None = None
) -> tuple[dict[str, int], list[dict[str, Any]]]:
    """Figures, and a record for each part that this machine can play; one that it cannot is named
    with its reason.

    All figures must be 0 but for the counts: kills and mail_faults. `counts` overrides the
    profile's, 0 leaves a part out.
    """
    seed = secrets.randbelow(1_000_000) if seed is None else seed
    wanted = {**PROFILES.get(profile, PROFILES["quick"]), **(counts or {})}
    records = [
        record
        for part, count in wanted.items()
        if count and (record := played(part, seed, count)) is not None
    ]
    figures = dict.fromkeys([*FIGURES.values(), *COUNTS], 0)
    figures |= Counter(
        FIGURES[violation["kind"]] for record in records for violation in record["violations"]
    )
    for name in COUNTS:
        figures[name] = sum(record.get(name, 0) for record in records)
    return figures, records


def played(part: str, seed: int, count: int) -> dict[str, Any] | None:
    """One part's record; None where this machine cannot play it, which is printed."""
    with tempfile.TemporaryDirectory(prefix="levare-faults-") as folder:
        reason = missing(part, Path(folder))
        if reason:
            print(f"{part}: left out, {reason}", flush=True)
            return None
        command = [
            sys.executable,
            "-m",
            "tests.races.faults.part",
            part,
            str(seed),
            str(count),
            folder,
        ]
        foreign = {
            "DATABASE_URL",
            "REDIS_URL",
            "EMAIL_URL",
            "DJANGO_SETTINGS_MODULE",
            "LEVARE_PROFILE",
            "LEVARE_VAR",
            "OUTBOX_THREAD",
        }
        environment = {name: value for name, value in os.environ.items() if name not in foreign}
        done = subprocess.run(command, cwd=ROOT, env=environment, check=False)
        report = Path(folder) / "report.json"
        if done.returncode or not report.exists():
            raise RuntimeError(f"{part} with seed {seed} stopped with {done.returncode}")
        record: dict[str, Any] = json.loads(report.read_text(encoding="utf-8"))
        return record


def missing(part: str, folder: Path) -> str:
    """Why this machine cannot play that part; empty where it can."""
    if part == "K1":
        return programs.missing_services()
    return SmallDisk.refused(folder) if part == "D1" else ""
