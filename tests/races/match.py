"""All races on one database: the school, the server, the drivers, and round after round with its
judgement.

`python -m tests.races` starts this in a process of its own for each database. What is imported at
the top stays free of Django, for the drivers that this process spawns import it too.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.races.drivers import Drivers, Hit, Shot, driving
from tests.races.server import serve

if TYPE_CHECKING:
    from tests.races.history import Violation
    from tests.races.plans import Race
    from tests.races.school import School

Run = dict[str, Any]
TIMED = "R1"
"""The race whose time is measured, beside the same clients asking who they are."""
SHORT_ROUNDS, LONG_ROUNDS = {TIMED: 5}, 20


class Match:
    """One database with its school, and the log of the server that plays on it."""

    def __init__(self, school: School, drivers: Drivers, log: Path, seed: int) -> None:
        from django.db import connection

        self.school, self.drivers, self.log, self.seed = school, drivers, log, seed
        self.database = connection.vendor
        self.runs: list[Run] = []

    def play(self, race: Race, port: int, turn: int, *, variant: Any = None) -> Run:
        """One round: its rows, its shots, and what the history and the judge say of them."""
        from tests.races import history
        from tests.races.state import read_state

        seed = f"{self.seed}:{race.name}:{variant}:{turn}"
        self.school.random.seed(seed)
        plan = race.plan(self.school, variant)
        read = {"since": self.school.races_from, "taught_before": self.school.taught_before}
        before, said = read_state(**read), self._said()
        hits = self.drivers.volley(port, plan.shots, meanwhile=plan.meanwhile)
        complaints = plan.judge(hits, port)
        events = [hit.event(i) for i, hit in enumerate(hits)]
        found = history.check(events, before, read_state(**read))
        run = self._told(race, seed, variant, hits, complaints, found)
        run["busy"] = history.busy(events)
        run["locked"] = self._said().count("database is locked") - said.count("database is locked")
        self.runs.append(run)
        return run

    def ask_who_they_are(self, port: int) -> int:
        """The p99 in milliseconds of all clients asking GET me/ at once: what a hundred callers
        cost without a race.
        """
        shots = [
            Shot(operation="fetch", method="GET", path="/api/v1/me/", token=client.token)
            for client in self.school.clients
        ]
        hits = self.drivers.volley(port, shots)
        if any(hit.status != 200 for hit in hits):
            raise AssertionError(Counter(hit.status for hit in hits))
        return p99_ms(hits)

    def _said(self) -> str:
        return self.log.read_text(encoding="utf-8", errors="replace") if self.log.exists() else ""

    def _told(
        self,
        race: Race,
        seed: str,
        variant: Any,
        hits: Sequence[Hit],
        complaints: Iterable[str],
        found: Iterable[Violation],
    ) -> Run:
        seconds = sorted(hit.seconds for hit in hits)
        violations = [{"kind": violation.kind, "text": violation.text} for violation in found]
        return {
            "race": race.name,
            "title": race.title + (f" ({variant})" if variant is not None else ""),
            "database": self.database,
            "seed": seed,
            "requests": len(hits),
            "statuses": {
                str(status): count
                for status, count in sorted(Counter(hit.status or 0 for hit in hits).items())
            },
            "p50_ms": round(1000 * seconds[len(seconds) // 2]),
            "p99_ms": p99_ms(hits),
            "violations": violations + [{"kind": "outcome", "text": text} for text in complaints],
        }


def p99_ms(hits: Sequence[Hit]) -> int:
    """The time that 99 of 100 answers took at most, in milliseconds."""
    seconds = sorted(hit.seconds for hit in hits)
    return round(1000 * seconds[max(0, len(seconds) * 99 // 100 - 1)])


def all_races() -> list[Race]:
    """R1 to R19, R21 and R22."""
    from tests.races import (
        scenarios_doors,
        scenarios_exchanges,
        scenarios_groups,
        scenarios_owed,
        scenarios_pairs,
        scenarios_proposals,
        scenarios_slots,
        scenarios_statements,
    )

    modules = (
        scenarios_slots,
        scenarios_groups,
        scenarios_doors,
        scenarios_exchanges,
        scenarios_owed,
        scenarios_pairs,
        scenarios_proposals,
        scenarios_statements,
    )
    found = [race for module in modules for race in module.RACES]
    return sorted(found, key=lambda race: int(race.name.removeprefix("R")))


def rounds(race: Race, profile: str) -> int:
    """How often a race is played: R1, whose time is measured, more often than others."""
    return LONG_ROUNDS if profile == "long" else SHORT_ROUNDS.get(race.name, 1)


def play_all(match: Match, *, only: Sequence[str], profile: str) -> None:
    """Every race in turn, or those that are named."""
    with serve(log=match.log) as port:
        warm(match, port)
        for race in all_races():
            if not only or race.name in only:
                for turn in range(rounds(race, profile)):
                    for variant in race.variants:
                        run = match.play(race, port, turn, variant=variant)
                        if race.name == TIMED:
                            run["me_p99_ms"] = match.ask_who_they_are(port)
                        tell(run)


def warm(match: Match, port: int) -> None:
    """A round that opens the server's connections and counts as any other, except that nobody
    measures its time.
    """
    from tests.races.plans import Race
    from tests.races.scenarios_slots import one_slot

    tell(match.play(Race("R0", "warming up: one slot", one_slot), port, 0, variant=40))


def tell(run: Run) -> None:
    """One line of progress."""
    wrong = f"  {len(run['violations'])} WRONG" if run["violations"] else ""
    beside = f", me/ {run['me_p99_ms']} ms" if "me_p99_ms" in run else ""
    print(
        f"{time.strftime('%H:%M:%S')}  {run['database']:10} {run['race']:4} {run['title']:52} "
        f"{run['statuses']} "
        f"{run['p99_ms']} ms{beside}{wrong}",
        flush=True,
    )


def main(arguments: Sequence[str]) -> int:
    report, seed, only = Path(arguments[0]), int(arguments[1]), arguments[2:]
    signal.signal(
        signal.SIGTERM, lambda *_: sys.exit(143)
    )  # so that server and drivers end with this process
    import django

    django.setup()
    from django.db import connection

    from tests.bench import databases
    from tests.races import controls
    from tests.races.school import School

    profile = os.environ.get("PROFILE") or "quick"
    databases.create(str(connection.settings_dict["NAME"]))
    print(
        f"{time.strftime('%H:%M:%S')}  {connection.vendor:10} a school with 20,000 meetings",
        flush=True,
    )
    with driving() as drivers, tempfile.TemporaryDirectory() as folder:
        match = Match(School(), drivers, Path(folder) / "server.log", seed)
        caught = controls.play(
            match, only=only
        )  # first: among the races' own rows the second one hides better
        deadlocks = controls.deadlocks()
        if not only or any(name.startswith("R") for name in only):
            play_all(match, only=only, profile=profile)
        found = {"deadlocks": controls.deadlocks() - deadlocks}
    report.write_text(json.dumps({"runs": match.runs, "caught": caught, **found}), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
