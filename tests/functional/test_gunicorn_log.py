"""Gunicorn's own log hides what the product's log hides."""

import json
import subprocess
import sys
import time
import urllib.error
import urllib.request
from typing import Any

import pytest

from tests.races.server import ROOT, free_port

pytestmark = [pytest.mark.heavy, pytest.mark.one_database]

CANARY = "canary-7b1f-sings"


def test_gunicorns_own_lines_hide_it_too(tmp_path: Any) -> None:
    """An operator who asks gunicorn for an access log still finds no feed's secret in it."""
    port = free_port()
    command = [
        sys.executable,
        "-m",
        "gunicorn",
        "--config",
        "python:config.gunicorn",
        "config.wsgi",
    ]
    command += ["--bind", f"127.0.0.1:{port}", "--workers", "1", "--access-logfile", "-"]
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=subprocess.STDOUT)
    try:
        for _ in range(300):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/calendar/{CANARY}.ics", timeout=5)
            except urllib.error.HTTPError as answer:
                answer.close()
                break
            except OSError:
                assert process.poll() is None, (tmp_path / "log").read_text()
                time.sleep(0.1)
    finally:
        process.terminate()
        process.wait(30)
    told = (tmp_path / "log").read_text()
    assert "GET /calendar/[hidden]" in told and CANARY not in told
    assert all(json.loads(line) for line in told.splitlines())
