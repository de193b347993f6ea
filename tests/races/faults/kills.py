"""Signal 9 at random moments under load, to each process there is; then every acknowledged write
must be in the tables.
"""

import random
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from tests.races.faults.stage import Stage

TITLE = "killed with signal 9 under load"


def play(database: str, seed: int, kills: int, folder: Path) -> dict[str, Any]:
    """So many kills, each followed by the proof that the service goes on."""
    chance = random.Random(f"kills:{seed}")
    killed: Counter[str] = Counter()
    with Stage(database, seed, folder) as stage:
        stage.begin()
        deck: list[str] = []
        for number in range(1, kills + 1):
            if not deck:
                deck = [*_blows(stage, chance)]
                chance.shuffle(deck)
            blow = deck.pop()
            time.sleep(chance.uniform(0.2, 1.5))
            print(f"kill {number} of {kills}: {blow}", flush=True)
            _blows(stage, chance)[blow]()
            killed[blow] += 1
            try:
                stage.wait_for_writes(3)
            except RuntimeError as error:
                raise RuntimeError(
                    f"after {blow} was killed: {error}\n"
                    + "\n".join(service.log()[-3000:] for service in stage.services.values())
                ) from error
        stage.settle()
        return stage.judged(
            "K1" if database == "postgresql" else "K2",
            TITLE,
            {"kills": killed.total(), **_flat(killed)},
        )


def _flat(killed: Counter[str]) -> dict[str, int]:
    return {f"killed: {name}": count for name, count in sorted(killed.items())}


def _blows(stage: Stage, chance: random.Random) -> dict[str, Callable[[], None]]:
    """Whom to hit; whoever watches over the processes then starts what has ended."""

    def all_of(name: str) -> None:
        with stage.services[name].lock:
            stage.services[name].kill()

    def web_master() -> None:
        with stage.services["web"].lock:
            stage.services["web"].kill_program_only()

    blows: dict[str, Callable[[], None]] = {
        "web": lambda: all_of("web"),
        "a web worker": lambda: stage.services["web"].kill_a_child(chance.randrange(2)),
        "the web master": web_master,
    }
    if stage.database == "postgresql":
        blows |= {name: partial(all_of, name) for name in ("PostgreSQL", "Redis", "worker", "beat")}
        blows["a worker's child"] = lambda: stage.services["worker"].kill_a_child(
            chance.randrange(2)
        )
    return blows
