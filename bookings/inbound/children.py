"""Runs a reader of what lies outside in a child process, which has limits of time and memory."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE = 20.0
"""Seconds of wall time, on a busy machine. The child's own limit of processor time is stricter."""


def run_child(module: str, sent: bytes) -> subprocess.CompletedProcess[bytes]:
    """The module as a process of its own, given `sent`. Raises TimeoutExpired after PATIENCE."""
    # No shell, no part of what came in the command, and no secret in the child's environment.
    return subprocess.run(  # noqa: S603
        [sys.executable, "-s", "-X", "utf8", "-m", module],
        input=sent,
        capture_output=True,
        cwd=ROOT,
        env={},
        timeout=PATIENCE,
        check=False,
    )
