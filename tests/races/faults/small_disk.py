"""A disk so small that it fills up."""

import os
import shutil
import subprocess
from pathlib import Path


class SmallDisk:
    """A file system in memory of so many bytes; needs root and the right to mount."""

    def __init__(self, folder: Path, size: int) -> None:
        self.folder, self._size = folder, size

    def __enter__(self) -> Path:
        self.folder.mkdir()
        subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={self._size}", "tmpfs", str(self.folder)],
            check=True,
            capture_output=True,
        )
        return self.folder

    def __exit__(self, *_: object) -> None:
        subprocess.run(["umount", "--lazy", str(self.folder)], check=False)

    @staticmethod
    def refused(folder: Path) -> str:
        """Why nothing can be mounted here; empty where it can."""
        if os.geteuid() != 0 or shutil.which("mount") is None:
            return "only root can mount"
        try:
            with SmallDisk(folder / "trial", 1_000_000):
                return ""
        except subprocess.CalledProcessError as error:
            return f"mounting is not allowed here: {error.stderr.decode().strip()}"
