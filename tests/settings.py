"""The project's own settings in their test life, however pytest is started.

pytest-django reads the settings before any conftest.py, so the test life is chosen here. Nothing
comes from a developer's .env: a value that is already in the environment wins over that file. Each
run has a folder of its own for its SQLite file and its mail, so two runs in one checkout do not
meet. The folder lies in memory where there is room; the process that made it removes it.
"""

import atexit
import os
import shutil
import sys
import tempfile
from pathlib import Path

MEMORY, ROOM = Path("/dev/shm"), 2 << 30
"""Where Linux keeps files in memory, and how many bytes must be free there."""


def _folder_for_a_run() -> str:
    roomy = MEMORY.is_dir() and shutil.disk_usage(MEMORY).free >= ROOM
    return tempfile.mkdtemp(prefix="levare-tests-", dir=MEMORY if roomy else None)


os.environ["LEVARE_PROFILE"] = "test"
if "LEVARE_VAR" not in os.environ:  # a parallel worker or a spawned server shares its parent's
    os.environ["LEVARE_VAR"] = _folder_for_a_run()
    atexit.register(shutil.rmtree, os.environ["LEVARE_VAR"], ignore_errors=True)
os.environ.setdefault("DATABASE_URL", f"sqlite:///{os.environ['LEVARE_VAR']}/levare.sqlite3")
os.environ.setdefault("REDIS_URL", "")
# Parallel workers have a Redis database each, the next ones in number: a test that empties its
# cache empties nobody else's. It is counted from the run's own number, so that a process which a
# worker starts, and which reads this again, meets its parent.
_url, _, _number = os.environ.setdefault("LEVARE_FIRST_REDIS", os.environ["REDIS_URL"]).rpartition(
    "/"
)
_worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")
if _url and _number.isdigit():
    os.environ["REDIS_URL"] = f"{_url}/{int(_number) + int(_worker)}"
os.environ.setdefault("EMAIL_URL", f"filemail:///{os.environ['LEVARE_VAR']}/mail")

from django.contrib.auth.hashers import Argon2PasswordHasher  # noqa: E402  as the next one

from config import settings  # noqa: E402  the environment comes first

# Passwords are hashed by Argon2 as everywhere, at the least that it can cost.
Argon2PasswordHasher.time_cost, Argon2PasswordHasher.memory_cost = 1, 8
Argon2PasswordHasher.parallelism = 1

# This module steps aside for the real one, so no setting is copied and none can differ.
sys.modules[__name__] = settings
