"""The image is built by hand, without a container engine: its COPY steps into a folder, its own RUN
step in that folder.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path, PurePosixPath

import pytest

from tests.architecture import dockerfile
from tests.architecture.dockerignore import context
from tests.architecture.tree import ROOT

pytestmark = pytest.mark.one_database


def copy(source: str, destination: str, seen: list[str], into: Path) -> None:
    """What `COPY source destination` does in the working folder, with what the builder sees."""
    for path in seen:
        folder = f"{source.rstrip('/')}/"
        if path.startswith(folder):
            target = into / destination / path.removeprefix(folder)
        elif PurePosixPath(path).match(source):
            target = into / destination / PurePosixPath(path).name
        else:
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / path, target)


@pytest.fixture(scope="module")
def image(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that the image would have at /srv/levare, with its static files collected."""
    folder = tmp_path_factory.mktemp("image")
    home, temporary = folder / "srv", folder / "tmp"
    home.mkdir()
    seen = context()
    for step in dockerfile.steps():
        sources, destination = step.copied() or ([], "")
        for source in sources:
            copy(source, destination, seen, home)
        if step.word == "RUN" and "collectstatic" in step.rest:
            command = (
                step.rest.replace("/opt/levare/bin/python", sys.executable)
                .replace("/srv/levare", str(home))
                .replace("/tmp/levare", str(temporary))  # the step's own folder
            )
            path = os.environ["PATH"]
            done = subprocess.run(
                ["/bin/sh", "-c", command],
                cwd=home,
                env={"PATH": path, "PYTHONDONTWRITEBYTECODE": "1"},
                capture_output=True,
                text=True,
                check=False,
            )
            assert done.returncode == 0, done.stderr[-2000:]
    return home


def test_what_is_copied_is_enough_to_run(image: Path) -> None:
    """Nothing that a process of the image imports was kept out of it, and its static files are
    collected.
    """
    assert (image / "static" / "staticfiles.json").is_file()
    done = subprocess.run(
        [sys.executable, "manage.py", "check"],
        cwd=image,
        env={"PATH": os.environ["PATH"], "LEVARE_VAR": str(image / "var"), "PYTHONPATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]


def test_the_image_s_user_can_read_all_of_it(image: Path) -> None:
    """The build runs as root and the product as somebody else: every file and folder is open to
    them.
    """
    for path in image.rglob("*"):
        if (image / "var") in [path, *path.parents]:
            continue
        mode = path.stat().st_mode
        assert mode & 0o004, path
        assert not path.is_dir() or mode & 0o001, path


def test_no_secret_of_the_build_stays(image: Path) -> None:
    """The keys of the collecting step are new at each build; the Dockerfile holds none that
    somebody could copy.
    """
    text = (ROOT / "Dockerfile").read_text()
    for name in ("SECRET_KEY", "NOTE_KEYS"):
        assert f'{name}="$(/opt/levare/bin/python' in text
    assert not (image / ".env").exists()
