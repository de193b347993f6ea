"""The suite's own settings, read again by a process that a parallel worker starts."""

import os
import subprocess
import sys

from tests.run import ROOT

SAY = "import os, tests.settings; print(os.environ['REDIS_URL'])"
ASK_A_CHILD = (
    "import os, subprocess, sys, tests.settings; subprocess.run([sys.executable, '-c', "
    f"{SAY!r}], check=True)"
)


def test_a_process_that_a_worker_starts_has_the_workers_redis() -> None:
    """The second worker has the second database, and so has what it starts: counted once, not once
    more in each child.
    """
    mine = {name: value for name, value in os.environ.items() if name != "LEVARE_FIRST_REDIS"}
    environment = {**mine, "REDIS_URL": "redis://127.0.0.1:6379/5", "PYTEST_XDIST_WORKER": "gw1"}
    for program in (SAY, ASK_A_CHILD):
        told = subprocess.run(
            [sys.executable, "-c", program],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        assert told.stdout.split() == ["redis://127.0.0.1:6379/6"]
