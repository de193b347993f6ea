"""Redis as docker-compose.yml starts it: its very command and health check, run on this machine."""

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import redis

from tests import services
from tests.architecture.deployment import SERVICES
from tests.races.server import free_port


def listening(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture
def redis_of_compose(tmp_path: Path) -> Iterator[tuple[int, dict[str, str]]]:
    """Redis started by the very command of docker-compose.yml; its port, and the environment of its health check."""
    if shutil.which("redis-server") is None:
        (pytest.fail if services.required() else pytest.skip)("redis-server is not installed")
    port = free_port()
    *shell, script = [word.replace("$$", "$") for word in SERVICES["redis"]["command"]]
    script = script.replace("redis-server -", f"redis-server - --port {port} --dir {tmp_path}")
    environment = {"PATH": os.environ["PATH"], "REDISCLI_AUTH": "a-password-of-this-test"}
    process = subprocess.Popen([*shell, script], env=environment, stdout=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 30
        while not listening(port) and time.monotonic() < until:
            time.sleep(0.05)
        yield port, environment
    finally:
        process.terminate()
        assert process.wait(30) == 0, "the shell has given its place to Redis, which ends by itself"


def test_redis_asks_for_a_password_and_keeps_to_its_memory(
    redis_of_compose: tuple[int, dict[str, str]],
) -> None:
    """Without the password nothing is answered and the health check fails; the queue is never what makes room."""
    port, environment = redis_of_compose
    with pytest.raises(redis.AuthenticationError):
        redis.Redis(port=port).ping()
    with redis.Redis(port=port, password=environment["REDISCLI_AUTH"]) as asked:
        limit = int(asked.config_get("maxmemory")["maxmemory"])
        assert asked.config_get("maxmemory-policy")["maxmemory-policy"] == "volatile-lru"
        shown = Path(f"/proc/{asked.info()['process_id']}/cmdline").read_bytes()
    assert environment["REDISCLI_AUTH"].encode() not in shown
    assert 0 < 2 * limit < int(SERVICES["redis"]["mem_limit"].removesuffix("m")) * 2**20
    kind, check = SERVICES["redis"]["healthcheck"]["test"]
    assert kind == "CMD-SHELL"
    check = check.replace("redis-cli", f"redis-cli -p {port}")
    codes = [
        subprocess.run(
            ["/bin/sh", "-c", check],
            env={**environment, "REDISCLI_AUTH": password},
            capture_output=True,
            check=False,
        ).returncode
        for password in (environment["REDISCLI_AUTH"], "a-wrong-one")
    ]
    assert codes[0] == 0 and codes[1] != 0
