"""The programs of a run with faults: PostgreSQL, Redis and the product's own three."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.races.faults.processes import Environment, Service


def postgres_program() -> Path | None:
    """The newest server that is installed, if any."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda path: int(path.parts[-3])
    )
    return found[-1] if found else None


def missing_services() -> str:
    """Why PostgreSQL and Redis cannot be started here; empty where they can."""
    if postgres_program() is None:
        return "PostgreSQL's server is not installed"
    return "" if shutil.which("redis-server") else "redis-server is not installed"


def postgres(folder: Path, port: int) -> Service:
    """A new cluster with fsync on; root hands it to the user postgres, as the server will not run
    as root.
    """
    program = postgres_program()
    assert program is not None
    user = "postgres" if os.geteuid() == 0 else None
    home = folder / "postgres"
    home.mkdir(mode=0o700)
    if user:
        shutil.chown(home, user, user)
    as_user = ["runuser", "-u", user, "--"] if user else []
    subprocess.run(
        [
            *as_user,
            str(program.with_name("initdb")),
            "-U",
            "postgres",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "-D",
            str(home),
        ],
        check=True,
        cwd="/",
        stdout=subprocess.DEVNULL,
    )
    settings = ["-c", "fsync=on", "-c", "listen_addresses=127.0.0.1", "-c", "max_connections=60"]
    return Service(
        "PostgreSQL",
        [str(program), "-D", str(home), "-p", str(port), "-k", str(home), *settings],
        {},
        folder / "postgres.log",
        user,
    )


def redis(folder: Path, port: int) -> Service:
    """As in docker-compose.yml: with its log of changes, so that a queue survives a restart."""
    kept = ["--appendonly", "yes", "--save", "", "--dir", str(folder)]
    return Service(
        "Redis",
        ["redis-server", "--bind", "127.0.0.1", "--port", str(port), *kept],
        {},
        folder / "redis.log",
    )


def web(folder: Path, port: int, environment: Environment) -> Service:
    """The web process as the Dockerfile starts it, on this machine's loopback."""
    command = [
        sys.executable,
        "-m",
        "gunicorn",
        "config.wsgi",
        "--bind",
        f"127.0.0.1:{port}",
        "--worker-class",
        "gthread",
    ]
    return Service(
        "web", [*command, "--workers", "2", "--threads", "8"], environment, folder / "web.log"
    )


def worker(folder: Path, environment: Environment) -> Service:
    command = [
        sys.executable,
        "-m",
        "celery",
        "-A",
        "config",
        "worker",
        "--concurrency",
        "2",
        "--loglevel",
        "INFO",
    ]
    return Service("worker", command, environment, folder / "worker.log")


def beat(folder: Path, environment: Environment) -> Service:
    command = [
        sys.executable,
        "-m",
        "celery",
        "-A",
        "config",
        "beat",
        "--schedule",
        str(folder / "beat"),
        "--pidfile",
        "",
    ]
    return Service("beat", [*command, "--loglevel", "INFO"], environment, folder / "beat.log")
