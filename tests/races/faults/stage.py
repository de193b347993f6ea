"""The stage of a run with kills or a full disk: services, the product's processes, a school,
clients, and the judgement.

It sets Django up for the database that it has just started, so a process has one stage at most.
"""

from __future__ import annotations

import json
import os
import threading
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.races.faults import processes, programs
from tests.races.faults.clients import Client, Ledger
from tests.races.faults.founding import found_school
from tests.races.faults.ledgers import Fault, lost_writes, wrong_mails
from tests.races.faults.processes import Service, wait_until
from tests.races.faults.sink import Sink

RESOLVED_WITHIN = 60.0
"""Seconds after the last fault within which every request must have an answer."""


class Stage:
    """Everything that runs. `database` is "postgresql" (with Redis, worker and beat) or "sqlite"
    (the web process alone).
    """

    def __init__(
        self, database: str, seed: int, folder: Path, *, sqlite_in: Path | None = None
    ) -> None:
        self.database, self.seed, self.folder = database, seed, folder
        folder.chmod(0o755)
        self.sink = Sink()
        self.port = processes.free_port()
        self.services: dict[str, Service] = {}
        address = f"sqlite:///{sqlite_in or folder}/levare.sqlite3"
        redis_url = ""
        if database == "postgresql":
            postgres_port, redis_port = processes.free_port(), processes.free_port()
            self.services["PostgreSQL"] = programs.postgres(folder, postgres_port)
            self.services["Redis"] = programs.redis(folder, redis_port)
            self.ports = {"PostgreSQL": postgres_port, "Redis": redis_port}
            address, redis_url = (
                f"postgres://postgres@127.0.0.1:{postgres_port}/postgres",
                f"redis://127.0.0.1:{redis_port}/0",
            )
        self.environment = self._environment(address, redis_url)
        self.services["web"] = programs.web(folder, self.port, self.environment)
        if database == "postgresql":
            self.services["worker"] = programs.worker(folder, self.environment)
            self.services["beat"] = programs.beat(folder, self.environment)
        self.ledger = Ledger(folder / "acknowledged.jsonl")
        self.students: list[int] = []
        self._clients: list[Client] = []
        self._stopping, self._closing = threading.Event(), threading.Event()
        self._watcher = threading.Thread(target=self._watch, name="watcher", daemon=True)
        self.restarts: Counter[str] = Counter()
        self.faults: list[Fault] = []

    def _environment(self, address: str, redis_url: str) -> dict[str, str]:
        return {
            "LEVARE_PROFILE": "development",
            "LEVARE_VAR": str(self.folder / "var"),
            "LEVARE_LOG": "WARNING",
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "DATABASE_URL": address,
            "REDIS_URL": redis_url,
            "EMAIL_URL": f"smtp://127.0.0.1:{self.sink.port}",
            # Throttles stay on and are raised: all clients share one address.
            "THROTTLE_USER": "60000/min",
            "THROTTLE_ANON": "60000/min",
        }

    def __enter__(self) -> Stage:
        try:
            self._open()
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._stopping.set()
        self._end_watch()
        for service in reversed(self.services.values()):
            service.stop()
        self.sink.close()

    def _open(self) -> None:
        self.sink.open()
        for name in ("PostgreSQL", "Redis"):
            if name in self.services:
                self.start(name)
        os.environ.update(self.environment)
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        scene, tokens = found_school(self.port)
        for name in ("worker", "beat", "web"):
            if name in self.services:
                self.start(name)
        for number, (student, token) in enumerate(tokens):
            self.students.append(student)
            self._clients.append(
                Client(number, token, student, scene, self.ledger, self._stopping, self.seed)
            )

    def _end_watch(self) -> None:
        self._closing.set()
        if self._watcher.is_alive():
            self._watcher.join()

    def start(self, name: str) -> None:
        """Starts it and waits until it answers."""
        there: dict[str, Callable[[], bool]] = {
            "PostgreSQL": self._postgres_answers,
            "Redis": lambda: processes.answers(self.ports["Redis"]),
            "web": lambda: processes.serves(self.port),
        }
        self.services[name].start()
        wait_until(there.get(name, lambda: True), f"{name} to answer")

    def _watch(self) -> None:
        """Whatever has ended is started again, as docker-compose.yml has it: `restart:
        unless-stopped`.
        """
        while not self._closing.wait(0.5):
            for name, service in self.services.items():
                with service.lock:
                    if not service.runs and not self._closing.is_set():
                        service.start()
                        self.restarts[name] += 1

    def _postgres_answers(self) -> bool:
        import psycopg

        try:
            with psycopg.connect(self.environment["DATABASE_URL"], connect_timeout=2):
                return True
        except psycopg.Error:
            return False

    def begin(self) -> None:
        """The clients begin, and some writes have been acknowledged."""
        self._watcher.start()
        for client in self._clients:
            client.start()
        self.wait_for_writes(10)

    def wait_for_writes(self, more: int, seconds: float = processes.PATIENCE) -> None:
        """Until so many more writes are acknowledged: the service goes on."""
        wanted = self.ledger.count + more
        wait_until(lambda: self.ledger.count >= wanted, f"{more} more acknowledged writes", seconds)

    def settle(self) -> None:
        """Every request gets its answer, the processes end, and what is due is sent: as on the next
        quiet evening.
        """
        self._stopping.set()
        for client in self._clients:
            client.until = time.monotonic() + RESOLVED_WITHIN
        for client in self._clients:
            client.join(RESOLVED_WITHIN + 60)
        from django.db import connection

        from bookings import outbox
        from tests.races.faults import judge

        connection.close()  # its server may have been killed since
        try:
            wait_until(
                lambda: not judge.ready(datetime.now(UTC)), "an outbox without anything to send"
            )
        except RuntimeError as error:
            self.faults.append(
                Fault("mail-lost", f"whoever sends has not picked the work up again: {error}")
            )
        self._end_watch()
        for name in ("beat", "worker", "web"):
            if name in self.services:
                self.services[name].stop()
        self.now = datetime.now(UTC)
        for _ in range(200):
            outbox.drain(lambda: self.now)
            if judge.unsent(self.now) is None:
                return
            self.now += timedelta(
                minutes=2, seconds=10
            )  # past every lease that a killed process held, and through the waits

    def judged(self, race: str, title: str, counted: dict[str, int]) -> dict[str, Any]:
        """The record of the run, in the words of the harness."""
        from tests.races.faults import judge

        acks = self.ledger.acks()
        faults = [
            *self.faults,
            *lost_writes(acks, judge.rows(self.students), judge.waiting(self.students)),
            *judge.broken_rules(),
        ]
        faults += wrong_mails(self.sink.mails(), judge.intended(self.now), judge.finals())
        faults += [Fault("server-error", text) for text in self.ledger.unclean]
        faults += [
            Fault("server-error", f"never answered: {text}") for text in self.ledger.unresolved
        ]
        logged = self._exceptions() if self.ledger.unclean else []
        statuses = dict(sorted(self.ledger.statuses.items()))
        return {
            "race": race,
            "database": self.database,
            "title": title,
            "seed": self.seed,
            "requests": sum(statuses.values()),
            "statuses": statuses,
            "acknowledged": len(acks),
            "mails": len({mail.message_id for mail in self.sink.mails()}),
            "restarts": dict(self.restarts),
            **counted,
            "logged": logged,
            "violations": [{"kind": fault.kind, "text": fault.text} for fault in faults],
        }

    def _exceptions(self) -> list[str]:
        """The last line of each exception that the web process has logged."""
        lines = self.services["web"].log().splitlines()
        events = [json.loads(line) for line in lines if line.startswith("{") and line.endswith("}")]
        return sorted(
            {
                str(event["exception"]).strip().splitlines()[-1][:300]
                for event in events
                if event.get("exception")
            }
        )
