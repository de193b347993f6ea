"""The tree as the architecture tests see it: what git keeps, and each Python file parsed once."""

import ast
import subprocess
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@cache
def kept_files() -> tuple[Path, ...]:
    """Every file that git keeps or would keep, relative to the root."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return tuple(
        path
        for line in sorted(set(answer.stdout.splitlines()))
        if (ROOT / (path := Path(line))).is_file()
    )


def python_files(*tops: str) -> list[Path]:
    """The Python files under the named top folders, or all of them."""
    return [
        path
        for path in kept_files()
        if path.suffix == ".py" and (not tops or path.parts[0] in tops)
    ]


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse((ROOT / path).read_text(encoding="utf-8"), filename=str(path))
