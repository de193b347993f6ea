"""Which files go into an image's build context, by the rules of .dockerignore.

Source: docs.docker.com/build/concepts/context/#dockerignore-files, and Go's filepath.Match, to which it refers. Patterns are
read in order and the last one that matches a path or one of its folders decides; `!` takes a path in again, `**` stands for
any number of folders, `*` and `?` for parts of one name.
"""

import posixpath
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePosixPath

from tests.architecture.tree import ROOT, kept_files


@dataclass(frozen=True, slots=True)
class Pattern:
    """One line: a path of the context that it matches is left out, or taken in again."""

    regex: re.Pattern[str]
    takes_in: bool

    def matches(self, path: PurePosixPath) -> bool:
        folders = [folder for folder in path.parents if folder.name]
        return any(self.regex.fullmatch(str(one)) for one in [path, *folders])


def read(text: str) -> list[Pattern]:
    """The patterns of a .dockerignore, in order; comments and empty lines are none."""
    return [
        _pattern(line.strip())
        for line in text.splitlines()
        if line.strip() and not line.startswith("#")
    ]


def kept(paths: Iterable[str], patterns: list[Pattern]) -> list[str]:
    """Those of the paths, relative to the context, that the builder sees."""
    return [path for path in paths if not _left_out(PurePosixPath(path), patterns)]


def _left_out(path: PurePosixPath, patterns: list[Pattern]) -> bool:
    left_out = False
    for pattern in patterns:
        if pattern.matches(path):
            left_out = not pattern.takes_in
    return left_out


def _pattern(line: str) -> Pattern:
    takes_in = line.startswith("!")
    path = posixpath.normpath(line.removeprefix("!").strip()).lstrip("/")
    return Pattern(re.compile(_regex(path)), takes_in)


def _regex(path: str) -> str:
    found, at = "", 0
    while at < len(path):
        rest = path[at:]
        if rest.startswith("**/"):
            token, piece = "**/", "(?:.*/)?"
        elif rest.startswith("**"):
            token, piece = "**", ".*"
        elif rest[0] == "*":
            token, piece = "*", "[^/]*"
        elif rest[0] == "?":
            token, piece = "?", "[^/]"
        elif rest[0] == "[" and "]" in rest:
            token = piece = rest[: rest.index("]") + 1]
        elif rest[0] == "\\" and len(rest) > 1:
            token, piece = rest[:2], re.escape(rest[1])
        else:
            token, piece = rest[0], re.escape(rest[0])
        found, at = found + piece, at + len(token)
    return found


TREE = [path.as_posix() for path in kept_files()]


def context() -> list[str]:
    """What git keeps, as far as .dockerignore lets it into the build."""
    return kept(TREE, read((ROOT / ".dockerignore").read_text()))
