"""Folders closed to everybody but the product: its files hold emails, assessments and a
database.
"""

import os
import stat
from pathlib import Path

OWNER_ONLY = 0o700


def keep_private(folder: Path) -> Path:
    """Makes the folder for its owner alone, or closes it to others if it is ours. Returns it.

    A sticky folder, such as /tmp, is left as it is: it belongs to every program of the machine.
    """
    folder.mkdir(mode=OWNER_ONLY, parents=True, exist_ok=True)
    found = folder.stat()
    is_shared = bool(found.st_mode & stat.S_ISVTX)
    is_wider = bool(found.st_mode & 0o077)
    if is_wider and not is_shared and found.st_uid == os.geteuid():
        folder.chmod(OWNER_ONLY)
    return folder
