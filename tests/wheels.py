"""Other versions of the zone database beside the pinned one, each in its own ignored folder."""

import fcntl
import subprocess
import sys
from pathlib import Path

import pytest

from tests import services

FOLDER = Path(__file__).parents[1] / "var" / "wheels"


def tzdata(version: str) -> Path:
    """A folder to put first on PYTHONPATH, with that version of the wheel; the test is skipped
    where PyPI does not answer.
    """
    target = FOLDER / f"tzdata-{version}"
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (FOLDER / "lock").open("w") as lock:  # parallel test processes share the folder
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (target / "tzdata" / "zones").exists():
            command = [
                sys.executable,
                "-m",
                "pip",
                "install",
                "--quiet",
                "--no-deps",
                "--only-binary",
                ":all:",
                "--upgrade",
            ]
            try:
                subprocess.run(
                    [*command, "--target", target, f"tzdata=={version}"],
                    check=True,
                    capture_output=True,
                    timeout=60,
                )
            except (subprocess.CalledProcessError, subprocess.TimeoutExpired):
                (pytest.fail if services.required() else pytest.skip)(
                    f"tzdata {version} could not be fetched with pip"
                )
    return target
