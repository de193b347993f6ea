"""Make .venv and install one group of hashed requirements into it, once per content of that file.

Runs on the system's own Python with the standard library alone:
`python3 requirements/install.py base`.
"""

import hashlib
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv"
PYTHON = ENVIRONMENT / "bin" / "python"
GROUPS = ("base", "metrics", "test", "browser", "dev")


def runs(*command: str) -> bool:
    """Whether the command ends well; its output is not shown."""
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        return False


def ensure_environment() -> None:
    """Make .venv, or make it again if its Python no longer starts.

    That happens after a checkout has moved or the system was upgraded.
    """
    if runs(str(PYTHON), "-c", "import pip"):
        return
    print("making .venv", flush=True)
    subprocess.run([sys.executable, "-m", "venv", "--clear", str(ENVIRONMENT)], check=True)


def installer() -> list[str]:
    """uv where pip can fetch it, because it is several times faster; otherwise pip itself."""
    uv = ENVIRONMENT / "bin" / "uv"
    if uv.exists() or runs(str(PYTHON), "-m", "pip", "install", "--quiet", "uv>=0.9"):
        return [str(uv), "pip", "install", "--quiet", "--python", str(PYTHON)]
    return [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]


def install(group: str) -> None:
    """Install one group; the stamp that says so carries the hash of the file it came from."""
    listed = ROOT / "requirements" / f"{group}.txt"
    stamp = (
        ENVIRONMENT / f"installed-{group}-{hashlib.sha256(listed.read_bytes()).hexdigest()[:16]}"
    )
    ensure_environment()
    if stamp.exists():
        return
    print(f"installing requirements/{group}.txt", flush=True)
    subprocess.run([*installer(), "--require-hashes", "-r", str(listed)], check=True)
    for old in ENVIRONMENT.glob(f"installed-{group}-*"):
        old.unlink()
    stamp.touch()


def main(groups: list[str]) -> int:
    if sys.version_info < (3, 11):
        print(
            f"Levare needs Python 3.11 or newer; this is {sys.version.split()[0]}. "
            "Say which one: make PYTHON=python3.11 …"
        )
        return 2
    unknown = [group for group in groups if group not in GROUPS]
    if unknown or not groups:
        print(f"say which groups to install, out of: {', '.join(GROUPS)}")
        return 2
    try:
        for group in groups:
            install(group)
    except subprocess.CalledProcessError as failure:
        print(f"could not finish: {failure}")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
