"""The steps of a Dockerfile, as far as ours uses its language."""

import json
import shlex
from dataclasses import dataclass
from pathlib import Path

from tests.architecture.tree import ROOT


@dataclass(frozen=True, slots=True)
class Step:
    """One instruction: its word in capitals, and the rest on one line."""

    word: str
    rest: str

    def copied(self) -> tuple[list[str], str] | None:
        """(sources, destination) of a COPY from the build context; None for any other step."""
        if self.word not in {"COPY", "ADD"} or "--from=" in self.rest:
            return None
        named = json.loads(self.rest) if self.rest.startswith("[") else shlex.split(self.rest)
        *sources, destination = [one for one in named if not one.startswith("--")]
        return sources, destination


def steps(path: Path = ROOT / "Dockerfile") -> list[Step]:
    """Every step in order, continued lines joined, comments left out."""
    lines = [line for line in path.read_text().splitlines() if not line.lstrip().startswith("#")]
    joined = "\n".join(lines).replace("\\\n", " ")
    return [
        Step(word.upper(), " ".join(rest.split()))
        for word, _, rest in (line.strip().partition(" ") for line in joined.splitlines())
        if word
    ]
