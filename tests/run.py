"""`make test`: the suite on a file SQLite, then once more on PostgreSQL with Redis where they
answer.

The second pass leaves out tests/unit and tests/architecture, which touch no database. The last line
printed names the profile, what ran, and what was skipped or left to another profile. Arguments are
handed to pytest. From the environment: PROFILE (quick, ci or long; see tests/profiles.py),
REQUIRE_SERVICES=1 (a missing service is a failure), TEST_POSTGRES_URL, TEST_REDIS_URL.
"""

import os
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit
from xml.etree import ElementTree

import psycopg
import redis
from psycopg import sql

from tests import profiles
from tests.services import OTHER_PASS, required

ROOT = Path(__file__).resolve().parent.parent
POSTGRES_URL = os.environ.get("TEST_POSTGRES_URL", "postgres://postgres@127.0.0.1:5432/postgres")
REDIS_URL = os.environ.get("TEST_REDIS_URL", "redis://127.0.0.1:6379/5")
PYTEST_NO_TESTS = 5
# Two workers, each with databases of its own, share the whole suite, of which a quick run plays a
# sample; a chosen part is played whole, and starts faster without them.
WHOLE_SUITE = ["-n", "2", "--dist", "worksteal", "--sample", str(profiles.SAMPLED)]


@dataclass(kw_only=True)
class Pass:
    """One run of pytest: its exit code, how many tests went which way, why some were skipped."""

    name: str
    code: int
    counts: Counter[str] = field(default_factory=Counter)
    reasons: Counter[str] = field(default_factory=Counter)

    @property
    def red(self) -> bool:
        return self.code not in {0, PYTEST_NO_TESTS}

    def sentence(self) -> str:
        if self.code == PYTEST_NO_TESTS:
            return f"{self.name}: nothing chosen"
        if not self.counts:
            return f"{self.name}: pytest stopped with {self.code}"
        told = ", ".join(f"{n} {word}" for word, n in self.counts.items())
        why = "; ".join(f"{n} x {reason}" for reason, n in self.reasons.items())
        return f"{self.name}: {told}" + (f" ({why})" if why else "")


def postgres_version() -> str | None:
    """The server's major version, or None where it does not answer within two seconds."""
    try:
        with psycopg.connect(POSTGRES_URL, connect_timeout=2) as connection:
            return str(connection.info.server_version // 10_000)
    except psycopg.Error:
        return None


def redis_version() -> str | None:
    """The server's major version, or None where it does not answer within two seconds."""
    try:
        with redis.Redis.from_url(REDIS_URL, socket_connect_timeout=2, socket_timeout=2) as client:
            return str(client.info("server")["redis_version"]).partition(".")[0]
    except redis.RedisError:
        return None


def run_pytest(name: str, environment: dict[str, str], arguments: list[str]) -> Pass:
    """Run pytest once with the given environment on top of this one, and read its own report."""
    report = ROOT / "var" / f"tests-{name.split()[0].lower()}.xml"
    report.parent.mkdir(exist_ok=True)
    report.unlink(missing_ok=True)
    print(f"\n===== on {name} =====", flush=True)
    command = [sys.executable, "-m", "pytest", f"--junitxml={report}", *arguments]
    done = Pass(
        name=name,
        code=subprocess.run(
            command, cwd=ROOT, env=os.environ | environment, check=False
        ).returncode,
    )
    if report.exists():
        count(done, ElementTree.parse(report))
    return done


def count(done: Pass, report: ElementTree.ElementTree) -> None:
    """Fill in the counts.

    A test of the other pass is not counted. One of another profile, or played on the other database
    alone, is not counted as skipped.
    """
    for case in report.iter("testcase"):
        skipped = case.find("skipped")
        if skipped is not None:
            reason = skipped.get("message", "").partition(": ")[2] or skipped.get("message", "")
            if reason == OTHER_PASS:
                continue
            if reason in {profiles.LEFT_TO_CI, profiles.LEFT_TO_SQLITE}:
                done.counts[reason] += 1
                continue
            done.counts["skipped"] += 1
            done.reasons[reason] += 1
        elif case.find("failure") is not None or case.find("error") is not None:
            done.counts["failed"] += 1
        else:
            done.counts["passed"] += 1


def on_sqlite(arguments: list[str]) -> Pass:
    """The first pass; tests/settings.py gives it a fresh SQLite file and no broker."""
    for name in ("DATABASE_URL", "REDIS_URL"):
        os.environ.pop(name, None)
    return run_pytest("SQLite", {}, arguments)


def on_services(arguments: list[str], postgres: str, cache: str | None) -> Pass:
    """The second pass, in a database named after this process, dropped whatever happens."""
    database = f"levare_{os.getpid()}"
    environment = {
        "DATABASE_URL": urlsplit(POSTGRES_URL)._replace(path=f"/{database}").geturl(),
        "REDIS_URL": REDIS_URL if cache else "",
    }
    if not profiles.is_thorough():  # nothing pulls the plug in a quick run
        environment["PGOPTIONS"] = "-c synchronous_commit=off"
    name = f"PostgreSQL {postgres}" + (f" and Redis {cache}" if cache else " without Redis")
    try:
        return run_pytest(
            name, environment, ["--ignore=tests/unit", "--ignore=tests/architecture", *arguments]
        )
    finally:
        drop_databases(f"test_{database}")


def drop_databases(prefix: str) -> None:
    """Drop what a killed run left behind: the test database and the one of each parallel worker."""
    with psycopg.connect(POSTGRES_URL, autocommit=True) as connection:
        pattern = prefix.replace("_", r"\_") + "%"
        for (name,) in connection.execute(
            "SELECT datname FROM pg_database WHERE datname LIKE %s", [pattern]
        ).fetchall():
            connection.execute(
                sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name))
            )


def main(arguments: list[str]) -> int:
    began = time.monotonic()
    postgres, cache = postgres_version(), redis_version()
    missing = [
        name for name, answer in (("PostgreSQL", postgres), ("Redis", cache)) if answer is None
    ]
    if missing and required():
        print(
            f"{' and '.join(missing)} must answer here (REQUIRE_SERVICES=1): "
            "set TEST_POSTGRES_URL and TEST_REDIS_URL."
        )
        return 1
    arguments = arguments or WHOLE_SUITE
    passes = [on_sqlite(arguments)]
    if postgres:
        passes.append(on_services(arguments, postgres, cache))
    told = [done.sentence() for done in passes]
    if not postgres:
        told.append("PostgreSQL: skipped, it does not answer")
    red = any(done.red for done in passes) or all(done.code == PYTEST_NO_TESTS for done in passes)
    seconds = f"{time.monotonic() - began:.0f} s"
    colour = "RED" if red else "green"
    print(f"\n{colour} in {seconds}, PROFILE={profiles.NAME}. {'. '.join(told)}.")
    return 1 if red else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
