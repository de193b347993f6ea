"""The image can be built: what the Dockerfile copies is there, and what .dockerignore lets in is what it copies."""

import re
from pathlib import PurePosixPath

import pytest

from tests.architecture import dockerfile, dockerignore
from tests.architecture.dockerignore import context
from tests.architecture.tree import ROOT


def sources() -> list[str]:
    """Every source that a COPY takes from the build context."""
    return [source for step in dockerfile.steps() for source in (step.copied() or ([], ""))[0]]


@pytest.mark.parametrize(
    ("pattern", "path", "left_out"),
    [
        ("*/temp*", "somedir/temporary.txt", True),
        ("*/temp*", "somedir/temp", True),
        ("*/*/temp*", "somedir/subdir/temporary.txt", True),
        ("*/temp*", "somedir/subdir/temporary.txt", False),
        ("temp?", "tempa", True),
        ("temp?", "temp", False),
        ("**/*.go", "a/b/c.go", True),
        ("**/*.go", "c.go", True),
        ("*.md", "README.md", True),
        ("*.md", "docs/README.md", False),
        ("*.md\n!README.md", "README.md", False),
        ("*.md\n!README*.md\nREADME-secret.md", "README-secret.md", True),
        ("*.md\nREADME-secret.md\n!README*.md", "README-secret.md", False),
        ("/foo/bar", "foo/bar", True),
        ("foo/bar", "other/foo/bar", False),
        ("foo/bar/", "foo/bar/deep/file", True),
        ("# comment\n\n", "# comment", False),
        ("*\n!kept", "kept/deep/file", False),
        ("*\n!kept/one", "kept/two", True),
        ("kept/**", "kept/deep/file", True),
        ("a[0-9]", "a7", True),
        ("a\\*", "a*", True),
        ("a\\*", "ab", False),
    ],
)
def test_patterns_mean_what_docker_says(pattern: str, path: str, left_out: bool) -> None:
    """Source: the examples of docs.docker.com/build/concepts/context/#dockerignore-files, and its rule for order."""
    assert (dockerignore.kept([path], dockerignore.read(pattern)) == []) is left_out


def test_every_copied_file_is_in_the_build_context() -> None:
    """A COPY whose source .dockerignore keeps out stops the build at once."""
    seen = context()
    assert sources()
    for source in sources():
        found = [
            path
            for path in seen
            if PurePosixPath(path).match(source) or path.startswith(f"{source.rstrip('/')}/")
        ]
        assert found, f"COPY {source}: .dockerignore keeps it out, or it is not there"


def test_what_is_installed_has_been_copied() -> None:
    """Each file that a RUN step installs from stands among the copied ones."""
    runs = " ".join(step.rest for step in dockerfile.steps() if step.word == "RUN")
    installed = re.findall(r"-r (\S+)", runs)
    assert installed
    assert set(installed) <= set(sources())


def test_nothing_else_is_sent_to_the_builder() -> None:
    """What no COPY takes is kept out: no test, no note of a developer, no secret, no data."""
    tops = {PurePosixPath(source).parts[0] for source in sources()}
    assert {PurePosixPath(path).parts[0] for path in context()} == tops
    private = [".env", "var/levare.sqlite3", ".git/config", "accounts/__pycache__/x.pyc", "a.dump"]
    patterns = dockerignore.read((ROOT / ".dockerignore").read_text())
    assert dockerignore.kept(private, patterns) == []


def test_images_are_pinned_to_a_version() -> None:
    """A build next year starts from the same release as this one (Docker's own advice: pin base image versions)."""
    images = [step.rest.split()[0] for step in dockerfile.steps() if step.word == "FROM"]
    assert len(set(images)) == 1
    assert re.fullmatch(r"python:\d+\.\d+\.\d+-slim-[a-z]+", images[0])
