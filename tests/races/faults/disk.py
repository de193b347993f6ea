"""SQLite on a disk that fills up under load: clean answers meanwhile, nothing half-written, and on
it goes once there is room.
"""

import errno
import random
import sqlite3
import time
from pathlib import Path
from typing import Any

from tests.races.faults.ledgers import Fault
from tests.races.faults.small_disk import SmallDisk
from tests.races.faults.stage import Stage

SIZE = 24_000_000
TITLE = "the disk is full under load, then has room again"


def play(seed: int, times: int, folder: Path) -> dict[str, Any]:
    """The disk fills up so many times."""
    chance = random.Random(f"disk:{seed}")
    with (
        SmallDisk(folder / "small", SIZE) as disk,
        Stage("sqlite", seed, folder, sqlite_in=disk) as stage,
    ):
        stage.begin()
        for _ in range(times):
            refused = stage.ledger.statuses["503"]
            ballast = disk / "ballast"
            fill(ballast)
            until = time.monotonic() + 30
            while stage.ledger.statuses["503"] < refused + 10 and time.monotonic() < until:
                fill(ballast)  # what a checkpoint has given back is taken too
                time.sleep(0.2)
            if stage.ledger.statuses["503"] == refused:
                stage.faults.append(Fault("server-error", "a full disk was never told of"))
            time.sleep(chance.uniform(0.2, 1.0))
            ballast.unlink()
            stage.wait_for_writes(5)
        stage.settle()
        with sqlite3.connect(disk / "levare.sqlite3") as file:
            whole = file.execute("PRAGMA integrity_check").fetchall()
        if whole != [("ok",)]:
            stage.faults.append(Fault("acked-lost", f"integrity_check says {whole[:3]}"))
        return stage.judged("D1", TITLE, {"disk_full": times})


def fill(ballast: Path) -> None:
    """All that is left, in ever smaller pieces, down to less than a page."""
    with ballast.open("ab", buffering=0) as file:
        piece = 1_000_000
        while piece >= 512:
            try:
                file.write(b"x" * piece)
            except OSError as error:
                if error.errno != errno.ENOSPC:
                    raise
                piece //= 2
