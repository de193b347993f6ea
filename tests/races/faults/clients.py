"""Clients over real HTTP that keep a ledger: each acknowledged write goes into a synced file before
the next request.

A request that got no answer, or a 5xx, is sent again with the same Idempotency-Key until it has
one, so nothing stays unknown. Nothing here touches Django.
"""

import http.client
import json
import os
import random
import threading
import time
from collections import Counter
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.races.faults.ledgers import Ack

V1 = "/api/v1/"


@dataclass(frozen=True, slots=True)
class Scene:
    """What the clients find: where, and what can be booked."""

    port: int
    lesson: int
    instructors: list[int]
    meetings: list[int]
    first_day: datetime
    days: int


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    body: dict[str, Any]
    etag: str


class Ledger:
    """The synced file of acknowledged writes, and what else was answered."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("a+", encoding="utf-8")
        self._lock = threading.Lock()
        self.statuses: Counter[str] = Counter()
        self.unclean: list[str] = []
        self.unresolved: list[str] = []
        self.count = 0

    def acknowledge(self, ack: Ack) -> None:
        with self._lock:
            self._file.write(json.dumps(asdict(ack)) + "\n")
            self._file.flush()
            os.fsync(self._file.fileno())
            self.count += 1

    def acks(self) -> list[Ack]:
        """What the file holds."""
        self._file.seek(0)
        return [Ack(**json.loads(line)) for line in self._file]

    def answered(self, told: str, status: int, headers: Any, body: bytes) -> None:
        """A 5xx must be a 503 problem document that says how long to wait."""
        clean = (
            status == 503
            and headers.get_content_type() == "application/problem+json"
            and headers.get("Retry-After", "").isdigit()
        )
        with self._lock:
            self.statuses[str(status)] += 1
            if status >= 500 and not clean:
                self.unclean.append(f"{told}: {status} {headers.get_content_type()} {body[:120]!r}")


class Client(threading.Thread):
    """One student with an account: books, moves, cancels, takes places in group meetings, waits and
    says yes to offers.
    """

    def __init__(
        self,
        number: int,
        token: str,
        student: int,
        scene: Scene,
        ledger: Ledger,
        stop: threading.Event,
        seed: object,
    ) -> None:
        super().__init__(name=f"client {number}", daemon=True)
        self._number, self._token, self._student, self._scene, self._ledger, self._stopping = (
            number,
            token,
            student,
            scene,
            ledger,
            stop,
        )
        self._random = random.Random(f"client:{seed}:{number}")
        self._turn = 0
        self._lessons: dict[int, str] = {}  # booking: ETag
        self._places: dict[int, str] = {}
        self._connection: http.client.HTTPConnection | None = None
        self.until = float("inf")  # monotonic seconds after which it stops asking

    def run(self) -> None:
        while not self._stopping.is_set():
            self._act()
            self._stopping.wait(self._random.uniform(0.02, 0.2))

    def _act(self) -> None:
        chance = self._random.random()
        if chance < 0.15:
            self._group()
        elif chance < 0.2 and self._places:
            self._change(self._places, "cancel")
        elif chance < 0.25:
            self._say_yes()
        elif len(self._lessons) < 3 or chance < 0.55:
            starts_at = self._start()
            body = {
                "offering": self._scene.lesson,
                "instructor": self._random.choice(self._scene.instructors),
                "starts_at": starts_at,
            }
            self._keep(self._lessons, "book", self._write("bookings/", body))
        elif chance < 0.8:
            self._change(self._lessons, "move", {"starts_at": self._start()})
        else:
            self._change(self._lessons, "cancel")

    def _start(self) -> str:
        half_hours = self._random.randrange(self._scene.days * 24)
        day, place = divmod(half_hours, 24)
        return (
            self._scene.first_day + timedelta(days=day, hours=9, minutes=30 * place)
        ).isoformat()

    def _group(self) -> None:
        meeting = self._random.choice(self._scene.meetings)
        answer = self._write("bookings/", {"meeting": meeting, "as": "player"})
        if (
            not self._keep(self._places, "book", answer)
            and answer is not None
            and answer.body.get("code") == "no-place"
        ):
            self._keep(
                {}, "wait", self._write(f"meetings/{meeting}/waiting-list/", {"as": "player"})
            )

    def _say_yes(self) -> None:
        offers = self._ask("GET", "offers/", None, {})
        for offer in (offers.body.get("results", []) if offers is not None else [])[:1]:
            self._keep(self._places, "accept", self._write(f"offers/{offer['id']}/accept/", None))

    def _change(
        self, mine: dict[int, str], operation: str, body: dict[str, Any] | None = None
    ) -> None:
        booking = self._random.choice(sorted(mine))
        answer = self._write(f"bookings/{booking}/{operation}/", body, {"If-Match": mine[booking]})
        if self._keep(mine, operation, answer) and operation == "cancel":
            del mine[booking]

    def _keep(self, mine: dict[int, str], operation: str, answer: Answer | None) -> bool:
        if answer is None or answer.status not in (200, 201):
            return False
        thing = answer.body["id"]
        said = answer.body.get("starts_at")
        starts_at = datetime.fromisoformat(said).astimezone(UTC).isoformat() if said else ""
        self._ledger.acknowledge(Ack(self._key(), operation, thing, self._student, starts_at))
        mine[thing] = answer.etag
        return True

    def _key(self) -> str:
        return f"client-{self._number}-{self._turn}"

    def _write(
        self, path: str, body: dict[str, Any] | None, headers: dict[str, str] | None = None
    ) -> Answer | None:
        self._turn += 1
        return self._ask(
            "POST", path, body, {"Idempotency-Key": f'"{self._key()}"', **(headers or {})}
        )

    def _ask(
        self, verb: str, path: str, body: dict[str, Any] | None, headers: dict[str, str]
    ) -> Answer | None:
        """The answer, asked for until there is one below 500; None where time is up."""
        sent = json.dumps(body).encode() if body is not None else b""
        headers = {
            "Authorization": f"Bearer {self._token}",
            "Content-Type": "application/json",
            **headers,
        }
        while time.monotonic() < self.until:
            try:
                if self._connection is None:
                    self._connection = http.client.HTTPConnection(
                        "127.0.0.1", self._scene.port, timeout=30
                    )
                self._connection.request(verb, V1 + path, sent, headers)
                response = self._connection.getresponse()
                text = response.read()
            except (OSError, http.client.HTTPException):
                self._ledger.statuses["no answer"] += 1
                if self._connection is not None:
                    self._connection.close()
                self._connection = None
            else:
                self._ledger.answered(f"{verb} {path}", response.status, response.headers, text)
                if response.status < 500 and response.status != 429:
                    return Answer(
                        response.status,
                        json.loads(text) if text else {},
                        response.headers.get("ETag", ""),
                    )
            time.sleep(self._random.uniform(0.05, 0.4))
        self._ledger.unresolved.append(f"{verb} {path} {headers.get('Idempotency-Key', '')}")
        return None
